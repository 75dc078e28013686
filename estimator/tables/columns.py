"""Every table of the rates folder and every key of a job file, declared once.

The declarations drive reading, checking and the generated table reference; nothing else says
which columns there are, what they may hold and what they mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from estimator.model import BASES, GRADES, JOB_KINDS

REQUIRED = object()


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, kind, meaning, and what it accepts.

    ``kind``: ``id`` (lower-case words joined by dashes), ``text``, ``number``, ``whole``,
    ``money`` (not negative), ``yes-no``, ``choice``, ``list`` (words parted by blanks),
    ``levels`` (``CODE=level`` pairs parted by blanks), ``expression`` (numbers and intake fields
    joined by + - *). ``refers`` names the table whose ids are accepted; ``underscores`` says that
    an id may join its words by underscores too.
    """

    name: str
    kind: str
    meaning: str
    unit: str = ""
    default: object = REQUIRED
    low: Decimal | None = None
    high: Decimal | None = None
    choices: tuple[str, ...] = ()
    refers: str = ""
    underscores: bool = False

    @property
    def required(self) -> bool:
        """Whether a blank is refused."""
        return self.default is REQUIRED


@dataclass(frozen=True, slots=True)
class TableSpec:
    """One table: its file, what a row is, the columns that make a row unique, and its columns."""

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def file(self) -> str:
        """The name of its file in a shop folder."""
        return f"{self.name}.csv"


ZERO = Decimal(0)
ONE = Decimal(1)
HUNDRED = Decimal(100)
MILLION = Decimal(1_000_000)

BASIS = (
    Column("basis", "choice", "where the numbers of the row come from", choices=BASES),
    Column("source", "text", "the publication; required where the basis is published", default=""),
)


def _id(meaning: str) -> Column:
    return Column("id", "id", meaning)


def _ref(name: str, table: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "id", meaning, refers=table, default=default)


def _text(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "text", meaning, default=default)


def _minutes(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "number", meaning, "min", default, ZERO, Decimal(100_000))


def _factor(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "number", meaning, "x", default, Decimal("0.05"), Decimal(20))


def _money(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "money", meaning, "money", default, ZERO, MILLION)


def _choice(name: str, meaning: str, *choices: str, default: object = REQUIRED) -> Column:
    return Column(name, "choice", meaning, choices=choices, default=default)


def _number(
    name: str,
    meaning: str,
    unit: str = "",
    default: object = REQUIRED,
    low: Decimal | None = None,
    high: Decimal | None = None,
) -> Column:
    return Column(name, "number", meaning, unit, default, low, high)


def _list(name: str, meaning: str, refers: str = "") -> Column:
    return Column(name, "list", meaning, default=(), refers=refers)


def _levels(meaning: str) -> Column:
    return Column("levels", "levels", meaning, default={})


def _when() -> Column:
    return Column("when", "id", "named condition of the instrument, or blank for always", default="")


def _table(name: str, meaning: str, key: str, *columns: Column) -> TableSpec:
    return TableSpec(name, meaning, tuple(key.split()), (*columns, *BASIS))


TASK_GROUPS = [
    "desk",
    "strip",
    "clean",
    "neck",
    "frets",
    "nut",
    "bridge",
    "body",
    "hardware",
    "guard",
    "electronics",
    "setup",
]
STATIONS = ["B", "N", "D", "R", "S", "E", "C", "X", "O", "P", "A", "V"]
INTAKE_KINDS = ["choice", "length", "number", "count", "mass", "money", "yes-no", "angle", "list", "text"]

TABLES: tuple[TableSpec, ...] = (
    _table(
        "tasks",
        "one bench operation with its times, skill and risk",
        "id",
        _id("name of the task"),
        _choice("group", "kind of work", *TASK_GROUPS),
        _text("what", "what is done"),
        _text("driver", "what the run time is counted in (instrument, fret, hole, cm3, ...)"),
        _minutes("setup_min", "minutes once per sitting"),
        _number("repeat_share", "share of the set-up paid by each further instrument", "", ZERO, ZERO, ONE),
        _minutes("run_min_low", "low reading of the run time per driver unit"),
        _minutes("run_min_likely", "usual run time per driver unit"),
        _minutes("run_min_high", "high reading of the run time per driver unit"),
        _choice(
            "reading",
            "what low and high mean: one job in ten beyond each, or the ends of a beta curve",
            "10-50-90",
            "pert",
            default="10-50-90",
        ),
        _minutes("wait_fast_min", "unattended minutes after it, at the fastest", ZERO),
        _minutes("wait_usual_min", "unattended minutes after it, usually", ZERO),
        _minutes("wait_safe_min", "unattended minutes after it, to be safe", ZERO),
        _choice("meanwhile", "what may go on while it waits", "M0", "M1", "M2", "M3", "M4", default="M0"),
        _list("factors", "codes of the difficulty factors that multiply the run time"),
        Column("level", "whole", "skill the task wants", "", 1, ONE, Decimal(5)),
        _factor("beginner_factor", "run-time factor of a beginner", ONE),
        _number("rework_pct", "odds of rework, per occurrence or per counted unit", "%", ZERO, ZERO, HUNDRED),
        _choice("rework_kind", "what rework costs", *["q", "r", "s", "d", "x", "n"], default="q"),
        _number("rework_share", "share of the run that rework repeats", "", ZERO, ZERO, Decimal(10)),
        _text("trouble", "what goes wrong", ""),
        _list("hazards", "classes of hazard", "hazards"),
        _choice("station", "where it is done", *STATIONS, default="B"),
        Column("billed", "yes-no", "whether its minutes are billed on client work", default=True),
    ),
    _table(
        "task_consumables",
        "what a task uses up per driver unit",
        "task consumable instruments",
        _ref("task", "tasks", "the task"),
        _ref("consumable", "consumables", "what is used up"),
        Column("quantity", "number", "units per driver unit; fractions such as 1/6 are accepted", low=ZERO),
        _choice("instruments", "for which instruments", "any", "guitar", "bass", default="any"),
    ),
    _table(
        "task_tools",
        "which tools a task wears per driver unit",
        "task tool",
        _ref("task", "tasks", "the task"),
        _ref("tool", "tools", "the tool"),
        Column("uses", "number", "units of tool life per driver unit", low=ZERO),
    ),
    _table(
        "task_order",
        "which task comes before which when both are on a job",
        "before after",
        _ref("before", "tasks", "the earlier task"),
        _ref("after", "tasks", "the later task"),
        _text("reason", "why", ""),
    ),
    _table(
        "consumables",
        "one thing that is used up, as it is bought",
        "id",
        _id("name of the consumable"),
        _text("what", "what it is"),
        _text("pack", "the pack it comes in"),
        _money("price", "price of a pack"),
        _text("unit", "unit it is used in"),
        Column("units_per_pack", "number", "usable units in a pack", low=Decimal("0.001")),
        _number("shelf_months", "months it keeps after opening", "months", None, ZERO, Decimal(600)),
        _choice("billed_as", "charged as wear, or as a part with mark-up", "wear", "part", default="wear"),
        Column("on_shelf", "yes-no", "whether a working shop always has it", default=True),
        Column("abrasive", "yes-no", "whether hard fret metal uses up more of it", default=False),
        _text("used_for", "how it is used", ""),
    ),
    _table(
        "tools",
        "one tool in two grades, with its life",
        "id",
        _id("name of the tool"),
        _text("what", "what it is"),
        _money("inexpensive_price", "price of the inexpensive grade"),
        Column("inexpensive_life", "number", "units of work until replaced", low=ONE),
        _money("premium_price", "price of the premium grade"),
        Column("premium_life", "number", "units of work until replaced", low=ONE),
        _text("unit", "unit of work its life is counted in"),
        _choice("default_grade", "grade that wear is charged at", "inexpensive", "premium"),
        _choice(
            "wear_by",
            "what makes it wear faster: fret metal, body wood, nut material",
            "none",
            "metal",
            "wood",
            "nut",
            default="none",
        ),
        _text("notes", "remarks and alternatives", ""),
    ),
    _table(
        "woods",
        "factors of a body or neck wood",
        "id",
        _id("name of the wood"),
        _text("what", "what it is", ""),
        _factor("route", "routing time"),
        _factor("drill", "drilling time"),
        _factor("sand", "sanding time"),
        _factor("cutter_wear", "wear of bits and cutters"),
        _factor("screw_strip", "odds of a stripped screw hole"),
        _factor("chip_odds", "odds of a chip"),
        _number("density", "shop-dry density", "g/cm3", REQUIRED, Decimal("0.1"), Decimal("1.5")),
        _number("hardness_lbf", "side hardness", "lbf", None, ZERO, Decimal(6000)),
        _choice("grain", "whether pores want filling", "closed", "open", default="closed"),
        _number(
            "pilot_share", "pilot hole as a share of the screw", "", Decimal("0.72"), Decimal("0.4"), ONE
        ),
    ),
    _table(
        "metals",
        "factors of a fret wire",
        "id",
        _id("name of the wire"),
        _text("what", "what it is", ""),
        *(_factor(n, f"{n} time") for n in ("level", "crown", "polish", "cut", "seat", "end", "pull")),
        _factor("tool_wear", "wear of fret files, nippers and saws"),
        _factor("abrasive", "use of abrasives"),
    ),
    _table(
        "finishes",
        "factors of a finish",
        "id",
        _id("name of the finish"),
        _text("what", "what it is", ""),
        *(_factor(n, f"{n} time") for n in ("mask", "strip", "touch", "polish")),
        _factor("chip_odds", "odds of a chip"),
    ),
    _table(
        "factors",
        "one level of a difficulty factor",
        "code level",
        Column("code", "text", "code that tasks list"),
        Column("level", "id", "level of the factor"),
        _factor("factor", "run-time multiple"),
        _factor("wear", "tool-wear multiple", ONE),
        _text("notes", "remarks", ""),
    ),
    _table(
        "intake",
        "one measurement or observation that can be taken of an instrument",
        "id",
        Column("id", "id", "name of the field (underscores are accepted)", underscores=True),
        _text("section", "part of the instrument"),
        _text("what", "what is measured or looked at"),
        _choice("kind", "kind of value", *INTAKE_KINDS),
        _text("unit", "unit inside", ""),
        _text("how", "how it is measured", ""),
        _text("default_guitar", "what is assumed on a guitar until measured", ""),
        _text("default_bass", "what is assumed on a bass until measured (blank: as on a guitar)", ""),
        _number("accepted_low", "accepted without question from", "", None),
        _number("accepted_high", "accepted without question up to", "", None),
        _number("hard_low", "impossible below", "", None),
        _number("hard_high", "impossible above", "", None),
        _list("choices", "words accepted"),
        _number(
            "spread", "share added to the spread of the tasks it touches while unknown", "", ZERO, ZERO, ONE
        ),
        _number(
            "fit_chance_pct", "chance that a fit verdict is wrong while unknown", "%", ZERO, ZERO, HUNDRED
        ),
        _text("changes", "what it decides", ""),
    ),
    _table(
        "attributes",
        "something an instrument is judged by",
        "id",
        _id("name of the attribute"),
        _text("code", "short code", ""),
        _text("what", "what is judged"),
        _choice("kind", "an ordered scale of levels 0 to 4, or an amount", "level", "number"),
        _text("unit", "unit of the amount", ""),
        _choice("better", "whether more or less is wanted", "more", "less", default="more"),
        _number("limit_1", "amount at which level 1 begins", "", None),
        _number("limit_2", "amount at which level 2 begins", "", None),
        _number("limit_3", "amount at which level 3 begins", "", None),
        _number("limit_4", "amount at which level 4 begins", "", None),
        _number("bass_shift", "added to the limits on a bass", "", ZERO),
        *(_text(f"words_{n}", f"level {n} in words", "") for n in range(5)),
        _text("verified_by", "how it is checked at the bench", ""),
        Column(
            "intake_field",
            "id",
            "intake field that tells today's amount or level",
            default="",
            refers="intake",
            underscores=True,
        ),
        _number("default_level", "level assumed when nothing tells it", "", None, ZERO, Decimal(4)),
        _choice(
            "adds",
            "what changes an amount: effects only, or the mass of parts and wood too",
            "effects",
            "mass",
            default="effects",
        ),
    ),
    _table(
        "attribute_limits",
        "what limits what, so that nothing impossible is promised",
        "attribute other",
        _ref("attribute", "attributes", "the limited attribute"),
        _ref("other", "attributes", "the attribute that limits it"),
        _number("plus", "the limited one may stand this much above the other", "", None),
        _number("needs", "the limited one stays at 0 unless the other reaches this level", "", None),
        _text("reason", "why"),
    ),
    _table(
        "profiles",
        "what a target profile wants of an attribute",
        "profile attribute",
        Column("profile", "id", "name of the profile"),
        _ref("attribute", "attributes", "the attribute"),
        _number("minimum", "least level wanted (blank: not looked at)", "", None, ZERO, Decimal(4)),
        _number("weight", "weight in the score", "", ZERO, ZERO, HUNDRED),
    ),
    _table(
        "part_classes",
        "a kind of part, the fit rules to run for it and its lead time",
        "id",
        _id("name of the class"),
        _text("what", "what it is"),
        _list("rules", "fit rules to run"),
        _choice("counted", "what a price buys", "each", "set", default="each"),
        _number("lead_days_low", "days to the door, quick", "days", Decimal(2), ZERO, Decimal(400)),
        _number("lead_days_high", "days to the door, slow", "days", Decimal(6), ZERO, Decimal(400)),
    ),
    _table(
        "part_dimensions",
        "a dimension that decides whether a part of the class fits",
        "part_class dimension",
        _ref("part_class", "part_classes", "the class of part"),
        Column("dimension", "id", "name of the dimension (underscores are accepted)", underscores=True),
        _choice("kind", "kind of value", "length", "number", "count", "mass", "choice", "yes-no"),
        _text("unit", "unit inside", ""),
        _text("typical", "value assumed until measured", ""),
        _number("low", "impossible below", "", None),
        _number("high", "impossible above", "", None),
        _list("choices", "words accepted"),
        _text("meaning", "what is measured"),
    ),
    _table(
        "parts",
        "a part of a class and grade with a typical price",
        "id",
        _id("name of the part"),
        _ref("part_class", "part_classes", "its class"),
        Column("variant", "id", "what tells it from others of its class"),
        _choice("grade", "grade", *GRADES),
        _text("what", "what it is"),
        _money("price_low", "low price"),
        _money("price", "price used"),
        _money("price_high", "high price"),
        _number("weight_g", "weight of one as fitted", "g", None, ZERO, Decimal(20_000)),
        _levels("factor levels it brings (FW=stainless, NM=bone)"),
        _text("dims", "dimensions that differ from the typical ones of its class, as name=value", ""),
    ),
    _table(
        "upgrades",
        "one thing that can be decided",
        "id",
        _id("name of the upgrade"),
        _text("what", "what is done, in a worker's words"),
        Column("slot", "id", "place it occupies; at most one upgrade per slot"),
        _choice("instruments", "for which instruments", "any", "guitar", "bass", default="any"),
        _ref("part_class", "part_classes", "class of part it fits (blank: none)", ""),
        Column("parts_needed", "expression", "how many parts it takes", default="1"),
        Column("removes_g", "expression", "mass taken off", "g", default="0"),
        _list("needs_all", "upgrades that must all be chosen too"),
        _list("needs_any", "upgrades of which at least one must be chosen too"),
        _list("excludes", "upgrades it cannot stand beside"),
        _list("rules", "fit rules to run, besides those of its part"),
        Column("place", "id", "where on the instrument", default=""),
        _when(),
    ),
    _table(
        "upgrade_work",
        "work that an upgrade brings",
        "upgrade task place when",
        _ref("upgrade", "upgrades", "the upgrade"),
        Column("task", "id", "task, or bundle of tasks"),
        Column("place", "id", "where on the instrument (blank: the task's usual place)", default=""),
        Column("quantity", "expression", "driver units", default="1"),
        _number("share", "share of the run time", "", ONE, ZERO, Decimal(5)),
        _levels("factor levels that differ from the instrument's"),
        _when(),
        _text("because", "reason in words", ""),
    ),
    _table(
        "bundle_work",
        "tasks that always come together",
        "bundle task place when",
        Column("bundle", "id", "name of the bundle"),
        Column("task", "id", "task, or another bundle"),
        Column("place", "id", "where on the instrument", default=""),
        Column("quantity", "expression", "driver units", default="1"),
        _number("share", "share of the run time", "", ONE, ZERO, Decimal(5)),
        _levels("factor levels that differ from the instrument's"),
        _when(),
        _text("because", "reason in words", ""),
    ),
    _table(
        "upgrade_effects",
        "what an upgrade does to an attribute",
        "upgrade grade attribute kind",
        _ref("upgrade", "upgrades", "the upgrade"),
        Column("grade", "text", "grade or variant of the part (any: all of them)", default="any"),
        _ref("attribute", "attributes", "the attribute"),
        _choice(
            "kind",
            "to a level, so much on top, no higher than, or change of an amount",
            "to",
            "add",
            "cap",
            "change",
        ),
        Column("value", "expression", "the level or amount"),
        _list("together_with", "counts only if one of these is chosen too"),
        _when(),
    ),
    _table(
        "task_effects",
        "what a task does to an attribute wherever it is done",
        "task attribute kind",
        _ref("task", "tasks", "the task"),
        _ref("attribute", "attributes", "the attribute"),
        _choice(
            "kind",
            "to a level, so much on top, no higher than, or change of an amount",
            "to",
            "add",
            "cap",
            "change",
        ),
        Column("value", "expression", "the level or amount"),
        _list("together_with", "counts only if one of these tasks is done too"),
        _when(),
    ),
    _table(
        "hazards",
        "a class of hazard with the usual caution",
        "id",
        Column("id", "text", "code of the hazard"),
        _text("where", "where it arises"),
        _text("harm", "what it does"),
        _text("controls", "usual controls"),
        _text("never", "what is never done", ""),
    ),
    _table(
        "base_work",
        "work that comes with every job of a kind",
        "job_kind task",
        _choice("job_kind", "kind of job", *JOB_KINDS),
        _ref("task", "tasks", "the task"),
        Column("quantity", "number", "driver units", low=ZERO),
    ),
    _table(
        "known_jobs",
        "a well-known job and the hands-on time the trade expects",
        "id",
        _id("name of the job"),
        _text("what", "what is done"),
        _minutes("low_min", "quickest the trade expects"),
        _minutes("high_min", "slowest the trade expects"),
    ),
    _table(
        "known_job_work",
        "the work of a well-known job",
        "known_job task place",
        _ref("known_job", "known_jobs", "the job"),
        _ref("task", "tasks", "the task"),
        Column("place", "id", "where", default=""),
        Column("quantity", "expression", "driver units", default="1"),
        _number("share", "share of the run time", "", ONE, ZERO, Decimal(5)),
        _levels("factor levels"),
    ),
)

BY_NAME: dict[str, TableSpec] = {table.name: table for table in TABLES}

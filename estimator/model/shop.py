"""What a shop knows: the records of the rates folder."""

from collections.abc import Mapping
from decimal import Decimal
from functools import cached_property
from types import MappingProxyType
from typing import Annotated, Self

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.errors import Issue, Origin
from estimator.model import column as col
from estimator.model.column import HUNDRED, ONE, REQUIRED, ZERO, key
from estimator.model.drawn import DrawnTables
from estimator.model.lasting import LastingTables
from estimator.model.menu import MenuTables
from estimator.model.methods import REWORK_KINDS, STATION_LETTER, MethodTables
from estimator.model.operation import coat_place
from estimator.model.pickups import PICKUPS, pickup_slot
from estimator.model.planning import PlanTables
from estimator.model.plausible import PlausibleTables
from estimator.model.resale import ResaleTables
from estimator.model.terms import Terms
from estimator.model.words import GRADES, JOB_KINDS

EMPTY: Mapping[str, str] = MappingProxyType({})

TASK_GROUPS = (
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
)
INTAKE_KINDS = ("choice", "length", "number", "count", "mass", "money", "yes-no", "angle", "list", "text")


class Task(Struct, frozen=True):
    """A bench operation (a row of ``tasks.csv``).

    Run times are minutes per driver unit; ``reading`` tells how low / likely / high are meant. ``method``:
    the way it is done, where there is more than one, ``way`` in words; ``usual`` the task done the usual
    way, where this is another.
    """

    id: Annotated[str, col.ident("name of the task")]
    group: Annotated[str, col.choice("kind of work", *TASK_GROUPS)]
    what: Annotated[str, col.text("what is done")]
    driver: Annotated[str, col.text("what the run time is counted in (instrument, fret, hole, cm3, ...)")]
    setup_min: Annotated[Decimal, col.minutes("minutes once per sitting")]
    repeat_share: Annotated[
        Decimal, col.number("share of the set-up paid by each further instrument", "", ZERO, ZERO, ONE)
    ]
    run_min_low: Annotated[Decimal, col.minutes("low reading of the run time per driver unit")]
    run_min_likely: Annotated[Decimal, col.minutes("usual run time per driver unit")]
    run_min_high: Annotated[Decimal, col.minutes("high reading of the run time per driver unit")]
    reading: Annotated[
        str,
        col.choice(
            "what low and high mean: one job in ten beyond each, or the ends of a beta curve",
            "10-50-90",
            "pert",
            default="10-50-90",
        ),
    ]
    wait_fast_min: Annotated[Decimal, col.minutes("unattended minutes after it, at the fastest", ZERO)]
    wait_usual_min: Annotated[Decimal, col.minutes("unattended minutes after it, usually", ZERO)]
    wait_safe_min: Annotated[Decimal, col.minutes("unattended minutes after it, to be safe", ZERO)]
    meanwhile: Annotated[
        str, col.choice("what may go on while it waits", "M0", "M1", "M2", "M3", "M4", default="M0")
    ]
    factors: Annotated[
        tuple[str, ...], col.words("codes of the difficulty factors that multiply the run time")
    ]
    level: Annotated[int, col.of("whole", "skill the task wants", "", 1, ONE, Decimal(5))]
    beginner_factor: Annotated[Decimal, col.factor("run-time factor of a beginner", ONE)]
    rework_pct: Annotated[
        Decimal, col.number("odds of rework, per occurrence or per counted unit", "%", ZERO, ZERO, HUNDRED)
    ]
    rework_kind: Annotated[str, col.choice("what rework costs", *REWORK_KINDS, default="q")]
    rework_share: Annotated[
        Decimal, col.number("share of the run that rework repeats", "", ZERO, ZERO, Decimal(10))
    ]
    trouble: Annotated[str, col.text("what goes wrong", "")]
    hazards: Annotated[tuple[str, ...], col.words("classes of hazard", "hazards")]
    station: Annotated[str, col.text(f"where it is done: {STATION_LETTER}", "B")]
    billed: Annotated[bool, col.of("yes-no", "whether its minutes are billed on client work", default=True)]
    origin: Origin = Origin()
    method: str = ""
    way: str = ""
    usual: "Task | None" = None

    @property
    def by_usual(self) -> "Task":
        """The task as it is usually done."""
        return self.usual or self

    @property
    def told(self) -> str:
        """What is done, and the way where there is more than one."""
        return f"{self.what} ({self.way})" if self.way else self.what


class Consumable(Struct, frozen=True):
    """Something used up: a pack, its price, the units in it."""

    id: Annotated[str, col.ident("name of the consumable")]
    what: Annotated[str, col.text("what it is")]
    pack: Annotated[str, col.text("the pack it comes in")]
    price: Annotated[Decimal, col.money("price of a pack")]
    unit: Annotated[str, col.text("unit it is used in")]
    units_per_pack: Annotated[Decimal, col.of("number", "usable units in a pack", low=Decimal("0.001"))]
    shelf_months: Annotated[
        Decimal | None, col.number("months it keeps after opening", "months", None, ZERO, Decimal(600))
    ]
    billed_as: Annotated[
        str, col.choice("charged as wear, or as a part with mark-up", "wear", "part", default="wear")
    ]
    on_shelf: Annotated[bool, col.of("yes-no", "whether a working shop always has it", default=True)]
    abrasive: Annotated[bool, col.of("yes-no", "whether hard fret metal uses up more of it", default=False)]
    used_for: Annotated[str, col.text("how it is used", "")]
    origin: Origin = Origin()

    @property
    def by_the_pack(self) -> bool:
        """Whether it is bought for the job in whole packs: not on the shelf, and not sold like a part."""
        return not self.on_shelf and not self.by_the_piece

    @property
    def by_the_piece(self) -> bool:
        """Whether it is sold with the work like a part: strings by the set, say."""
        return self.billed_as == "part"


class Tool(Struct, frozen=True):
    """A tool in two grades; wear is price / life per unit of use."""

    id: Annotated[str, col.ident("name of the tool")]
    what: Annotated[str, col.text("what it is")]
    inexpensive_price: Annotated[Decimal, col.money("price of the inexpensive grade")]
    inexpensive_life: Annotated[Decimal, col.of("number", "units of work until replaced", low=ONE)]
    premium_price: Annotated[Decimal, col.money("price of the premium grade")]
    premium_life: Annotated[Decimal, col.of("number", "units of work until replaced", low=ONE)]
    unit: Annotated[str, col.text("unit of work its life is counted in")]
    default_grade: Annotated[str, col.choice("grade that wear is charged at", "inexpensive", "premium")]
    wear_by: Annotated[
        str,
        col.choice(
            "what makes it wear faster: fret metal, body wood, nut material",
            "none",
            "metal",
            "wood",
            "nut",
            default="none",
        ),
    ]
    notes: Annotated[str, col.text("remarks and alternatives", "")]
    origin: Origin = Origin()


class Wood(Struct, frozen=True):
    """Factors of a body or neck wood; density in g/cm3."""

    id: Annotated[str, col.ident("name of the wood")]
    what: Annotated[str, col.text("what it is", "")]
    route: Annotated[Decimal, col.factor("routing time")]
    drill: Annotated[Decimal, col.factor("drilling time")]
    sand: Annotated[Decimal, col.factor("sanding time")]
    cutter_wear: Annotated[Decimal, col.factor("wear of bits and cutters")]
    screw_strip: Annotated[Decimal, col.factor("odds of a stripped screw hole (told, not reckoned with)")]
    chip_odds: Annotated[Decimal, col.factor("odds of a chip")]
    density: Annotated[
        Decimal, col.number("shop-dry density", "g/cm3", REQUIRED, Decimal("0.1"), Decimal("1.5"))
    ]
    hardness_lbf: Annotated[Decimal | None, col.number("side hardness", "lbf", None, ZERO, Decimal(6000))]
    grain: Annotated[str, col.choice("whether pores want filling", "closed", "open", default="closed")]
    pilot_share: Annotated[
        Decimal, col.number("pilot hole as a share of the screw", "", Decimal("0.72"), Decimal("0.4"), ONE)
    ]
    origin: Origin = Origin()


class Metal(Struct, frozen=True):
    """Factors of a fret wire: times by operation, tool wear, abrasive use."""

    id: Annotated[str, col.ident("name of the wire")]
    what: Annotated[str, col.text("what it is", "")]
    level: Annotated[Decimal, col.factor("level time")]
    crown: Annotated[Decimal, col.factor("crown time")]
    polish: Annotated[Decimal, col.factor("polish time")]
    cut: Annotated[Decimal, col.factor("cut time")]
    seat: Annotated[Decimal, col.factor("seat time")]
    end: Annotated[Decimal, col.factor("end time")]
    pull: Annotated[Decimal, col.factor("pull time")]
    tool_wear: Annotated[Decimal, col.factor("wear of fret files, nippers and saws")]
    abrasive: Annotated[Decimal, col.factor("use of abrasives")]
    origin: Origin = Origin()


class Finish(Struct, frozen=True):
    """Factors of a finish: times by operation and odds of a chip."""

    id: Annotated[str, col.ident("name of the finish")]
    what: Annotated[str, col.text("what it is", "")]
    mask: Annotated[Decimal, col.factor("mask time")]
    strip: Annotated[Decimal, col.factor("strip time")]
    touch: Annotated[Decimal, col.factor("touch time")]
    polish: Annotated[Decimal, col.factor("polish time")]
    chip_odds: Annotated[Decimal, col.factor("odds of a chip")]
    origin: Origin = Origin()


class Factor(Struct, frozen=True):
    """One level of a difficulty factor: run-time multiple and, for some, a tool-wear multiple."""

    code: Annotated[str, col.of("text", "code that tasks list")]
    level: Annotated[str, col.of("id", "level of the factor")]
    factor: Annotated[Decimal, col.factor("run-time multiple")]
    wear: Annotated[Decimal, col.factor("tool-wear multiple", ONE)]
    notes: Annotated[str, col.text("remarks", "")] = ""
    origin: Origin = Origin()


class IntakeField(Struct, frozen=True):
    """A measurement or observation that can be taken of an instrument (a row of ``intake.csv``).

    ``by_template``: the usual value of kinds of instrument; ``in_words``: of the field that names such a kind, what
    each is.
    """

    id: Annotated[str, col.name_of_field("name of the field (underscores are accepted)")]
    section: Annotated[str, col.text("part of the instrument")]
    what: Annotated[str, col.text("what is measured or looked at")]
    kind: Annotated[str, col.choice("kind of value", *INTAKE_KINDS)]
    unit: Annotated[str, col.text("unit inside", "")]
    how: Annotated[str, col.text("how it is measured", "")]
    default_guitar: Annotated[str, col.text("what is assumed on a guitar until measured", "")]
    default_bass: Annotated[
        str, col.text("what is assumed on a bass until measured (blank: as on a guitar)", "")
    ]
    accepted_low: Annotated[Decimal | None, col.number("accepted without question from", "", None)]
    accepted_high: Annotated[Decimal | None, col.number("accepted without question up to", "", None)]
    hard_low: Annotated[Decimal | None, col.number("impossible below", "", None)]
    hard_high: Annotated[Decimal | None, col.number("impossible above", "", None)]
    choices: Annotated[tuple[str, ...], col.words("words accepted")]
    likely_guitar: Annotated[
        str,
        col.text(
            "what it may turn out to be on a guitar: two ends (“4 to 20”; sums like a default are accepted) or "
            "the values there are (“250 or 500”); blank: the accepted range, or any of the words",
            "",
        ),
    ]
    likely_bass: Annotated[str, col.text("the same on a bass (blank: as on a guitar)", "")]
    spread: Annotated[
        Decimal,
        col.number("share added to the spread of the tasks it touches while unknown", "", ZERO, ZERO, ONE),
    ]
    fit_chance_pct: Annotated[
        Decimal,
        col.number(
            "chance that the assumed value is another while unknown, and a fit verdict wrong; 0: its spread stands in",
            "%",
            ZERO,
            ZERO,
            HUNDRED,
        ),
    ]
    changes: Annotated[str, col.text("what it decides", "")]
    origin: Origin = Origin()
    by_template: tuple[tuple[str, str], ...] = ()
    in_words: tuple[tuple[str, str], ...] = ()


class Attribute(Struct, frozen=True):
    """Something an instrument is judged by.

    ``kind`` is ``level`` (0 to 4, higher is better) or ``number`` (an amount with a unit that
    changes add to; ``better`` says whether more or less is wanted). ``limits`` are the amounts at
    which levels 1 to 4 begin. ``adds`` is ``mass`` when the grams of parts and wood are its changes.
    """

    id: Annotated[str, col.ident("name of the attribute")]
    code: Annotated[str, col.text("short code", "")]
    what: Annotated[str, col.text("what is judged")]
    kind: Annotated[str, col.choice("an ordered scale of levels 0 to 4, or an amount", "level", "number")]
    unit: Annotated[str, col.text("unit of the amount", "")]
    better: Annotated[str, col.choice("whether more or less is wanted", "more", "less", default="more")]
    limits: Annotated[
        tuple[Decimal, ...],
        col.several(
            **{f"limit_{n}": col.number(f"amount at which level {n} begins", "", None) for n in range(1, 5)}
        ),
    ]
    bass_shift: Annotated[Decimal, col.number("added to the limits on a bass", "", ZERO)]
    words: Annotated[
        tuple[str, ...], col.several(**{f"words_{n}": col.text(f"level {n} in words", "") for n in range(5)})
    ]
    verified_by: Annotated[str, col.text("how it is checked at the bench", "")]
    intake_field: Annotated[str, col.field_ref("intake field that tells today's amount or level", "")]
    default_level: Annotated[
        Decimal | None, col.number("level assumed when nothing tells it", "", None, ZERO, Decimal(4))
    ]
    adds: Annotated[
        str,
        col.choice(
            "what changes an amount: effects only, or the mass of parts and wood too",
            "effects",
            "mass",
            default="effects",
        ),
    ]
    origin: Origin = Origin()


class AttributeLimit(Struct, frozen=True):
    """``attribute`` cannot stand above ``other`` + ``plus``; or, with ``needs``, stays at 0 below it.

    Only on an instrument of which ``when`` holds.
    """

    attribute: Annotated[str, col.ref("attributes", "the limited attribute")]
    other: Annotated[str, col.ref("attributes", "the attribute that limits it")]
    plus: Annotated[
        Decimal | None, col.number("the limited one may stand this much above the other", "", None)
    ]
    needs: Annotated[
        Decimal | None, col.number("the limited one stays at 0 unless the other reaches this level", "", None)
    ]
    reason: Annotated[str, col.text("why")]
    when: Annotated[str, col.when()] = ""
    origin: Origin = Origin()


class PromiseRest(Struct, frozen=True):
    """What a lifted ``attribute`` rests on: while nobody looked at it, what is reached is expected only.

    A reading (``field``), an ``other`` attribute that stands as high by what was found or by the work, or a ``task``
    that lifts it and may fail however it is done.
    """

    name: Annotated[str, col.of("id", "what it is called beside the level")]
    attribute: Annotated[str, col.ref("attributes", "the attribute")]
    field: Annotated[str, col.field_ref("intake field that tells it", "")]
    other: Annotated[
        str,
        col.ref(
            "attributes",
            "or the attribute that was to be found as high as the level, unless the work brings it there",
            "",
        ),
    ]
    when: Annotated[str, col.when()]
    because: Annotated[str, col.text("why the level rests on it; of a task: how it may fail")]
    task: Annotated[str, col.ref("tasks", "or the task that lifts it and may fail", "")] = ""
    origin: Origin = Origin()


class WishWords(Struct, frozen=True):
    """Everyday words of a customer, and the attributes that they mean, the likeliest first."""

    words: Annotated[str, col.text("what is said, in its plainest words")]
    attributes: Annotated[
        tuple[str, ...], col.words("the attributes meant, the likeliest first", "attributes")
    ]
    origin: Origin = Origin()


class AttributeSign(Struct, frozen=True):
    """What an observed word tells of an attribute's level today."""

    attribute: Annotated[str, col.ref("attributes", "the attribute")]
    field: Annotated[str, col.field_ref("intake field that holds a word, or yes / no")]
    word: Annotated[str, col.text("the word observed")]
    level: Annotated[Decimal, col.number("level it tells", "", REQUIRED, ZERO, Decimal(4))]
    origin: Origin = Origin()


class Fault(Struct, frozen=True):
    """A reading that is a fault: while nothing mends it, ``attribute`` stands no higher than ``level``.

    ``reads``: ``is`` one of the words of ``bad``, ``below`` or ``above`` a number, ``beyond`` it on either
    side of zero, or ``present`` (anything is written down). ``mended_by`` upgrades and ``mended_by_work``
    tasks, any one of which is enough; ``only_lighter``: upgrades of these that mend it only where their parts weigh
    less than what comes off. ``mend``, ``off_low`` and ``off_high``: what a buyer lowers the offer by;
    ``weighed``: its check works that out by itself, with more than one way to mend it.
    """

    fault: Annotated[
        str, col.of("id", "name of the fault; rows of one name are one fault that lowers several")
    ]
    what: Annotated[str, col.text("the fault in words")]
    field: Annotated[str, col.field_ref("intake field that shows it")]
    reads: Annotated[
        str,
        col.choice(
            "how the field shows it: is one of the words, below or above a number, beyond it on either side "
            "of zero, or present (anything written down)",
            "is",
            "below",
            "above",
            "beyond",
            "present",
        ),
    ]
    bad: Annotated[str, col.text("the words (yes / no too) or the number", "")]
    when: Annotated[str, col.when()]
    attribute: Annotated[str, col.ref("attributes", "the attribute it lowers")]
    level: Annotated[
        Decimal, col.number("no higher than this while nothing mends it", "", REQUIRED, ZERO, Decimal(4))
    ]
    mended_by: Annotated[tuple[str, ...], col.words("upgrades, any one of which mends it", "upgrades")]
    mended_by_work: Annotated[tuple[str, ...], col.words("tasks, any one of which mends it", "tasks")]
    check: Annotated[str, col.ref("donor_checks", "the check at the seller's that shows it")]
    mend: Annotated[str, col.text("what mends it, in words")]
    off_low: Annotated[Decimal, col.money("least that it lowers an offer by", ZERO)]
    off_high: Annotated[Decimal, col.money("most that it lowers an offer by", ZERO)]
    weighed: Annotated[
        bool,
        col.of(
            "yes-no",
            "whether its check works out by itself what it lowers an offer by, with more than one way to mend it",
            default=False,
        ),
    ] = False
    origin: Origin = Origin()
    only_lighter: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """The words that show it, where the field ``is`` one of them."""
        return tuple(self.bad.split())


class FaultOdds(Struct, frozen=True):
    """By how many points the odds of rework of a task rise on an instrument with a fault, and what goes wrong."""

    fault: Annotated[str, col.of("id", "a fault of faults.csv")]
    task: Annotated[str, col.ref("tasks", "the work that touches it")]
    more_pct: Annotated[Decimal, col.number("odds of rework on top, in points", "%", REQUIRED, ZERO, HUNDRED)]
    because: Annotated[str, col.text("what goes wrong, in words")]
    origin: Origin = Origin()


class ProfileRow(Struct, frozen=True):
    """What one target profile wants of one attribute."""

    profile: Annotated[str, col.of("id", "name of the profile")]
    attribute: Annotated[str, col.ref("attributes", "the attribute")]
    minimum: Annotated[
        Decimal | None, col.number("least level wanted (blank: not looked at)", "", None, ZERO, Decimal(4))
    ]
    weight: Annotated[Decimal, col.number("weight in the score", "", ZERO, ZERO, HUNDRED)]
    origin: Origin = Origin()


class PartClass(Struct, frozen=True):
    """A kind of part: the fit rules to run, the usual days to the door, and the work that meets it.

    ``off_in``: tasks by whose end an old one is off, the first that there are; ``worked_in``: tasks that work on a new one.
    """

    id: Annotated[str, col.ident("name of the class")]
    what: Annotated[str, col.text("what it is")]
    rules: Annotated[tuple[str, ...], col.words("fit rules to run")]
    counted: Annotated[str, col.choice("what a price buys", "each", "set", default="each")]
    lead_days_low: Annotated[
        Decimal, col.number("days to the door, quick", "days", Decimal(2), ZERO, Decimal(400))
    ]
    lead_days_high: Annotated[
        Decimal, col.number("days to the door, slow", "days", Decimal(6), ZERO, Decimal(400))
    ]
    off_in: Annotated[
        tuple[str, ...],
        col.words(
            "tasks of its upgrade by whose end an old one is off; the first that there are count", "tasks"
        ),
    ] = ()
    worked_in: Annotated[
        tuple[str, ...],
        col.words(
            "tasks that work on a new one, whatever they are done for; they wait till it is there", "tasks"
        ),
    ] = ()
    origin: Origin = Origin()


class PartDimension(Struct, frozen=True):
    """A dimension that decides fit for a class of part, with its typical value.

    ``typical_bass``: that of the parts for a bass, blank where it is the same. ``to_order``: a part that
    is not measured is ordered in the size that suits, instead of being refused for its typical one.
    """

    part_class: Annotated[str, col.ref("part_classes", "the class of part")]
    dimension: Annotated[str, col.name_of_field("name of the dimension (underscores are accepted)")]
    kind: Annotated[str, col.choice("kind of value", "length", "number", "count", "mass", "choice", "yes-no")]
    unit: Annotated[str, col.text("unit inside", "")]
    typical: Annotated[str, col.text("value assumed until measured", "")]
    typical_bass: Annotated[str, col.text("value assumed on a bass (blank: as on a guitar)", "")]
    low: Annotated[Decimal | None, col.number("impossible below", "", None)]
    high: Annotated[Decimal | None, col.number("impossible above", "", None)]
    choices: Annotated[tuple[str, ...], col.words("words accepted")]
    to_order: Annotated[
        bool,
        col.of(
            "yes-no",
            "whether it is sold in every such size at this price, so that one that suits is ordered",
            default=False,
        ),
    ]
    meaning: Annotated[str, col.text("what is measured")]
    origin: Origin = Origin()


class Part(Struct, frozen=True):
    """A bought thing: a row of ``parts.csv`` or a ``[[part]]`` of a job file.

    ``dims`` holds measured or declared dimensions (mm, g, counts, or words);
    ``typical`` names those that were filled in from the class and not measured. ``only``: while this
    part of a job stands, the shop's own parts of its class are not on offer. ``bass_dims``: what is
    typical on a bass instead, of the dimensions that nobody stated for this part.
    """

    id: Annotated[
        str,
        col.ident("name of the part"),
        key(
            "part",
            "id",
            "name of the part in this job; an id of parts.csv: in the place of that row",
            default=REQUIRED,
        ),
    ]
    part_class: Annotated[
        str,
        col.ref("part_classes", "its class"),
        key("part", "id", "class of part_classes.csv", name="class", default=REQUIRED),
    ]
    variant: Annotated[
        str,
        col.of("id", "what tells it from others of its class"),
        key(
            "part",
            "id",
            "what tells it from others of its class"
            " (left out: as in parts.csv if that is more than a grade, else its id)",
        ),
    ]
    grade: Annotated[
        str,
        col.choice("grade", *GRADES),
        key("part", "choice", "grade (left out: that of the variant, else standard)", choices=GRADES),
    ]
    what: Annotated[str, col.text("what it is"), key("part", "text", "what it is")]
    price: Annotated[
        Decimal,
        col.several(
            price_low=col.money("low price"),
            price=col.money("price used"),
            price_high=col.money("high price"),
        ),
        key(
            "part",
            "money",
            "price of one, or of the set where the class is priced so (left out: that of parts.csv; 0 if the customer brings it)",
            "money",
            low=ZERO,
        ),
    ]
    weight_g: Annotated[
        Decimal | None, col.number("weight of one as fitted", "g", None, ZERO, Decimal(20_000))
    ]
    levels: Annotated[
        Mapping[str, str],
        col.levels("factor levels it brings (FW=stainless, NM=bone)"),
        key("part", "group", 'factor levels it brings: { NM = "bone" }'),
    ] = field(default_factory=lambda: EMPTY)
    dims: Annotated[
        Mapping[str, Decimal | str],
        col.text("dimensions that differ from the typical ones of its class, as name=value", ""),
    ] = field(default_factory=lambda: EMPTY)
    typical: frozenset[str] = frozenset()
    owner: Annotated[
        str,
        key(
            "part",
            "choice",
            "who pays for it and brings it; what a customer brings is there once: two pieces are two [[part]]",
            choices=("shop", "customer"),
        ),
    ] = "shop"
    origin: Origin = Origin()
    only: Annotated[
        bool,
        key(
            "part",
            "yes-no",
            "only parts of this job are considered in its class"
            " (left out: it stands beside the shop's own parts of its class, and the best of them all is found)",
        ),
    ] = False
    bass_dims: Mapping[str, Decimal | str] = field(default_factory=lambda: EMPTY)

    def made_for(self, bass: bool) -> "Part":
        """The part as it is bought for a bass or a guitar: its typical dimensions are those of the kind."""
        if not (bass and self.bass_dims):
            return self
        return replace(self, dims=MappingProxyType({**self.dims, **self.bass_dims}), bass_dims=EMPTY)


class CustomerWords(Struct, frozen=True):
    """What a customer reads of work that fit forces or of a warning; ``rule`` is blank for any.

    ``concern``: it changes the ``price``, or the ``result``, or is ``lasting`` and cannot be undone.
    """

    about: Annotated[
        str, col.of("id", "a task that fit forces, or the name by which a fit rule tells a warning")
    ]
    rule: Annotated[
        str, col.of("text", "the fit rule whose work it is (blank: whichever forces it)", default="")
    ]
    concern: Annotated[str, col.choice("what of it the customer has to know", "price", "result", "lasting")]
    words: Annotated[str, col.text("the words, with {n} for how many")]
    origin: Origin = Origin()


WOOD_DENSITY = "wood_g_cm3"
"""In expressions: what a cm3 of the body's wood weighs, by its species."""
AS_FOUND = "as-found"
"""In the place of a factor level: that of the instrument as it came in, whatever part is to be fitted."""
MARKS = (
    "peghead",
    "nut",
    "strings",
    "frets",
    "neck",
    "joint",
    *map(pickup_slot, PICKUPS),
    "bridge",
    "controls",
    "jack",
    "body",
    "strap-button",
)
"""Places on the outline of an instrument that a number can point at."""


class CustomerName(Struct, frozen=True):
    """How a customer reads an attribute or an upgrade, and where on the instrument a slot is.

    ``lasting``: what cannot be undone about an upgrade, whatever the instrument. Blanks: nothing to say.
    """

    kind: Annotated[str, col.choice("what it is about", "attribute", "level", "slot", "upgrade")]
    about: Annotated[
        str,
        col.of(
            "id",
            "id of the attribute, of the upgrade, or of the slot of upgrades; attribute-N for its level N",
        ),
    ]
    words: Annotated[str, col.text("the words (blank: those of the table itself)", "")] = ""
    mark: Annotated[str, col.choice("where it is on the instrument", *MARKS, default="")] = ""
    lasting: Annotated[str, col.text("what cannot be undone about it (blank: nothing)", "")] = ""
    origin: Origin = Origin()


class WorkRow(Struct, frozen=True):
    """Work that an upgrade or a bundle brings (a row of ``upgrade_work.csv`` or ``bundle_work.csv``).

    ``quantity`` and ``share`` are expressions over intake fields (``fret_n``, ``0.6 * guard_cm2``); ``when``
    is the name of a condition (``tremolo``, ``bolt-neck``) or blank; ``task`` may name a bundle.
    """

    owner: str
    task: Annotated[str, col.of("id", "task, or bundle of tasks")]
    place: Annotated[str, col.of("id", "where on the instrument (blank: the task's usual place)", default="")]
    quantity: Annotated[str, col.of("expression", "driver units", default="1")]
    share: Annotated[
        str, col.of("expression", "share of the run time: a number, or a part of a whole", default="1")
    ]
    levels: Annotated[Mapping[str, str], col.levels("factor levels that differ from the instrument's")]
    when: Annotated[str, col.when()]
    because: Annotated[str, col.text("reason in words", "")]
    origin: Origin = Origin()


class NeedlessWork(Struct, frozen=True):
    """Work that falls away where an upgrade is chosen; a blank ``place`` means wherever it is done.

    Without ``upgrade`` it is any upgrade that brings ``with_task``.
    """

    upgrade: Annotated[
        str, col.ref("upgrades", "the upgrade that makes it needless (blank: see with_task)", "")
    ]
    with_task: Annotated[
        str, col.ref("tasks", "the task that makes it needless, whichever upgrade brings it", "")
    ]
    task: Annotated[str, col.ref("tasks", "the task that falls away")]
    place: Annotated[str, col.of("id", "where on the instrument (blank: wherever it is)", default="")]
    when: Annotated[str, col.when()]
    because: Annotated[str, col.text("reason in words", "")]
    origin: Origin = Origin()

    def covers(self, task: str, place: str) -> bool:
        """Whether it makes a task at a place needless: there, or coat by coat there."""
        return task == self.task and self.place in ("", place, coat_place(place).where)


class EffectRow(Struct, frozen=True):
    """What an upgrade or a task does to an attribute.

    ``kind``: ``to`` (at least this level), ``add`` (so much on top), ``cap`` (no higher than this),
    ``change`` (amount added to a number).
    """

    owner: str
    grade: Annotated[str, col.of("text", "grade or variant of the part (any: all of them)", default="any")]
    attribute: Annotated[str, col.ref("attributes", "the attribute")]
    kind: Annotated[
        str,
        col.choice(
            "to a level, on top, no higher than, or change of an amount", "to", "add", "cap", "change"
        ),
    ]
    value: Annotated[str, col.of("expression", "the level or amount")]
    together_with: Annotated[tuple[str, ...], col.words("counts only if one of these is chosen too")]
    when: Annotated[str, col.when()]
    origin: Origin = Origin()


class Conditional(Struct, frozen=True):
    """A name and the condition under which it is meant, in tables ``name/condition``; blank: always."""

    name: str
    condition: str = ""

    @classmethod
    def of(cls, word: str) -> Self:
        """What a word of a table says."""
        name, _, condition = word.partition("/")
        return cls(name, condition)


class UpgradeRow(Struct, frozen=True):
    """One thing that can be decided (a row of ``upgrades.csv``), before a part is named."""

    id: Annotated[str, col.ident("name of the upgrade")]
    what: Annotated[str, col.text("what is done, in a worker's words")]
    slot: Annotated[str, col.of("id", "place it occupies; at most one upgrade per slot")]
    instruments: Annotated[str, col.choice("for which instruments", "any", "guitar", "bass", default="any")]
    part_class: Annotated[str, col.ref("part_classes", "class of part it fits (blank: none)", "")]
    parts_needed: Annotated[str, col.of("expression", "how many parts it takes", default="1")]
    removes_g: Annotated[str, col.of("expression", "mass taken off", "g", default="0")]
    needs_all: Annotated[tuple[Conditional, ...], col.words("upgrades that must all be chosen too")]
    needs_any: Annotated[
        tuple[Conditional, ...], col.words("upgrades of which at least one must be chosen too")
    ]
    excludes: Annotated[tuple[str, ...], col.words("upgrades it cannot stand beside")]
    rules: Annotated[tuple[str, ...], col.words("fit rules to run, besides those of its part")]
    place: Annotated[str, col.of("id", "where on the instrument", default="")]
    when: Annotated[str, col.when()]
    changes: Annotated[
        tuple[Conditional, ...],
        col.words(
            "what it changes for good (ids of changes.csv), besides what its work does (lasting_work.csv);"
            " change/condition: where the condition of the instrument holds; blank: nothing"
        ),
    ] = ()
    origin: Origin = Origin()

    def may_mean(self, word: str) -> bool:
        """Whether a word names it, or one of its variants by the look of it (``ID-VARIANT``)."""
        return word == self.id or word.startswith(f"{self.id}-")


class Hazard(Struct, frozen=True):
    """A class of hazard with the usual caution."""

    id: Annotated[str, col.of("text", "code of the hazard")]
    where: Annotated[str, col.text("where it arises")]
    harm: Annotated[str, col.text("what it does")]
    controls: Annotated[str, col.text("usual controls")]
    never: Annotated[str, col.text("what is never done", "")]
    dusty: Annotated[
        bool, col.of("yes-no", "whether work with it raises dust that settles on wet finish", default=False)
    ] = False
    rank: Annotated[
        int,
        col.of("whole", "by judgement, which goes first where one caution is told: the lowest", "", 99, ONE),
    ] = 99
    origin: Origin = Origin()


class BaseWork(Struct, frozen=True):
    """Work that comes with every job of a kind, whatever is chosen; ``selling``: to sell it in any state."""

    job_kind: Annotated[str, col.choice("kind of job", *JOB_KINDS)]
    task: Annotated[str, col.ref("tasks", "the task")]
    quantity: Annotated[Decimal, col.of("number", "driver units", low=ZERO)]
    selling: Annotated[
        bool,
        col.of(
            "yes-no",
            "it is done to sell an instrument, whatever state that is in; a donor found to be bad takes it too",
            default=False,
        ),
    ] = False
    origin: Origin = Origin()


class KnownJob(Struct, frozen=True):
    """A well-known job with the range the trade expects: the standing sense check of the rates."""

    id: Annotated[str, col.ident("name of the job")]
    what: Annotated[str, col.text("what is done")]
    low_min: Annotated[Decimal, col.minutes("quickest the trade expects")]
    high_min: Annotated[Decimal, col.minutes("slowest the trade expects")]
    origin: Origin = Origin()


class ToolTimes(Struct, frozen=True):
    """How one grade of a tool changes times: run when new, run when worn, work after it when worn.

    ``worn_share`` is the last part of its life, as a fraction, in which it counts as worn;
    ``after_task`` the work that then takes longer.
    """

    tool: Annotated[str, col.ref("tools", "the tool")]
    grade: Annotated[str, col.choice("its grade", "inexpensive", "premium")]
    run_new: Annotated[Decimal, col.factor("run time when it is new", ONE)]
    run_worn: Annotated[Decimal, col.factor("run time in the last part of its life", ONE)]
    worn_share: Annotated[Decimal, col.number("how large that last part is", "share", ZERO, ZERO, ONE)]
    after_worn: Annotated[Decimal, col.factor("time of the work that follows, in that last part", ONE)]
    after_task: Annotated[str, col.ref("tasks", "the work that follows and takes longer", "")]
    origin: Origin = Origin()


class Shop(Struct, frozen=True, dict=True):
    """Everything in the rates folder, checked and cross-referenced; never changed after loading."""

    terms: Terms
    tasks: Mapping[str, Task]
    consumables: Mapping[str, Consumable]
    tools: Mapping[str, Tool]
    task_consumables: Mapping[str, tuple[tuple[str, Decimal, str], ...]]
    task_tools: Mapping[str, tuple[tuple[str, Decimal], ...]]
    task_order: tuple[tuple[str, str], ...]
    direct_order: frozenset[tuple[str, str]]
    woods: Mapping[str, Wood]
    metals: Mapping[str, Metal]
    finishes: Mapping[str, Finish]
    factors: Mapping[tuple[str, str], Factor]
    intake: Mapping[str, IntakeField]
    attributes: Mapping[str, Attribute]
    attribute_limits: tuple[AttributeLimit, ...]
    attribute_signs: tuple[AttributeSign, ...]
    faults: tuple[Fault, ...]
    fault_odds: tuple[FaultOdds, ...]
    profiles: Mapping[str, Mapping[str, ProfileRow]]
    part_classes: Mapping[str, PartClass]
    part_dimensions: Mapping[str, Mapping[str, PartDimension]]
    parts: Mapping[str, Part]
    upgrades: Mapping[str, UpgradeRow]
    upgrade_work: Mapping[str, tuple[WorkRow, ...]]
    bundles: Mapping[str, tuple[WorkRow, ...]]
    needless: Mapping[str, tuple[NeedlessWork, ...]]
    upgrade_effects: Mapping[str, tuple[EffectRow, ...]]
    task_effects: Mapping[str, tuple[EffectRow, ...]]
    hazards: Mapping[str, Hazard]
    customer_words: Mapping[tuple[str, str], CustomerWords]
    customer_names: Mapping[tuple[str, str], CustomerName]
    base_work: Mapping[str, tuple[BaseWork, ...]]
    known_jobs: Mapping[str, KnownJob]
    known_job_work: Mapping[str, tuple[WorkRow, ...]]
    folders: tuple[str, ...] = ()
    issues: tuple[Issue, ...] = ()
    resale: ResaleTables = ResaleTables()
    tool_times: Mapping[tuple[str, str], ToolTimes] = field(default_factory=lambda: MappingProxyType({}))
    planning: PlanTables = PlanTables()
    order_unless: tuple[tuple[tuple[str, str], frozenset[str]], ...] = ()
    """Pairs of tasks bound to each other only while none of some others is on the job."""
    menu: MenuTables = MenuTables()
    plausible: PlausibleTables = PlausibleTables()
    lasting: LastingTables = LastingTables()
    drawn: DrawnTables = DrawnTables()
    ways: MethodTables = MethodTables()
    promise_rests: tuple[PromiseRest, ...] = ()
    wish_words: tuple[WishWords, ...] = ()
    as_usual: "Shop | None" = None
    """The shop with every task done the usual way, where this one has some done another."""

    @property
    def usual_consumables(self) -> Mapping[str, tuple[tuple[str, Decimal, str], ...]]:
        """What the tasks use up, done the usual way."""
        return (self.as_usual or self).task_consumables

    @property
    def usual_tools(self) -> Mapping[str, tuple[tuple[str, Decimal], ...]]:
        """What the tasks wear, done the usual way."""
        return (self.as_usual or self).task_tools

    @cached_property
    def parts_by_class(self) -> Mapping[str, tuple[Part, ...]]:
        """The parts of each class, in the order of the table."""
        found: dict[str, list[Part]] = {}
        for part in self.parts.values():
            found.setdefault(part.part_class, []).append(part)
        return {name: tuple(parts) for name, parts in found.items()}

    @property
    def lengths(self) -> str:
        """In what a customer reads a length, ``mm`` or ``in``: as the shop says, else as its country does."""
        country = self.menu.countries.get(self.terms.menu_place)
        if self.terms.lengths not in ("", "country"):
            return self.terms.lengths
        return country.lengths if country is not None else "mm"

    @property
    def dates(self) -> str:
        """The order in which a date in figures is meant, ``mdy`` or ``dmy``; blank where it is not known."""
        country = self.menu.countries.get(self.terms.menu_place)
        return country.dates if country is not None else ""

    @property
    def paper(self) -> str:
        """The paper of the shop's country, ``A4`` or ``Letter``; A4 where it is not known."""
        country = self.menu.countries.get(self.terms.menu_place)
        return country.paper if country is not None else "A4"

    def stocked_pieces(self, stock: Mapping[str, Decimal]) -> frozenset[str]:
        """What is sold with the work like a part, of which at least one whole piece is in stock."""
        known = self.consumables
        return frozenset(n for n in stock if n in known and known[n].by_the_piece and stock[n] >= 1)

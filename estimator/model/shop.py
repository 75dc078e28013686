"""What a shop knows: the records of the rates folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from types import MappingProxyType

from estimator.core.amounts import Hundredths
from estimator.core.errors import Issue, Origin
from estimator.model.drawn import DrawnTables
from estimator.model.lasting import LastingTables
from estimator.model.menu import MenuTables
from estimator.model.methods import MethodTables
from estimator.model.planning import PlanTables
from estimator.model.plausible import PlausibleTables
from estimator.model.resale import ResaleTables

EMPTY: Mapping[str, str] = MappingProxyType({})

OWN, OWN_MENU, MEASURED = "own", "own menu", "measured"
"""Bases of a shop's own numbers: typed in, fitted to its menu, learned from its ledger."""
BASES = ("published", "common-practice", "memory", "demo", OWN, OWN_MENU, MEASURED)
GRADES = ("economy", "standard", "premium")
JOB_KINDS = ("commission", "resale", "own")


@dataclass(frozen=True, slots=True)
class Task:
    """A bench operation (a row of ``tasks.csv``).

    Run times are minutes per driver unit; ``reading`` tells how low / likely / high are meant. ``method``:
    the way it is done, where there is more than one, ``way`` in words; ``usual`` the task done the usual
    way, where this is another.
    """

    id: str
    group: str
    what: str
    driver: str
    setup_min: Decimal
    repeat_share: Decimal
    run_min_low: Decimal
    run_min_likely: Decimal
    run_min_high: Decimal
    reading: str
    wait_fast_min: Decimal
    wait_usual_min: Decimal
    wait_safe_min: Decimal
    meanwhile: str
    factors: tuple[str, ...]
    level: int
    beginner_factor: Decimal
    rework_pct: Decimal
    rework_kind: str
    rework_share: Decimal
    trouble: str
    hazards: tuple[str, ...]
    station: str
    billed: bool
    origin: Origin = Origin()
    method: str = ""
    way: str = ""
    usual: Task | None = None

    @property
    def by_usual(self) -> Task:
        """The task as it is usually done."""
        return self.usual or self

    @property
    def told(self) -> str:
        """What is done, and the way where there is more than one."""
        return f"{self.what} ({self.way})" if self.way else self.what


@dataclass(frozen=True, slots=True)
class Consumable:
    """Something used up: a pack, its price, the units in it."""

    id: str
    what: str
    pack: str
    price: Decimal
    unit: str
    units_per_pack: Decimal
    shelf_months: Decimal | None
    billed_as: str
    on_shelf: bool
    abrasive: bool
    used_for: str
    origin: Origin = Origin()

    @property
    def by_the_pack(self) -> bool:
        """Whether it is bought for the job in whole packs: not on the shelf, and not sold like a part."""
        return not self.on_shelf and not self.by_the_piece

    @property
    def by_the_piece(self) -> bool:
        """Whether it is sold with the work like a part: strings by the set, say."""
        return self.billed_as == "part"


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool in two grades; wear is price / life per unit of use."""

    id: str
    what: str
    inexpensive_price: Decimal
    inexpensive_life: Decimal
    premium_price: Decimal
    premium_life: Decimal
    unit: str
    default_grade: str
    wear_by: str
    notes: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Wood:
    """Factors of a body or neck wood; density in g/cm3."""

    id: str
    what: str
    route: Decimal
    drill: Decimal
    sand: Decimal
    cutter_wear: Decimal
    screw_strip: Decimal
    chip_odds: Decimal
    density: Decimal
    hardness_lbf: Decimal | None
    grain: str
    pilot_share: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Metal:
    """Factors of a fret wire: times by operation, tool wear, abrasive use."""

    id: str
    what: str
    level: Decimal
    crown: Decimal
    polish: Decimal
    cut: Decimal
    seat: Decimal
    end: Decimal
    pull: Decimal
    tool_wear: Decimal
    abrasive: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Finish:
    """Factors of a finish: times by operation and odds of a chip."""

    id: str
    what: str
    mask: Decimal
    strip: Decimal
    touch: Decimal
    polish: Decimal
    chip_odds: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Factor:
    """One level of a difficulty factor: run-time multiple and, for some, a tool-wear multiple."""

    code: str
    level: str
    factor: Decimal
    wear: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class IntakeField:
    """A measurement or observation that can be taken of an instrument (a row of ``intake.csv``)."""

    id: str
    section: str
    what: str
    kind: str
    unit: str
    how: str
    default_guitar: str
    default_bass: str
    accepted_low: Decimal | None
    accepted_high: Decimal | None
    hard_low: Decimal | None
    hard_high: Decimal | None
    choices: tuple[str, ...]
    likely_guitar: str
    likely_bass: str
    spread: Decimal
    fit_chance_pct: Decimal
    changes: str
    origin: Origin = Origin()
    by_template: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Attribute:
    """Something an instrument is judged by.

    ``kind`` is ``level`` (0 to 4, higher is better) or ``number`` (an amount with a unit that
    changes add to; ``better`` says whether more or less is wanted). ``limits`` are the amounts at
    which levels 1 to 4 begin. ``adds`` is ``mass`` when the grams of parts and wood are its changes.
    """

    id: str
    code: str
    what: str
    kind: str
    unit: str
    better: str
    limits: tuple[Decimal, ...]
    bass_shift: Decimal
    words: tuple[str, ...]
    verified_by: str
    intake_field: str
    default_level: Decimal | None
    adds: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class AttributeLimit:
    """``attribute`` cannot stand above ``other`` + ``plus``; or, with ``needs``, stays at 0 below it.

    Only on an instrument of which ``when`` holds.
    """

    attribute: str
    other: str
    plus: Decimal | None
    needs: Decimal | None
    reason: str
    when: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PromiseRest:
    """What a lifted ``attribute`` rests on: while nobody looked at it, what is reached is expected only.

    A reading (``field``), or an ``other`` attribute that stands as high by what was found or by the work.
    """

    name: str
    attribute: str
    field: str
    other: str
    when: str
    because: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class WishWords:
    """Everyday words of a customer, and the attributes that they mean, the likeliest first."""

    words: str
    attributes: tuple[str, ...]
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class AttributeSign:
    """What an observed word tells of an attribute's level today."""

    attribute: str
    field: str
    word: str
    level: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Fault:
    """A reading that is a fault: while nothing mends it, ``attribute`` stands no higher than ``level``.

    ``reads``: ``is`` one of the words of ``bad``, ``below`` or ``above`` a number, ``beyond`` it on either
    side of zero, or ``present`` (anything is written down). ``mended_by`` upgrades and ``mended_by_work``
    tasks, any one of which is enough; ``only_lighter``: upgrades of these that mend it only where their parts weigh
    less than what comes off. ``mend``, ``off_low`` and ``off_high``: what a buyer lowers the offer by;
    ``weighed``: its check works that out by itself, with more than one way to mend it.
    """

    fault: str
    what: str
    field: str
    reads: str
    bad: str
    when: str
    attribute: str
    level: Decimal
    mended_by: tuple[str, ...]
    mended_by_work: tuple[str, ...]
    check: str
    mend: str
    off_low: Decimal
    off_high: Decimal
    weighed: bool = False
    origin: Origin = Origin()
    only_lighter: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FaultOdds:
    """By how many points the odds of rework of a task rise on an instrument with a fault, and what goes wrong."""

    fault: str
    task: str
    more_pct: Decimal
    because: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class ProfileRow:
    """What one target profile wants of one attribute."""

    profile: str
    attribute: str
    minimum: Decimal | None
    weight: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PartClass:
    """A kind of part: the fit rules to run, the usual days to the door, and the work that meets it.

    ``off_in``: tasks by whose end an old one is off, the first that there are; ``worked_in``: tasks that work on a new one.
    """

    id: str
    what: str
    rules: tuple[str, ...]
    counted: str
    lead_days_low: Decimal
    lead_days_high: Decimal
    off_in: tuple[str, ...] = ()
    worked_in: tuple[str, ...] = ()
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PartDimension:
    """A dimension that decides fit for a class of part, with its typical value.

    ``typical_bass``: that of the parts for a bass, blank where it is the same. ``to_order``: a part that
    is not measured is ordered in the size that suits, instead of being refused for its typical one.
    """

    part_class: str
    dimension: str
    kind: str
    unit: str
    typical: str
    typical_bass: str
    low: Decimal | None
    high: Decimal | None
    choices: tuple[str, ...]
    to_order: bool
    meaning: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Part:
    """A bought thing: a row of ``parts.csv`` or a ``[[part]]`` of a job file.

    ``dims`` holds measured or declared dimensions (mm, g, counts, or words);
    ``typical`` names those that were filled in from the class and not measured. ``only``: while this
    part of a job stands, the shop's own parts of its class are not on offer. ``bass_dims``: what is
    typical on a bass instead, of the dimensions that nobody stated for this part.
    """

    id: str
    part_class: str
    variant: str
    grade: str
    what: str
    price: Decimal
    weight_g: Decimal | None
    levels: Mapping[str, str] = field(default_factory=lambda: EMPTY)
    dims: Mapping[str, Decimal | str] = field(default_factory=lambda: EMPTY)
    typical: frozenset[str] = frozenset()
    owner: str = "shop"
    origin: Origin = Origin()
    only: bool = False
    bass_dims: Mapping[str, Decimal | str] = field(default_factory=lambda: EMPTY)

    def made_for(self, bass: bool) -> Part:
        """The part as it is bought for a bass or a guitar: its typical dimensions are those of the kind."""
        if not (bass and self.bass_dims):
            return self
        return replace(self, dims=MappingProxyType({**self.dims, **self.bass_dims}), bass_dims=EMPTY)


@dataclass(frozen=True, slots=True)
class CustomerWords:
    """What a customer reads of work that fit forces or of a warning; ``rule`` is blank for any.

    ``concern``: it changes the ``price``, or the ``result``, or is ``lasting`` and cannot be undone.
    """

    about: str
    rule: str
    concern: str
    words: str
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
    "pickup-neck",
    "pickup-middle",
    "pickup-bridge",
    "bridge",
    "controls",
    "jack",
    "body",
    "strap-button",
)
"""Places on the outline of an instrument that a number can point at."""


@dataclass(frozen=True, slots=True)
class CustomerName:
    """How a customer reads an attribute or an upgrade, and where on the instrument a slot is.

    ``lasting``: what cannot be undone about an upgrade, whatever the instrument. Blanks: nothing to say.
    """

    kind: str
    about: str
    words: str = ""
    mark: str = ""
    lasting: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class WorkRow:
    """Work that an upgrade or a bundle brings (a row of ``upgrade_work.csv`` or ``bundle_work.csv``).

    ``quantity`` and ``share`` are expressions over intake fields (``fret_n``, ``0.6 * guard_cm2``); ``when``
    is the name of a condition (``tremolo``, ``bolt-neck``) or blank; ``task`` may name a bundle.
    """

    owner: str
    task: str
    place: str
    quantity: str
    share: str
    levels: Mapping[str, str]
    when: str
    because: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class NeedlessWork:
    """Work that falls away where an upgrade is chosen; a blank ``place`` means wherever it is done.

    Without ``upgrade`` it is any upgrade that brings ``with_task``.
    """

    upgrade: str
    with_task: str
    task: str
    place: str
    when: str
    because: str
    origin: Origin = Origin()

    def covers(self, task: str, place: str) -> bool:
        """Whether it makes a task at a place needless: there, or coat by coat there."""
        return task == self.task and (self.place in ("", place) or place.startswith(f"{self.place}-coat-"))


@dataclass(frozen=True, slots=True)
class EffectRow:
    """What an upgrade or a task does to an attribute.

    ``kind``: ``to`` (at least this level), ``add`` (so much on top), ``cap`` (no higher than this),
    ``change`` (amount added to a number).
    """

    owner: str
    grade: str
    attribute: str
    kind: str
    value: str
    together_with: tuple[str, ...]
    when: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class UpgradeRow:
    """One thing that can be decided (a row of ``upgrades.csv``), before a part is named."""

    id: str
    what: str
    slot: str
    instruments: str
    part_class: str
    parts_needed: str
    removes_g: str
    needs_all: tuple[str, ...]
    needs_any: tuple[str, ...]
    excludes: tuple[str, ...]
    rules: tuple[str, ...]
    place: str
    when: str
    changes: tuple[str, ...] = ()
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Hazard:
    """A class of hazard with the usual caution."""

    id: str
    where: str
    harm: str
    controls: str
    never: str
    dusty: bool = False
    rank: int = 99
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class BaseWork:
    """Work that comes with every job of a kind, whatever is chosen; ``selling``: to sell it in any state."""

    job_kind: str
    task: str
    quantity: Decimal
    selling: bool = False
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class KnownJob:
    """A well-known job with the range the trade expects: the standing sense check of the rates."""

    id: str
    what: str
    low_min: Decimal
    high_min: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class ToolTimes:
    """How one grade of a tool changes times: run when new, run when worn, work after it when worn.

    ``worn_share`` is the last part of its life, as a fraction, in which it counts as worn;
    ``after_task`` the work that then takes longer.
    """

    tool: str
    grade: str
    run_new: Decimal
    run_worn: Decimal
    worn_share: Decimal
    after_worn: Decimal
    after_task: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class MarkupBand:
    """Parts up to ``up_to`` cost (none: any) are multiplied by ``factor``."""

    up_to: Decimal | None
    factor: Decimal


@dataclass(frozen=True, slots=True)
class Terms:
    """The settings of ``shop.toml``; rates per hour, shares as fractions of one.

    ``rate_build_up`` holds the yearly lines (money), weeks, hours a week and billable share.
    """

    currency: str
    skill: int
    wage_per_hour: Decimal
    overhead_per_hour: Decimal
    own_pay_per_hour: Decimal
    charge_per_hour: Decimal
    allowance: Decimal
    allowance_on: str
    hidden_fault_share: Decimal
    hidden_fault_share_unstrung: Decimal
    shared_cause: Decimal
    skew: Decimal
    surety: Decimal
    rework_spoil_min: Decimal
    rework_damage_min: Decimal
    rework_serious_min: Decimal
    rework_serious_cost: Decimal
    rework_client_min: Decimal
    rework_cap_pct: Decimal
    rework_skill_step: Decimal
    billing_unit_min: Decimal
    minimum_charge: Decimal
    labour_reserve: Decimal
    markup: tuple[MarkupBand, ...]
    own_part_labour: Decimal
    fee_share: Decimal
    fee_least: Decimal
    fee_most: Decimal
    rush: Decimal
    tax_parts: Decimal
    tax_labour: Decimal
    tax_per: str
    deposit_labour_share: Decimal
    deposit_labour_over: Decimal
    quote_valid_days: int
    warranty_days: int
    storage_free_days: int
    storage_per_day: Decimal
    lien_days: int
    readjust_days: int
    bench_fee: Decimal
    batch_share: Decimal
    shop_name: str
    lengths: str
    menu_place: str
    large_quote_hours: Decimal
    hidden_faults_quoted: str
    shop_address: str
    shop_phone: str
    shop_email: str
    opening_hours: str
    tax_number: str
    shop_logo: str
    queue_days: int
    day_sooner_min: int
    rate_build_up: Mapping[str, Decimal] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def large_quote(self) -> Hundredths:
        """Hundredths of a minute from which a quote is a large one."""
        return Hundredths(int(self.large_quote_hours * 6000))

    @property
    def faults_priced(self) -> bool:
        """Whether a quote holds what is held for hidden faults."""
        return self.hidden_faults_quoted == "in-price"


@dataclass(frozen=True, slots=True)
class Shop:
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
    as_usual: Shop | None = None
    """The shop with every task done the usual way, where this one has some done another."""

    @property
    def usual_consumables(self) -> Mapping[str, tuple[tuple[str, Decimal, str], ...]]:
        """What the tasks use up, done the usual way."""
        return (self.as_usual or self).task_consumables

    @property
    def usual_tools(self) -> Mapping[str, tuple[tuple[str, Decimal], ...]]:
        """What the tasks wear, done the usual way."""
        return (self.as_usual or self).task_tools

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

    def stocked_pieces(self, stock: Mapping[str, Decimal]) -> frozenset[str]:
        """What is sold with the work like a part, of which at least one whole piece is in stock."""
        known = self.consumables
        return frozenset(n for n in stock if n in known and known[n].by_the_piece and stock[n] >= 1)

"""The records that pass from stage to stage. All are frozen; none knows how it was read.

Units inside: lengths mm, mass g, volume cm3, area cm2, time minutes, money in the shop's currency.
Numbers are ``Decimal``; money is rounded to the cent once, where an atom is priced.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType

from estimator.errors import Issue, Origin

EMPTY: Mapping[str, str] = MappingProxyType({})

BASES = ("published", "common-practice", "memory", "demo")
GRADES = ("economy", "standard", "premium")
JOB_KINDS = ("commission", "resale", "own")


# --------------------------------------------------------------------------------------- the shop


@dataclass(frozen=True, slots=True)
class Task:
    """A bench operation (a row of ``tasks.csv``).

    Run times are minutes per driver unit; ``reading`` tells how low / likely / high are meant.
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
    spread: Decimal
    fit_chance_pct: Decimal
    changes: str
    origin: Origin = Origin()


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
    """``attribute`` cannot stand above ``other`` + ``plus``; or, with ``needs``, stays at 0 below it."""

    attribute: str
    other: str
    plus: Decimal | None
    needs: Decimal | None
    reason: str
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
    """A kind of part: the fit rules to run and the usual days to the door."""

    id: str
    what: str
    rules: tuple[str, ...]
    counted: str
    lead_days_low: Decimal
    lead_days_high: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PartDimension:
    """A dimension that decides fit for a class of part, with its typical value."""

    part_class: str
    dimension: str
    kind: str
    unit: str
    typical: str
    low: Decimal | None
    high: Decimal | None
    choices: tuple[str, ...]
    meaning: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Part:
    """A bought thing: a row of ``parts.csv`` or a ``[[part]]`` of a job file.

    ``dims`` holds measured or declared dimensions (mm, g, counts, or words);
    ``typical`` names those that were filled in from the class and not measured.
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


@dataclass(frozen=True, slots=True)
class WorkRow:
    """Work that an upgrade or a bundle brings (a row of ``upgrade_work.csv`` or ``bundle_work.csv``).

    ``quantity`` is an expression over intake fields (``fret_n``, ``0.6 * guard_cm2``); ``when`` is
    the name of a condition (``tremolo``, ``bolt-neck``) or blank; ``task`` may name a bundle.
    """

    owner: str
    task: str
    place: str
    quantity: str
    share: Decimal
    levels: Mapping[str, str]
    when: str
    because: str
    origin: Origin = Origin()


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
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Hazard:
    """A class of hazard with the usual caution."""

    id: str
    where: str
    harm: str
    controls: str
    never: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class BaseWork:
    """Work that comes with every job of a kind, whatever is chosen."""

    job_kind: str
    task: str
    quantity: Decimal
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
class MarkupBand:
    """Parts up to ``up_to`` cost (none: any) are multiplied by ``factor``."""

    up_to: Decimal | None
    factor: Decimal


@dataclass(frozen=True, slots=True)
class Terms:
    """The settings of ``shop.toml``; rates per hour, shares as fractions of one."""

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
    shop_name: str


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
    woods: Mapping[str, Wood]
    metals: Mapping[str, Metal]
    finishes: Mapping[str, Finish]
    factors: Mapping[tuple[str, str], Factor]
    intake: Mapping[str, IntakeField]
    attributes: Mapping[str, Attribute]
    attribute_limits: tuple[AttributeLimit, ...]
    profiles: Mapping[str, Mapping[str, ProfileRow]]
    part_classes: Mapping[str, PartClass]
    part_dimensions: Mapping[str, Mapping[str, PartDimension]]
    parts: Mapping[str, Part]
    upgrades: Mapping[str, UpgradeRow]
    upgrade_work: Mapping[str, tuple[WorkRow, ...]]
    bundles: Mapping[str, tuple[WorkRow, ...]]
    upgrade_effects: Mapping[str, tuple[EffectRow, ...]]
    task_effects: Mapping[str, tuple[EffectRow, ...]]
    hazards: Mapping[str, Hazard]
    base_work: Mapping[str, tuple[BaseWork, ...]]
    known_jobs: Mapping[str, KnownJob]
    known_job_work: Mapping[str, tuple[WorkRow, ...]]
    folders: tuple[str, ...] = ()
    issues: tuple[Issue, ...] = ()


# ---------------------------------------------------------------------------------------- the job


@dataclass(frozen=True, slots=True)
class Reading:
    """One intake value: measured, or assumed from the default of its field."""

    value: Decimal | str | bool | tuple[str, ...]
    assumed: bool
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Requirement:
    """Something the wish asks for: a level at least, or an amount at least / at most."""

    attribute: str
    least: Decimal | None
    most: Decimal | None
    level: Decimal | None
    because: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Budget:
    """Limits on money (``on``: cash, cost or price) and on hands-on minutes, at a surety in per cent.

    ``surety`` None means the mean is compared with the limit.
    """

    money: Decimal | None = None
    on: str = "price"
    minutes: Decimal | None = None
    surety: Decimal | None = None
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Job:
    """One instrument: what it is, what is wanted, with what means, and what is open to choice."""

    id: str
    kind: str
    what: str
    customer: str
    received: str
    wanted_by: str
    instrument: Mapping[str, Reading]
    found_levels: Mapping[str, Reading]
    requirements: tuple[Requirement, ...]
    profile: str
    weights: Mapping[str, Decimal]
    budget: Budget
    parts: Mapping[str, Part]
    open: tuple[str, ...]
    required: tuple[str, ...]
    refused: tuple[str, ...]
    stock: Mapping[str, Decimal]
    settings: Mapping[str, Decimal | str]
    file: str = ""
    issues: tuple[Issue, ...] = ()

    @property
    def is_bass(self) -> bool:
        """Whether the bass defaults and strings apply."""
        return str(self.instrument["kind"].value).startswith("bass")


# ------------------------------------------------------------------------------- upgrades and fit


@dataclass(frozen=True, slots=True)
class Demand:
    """Work asked for: a task at a place, how much, and why.

    ``share`` multiplies the run time (half a strip: 0.5); ``levels`` overrides factor levels
    (``FW`` = stainless); ``extra_min`` is added to the run once; ``extra_rework_pct`` adds to the
    odds of rework in percentage points; ``rework_times`` multiplies them; ``setup_share`` is the
    share of the set-up paid again when the work is a further sitting (a second coat). ``rests_on``
    names the intake fields that the quantity was worked out from.
    """

    task: str
    place: str
    quantity: Decimal
    because: str
    share: Decimal = Decimal(1)
    levels: Mapping[str, str] = field(default_factory=lambda: EMPTY)
    extra_min: Decimal = Decimal(0)
    extra_rework_pct: Decimal = Decimal(0)
    rework_times: Decimal = Decimal(1)
    setup_share: Decimal = Decimal(0)
    rests_on: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Effect:
    """What becomes of an attribute when any of ``given_by`` is chosen (and any of ``together_with``).

    Effects with the same ``source`` count once however many upgrades bring them.
    """

    attribute: str
    kind: str
    value: Decimal
    given_by: tuple[str, ...]
    together_with: tuple[str, ...] = ()
    source: str = ""


@dataclass(frozen=True, slots=True)
class Upgrade:
    """One thing that can be decided for this job: an upgrade row with, where it needs one, its part."""

    id: str
    row: UpgradeRow
    what: str
    slot: str
    part: Part | None
    part_quantity: Decimal
    demands: tuple[Demand, ...]
    needs_all: tuple[str, ...]
    needs_any: tuple[str, ...]
    excludes: tuple[str, ...]
    mass_removed_g: Decimal


@dataclass(frozen=True, slots=True)
class UsedValue:
    """A value that a fit rule looked at: intake field or dimension of the part."""

    name: str
    value: str
    unit: str
    assumed: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """What one fit rule found.

    ``outcome``: ``fits``, ``work`` (fits after the demands), ``no`` (does not fit), ``warn``.
    ``working`` is the formula with the numbers put in; ``used`` the values looked at.
    """

    rule: str
    outcome: str
    sentence: str
    working: str = ""
    used: tuple[UsedValue, ...] = ()
    demands: tuple[Demand, ...] = ()
    effects: tuple[tuple[str, str, Decimal], ...] = ()
    rework_pct: Decimal = Decimal(0)

    @property
    def assumed(self) -> tuple[UsedValue, ...]:
        """The values that were not measured."""
        return tuple(value for value in self.used if value.assumed)


@dataclass(frozen=True, slots=True)
class Verdict:
    """All findings about one upgrade: ``fits``, ``fits-after`` (with forced work) or ``does-not-fit``."""

    upgrade: Upgrade
    outcome: str
    findings: tuple[Finding, ...]

    @property
    def demands(self) -> tuple[Demand, ...]:
        """The upgrade's own work and the work that fit forces."""
        forced = tuple(d for finding in self.findings for d in finding.demands)
        return self.upgrade.demands + forced


# -------------------------------------------------------------------------------------- estimates


@dataclass(frozen=True, slots=True)
class Use:
    """A consumable or tool used on a work line: quantity, unit, and its unrounded cost.

    ``factor`` is the multiple for the material worked on that ``quantity`` already holds.
    """

    id: str
    what: str
    quantity: Decimal
    unit: str
    cost: Decimal
    factor: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True)
class Money:
    """Whole cents by heading; the one place where money is kept while it is added up."""

    parts: int = 0
    consumables: int = 0
    tools: int = 0
    labour: int = 0
    overhead: int = 0
    reserve: int = 0
    price_parts: int = 0
    cash: int = 0

    @property
    def cost(self) -> int:
        """What the work costs the shop, in cents."""
        return (
            self.parts + self.consumables + self.tools + self.labour + self.overhead + self.reserve
        )

    def __add__(self, other: Money) -> Money:
        return Money(*(getattr(self, f) + getattr(other, f) for f in MONEY_FIELDS))

    def __sub__(self, other: Money) -> Money:
        return Money(*(getattr(self, f) - getattr(other, f) for f in MONEY_FIELDS))


MONEY_FIELDS = (
    "parts",
    "consumables",
    "tools",
    "labour",
    "overhead",
    "reserve",
    "price_parts",
    "cash",
)


@dataclass(frozen=True, slots=True)
class WorkLine:
    """Task x place x quantity, priced. Minutes are hundredths of a minute (whole numbers).

    ``minutes`` is the mean of the run (set-up is a line of its own kind on the task's first place);
    ``low``/``likely``/``high`` are plain three-point sums; ``sd`` the spread of the run in minutes.
    ``reading`` tells how low and high are meant. Rework strikes each of ``rework_trials`` with
    ``rework_odds`` (a fraction); ``rework`` minutes and ``rework_material`` money are what it comes
    to on average. ``widening`` multiplies the spread for the assumed intake values in ``rests_on``
    (field, share it adds).
    """

    task: str
    place: str
    quantity: Decimal
    because: tuple[str, ...]
    factor: Decimal
    setup: int
    minutes: int
    low: Decimal
    likely: Decimal
    high: Decimal
    sd: float
    rework: int
    allowance: int
    wait: int
    money: Money
    mass_g: Decimal
    consumables: tuple[Use, ...]
    tools: tuple[Use, ...]
    rework_consumables: Decimal = Decimal(0)
    reading: str = "10-50-90"
    rework_odds: Decimal = Decimal(0)
    rework_trials: int = 0
    rework_material: Decimal = Decimal(0)
    widening: Decimal = Decimal(1)
    rests_on: tuple[tuple[str, Decimal], ...] = ()


@dataclass(frozen=True, slots=True)
class Atom:
    """A priced piece of work or a part, active when any of its ``triggers`` is chosen (None: always).

    ``minutes``, ``reserve_min``, ``wait``: hundredths of a minute; ``sd``: minutes, adds up within
    one ``line`` before the lines are combined; ``mass``: tenths of a gram.
    """

    id: str
    triggers: frozenset[str] | None
    money: Money
    minutes: int = 0
    reserve_min: int = 0
    wait: int = 0
    desk: int = 0
    sd: float = 0.0
    line: str = ""
    mass: int = 0


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part bought (or brought by the customer) for an upgrade; money in cents."""

    part: str
    upgrade: str
    what: str
    grade: str
    quantity: Decimal
    unit_cost: int
    cost: int
    unit_price: int
    price: int
    owner: str


@dataclass(frozen=True, slots=True)
class Totals:
    """What a set of upgrades comes to. Money in whole cents, minutes in hundredths.

    ``cost`` = parts + consumables + tools + labour + overhead + reserve. ``attended`` is the sum of
    the work lines' means; ``reserve_min`` is held for rework and hidden faults; ``expected`` is
    both. ``surety_min`` is ``expected`` + z x ``sd`` at ``surety`` per cent; ``p80`` the same at 80.
    ``price`` is what a customer pays before tax, ``to_pay`` with it.
    """

    money: Money
    attended: int
    reserve_min: int
    unattended: int
    desk: int
    sd: float
    p80: int
    surety: Decimal
    surety_min: int
    price: int
    tax: int
    to_pay: int
    billed_min: int

    @property
    def cost(self) -> int:
        """Cost to the shop in cents."""
        return self.money.cost

    @property
    def expected(self) -> int:
        """Mean hands-on minutes with the reserve, in hundredths."""
        return self.attended + self.reserve_min


@dataclass(frozen=True, slots=True)
class Estimate:
    """The priced work of one upgrade set; ``desk`` is work that client jobs are not billed for."""

    chosen: tuple[str, ...]
    lines: tuple[WorkLine, ...]
    desk: tuple[WorkLine, ...]
    parts: tuple[PartLine, ...]
    totals: Totals
    mass_change_g: Decimal

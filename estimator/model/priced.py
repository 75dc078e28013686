"""Priced work: lines, parts, atoms, totals, estimates."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from math import prod, sqrt
from operator import attrgetter
from typing import NamedTuple

from msgspec import Struct

from estimator.core.amounts import Cents, Hundredths, TenthGrams


class Use(Struct, frozen=True):
    """A consumable or tool used on a work line: quantity, unit, and its unrounded cost.

    ``factor`` is the multiple for the material worked on that ``quantity`` already holds.
    """

    id: str
    what: str
    quantity: Decimal
    unit: str
    cost: Decimal
    factor: Decimal = Decimal(1)


class Money(Struct, frozen=True):
    """Whole cents by heading; the one place where money is kept while it is added up.

    ``price_parts`` are parts at their price. ``price_work`` is work charged besides the hours: more for
    fitting a customer's own part and for the warranty of work that comes back oftener, less (below
    zero) for set-ups shared by a batch. ``line_tax`` is
    the tax on parts where each line of the invoice is taxed and rounded by itself.
    """

    parts: Cents = Cents(0)
    consumables: Cents = Cents(0)
    tools: Cents = Cents(0)
    labour: Cents = Cents(0)
    overhead: Cents = Cents(0)
    reserve: Cents = Cents(0)
    price_parts: Cents = Cents(0)
    cash: Cents = Cents(0)
    freight: Cents = Cents(0)
    price_work: Cents = Cents(0)
    line_tax: Cents = Cents(0)

    @property
    def cost(self) -> Cents:
        """What the work costs the shop, in cents."""
        work = self.consumables + self.tools + self.labour + self.overhead + self.reserve
        return self.parts + work + self.freight

    def __add__(self, other: Money) -> Money:
        return Money(
            self.parts + other.parts,
            self.consumables + other.consumables,
            self.tools + other.tools,
            self.labour + other.labour,
            self.overhead + other.overhead,
            self.reserve + other.reserve,
            self.price_parts + other.price_parts,
            self.cash + other.cash,
            self.freight + other.freight,
            self.price_work + other.price_work,
            self.line_tax + other.line_tax,
        )

    def __sub__(self, other: Money) -> Money:
        return Money(
            self.parts - other.parts,
            self.consumables - other.consumables,
            self.tools - other.tools,
            self.labour - other.labour,
            self.overhead - other.overhead,
            self.reserve - other.reserve,
            self.price_parts - other.price_parts,
            self.cash - other.cash,
            self.freight - other.freight,
            self.price_work - other.price_work,
            self.line_tax - other.line_tax,
        )


MONEY_FIELDS = Money.__struct_fields__
_HEADINGS = attrgetter(*MONEY_FIELDS)


def add_up(moneys: Iterable[Money]) -> Money:
    """The sum of all, by heading."""
    return Money(*(Cents(sum(heading)) for heading in zip(*map(_HEADINGS, moneys), strict=True)))


class RunFactor(NamedTuple):
    """What a run is multiplied by, and why: a factor code and its level, ``skill`` and its degree, or ``share``."""

    name: str
    level: str
    times: Decimal


class WorkLine(Struct, frozen=True):
    """Task x place x quantity, priced. Minutes are hundredths of a minute (whole numbers).

    ``minutes`` is the mean of the run (set-up is a line of its own kind on the task's first place);
    ``low``/``likely``/``high`` are plain three-point sums; ``sd`` the spread of the run in minutes.
    ``reading`` tells how low and high are meant. Rework strikes each of ``rework_trials`` with
    ``rework_odds`` (a fraction); ``rework`` minutes and ``rework_material`` money are what it comes
    to on average. ``widening`` multiplies the spread for the assumed intake values in ``rests_on``
    (field, share it adds). The run is quantity x ``factors`` x ``each`` + ``extra`` + ``again``, in minutes:
    a unit at factor 1, what a finding adds once, the set-up done again. ``warranty`` cents of ``money.price_work`` are held for warranty.
    ``levels``: factor levels that the work itself names, in place of those of the instrument.
    ``method`` and ``way``: how the task is done, by its name and in words, where there is more than one way.
    """

    task: str
    place: str
    quantity: Decimal
    because: tuple[str, ...]
    factors: tuple[RunFactor, ...]
    setup: Hundredths
    minutes: Hundredths
    low: Decimal
    likely: Decimal
    high: Decimal
    sd: float
    rework: Hundredths
    allowance: Hundredths
    wait: Hundredths
    money: Money
    mass_g: Decimal
    consumables: tuple[Use, ...]
    tools: tuple[Use, ...]
    reading: str = "10-50-90"
    rework_odds: Decimal = Decimal(0)
    rework_trials: int = 0
    rework_material: Decimal = Decimal(0)
    widening: Decimal = Decimal(1)
    rests_on: tuple[tuple[str, Decimal], ...] = ()
    warranty: Cents = Cents(0)
    each: Decimal = Decimal(0)
    extra: Decimal = Decimal(0)
    again: Decimal = Decimal(0)
    method: str = ""
    way: str = ""
    levels: tuple[tuple[str, str], ...] = ()

    @property
    def factor(self) -> Decimal:
        """All that multiplies its run."""
        return prod((factor.times for factor in self.factors), start=Decimal(1))

    @property
    def rework_sd(self) -> float:
        """Spread of rework in minutes: n chances at odds p, each taking its m minutes or none: n p (1 - p) m^2."""
        odds, trials = float(self.rework_odds), self.rework_trials
        if odds <= 0.0 or odds >= 1.0 or not trials:
            return 0.0
        return self.rework / 100.0 * sqrt((1.0 - odds) / (odds * trials))


class Atom(Struct, frozen=True):
    """A priced piece of work or a part, active when any of its ``triggers`` is chosen (None: always).

    ``minutes``, ``reserve_min``, ``wait``: hundredths of a minute; ``faults``: those of the reserve that
    are held for hidden faults. ``sd`` and ``rework_sd`` (of times and of rework): minutes, each adds up
    within one ``line`` before the lines are combined; ``mass``: tenths of a gram. ``task``: whose work it is, as
    reckoned with (blank for what another way takes more or less); ``part_of``: the upgrade whose part it is.
    ``is_difference``: whether it is what one line takes more than another, each rounded by itself.
    """

    id: str
    triggers: frozenset[str] | None
    money: Money
    minutes: Hundredths = Hundredths(0)
    reserve_min: Hundredths = Hundredths(0)
    wait: Hundredths = Hundredths(0)
    desk: Hundredths = Hundredths(0)
    sd: float = 0.0
    line: str = ""
    mass: TenthGrams = TenthGrams(0)
    rework_sd: float = 0.0
    faults: Hundredths = Hundredths(0)
    task: str = ""
    part_of: str = ""
    is_difference: bool = False


class Packs(Struct, frozen=True):
    """What is bought beyond a stock that all uses share: packs = what is used beyond it, in packs, rounded up.

    ``cents``: price of a pack. ``size``, ``stock`` and the quantities of ``uses`` are whole numbers of
    one small unit; a use counts when any of its triggers is chosen (None: always) and may be negative
    (a longer piece of work that takes less of it). Counts in cash, and in cost if ``in_cost``.
    ``part``: the id of a part of which there are pieces in stock, counted by the piece; blank for a
    consumable. ``consumable`` is the name that tells it from all others: an id, or ``part:`` and an id.
    """

    consumable: str
    cents: Cents
    size: int
    stock: int
    uses: tuple[tuple[tuple[str, ...] | None, int], ...]
    in_cost: bool = False
    part: str = ""


class Good(Struct, frozen=True):
    """A part, or packs of a consumable, with what each supplier that has it asks (cents for one).

    A part is bought once when any of ``triggers`` is chosen; of a ``consumable`` (or a part in stock) as
    many packs as the ``Packs`` of that name come to. ``cents``: what the sums of the work count for one.
    ``part``: as that of these ``Packs``.
    """

    what: str
    cents: Cents
    offers: tuple[tuple[str, Cents], ...]
    triggers: tuple[str, ...] = ()
    consumable: str = ""
    part: str = ""


class ParcelFreight(Struct, frozen=True):
    """A supplier's parcel: freight in cents when anything is bought there, none from ``free_from`` on."""

    supplier: str
    freight: Cents
    free_from: Cents | None = None


class Baskets(Struct, frozen=True):
    """What may be bought where: each good at the supplier that makes the whole order cheapest.

    What the order comes to beyond the goods' own ``cents`` counts in cost and cash as freight.
    """

    goods: tuple[Good, ...]
    parcels: tuple[ParcelFreight, ...]


class PartLine(Struct, frozen=True):
    """A part bought (or brought by the customer) for an upgrade; money in cents.

    ``fitting`` is what fitting the customer's own part adds to the work; such a part has no price.
    """

    part: str
    upgrade: str
    what: str
    grade: str
    quantity: Decimal
    unit_cost: Cents
    cost: Cents
    unit_price: Cents
    price: Cents
    owner: str
    fitting: Cents = Cents(0)


class Totals(Struct, frozen=True):
    """What a set of upgrades comes to. Money in whole cents, minutes in hundredths.

    ``cost`` = parts + consumables + tools + labour + overhead + reserve. ``attended`` is the sum of
    the work lines' means; ``reserve_min`` is held for rework and hidden faults; ``expected`` is
    both. ``sd``: spread of times, rework and hidden faults together. ``p80`` is ``expected`` + z x ``sd`` at
    80 per cent. ``surety_min`` are the minutes quoted: ``quoted_mean`` (without hidden faults, where they are
    quoted when found) in a small quote (``at_mean``), with z x ``quoted_sd`` at ``surety`` per cent in a large one, and ``between``
    the two just above the size of a large one.
    ``price`` is what a customer pays before tax, ``to_pay`` with it.
    """

    money: Money
    attended: Hundredths
    reserve_min: Hundredths
    unattended: Hundredths
    desk: Hundredths
    sd: float
    p80: Hundredths
    surety: Decimal
    surety_min: Hundredths
    price: Cents
    tax: Cents
    to_pay: Cents
    billed_min: Hundredths
    at_mean: bool = False
    between: bool = False
    quoted_mean: Hundredths = Hundredths(0)
    quoted_sd: float = 0.0

    @property
    def cost(self) -> Cents:
        """Cost to the shop in cents."""
        return self.money.cost

    @property
    def expected(self) -> Hundredths:
        """Mean hands-on minutes with the reserve, in hundredths."""
        return self.attended + self.reserve_min


class Estimate(Struct, frozen=True):
    """The priced work of one upgrade set; ``desk`` is work that client jobs are not billed for."""

    chosen: tuple[str, ...]
    lines: tuple[WorkLine, ...]
    desk: tuple[WorkLine, ...]
    parts: tuple[PartLine, ...]
    totals: Totals
    mass_change_g: Decimal

    @property
    def tasks(self) -> tuple[str, ...]:
        """What is done, desk work too: each task once, in its order."""
        return tuple(dict.fromkeys(line.task for line in (*self.lines, *self.desk)))

    @property
    def warranty(self) -> Cents:
        """Cents held for warranty by kind of work, besides the shop's share of all labour."""
        return sum((line.warranty for line in self.lines), Cents(0))

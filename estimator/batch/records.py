"""A choice over several jobs with what they share, as plain records of whole numbers; no solver here.

Money is cents, minutes hundredths, quantities of packs millionths of a unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from msgspec import Struct, field

from estimator.choose.measure import Measure, MeasureSet, PriceBound
from estimator.core.amounts import Cents, Hundredths
from estimator.estimate.freight import sold_at
from estimator.fit.ways import OfferedWay
from estimator.model.problem import Problem

MILLIONTHS = 1_000_000
THOUSAND = 1000
Triggers = tuple[str, ...] | None


class JobChoice(Struct, frozen=True):
    """One job's choice: its problem, the exact measure of a set, a floor under its price.

    ``buy_for``: what the instrument itself is to be bought for, in cents, where the choice may leave it out;
    None: it is there and is worked on. ``cash``: the job's own limit on what it would lay out if it ordered by
    itself; it is no rule of its problem then. ``shelf``: what is reckoned to it for that of the consumables in
    stock, in millionths of a unit.
    """

    id: str
    problem: Problem
    measure: MeasureSet
    bound: PriceBound | None = None
    buy_for: Cents | None = None
    cash: Cents | None = None
    shelf: Mapping[str, int] = field(default_factory=dict)


class BoughtPart(Struct, frozen=True):
    """A part that an upgrade of a job needs: its class, its list price in all (cents), how many.

    ``on_sale``: whether it can be bought; else it has to come off another job. ``shelf``: the name in
    the stock of the batch under which pieces of it may lie.
    """

    job: str
    upgrade: str
    part: str
    part_class: str
    list_cents: Cents
    quantity: str = "1"
    on_sale: bool = True
    shelf: str = ""

    @property
    def thousandths(self) -> int:
        """How many, in thousandths of a piece."""
        return int(Decimal(self.quantity) * THOUSAND)

    def beyond(self, pieces: int) -> Cents:
        """The list price of what is left to buy when so many pieces come from the stock."""
        return self.list_cents - Cents(pieces * THOUSAND * self.list_cents // max(1, self.thousandths))


class MovedPart(Struct, frozen=True):
    """A part that comes off one instrument and can serve another instead of a bought one.

    It comes off when any of ``off`` is chosen for ``from_job``, and then may stand in for the part of
    ``upgrade`` of ``to_job`` at no price. ``id`` is the one thing that can go to one place only;
    ``forgone`` cents are what its own sale would have brought where money left is the aim.
    """

    id: str
    from_job: str
    off: tuple[str, ...]
    to_job: str
    upgrade: str
    forgone: Cents = Cents(0)


class PackUse(Struct, frozen=True):
    """Work of a job (any of ``triggers``; None: always) that uses ``millionths`` of a unit."""

    job: str
    consumable: str
    triggers: Triggers
    millionths: int


class Pack(Struct, frozen=True):
    """A consumable bought in whole packs: price, millionths of a unit in a pack, what the shop has.

    ``in_cost``: the work lines charge nothing for it, so that its packs count in the cost as bought.
    ``singly``: the work lines charge it like a part, by the piece (strings by the set); it is had at its
    list price from nowhere in particular, as where none is in stock, and what is left over is not lost.
    """

    consumable: str
    list_cents: Cents
    holds: int
    stock: int = 0
    in_cost: bool = False
    singly: bool = False

    def worth(self, millionths: int) -> Cents:
        """What a quantity of it is worth by its share of a pack, half up to the cent."""
        return Cents((2 * millionths * self.list_cents + self.holds) // (2 * self.holds))


class MissingTool(Struct, frozen=True):
    """A tool the shop has to buy once, or to rent for each job, if any of the work is done.

    ``needed_by``: by job, the triggers of that work. ``rent``: what it costs to rent it for one job, in
    cents (None: it is not to be rented).
    """

    tool: str
    cents: Cents
    needed_by: tuple[tuple[str, Triggers], ...]
    rent: Cents | None = None

    @property
    def least(self) -> Cents:
        """What it costs at least to have it at all, in cents."""
        return self.cents if self.rent is None else min(self.cents, self.rent)


class Seller(Struct, frozen=True):
    """A supplier: freight of a parcel, free from ``free_from`` on (None: never), and prices by what it sells.

    ``sells``: (class of part, ``*`` or ``consumables``) to thousandths of the list price. ``breaks``:
    by class of part or consumable, rising numbers of pieces (packs) from which all of them are had
    for so many thousandths of its price.
    """

    id: str
    freight: Cents
    free_from: Cents | None
    sells: Mapping[str, int]
    lead_days: int = 0
    breaks: Mapping[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)

    def price(self, what: str, list_cents: Cents, less: int = THOUSAND) -> Cents | None:
        """Its price for something of that kind, half up to the cent; None if it does not sell it.

        ``less``: the thousandths of its price that a quantity brings.
        """
        share = sold_at(self.sells, what)
        whole = THOUSAND * THOUSAND
        return None if share is None else Cents((2 * list_cents * share * less + whole) // (2 * whole))


class Batch(Struct, frozen=True):
    """Several jobs, what they share, and the limits on all of them together (None: no limit).

    ``cash``: all that is laid out, cents. ``minutes``: expected hands-on hundredths. ``lost``: whether
    what is left over in packs counts as lost (then a pack more may be bought to reach free freight);
    else it stays on the shelf at its worth, and no more packs are bought than the work needs.
    ``pieces``: parts in stock, by the name under which they lie there; each piece serves once.
    """

    jobs: tuple[JobChoice, ...]
    parts: tuple[BoughtPart, ...] = ()
    uses: tuple[PackUse, ...] = ()
    packs: tuple[Pack, ...] = ()
    tools: tuple[MissingTool, ...] = ()
    sellers: tuple[Seller, ...] = ()
    moved: tuple[MovedPart, ...] = ()
    cash: Cents | None = None
    minutes: Hundredths | None = None
    lost: bool = False
    pieces: Mapping[str, int] = field(default_factory=dict)

    def wastes(self, pack: Pack) -> bool:
        """Whether what is left over of it counts as lost."""
        return self.lost and not pack.singly

    def sellers_of(self, pack: Pack) -> tuple[Seller, ...]:
        """The suppliers whose lists hold for it."""
        return () if pack.singly else self.sellers

    def in_stock(self, part: BoughtPart) -> int:
        """Pieces of a part that could come from the stock for one upgrade."""
        there = self.pieces.get(part.shelf, 0) if part.shelf and part.on_sale else 0
        return min(there, part.thousandths // THOUSAND)


class Purchase(Struct, frozen=True):
    """Something bought: from whom (blank: from nowhere in particular, at the list price), for how much.

    ``kind``: ``part``, ``pack``, ``tool``, ``rent`` (of a tool, for one job), ``donor`` (the instrument itself), ``moved`` (a part off
    the job ``off_job``: nothing is paid), ``stock`` (pieces that are there: what
    is left of the part is a purchase of its own) or ``spare`` (``what`` is then the class of part); ``number`` of
    packs, spares or pieces in stock, else 1.
    """

    kind: str
    what: str
    seller: str
    number: int
    cents: Cents
    job: str = ""
    upgrade: str = ""
    off_job: str = ""

    @property
    def is_paid(self) -> bool:
        """Whether it is bought at all: not a part that is there, or comes off another job."""
        return self.kind not in ("moved", "stock")


class OwnOrder(Struct, frozen=True):
    """What a job would buy if it ordered by itself, for the least cash: what its own limit on cash is held against.

    ``cash``: all that it would lay out in cents, ``freight`` of it by seller.
    """

    purchases: tuple[Purchase, ...]
    freight: Mapping[str, Cents]
    cash: Cents

    @property
    def sent(self) -> Cents:
        """The freight of all its parcels, in cents."""
        return sum(self.freight.values(), Cents(0))

    @property
    def got(self) -> Cents:
        """What its tools take, bought or rented, in cents."""
        return sum((p.cents for p in self.purchases if p.kind in ("tool", "rent")), Cents(0))


class BatchWay(Struct, frozen=True):
    """A task of several jobs that is cheaper done another way than it is ``now``: cents for all of them, set up once.

    ``alone``: whether it would be cheaper for some of the jobs by itself, too.
    """

    task: str
    driver: str
    jobs: tuple[str, ...]
    quantity: Decimal
    now: OfferedWay
    other: OfferedWay
    saves: Cents
    alone: bool


class JointAnswer(Struct, frozen=True):
    """The sets chosen, what is bought where, and the proof.

    ``chosen`` and ``measures`` are of the jobs that are done; ``left_out`` names those that are
    not, ``why_not`` tells why. ``ways_out``: where no choice keeps every limit, what would help;
    ``unmet``: the jobs that cannot keep their own limits, where nothing of the batch would help.
    ``status``: ``optimal``, ``feasible``, ``infeasible``, ``no-answer``. ``objective``, ``bound``: of the
    first aim over all jobs with the shared money, in its unit; ``gap`` as a share of the objective.
    ``cash``: all that is laid out; ``freight`` by seller. ``spares`` are bought with the rest, in the same parcels at
    the same breaks; ``extra``: what leaves the till because of them beyond ``cash``. ``no_spares``: why none are
    ordered where they were asked for. ``none_earns``: by the hour no choice leaves anything over its cost and
    the wanted pay, which is proven; the one told is the one that loses least. ``own_orders``: of the jobs with a
    limit on their own cash.
    """

    status: str
    aims: tuple[str, ...]
    chosen: Mapping[str, tuple[str, ...]]
    measures: Mapping[str, Measure]
    purchases: tuple[Purchase, ...]
    freight: Mapping[str, Cents]
    objective: int | None
    bound: int | None
    gap: float | None
    cash: Cents
    minutes: Hundredths
    rounds: int
    seconds: float
    left_out: tuple[str, ...] = ()
    why_not: Mapping[str, str] = field(default_factory=dict)
    ways_out: tuple[str, ...] = ()
    unmet: tuple[str, ...] = ()
    spares: tuple[Purchase, ...] = ()
    extra: Cents = Cents(0)
    no_spares: str = ""
    none_earns: bool = False
    own_orders: Mapping[str, OwnOrder] = field(default_factory=dict)

    def does(self, job: str, triggers: Triggers) -> bool:
        """Whether the job is done and any of ``triggers`` is chosen for it (None: whenever it is done)."""
        chosen = self.chosen.get(job)
        return chosen is not None and (triggers is None or not set(triggers).isdisjoint(chosen))

    def from_stock(self, part: BoughtPart) -> int:
        """Pieces of a part that come from the stock."""
        return sum(
            p.number
            for p in self.purchases
            if (p.kind, p.job, p.upgrade) == ("stock", part.job, part.upgrade)
        )

    def bought(self, part: BoughtPart) -> int:
        """How much of a part is left to buy beside the stock, in thousandths of a piece."""
        return part.thousandths - THOUSAND * self.from_stock(part)

"""Records of planning: opening hours, kinds of work, stations, waits, suppliers."""

from collections.abc import Collection, Hashable, Mapping
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated, Generic, TypeVar

from msgspec import Struct, field

from estimator.core.errors import Origin
from estimator.model import column as col
from estimator.model.column import ONE, ZERO

PACES = ("fast", "usual", "safe")
Name = TypeVar("Name", bound=Hashable)
"""What an order is of: tasks, or the sittings of a job."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
PARTS_OF_AN_INSTRUMENT = ("neck", "body", "wiring", "hardware")

MANY = Decimal(1000)


class Person(Struct, frozen=True):
    """Somebody who works at the bench; tasks above their skill are not given to them, nor any on days off."""

    id: str
    skill: int
    days_off: frozenset[date] = frozenset()


class ShopHours(Struct, frozen=True):
    """A stretch of productive bench time on one weekday; times as hours and minutes."""

    weekday: Annotated[str, col.choice("day of the week", *WEEKDAYS)]
    opens: Annotated[str, col.text("when it begins, as 09:00")]
    closes: Annotated[str, col.text("when it ends, as 12:00")]
    origin: Origin = Origin()


class WorkKind(Struct, frozen=True):
    """A kind of work: how it leaves hands and bench, what it wants, whether it fills the room with dust."""

    id: Annotated[str, col.ident("name of the kind")]
    what: Annotated[str, col.text("what belongs to it")]
    leaves: Annotated[str, col.choice("how it leaves hands and bench", "clean", "dirty", default="clean")]
    wants: Annotated[str, col.choice("what it wants to find", "any", "clean", default="any")]
    dusty: Annotated[bool, col.of("yes-no", "whether it fills the room with dust", default=False)]
    origin: Origin = Origin()


class TaskPlan(Struct, frozen=True):
    """How a task is planned: its kind, the part of the instrument it takes, whether it is done in one go."""

    task: Annotated[str, col.ref("tasks", "the task")]
    kind: Annotated[str, col.ref("work_kinds", "its kind of work")]
    part: Annotated[
        str, col.choice("what of the instrument it takes", *PARTS_OF_AN_INSTRUMENT, "instrument", "none")
    ]
    in_one_go: Annotated[
        bool, col.of("yes-no", "whether it must not be broken off at closing time", default=False)
    ]
    origin: Origin = Origin()


class PuttingBack(Struct, frozen=True):
    """Work of a task at a place that puts back what the rest of it took off: a sitting of its own.

    It stands in the order of work, and waits, as the tasks of ``like`` do; the first of them says how it is planned.
    """

    task: Annotated[str, col.ref("tasks", "the task, as the one that takes it off")]
    place: Annotated[str, col.text("the place of the work that has the other turn")]
    like: Annotated[
        tuple[str, ...],
        col.words(
            "the tasks whose place in the order of work it has; the first says how it is planned", "tasks"
        ),
    ]
    because: Annotated[str, col.text("why")] = ""
    origin: Origin = Origin()


class BoredFirst(Struct, frozen=True):
    """Work of which a ``share`` comes before a finish, where the job has any of the tasks ``before``: a sitting of its own.

    It comes after the tasks of ``after`` (with the waits that the whole work has after them) and before the rest of
    its task; the set-up is its own. Where nothing of ``before`` is on the job, the work stays whole.
    """

    task: Annotated[str, col.ref("tasks", "the task")]
    sitting: Annotated[str, col.text("name of the part that comes first")]
    share: Annotated[
        Decimal,
        col.number(
            "the part of its run that comes first; its set-up goes with it",
            "x",
            low=Decimal("0.01"),
            high=Decimal("0.99"),
        ),
    ]
    after: Annotated[tuple[str, ...], col.words("the tasks that come before the first part", "tasks")]
    before: Annotated[
        tuple[str, ...],
        col.words(
            "the tasks that come after the first part; with none of them on the job it is not parted", "tasks"
        ),
    ]
    because: Annotated[str, col.text("why")] = ""
    origin: Origin = Origin()


class ChangeOver(Struct, frozen=True):
    """Minutes between two kinds of work, by how the first leaves the bench and what the second wants."""

    leaves: Annotated[str, col.choice("how the first leaves the bench", "any", "dirty")]
    wants: Annotated[str, col.choice("what the second wants to find", "any", "clean")]
    minutes: Annotated[Decimal, col.minutes("minutes to change over")]
    origin: Origin = Origin()


class Station(Struct, frozen=True):
    """A place or tool in the shop of which there are so many; ``each`` is what one operation takes."""

    id: Annotated[str, col.ident("name of the station")]
    what: Annotated[str, col.text("what it is")]
    number: Annotated[int, col.of("whole", "how many there are", low=ONE, high=MANY)]
    stations: Annotated[tuple[str, ...], col.words("station letters of tasks.csv that take it")]
    each: Annotated[int, col.of("whole", "how many one operation takes", default=1, low=ONE, high=MANY)]
    while_it_cures: Annotated[
        bool, col.of("yes-no", "whether it stays taken until the cure is over", default=False)
    ]
    origin: Origin = Origin()


class TaskWait(Struct, frozen=True):
    """Minutes that must pass between two tasks, longer or shorter than the wait of the first in general.

    ``every``: it holds after every so many sittings (1: after each).
    """

    before: Annotated[str, col.ref("tasks", "the task that comes first")]
    after: Annotated[str, col.ref("tasks", "the task that waits")]
    every: Annotated[
        int, col.of("whole", "after every so many sittings (1: after each)", default=1, low=ONE, high=MANY)
    ]
    fast_min: Annotated[Decimal, col.minutes("at the fastest")]
    usual_min: Annotated[Decimal, col.minutes("usually")]
    safe_min: Annotated[Decimal, col.minutes("to be safe")]
    origin: Origin = Origin()


class Supplier(Struct, frozen=True):
    """Who sells parts: freight of a parcel, the sum from which it is free, days to the door."""

    id: Annotated[str, col.ident("name of the supplier")]
    what: Annotated[str, col.text("what kind of supplier")]
    freight: Annotated[Decimal, col.money("freight of one parcel")]
    free_above: Annotated[Decimal | None, col.money("freight is free from this sum on (blank: never)", None)]
    lead_days_low: Annotated[Decimal, col.number("days to the door, at best", "days", ZERO, ZERO, MANY)]
    lead_days_high: Annotated[Decimal, col.number("days to the door, at worst", "days", ZERO, ZERO, MANY)]
    origin: Origin = Origin()


class SupplierOffer(Struct, frozen=True):
    """What a supplier sells (a class of part, or ``consumables``) and its price against the list."""

    supplier: Annotated[str, col.ref("suppliers", "the supplier")]
    sells: Annotated[str, col.text("a class of part, * for every class, or consumables")]
    price_factor: Annotated[Decimal, col.factor("price against the list price of parts.csv", ONE)]
    origin: Origin = Origin()


class QuantityBreak(Struct, frozen=True):
    """From so many pieces (packs) of a kind bought at once, all of them cost this share of the price."""

    supplier: Annotated[str, col.ref("suppliers", "the supplier")]
    what: Annotated[str, col.text("a class of part, or a consumable (then by the pack)")]
    from_quantity: Annotated[
        int, col.of("whole", "from so many pieces or packs on", low=Decimal(2), high=MANY)
    ]
    price_share: Annotated[
        Decimal, col.of("number", "what is paid of the supplier's price", low=Decimal("0.001"), high=ONE)
    ]
    origin: Origin = Origin()


class PlanTables(Struct, frozen=True):
    """The planning tables of a shop."""

    hours: tuple[ShopHours, ...] = ()
    kinds: Mapping[str, WorkKind] = field(default_factory=lambda: MappingProxyType({}))
    tasks: Mapping[str, TaskPlan] = field(default_factory=lambda: MappingProxyType({}))
    bored: Mapping[str, BoredFirst] = field(default_factory=lambda: MappingProxyType({}))
    back: Mapping[tuple[str, str], PuttingBack] = field(default_factory=lambda: MappingProxyType({}))
    change_overs: tuple[ChangeOver, ...] = ()
    stations: Mapping[str, Station] = field(default_factory=lambda: MappingProxyType({}))
    waits: tuple[TaskWait, ...] = ()
    suppliers: Mapping[str, Supplier] = field(default_factory=lambda: MappingProxyType({}))
    offers: tuple[SupplierOffer, ...] = ()
    breaks: tuple[QuantityBreak, ...] = ()


def closure(
    order: Collection[tuple[Name, Name]],
    present: Collection[Name],
    direct: Collection[tuple[Name, Name]] = frozenset(),
) -> list[tuple[Name, Name]]:
    """Pairs of tasks on the job that follow each other, directly or through tasks that are not on it.

    Through pairs of ``direct`` nothing follows: a plug is dry before a body is sanded, but where no body is
    sanded it keeps nobody from a jack.
    """
    return TaskOrder(order, direct).among(present)


class TaskOrder(Generic[Name]):
    """Which tasks follow which, to be asked of one job after another; see ``closure``."""

    def __init__(
        self, order: Collection[tuple[Name, Name]], direct: Collection[tuple[Name, Name]] = frozenset()
    ) -> None:
        self._later: dict[Name, list[Name]] = {}
        self._direct: list[tuple[Name, Name]] = []
        for before, after in order:
            if (before, after) in direct:
                self._direct.append((before, after))
            else:
                self._later.setdefault(before, []).append(after)

    def among(self, present: Collection[Name]) -> list[tuple[Name, Name]]:
        """The pairs of tasks on a job that follow each other."""
        later = self._later
        pairs = dict.fromkeys(pair for pair in self._direct if pair[0] in present and pair[1] in present)
        for task in present:
            seen: set[Name] = set()
            stack = list(later.get(task, ()))
            while stack:
                name = stack.pop()
                if name in seen:
                    continue
                seen.add(name)
                if name in present:
                    pairs[task, name] = None
                else:
                    stack.extend(later.get(name, ()))
        return list(pairs)

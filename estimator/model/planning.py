"""Records of planning: opening hours, kinds of work, stations, waits, suppliers."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import TypeVar

from estimator.core.errors import Origin

PACES = ("fast", "usual", "safe")
Name = TypeVar("Name", bound=Hashable)
"""What an order is of: tasks, or the sittings of a job."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
PARTS_OF_AN_INSTRUMENT = ("neck", "body", "wiring", "hardware")


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works at the bench; tasks above their skill are not given to them, nor any on days off."""

    id: str
    skill: int
    days_off: frozenset[date] = frozenset()


@dataclass(frozen=True, slots=True)
class ShopHours:
    """A stretch of productive bench time on one weekday; times as hours and minutes."""

    weekday: str
    opens: str
    closes: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class WorkKind:
    """A kind of work: how it leaves hands and bench, what it wants, whether it fills the room with dust."""

    id: str
    what: str
    leaves: str
    wants: str
    dusty: bool
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class TaskPlan:
    """How a task is planned: its kind, the part of the instrument it takes, whether it is done in one go."""

    task: str
    kind: str
    part: str
    in_one_go: bool
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PuttingBack:
    """Work of a task at a place that puts back what the rest of it took off: a sitting of its own.

    It stands in the order of work, and waits, as the tasks of ``like`` do; the first of them says how it is planned.
    """

    task: str
    place: str
    like: tuple[str, ...]
    because: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class BoredFirst:
    """Work of which a ``share`` comes before a finish, where the job has any of the tasks ``before``: a sitting of its own.

    It comes after the tasks of ``after`` (with the waits that the whole work has after them) and before the rest of
    its task; the set-up is its own. Where nothing of ``before`` is on the job, the work stays whole.
    """

    task: str
    sitting: str
    share: Decimal
    after: tuple[str, ...]
    before: tuple[str, ...]
    because: str = ""
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class ChangeOver:
    """Minutes between two kinds of work, by how the first leaves the bench and what the second wants."""

    leaves: str
    wants: str
    minutes: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Station:
    """A place or tool in the shop of which there are so many; ``each`` is what one operation takes."""

    id: str
    what: str
    number: int
    stations: tuple[str, ...]
    each: int
    while_it_cures: bool
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class TaskWait:
    """Minutes that must pass between two tasks, longer or shorter than the wait of the first in general.

    ``every``: it holds after every so many sittings (1: after each).
    """

    before: str
    after: str
    every: int
    fast_min: Decimal
    usual_min: Decimal
    safe_min: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class Supplier:
    """Who sells parts: freight of a parcel, the sum from which it is free, days to the door."""

    id: str
    what: str
    freight: Decimal
    free_above: Decimal | None
    lead_days_low: Decimal
    lead_days_high: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class SupplierOffer:
    """What a supplier sells (a class of part, or ``consumables``) and its price against the list."""

    supplier: str
    sells: str
    price_factor: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class QuantityBreak:
    """From so many pieces (packs) of a kind bought at once, all of them cost this share of the price."""

    supplier: str
    what: str
    from_quantity: int
    price_share: Decimal
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PlanTables:
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
    later: dict[Name, list[Name]] = {}
    pairs: dict[tuple[Name, Name], None] = {}
    for before, after in order:
        if (before, after) not in direct:
            later.setdefault(before, []).append(after)
        elif before in present and after in present:
            pairs[before, after] = None
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

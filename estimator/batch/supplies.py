"""Which work gets which pack: what is in stock and what comes first goes to the work that needs it first.

Packs of one thing may come from several sellers on several days. A piece of work waits for as many as its
own quantity takes after all that needs it sooner, not for the last of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import accumulate

from estimator.batch.arrivals import NONE_LATE, BoughtKey, arrival_of
from estimator.batch.build import BatchStudy
from estimator.batch.records import MILLIONTHS, JointAnswer
from estimator.model import Estimate
from estimator.schedule.bounds.chains import heads_of
from estimator.schedule.build import bench_lines, sittings_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Operation, SchedulingProblem

BEGUN = -1
"""As the planned minute of work: it is begun or done, so that it has what it takes."""
NOT_PLANNED: Mapping[str, int] = {}


@dataclass(frozen=True, slots=True)
class SoFar:
    """Of a plan taken up again: what comes ``late`` and when, and when each operation begins as ``planned`` (see ``with_supplies``)."""

    late: Mapping[BoughtKey, int] = field(default_factory=dict)
    planned: Mapping[str, int] = field(default_factory=dict)


FROM_THE_START = SoFar()
Supply = Sequence[tuple[int, int]]
"""(elapsed minute, millionths of a unit), in order of time."""


def supplies_of(
    study: BatchStudy, answer: JointAnswer, late: Mapping[BoughtKey, int] = NONE_LATE
) -> dict[str, Supply]:
    """By consumable of which packs are bought: what there is of it from which minute on, stock first."""
    packs = {pack.consumable: pack for pack in study.batch.packs}
    found: dict[str, list[tuple[int, int]]] = {}
    for purchase in answer.purchases:
        if purchase.kind == "pack":
            pack = packs[purchase.what]
            supply = found.setdefault(purchase.what, [(0, pack.stock)])
            supply.append((arrival_of(study, purchase, late), purchase.number * pack.holds))
    return {what: sorted(supply) for what, supply in found.items()}


def demands_of(study: BatchStudy, estimates: Mapping[str, Estimate]) -> dict[str, dict[str, int]]:
    """By operation: the millionths of a unit that it takes of each consumable that the batch buys for its job.

    A job whose own cash is limited buys its strings itself, and takes none of what the batch has.
    """
    shared = {(use.job, use.consumable) for use in study.batch.uses}
    found: dict[str, dict[str, int]] = {}
    for job, estimate in estimates.items():
        for name, lines in sittings_of(study.shop, bench_lines(study.shop, estimate)):
            taken: dict[str, Decimal] = {}
            for line in lines:
                for use in line.consumables:
                    taken[use.id] = taken.get(use.id, Decimal(0)) + use.quantity
            found[f"{job}:{name}"] = {
                what: int(quantity * MILLIONTHS)
                for what, quantity in taken.items()
                if quantity > 0 and (job, what) in shared
            }
    return found


def served(
    supplies: Mapping[str, Supply], demands: Mapping[str, Mapping[str, int]], order: Sequence[str]
) -> dict[str, tuple[tuple[str, int], ...]]:
    """By operation: from which minute on there is what it takes of each consumable, those before it in ``order`` served.

    What no purchase covers (a rounding at most) comes with the last of them.
    """
    found: dict[str, tuple[tuple[str, int], ...]] = {}
    used = dict.fromkeys(supplies, 0)
    for name in order:
        mine = []
        for what, quantity in demands.get(name, {}).items():
            if what not in supplies:
                continue
            used[what] += quantity
            minute = _minute_of(supplies[what], used[what])
            if minute:
                mine.append((what, minute))
        found[name] = tuple(mine)
    return found


def _minute_of(supply: Supply, quantity: int) -> int:
    """The minute from which on so much has come in all; that of the last where it never has."""
    there = list(accumulate(more for _, more in supply))
    return next(
        (minute for (minute, _), sum_ in zip(supply, there, strict=True) if sum_ >= quantity), supply[-1][0]
    )


def with_supplies(
    work: SchedulingProblem,
    calendar: Calendar,
    supplies: Mapping[str, Supply],
    demands: Mapping[str, Mapping[str, int]],
    planned: Mapping[str, int] = NOT_PLANNED,
) -> SchedulingProblem:
    """The work with every operation held till what it takes of packs is there.

    Served first is what could be begun first if nobody waited for packs; of equals what stands first in the
    batch. ``planned``: by operation the minute at which a plan begins it (``BEGUN``: it has had its share). Where
    the plan would not stand in that order, its own order serves: then nothing moves that need not.
    """
    heads = heads_of(work, calendar)
    place = {o.id: number for number, o in enumerate(work.operations)}
    names = list(place)
    last = max(planned.values(), default=0)
    by_need = sorted(names, key=lambda n: (planned.get(n) != BEGUN, heads[n], place[n]))
    found = served(supplies, demands, by_need)
    if any(minute > planned.get(n, minute) > BEGUN for n, mine in found.items() for _, minute in mine):
        as_planned = sorted(names, key=lambda n: (planned.get(n, last), heads[n], place[n]))
        found = served(supplies, demands, as_planned)
    return replace(work, operations=tuple(_held(o, found[o.id]) for o in work.operations))


def _held(operation: Operation, supplied: tuple[tuple[str, int], ...]) -> Operation:
    earliest = max([operation.earliest, *(minute for _, minute in supplied)])
    return replace(operation, earliest=earliest, supplied=supplied)

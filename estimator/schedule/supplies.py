"""Which work gets which pack: what is in stock and what comes first goes to the work that needs it first.

Packs of one thing may come from several sellers on several days. A piece of work waits for as many as its
own quantity takes after all that needs it sooner, not for the last of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate

from msgspec.structs import replace

from estimator.core.amounts import Elapsed
from estimator.schedule.bounds.chains import heads_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Operation, SchedulingProblem

BEGUN = Elapsed(-1)
"""As the planned minute of work: it is begun or done, so that it has what it takes."""
NOT_PLANNED: Mapping[str, Elapsed] = {}
Supply = Sequence[tuple[Elapsed, int]]
"""(elapsed minute, millionths of a unit), in order of time."""


def served(
    supplies: Mapping[str, Supply], demands: Mapping[str, Mapping[str, int]], order: Sequence[str]
) -> dict[str, tuple[tuple[str, Elapsed], ...]]:
    """By operation: from which minute on there is what it takes of each consumable, those before it in ``order`` served.

    What no purchase covers (a rounding at most) comes with the last of them.
    """
    found: dict[str, tuple[tuple[str, Elapsed], ...]] = {}
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


def _minute_of(supply: Supply, quantity: int) -> Elapsed:
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
    planned: Mapping[str, Elapsed] = NOT_PLANNED,
) -> SchedulingProblem:
    """The work with every operation held till what it takes of packs is there.

    Served first is what could be begun first if nobody waited for packs; of equals what stands first in the
    batch. ``planned``: by operation the minute at which a plan begins it (``BEGUN``: it has had its share). Where
    the plan would not stand in that order, its own order serves: then nothing moves that need not.
    """
    heads = heads_of(work, calendar)
    place = {o.id: number for number, o in enumerate(work.operations)}
    names = list(place)
    last = max(planned.values(), default=Elapsed(0))
    by_need = sorted(names, key=lambda n: (planned.get(n) != BEGUN, heads[n], place[n]))
    found = served(supplies, demands, by_need)
    if any(minute > planned.get(n, minute) > BEGUN for n, mine in found.items() for _, minute in mine):
        as_planned = sorted(names, key=lambda n: (planned.get(n, last), heads[n], place[n]))
        found = served(supplies, demands, as_planned)
    return replace(work, operations=tuple(_not_before(o, found[o.id]) for o in work.operations))


def _not_before(operation: Operation, supplied: tuple[tuple[str, Elapsed], ...]) -> Operation:
    earliest = max([operation.earliest, *(minute for _, minute in supplied)])
    return replace(operation, earliest=earliest, supplied=supplied)

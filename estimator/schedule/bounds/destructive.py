"""What no schedule can beat, found by trying an end and proving that it cannot be kept.

For a given end every operation gets the latest moment at which it may end, backwards through links and
waits and the shop's nights; then each resource is asked whether its work fits between what must come
before and these deadlines, broken off at will. Where it does not, no schedule is done by then
(destructive improvement: R. Klein and A. Scholl, "Computing lower bounds by destructive improvement: an
application to resource-constrained project scheduling", European Journal of Operational Research 112,
1999; named from memory). All times are working minutes.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Mapping, Sequence

from estimator.core.amounts import Minutes
from estimator.schedule.bounds.preemptive import ends_by_urgency
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Operation, SchedulingProblem
from estimator.schedule.serial_sgs import in_order, least_minutes

Item = tuple[Minutes, Minutes, Minutes]
"""Release, minutes, deadline."""


def least_end(
    work: SchedulingProblem, calendar: Calendar, heads: Mapping[str, Minutes], known: Minutes
) -> Minutes:
    """The first end that is not disproved; ``known``: an end that no schedule beats, ``heads`` as in ``bounds``."""
    groups = _groups(work)
    order = in_order(work.operations, dict.fromkeys((o.id for o in work.operations), 0.0))[::-1]

    def stands(end: int) -> bool:
        return _stands(work, calendar, heads, groups, order, Minutes(end))

    if stands(known):
        return known
    step, low = 60, int(known)
    while not stands(low + step):
        low, step = low + step, 2 * step
    high = low + step
    while high - low > 1:
        middle = (low + high) // 2
        if stands(middle):
            high = middle
        else:
            low = middle
    return Minutes(high)


def _stands(
    work: SchedulingProblem,
    calendar: Calendar,
    heads: Mapping[str, Minutes],
    groups: Sequence[tuple[list[tuple[Operation, int]], int, bool]],
    order: Sequence[Operation],
    end: Minutes,
) -> bool:
    """Whether this end is not disproved."""
    ends = latest_ends(calendar, order, end)
    if any(heads[o.id] + least_minutes(o) > ends[o.id] for o in order):
        return False
    for members, number, people in groups:
        items = [(heads[o.id], amount * least_minutes(o), ends[o.id]) for o, amount in members]
        if people:
            items += _coming_to(work, [o for o, _ in members], heads, ends)
        if not keeps(items, number):
            return False
    return True


def latest_ends(calendar: Calendar, order: Sequence[Operation], end: Minutes) -> dict[str, Minutes]:
    """By operation: the last minute at which it may be done if all is to be done by ``end``; -1: never.

    ``order``: the operations, each after those that need it.
    """
    latest = {o.id: _before(lambda e, o=o: calendar.after_wait(e, o.cure), end) for o in order}  # type: ignore[misc]
    cures = {o.id: o.cure for o in order}
    for operation in order:
        least = least_minutes(operation)
        if not operation.splittable and least:
            latest[operation.id] = _whole(calendar, latest[operation.id], least)
        start = latest[operation.id] - least
        for link in operation.after:
            lag = cures[link.before] if link.lag is None else link.lag
            if start < latest[link.before] or lag:
                over = _before(lambda e, lag=lag: calendar.after_wait(e, lag), start)  # type: ignore[misc]
                latest[link.before] = min(latest[link.before], over)
    return latest


def _before(over: Callable[[Minutes], Minutes], limit: Minutes) -> Minutes:
    """The last minute from which ``over`` (which never falls, and is never less than it) is within a limit."""
    low, high = -1, max(-1, int(limit))
    while low < high:
        middle = (low + high + 1) // 2
        if over(Minutes(middle)) <= limit:
            low = middle
        else:
            high = middle - 1
    return Minutes(low)


def _whole(calendar: Calendar, end: Minutes, minutes: Minutes) -> Minutes:
    """The last end, not after ``end``, of work that is done in one go."""
    if calendar.always_open or end <= 0:
        return end
    window = bisect_left(calendar.passed, end) - 1
    longest = max(Minutes(b - a) for a, b in zip(calendar.opens, calendar.closes, strict=True))
    if minutes > longest:
        return end
    while window >= 0:
        last = min(end, calendar.passed[window + 1])
        if last - minutes >= calendar.passed[window]:
            return last
        window -= 1
    return Minutes(-1)


def keeps(items: Iterable[Item], number: int) -> bool:
    """Whether work that may be broken off at will is done by its deadlines by ``number`` hands.

    The earliest deadline first at every moment; many hands are taken as one that is so many times as quick.
    """
    scaled = ((release * number, minutes, deadline * number) for release, minutes, deadline in items)
    return all(end <= deadline for deadline, end in ends_by_urgency(scaled))


def _coming_to(
    work: SchedulingProblem,
    members: Sequence[Operation],
    heads: Mapping[str, Minutes],
    ends: Mapping[str, Minutes],
) -> list[Item]:
    """Minutes that come on top: each family is set up once, each kind come to once, some time among its own."""
    standing = {o.family for o in work.first.values()}
    kinds_now = {o.kind for o in work.first.values()}
    others = sorted({o.kind for o in (*work.operations, *work.first.values())})
    found: dict[tuple[str, str], tuple[Minutes, Minutes, Minutes]] = {}
    for o in members:
        more = (
            [("family", o.family, max(Minutes(0), o.setup - o.again))]
            if o.family not in (*standing, "")
            else []
        )
        if o.kind and o.kind not in kinds_now:
            ways = [work.change_overs.minutes(other, o.kind) for other in others if other != o.kind]
            more.append(("kind", o.kind, min([*ways, work.change_overs.worst(o.kind)])))
        for what, name, minutes in more:
            low, least, high = found.get((what, name), (heads[o.id], minutes, ends[o.id]))
            found[what, name] = (min(low, heads[o.id]), min(least, minutes), max(high, ends[o.id]))
    return [item for item in found.values() if item[1]]


def _groups(work: SchedulingProblem) -> list[tuple[list[tuple[Operation, int]], int, bool]]:
    """Operations that share something, how much of it each takes, how much there is, and whether it is all hands."""
    users: dict[tuple[str, ...], list[tuple[Operation, int]]] = {}
    for operation in work.operations:
        if operation.one_of:
            users.setdefault(tuple(sorted(operation.one_of)), []).append((operation, 1))
        for name, amount in (*operation.needs, *operation.holds):
            users.setdefault((name,), []).append((operation, amount))
    groups = [(mine, sum(work.resources[n] for n in names), False) for names, mine in users.items()]
    everyone = {name for o in work.operations for name in o.one_of}
    if everyone:
        groups.append(([(o, 1) for o in work.operations if o.one_of], len(everyone), True))
    return groups

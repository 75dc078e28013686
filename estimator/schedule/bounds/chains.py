"""What no schedule can beat, by plain arithmetic: chains, and the work of one pair of hands.

On the clock of working minutes nights are gone, so the sum of the work is already the "energetic"
bound through the calendar; waits come in by the fewest working minutes that can pass in them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from estimator.core.amounts import Minutes
from estimator.schedule.bounds.destructive import least_end
from estimator.schedule.bounds.preemptive import ends_by_urgency
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Operation, SchedulingProblem
from estimator.schedule.serial_sgs import in_order, least_minutes


def heads_of(work: SchedulingProblem, calendar: Calendar) -> dict[str, Minutes]:
    """The first working minute at which each operation could start if nobody else wanted anything."""
    heads: dict[str, Minutes] = {}
    known = work.by_id()
    for operation in in_order(work.operations, dict.fromkeys(known, 0.0)):
        head = calendar.working_at(operation.earliest)
        for link in operation.after:
            before = known[link.before]
            lag = before.cure if link.lag is None else link.lag
            head = max(head, calendar.after_wait(heads[before.id] + least_minutes(before), lag))
        if not operation.splittable:
            head = calendar.fits(head, least_minutes(operation))
        heads[operation.id] = head
    return heads


def tails_of(work: SchedulingProblem, calendar: Calendar) -> dict[str, Minutes]:
    """The fewest working minutes that must follow the end of each operation (its cure included)."""
    known = work.by_id()
    tails = {o.id: calendar.least_wait(o.cure) for o in work.operations}
    for operation in reversed(in_order(work.operations, dict.fromkeys(known, 0.0))):
        for link in operation.after:
            before = known[link.before]
            lag = before.cure if link.lag is None else link.lag
            chain = calendar.least_wait(lag) + least_minutes(operation) + tails[operation.id]
            tails[before.id] = max(tails[before.id], chain)
    return tails


def preemptive(items: Sequence[tuple[Minutes, Minutes, Minutes]]) -> Minutes:
    """Least makespan of one machine with heads, times and tails if work may be broken off at will.

    Largest tail first at every moment (J. R. Jackson's rule made preemptive; J. Carlier, "The
    one-machine sequencing problem", European Journal of Operational Research 11, 1982).
    """
    urgent = ((head, minutes, -tail) for head, minutes, tail in items)
    return Minutes(max((end - urgency for urgency, end in ends_by_urgency(urgent)), default=0))


def makespan_bound(work: SchedulingProblem, calendar: Calendar) -> Minutes:
    """No schedule of this work is shorter."""
    heads, tails = heads_of(work, calendar), tails_of(work, calendar)
    if not heads:
        return Minutes(0)
    best = max(heads[o.id] + least_minutes(o) + tails[o.id] for o in work.operations)
    for items, number, more in _groups(work, heads, tails):
        if number == 1:
            best = max(best, preemptive(items))
        total = sum((minutes for _, minutes, _ in items), more)
        spread = min(head for head, _, _ in items) + min(tail for _, _, tail in items)
        best = max(best, spread + Minutes(-(-total // number)))
    return least_end(work, calendar, heads, best)


def unavoidable(work: SchedulingProblem, operations: Sequence[Operation]) -> Minutes:
    """Minutes that come on top of ``least_minutes``: every family is set up once, every kind come to once.

    What somebody did last before all this stands set up, and may be gone on with.
    """
    standing = {o.family for o in work.first.values()}
    families: dict[str, Minutes] = {}
    for o in operations:
        if o.family and o.one_of and o.family not in standing:
            more = max(Minutes(0), o.setup - o.again)
            families[o.family] = min(families.get(o.family, more), more)
    kinds = {o.kind for o in operations if o.kind and o.one_of} - {o.kind for o in work.first.values()}
    others = {o.kind for o in (*work.operations, *work.first.values())}
    total = sum(families.values(), Minutes(0))
    for kind in sorted(kinds):
        ways = [work.change_overs.minutes(other, kind) for other in sorted(others) if other != kind]
        total += min([*ways, work.change_overs.worst(kind)])
    return total


def _groups(
    work: SchedulingProblem, heads: Mapping[str, Minutes], tails: Mapping[str, Minutes]
) -> list[tuple[list[tuple[Minutes, Minutes, Minutes]], int, Minutes]]:
    """Operations that share a resource, as (head, minutes x amount, tail), how much there is of it, and
    minutes that come on top."""
    users: dict[tuple[str, ...], list[tuple[Operation, int]]] = {}
    for operation in work.operations:
        if operation.one_of:
            users.setdefault(tuple(sorted(operation.one_of)), []).append((operation, 1))
        for name, amount in (*operation.needs, *operation.holds):
            users.setdefault((name,), []).append((operation, amount))
    groups = []
    for names, mine in users.items():
        number = sum(work.resources[name] for name in names)
        items = [
            (heads[o.id], least_minutes(o) * amount, tails[o.id]) for o, amount in mine if least_minutes(o)
        ]
        if items:
            groups.append((items, number, Minutes(0)))
    everyone = tuple(sorted({name for o in work.operations for name in o.one_of}))
    handled = [o for o in work.operations if o.one_of]
    if everyone and handled:
        items = [(heads[o.id], least_minutes(o), tails[o.id]) for o in handled]
        groups.append((items, len(everyone), unavoidable(work, handled)))
    return groups


def lateness_bounds(work: SchedulingProblem, calendar: Calendar) -> tuple[Minutes, Minutes]:
    """No schedule has less weighted lateness, nor a smaller latest job, than these (chains alone)."""
    heads = heads_of(work, calendar)
    total = most = Minutes(0)
    for due in work.dues:
        mine = [o for o in work.operations if o.job == due.job]
        if due.at is None or not mine:
            continue
        jobs = {o.id for o in mine}
        inner = SchedulingProblem(
            tuple(
                Operation(
                    o.id,
                    o.job,
                    o.minutes,
                    tuple(li for li in o.after if li.before in jobs),
                    cure=o.cure,
                    setup=o.setup,
                    again=o.again,
                    family=o.family,
                )
                for o in mine
            ),
            {},
        )
        own = tails_of(inner, calendar)
        done = max(heads[o.id] + least_minutes(o) + own[o.id] for o in mine)
        late = max(Minutes(0), done - calendar.working_at(due.at))
        total += due.weight * late
        most = max(most, late)
    return total, most


def crowd_bounds(work: SchedulingProblem, calendar: Calendar) -> tuple[Minutes, Minutes]:
    """Least weighted lateness and least latest job, because hands are few.

    The jobs due up to some day together take at least their least minutes over all hands; one of them
    is done no sooner than that, and was due by that day.
    """
    dated = sorted((d.at, d.job, d) for d in work.dues if d.at is not None)
    everyone = {name for o in work.operations for name in o.one_of}
    minutes: dict[str, Minutes] = {}
    for o in work.operations:
        if o.one_of:
            minutes[o.job] = minutes.get(o.job, Minutes(0)) + least_minutes(o)
    total = total_late = most = Minutes(0)
    weight = 0
    for at, _, due in dated:
        if not minutes.get(due.job):
            continue
        total += minutes[due.job]
        weight = min(weight or due.weight, due.weight)
        late = max(Minutes(0), Minutes(-(-total // len(everyone))) - calendar.working_at(at))
        total_late, most = max(total_late, weight * late), max(most, late)
    return total_late, most


def bounds_of(work: SchedulingProblem, calendar: Calendar) -> dict[str, Minutes]:
    """Lower bounds by aim, in working minutes."""
    tardiness, max_tardiness = map(
        max, zip(lateness_bounds(work, calendar), crowd_bounds(work, calendar), strict=True)
    )
    return {
        "makespan": makespan_bound(work, calendar),
        "tardiness": tardiness,
        "max_tardiness": max_tardiness,
        "completion": Minutes(0),
        "minutes": sum(map(least_minutes, work.operations), Minutes(0)) + unavoidable(work, work.operations),
    }

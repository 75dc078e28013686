"""Why an operation starts when it starts, and the chain of such reasons that decides the end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from estimator.core.amounts import Minutes
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Assignment, Link, Operation, SchedulingProblem
from estimator.schedule.serial_sgs import ResourceProfile, minutes_after


class Reason(Struct, frozen=True):
    """What keeps an operation from starting earlier.

    ``kind``: ``wait`` (``operation`` cures or settles), ``after`` (``operation`` must be done first),
    ``there`` (it could not start before: a part, or today), ``hands`` (the same hands did
    ``operation``), ``place`` (a station, the instrument, or the air beside wet finish is taken),
    ``window`` (it is not broken off, and did not fit in before closing time), ``away`` (whoever does it is).
    """

    kind: str
    operation: str = ""


def reason_of(
    work: SchedulingProblem, calendar: Calendar, assignments: Mapping[str, Assignment], assignment: Assignment
) -> Reason:
    """The reason of one operation; a wait or a part comes before an order, these before busy hands."""
    known = work.by_id()
    operation = known[assignment.operation]
    ready = {link.before: _ready(known, calendar, assignments, link) for link in operation.after}
    binding = [link for link in operation.after if ready[link.before] == assignment.start]
    for link in binding:
        if known[link.before].cure if link.lag is None else link.lag:
            return Reason("wait", link.before)
    if operation.earliest and calendar.working_at(operation.earliest) == assignment.start:
        return Reason("there")
    if binding:
        return Reason("after", binding[0].before)
    hands = [
        b for b in assignments.values() if b.who and b.who == assignment.who and b.end <= assignment.start
    ]
    last = max(hands, key=lambda b: (b.end, b.operation), default=None)
    if last is not None and last.end == assignment.start:
        return Reason("hands", last.operation)
    if any(ends == assignment.start for _, ends in work.away.get(assignment.who, ())):
        return Reason("away")
    if assignment.start in calendar.passed and not operation.splittable:
        latest = max(ready, key=lambda name: (ready[name], name), default="")
        if last is not None and (not latest or last.end > ready[latest]):
            latest = last.operation
        return Reason("window", latest)
    return Reason("place", _in_the_way(work, assignments, assignment, operation))


def hindrance_of(
    work: SchedulingProblem,
    calendar: Calendar,
    assignments: Mapping[str, Assignment],
    assignment: Assignment,
    now: Minutes,
) -> Reason:
    """What keeps an operation from starting at working minute ``now``: of what ends after it, what ends last.

    Once nothing of its own keeps it, the reason of its start: busy hands, a place that is taken.
    """
    known = work.by_id()
    operation = known[assignment.operation]
    ends = [(calendar.working_at(operation.earliest), 0, Reason("there"))] if operation.earliest else []
    for number, link in enumerate(operation.after, 1):
        over = _ready(known, calendar, assignments, link)
        cures = over > assignments[link.before].end and assignments[link.before].end <= now
        ends.append((over, -number, Reason("wait" if cures else "after", link.before)))
    last = max((end for end in ends if end[0] > now), key=lambda end: end[:2], default=None)
    return last[2] if last else reason_of(work, calendar, assignments, assignment)


def could_be_begun(
    work: SchedulingProblem,
    calendar: Calendar,
    assignments: Mapping[str, Assignment],
    who: str,
    now: Minutes,
    until: Minutes,
) -> str:
    """Later work that a person could begin at working minute ``now`` and end by ``until``; blank if there is none."""
    known = work.by_id()
    bench = ResourceProfile(work, calendar)
    for name, placed in assignments.items():
        bench.add(known[name], placed)
    for name, placed in sorted(assignments.items(), key=lambda item: (item[1].start, item[0])):
        operation = known[name]
        if placed.start <= now or who not in operation.one_of or bench.ready(operation) > now:
            continue
        # with the most that set-up and change-over can take
        trial = bench.place(operation, now, minutes_after(work, None, operation, who), who)
        if trial.start == now and trial.end <= min(until, placed.start):
            return name
    return ""


def _ready(
    known: Mapping[str, Operation], calendar: Calendar, assignments: Mapping[str, Assignment], link: Link
) -> Minutes:
    lag = known[link.before].cure if link.lag is None else link.lag
    return calendar.after_wait(assignments[link.before].end, lag)


def _in_the_way(
    work: SchedulingProblem,
    assignments: Mapping[str, Assignment],
    assignment: Assignment,
    operation: Operation,
) -> str:
    """The work whose end frees what this one takes."""
    wants = {name for name, _ in (*operation.needs, *operation.holds)}
    for other in work.operations:
        mine = assignments[other.id]
        until = mine.free if other.holds or other.air else mine.end
        shared = wants & {name for name, _ in (*other.needs, *other.holds)}
        if (
            until == assignment.start
            and mine.start < assignment.start
            and (shared or other.air or operation.air)
        ):
            return other.id
    return ""


def critical_chain(work: SchedulingProblem, calendar: Calendar, schedule: Sequence[Assignment]) -> list[str]:
    """Operations from first to last, each of which keeps the next from starting earlier; the last ends last."""
    assignments = {b.operation: b for b in schedule}
    if not assignments:
        return []
    now = max(assignments.values(), key=lambda b: (b.free, b.operation))
    chain = [now.operation]
    while True:
        reason = reason_of(work, calendar, assignments, now)
        if not reason.operation or reason.operation in chain:
            return chain[::-1]
        chain.append(reason.operation)
        now = assignments[reason.operation]

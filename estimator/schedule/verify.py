"""Every rule of a schedule once more, in plain arithmetic that shares no code with what made it.

Works on the shop's opening and closing times themselves: each working minute is turned back into a
minute of day or night, and the rules are held against those.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from estimator.core.amounts import Elapsed, Minutes
from estimator.schedule.records import Assignment, Operation, SchedulingProblem


class OpeningHours:
    """Working minutes to elapsed ones, by walking the windows."""

    def __init__(self, opens: Sequence[Elapsed], closes: Sequence[Elapsed]) -> None:
        self.windows = list(zip(opens, closes, strict=True))

    def begins(self, minute: Minutes) -> Elapsed:
        """Elapsed minute at which work begins that starts after ``minute`` working minutes."""
        return self._elapsed(minute, 0)

    def ends(self, minute: Minutes) -> Elapsed:
        """Elapsed minute at which work ends that ends after ``minute`` working minutes."""
        return self._elapsed(minute, 1)

    def _elapsed(self, minute: Minutes, at_close: int) -> Elapsed:
        """``at_close``: 1 where the end of a window is still in it."""
        left = Elapsed(minute)
        for opens, closes in self.windows:
            if left < closes - opens + at_close:
                return opens + left
            left -= closes - opens
        return self.windows[-1][1] + left


def breaches_of(
    work: SchedulingProblem,
    opens: Sequence[Elapsed],
    closes: Sequence[Elapsed],
    assignments: Sequence[Assignment],
) -> list[str]:
    """All that is wrong with a schedule, in words; an empty list for a sound one."""
    clock = OpeningHours(opens, closes)
    operations = {o.id: o for o in work.operations}
    wrong: list[str] = []
    assigned: dict[str, Assignment] = {}
    for assignment in assignments:
        if assignment.operation not in operations:
            wrong.append(f"“{assignment.operation}” is planned but nobody asked for it")
        elif assignment.operation in assigned:
            wrong.append(f"“{assignment.operation}” is planned twice")
        else:
            assigned[assignment.operation] = assignment
    wrong.extend(f"“{name}” is not planned" for name in operations if name not in assigned)
    if wrong:
        return wrong
    cures = {o.id: o.cure for o in work.operations}
    for operation in work.operations:
        wrong.extend(_alone(operation, assigned, cures, clock))
    wrong.extend(_hands(work, assigned))
    wrong.extend(_stock(work, assigned, clock))
    wrong.extend(_dust(work, assigned, clock))
    wrong.extend(_open_jobs(work, assigned, clock))
    return wrong


def _alone(
    operation: Operation, assigned: dict[str, Assignment], cures: dict[str, Elapsed], clock: OpeningHours
) -> list[str]:
    wrong = []
    mine = assigned[operation.id]
    begins, ends = clock.begins(mine.start), clock.ends(mine.end)
    if mine.end > mine.start and begins < operation.earliest:
        wrong.append(f"“{operation.id}” starts at {begins}, before {operation.earliest}")
    if operation.one_of and mine.who not in operation.one_of:
        wrong.append(f"“{operation.id}” is given to “{mine.who}”")
    if clock.begins(mine.free) < ends + operation.cure:
        wrong.append(f"the cure of “{operation.id}” is cut short")
    longest = max(closes - opens for opens, closes in clock.windows)
    whole = not operation.splittable and mine.start < mine.end <= mine.start + Minutes(longest)
    if whole and int(ends - begins) != int(mine.end - mine.start):
        wrong.append(f"“{operation.id}” is broken off at closing time")
    for link in operation.after:
        before = assigned[link.before]
        if mine.start < before.end:
            wrong.append(f"“{operation.id}” starts before “{link.before}” is done")
            continue
        lag = cures[link.before] if link.lag is None else link.lag
        if lag and begins < clock.ends(before.end) + lag:
            wrong.append(f"“{operation.id}” starts before the wait after “{link.before}” is over")
    return wrong


def _hands(work: SchedulingProblem, assigned: dict[str, Assignment]) -> list[str]:
    """Nobody does two things at once, and nobody is quicker than set-ups and change-overs allow."""
    wrong = []
    known = {o.id: o for o in work.operations}
    for who in dict.fromkeys(b.who for b in assigned.values() if b.who):
        mine = sorted((b for b in assigned.values() if b.who == who), key=lambda b: (b.start, b.end))
        for one, other in itertools.pairwise(mine):
            if other.start < one.end:
                wrong.append(f"{who} does “{one.operation}” and “{other.operation}” at once")
        wrong.extend(
            f"{who} does “{b.operation}” while away"
            for b in mine
            for begins, ends in work.away.get(who, ())
            if b.start < ends and b.end > begins
        )
        for number, assignment in enumerate(mine):
            operation = known[assignment.operation]
            before = known[mine[number - 1].operation] if number else work.first.get(who)
            like = before is not None and before.family and before.family == operation.family
            least = operation.minutes + (operation.again if like else operation.setup)
            least += sum((more for person, more in operation.slower if person == who), Minutes(0))
            if before is None:
                tos = [m for (_, to), m in work.change_overs.pairs.items() if to == operation.kind]
                least += max([*tos, work.change_overs.other]) if operation.kind else Minutes(0)
            elif before.kind != operation.kind:
                least += work.change_overs.pairs.get((before.kind, operation.kind), work.change_overs.other)
            if assignment.end - assignment.start < least:
                wrong.append(f"“{operation.id}” gets {assignment.end - assignment.start} of {least} minutes")
    for operation in work.operations:
        assignment = assigned[operation.id]
        if not operation.one_of and assignment.end - assignment.start < operation.minutes + operation.setup:
            wrong.append(f"“{operation.id}” gets too few minutes")
    return wrong


def _stock(work: SchedulingProblem, assigned: dict[str, Assignment], clock: OpeningHours) -> list[str]:
    """At no minute is more of a resource taken than there is."""
    events: dict[str, list[tuple[Elapsed, Elapsed, int]]] = {}
    for operation in work.operations:
        mine = assigned[operation.id]
        if mine.start == mine.end:
            continue
        begins = clock.begins(mine.start)
        for name, amount in operation.needs:
            events.setdefault(name, []).append((begins, clock.ends(mine.end), amount))
        for name, amount in operation.holds:
            until = clock.ends(mine.end) + operation.cure
            events.setdefault(name, []).append((begins, until, amount))
    wrong = []
    for name, spans in events.items():
        for moment in sorted({begins for begins, _, _ in spans}):
            taken = sum(amount for begins, ends, amount in spans if begins <= moment < ends)
            if taken > work.resources.get(name, 0):
                wrong.append(
                    f"{taken} of “{name}” are taken at minute {moment}, there are {work.resources.get(name, 0)}"
                )
                break
    return wrong


def _dust(work: SchedulingProblem, assigned: dict[str, Assignment], clock: OpeningHours) -> list[str]:
    """No dusty work while something wet dries."""
    wrong = []
    for wet in (o for o in work.operations if o.air == "wet"):
        drying = assigned[wet.id]
        begins, dry = clock.begins(drying.start), clock.ends(drying.end) + wet.cure
        for dusty in (o for o in work.operations if o.air == "dusty"):
            raised = assigned[dusty.id]
            if clock.begins(raised.start) < dry and clock.ends(raised.end) > begins:
                wrong.append(f"“{dusty.id}” raises dust while “{wet.id}” is wet")
    return wrong


def _open_jobs(work: SchedulingProblem, assigned: dict[str, Assignment], clock: OpeningHours) -> list[str]:
    """No more instruments stand in the rack, begun and not done, than there are places."""
    if not work.open_most:
        return []
    spans: dict[str, tuple[Elapsed, Elapsed]] = {}
    for operation in work.operations:
        mine = assigned[operation.id]
        begins, over = clock.begins(mine.start), clock.ends(mine.end) + operation.cure
        low, high = spans.get(operation.job, (begins, over))
        spans[operation.job] = (min(low, begins), max(high, over))
    for moment in sorted({begins for begins, _ in spans.values()}):
        there = sum(begins <= moment < over for begins, over in spans.values())
        if there > work.open_most:
            return [f"{there} jobs are open at minute {moment}, there are {work.open_most} rack places"]
    return []

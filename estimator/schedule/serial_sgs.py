"""Putting operations in place one after another: the state of the bench, and the earliest place."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence

from estimator.core.amounts import Minutes
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import DUSTY, WET, Assignment, Figures, Operation, SchedulingProblem

Span = tuple[Minutes, Minutes, int]
DAY = 1440


def minutes_after(
    work: SchedulingProblem, before: Operation | None, operation: Operation, who: str = ""
) -> Minutes:
    """Attended minutes of an operation that directly follows another in the same hands (none: the quickest)."""
    more = Minutes(0)
    for person, minutes in operation.slower:
        if person == who:
            more = minutes
    same = before is not None and operation.family != "" and before.family == operation.family
    setup = operation.again if same else operation.setup
    change = (
        work.change_overs.worst(operation.kind)
        if before is None
        else work.change_overs.minutes(before.kind, operation.kind)
    )
    return operation.minutes + more + setup + (change if operation.one_of else Minutes(0))


def least_minutes(operation: Operation) -> Minutes:
    """The fewest attended minutes an operation can take, whatever it follows."""
    return operation.minutes + min(operation.setup, operation.again if operation.family else operation.setup)


class ResourceProfile:
    """What is taken so far: people, resources, the air; operations are added one by one."""

    def __init__(self, work: SchedulingProblem, calendar: Calendar) -> None:
        self.work = work
        self.calendar = calendar
        self.placed: dict[str, Assignment] = {}
        self.taken: dict[str, list[Span]] = {name: [] for name in work.resources}
        self.air: dict[str, list[tuple[Minutes, Minutes]]] = {WET: [], DUSTY: []}
        self.last: dict[str, tuple[Minutes, Operation]] = {
            who: (Minutes(0), done) for who, done in work.first.items()
        }
        self.alone = _one_pair_of_hands(work)

    def ready(self, operation: Operation) -> Minutes:
        """The first working minute at which all that must come before is over."""
        ready = self.calendar.working_at(operation.earliest)
        for link in operation.after:
            before = self.placed[link.before]
            if link.lag is None:
                ready = max(ready, before.free)
            else:
                ready = max(ready, self.calendar.after_wait(before.end, link.lag))
        return ready

    def find(self, operation: Operation, people: Sequence[str] | None = None) -> Assignment:
        """The earliest place of an operation after the last work of the person who gets it.

        Several people: the one with whom it ends first, the first named if there is a tie.
        """
        ready = self.ready(operation)
        best: Assignment | None = None
        idle = Minutes(0), None
        for who in people or operation.one_of or ("",):
            free, before = self.last.get(who, idle) if who else idle
            minutes = minutes_after(self.work, before, operation, who)
            assignment = self.place(operation, max(ready, free), minutes, who)
            if best is None or (assignment.end, assignment.start) < (best.end, best.start):
                best = assignment
        assert best is not None
        return best

    def add(self, operation: Operation, assignment: Assignment) -> None:
        """Take what an operation in its place takes."""
        self.placed[operation.id] = assignment
        if assignment.who:
            self.last[assignment.who] = (assignment.end, operation)
        for name, amount in operation.needs:
            self.taken[name].append((assignment.start, assignment.end, amount))
        for name, amount in operation.holds:
            self.taken[name].append((assignment.start, assignment.free, amount))
        if operation.air == DUSTY:
            self.air[DUSTY].append((assignment.start, assignment.end))
        elif operation.air == WET:
            self.air[WET].append((assignment.start, assignment.free))

    def place(self, operation: Operation, start: Minutes, minutes: Minutes, who: str) -> Assignment:
        """The first place from a minute on at which nothing stands against an operation of so many minutes."""
        while True:
            if not operation.splittable:
                start = self.calendar.fits(start, minutes)
            end = start + minutes
            free = self.calendar.after_wait(end, operation.cure)
            later = next((b for a, b in self.work.away.get(who, ()) if a < end and b > start), None)
            if later is None:
                later = self._clash(operation, start, end, free)
            if later is None:
                return Assignment(operation.id, start, end, free, who)
            start = later

    def _clash(self, operation: Operation, start: Minutes, end: Minutes, free: Minutes) -> Minutes | None:
        """The next start worth trying, or None if nothing stands against this one."""
        for names, until in ((operation.needs, end), (operation.holds, free)):
            for name, amount in names:
                if name in self.alone:
                    continue
                later = self._full(name, amount, start, until)
                if later is not None:
                    return later
        if operation.air:
            other, until = (WET, end) if operation.air == DUSTY else (DUSTY, free)
            ends = [b for a, b in self.air[other] if a < until and b > start]
            if ends:
                return min(ends)
        return None

    def _full(self, name: str, amount: int, start: Minutes, end: Minutes) -> Minutes | None:
        if start == end:
            return None
        overlap = [span for span in self.taken[name] if span[0] < end and span[1] > start]
        room = self.work.resources[name] - amount
        if sum(span[2] for span in overlap) <= room:
            return None
        for point in (start, *(a for a, _, _ in overlap if a > start)):
            if sum(used for a, b, used in overlap if a <= point < b) > room:
                return min(b for a, b, _ in overlap if a <= point < b)
        return None


def _one_pair_of_hands(work: SchedulingProblem) -> frozenset[str]:
    """Resources that one and the same person always takes, and never for a cure: they cannot clash."""
    users: dict[str, set[tuple[str, ...]]] = {}
    for operation in work.operations:
        for name, _ in operation.needs:
            users.setdefault(name, set()).add(operation.one_of)
        for name, _ in operation.holds:
            users.setdefault(name, set()).add(())
    return frozenset(name for name, hands in users.items() if len(hands) == 1 and len(next(iter(hands))) == 1)


def serial_schedule(
    work: SchedulingProblem,
    calendar: Calendar,
    order: Iterable[Operation],
    who: Mapping[str, str] | None = None,
) -> list[Assignment]:
    """Operations put in place in a given order (which respects precedence), each as early as it goes."""
    bench = ResourceProfile(work, calendar)
    for operation in order:
        person = who.get(operation.id, "") if who else ""
        bench.add(operation, bench.find(operation, (person,) if person else None))
    return list(bench.placed.values())


def in_order(operations: Sequence[Operation], rank: Mapping[str, float]) -> list[Operation]:
    """Operations by rank, none before those it needs; ties by their place in the list."""
    place = {operation.id: number for number, operation in enumerate(operations)}
    followers: dict[str, list[Operation]] = {operation.id: [] for operation in operations}
    waiting = {}
    for operation in operations:
        before = {link.before for link in operation.after}
        waiting[operation.id] = len(before)
        for name in before:
            followers[name].append(operation)
    ready = [(rank[o.id], place[o.id], o) for o in operations if not waiting[o.id]]
    heap = [(value, number) for value, number, _ in ready]
    heapq.heapify(heap)
    ordered: list[Operation] = []
    while heap:
        _, number = heapq.heappop(heap)
        operation = operations[number]
        ordered.append(operation)
        for follower in followers[operation.id]:
            waiting[follower.id] -= 1
            if not waiting[follower.id]:
                heapq.heappush(heap, (rank[follower.id], place[follower.id]))
    return ordered


def done_by_job(work: SchedulingProblem, assignments: Iterable[Assignment]) -> dict[str, Minutes]:
    """The working minute at which each job is done, cures included."""
    job = {operation.id: operation.job for operation in work.operations}
    done: dict[str, Minutes] = {}
    for assignment in assignments:
        name = job[assignment.operation]
        done[name] = max(done.get(name, Minutes(0)), assignment.free)
    return done


def figures_of(work: SchedulingProblem, calendar: Calendar, assignments: Sequence[Assignment]) -> Figures:
    """What bookings come to; jobs without a due date are never late, their completion weighs 1."""
    done = done_by_job(work, assignments)
    weights = {due.job: due.weight for due in work.dues}
    late = {
        due.job: max(Minutes(0), done.get(due.job, Minutes(0)) - calendar.working_at(due.at))
        for due in work.dues
        if due.at is not None
    }
    nothing = Minutes(0)
    return Figures(
        tardiness=sum((weights[job] * minutes for job, minutes in late.items()), nothing),
        max_tardiness=max(late.values(), default=nothing),
        makespan=max(done.values(), default=nothing),
        completion=sum((weights.get(job, 1) * minutes for job, minutes in done.items()), nothing),
        minutes=sum((assignment.end - assignment.start for assignment in assignments), nothing),
        idle_evenings=idle_evenings(work, calendar, assignments),
    )


def idle_evenings(work: SchedulingProblem, calendar: Calendar, assignments: Sequence[Assignment]) -> int:
    """Days with work, the last one aside, that end without anything curing or settling."""
    if calendar.always_open or not assignments:
        return 0
    waits = work.waits()
    curing: set[int] = set()
    worked: set[int] = set()
    for assignment in assignments:
        end = calendar.elapsed_at_end(assignment.end)
        worked.add(end // DAY)
        over = end + waits[assignment.operation]
        curing.update(range(end // DAY, over // DAY))
    worked.discard(max(worked))
    return len(worked - curing)

"""A plan as a list of the day for each person: when, what, and what cures meanwhile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from msgspec import Struct

from estimator.model.operation import SittingName, operation_name
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Assignment, SchedulingProblem

Span = tuple[datetime, datetime]
NOTHING: Mapping[str, Span] = {}


class DayLine(Struct, frozen=True):
    """One entry: from, to, who, what; ``operations`` are the names of those in it.

    ``curing``: (operation, until) of everything that cures by itself when the entry begins.
    """

    begins: datetime
    ends: datetime
    who: str
    words: str
    operations: tuple[str, ...]
    curing: tuple[tuple[str, datetime], ...]

    @property
    def day(self) -> date:
        """The day of the entry."""
        return self.begins.date()


def plain(task: str) -> str:
    """A task's name as words."""
    return task.replace("-", " ")


def short(operation: str) -> str:
    """An operation's task (and coat) as words, without its job; of what is put back, that."""
    task, coat, where = operation_name(operation).sitting
    if where and not coat:
        return plain(where)
    return plain(task) + (f" (coat {int(coat)})" if coat else "")


def day_list(
    work: SchedulingProblem,
    calendar: Calendar,
    assignments: Sequence[Assignment],
    already: Mapping[str, Span] = NOTHING,
) -> tuple[DayLine, ...]:
    """The entries of every person in order of time; work that follows on without a gap is one entry.

    The same task on several instruments is told as one run, else the tasks of one instrument together.
    Entries end at closing time and go on after it. ``already``: from when to when finished work cures.
    """
    known = work.by_id()
    slices: list[tuple[datetime, datetime, str, Assignment]] = []
    for assignment in sorted(assignments, key=lambda b: (b.who, b.start, b.end)):
        for since, until in calendar.spans(assignment.start, assignment.end):
            slices.append((calendar.moment(since), calendar.moment(until), assignment.who, assignment))
    slices.sort(key=lambda item: (item[2], item[0]))
    groups: list[list[tuple[datetime, datetime, str, Assignment]]] = []
    for item in slices:
        if groups and _goes_on(groups[-1], item):
            groups[-1].append(item)
        else:
            groups.append([item])
    cures = dict(already) | {
        b.operation: (
            calendar.moment(calendar.elapsed_at_end(b.end)),
            calendar.moment(calendar.elapsed_at_end(b.end) + known[b.operation].cure),
        )
        for b in assignments
        if known[b.operation].cure
    }
    lines = []
    for group in groups:
        begins, ends, who = group[0][0], group[-1][1], group[0][2]
        names = tuple(dict.fromkeys(item[3].operation for item in group))
        curing = tuple(
            (name, until)
            for name, (since, until) in cures.items()
            if since <= begins < until and name not in names
        )
        lines.append(DayLine(begins, ends, who, _words(group, calendar), names, curing))
    return tuple(sorted(lines, key=lambda line: (line.begins, line.who)))


def _goes_on(
    group: Sequence[tuple[datetime, datetime, str, Assignment]],
    item: tuple[datetime, datetime, str, Assignment],
) -> bool:
    last = group[-1]
    if last[2] != item[2] or last[1] != item[0]:
        return False
    names = [entry[3].operation for entry in group]
    read = [operation_name(n) for n in (*names, item[3].operation)]
    same_task = {SittingName(n.task) if n.sitting.coat else n.sitting for n in read}
    same_job = {n.job for n in read}
    return len(same_task) == 1 or len(same_job) == 1


def _words(group: Sequence[tuple[datetime, datetime, str, Assignment]], calendar: Calendar) -> str:
    """What is done, with minutes: one task on several instruments, or several tasks on one."""
    minutes: dict[str, int] = {}
    begun: dict[str, str] = {}
    for since, until, _, assignment in group:
        name = assignment.operation
        minutes[name] = minutes.get(name, 0) + int((until - since).total_seconds()) // 60
        first = since == calendar.moment(calendar.elapsed_at_start(assignment.start))
        last = until == calendar.moment(calendar.elapsed_at_end(assignment.end))
        begun[name] = "" if first and last else "begin " if first else "finish " if last else "go on with "
    jobs = list(dict.fromkeys(operation_name(name).job for name in minutes))
    if len(jobs) > 1:
        parts = ", ".join(f"{begun[name]}{operation_name(name).job} {m}" for name, m in minutes.items())
        return f"{short(next(iter(minutes)))}: {parts} min"
    if len(minutes) == 1:
        name = next(iter(minutes))
        return f"{jobs[0]}: {begun[name]}{short(name)}"
    return f"{jobs[0]}: {', '.join(f'{begun[n]}{short(n)} {m}' for n, m in minutes.items())} min"


def named(operation: str) -> str:
    """An operation with its job."""
    return f"{short(operation)} of {operation_name(operation).job}"

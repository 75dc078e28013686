"""Schedules without an engine: priority rules, then a search over the order of work. Pure Python."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from estimator.core.amounts import Minutes
from estimator.schedule.bounds.chains import tails_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Assignment, Due, Figures, Operation, SchedulingProblem, Search
from estimator.schedule.serial_sgs import ResourceProfile, done_by_job, figures_of, in_order, serial_schedule

Key = tuple[int, ...]
RULES = ("due", "chain", "slack", "like")


def key_of(figures: Figures, objectives: Sequence[str]) -> Key:
    """Figures in the order of the aims, then the rest, so that two schedules can be compared."""
    rest = [
        name
        for name in ("tardiness", "makespan", "minutes", "idle_evenings", "completion")
        if name not in objectives
    ]
    return tuple(figures.of(name) for name in (*objectives, *rest))


def dispatch(work: SchedulingProblem, calendar: Calendar, rule: str) -> list[Assignment]:
    """The bench as a practised hand runs it: whenever hands are free, the most urgent work that can go on.

    ``due``: earliest due date, then the longest chain with its waits; ``chain``: the longest chain;
    ``slack``: due date less the chain still to come; ``like``: as ``due``, but work like the last
    first, so that set-ups are saved.
    """
    tails = tails_of(work, calendar)
    due = {d.job: calendar.working_at(d.at) for d in work.dues if d.at is not None}
    never = 1 << 40
    bench = ResourceProfile(work, calendar)
    waiting = {o.id: len({link.before for link in o.after}) for o in work.operations}
    followers: dict[str, list[Operation]] = {o.id: [] for o in work.operations}
    for operation in work.operations:
        for name in {link.before for link in operation.after}:
            followers[name].append(operation)
    place = {o.id: number for number, o in enumerate(work.operations)}
    open_now = [o for o in work.operations if not waiting[o.id]]
    while open_now:
        choices = []
        for operation in open_now:
            assignment = bench.find(operation)
            date, chain = due.get(operation.job, never), -tails[operation.id]
            last = bench.last.get(assignment.who, (0, operation))[1] if assignment.who else operation
            like = 0 if rule != "like" or (operation.family and last.family == operation.family) else 1
            near = (like, 0 if last.kind == operation.kind else 1) if rule == "like" else (0, 0)
            urgency = {"chain": (chain, date), "slack": (date + chain, chain)}.get(rule, (date, chain))
            choices.append((assignment.start, *near, *urgency, place[operation.id], assignment, operation))
        *_, assignment, operation = min(choices, key=lambda choice: choice[:6])
        bench.add(operation, assignment)
        open_now.remove(operation)
        for follower in followers[operation.id]:
            waiting[follower.id] -= 1
            if not waiting[follower.id]:
                open_now.append(follower)
    return list(bench.placed.values())


def best_dispatch(
    work: SchedulingProblem, calendar: Calendar, objectives: Sequence[str]
) -> tuple[str, list[Assignment]]:
    """The best of the priority rules for a chain of aims."""
    found = [(name, dispatch(work, calendar, name)) for name in RULES]
    return min(found, key=lambda item: key_of(figures_of(work, calendar, item[1]), objectives))


def local_search(
    work: SchedulingProblem,
    calendar: Calendar,
    search: Search,
    assignments: Sequence[Assignment],
    until: float | None = None,
) -> list[Assignment]:
    """A better order of work by moving operations about; ``search.tries`` schedules are looked at.

    ``until``: a moment of ``time.perf_counter`` at which it stops all the same.

    The same work gives the same schedule. Ties are accepted, so that the search can wander.
    """
    chance = random.Random(0)
    tries, objectives = search.tries or 0, search.objectives
    best = sorted(assignments, key=lambda b: (b.start, b.end))
    best_key = key_of(figures_of(work, calendar, best), objectives)
    operations = list(work.operations)
    names = [b.operation for b in best]
    jobs = {o.id: o.job for o in operations}
    if len(names) < 2:
        return best
    for number in range(tries):
        if until is not None and time.perf_counter() >= until:
            break
        if number % max(1, tries // 20) == 0:
            search.tell(f"search: {number} of {tries} orders of work looked at")
        order = list(names)
        here = chance.randrange(len(order))
        span = max(1, len(order) // chance.choice((2, 4, 10)))
        there = min(len(order) - 1, max(0, here + chance.randint(-span, span)))
        if chance.random() < 0.3:  # a whole job's remaining work moves together
            mine = [n for n in order[min(here, there) :] if jobs[n] == jobs[order[here]]]
            rest = [n for n in order if n not in set(mine)]
            at = min(here, there)
            order = rest[:at] + mine + rest[at:]
        else:
            order.insert(there, order.pop(here))
        rank = {name: float(number) for number, name in enumerate(order)}
        found = serial_schedule(work, calendar, in_order(operations, rank))
        key = key_of(figures_of(work, calendar, found), objectives)
        if key <= best_key:
            best_key = key
            best = sorted(found, key=lambda b: (b.start, b.end))
            names = [b.operation for b in best]
    return best


def finish_sooner(
    work: SchedulingProblem,
    calendar: Calendar,
    kept: Sequence[str],
    assignments: Sequence[Assignment],
    tries: int,
    until: float | None = None,
    day_sooner: int = 1,
) -> list[Assignment]:
    """The rest of a job that lies moved into free time before it, so that jobs are not done later than need be.

    None of the figures ``kept`` gets worse. What is won is a sum: the open days by which jobs are done sooner,
    an evening on which nothing cures as much as one of them, and an attended minute as the part of a day for
    which it may be given (``day_sooner`` of them for a day). ``tries`` schedules are looked at.
    """
    best = sorted(assignments, key=lambda b: (b.start, b.end))
    figures = figures_of(work, calendar, best)
    limits = key_of(figures, kept)[: len(kept)]
    day = calendar.day_length
    worth = worth_of(figures, day, day_sooner)
    while tries > 0:
        for rank, who in _pulled(work, best):
            if tries <= 0 or (until is not None and time.perf_counter() >= until):
                return best
            tries -= 1
            found = serial_schedule(work, calendar, in_order(work.operations, rank), who)
            figures = figures_of(work, calendar, found)
            better = worth_of(figures, day, day_sooner) < worth
            if better and all(a <= b for a, b in zip(key_of(figures, kept), limits, strict=False)):
                best, worth = (
                    sorted(found, key=lambda b: (b.start, b.end)),
                    worth_of(figures, day, day_sooner),
                )
                break
        else:
            return best
    return best


def none_later(
    work: SchedulingProblem,
    calendar: Calendar,
    kept: Sequence[str],
    assignments: Sequence[Assignment],
    tries: int,
    until: float | None = None,
) -> list[Assignment]:
    """Each job in turn done as soon as if it came first, wherever that costs no other job and no figure anything.

    The job is put before all others, and the order of work is searched anew, with the day on which each job
    was done as its due date: so the others may win back what the change costs. It is taken where no job is done
    later and no figure of ``kept``, attended minutes or evenings without a cure is worse. Of each job ``tries``
    orders are looked at.
    """
    names = tuple(dict.fromkeys((*kept, "minutes", "idle_evenings")))
    best = sorted(assignments, key=lambda b: (b.start, b.end))
    jobs = {o.id: o.job for o in work.operations}
    ends = sum((b.end for b in best), Minutes(1))
    for job in dict.fromkeys(o.job for o in work.operations):
        if tries <= 0 or (until is not None and time.perf_counter() >= until):
            break
        done = done_by_job(work, best)
        if len(done) < 2:
            break
        rank = {b.operation: float(b.start - ends * (jobs[b.operation] == job)) for b in best}
        first = serial_schedule(work, calendar, in_order(work.operations, rank))
        soonest = done_by_job(work, first)[job]
        if soonest >= done[job]:
            continue
        goal = done | {job: soonest}
        dues = tuple(Due(name, calendar.elapsed_at_end(minute), 1) for name, minute in goal.items())
        search = Search(("tardiness", "minutes"), tries=tries)
        found = local_search(replace(work, dues=dues), calendar, search, first, until=until)
        limits, figures = figures_of(work, calendar, best), figures_of(work, calendar, found)
        ended = done_by_job(work, found)
        no_worse = all(figures.of(name) <= limits.of(name) for name in names)
        if no_worse and ended[job] < done[job] and all(ended[name] <= done[name] for name in done):
            best = found
    return best


def worth_of(figures: Figures, day: int, day_sooner: int) -> int:
    """What a schedule costs where jobs should be done soon: in whole numbers, ``day`` open minutes an open day."""
    given = max(1, day_sooner)
    return given * figures.completion + day * (figures.minutes + given * figures.idle_evenings)


def _pulled(
    work: SchedulingProblem, best: Sequence[Assignment]
) -> Iterator[tuple[dict[str, float], dict[str, str] | None]]:
    """Orders of work in which what a job has left after a time of lying goes on at once, the longest first."""
    known = work.by_id()
    people = {b.operation: b.who for b in best}
    gaps = []
    for job in dict.fromkeys(o.job for o in work.operations):
        mine = [b for b in best if known[b.operation].job == job]
        free = Minutes(0)
        for number, one in enumerate(mine):
            if one.start > free:
                gaps.append((free - one.start, number, job, free, mine[number:]))
            free = max(free, one.free)
    for less, _, _, ready, rest in sorted(gaps, key=lambda gap: gap[:3]):
        names = {b.operation for b in rest}
        moved = {b.operation: float(b.start + less) - 0.5 for b in rest}
        starts = {b.operation: float(b.start) for b in best}
        yield starts | moved, people
        yield starts | moved, None
        others = sorted({b.start for b in best if b.operation not in names and b.start >= ready})
        for at in others[:3]:  # all in one go, before or after what begins next
            together = {b.operation: at - 0.5 + 0.001 * n / len(rest) for n, b in enumerate(rest)}
            yield starts | together, people
            yield starts | together, None

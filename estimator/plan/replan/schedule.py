"""A plan again from today's state: what is done stays done, what need not change does not change."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import permutations, product

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.amounts import Elapsed, Minutes
from estimator.core.errors import InputError, Issue, Origin, near_miss
from estimator.schedule.bounds.chains import heads_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.heuristics import key_of
from estimator.schedule.records import (
    DUSTY,
    USUAL_SEARCH,
    WET,
    Assignment,
    Link,
    Operation,
    Schedule,
    SchedulingProblem,
    Search,
)
from estimator.schedule.serial_sgs import figures_of, in_order, serial_schedule
from estimator.schedule.solve import schedule_work

WORTH = 15
"""Weighted working minutes of lateness that must be won for each operation moved to another day (memory)."""


LOOKED_AT = 240
"""Other orders that are looked at so that less moves; counted, so that every machine finds the same plan."""
FARTHEST = 8
"""So many pieces of work farther back something that has to move is tried at."""
KEPT = "the order of the plan before"
STATE = Origin("state of the work")


class State(Struct, frozen=True):
    """Where the work stands ``now``.

    ``done``: operation to the moment it ended (None: as planned). ``running``: operation to the minutes
    still to do. ``not_before``: operation to the moment before which it cannot start (its part has
    not come, a person is away). ``done_by``: who did finished work that the plan before no longer holds, for
    what stands set up. ``made``: when the plan before was made, if that was not before the work began.
    ``proven``: of which question (``question_of``) the plan before had proven what bounds, by aim.
    """

    now: datetime
    done: Mapping[str, datetime | None] = field(default_factory=dict)
    running: Mapping[str, Minutes] = field(default_factory=dict)
    not_before: Mapping[str, datetime] = field(default_factory=dict)
    done_by: Mapping[str, str] = field(default_factory=dict)
    made: datetime | None = None
    proven: tuple[str, Mapping[str, int]] | None = None


class Replanned(Struct, frozen=True):
    """The new plan: its work and schedule, the operations that changed day, and what staying would cost.

    ``kept_order``: whether the old order of work still stands. ``tardiness_if_kept``: weighted working
    minutes of lateness with the old order.
    """

    work: SchedulingProblem
    schedule: Schedule
    moved: tuple[str, ...]
    kept_order: bool
    tardiness_if_kept: Minutes


def replan(
    work: SchedulingProblem,
    calendar: Calendar,
    before: Sequence[Assignment],
    state: State,
    search: Search = USUAL_SEARCH,
) -> Replanned:
    """Plan what is left. The old order is kept unless another wins ``WORTH`` for each operation it moves.

    In the old order nothing begins sooner than it was planned; where something has to give way, that order of
    what is left is taken in which the least moves (``least_moved``). A plan made at this very moment is asked
    for once more only to be told again: where all of it can stay, it does.
    InputError for operations the plan does not know, and for work done before what it needs.
    """
    left = left_of(work, calendar, before, state)
    planned = {b.operation: b for b in before}
    # work that cannot start as planned makes room for what comes after it; new work comes last
    heads = heads_of(left, calendar)
    last = max((b.end for b in before), default=0)
    rank = {
        o.id: float(
            -1
            if o.id in state.running
            else max(planned[o.id].start if o.id in planned else last, heads[o.id])
        )
        for o in left.operations
    }
    who = {b.operation: b.who for b in before if b.operation in rank}
    able = {o.id: o.one_of for o in left.operations}
    who = {name: person for name, person in who.items() if person in able[name]}
    waiting = {name: assignment for name, assignment in planned.items() if name not in state.running}
    held = replace(left, operations=tuple(_not_sooner(o, waiting, calendar) for o in left.operations))
    stay = serial_schedule(held, calendar, in_order(held.operations, rank), who)
    if state.now == state.made and _stands(stay, planned, state):
        best = tuple(sorted(stay, key=lambda b: (b.start, b.end, b.operation)))
        found = schedule_work(left, calendar, replace(search, engine="rule", tries=0), stay)
        kept = figures_of(left, calendar, best)
        bounds = dict(found.bounds)
        if state.proven is not None and state.proven[0] == question_of(left, calendar, search.objectives):
            # nothing has changed since: what was proven then, with more search than is worth it here, still holds
            bounds = {aim: max(bound, state.proven[1].get(aim, 0)) for aim, bound in bounds.items()}
        found = replace(found, assignments=best, figures=kept, status="feasible", method=KEPT, bounds=bounds)
        return Replanned(left, found, (), True, kept.tardiness)
    stay = least_moved(held, calendar, stay, waiting, search.objectives)
    found = schedule_work(left, calendar, search, stay)
    kept, new = figures_of(left, calendar, stay), found.figures
    moved = _moved(calendar, before, found.assignments, state.running)
    more = len(moved) - len(_moved(calendar, before, stay, state.running))
    if kept.tardiness - new.tardiness < WORTH * max(1, more):
        best = tuple(sorted(stay, key=lambda b: (b.start, b.end, b.operation)))
        found = replace(found, assignments=best, figures=kept, status="feasible", method=KEPT)
        return Replanned(left, found, _moved(calendar, before, best, state.running), True, kept.tardiness)
    return Replanned(left, found, moved, False, kept.tardiness)


def least_moved(
    held: SchedulingProblem,
    calendar: Calendar,
    stay: Sequence[Assignment],
    planned: Mapping[str, Assignment],
    objectives: Sequence[str],
) -> list[Assignment]:
    """The schedule, or one no worse by any aim in which less moves: what has to move is tried farther back.

    Less is: fewer operations on another day, then fewer that begin at another minute, then fewer minutes in all.
    """
    best = sorted(stay, key=lambda b: (b.start, b.end, b.operation))
    limits = key_of(figures_of(held, calendar, best), objectives)[: len(objectives)]
    least, left = _shift(calendar, planned, best), LOOKED_AT
    while left > 0:
        for rank, people in _farther_back(best, planned):
            left -= 1
            found = serial_schedule(held, calendar, in_order(held.operations, rank), people)
            shift = _shift(calendar, planned, found)
            aims = key_of(figures_of(held, calendar, found), objectives)
            if shift < least and all(a <= b for a, b in zip(aims, limits, strict=False)):
                best, least = sorted(found, key=lambda b: (b.start, b.end, b.operation)), shift
                break
            if left <= 0:
                return best
        else:
            return best
    return best


def _shift(
    calendar: Calendar, planned: Mapping[str, Assignment], assignments: Sequence[Assignment]
) -> tuple[int, int, int]:
    """How much moves: operations on another day, operations at another minute, minutes."""
    apart = [abs(b.start - planned[b.operation].start) for b in assignments if b.operation in planned]
    return len(_moved(calendar, tuple(planned.values()), assignments)), sum(map(bool, apart)), sum(apart)


def _farther_back(
    best: Sequence[Assignment], planned: Mapping[str, Assignment]
) -> Iterator[tuple[dict[str, float], dict[str, str]]]:
    """Orders in which one operation that moves, all that do, or two of all come after what stands behind them."""
    place = {b.operation: float(number) for number, b in enumerate(best)}
    people = {b.operation: b.who for b in best if b.who}
    moved = [b for b in best if b.operation in planned and b.start != planned[b.operation].start]
    if not moved:
        return
    late = {b.operation: len(best) + place[b.operation] for b in moved}
    yield place | late, people
    for one in moved:
        behind = [b for b in best if place[b.operation] > place[one.operation]]
        for other in (*behind[:FARTHEST], *behind[FARTHEST:][-1:]):
            yield place | {one.operation: place[other.operation] + 0.5}, people
        yield place | {n: p for n, p in late.items() if place[n] >= place[one.operation]}, people
    names = [b.operation for b in best if b.operation in planned]  # what runs is in hand, and stays there
    for (first, second), third in product(permutations(names, 2), names):
        concerned = first in late or second in late
        if concerned and third not in (first, second) and place[third] >= min(place[first], place[second]):
            yield place | {first: place[third] + 0.3, second: place[third] + 0.6}, people


def question_of(work: SchedulingProblem, calendar: Calendar, objectives: Sequence[str]) -> str:
    """A name for what is asked of a schedule: the same for the same work, hours and objectives, and for nothing else."""
    told = repr((work, calendar.start, calendar.opens, calendar.closes, tuple(objectives)))
    return hashlib.sha256(told.encode()).hexdigest()


def _not_sooner(operation: Operation, planned: Mapping[str, Assignment], calendar: Calendar) -> Operation:
    """The operation held to its planned moment: what need not change does not, not even for the better."""
    if operation.id not in planned:
        return operation
    start = calendar.elapsed_at_start(planned[operation.id].start)
    return replace(operation, earliest=max(operation.earliest, start))


def _stands(stay: Sequence[Assignment], planned: Mapping[str, Assignment], state: State) -> bool:
    """Whether all that is left begins and ends as it was planned."""
    for assignment in stay:
        old = planned.get(assignment.operation)
        if old is None or assignment.end != old.end:
            return False
        if assignment.start != old.start and assignment.operation not in state.running:
            return False
    return True


def left_of(
    work: SchedulingProblem, calendar: Calendar, before: Sequence[Assignment], state: State
) -> SchedulingProblem:
    """The work that is left, with what the cures of finished work leave behind."""
    known, planned = work.by_id(), {b.operation: b for b in before}
    issues = [*_unknown(known, state), *_begun_too_soon(known, state)]
    if issues:
        raise InputError(issues)
    ended = {
        name: calendar.elapsed_of(when) if when else calendar.elapsed_at_end(planned[name].end)
        for name, when in state.done.items()
    }
    done = {name: (known[name], end) for name, end in ended.items()}
    operations = tuple(
        _what_is_left(operation, work, calendar, state, done)
        for operation in work.operations
        if operation.id not in state.done
    )
    first: dict[str, Operation] = {}
    for name in (*sorted(ended, key=lambda n: (ended[n], n)), *state.running):
        who = planned[name].who if name in planned else state.done_by.get(name, "")
        if who:
            first[who] = known[name]
    return replace(work, operations=operations, first=first)


def _unknown(known: Mapping[str, Operation], state: State) -> Iterable[Issue]:
    """Complaints about operations that the plan does not hold."""
    for name in (*state.done, *state.running, *state.not_before):
        if name not in known:
            hint = near_miss(name, known)
            yield Issue(STATE, "the plan has no such operation", f"“{name}”", "", hint)


def _begun_too_soon(known: Mapping[str, Operation], state: State) -> Iterable[Issue]:
    """Complaints about work that is done or begun before what it needs."""
    for name in (*state.done, *state.running):
        for link in known[name].after if name in known else ():
            if link.before not in state.done:
                problem = f"“{name}” is begun before “{link.before}” is done"
                step = f"mark “{link.before}” as done too, or take “{name}” out"
                yield Issue(STATE, problem, "", "", step)


def _what_is_left(
    operation: Operation,
    work: SchedulingProblem,
    calendar: Calendar,
    state: State,
    done: Mapping[str, tuple[Operation, Elapsed]],
) -> Operation:
    """An operation as it stands now: not before the cures of what is done, with the minutes still to do."""
    earliest = max(Elapsed(0), calendar.elapsed_of(state.now), operation.earliest)
    if operation.id in state.not_before:
        earliest = max(earliest, calendar.elapsed_of(state.not_before[operation.id]))
    earliest = max(earliest, *(_over(each, operation, end, work) for each, end in done.values()), Elapsed(0))
    links: list[Link] = []
    for link in operation.after:
        if link.before in done:
            ahead, end = done[link.before]
            earliest = max(earliest, end + (ahead.cure if link.lag is None else link.lag))
        else:
            links.append(link)
    left = replace(operation, after=tuple(links), earliest=earliest)
    if operation.id in state.running:
        left = replace(
            left, minutes=state.running[operation.id], setup=Minutes(0), again=Minutes(0), slower=()
        )
    return left


def _over(done: Operation, operation: Operation, end: Elapsed, work: SchedulingProblem) -> Elapsed:
    """The minute until which the cure of finished work stands in the way of an operation."""
    if not done.cure:
        return Elapsed(0)
    clash = {done.air, operation.air} == {WET, DUSTY}
    wanted = dict((*operation.needs, *operation.holds))
    clash |= any(
        amount + wanted[name] > work.resources[name] for name, amount in done.holds if name in wanted
    )
    return end + done.cure if clash else Elapsed(0)


def _moved(
    calendar: Calendar,
    before: Sequence[Assignment],
    after: Sequence[Assignment],
    running: Collection[str] = (),
) -> tuple[str, ...]:
    """Operations that start on another day than before; what is ``running`` is begun: those that end on a later day."""
    old = {b.operation: b for b in before}

    def another_day(new: Assignment) -> bool:
        was = old[new.operation]
        if new.operation in running:
            return calendar.elapsed_at_end(new.end) // 1440 > calendar.elapsed_at_end(was.end) // 1440
        return calendar.elapsed_at_start(new.start) // 1440 != calendar.elapsed_at_start(was.start) // 1440

    return tuple(b.operation for b in after if b.operation in old and another_day(b))

"""A whole plan made again from today's state: what is left, in the old order where that serves, and what changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from estimator.batch.arrivals import BoughtKey, arrival_of, arrivals_of, bought_as, is_sent, minute_of
from estimator.batch.build import BatchStudy
from estimator.batch.orders import make_orders, need_by_of
from estimator.batch.supplies import SoFar
from estimator.core.amounts import Elapsed, Minutes
from estimator.core.errors import InputError, Issue, Origin, warning
from estimator.core.text import weekday_of
from estimator.plan.awaited import taken_by
from estimator.plan.day_list import named
from estimator.plan.plan import Plan, searched, work_of
from estimator.plan.replan.changes import changes_of
from estimator.plan.replan.dropped import summed_again, without_dropped
from estimator.plan.replan.progress import RecordedJob, StateFile, before_is_done
from estimator.plan.replan.saved_plan import KeptPlan, answer_of, as_kept, bookings_of, planned_minutes
from estimator.plan.replan.schedule import Replanned, State, left_of, replan
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import USUAL_SEARCH, Assignment, SchedulingProblem, Search
from estimator.schedule.resources import calendar_of
from estimator.schedule.solve import left_shift
from estimator.schedule.supplies import BEGUN


class PlannedAgain(Struct, frozen=True):
    """The new plan of what is left, the old one, and what was taken for granted.

    ``as_planned``: operations taken as done because the state says nothing else; ``running`` with the
    minutes left; ``warnings``: what the plan before and the work of today do not share, and what is taken as done
    though its part is still expected. ``recorded``: by job
    what the ledger holds, where it was asked; ``implied``: work that nobody wrote down and later work shows done.
    """

    plan: Plan
    kept: KeptPlan
    result: Replanned
    as_planned: tuple[str, ...]
    running: Mapping[str, Minutes]
    warnings: tuple[Issue, ...]
    recorded: tuple[RecordedJob, ...] = ()
    implied: tuple[str, ...] = ()


def plan_again(
    study: BatchStudy,
    state: StateFile,
    search: Search = USUAL_SEARCH,
) -> PlannedAgain:
    """Plan what is left of a kept plan from the state of today. InputError for a state that cannot be."""
    state, gone = without_dropped(state, study)
    kept = state.kept
    study = as_kept(kept, study)
    answer = answer_of(kept, study)
    answer = summed_again(answer, study) if gone else answer
    calendar = calendar_of(study.shop, study.file.start, study.file.days_off)
    late = {b: minute_of(calendar, when) for b, when in {**kept.late, **state.late}.items()}
    planned = _planned(state, calendar)
    work, estimates = work_of(study, answer, calendar, so_far=SoFar(late, planned))
    before = bookings_of(kept, work, calendar)
    done, as_planned, running = _progress(state, work, calendar, before)
    implied = _implied(state, work, done, running) if state.recorded else ()
    unwritten = [name for name in done if state.recorded and name in kept.done and name not in state.done]
    issues = before_is_done(state, work, done)
    if issues:
        raise InputError(issues)
    done_by = {**kept.done_by, **{b.operation: b.who for b in before if b.operation in done}}
    now = State(state.now, done, running, done_by=done_by, made=kept.made, proven=kept.proof)
    found = replan(work, calendar, before, now, searched(study, answer, search))
    begins = {b.operation: calendar.elapsed_at_start(b.start) for b in found.schedule.assignments}
    begun = dict.fromkeys((*done, *running), BEGUN)
    stretched, _ = work_of(study, answer, calendar, safe=True, so_far=SoFar(late, begins | begun))
    left = left_of(stretched, calendar, before, now)
    shifted = left_shift(left, calendar, found.schedule.assignments)
    starts = {operation: calendar.moment(elapsed).date() for operation, elapsed in begins.items()}
    orders = make_orders(study, answer, need_by_of(study, answer, starts, found.work.operations, late))
    waits = work.waits()
    finished = tuple(o for o in work.operations if o.id in done)
    plan = Plan(
        study,
        answer,
        estimates,
        found.work,
        calendar,
        found.schedule,
        tuple(sorted(shifted, key=lambda b: (b.start, b.end))),
        orders,
        late,
        state.now,
        finished,
        {o.id: (done[o.id], done[o.id] + timedelta(minutes=o.cure)) for o in finished},
        {o.id: done[o.id] + timedelta(minutes=waits[o.id]) for o in finished},
        _held(work, found.work, {name: calendar.elapsed_of(when) for name, when in done.items()}),
        done_by={name: who for name, who in done_by.items() if who},
        running=running,
        planned={n: m for n, m in planned_minutes(kept, calendar).items() if n in done or n in running},
    )
    changed = changes_of(plan, {one.operation: one for one in kept.work}, late_words(plan, kept, state))
    doubtful = _doubtful(replace(plan, work=work), kept, (*as_planned, *implied, *unwritten))
    warnings = (*gone, *_strangers(kept, work, done), *doubtful)
    plan = replace(plan, changed=changed)
    return PlannedAgain(plan, kept, found, as_planned, running, warnings, state.recorded, implied)


def _implied(
    state: StateFile, work: SchedulingProblem, done: dict[str, datetime], running: dict[str, Minutes]
) -> tuple[str, ...]:
    """What recorded work needs, and nobody wrote down, is done: it is put into ``done``, and its names returned.

    It ended as planned, and no later than the work that shows it.
    """
    known = work.by_id()
    planned = {one.operation: one.ends for one in state.kept.work}
    found: dict[str, None] = {}
    stack = [name for name in (*done, *running) if name in known]
    while stack:
        name = stack.pop()
        for link in known[name].after:
            if link.before not in done:
                latest = done.get(name, state.now)
                done[link.before] = min(planned.get(link.before, latest), latest)
                running.pop(link.before, None)
                found[link.before] = None
                stack.append(link.before)
    return tuple(one.operation for one in state.kept.work if one.operation in found)


def _planned(state: StateFile, calendar: Calendar) -> dict[str, Elapsed]:
    """By operation: when the plan before begins it; what is begun has had its packs, what was left lying begins now at the soonest."""
    now = minute_of(calendar, state.now)
    found = {one.operation: minute_of(calendar, one.begins) for one in state.kept.work}
    found |= {name: max(found.get(name, Elapsed(0)), now) for name in state.not_done}
    return found | dict.fromkeys((*state.kept.done, *state.done, *state.kept.running, *state.running), BEGUN)


def _held(work: SchedulingProblem, left: SchedulingProblem, ended: Mapping[str, Elapsed]) -> dict[str, str]:
    """By operation that is left: the finished one whose cure or wait decides when it can start."""
    known = work.by_id()
    earliest = {o.id: o.earliest for o in left.operations}
    held = {}
    for name, minute in earliest.items():
        for link in known[name].after:
            lag = known[link.before].cure if link.lag is None else link.lag
            if lag and ended.get(link.before, -lag) + lag == minute:
                held[name] = link.before
        for before, end in ended.items():
            if known[before].cure and end + known[before].cure == minute:
                held.setdefault(name, before)
    return held


def _progress(
    state: StateFile, work: SchedulingProblem, calendar: Calendar, before: Sequence[Assignment]
) -> tuple[dict[str, datetime], tuple[str, ...], dict[str, Minutes]]:
    """What is done with its end, what of that is taken as done, and what runs with the minutes left."""
    planned = {one.operation: one for one in state.kept.work}
    known = work.by_id()
    done = {name: when for name, when in state.kept.done.items() if name in known}
    for name, ended in state.done.items():
        if name in known:
            done[name] = ended or min(planned[name].ends, state.now)
    running = {name: minutes for name, minutes in state.running.items() if name in known}
    for name in running:
        done.pop(name, None)  # taken up once more
    taken: list[str] = []
    if state.as_planned:
        assignments = {b.operation: b for b in before}
        now = minute_of(calendar, state.now)
        for one in sorted(state.kept.work, key=lambda w: (w.begins, w.ends)):
            name = one.operation
            if name in done or name in running or name in state.not_done or name not in known:
                continue
            ready = all(link.before in done for link in known[name].after) and known[name].earliest <= now
            if ready and one.ends <= state.now:
                done[name] = one.ends
                taken.append(name)
            elif ready and (one.begins < state.now or name in state.kept.running):
                running[name] = max(Minutes(1), assignments[name].end - calendar.working_at(now))
    for name, minutes in state.kept.running.items():  # begun before the plan was made again
        if name in known and name not in done and name not in state.not_done:
            running.setdefault(name, minutes)
    return done, tuple(taken), running


def late_words(plan: Plan, kept: KeptPlan, state: StateFile) -> dict[BoughtKey, str]:
    """By purchase that is late: from whom, when it was expected and when it is now; first what was expected last.

    Of several that hold up a piece of work, that one is the least that has to be said.
    """
    promised = arrivals_of(
        plan.study, plan.answer, {b: minute_of(plan.calendar, w) for b, w in kept.late.items()}
    )
    sellers = dict.fromkeys(state.late, "")
    for purchase in (*plan.answer.purchases, *plan.answer.spares):
        name = bought_as(purchase)
        if name in sellers:
            sellers[name] = purchase.seller
    return {
        bought: f"what was ordered from {sellers[bought] or 'any shop'} comes on {weekday_of(when.date())} instead of "
        f"{weekday_of(plan.calendar.moment(promised[bought]).date())}"
        for bought, when in sorted(state.late.items(), key=lambda item: -promised[item[0]])
    }


def _doubtful(plan: Plan, kept: KeptPlan, taken: Sequence[str]) -> tuple[Issue, ...]:
    """Warnings of work that is taken as done, though a part it needs is expected later: a line for each parcel."""
    assert plan.now is not None
    parcels: dict[tuple[Elapsed, str], list[str]] = {}
    for name in taken:
        for purchase in taken_by(plan, name):
            minute = arrival_of(plan.study, purchase, plan.late)
            if is_sent(purchase) and plan.calendar.moment(minute) > plan.now:
                names = parcels.setdefault((minute, purchase.seller), [])
                if name not in names:
                    names.append(name)
    return tuple(
        warning(
            Origin(kept.file),
            f"{', '.join(map(named, names))}: taken as done, but the parcel of {seller} is expected on "
            f"{weekday_of(plan.calendar.moment(minute).date())} only",
            next_step="see whether the parcel has come and this work is done; if not, take the later work that was recorded out",
        )
        for (minute, seller), names in sorted(parcels.items())
    )


def _strangers(kept: KeptPlan, work: SchedulingProblem, done: Mapping[str, datetime]) -> tuple[Issue, ...]:
    """Work that only one of the two plans has, as warnings."""
    where = Origin(kept.file)
    known = {o.id for o in work.operations}
    planned = {one.operation for one in kept.work}
    apart = {
        "work of the saved plan is not asked for any more": planned - known,
        "work that the saved plan did not have": known - planned - set(done),
    }
    return tuple(
        warning(
            where,
            problem,
            ", ".join(sorted(names)[:6]),
            next_step="look whether the job files or the tables were changed on purpose",
        )
        for problem, names in apart.items()
        if names
    )

"""What changed between two plans, and why, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from estimator.batch.arrivals import BoughtKey, arrivals_of, bought_as
from estimator.core.amounts import Elapsed
from estimator.core.text import count, weekday_of
from estimator.model.operation import operation_name
from estimator.plan.awaited import awaited, taken_by
from estimator.plan.day_list import named, short
from estimator.plan.plan import Plan
from estimator.plan.reasons import reason_of
from estimator.plan.replan.saved_plan import KeptWork
from estimator.schedule.records import DayChange


def changes_of(
    plan: Plan, before: Mapping[str, KeptWork], late: Mapping[BoughtKey, str]
) -> dict[str, DayChange]:
    """By operation that starts on another day than before, or runs and ends on a later: from when to when, and why."""
    starts = {
        b.operation: plan.calendar.moment(plan.calendar.elapsed_at_start(b.start))
        for b in plan.schedule.assignments
    }
    ends = {
        b.operation: plan.calendar.moment(plan.calendar.elapsed_at_end(b.end))
        for b in plan.schedule.assignments
    }
    found = {}
    for name, begins in starts.items():
        if name not in before:
            found[name] = DayChange(None, begins, "new work")
        elif name in plan.running:  # it is begun, and only its end can be another
            if ends[name].date() > before[name].ends.date():
                found[name] = DayChange(
                    before[name].ends, ends[name], _root(plan, name, starts, before, late)
                )
        elif begins.date() != before[name].begins.date():
            found[name] = DayChange(before[name].begins, begins, _root(plan, name, starts, before, late))
    return found


def change_words(changes: Mapping[str, DayChange]) -> list[str]:
    """What changed, told once for all work of one instrument that moves for one reason."""
    groups: dict[tuple[str, str], dict[str, list[str]]] = {}
    for name, change in changes.items():
        way = (
            f"from {weekday_of(change.was)} to {weekday_of(change.now)}"
            if change.was
            else f"on {weekday_of(change.now)}"
        )
        ways = groups.setdefault((operation_name(name).job, change.why), {})
        ways.setdefault(way, []).append(short(name))
    return [f"{_together(job, ways)}; {why}" for (job, why), ways in groups.items()]


def _together(job: str, ways: Mapping[str, Sequence[str]]) -> str:
    """What moves of one job for one reason; of several days the first and the last, each day is told in its list."""
    if len(ways) == 1:
        [(way, tasks)] = ways.items()
        return f"{job}, {way}: {', '.join(tasks)}"
    (first, begins), *_, (last, ends) = ways.items()
    number = sum(map(len, ways.values()))
    return f"{job}, {count(number, 'operation')}: first {begins[0]}, {first}, last {ends[-1]}, {last}"


def entry_words(changes: Mapping[str, DayChange], operations: Sequence[str]) -> tuple[str, ...]:
    """What changed of the operations of one entry of the day list, each reason once."""
    words = (
        f"was {weekday_of(one.was)}; {one.why}" if one.was else one.why
        for one in (changes[name] for name in operations if name in changes)
    )
    return tuple(dict.fromkeys(words))


def _root(
    plan: Plan,
    name: str,
    starts: Mapping[str, datetime],
    before: Mapping[str, KeptWork],
    late: Mapping[BoughtKey, str],
) -> str:
    """Follow what holds an operation to what made it move the way it did; if nothing did, that the order changed.

    A late parcel of its own is told where it decides the day, or where what does comes no later or is not known: what
    comes on Tuesday does not keep till Thursday.
    """
    assignments = {b.operation: b for b in plan.schedule.assignments}
    later = starts[name] > before[name].begins
    unexplained = "the order of work changed" if later else "there is room for it sooner now"
    seen = [name]
    own = _own_parcel(plan, name, before, late) if later else None
    if own:
        unexplained = own[1]
    while True:
        one = seen[-1]
        if later and plan.now is not None and one in before and before[one].begins < plan.now:
            if one in plan.running and one != name and not _ends_later(plan, one, before):
                return unexplained  # it runs, and is done when it was to be
            return f"{named(one)} was not done by now"
        held_up = _own_parcel(plan, one, before, late) if later else None
        if held_up and starts[one].date() <= held_up[0]:
            return own[1] if own and own[0] >= held_up[0] else held_up[1]
        reason = reason_of(plan.work, plan.calendar, assignments, assignments[one])
        if reason.kind == "there":
            return (later and _there(plan, one, before, late, one == name)) or unexplained
        follows = reason.operation
        if not follows or follows in seen:
            return unexplained
        if follows not in before:
            return f"{named(follows)} is new and comes first" if later else unexplained
        if starts[follows] == before[follows].begins:
            end = plan.calendar.moment(plan.calendar.elapsed_at_end(assignments[follows].end))
            if later and end > before[follows].ends:
                return f"{named(follows)} ends later than planned"
            if not later and end < before[follows].ends:
                return f"{named(follows)} ends sooner than planned"
            return unexplained
        if (starts[follows] > before[follows].begins) != later:
            return unexplained
        seen.append(follows)


def _ends_later(plan: Plan, name: str, before: Mapping[str, KeptWork]) -> bool:
    """Whether work is planned to end later than the plan before had it."""
    [one] = [b for b in plan.schedule.assignments if b.operation == name]
    return plan.calendar.moment(plan.calendar.elapsed_at_end(one.end)) > before[name].ends


def _own_parcel(
    plan: Plan, name: str, before: Mapping[str, KeptWork], late: Mapping[BoughtKey, str]
) -> tuple[date, str] | None:
    """The late purchase that the operation takes itself and that comes after it was to begin, with the day it allows."""
    if name not in before or not late:
        return None
    began = plan.calendar.elapsed_of(before[name].begins)
    mine = {bought_as(purchase) for purchase in taken_by(plan, name)}
    arrives = arrivals_of(plan.study, plan.answer, plan.late)
    supplied = dict(plan.work.by_id()[name].supplied)
    for bought, words in late.items():
        if bought in mine and arrives[bought] > began:
            return _first_day(plan, arrives[bought]), words
        instead = supplied.get(bought[2]) if bought[0] == "pack" else None
        if instead is not None and instead > began:
            return _first_day(plan, instead), words  # what it gets instead comes later too
    return None


def _first_day(plan: Plan, arrives: Elapsed) -> date:
    """The first day on which work can begin with what comes at a minute."""
    return plan.calendar.moment(plan.calendar.elapsed_at_start(plan.calendar.working_at(arrives))).date()


def _there(
    plan: Plan, name: str, before: Mapping[str, KeptWork], late: Mapping[BoughtKey, str], itself: bool
) -> str:
    """Why an operation could not start as soon as before: a late purchase or a cure; blank if neither says it.

    A purchase or a cure that was over by the old start is no cause of a new one. ``itself``: whether it
    is the work asked about, so that the moment is its own.
    """
    began = plan.calendar.elapsed_of(before[name].begins) if name in before else -1
    arrives = arrivals_of(plan.study, plan.answer, plan.late)
    mine = {bought_as(purchase) for purchase in awaited(plan, name)}
    for bought, words in late.items():
        if bought in mine and arrives[bought] > began:
            return words
    if name in plan.held and plan.work.by_id()[name].earliest > began:
        return f"{named(plan.held[name])} cures or settles" + (" till then" if itself else "")
    return ""

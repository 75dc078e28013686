"""What changed between two plans, and why, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from estimator.batch.arrivals import Bought, arrivals_of, bought_as
from estimator.plan.awaited import awaited, taken_by
from estimator.plan.day_list import named, short
from estimator.plan.plan import Plan
from estimator.plan.reasons import reason_of
from estimator.plan.replan.saved_plan import KeptWork
from estimator.schedule.records import DayChange


def changes_of(
    plan: Plan, before: Mapping[str, KeptWork], late: Mapping[Bought, str]
) -> dict[str, DayChange]:
    """By operation that starts on another day than before: from when to when, and the reason at its root."""
    starts = {
        b.operation: plan.calendar.moment(plan.calendar.elapsed_at_start(b.start))
        for b in plan.schedule.assignments
    }
    found = {}
    for name, begins in starts.items():
        if name not in before:
            found[name] = DayChange(None, begins, "new work")
        elif begins.date() != before[name].begins.date():
            found[name] = DayChange(before[name].begins, begins, _root(plan, name, starts, before, late))
    return found


def change_words(changes: Mapping[str, DayChange]) -> list[str]:
    """What changed, told once for work of one instrument that moves from one day to another for one reason."""
    groups: dict[tuple[str, str, str], list[str]] = {}
    for name, change in changes.items():
        way = f"from {_day(change.was)} to {_day(change.now)}" if change.was else f"on {_day(change.now)}"
        groups.setdefault((name.partition(":")[0], way, change.why), []).append(short(name))
    return [f"{job}, {way}: {', '.join(tasks)}; {why}" for (job, way, why), tasks in groups.items()]


def entry_words(changes: Mapping[str, DayChange], operations: Sequence[str]) -> tuple[str, ...]:
    """What changed of the operations of one entry of the day list, each reason once."""
    words = (
        f"was {_day(changes[name].was)}; {changes[name].why}" if changes[name].was else changes[name].why
        for name in operations if name in changes
    )  # fmt: skip
    return tuple(dict.fromkeys(words))


def _day(moment: datetime | None) -> str:
    return f"{moment:%a} {moment.day} {moment:%b}" if moment else ""


def _root(
    plan: Plan,
    name: str,
    starts: Mapping[str, datetime],
    before: Mapping[str, KeptWork],
    late: Mapping[Bought, str],
) -> str:
    """Follow what holds an operation to work that did not move, to a part, or to today."""
    assignments = {b.operation: b for b in plan.schedule.assignments}
    seen = [name]
    while True:
        if plan.now is not None and seen[-1] in before and before[seen[-1]].begins < plan.now:
            return f"{named(seen[-1])} was not done by now"
        held_up = _own_parcel(plan, seen[-1], before, late)
        if held_up:
            return held_up
        reason = reason_of(plan.work, plan.calendar, assignments, assignments[seen[-1]])
        if reason.kind == "there":
            return _there(plan, seen[-1], late)
        follows = reason.operation
        if not follows:
            return f"there is room for {named(seen[-1])} then"
        if follows in seen or (follows in before and starts[follows] == before[follows].begins):
            return {
                "wait": f"{named(follows)} cures or settles till then",
                "after": f"{named(follows)} comes first",
                "hands": f"the hands are at {named(follows)} till then",
            }.get(reason.kind, f"it fits in after {named(follows)}")
        seen.append(follows)


def _own_parcel(plan: Plan, name: str, before: Mapping[str, KeptWork], late: Mapping[Bought, str]) -> str:
    """The late purchase that the operation takes itself and that comes after it was to begin; blank if there is none."""
    if name not in before or not late:
        return ""
    began = plan.calendar.elapsed_of(before[name].begins)
    mine = {bought_as(purchase) for purchase in taken_by(plan, name)}
    arrives = arrivals_of(plan.study, plan.answer, plan.late)
    return next((words for bought, words in late.items() if bought in mine and arrives[bought] > began), "")


def _there(plan: Plan, name: str, late: Mapping[Bought, str]) -> str:
    """Why an operation could not start before a given moment: a late purchase, a cure, or that it is today."""
    mine = {bought_as(purchase) for purchase in awaited(plan, name)}
    for bought, words in late.items():
        if bought in mine:
            return words
    if name in plan.held:
        return f"{named(plan.held[name])} cures or settles till then"
    return f"{named(name)} has to wait till then"

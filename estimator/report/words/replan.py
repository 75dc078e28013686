"""A plan made again, in words: what was taken for granted, what changed and why, what became of the promises."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.core.amounts import Minutes
from estimator.core.text import day, hours, moment, wrapped
from estimator.plan.day_list import named
from estimator.plan.replan.changes import change_words
from estimator.plan.replan.plan import PlannedAgain
from estimator.plan.replan.schedule import Replanned
from estimator.report.words.orders import order_lines
from estimator.report.words.plan import day_lines, promise_lines, proof_lines

PACE_S = 3600
"""Planned seconds of recorded work below which nothing is said of a pace: one slow task is no pace."""


def again_words(again: PlannedAgain) -> str:
    """The whole plan of what is left."""
    plan = again.plan
    out = [*head_lines(again), "", *change_lines(again), ""]
    if plan.schedule.assignments:
        out += [
            *promise_lines(plan),
            *moved_promises(again),
            "",
            *proof_lines(plan),
            "",
            *day_lines(plan),
            "",
        ]
    return "\n".join([*out, *order_lines(plan.orders, plan.shop.terms.currency, placed=True)]) + "\n"


def head_lines(again: PlannedAgain) -> list[str]:
    """What the new plan starts from."""
    plan = again.plan
    assert plan.now is not None
    out = [f"Plan “{plan.study.file.id}” made again from {moment(plan.now)}"]
    out += wrapped(f"done: {_operations(len(plan.done))}; left: {len(plan.work.operations)}")
    if again.as_planned:
        out += wrapped(f"taken as done, because they were planned till now: {_listed(again.as_planned)}")
    for name, minutes in again.running.items():
        out += wrapped(f"running: {named(name)}, {minutes} min left")
    if again.implied:
        out += wrapped(f"not written down, but later work is, so taken as done: {_listed(again.implied)}")
    return [*out, *recorded_lines(again)]


def recorded_lines(again: PlannedAgain) -> list[str]:
    """Planned against real, job by job, of the work that the ledger holds; and what the rest takes at that pace."""
    out = []
    for job in again.recorded:
        if job.done:
            out += wrapped(
                f"{job.job}: {job.done} recorded, planned {_minutes(job.planned_s)}, taken {_minutes(job.taken_s)}"
                + (f" ({_percent(job.taken_s, job.planned_s)} %)" if job.planned_s else "")
            )
    planned, taken = sum(j.planned_s for j in again.recorded), sum(j.taken_s for j in again.recorded)
    left = sum((o.minutes for o in again.plan.work.operations), Minutes(0)) * 60
    more = left * (taken - planned) // planned if planned >= PACE_S else 0
    if more > 0 and left:
        out += wrapped(
            f"at that pace what is left takes {_minutes(more)} more than the {_minutes(left)} planned;"
            " the days below reckon with the planned times, the promises with their reserve"
        )
    return out


def _minutes(seconds: int) -> str:
    return hours(Minutes((seconds + 30) // 60))


def _percent(part: int, whole: int) -> int:
    return (200 * part + whole) // (2 * whole)


def _operations(number: int) -> str:
    return f"{number} operation{'' if number == 1 else 's'}"


def _listed(names: Sequence[str], most: int = 8) -> str:
    """The last of a list of operations, and how many more there are."""
    words = ", ".join(named(name) for name in names[-most:])
    return f"{_operations(len(names) - most)}, and {words}" if len(names) > most else words


def change_lines(again: PlannedAgain) -> list[str]:
    """What changed and why, operation by operation."""
    out = replan_lines(again.result)
    if again.plan.changed:
        out.append("What changed, and why")
        for words in change_words(again.plan.changed):
            out += wrapped(words)
    return out


def replan_lines(result: Replanned) -> list[str]:
    """What became of the order of work."""
    late, kept = result.schedule.figures.tardiness, result.tardiness_if_kept
    if result.kept_order:
        waits = ", but for what has to wait longer" if result.moved else " as it was"
        out = [f"The order of work stands{waits}."]
    elif late < kept:
        out = [f"The order of work is changed: late by {hours(late)} (weighted) instead of {hours(kept)}."]
    else:
        out = ["The order of work is changed."]
    number = len(result.moved)
    what = (
        f"{number} operation{'s' if number > 1 else ''} to another day"
        if number
        else "nothing to another day"
    )
    out.append(f"  moved: {what}")
    return out


def moved_promises(again: PlannedAgain) -> list[str]:
    """Promises that are not what they were."""
    out = []
    studies = again.plan.study.studies
    # nobody waits for what the shop owns
    tell = {job: ": tell the customer" if study.job.for_customer else "" for job, study in studies.items()}
    for job, promise in again.plan.promised.items():
        before = again.kept.promised.get(job)
        if before is not None and promise > before:
            out += wrapped(f"{job}: promised {day(before)} before, now {day(promise)}{tell.get(job, '')}")
        elif before is not None and promise < before:
            out += wrapped(f"{job}: promised {day(before)} before, could be {day(promise)}")
    for one in again.recorded:
        now = again.plan.promised.get(one.job)
        if one.told is not None and now is not None and now > one.told:
            out += wrapped(
                f"{one.job}: {'the customer was told' if tell.get(one.job) else 'promised for'} {day(one.told)},"
                f" the plan promises {day(now)}{tell.get(one.job, '')}"
            )
    return out

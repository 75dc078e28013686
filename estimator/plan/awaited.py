"""What work waits for: the purchases that an operation takes itself and that decide when it can start."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from estimator.batch.arrivals import arrival_of, bought_as, is_sent, parcels_of
from estimator.batch.records import Purchase
from estimator.model.operation import operation_name
from estimator.plan.plan import Plan
from estimator.schedule.build import STRIP, parts_of_tasks, puts_back


def awaited(plan: Plan, operation: str) -> list[Purchase]:
    """Of what is bought, what the operation takes and what comes at the minute from which it can start.

    Taking apart takes nothing itself: it waits for what the work after it takes.
    """
    job, sitting = operation_name(operation)
    known = plan.work.by_id()
    apart = plan.shop.tasks[sitting.task].group == STRIP and not puts_back(plan.shop, sitting)
    takers = [other.id for other in known.values() if other.job == job] if apart else [operation]
    comes = {bought_as(p): p for taker in takers for p in taken_by(plan, taker)}
    earliest = known[operation].earliest
    return [p for p in comes.values() if p.is_paid and arrival_of(plan.study, p, plan.late) == earliest]


def taken_by(plan: Plan, operation: str) -> list[Purchase]:
    """Of what is bought, what has to be there before the operation begins."""
    job, (task, *_) = operation_name(operation)
    study = plan.study.studies[job]
    classes = {v.upgrade.id: v.upgrade.part.part_class for v in study.verdicts if v.upgrade.part}
    parts = parts_of_tasks(study.costing, plan.answer.chosen[job], classes).get(task, ())
    tools = {tool for tool, _ in study.shop.task_tools.get(task, ())}
    takes = {"part": parts, "tool": tools, "rent": tools, "donor": (job,)}
    supplied = dict(plan.work.by_id()[operation].supplied)
    return [
        p
        for p in plan.answer.purchases
        if (
            arrival_of(plan.study, p, plan.late) <= supplied.get(p.what, -1)
            if p.kind == "pack"
            else p.job in ("", job) and (p.upgrade if p.kind == "part" else p.what) in takes.get(p.kind, ())
        )
    ]


def parcel_words(plan: Plan, comes: Sequence[Purchase]) -> str:
    """The parcels in which purchases come, each with its day where its seller sends more than one; blank if none."""
    sellers = dict.fromkeys(p.seller for p in comes if is_sent(p))
    days: dict[str, set[date]] = {}
    for day, parcel in parcels_of(plan.study, plan.answer, plan.calendar, plan.late).items():
        for seller, _ in parcel:
            days.setdefault(seller, set()).add(day)
    words = []
    for seller in sellers:
        minute = next(arrival_of(plan.study, p, plan.late) for p in comes if p.seller == seller)
        when = plan.calendar.moment(minute)
        several = len(days.get(seller, ())) > 1
        words.append(f"{seller} of {when:%a} {when.day} {when:%b}" if several else seller)
    return f"the parcel of {' and '.join(words)}" if words else ""

"""When client work is ready: from the work, its cures, the parts on their way and what waits already."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from msgspec import Struct

from estimator.batch.arrivals import BY_NOON, DAY
from estimator.batch.build import lead_days
from estimator.choose.study import Study
from estimator.core.amounts import Elapsed
from estimator.model import Estimate
from estimator.model.planning import Person
from estimator.plan.plan import promise_day
from estimator.price.client.quote import ordered_pieces
from estimator.schedule.build import PlannedJob, operations_of, stretch_of
from estimator.schedule.heuristics import best_dispatch
from estimator.schedule.rack import RACK
from estimator.schedule.records import USUAL_OBJECTIVES, SchedulingProblem
from estimator.schedule.resources import calendar_of, change_overs_of, resources_of
from estimator.schedule.serial_sgs import done_by_job

SOME_MONDAY = date(2024, 1, 1)
"""Begins the count of days where no day of the quote is known."""
PACE = "usual"


class Ready(Struct, frozen=True):
    """The day to promise: ``days`` after the customer's yes, ``day`` where that is known.

    ``queue_days``: days before the job is begun.
    """

    days: int
    day: date | None
    queue_days: int


def ready_of(study: Study, estimate: Estimate, said_yes: date | None) -> Ready:
    """When the work of an estimate can be promised, at 80 % surety and by the waits and parcels of the tables.

    The parts are ordered and the queue waits from the customer's yes on; what is paid to be done at once
    waits in no queue. Two days are added and a day on
    which the shop is open is taken, as for every promise.
    """
    shop, begin = study.shop, said_yes or SOME_MONDAY
    calendar = calendar_of(shop, begin)
    queue = 0 if study.job.terms.rush else shop.terms.queue_days
    arrives = _arrivals(study, estimate)
    people = (Person("bench", study.costing.setting.skill),)
    job = PlannedJob(
        study.job.id,
        study.costing,
        estimate,
        arrives,
        stretch=stretch_of(estimate),
        there=queue * DAY,
        classes={v.upgrade.id: v.upgrade.part.part_class for v in study.verdicts if v.upgrade.part},
    )
    operations, parts = operations_of(job, people, PACE)
    resources = resources_of(shop, people) | parts
    resources.pop(RACK, None)
    work = SchedulingProblem(tuple(operations), resources, (), change_overs_of(shop))
    if not operations:
        finished = calendar.moment(queue * DAY)
    else:
        _, assignments = best_dispatch(work, calendar, USUAL_OBJECTIVES)
        done = max(done_by_job(work, assignments).values())
        finished = calendar.moment(calendar.elapsed_at_end(done))
    day = promise_day(calendar, finished.date())
    return Ready((day - begin).days, day if said_yes else None, queue)


def _arrivals(study: Study, estimate: Estimate) -> dict[str, Elapsed]:
    """By upgrade the minute at which its part is there; the slowest of the suppliers who may be asked."""
    shop = study.shop
    bought: Collection[str] = {u for u, pieces in ordered_pieces(study, estimate).items() if pieces > 0}
    found = {}
    for verdict in study.verdicts:
        part = verdict.upgrade.part
        if part is not None and verdict.upgrade.id in bought:
            sellers = {o.supplier for o in shop.planning.offers if o.sells in (part.part_class, "*")}
            days = max((lead_days(shop, PACE, part.part_class, s) for s in sellers or {""}), default=0)
            found[verdict.upgrade.id] = days * DAY + BY_NOON if days else Elapsed(0)
    return found

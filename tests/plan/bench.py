"""The shop and the example batches, loaded once for the tests of planning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from pathlib import Path

from estimator.batch.build import BatchStudy, study_batch
from estimator.choose.study import Study, study_job
from estimator.input.batch.load import load_batch
from estimator.input.job.load import load_job
from estimator.model import Shop
from estimator.plan.plan import Plan, plan_batch
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Assignment, SchedulingProblem, Search
from tests.shops import default_shop

EXAMPLES = Path(__file__).parents[2] / "example_jobs"


@cache
def shop() -> Shop:
    return default_shop()


@cache
def job(name: str) -> Study:
    return study_job(shop(), load_job(EXAMPLES / f"{name}.toml", shop()))


@cache
def batch(name: str) -> BatchStudy:
    return study_batch(shop(), load_batch(EXAMPLES / "batches" / f"{name}.toml", shop()))


@cache
def plan(name: str) -> Plan:
    found = plan_batch(batch(name), search=Search(engine="rule", tries=60))
    assert isinstance(found, Plan)
    return found


def evenings(
    work: SchedulingProblem, calendar: Calendar, assignments: Sequence[Assignment]
) -> Mapping[date, tuple[str, ...]]:
    """For each day with work: what cures or settles overnight after it."""
    waits = work.waits()
    days: dict[date, list[str]] = {}
    for assignment in assignments:
        end = calendar.elapsed_at_end(assignment.end)
        days.setdefault(calendar.moment(end).date(), [])
    for assignment in assignments:
        end = calendar.elapsed_at_end(assignment.end)
        since = calendar.moment(end).date()
        until = calendar.moment(end + waits[assignment.operation]).date()
        for day, names in days.items():
            if since <= day < until:
                names.append(assignment.operation)
    return {day: tuple(names) for day, names in sorted(days.items())}

"""The shop and the example batches, loaded once for the tests of planning."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from estimator.model import Shop
from estimator.pipeline import Study, study_job
from estimator.plan.batchfile import load_batch
from estimator.plan.gathering import BatchStudy, study_batch
from estimator.plan.planning import Plan, plan_batch
from estimator.tables.jobfile import load_job
from estimator.tables.loading import load_shop

EXAMPLES = Path(__file__).parents[2] / "example_jobs"


@cache
def shop() -> Shop:
    return load_shop()


@cache
def job(name: str) -> Study:
    return study_job(shop(), load_job(EXAMPLES / f"{name}.toml", shop()))


@cache
def batch(name: str) -> BatchStudy:
    return study_batch(shop(), load_batch(EXAMPLES / "batches" / f"{name}.toml", shop()))


@cache
def plan(name: str) -> Plan:
    found = plan_batch(batch(name), engine="rule", tries=60)
    assert isinstance(found, Plan)
    return found

"""The default shop and the example jobs, studied once for all tests of the reports."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.model import Shop
from estimator.pipeline import Study, study_job
from estimator.tables.jobfile import load_job
from estimator.tables.loading import load_shop

JOBS = Path(__file__).resolve().parents[2] / "example_jobs"


@pytest.fixture(scope="session")
def shop() -> Shop:
    return load_shop()


@pytest.fixture(scope="session")
def studies(shop: Shop) -> dict[str, Study]:
    return {file.stem: study_job(shop, load_job(file, shop)) for file in sorted(JOBS.glob("*.toml"))}


@pytest.fixture(scope="session")
def chosen(studies: dict[str, Study]) -> dict[str, tuple[str, ...]]:
    """For every job one upgrade of each slot that fits: a busy set that needs no engine."""
    sets = {}
    for name, study in studies.items():
        by_slot: dict[str, str] = {}
        for verdict in study.verdicts:
            if verdict.outcome != "does-not-fit":
                by_slot.setdefault(verdict.upgrade.slot, verdict.upgrade.id)
        sets[name] = tuple(sorted(by_slot.values()))[:14]
    return sets

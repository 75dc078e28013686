"""The default shop and the example jobs, studied once for all tests of the reports."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import Study, study_job
from estimator.input.job.load import load_job
from estimator.model import Shop
from tests.shops import default_shop
from tests.workbook.sets import together

JOBS = Path(__file__).resolve().parents[2] / "example_jobs"
#: so many upgrades make a busy set
BUSY = 14


@pytest.fixture(scope="session")
def shop() -> Shop:
    return default_shop()


@pytest.fixture(scope="session")
def metric(shop: Shop) -> Shop:
    """The shop where lengths are read in mm, whatever its country does."""
    return replace(shop, terms=replace(shop.terms, lengths="mm"))


@pytest.fixture(scope="session")
def studies(shop: Shop) -> dict[str, Study]:
    return {file.stem: study_job(shop, load_job(file, shop)) for file in sorted(JOBS.glob("*.toml"))}


@pytest.fixture(scope="session")
def chosen(studies: dict[str, Study]) -> dict[str, tuple[str, ...]]:
    """For every job the first upgrades that fit and go together: a busy set that needs no engine."""
    return {
        name: together(study, [v.upgrade.id for v in study.verdicts], BUSY) for name, study in studies.items()
    }

"""Work that may fail however it is done is told as expected, on every page, and never as a promise."""

from __future__ import annotations

from typing import Any

import pytest

from estimator.choose.faults import faults_found
from estimator.choose.study import Study, make_choice_of, spec_rows, study_job
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.report.words.customer import expected_words
from estimator.report.words.faults import fault_sentences
from estimator.tables.load import load_shop
from estimator.tables.toml.text import TomlFile


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop(None)


def study_of(shop: Shop, **instrument: Any) -> Study:
    values = {
        "job": {"id": "one", "kind": "commission"},
        "instrument": {"kind": "guitar-solid", **instrument},
        "wish": {"require": {"relief-control": 2}},
    }
    return study_job(shop, job_from(TomlFile("one.toml", values), shop))


@pytest.mark.parametrize(
    ("rod", "chosen", "sure"),
    [
        ("dead", "free-truss-rod", False),
        ("dead", "replacement-neck-standard", True),
        ("stiff", "free-truss-rod", True),
    ],
)
def test_a_dead_rod_is_expected_to_come_free_and_never_promised(
    shop: Shop, rod: str, chosen: str, sure: bool
) -> None:
    study = study_of(shop, rod_ok=rod, rod_spins=False)
    ids = [v.upgrade.id for v in study.verdicts if v.upgrade.id.startswith(chosen.removesuffix("-standard"))]
    choice = make_choice_of(study, (chosen if chosen in ids else ids[0],))
    rows = spec_rows(study, choice.estimate.chosen)
    row = next(row for row in rows if row.attribute == "relief-control")
    fault = next(fault for fault in faults_found(study, choice.estimate.chosen) if "rod" in fault.id)
    (told,) = fault_sentences([fault], "USD", set_named=True)
    assert row.reached >= 20
    assert fault.mended
    assert bool(row.may_fail) == (not sure)
    assert ("Mended by this set." in told) == sure
    assert expected_words(row, "works").startswith("expected") == (not sure or bool(row.rests_on))
    if not sure:
        assert "in three" in told
        assert "in three" in expected_words(row, "works")

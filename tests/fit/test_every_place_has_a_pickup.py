"""The shop has a pickup of the same sort whose poles meet the strings for every usual place of a bass."""

from __future__ import annotations

from typing import Any

import pytest

from estimator.choose.study import study_job
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.tables.load import load_shop
from estimator.tables.toml.text import TomlFile

SPLIT = "bass-split"
"""What a bass pickup is where its row does not say (part_dimensions.csv)."""
BASSES = ("bass-4-split", "bass-4-through", "bass-5-soap", "bass-6-soap")
USUAL = {
    "bass-single": ("middle", "bridge"),
    "bass-humbucker": ("middle", "bridge"),
    "bass-split": ("middle",),
}


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop(None)


@pytest.mark.parametrize("template", BASSES)
@pytest.mark.parametrize("sort", USUAL)
def test_a_pickup_is_replaced_by_one_of_its_sort(shop: Shop, template: str, sort: str) -> None:
    instrument: dict[str, Any] = {"template": template}
    instrument |= {f"pu_{place}": sort for place in USUAL[sort]}
    values = {"job": {"id": "one", "kind": "commission"}, "instrument": instrument}
    study = study_job(shop, job_from(TomlFile("one.toml", values), shop))
    for place in USUAL[sort]:
        mine = [
            verdict
            for verdict in study.verdicts
            if verdict.upgrade.row.id == f"{place}-pickup-bass"
            and verdict.upgrade.part is not None
            and verdict.upgrade.part.dims.get("sort", SPLIT) == sort
        ]
        assert mine, (template, place, sort)
        assert any(verdict.outcome != "does-not-fit" for verdict in mine), (template, place, sort)

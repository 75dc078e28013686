"""A fault that no work mends, such as a smell, takes its share off the price in every condition, and once."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Any

import pytest

from estimator.choose.faults import condition_words
from estimator.choose.study import Study, study_job
from estimator.core.money import cents
from estimator.estimate.sale_terms import clean_price, conditions_of
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.model.sale_problem import Sale
from estimator.tables.load import load_shop
from estimator.tables.toml.text import TomlFile

WRONG: tuple[dict[str, Any], ...] = (
    {},
    {"jack_state": "dead"},
    {"chip_n": 40},
    {"pot_state": "scratchy", "action_b": Decimal(3)},
    {"rod_ok": "dead"},
    {"crack_cm": 12, "crack_at": "peghead"},
)


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop(None)


def study_of(shop: Shop, instrument: dict[str, Any], condition: str = "") -> Study:
    values: dict[str, Any] = {
        "job": {"id": "one", "kind": "resale"},
        "instrument": {"kind": "guitar-solid", "tier": "C", **instrument},
        "upgrades": {"open": ["set-up", "clean-controls", "new-jack"]},
    }
    if condition:
        values["resale"] = {"condition": condition}
    return study_job(shop, job_from(TomlFile("one.toml", values), shop))


def sale_of(study: Study) -> Sale:
    assert isinstance(study.problem.sale, Sale)
    return study.problem.sale


@pytest.mark.parametrize("wrong", WRONG)
@pytest.mark.parametrize(("smell", "share"), [("smell_mould", "0.10"), ("smell_strong", "0.15")])
def test_a_smell_takes_its_share_of_every_condition_and_bars_none(
    shop: Shop, wrong: dict[str, Any], smell: str, share: str
) -> None:
    without, with_it = study_of(shop, wrong), study_of(shop, {**wrong, smell: True})
    base, _ = clean_price(shop, with_it.job)
    clean, smelly = sale_of(without), sale_of(with_it)
    factors = {grade.id: grade.factor for grade in shop.resale.ladder.values()}
    assert smelly.standing.condition == clean.standing.condition
    assert [one.condition for one in smelly.better] == [one.condition for one in clean.better]
    for one in (smelly.standing, *smelly.better):
        assert one.value == cents(base * factors[one.condition] * (1 - Decimal(share)))
    told = " ".join(condition_words(with_it))
    assert f"a buyer pays {int(Decimal(share) * 100)} % less" in told
    assert "a buyer pays" not in " ".join(condition_words(without))


def test_looks_that_are_poor_besides_still_hold_the_condition_back(shop: Shop) -> None:
    """Corroded metal holds the looks down whether it smells or not: then the smell lowers no need."""
    corroded = study_of(shop, {"corrosion": "corroded", "smell_mould": True}).job
    clean = study_of(shop, {"smell_mould": True}).job
    needed = {
        grade.id: needs["cosmetics"] for grade, needs in conditions_of(shop, clean) if "cosmetics" in needs
    }
    held = {
        grade.id: needs["cosmetics"] for grade, needs in conditions_of(shop, corroded) if "cosmetics" in needs
    }
    assert needed["clean-working"] == 1
    assert held["clean-working"] == 2


def test_drawn_instruments_never_bring_more_with_a_smell(shop: Shop) -> None:
    drawn = random.Random(11)
    for _ in range(12):
        wrong = drawn.choice(WRONG) | {"tier": drawn.choice("ABCDE")}
        condition = drawn.choice(["", "needs-repair", "fair-working", "parts-only"])
        clean = sale_of(study_of(shop, wrong, condition))
        smelly = sale_of(study_of(shop, {**wrong, "smell_mould": True}, condition))
        best = [max(one.value for one in (sale.standing, *sale.better)) for sale in (clean, smelly)]
        assert Decimal("0.84") * best[0] <= best[1] < best[0]

"""A set priced anew from what is remembered comes to what it comes to when all of it is worked out."""

from __future__ import annotations

import random
from functools import lru_cache
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator import load_job, study_job
from estimator.estimate.build import make_costing
from estimator.estimate.risk.anew import Anew
from estimator.fit.candidates import all_upgrades
from estimator.fit.judge import judge_all
from estimator.fit.otherwise import could_be
from estimator.model import Job, Shop
from tests.fit.measured import measured_as
from tests.shops import default_shop

EXAMPLES = Path(__file__).parents[3] / "example_jobs"
SHOP = default_shop()
NAMES = ("tight-commission", "short-scale-bass", "resale-flip", "school-guitar")


@lru_cache(maxsize=4)
def case(name: str) -> tuple[Shop, Job, tuple[str, ...]]:
    """An example job and what fits of each slot."""
    study = study_job(SHOP, load_job(EXAMPLES / f"{name}.toml", SHOP))
    chosen: dict[str, str] = {}
    for verdict in study.verdicts:
        if verdict.outcome != "does-not-fit":
            chosen.setdefault(verdict.upgrade.slot or verdict.upgrade.id, verdict.upgrade.id)
    return study.shop, study.job, tuple(chosen.values())


def worked_out(shop: Shop, job: Job, chosen: frozenset[str]) -> tuple[float, int] | None:
    """Minutes and cost with everything judged and priced from the tables, nothing remembered."""
    verdicts = judge_all(shop, job, [u for u in all_upgrades(shop, job) if u.id in chosen])
    if chosen != {v.upgrade.id for v in verdicts if v.outcome != "does-not-fit"}:
        return None
    totals = make_costing(shop, job, verdicts).estimate(chosen).totals
    return totals.expected / 100, totals.cost


@pytest.mark.parametrize("name", NAMES)
def test_what_is_remembered_is_what_is_worked_out(name: str) -> None:
    """Values changed one upon another and taken back again, in any order, on sets drawn from the job."""
    chance = random.Random(name)
    shop, job, upgrades = case(name)
    fields = [
        n for n, r in job.instrument.items() if r.assumed and n != "kind" and could_be(SHOP.intake[n], job)
    ]
    told = set[object]()
    for _ in range(4):
        chosen = frozenset(chance.sample(upgrades, min(len(upgrades), chance.randint(2, 8))))
        anew, moved = Anew(shop, job, chosen), job
        for _ in range(20):
            field = chance.choice(fields)
            moved = measured_as(shop, moved, field, chance.choice(could_be(SHOP.intake[field], job)))
            if chance.random() < 0.2:
                moved = job
            answer = anew.priced(moved)
            assert answer == worked_out(shop, moved, chosen), field
            told.add(answer)
    assert len(told) > 6


def test_another_shop_or_wish_is_never_answered_from_memory() -> None:
    """What the store was made for is told apart from any other job by all but the readings."""
    shop, job, upgrades = case("tight-commission")
    anew = Anew(shop, job, frozenset(upgrades[:2]))
    assert anew.priced(job) is not None
    with pytest.raises(ValueError, match="another job"):
        anew.priced(replace(job, terms=replace(job.terms, skill=1)))

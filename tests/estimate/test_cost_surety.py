"""A limit on cost at a surety against the tool's own simulation of the times it is made for."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import Study, make_choice, study_job
from estimator.estimate.risk.look_ahead import simulate_set, surety_rows
from estimator.input.job.load import load_job
from estimator.tables.load import load_shop

EXAMPLES = Path(__file__).parents[2] / "example_jobs"


@pytest.fixture(scope="module")
def study() -> Study:
    shop = load_shop(None)
    job = load_job(EXAMPLES / "tight-commission.toml", shop)
    return study_job(shop, replace(job, budget=replace(job.budget, money=None, minutes=None)))


def limited(study: Study, money: str, surety: int | None) -> Study:
    budget = replace(
        study.job.budget, money=Decimal(money), on="cost", surety=None if surety is None else Decimal(surety)
    )
    return study_job(study.shop, replace(study.job, budget=budget))


@pytest.mark.slow
@pytest.mark.parametrize("surety", [80, 95])
def test_a_limit_on_cost_is_refused_below_what_the_surety_needs(study: Study, surety: int) -> None:
    free = make_choice(limited(study, "100000", surety))
    measured = free.answer.measure
    assert measured is not None
    needed = measured.held("cost")
    assert needed > measured.cost + 1000
    # the risk takes the normal factor to more places than the limits do
    (row,) = surety_rows(free.study.costing, free.estimate, [surety])
    assert abs(row.cost - needed) < 100
    # the times alone: the curves are skewed, so the normal point is near the simulated one and not the same
    simulated = simulate_set(free.study.costing, free.answer.chosen, draws=40_000, events=False)
    point = simulated.cost.at(surety)
    assert abs(needed - point) < 0.25 * (needed - measured.cost), (needed, point)
    assert abs(measured.cost - point) > 0.75 * (needed - measured.cost)

    at_limit = limited(study, f"{Decimal(needed) / 100}", surety)
    kept = make_choice(at_limit)
    assert kept.answer.chosen == free.answer.chosen
    words = next(rule.words for rule in at_limit.problem.rules if rule.kind == "money")
    assert words.endswith(f"USD at {surety} % surety")
    under = make_choice(limited(study, f"{Decimal(needed - 1) / 100}", surety), explain=False)
    assert under.answer.chosen != free.answer.chosen
    if under.found:
        assert under.answer.measure is not None
        assert under.answer.measure.held("cost") < needed
    on_average = make_choice(limited(study, f"{Decimal(measured.cost) / 100}", None))
    assert on_average.answer.chosen == free.answer.chosen

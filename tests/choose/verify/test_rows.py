"""The second arithmetic against the first, over jobs drawn with a seed: to the cent, the minute, the level."""

from __future__ import annotations

import os
import random

import pytest

from estimator.choose.study import Study, make_choice, study_job
from estimator.choose.verify.answer import priced_amiss
from estimator.choose.verify.choice import amounts_reached, levels_reached
from estimator.choose.verify.levels import Spec
from estimator.choose.verify.lines import lines_amiss
from estimator.choose.verify.rows import Rows
from estimator.core.errors import InputError
from tests.drawn_jobs import drawn

CASES = int(os.environ.get("ESTIMATOR_CASES", "120")) // 8
SETS = 8
"""Sets of upgrades, chosen blindly, that each job is priced for."""


def studied(seed: int, buying: str) -> Study:
    shop, job = drawn(seed)
    try:
        return study_job(shop, job, buying)
    except InputError as error:
        pytest.skip(f"not offered on this instrument: {error}")


def rows_of(study: Study, whole: bool) -> Rows:
    verdicts = {verdict.upgrade.id: verdict for verdict in study.verdicts}
    return Rows(study.shop, study.job, verdicts, packs_in_cost=whole)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(CASES))
def test_any_set_comes_to_the_same_by_the_rows(seed: int) -> None:
    chance = random.Random(seed)
    whole = chance.random() < 0.3
    study = studied(seed, "whole" if whole else "share")
    rows = rows_of(study, whole)
    spec = Spec(rows)
    options = study.problem.options
    for _ in range(SETS):
        chosen = chance.sample(options, min(len(options), chance.randint(0, 12)))
        estimate = study.costing.estimate(chosen)
        assert lines_amiss(estimate) == []
        assert priced_amiss(rows, estimate) == []
        assert rows.cost(chosen) == estimate.totals.cost - estimate.totals.money.freight
        levels = spec.levels(chosen)
        assert levels == levels_reached(study.problem, chosen)
        assert {name: spec.reached(name, chosen) for name in levels} == levels
        amounts = amounts_reached(study.problem, chosen)
        for name, amount in spec.amounts(chosen).items():
            # every piece of a weight is cut off at the tenth of a gram
            pieces = len(rows.largest(chosen)) + 2 * len(chosen) + 1
            assert abs(float(amount) - amounts[name] / 1000) < 0.1 * pieces


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1000, 1000 + CASES))
def test_sound_answers_pass(seed: int) -> None:
    """No drawn answer is refused, neither the optimal ones nor those that say that there is none."""
    aim = random.Random(seed).choice(("cost", "cost", "cash", "hours", "price", "score"))
    answer = make_choice(studied(seed, "share"), aim, explain=False).answer
    assert answer.status in ("optimal", "infeasible")


@pytest.mark.slow
def test_a_price_taxed_by_the_invoice_is_cut_without_the_tax_of_lines() -> None:
    """Cuts of the price once counted the tax of each line though the invoice is taxed as one."""
    cut = 0
    for seed in range(1010, 1035):
        shop, job = drawn(seed)
        if shop.terms.tax_per == "line" or not (shop.terms.tax_parts or shop.terms.tax_labour):
            continue
        answer = make_choice(study_job(shop, job), "price", explain=False).answer
        assert answer.status in ("optimal", "infeasible"), seed
        cut += answer.status == "optimal"
    assert cut >= 3

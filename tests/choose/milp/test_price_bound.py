"""A lower bound on the price that is too high is refused by the first set that shows it; that of a shop never is."""

from __future__ import annotations

import random

import pytest
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.measure import Measure, PriceBound
from estimator.choose.milp.model import Programme
from estimator.choose.study import Study, price_bound, study_job
from estimator.core.errors import EngineError
from estimator.model.problem import Rule, Source
from tests.choose.milp.test_price_and_what_is_used import BOUND, LIKE, NAMES, small_quote
from tests.choose.own_measure import measure_of
from tests.drawn_jobs import drawn

TRUE = replace(BOUND, fee_from=2500)
TOO_HIGH = (
    replace(TRUE, constant=400),
    replace(TRUE, per_minute=1.2 * TRUE.per_minute),
    replace(TRUE, least=20_000),
    replace(TRUE, fee_from=0),
)
DEAREST = max(measure_of(LIKE, small_quote)((name,)).price for name in NAMES)


@pytest.mark.parametrize("bound", TOO_HIGH)
@pytest.mark.parametrize("aim", ["price", "cost"])
def test_a_bound_that_is_too_high_is_refused_even_where_no_set_is_lifted(bound: PriceBound, aim: str) -> None:
    """By the aim, and where the price is only held by a limit that leaves room for what the bound says."""
    limit = Rule(Source.BUDGET, "money", "the price", most=2 * DEAREST, on="price", of="money")
    problem = replace(LIKE, rules=(*LIKE.rules, limit))
    measure = measure_of(problem, small_quote)
    assert choose(problem, measure, TRUE, aim=aim, explain=False).status == "optimal"
    with pytest.raises(EngineError, match="lower bound"):
        choose(problem, measure, bound, aim=aim, explain=False)


def some_sets(study: Study, chance: random.Random) -> list[Measure]:
    """Sets of a study drawn at random, of none to all that are open."""
    ids = study.frame.options
    return [study.measure(tuple(sorted(chance.sample(ids, number)))) for number in range(len(ids) + 1)]


@pytest.mark.parametrize("seed", range(12))
def test_no_drawn_set_of_a_drawn_shop_costs_less_than_the_bound(seed: int) -> None:
    study = study_job(*drawn(seed))
    lazy = Programme(study.problem, study.measure, price_bound(study)).lazy
    for measured in some_sets(study, random.Random(seed)):
        lazy.check_bound(measured)

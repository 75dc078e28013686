"""The programme against the plain search over all subsets: to the cent and in the set."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from estimator.choose.measure import measure_of
from estimator.choose.run import choose
from estimator.recheck import recheck

from .shapes import (
    BLIND,
    STEPPED,
    allowed,
    best,
    fits_structure,
    keeps,
    plain,
    stepped_price,
    with_freight,
    with_packs,
)

CASES = int(os.environ.get("ESTIMATOR_CASES", "120"))
slow = settings(
    max_examples=CASES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@slow
@given(st.one_of(with_packs(), with_freight()), st.booleans())
def test_equals_search_over_all_subsets(problem, sharp):
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED if sharp else BLIND, explain=False)
    wanted = best(allowed(problem), "cost")
    event(answer.status)
    assert answer.proven
    assert answer.gap in (0.0, None)
    if wanted is None:
        assert answer.status == "infeasible"
        assert answer.chosen == ()
        return
    assert answer.status == "optimal"
    assert answer.objective == answer.bound == wanted.cost == answer.measure.cost
    assert answer.chosen == wanted.chosen
    assert answer.unique is True
    assert answer.measure.price == wanted.price
    assert answer.measure.minutes == wanted.minutes


@slow
@given(
    st.one_of(with_packs(most_options=5), with_freight(5)),
    st.sampled_from(("price", "hours", "cash,hours", "price,cost")),
)
def test_other_aims_equal_search(problem, aim):
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED, aim=aim, explain=False)
    figures = [{"hours": "minutes"}.get(name, name) for name in aim.split(",")]
    wanted = best(allowed(problem), *figures)
    assert (answer.status == "optimal") == (wanted is not None)
    if wanted is not None:
        assert answer.objective == getattr(wanted, figures[0])
        assert answer.chosen == wanted.chosen


@slow
@given(st.one_of(with_packs(), with_freight()), st.data())
def test_recheck_finds_exactly_what_the_search_finds(problem, data):
    chosen = tuple(sorted(data.draw(st.sets(st.sampled_from(problem.options)))))
    it = plain(problem, chosen)
    sound = fits_structure(problem, chosen) and all(keeps(rule, it) for rule in problem.rules)
    assert (recheck(problem, chosen, it.price) == []) == sound


@pytest.mark.parametrize("engine", ["cbc", "cpsat"])
@settings(max_examples=25, deadline=None, derandomize=True)
@given(problem=st.one_of(with_packs(), with_freight(5)))
def test_other_engines_agree(engine, problem):
    measure = measure_of(problem, stepped_price)
    one = choose(problem, measure, STEPPED, engine="highs", explain=False)
    other = choose(problem, measure, STEPPED, engine=engine, explain=False)
    assert (one.status, one.chosen, one.objective) == (other.status, other.chosen, other.objective)

"""Laws that any best choice obeys; they need no source."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.model.problem import Rule
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, stepped_price, with_packs
from tests.slow.choose.instances import typical

some = settings(max_examples=60, deadline=None, derandomize=True)


def solve(problem):
    return choose(problem, measure_of(problem, stepped_price), STEPPED, explain=False)


@pytest.mark.slow
@some
@given(with_packs(), st.integers(0, 6000), st.integers(0, 3000), st.sampled_from(("cost", "cash", "price")))
def test_more_budget_never_costs_more(problem, most, more, on):
    less, ampler = (
        solve(replace(problem, rules=(*problem.rules, Rule("law", "money", "limit", most=limit, on=on))))
        for limit in (most, most + more)
    )
    if less.status == "optimal":
        assert ampler.status == "optimal"
        assert ampler.objective <= less.objective


@pytest.mark.slow
@some
@given(with_packs(), st.data())
def test_fewer_rules_never_cost_more(problem, data):
    if not problem.rules:
        return
    left_out = data.draw(st.sampled_from(problem.rules))
    with_all, with_fewer = (
        solve(problem),
        solve(replace(problem, rules=tuple(r for r in problem.rules if r != left_out))),
    )
    if with_all.status == "optimal":
        assert with_fewer.status == "optimal"
        assert with_fewer.objective <= with_all.objective


@pytest.mark.slow
@some
@given(with_packs(), st.randoms(use_true_random=False))
def test_order_of_rows_changes_nothing(problem, rng):
    def shuffled(items):
        items = list(items)
        rng.shuffle(items)
        return tuple(items)

    other = replace(
        problem,
        slots=shuffled(problem.slots),
        prerequisites=shuffled(problem.prerequisites),
        conflicts=shuffled(problem.conflicts),
        pieces=shuffled(problem.pieces),
        scales=shuffled(problem.scales),
        rules=shuffled(problem.rules),
    )
    one, two = solve(problem), solve(other)
    assert (one.status, one.chosen, one.objective, one.measure) == (
        two.status,
        two.chosen,
        two.objective,
        two.measure,
    )


@pytest.mark.slow
@some
@given(with_packs())
def test_the_same_limit_twice_changes_nothing(problem):
    doubled = replace(
        problem, rules=(*problem.rules, *(replace(r, of=f"{r.of} again") for r in problem.rules))
    )
    one, two = solve(problem), solve(doubled)
    assert (one.status, one.chosen, one.objective) == (two.status, two.chosen, two.objective)


@pytest.mark.slow
@some
@given(with_packs(), st.integers(2, 9))
def test_scaling_all_money_scales_the_optimum(problem, factor):
    pieces = tuple(
        replace(p, cost=factor * p.cost, cash=factor * p.cash, price_parts=factor * p.price_parts)
        for p in problem.pieces
    )
    packs = tuple(replace(p, cents=factor * p.cents) for p in problem.packs)
    rules = tuple(r for r in problem.rules if r.on != "price")
    scaled_rules = tuple(replace(r, most=factor * r.most) if r.kind == "money" else r for r in rules)
    one = solve(replace(problem, rules=rules))
    two = solve(replace(problem, pieces=pieces, packs=packs, rules=scaled_rules))
    assert (one.status, one.chosen) == (two.status, two.chosen)
    if one.status == "optimal":
        assert two.objective == factor * one.objective


def test_shuffled_medium_problem_gives_the_same_set():
    problem = typical(40, 11)
    rng = random.Random(4)
    pieces, rules = list(problem.pieces), list(problem.rules)
    rng.shuffle(pieces)
    rng.shuffle(rules)
    one = solve(problem)
    two = solve(replace(problem, pieces=tuple(pieces), rules=tuple(rules)))
    assert one.status == "optimal"
    assert (one.chosen, one.objective) == (two.chosen, two.objective)

"""Frontier, next best, why and ranges against the search over all subsets."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.milp.model import Programme
from estimator.choose.questions.k_best import find_next_best
from estimator.choose.questions.pareto import pareto_front
from estimator.choose.questions.why import limit_ranges, stays_between, why_chosen
from estimator.choose.questions.why_not import why_left_out
from estimator.model.problem import Rule
from tests.choose.examples import two_bridges
from tests.choose.milp.test_objectives import plain_score, weighed
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, allowed, best, stepped_price, subsets, with_freight, with_packs

CASES = int(os.environ.get("ESTIMATOR_CASES", "60"))
slow = settings(
    max_examples=CASES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


def programme_of(problem, engine=None):
    return Programme(problem, measure_of(problem, stepped_price), STEPPED, engine)


def open_wishes(problem):
    return replace(problem, rules=tuple(r for r in problem.rules if r.kind not in ("level", "amount")))


def not_beaten(figures):
    return {
        f
        for f in figures
        if not any(o != f and all(a <= b for a, b in zip(o, f, strict=True)) for o in figures)
    }


@pytest.mark.slow
@slow
@given(weighed())
def test_frontier_is_every_non_dominated_pair(problem):
    frontier = pareto_front(programme_of(problem))
    sets = allowed(open_wishes(problem))
    wanted = not_beaten({(it.cost, -plain_score(problem, it)) for it in sets})
    assert frontier.complete
    assert [(p.cost, -p.score) for p in frontier.points] == sorted(wanted)
    held = {it.chosen for it in allowed(problem)}
    assert all(p.meets_wish == (p.chosen in held) for p in frontier.points)


@pytest.mark.slow
@slow
@given(weighed(most_options=4))
def test_frontier_with_hours_is_every_non_dominated_triple(problem):
    frontier = pareto_front(programme_of(problem), hours=True)
    sets = allowed(open_wishes(problem))
    wanted = not_beaten({(it.cost, -plain_score(problem, it), it.minutes) for it in sets})
    assert frontier.complete
    assert {(p.cost, -p.score, p.hours) for p in frontier.points} == wanted
    assert len(frontier.points) == len(wanted)


@pytest.mark.slow
@slow
@given(with_packs(most_options=5), st.integers(1, 12))
def test_next_best_are_the_best_in_order(problem, most):
    programme = programme_of(problem)
    told = find_next_best(programme, programme.columns.total("cost"), most)
    wanted = sorted(allowed(problem), key=lambda it: (it.cost, len(it.chosen), it.expected, it.chosen))
    assert told.complete
    assert [a.chosen for a in told.sets] == [it.chosen for it in wanted[:most]]
    assert [a.objective for a in told.sets] == [it.cost for it in wanted[:most]]
    for item in told.sets:
        assert set(item.chosen) == (set(told.sets[0].chosen) | set(item.added)) - set(item.dropped)


@pytest.mark.slow
@slow
@given(st.one_of(with_packs(most_options=5), with_freight(5)), st.integers(1, 8))
def test_next_best_without_what_comes_for_nothing(problem, most):
    programme = programme_of(problem)
    told = find_next_best(programme, programme.columns.total("cost"), most, extras=False)
    wanted = []
    for it in sorted(allowed(problem), key=lambda it: (it.cost, len(it.chosen), it.expected, it.chosen)):
        if not any(set(o.chosen) < set(it.chosen) and it.cost <= o.cost for o in wanted):
            wanted.append(it)
    assert told.complete
    assert [a.chosen for a in told.sets] == [it.chosen for it in wanted[:most]]
    assert [a.measure.cost for a in told.sets] == [it.cost for it in wanted[:most]]


def test_very_many_equals_are_still_ordered():
    from tests.choose.test_tie_break import equals

    problem = equals()
    programme = Programme(problem, measure_of(problem), engine="cpsat")
    told = find_next_best(programme, programme.columns.total("cost"), 3)
    assert [a.chosen for a in told.sets] == [("u00", "u01", f"u0{n}") for n in (2, 3, 4)]


@pytest.mark.slow
@slow
@given(st.one_of(with_packs(most_options=5), with_freight(5)))
def test_why_each_upgrade_is_in_or_out(problem):
    sets = allowed(problem)
    assume(sets)
    first = best(sets, "cost")
    programme = programme_of(problem)
    whole = programme.measure(first.chosen)
    for item in why_chosen(programme, first.chosen, first.cost):
        without = best([it for it in sets if item.upgrade not in it.chosen], "cost")
        assert (item.saving is None) == (without is None) == (item.without is None)
        if without is not None:
            assert item.saving == without.cost - first.cost >= 0
        rest = programme.measure(tuple(u for u in first.chosen if u != item.upgrade))
        assert item.cost == whole.cost - rest.cost
        if item.least is not None:
            (rule,) = item.needed_for
            eased = replace(problem, rules=tuple(r for r in problem.rules if r is not rule))
            others = [it for it in allowed(eased) if item.upgrade not in it.chosen]
            assert item.least == min(getattr(it, rule.on or "minutes") for it in others) > rule.most
        if without is not None or item.needed_for:
            continue
        # no rule of the user's is to blame: the rules of the trade alone demand it
        assert not [it for it in subsets(problem) if item.upgrade not in it.chosen]
    for item in why_left_out(programme, first.chosen, first.cost):
        with_it = best([it for it in sets if item.upgrade in it.chosen], "cost")
        assert (item.dearer is None) == (with_it is None)
        if with_it is not None:
            assert item.dearer == with_it.cost - first.cost >= 0
            more = next((it for it in sets if set(it.chosen) == {*first.chosen, item.upgrade}), None)
            assert item.free == (more is not None and more.cost == first.cost)


@pytest.mark.slow
@slow
@given(with_packs(most_options=5))
def test_an_upgrade_enters_at_its_price_to_enter(problem):
    """Limits on cost and cash kept: the part at the figure told draws level, and at one cent more does not."""
    problem = replace(problem, rules=tuple(r for r in problem.rules if r.on != "price"))
    sets = allowed(problem)
    assume(sets)
    first = best(sets, "cost")
    for item in why_left_out(programme_of(problem), first.chosen, first.cost):
        if not item.price_to_enter or item.dearer == 0:
            continue
        for price, enters in ((item.price_to_enter, True), (item.price_to_enter + 1, False)):
            pieces = tuple(
                replace(p, cost=price, cash=price) if p.id == f"part {item.upgrade}" else p
                for p in problem.pieces
            )
            held = allowed(replace(problem, pieces=pieces))
            assert any(it.chosen == first.chosen and it.cost == first.cost for it in held)
            with_it = min((it.cost for it in held if item.upgrade in it.chosen), default=None)
            assert (with_it is not None and with_it <= first.cost) == enters


@pytest.mark.slow
@slow
@given(with_packs(most_options=5), st.integers(0, 900))
def test_ranges_of_limits(problem, slack):
    sets = allowed(
        replace(problem, rules=tuple(r for r in problem.rules if r.kind not in ("money", "minutes")))
    )
    assume(sets)
    dear = best(sets, "minutes")
    rules = tuple(r for r in problem.rules if r.kind not in ("money", "minutes"))
    rules += (
        Rule("hours", "minutes", "time", most=max(0, dear.minutes + slack)),
        Rule("price", "money", "price", most=dear.price + slack, on="price"),
    )
    problem = replace(problem, rules=rules)
    sets = allowed(problem)
    assume(sets)
    first = best(sets, "cost")
    for told in limit_ranges(programme_of(problem), first.chosen, first.cost):
        figure = "minutes" if told.rule.kind == "minutes" else "price"
        assert told.low == getattr(first, figure)
        free = allowed(replace(problem, rules=tuple(r for r in rules if r.id != told.rule.id)))
        cheaper = [getattr(it, figure) for it in free if it.cost < first.cost]
        assert told.high == (min(cheaper) - 1 if cheaper else None)


@pytest.mark.parametrize(("low", "high"), [(3, 9), (5, 5), (0, 20), (5, 20)])
def test_halving_finds_both_ends(low, high):
    assert stays_between(lambda n: low <= n <= high, 5, 0, 20) == (low, high)


def test_what_each_upgrade_saves_is_told_by_hand():
    problem = two_bridges()
    programme = Programme(problem, measure_of(problem))
    told = why_chosen(programme, ("bridge",), 6500)
    assert [(c.upgrade, c.cost, c.without, c.saving) for c in told] == [
        ("bridge", 6000, ("block", "tremolo"), 700)
    ]
    left = why_left_out(programme, ("bridge",), 6500, cents_per_minute=60)
    assert [(o.upgrade, o.dearer, o.price_to_enter, o.pushes_out, o.brings_in) for o in left] == [
        ("block", 400, 0, (), ()),
        ("tremolo", 700, 3200, ("bridge",), ("block",)),
    ]
    assert left[1].minutes_to_enter == 1167

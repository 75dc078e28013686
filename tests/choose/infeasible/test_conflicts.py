"""Every minimal conflict, and the best that can be had, against the search over all subsets."""

from __future__ import annotations

import itertools
import math
import os
from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.infeasible.conflicts import (
    fewest_changes,
    keep_limits_alone,
    keep_the_limits,
    keep_the_wish,
    minimal_infeasible_sets,
)
from estimator.choose.infeasible.ways_out import InfeasibleSet, way_out
from estimator.choose.milp import model as programme_module
from estimator.choose.milp.model import Programme
from estimator.choose.solvers.backends import NO_ANSWER
from estimator.choose.solvers.solve import SolveResult, solve_model
from estimator.model.problem import Rule, Source
from tests.choose.examples import two_bridges
from tests.choose.infeasible.test_ways_out import figure as figure_of
from tests.choose.infeasible.test_ways_out import tight
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, allowed, keeps, stepped_price, subsets

CASES = int(os.environ.get("ESTIMATOR_CASES", "60"))
slow = settings(
    max_examples=CASES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


def independent(found: Sequence[InfeasibleSet]) -> list[InfeasibleSet]:
    """Those that share no rule with an earlier one: each must be mended by a change of its own."""
    taken: set[str] = set()
    told = []
    for one in found:
        ids = {rule.id for rule in one.rules}
        if not ids & taken:
            told.append(one)
            taken |= ids
    return told


def minimal_conflicts(problem, sets):
    """By all subsets of the rules: those that nothing keeps, though any smaller one can be kept."""
    kept = [frozenset(r.id for r in problem.rules if keeps(r, it)) for it in sets]
    ids = [r.id for r in problem.rules]
    clash: list[frozenset[str]] = []
    for n in range(len(ids) + 1):
        for some in map(frozenset, itertools.combinations(ids, n)):
            if not any(c <= some for c in clash) and not any(some <= k for k in kept):
                clash.append(some)
    return set(clash)


@pytest.mark.slow
@slow
@given(tight())
def test_every_minimal_conflict_is_found(problem):
    sets = subsets(problem)
    assume(not any(all(keeps(r, it) for r in problem.rules) for it in sets))
    told = minimal_infeasible_sets(Programme(problem, measure_of(problem, stepped_price), STEPPED), most=60)
    event(f"{len(told.sets)} conflicts, {len(independent(told.sets))} independent")
    assert told.complete
    found = [frozenset(r.id for r in c.rules) for c in told.sets]
    assert len(found) == len(set(found))
    assert set(found) == minimal_conflicts(problem, sets)
    for one, other in itertools.combinations(independent(told.sets), 2):
        assert not set(one.rules) & set(other.rules)


@pytest.mark.slow
@slow
@given(tight())
def test_the_fewest_changes_that_do_together(problem):
    """No set breaks fewer rules, and with those rules left out the set told keeps the rest."""
    sets = subsets(problem)
    assume(sets)
    assume(not any(all(keeps(r, it) for r in problem.rules) for it in sets))
    told = fewest_changes(Programme(problem, measure_of(problem, stepped_price), STEPPED))
    assert told is not None
    broken = {it.chosen: [r for r in problem.rules if not keeps(r, it)] for it in sets}
    assert len(told.given_up) == min(len(rules) for rules in broken.values())
    assert list(told.given_up) == broken[told.chosen]


def far(it, rule):
    """How far a figure lies beside a limit, and that in thousandths of the limit, rounded up."""
    figure = figure_of(it, rule)
    exact = shares = 0
    for limit, missed in ((rule.least, (rule.least or 0) - figure), (rule.most, figure - (rule.most or 0))):
        if limit is None or missed <= 0:
            continue
        unit = max(1, math.floor(abs(limit) / 1000 + 0.5))
        exact += missed
        shares += -(-missed // unit)
    return exact, shares


def nearness(it, rules, problem):
    """The stated measure, small is good: shares added up, then each limit and amount exactly, then the cost."""
    wishes = [r for r in problem.rules if r.kind == "level" and r.least]
    kept = (Fraction(1000 * min(it.levels[r.attribute], r.least), r.least) for r in wishes)
    short = -sum(int(share + Fraction(1, 2)) for share in kept)
    beside = [far(it, r) for r in rules]
    return (short + sum(shares for _, shares in beside), *(exact for exact, _ in beside), it.cost)


LIMITS = ("money", "minutes", "due")


@pytest.mark.slow
@slow
@given(tight(wishes=3))
def test_the_wish_at_the_least_excess(problem):
    sets = subsets(problem)
    assume(sets)
    programme = Programme(problem, measure_of(problem, stepped_price), STEPPED)
    limits = [r for r in problem.rules if r.kind in LIMITS]
    free = replace(problem, rules=tuple(r for r in problem.rules if r.kind not in LIMITS))
    wanted = [(far_off(it, limits), it.chosen) for it in allowed(free)]
    wish = keep_the_wish(programme)
    assert (wish is None) == (not wanted)
    event(f"{len(limits)} limits, {0 if wish is None else len(wish.given_up)} exceeded")
    if wish is None:
        return
    least = min(excess for excess, _ in wanted)
    assert wish.chosen in {chosen for excess, chosen in wanted if excess == least}
    assert set(wish.given_up) <= set(limits)
    if len(limits) == 1:  # one limit: what the way out says, to the cent
        way = way_out(programme, limits[0])
        assert way is not None
        assert (way.chosen, way.measure) == (wish.chosen, wish.measure)
        assert not wish.given_up or way.to == figure_of(
            next(i for i in sets if i.chosen == way.chosen), limits[0]
        )


def far_off(it, limits):
    beside = [far(it, r) for r in limits]
    return (sum(shares for _, shares in beside) if len(limits) > 1 else 0, *(e for e, _ in beside), it.cost)


def nearest_by_search(problem, sets, soft):
    """Every nearest set: what is not soft kept, fewest given up (of those, fewest required), then nearest."""
    hard = [r for r in problem.rules if r.kind not in soft]
    amounts = [r for r in problem.rules if r.kind == "amount"]
    alone = len(amounts) == 1 and not any(r.kind == "level" and r.least for r in problem.rules)

    def measure(it):
        missed = [r for r in problem.rules if r.kind in soft and not keeps(r, it)]
        near = nearness(it, amounts, problem)
        return len(missed), sum(r.kind == "required" for r in missed), *(near[1:] if alone else near)

    within = [it for it in sets if all(keeps(r, it) for r in hard)]
    least = min(map(measure, within), default=None)
    return {it.chosen for it in within if measure(it) == least}


@pytest.mark.slow
@slow
@given(tight(wishes=3, most=300))
def test_the_nearest_set_within_the_limits(problem):
    sets = subsets(problem)
    assume(sets)
    programme = Programme(problem, measure_of(problem, stepped_price), STEPPED)
    nearest = nearest_by_search(problem, sets, ("level", "amount"))
    told = keep_the_limits(programme)
    assert (told is None) == (not nearest)
    if told is not None:
        event(f"given up: {sorted({r.kind for r in told.given_up})}")
        assert told.chosen in nearest
        assert all(r.kind in ("level", "amount") for r in told.given_up)
    without = nearest_by_search(problem, sets, ("level", "amount", "required"))
    bare = keep_limits_alone(programme)
    assert (bare is None) == (not without)
    if bare is not None:
        assert bare.chosen in without


def test_two_independent_conflicts_are_told_together():
    problem = two_bridges()
    problem = replace(
        problem,
        rules=(
            Rule(Source.WISH, "level", "tuning at least level 3", "tuning", 30, of="tuning"),
            Rule(Source.BUDGET, "money", "cost at most 50.00", most=5000, on="cost"),
            Rule(Source.REQUIRED, "required", "tremolo is required", upgrades=("tremolo",), of="tremolo"),
            Rule(Source.REFUSED, "refused", "block is refused", upgrades=("block",), of="block"),
        ),
    )
    told = minimal_infeasible_sets(Programme(problem, measure_of(problem)))
    assert [[r.id for r in c.rules] for c in independent(told.sets)] == [
        ["wish:tuning", "budget"],
        ["required:tremolo", "refused:block"],
    ]
    assert told.complete
    assert (
        keep_the_limits(Programme(problem, measure_of(problem))) is None
    )  # it is required, its block refused
    within = keep_limits_alone(Programme(problem, measure_of(problem)))
    assert (within.chosen, within.words) == (
        (),
        ("tuning at least level 3: reaches 1 of 3", "tremolo is required: is missing"),
    )


def test_an_answer_carries_every_conflict_and_both_compromises():
    problem = two_bridges()
    rules = (
        Rule(Source.WISH, "level", "tuning at least level 3", "tuning", 30, of="tuning"),
        Rule(Source.BUDGET, "money", "cost at most 50.00", most=5000, on="cost"),
        Rule(Source.WISH, "amount", "weight at most 3.00 kg", "weight", most=3_000_000, of="weight"),
    )
    problem = replace(problem, rules=rules)
    answer = choose(problem, measure_of(problem))
    assert [[r.id for r in c.rules] for c in answer.conflicts] == [["wish:tuning", "budget"], ["wish:weight"]]
    assert answer.conflict == answer.conflicts[0]
    assert [(*w.settles, w.rule.id, w.kind, w.to, [r.id for r in w.aside]) for w in answer.ways_out] == [
        (1, "wish:tuning", "lower", 10, ["wish:weight"]),
        (1, "budget", "raise", 6500, ["wish:weight"]),
        (2, "wish:weight", "raise", 3_520_000, ["wish:tuning", "budget"]),
    ]
    assert answer.whole_wish is None  # no money buys an instrument lighter than 3.52 kg
    assert answer.within_limits.chosen == ("block",)  # 80 g nearer to the weight, within the money
    assert [r.id for r in answer.within_limits.given_up] == ["wish:tuning", "wish:weight"]
    one = choose(replace(problem, rules=rules[:2]), measure_of(problem))
    assert (one.whole_wish.chosen, one.whole_wish.measure.cost) == (("bridge",), 6500)
    assert [r.id for r in one.whole_wish.given_up] == ["budget"]
    assert [(w.rule.id, w.kind, w.to) for w in one.ways_out] == [
        ("wish:tuning", "lower", 10),
        ("budget", "raise", 6500),
    ]


@pytest.mark.slow
def test_whatever_question_is_the_one_that_time_ends_the_answer_says_so(monkeypatch):
    """Each question after the proof in turn ends without an answer: nothing is told as if it were all."""
    problem = two_bridges()
    rules = (
        Rule(Source.WISH, "level", "tuning at least level 3", "tuning", 30, of="tuning"),
        Rule(Source.BUDGET, "money", "cost at most 50.00", most=5000, on="cost"),
        Rule(Source.REQUIRED, "required", "block is required", upgrades=("block",), of="block"),
        Rule(Source.WISH, "amount", "weight at most 3.00 kg", "weight", most=3_000_000, of="weight"),
    )
    problem = replace(problem, rules=rules)
    asked = []

    def solve(*given, **more):
        asked.append(None)
        if len(asked) == ends_at:
            return SolveResult(NO_ANSWER, None, None, None, 0.0, "none")
        return solve_model(*given, **more)

    monkeypatch.setattr(programme_module, "solve_model", solve)
    ends_at = 0
    whole = choose(problem, measure_of(problem))
    assert whole.explained
    number = len(asked)
    for ends_at in range(1, number + 1):
        asked.clear()
        answer = choose(problem, measure_of(problem))
        assert answer.status == "no-answer" or not answer.explained, ends_at

"""Every minimal conflict, and the best that can be had, against the search over all subsets."""

from __future__ import annotations

import itertools
import os
from dataclasses import replace
from fractions import Fraction

from hypothesis import HealthCheck, assume, event, given, settings

from estimator.choose.conflicts import fewest_changes, find_conflicts, keep_the_limits, keep_the_wish
from estimator.choose.measure import measure_of
from estimator.choose.problem import Rule
from estimator.choose.programme import Programme
from estimator.choose.run import choose

from .examples import two_bridges
from .shapes import STEPPED, allowed, best, keeps, stepped_price, subsets
from .test_explain import tight

CASES = int(os.environ.get("ESTIMATOR_CASES", "60"))
slow = settings(
    max_examples=CASES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


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


@slow
@given(tight())
def test_every_minimal_conflict_is_found(problem):
    sets = subsets(problem)
    assume(not any(all(keeps(r, it) for r in problem.rules) for it in sets))
    told = find_conflicts(Programme(problem, measure_of(problem, stepped_price), STEPPED), most=60)
    event(f"{len(told.sets)} conflicts, {len(told.independent)} independent")
    assert told.complete
    found = [frozenset(r.id for r in c.rules) for c in told.sets]
    assert len(found) == len(set(found))
    assert set(found) == minimal_conflicts(problem, sets)
    for one, other in itertools.combinations(told.independent, 2):
        assert not set(one.rules) & set(other.rules)


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


@slow
@given(tight())
def test_the_wish_without_limits_and_the_best_within_them(problem):
    sets = subsets(problem)
    assume(sets)
    programme = Programme(problem, measure_of(problem, stepped_price), STEPPED)
    free = replace(problem, rules=tuple(r for r in problem.rules if r.kind not in ("money", "minutes")))
    wanted = best(allowed(free), "cost")
    wish = keep_the_wish(programme)
    assert (wish is None) == (wanted is None)
    if wish is not None:
        assert wish.measure.cost == wanted.cost
        assert set(wish.given_up) <= {r for r in problem.rules if r.kind in ("money", "minutes")}
    soft = ("level", "amount", "required")
    hard = [r for r in problem.rules if r.kind not in soft]
    within = [it for it in sets if all(keeps(r, it) for r in hard)]
    told = keep_the_limits(programme)
    assert (told is None) == (not within)
    if told is not None:

        def missed(it):
            return sum(not keeps(r, it) for r in problem.rules if r.kind in soft)

        fewest = min(map(missed, within))
        assert len(told.given_up) == fewest

        def nearness(it):
            wishes = [r for r in problem.rules if r.kind == "level" and r.least]
            shares = (Fraction(1000 * min(it.levels[r.attribute], r.least), r.least) for r in wishes)
            return sum(int(share + Fraction(1, 2)) for share in shares)

        nearest = max(nearness(it) for it in within if missed(it) == fewest)
        best_ones = [it for it in within if missed(it) == fewest and nearness(it) == nearest]
        assert told.measure.cost == min(it.cost for it in best_ones)
        assert told.chosen in {it.chosen for it in best_ones}


def test_two_independent_conflicts_are_told_together():
    problem = two_bridges()
    problem = replace(
        problem,
        rules=(
            Rule("wish:tuning", "level", "tuning at least level 3", "tuning", 30),
            Rule("budget", "money", "cost at most 50.00", most=5000, on="cost"),
            Rule("required:tremolo", "required", "tremolo is required", upgrade="tremolo"),
            Rule("refused:block", "refused", "block is refused", upgrade="block"),
        ),
    )
    told = find_conflicts(Programme(problem, measure_of(problem)))
    assert [[r.id for r in c.rules] for c in told.independent] == [
        ["wish:tuning", "budget"],
        ["required:tremolo", "refused:block"],
    ]
    assert told.complete
    within = keep_the_limits(Programme(problem, measure_of(problem)))
    assert (within.chosen, within.words) == (
        (),
        ("tuning at least level 3: reaches 1 of 3", "tremolo is required: is missing"),
    )


def test_an_answer_carries_every_conflict_and_both_compromises():
    problem = two_bridges()
    rules = (
        Rule("wish:tuning", "level", "tuning at least level 3", "tuning", 30),
        Rule("budget", "money", "cost at most 50.00", most=5000, on="cost"),
        Rule("wish:weight", "amount", "weight at most 3.00 kg", "weight", most=3_000_000),
    )
    problem = replace(problem, rules=rules)
    answer = choose(problem, measure_of(problem))
    assert [[r.id for r in c.rules] for c in answer.conflicts] == [["wish:tuning", "budget"], ["wish:weight"]]
    assert answer.conflict == answer.conflicts[0]
    assert answer.ways_out == ()
    assert [[(w.rule.id, w.kind, w.to) for w in ways] for ways in answer.mends] == [
        [("wish:tuning", "lower", 10), ("budget", "raise", 6500)],
        [("wish:weight", "raise", 3_520_000)],
    ]
    assert answer.whole_wish is None  # no money buys an instrument lighter than 3.52 kg
    assert answer.within_limits.chosen == ()
    assert [r.id for r in answer.within_limits.given_up] == ["wish:tuning", "wish:weight"]
    one = choose(replace(problem, rules=rules[:2]), measure_of(problem))
    assert (one.whole_wish.chosen, one.whole_wish.measure.cost) == (("bridge",), 6500)
    assert [r.id for r in one.whole_wish.given_up] == ["budget"]
    assert [(w.rule.id, w.kind, w.to) for w in one.ways_out] == [
        ("wish:tuning", "lower", 10),
        ("budget", "raise", 6500),
    ]

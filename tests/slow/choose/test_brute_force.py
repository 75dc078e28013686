"""The programme against the plain search over all subsets: to the cent and in the set."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.verify.choice import recheck
from estimator.model.problem import CostPiece, Problem, Rule
from tests.choose.own_measure import measure_of
from tests.choose.strategies import (
    BLIND,
    FEED,
    STEPPED,
    allowed,
    best,
    fits_structure,
    keeps,
    larger,
    plain,
    problems,
    stepped_price,
    subsets,
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


@pytest.mark.slow
@slow
@given(st.one_of(with_packs(), with_freight()), st.sampled_from((STEPPED, FEED, BLIND)))
def test_equals_search_over_all_subsets(problem, bound):
    answer = choose(problem, measure_of(problem, stepped_price), bound, explain=False)
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


@pytest.mark.slow
@slow
@given(
    st.one_of(with_packs(most_options=5), with_freight(5)),
    st.sampled_from(("price", "hours", "cash,hours", "price,cost")),
    st.sampled_from((STEPPED, FEED)),
)
def test_other_aims_equal_search(problem, aim, bound):
    answer = choose(problem, measure_of(problem, stepped_price), bound, aim=aim, explain=False)
    figures = [{"hours": "minutes"}.get(name, name) for name in aim.split(",")]
    wanted = best(allowed(problem), *figures)
    assert (answer.status == "optimal") == (wanted is not None)
    if wanted is not None:
        assert answer.objective == getattr(wanted, figures[0])
        assert answer.chosen == wanted.chosen


@pytest.mark.slow
@slow
@given(st.one_of(with_packs(), with_freight()), st.data())
def test_recheck_finds_exactly_what_the_search_finds(problem, data):
    chosen = tuple(sorted(data.draw(st.sets(st.sampled_from(problem.options)))))
    it = plain(problem, chosen)
    sound = fits_structure(problem, chosen) and all(keeps(rule, it) for rule in problem.rules)
    assert (recheck(problem, chosen, it.price) == []) == sound


@pytest.mark.slow
@pytest.mark.parametrize("engine", ["cbc", "cpsat"])
@settings(max_examples=25, deadline=None, derandomize=True)
@given(problem=st.one_of(with_packs(), with_freight(5)))
def test_other_engines_agree(engine, problem):
    measure = measure_of(problem, stepped_price)
    one = choose(problem, measure, STEPPED, engine="highs", explain=False)
    other = choose(problem, measure, STEPPED, engine=engine, explain=False)
    assert (one.status, one.chosen, one.objective) == (other.status, other.chosen, other.objective)


@pytest.mark.slow
@slow
@given(problems(), st.data())
def test_a_limit_on_cost_holds_at_the_surety(problem, data):
    """A limit between what the sets cost on average and at the surety: the search agrees, and so does recheck."""
    problem = replace(
        problem,
        hour_cents=data.draw(st.sampled_from((3000, 4560, 7861, 12000))),
        z_minutes=data.draw(st.sampled_from((0.84, 1.28, 1.64, 3.09))),
    )
    sets = subsets(problem)
    if not sets:
        return
    near = data.draw(st.sampled_from(sets))
    most = data.draw(st.integers(min(near.cost, near.sure_cost) - 1, max(near.cost, near.sure_cost) + 1))
    others = tuple(rule for rule in problem.rules if rule.kind not in ("money", "minutes"))
    problem = replace(problem, rules=(*others, Rule("most", "money", "cost", most=most, on="cost")))
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED, explain=False)
    wanted = best(allowed(problem), "cost")
    loose = best([it for it in sets if it.cost <= most and all(keeps(rule, it) for rule in others)], "cost")
    event(f"{answer.status}, {'the surety counts' if loose != wanted else 'the same as on average'}")
    assert answer.status == ("infeasible" if wanted is None else "optimal")
    if wanted is not None:
        assert answer.chosen == wanted.chosen
        assert answer.measure.held("cost") == wanted.sure_cost <= most
    for it in sets:
        told = recheck(replace(problem, rules=problem.rules[-1:]), it.chosen, it.price)
        assert (told == []) == (it.sure_cost <= most)


@pytest.mark.slow
@pytest.mark.parametrize("engine", ["highs", "cpsat"])
@pytest.mark.parametrize("seed", range(6))
def test_a_limit_on_cost_walked_down_cent_by_cent_of_what_is_needed(engine, seed):
    """Each limit is a cent under what the last answer needs: the next one is what working out all sets finds."""
    free = larger(seed, 9)
    sets = allowed(free)
    measure = measure_of(free, stepped_price)
    most = max(it.sure_cost for it in sets)
    for _ in range(8):
        held = replace(free, rules=(*free.rules, Rule("money", "money", "cost", most=most, on="cost")))
        answer = choose(held, measure, STEPPED, engine=engine, explain=False)
        wanted = best([it for it in sets if it.sure_cost <= most], "cost")
        assert answer.status == ("infeasible" if wanted is None else "optimal")
        if wanted is None:
            break
        assert answer.chosen == wanted.chosen
        most = wanted.sure_cost - 1
    least = min(it.sure_cost for it in sets)
    for to, status in ((least, "optimal"), (least - 1, "infeasible")):
        held = replace(free, rules=(*free.rules, Rule("money", "money", "cost", most=to, on="cost")))
        answer = choose(held, measure, STEPPED, engine=engine)
        assert answer.status == status
    assert ("money", least) in {(way.rule.id, way.to) for way in answer.ways_out}


def test_raising_a_limit_on_cost_names_what_is_needed_at_the_surety():
    """10.00 and 60 minutes at 60.00 an hour, spread 10 minutes: 70.00 on average, 86.40 at 95 in 100."""
    piece = CostPiece("work", ("bridge",), 7000, 0, 0, 0, 6000, 10.0, "work", 0)
    must = Rule("in", "required", "bridge is required", upgrades=("bridge",))
    problem = Problem(
        ("bridge",),
        (),
        (),
        (),
        (piece,),
        (),
        (),
        (must,),
        z_minutes=1.64,
        z_price=0.0,
        shared_cause=0.2,
        hour_cents=6000,
    )
    for most, status in ((8640, "optimal"), (8639, "infeasible")):
        held = replace(problem, rules=(must, Rule("money", "money", "cost", most=most, on="cost")))
        answer = choose(held, measure_of(held, stepped_price), STEPPED)
        assert answer.status == status
    assert {(way.rule.id, way.to) for way in answer.ways_out} >= {("money", 8640)}

"""Score, profit and profit per hour against the search over all subsets."""

from __future__ import annotations

import os
import re
import time
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.milp.linear import Linear
from estimator.choose.milp.model import Programme
from estimator.choose.milp.objectives import OBJECTIVES
from estimator.choose.milp.variables import Columns
from estimator.choose.verify.choice import income_of, score_reached
from estimator.cli.main import run
from estimator.core.errors import EngineError
from estimator.estimate.ways import EVERY_FIGURE
from estimator.model.problem import Income, Problem, Weight
from tests.choose.examples import two_bridges
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, Plain, allowed, stepped_price, with_packs

CASES = int(os.environ.get("ESTIMATOR_CASES", "120"))
slow = settings(
    max_examples=CASES, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)


@st.composite
def weighed(draw, most_options: int = 5, rules: bool = True) -> Problem:
    """A problem with weights on levels and on the weight in grams, and with incomes."""
    problem = draw(with_packs(most_options, rules))
    weights = [
        Weight(s.attribute, 1000 * draw(st.integers(0, 12)), draw(st.sampled_from((10, 20, 25, 30, 40))))
        for s in problem.scales
    ]
    limits = (4_100_000, 4_000_000, 3_950_000, 3_800_000)
    weights.append(Weight("weight", 3000, draw(st.sampled_from((20, 40))), limits, "less"))
    some = st.lists(st.sampled_from(problem.options), min_size=1, max_size=2, unique=True).map(tuple)
    incomes = [Income("always", None, draw(st.integers(0, 5000)))]
    incomes += [
        Income(f"i{k}", draw(some), draw(st.integers(-300, 6000))) for k in range(draw(st.integers(0, 4)))
    ]
    return replace(problem, weights=tuple(weights), incomes=tuple(incomes))


def plain_score(problem: Problem, it: Plain) -> int:
    total = 0
    for w in problem.weights:
        if w.limits:
            sign = -1 if w.better == "less" else 1
            met = [sign * it.amounts[w.attribute] >= sign * limit for limit in w.limits]
            level = 10 * (met.index(False) if False in met else len(met))
        else:
            level = it.levels[w.attribute]
        total += int(Fraction(w.weight * min(level, w.wanted), w.wanted) + Fraction(1, 2))
    return total


def plain_profit(problem: Problem, it: Plain) -> int:
    came = sum(i.cents for i in problem.incomes if i.triggers is None or set(i.triggers) & set(it.chosen))
    return came - it.cost


def pick(sets, key):
    return min(sets, key=lambda it: (*key(it), len(it.chosen), it.expected, it.chosen), default=None)


def best_by_the_hour(busy, left):
    """Most left for each hour; where every set leaves a loss the least loss, however short the work."""
    loss = max(map(left, busy), default=0) < 0
    return pick(busy, lambda it: (-Fraction(left(it), 1 if loss else it.expected),))


@pytest.mark.slow
@slow
@given(weighed(), st.sampled_from(("score", "score,cost", "cost,score", "score,hours")))
def test_score_equals_search(problem, aim):
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED, aim=aim, explain=False)
    figures = {
        "score": lambda it: -plain_score(problem, it),
        "cost": lambda it: it.cost,
        "hours": lambda it: it.minutes,
    }
    wanted = pick(allowed(problem), lambda it: tuple(figures[a](it) for a in aim.split(",")))
    assert (answer.status == "optimal") == (wanted is not None)
    if wanted is None:
        return
    first = figures[aim.split(",")[0]](wanted)
    assert answer.objective == (-first if aim.startswith("score") else first)
    assert answer.chosen == wanted.chosen
    assert score_reached(problem, answer.chosen) == plain_score(problem, wanted)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(weighed(rules=False), st.sampled_from(("cost", "profit")), st.integers(1, 5))
def test_a_least_score_is_reached_at_the_least_cost(problem, aim, quarters):
    """A quarter to all of the best score is asked for, and more than any set reaches."""
    sets = allowed(problem)
    asked = max((plain_score(problem, it) for it in sets), default=0) * quarters // 4 + (quarters == 5)
    held = replace(problem, least_score=asked)
    answer = choose(held, measure_of(held, stepped_price), STEPPED, aim=aim, explain=False)
    enough = [it for it in sets if plain_score(problem, it) >= asked]
    left = {"cost": lambda it: it.cost, "profit": lambda it: -plain_profit(problem, it)}[aim]
    wanted = pick(enough, lambda it: (left(it),))
    assert answer.status == ("infeasible" if wanted is None else "optimal")
    assert answer.chosen == (() if wanted is None else wanted.chosen)


@pytest.mark.slow
@slow
@given(weighed())
def test_profit_equals_search(problem):
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED, aim="profit", explain=False)
    wanted = pick(allowed(problem), lambda it: (-plain_profit(problem, it),))
    assert (answer.status == "optimal") == (wanted is not None)
    if wanted is not None:
        assert answer.objective == plain_profit(problem, wanted)
        assert answer.chosen == wanted.chosen
        assert income_of(problem, answer.chosen) - answer.measure.cost == answer.objective


@pytest.mark.slow
@slow
@given(weighed(), st.sampled_from(("highs", "cpsat")))
def test_profit_per_hour_equals_search(problem, engine):
    answer = choose(
        problem, measure_of(problem, stepped_price), STEPPED, aim="hourly", explain=False, engine=engine
    )
    busy = [it for it in allowed(problem) if it.expected >= 1]
    wanted = best_by_the_hour(busy, lambda it: plain_profit(problem, it))
    assert (answer.status == "optimal") == (wanted is not None)
    if wanted is not None:
        assert answer.chosen == wanted.chosen
        exact = Fraction(6000 * plain_profit(problem, wanted), wanted.expected)
        assert abs(answer.objective - exact) <= Fraction(1, 2)


@pytest.mark.slow
@slow
@given(weighed(), st.sampled_from(("profit", "hourly")))
def test_what_the_customer_pays_is_the_income(problem, aim):
    billed = replace(problem, incomes=(), billed=True)
    answer = choose(billed, measure_of(billed, stepped_price), STEPPED, aim=aim, explain=False)
    sets = allowed(billed)
    wanted_price = min((it.price for it in sets), default=None)
    at_it = [it for it in sets if it.price == wanted_price and (aim == "profit" or it.expected >= 1)]

    def left(it: Plain) -> int:
        return it.price - it.cost

    wanted = best_by_the_hour(at_it, left) if aim == "hourly" else pick(at_it, lambda it: (-left(it),))
    assert (answer.status == "optimal") == (wanted is not None)
    if wanted is not None:
        assert answer.chosen == wanted.chosen
        exact = Fraction(left(wanted)) if aim == "profit" else Fraction(6000 * left(wanted), wanted.expected)
        assert abs(answer.objective - exact) <= Fraction(1, 2)


@pytest.mark.slow
def test_the_least_price_is_looked_for_within_the_same_time_limit(monkeypatch):
    """Two questions, one limit: what the first takes is gone for the second."""
    deadlines = []

    class Slow(Programme):
        def __init__(self, problem, measure, bound=None, engine=None, deadline=None):
            deadlines.append(deadline)
            time.sleep(0.3)
            super().__init__(problem, measure, bound, engine, deadline)

    monkeypatch.setattr("estimator.choose.choose.Programme", Slow)
    billed = replace(two_bridges(), billed=True)
    start = time.perf_counter()
    answer = choose(billed, measure_of(billed, stepped_price), STEPPED, aim="profit", time_limit=60.0)
    assert answer.status == "optimal"
    assert len(deadlines) == 2
    assert all(deadline <= start + 60.2 for deadline in deadlines)

    late = choose(billed, measure_of(billed, stepped_price), STEPPED, aim="hourly", time_limit=0.0)
    assert (late.status, late.aim, late.objective) == ("no-answer", "hourly", None)


def test_unknown_aim_is_refused_in_words():
    with pytest.raises(EngineError, match="unknown aim “glory”; known are cost, cash, hours, score"):
        choose(two_bridges(), measure_of(two_bridges()), aim="cost,glory")


@pytest.mark.parametrize("name", list(OBJECTIVES))
def test_an_objective_names_every_figure_that_its_sum_takes(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A way to do a task is left out where it is worse in the figures named, so none may be missing."""
    named = set(OBJECTIVES[name].figures)
    assert named <= set(EVERY_FIGURE)
    taken = set()
    total = Columns.total

    def noted(columns: Columns, what: str) -> Linear:
        taken.add(what)
        return total(columns, what)

    problem = replace(two_bridges(), rules=())
    programme = Programme(problem, measure_of(problem, stepped_price), STEPPED)
    monkeypatch.setattr(Columns, "total", noted)
    make = OBJECTIVES[name].total or OBJECTIVES["profit"].total
    assert make is not None
    make(programme)
    # the cost and the mean minutes break ties and count always; masses are no figure of a way
    assert taken - {"cost", "minutes", "mass"} <= named
    assert taken or name == "score"


@pytest.mark.parametrize("command", ["choose", "plan"])
def test_the_help_names_every_aim(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([command, "--help"]) == 0
    helped = capsys.readouterr().out.split("--aim")[1]
    assert [name for name in OBJECTIVES if not re.search(rf"\b{name}\b", helped)] == []

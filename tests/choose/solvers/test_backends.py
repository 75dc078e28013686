"""What the engines say, read back truthfully: statuses, bounds, clean output, no import before need."""

from __future__ import annotations

import random
import subprocess
import sys
import warnings

import pytest

from estimator.choose.choose import choose
from estimator.choose.milp.linear import Linear, Model, make_row
from estimator.choose.milp.model import Programme
from estimator.choose.solvers.backends import ENGINES, _cpsat_programme, pulp_problem
from estimator.choose.solvers.solve import solve_model
from estimator.core.errors import EngineError
from tests.choose.examples import two_bridges
from tests.choose.own_measure import measure_of
from tests.slow.choose.instances import cover, hard_cover, market_split, typical

ENGINE_NAMES = sorted(ENGINES)

# C. C. Petersen, "Computational experience with variants of the Balas algorithm applied to the
# selection of R&D projects", Management Science 13(9), 1967, 736-750; optima from the OR-Library
# file mknap1 (J. E. Beasley, 1990). Optimum, items left out of the knapsack make the cover.
PETERSEN_1 = (
    3800,
    [100, 600, 1200, 2400, 500, 2000],
    [
        [8, 12, 13, 64, 22, 41],
        [8, 12, 13, 75, 22, 41],
        [3, 6, 4, 18, 6, 4],
        [5, 10, 8, 32, 6, 12],
        [5, 13, 8, 42, 6, 20],
        [5, 13, 8, 48, 6, 20],
        [0, 0, 0, 0, 8, 0],
        [3, 0, 4, 0, 8, 0],
        [3, 2, 4, 0, 8, 4],
        [3, 2, 4, 8, 8, 4],
    ],
    [80, 96, 20, 36, 44, 48, 10, 18, 22, 24],
    {2, 3, 6},
)
PETERSEN_3 = (
    4015,
    [100, 220, 90, 400, 300, 400, 205, 120, 160, 580, 400, 140, 100, 1300, 650],
    [
        [8, 24, 13, 80, 70, 80, 45, 15, 28, 90, 130, 32, 20, 120, 40],
        [8, 44, 13, 100, 100, 90, 75, 25, 28, 120, 130, 32, 40, 160, 40],
        [3, 6, 4, 20, 20, 30, 8, 3, 12, 14, 40, 6, 3, 20, 5],
        [5, 9, 6, 40, 30, 40, 16, 5, 18, 24, 60, 16, 11, 30, 25],
        [5, 11, 7, 50, 40, 40, 19, 7, 18, 29, 70, 21, 17, 30, 25],
        [5, 11, 7, 55, 40, 40, 21, 9, 18, 29, 70, 21, 17, 35, 25],
        [0, 0, 1, 10, 4, 10, 0, 6, 0, 6, 32, 3, 0, 70, 10],
        [3, 4, 5, 20, 14, 20, 6, 12, 10, 18, 42, 9, 12, 100, 20],
        [3, 6, 9, 30, 29, 20, 12, 12, 10, 30, 42, 18, 18, 110, 20],
        [3, 8, 9, 35, 29, 20, 16, 15, 10, 30, 42, 20, 18, 120, 20],
    ],
    [550, 700, 130, 240, 280, 310, 110, 205, 260, 275],
    {1, 2, 4, 6, 7, 9, 10, 14, 15},
)


@pytest.mark.parametrize("engine", ENGINE_NAMES)
@pytest.mark.parametrize("instance", [PETERSEN_1, PETERSEN_3], ids=["problem 1", "problem 3"])
def test_published_knapsacks_in_cover_form(engine, instance):
    optimum, profits, weights, limits, packed = instance
    problem = cover(profits, weights, limits)
    answer = choose(problem, measure_of(problem), engine=engine)
    assert answer.status == "optimal"
    assert answer.objective == sum(profits) - optimum
    left_out = {int(name[1:]) for name in answer.chosen}
    assert left_out == set(range(1, len(profits) + 1)) - packed


@pytest.mark.slow
@pytest.mark.parametrize("engine", ENGINE_NAMES)
def test_stopped_by_time_with_a_set_is_feasible_with_bound_and_gap(engine):
    problem = hard_cover(120, 8, 5)
    answer = choose(problem, measure_of(problem), engine=engine, time_limit=1.5)
    assert answer.status == "feasible"
    assert not answer.proven
    assert answer.unique is None
    assert answer.chosen
    assert answer.bound < answer.objective == answer.measure.cost
    assert answer.gap == pytest.approx((answer.objective - answer.bound) / answer.objective)
    assert 0 < answer.gap < 0.5


@pytest.mark.slow
@pytest.mark.parametrize("engine", ENGINE_NAMES)
def test_stopped_by_time_without_a_set_is_no_answer(engine):
    problem = market_split(40, 6, 1)
    answer = choose(problem, measure_of(problem), engine=engine, time_limit=0.5)
    assert (answer.status, answer.chosen, answer.objective, answer.gap) == ("no-answer", (), None, None)
    assert not answer.proven
    assert answer.conflict is None


@pytest.mark.slow
def test_modelling_layer_calls_a_stop_by_time_optimal_and_we_do_not():
    """The trap itself: if this ever changes, the translation in solve.py can be made simpler."""
    import pulp

    problem = hard_cover(120, 8, 5)
    programme = Programme(problem, measure_of(problem))
    lp, _ = pulp_problem(programme.model, programme.rows(), programme.columns.total("cost"))
    lp.solve(pulp.HiGHS(msg=False, timeLimit=0.5, threads=1, gapRel=0.0))
    assert pulp.LpStatus[lp.status] == "Optimal"
    told = choose(problem, measure_of(problem), time_limit=0.5)
    assert told.status in ("feasible", "no-answer")


@pytest.mark.parametrize("engine", ENGINE_NAMES)
def test_no_time_at_all_is_no_answer(engine):
    problem = two_bridges()
    assert choose(problem, measure_of(problem), engine=engine, time_limit=0).status == "no-answer"


@pytest.mark.parametrize("engine", ENGINE_NAMES)
def test_infeasible_is_told_as_such(engine):
    model = Model()
    a, b = model.column("x"), model.column("x")
    model.add(Linear({a: 2, b: 2}), 3, 3, "structure")  # whole numbers cannot: tightened away
    assert model.impossible == ["structure"]
    c = model.column("x")
    model.add(Linear({a: 1, b: 1}), None, 1, "one")
    model.add(Linear({a: 1, c: 1}), None, 1, "two")
    model.add(Linear({b: 1, c: 1}), None, 1, "three")
    model.add(Linear({a: 1, b: 1, c: 1}), 2, None, "four")
    outcome = solve_model(model, model.rows, Linear({a: 1}), engine)
    assert (outcome.status, outcome.values) == ("infeasible", None)


@pytest.mark.parametrize("engine", ENGINE_NAMES)
def test_column_in_no_row_and_rows_without_aim(engine):
    model = Model()
    a, b, c = model.column("x"), model.column("x"), model.column("x")
    model.add(Linear({a: 1, b: 1}), 1, None, "one")
    outcome = solve_model(model, model.rows, Linear({c: -3}, 7), engine)
    assert (outcome.status, outcome.objective, outcome.bound) == ("optimal", 4, 4)
    assert outcome.values[c] == 1
    assert outcome.values[a] + outcome.values[b] >= 1
    bare = solve_model(model, model.rows, Linear(), engine)
    assert (bare.status, bare.objective) == ("optimal", 0)
    assert solve_model(model, [], Linear({a: -1, b: 2}), engine).values == (1, 0, 0)


def test_a_row_over_nothing_that_cannot_hold_is_infeasible_not_ignored():
    model = Model()
    model.column("x")
    model.add(Linear(), 1, None, "wish")
    model.add(Linear(constant=2), None, 1, "other")
    model.add(Linear(), None, 5, "fine")
    assert model.impossible == ["wish", "other"]
    assert model.rows == []


def test_a_model_that_an_engine_refuses_is_no_answer_of_that_engine():
    """A row with numbers beyond what it takes must not be left out in silence."""
    model = Model()
    a, b = model.column("x"), model.column("x")
    model.add(Linear({a: 10**15 + 1, b: 1}), 1, 10**15, "large")
    with pytest.raises(EngineError, match="HiGHS refused the model"):
        ENGINES["highs"](model, model.rows, Linear({a: -1}), None)
    told = solve_model(model, model.rows, Linear({a: -1}), "highs")
    assert (told.engine, told.values, told.notes[0]) == (
        "cpsat",
        (0, 1),
        "highs failed: HiGHS refused the model",
    )
    # where no engine is named, so large a number goes to the one of whole numbers at once
    told = solve_model(model, model.rows, Linear({a: -1}))
    assert (told.engine, told.values, told.notes) == ("cpsat", (0, 1), ())


@pytest.mark.parametrize("seed", range(20))
def test_what_was_laid_for_earlier_questions_changes_no_later_one(seed):
    """Rows left out, added and taken back, ends moved, in any order: CP-SAT is told what it is told anew."""
    chance = random.Random(seed)
    model = Model()

    def more() -> None:
        for _ in range(chance.randint(1, 4)):
            model.column("x", 0, chance.randint(1, 9))
        for _ in range(chance.randint(1, 6)):
            some = chance.sample(range(len(model.names)), chance.randint(1, len(model.names)))
            row = Linear({column: chance.choice((-3, 1, 2)) for column in some})
            model.add(row, chance.randint(-4, 1), chance.randint(2, 9), "row")

    more()
    for _ in range(12):
        if chance.random() < 0.3:
            more()
        if chance.random() < 0.2:
            model.upper[chance.randrange(len(model.upper))] += 1
        rows = [row for row in model.rows if chance.random() < 0.9]
        if chance.random() < 0.5:
            rows = [*model.rows, make_row(Linear({0: chance.randint(1, 5)}), 0, chance.randint(0, 9), "more")]
        fresh = Model(model.names, model.lower, model.upper, model.kinds, model.rows)
        assert str(_cpsat_programme(model, rows)) == str(_cpsat_programme(fresh, rows))
        assert len(_cpsat_programme(model, rows).constraints) == len(rows)


def test_unknown_engine_is_refused_in_words():
    problem = two_bridges()
    with pytest.raises(EngineError, match="unknown engine “abacus”; known are highs, cbc, cpsat"):
        choose(problem, measure_of(problem), engine="abacus")


def test_no_warning_is_raised():
    problem = typical(30, 2)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for engine in ENGINES:
            assert choose(problem, measure_of(problem), engine=engine).status == "optimal"


def test_standard_output_stays_clean_and_nothing_heavy_is_imported_early():
    code = """
import sys
from estimator.choose.infeasible import ways_out as explain
from estimator.choose import choose as run
heavy = [m for m in ("pulp", "highspy", "numpy", "ortools", "scipy", "pandas") if m in sys.modules]
assert not heavy, heavy
from tests.choose.own_measure import measure_of
from estimator.model.problem import CostPiece, Problem
piece = CostPiece("p", ("a",), 100, 100, 0, 0, 0, 0.0, "p", 0)
problem = Problem(("a", "b"), (), (), (("a", "b"),), (piece,), (), (), (), 0.0, 0.0, 0.0)
for engine in ("highs", "cbc"):
    print(run.choose(problem, measure_of(problem), engine=engine).status)
"""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "optimal\noptimal\n", "")


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1, 9))
def test_medium_problems_equal_independent_engines(seed):
    """HiGHS, CBC and CP-SAT through our back ends, and scipy's own front to the same matrix."""
    np = pytest.importorskip("numpy")
    scipy_optimize = pytest.importorskip("scipy.optimize")
    problem = typical(24, seed, surety=0.0)
    measure = measure_of(problem)
    answers = {e: choose(problem, measure, engine=e, explain=False) for e in ENGINES}
    first = answers["highs"]
    assert {(a.status, a.objective, a.chosen) for a in answers.values()} == {
        (first.status, first.objective, first.chosen)
    }
    programme = Programme(problem, measure)
    rows, width = programme.rows(), len(programme.model.names)
    matrix = np.zeros((len(rows), width))
    for i, row in enumerate(rows):
        matrix[i, list(row.columns)] = row.coefficients
    total = programme.columns.total("cost")
    result = scipy_optimize.milp(
        [total.terms.get(c, 0) for c in range(width)],
        integrality=np.ones(width),
        bounds=scipy_optimize.Bounds(programme.model.lower, programme.model.upper),
        constraints=scipy_optimize.LinearConstraint(
            matrix,
            [-np.inf if r.lower is None else r.lower for r in rows],
            [np.inf if r.upper is None else r.upper for r in rows],
        ),
        options={"mip_rel_gap": 0.0},
    )
    if first.status == "infeasible" or programme.model.impossible:
        assert result.status == 2 or programme.model.impossible
    else:
        assert round(result.fun) + total.constant == first.objective


@pytest.mark.slow
def test_what_the_default_engine_cannot_prove_in_time_goes_to_the_second(monkeypatch):
    from estimator.choose.solvers import solve

    problem = typical(60, 3)
    calm = choose(problem, measure_of(problem), explain=False)
    monkeypatch.setattr(solve, "PATIENCE", 0.01)
    hasty = choose(problem, measure_of(problem), explain=False)
    assert hasty.status == "optimal"
    assert "cpsat" in hasty.engine
    assert (hasty.chosen, hasty.objective) == (calm.chosen, calm.objective)


def test_many_questions_move_to_the_engine_for_many():
    problem = typical(30, 2)
    programme = Programme(problem, measure_of(problem))
    total = programme.columns.total("cost")
    values = {programme.ask(total).objective for _ in range(10)}
    assert list(programme.engines_used) == ["highs", "cpsat"]
    assert len(values) == 1


@pytest.mark.slow
def test_two_engines_stopped_by_time_keep_the_better_set_and_bound(monkeypatch):
    from estimator.choose.solvers import solve

    monkeypatch.setattr(solve, "PATIENCE", 0.7)
    problem = hard_cover(120, 8, 5)
    answer = choose(problem, measure_of(problem), time_limit=1.6)
    assert answer.status == "feasible"
    assert answer.bound < answer.objective == answer.measure.cost

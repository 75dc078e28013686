"""What a float engine denies is asked once more in whole numbers; an engine that fails hands over."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimator.choose.choose import choose
from estimator.choose.milp.linear import INTEGER, STRUCTURE, Linear, Model, make_row
from estimator.choose.questions.pareto import pareto_front
from estimator.choose.solvers import backends as engines
from estimator.choose.solvers import solve
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL, EngineResult
from estimator.choose.solvers.solve import HIDES_A_UNIT, solve_model
from estimator.cli.main import run
from estimator.core.errors import EngineError
from estimator.model.problem import Problem
from tests.choose.own_measure import measure_of
from tests.choose.questions.test_all import not_beaten, open_wishes, plain_score, programme_of, weighed
from tests.choose.strategies import allowed
from tests.slow.choose.instances import typical

FLOAT = ("highs", "cbc")


def denies(model: Model, rows: object, objective: Linear, limit: float | None) -> EngineResult:
    return EngineResult(INFEASIBLE, None, None)


def fails(model: Model, rows: object, objective: Linear, limit: float | None) -> EngineResult:
    raise EngineError("stopped with the status “Solve error”")


@pytest.mark.parametrize("name", FLOAT)
def test_a_set_that_a_float_engine_denies_is_found_all_the_same(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    problem = typical(24, 1)
    true = choose(problem, measure_of(problem), engine="cpsat", explain=False)
    monkeypatch.setitem(engines.ENGINES, name, denies)
    told = choose(problem, measure_of(problem), engine=name, explain=False)
    assert (true.status, told.status) == (OPTIMAL, OPTIMAL)
    assert (told.chosen, told.objective) == (true.chosen, true.objective)
    assert any(f"{name} said “infeasible”; CP-SAT found a set" in note for note in told.engine_notes)


@pytest.mark.parametrize("name", ["highs", "cbc", "cpsat"])
def test_an_engine_that_fails_hands_over(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    problem = typical(24, 2)
    true = choose(problem, measure_of(problem), explain=False)
    monkeypatch.setitem(engines.ENGINES, name, fails)
    told = choose(problem, measure_of(problem), engine=name, explain=False)
    assert (told.status, told.chosen, told.objective) == (true.status, true.chosen, true.objective)
    assert any("Solve error" in note and name in note for note in told.engine_notes)
    assert true.engine_notes == ()


def test_a_false_optimum_over_large_coefficients_is_refuted(monkeypatch: pytest.MonkeyPatch) -> None:
    """a + b is least at 3 with M a + b >= 3; the engine says 5."""

    def wrong(model: Model, rows: object, objective: Linear, limit: float | None) -> EngineResult:
        return EngineResult(OPTIMAL, [0.0, 5.0], 5.0)

    for large, expected in ((HIDES_A_UNIT, 1), (10, 5)):
        model = Model()
        a, b = model.column("a", 0, 9, INTEGER), model.column("b", 0, 9, INTEGER)
        rows = [make_row(Linear({a: large, b: 1}), 3, None, STRUCTURE)]
        monkeypatch.setitem(engines.ENGINES, "highs", wrong)
        told = solve_model(model, rows, Linear({a: 1, b: 1}), "highs")
        assert told.objective == expected, large  # small rows are not doubted: that is the stated limit
        assert bool(told.notes) == (large == HIDES_A_UNIT)


def test_what_cannot_be_confirmed_in_time_is_no_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    def silent(model: Model, rows: object, objective: Linear, limit: float | None) -> EngineResult:
        return EngineResult(engines.NO_ANSWER, None, None)

    problem = typical(24, 1)
    monkeypatch.setitem(engines.ENGINES, "highs", denies)
    monkeypatch.setitem(engines.ENGINES, "cpsat", silent)
    told = choose(problem, measure_of(problem), engine="highs", explain=False)
    assert told.status == engines.NO_ANSWER
    assert not told.proven


def test_a_true_infeasible_stands_and_needs_no_note() -> None:
    model = Model()
    a = model.column("a", 0, 1, INTEGER)
    told = solve_model(model, [make_row(Linear({a: 2}), 3, None, STRUCTURE)], Linear({a: 1}), "highs")
    assert (told.status, told.notes, told.engine) == (INFEASIBLE, (), "highs")


def test_where_every_engine_fails_there_is_json_and_status_two(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in list(engines.ENGINES):
        monkeypatch.setitem(engines.ENGINES, name, fails)
    assert run(["choose", "example:tight-commission", "--json"]) == 2
    out, err = capsys.readouterr()
    data = json.loads(out)
    assert data["status"] == "engine-failed"
    assert "Solve error" in data["errors"][0]
    assert "Solve error" in err


@pytest.mark.slow
def test_the_notes_stand_in_the_json(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["choose", "example:tight-commission", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["engine_notes"] == []
    monkeypatch.setitem(engines.ENGINES, "highs", fails)
    assert run(["choose", "example:tight-commission", "--json", "--engine", "highs"]) == 0
    assert any("highs failed" in note for note in json.loads(capsys.readouterr().out)["engine_notes"])


@pytest.mark.slow
@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(weighed(most_options=4), st.sampled_from(("highs", "cbc", "cpsat")))
def test_a_frontier_of_three_figures_is_every_non_dominated_triple_by_every_engine(
    problem: Problem, name: str
) -> None:
    frontier = pareto_front(programme_of(problem, name), hours=True)
    sets = allowed(open_wishes(problem))
    assert frontier.complete
    assert {(p.cost, -p.score, p.hours) for p in frontier.points} == not_beaten(
        {(it.cost, -plain_score(problem, it), it.minutes) for it in sets}
    )


@pytest.mark.slow
def test_a_point_that_a_float_engine_denied_is_on_the_frontier(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Large rows for "not beaten" made HiGHS deny the set of 110.00 at 40.5 points in 2 h."""
    job = tmp_path / "w.toml"
    job.write_text(
        '[job]\nid = "w"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n[wish]\n'
        "require = { controls = 2 }\nweights = { intonation = 14, controls = 25, nut-function = 3 }\n"
    )
    found = {}
    for name in ("highs", "cpsat"):
        assert run(["choose", str(job), "--frontier", "--with-hours", "--engine", name, "--json"]) == 0
        found[name] = json.loads(capsys.readouterr().out)["frontier"]
    assert found["highs"] == found["cpsat"]
    assert len(found["highs"]) >= 7


def test_the_default_engine_and_its_helpers_are_known() -> None:
    assert solve.DEFAULT in engines.ENGINES
    assert set(solve.HANDED_TO) == set(engines.ENGINES)

"""The only place that knows the engines: hands the neutral model over, reads back the plain truth.

Statuses are taken from the engine's own model status, never from the modelling layer's (which calls
a solve stopped by time "Optimal"). Engines run on one thread with a gap of zero and a fixed seed.
"""

from __future__ import annotations

import contextlib
import math
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

from estimator.choose.matrix import IMPLIED, INTEGER, LOOSE, Linear, Model, Row
from estimator.errors import EngineError

OPTIMAL = "optimal"
FEASIBLE = "feasible"
INFEASIBLE = "infeasible"
UNBOUNDED = "unbounded"
NO_ANSWER = "no-answer"

SMALL = 100
"""Measured with HiGHS: up to so many questions it is faster without restarts and with only the
questions themselves declared whole; above, the other way round. CBC wants everything declared.
"""
WHOLE = (INTEGER, IMPLIED, LOOSE)
CHECKED = (INTEGER, IMPLIED)
WHOLE_WITHIN = 1e-4
"""How far a binary may lie from a whole number before the answer is refused."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an engine said: status, column values, objective and bound (constants included)."""

    status: str
    values: tuple[int, ...] | None
    objective: int | None
    bound: int | None
    seconds: float


def solve_model(
    model: Model,
    rows: Sequence[Row],
    objective: Linear,
    engine: str | None = None,
    time_limit: float | None = None,
) -> Outcome:
    """Minimise ``objective`` over ``rows``; raises EngineError if the engine fails or contradicts itself."""
    name = engine or default_engine()
    if name not in ENGINES:
        raise EngineError(f"unknown engine “{name}”; known are {', '.join(ENGINES)}")
    if time_limit is not None and time_limit <= 0:
        return Outcome(NO_ANSWER, None, None, None, 0.0)
    if not rows:
        return _without_rows(model, objective)
    start = time.perf_counter()
    raw = ENGINES[name](model, rows, objective, time_limit)
    return _outcome(model, rows, objective, raw, time.perf_counter() - start, name)


def _without_rows(model: Model, objective: Linear) -> Outcome:
    """Nothing binds: every column goes to its better end."""
    values = tuple(
        high if objective.terms.get(column, 0) < 0 else low
        for column, (low, high) in enumerate(zip(model.lower, model.upper, strict=True))
    )
    best = objective.value(dict(enumerate(values)))
    return Outcome(OPTIMAL, values, best, best, 0.0)


@dataclass(frozen=True, slots=True)
class _Raw:
    """An engine's answer before rounding; the bound is without the objective's constant."""

    status: str
    values: Sequence[float] | None
    bound: float | None


def _outcome(
    model: Model, rows: Sequence[Row], objective: Linear, raw: _Raw, seconds: float, name: str
) -> Outcome:
    bound = None
    if raw.bound is not None and math.isfinite(raw.bound) and abs(raw.bound) < 1e15:
        bound = math.ceil(raw.bound - 1e-5 * max(1.0, abs(raw.bound) * 1e-4)) + objective.constant
    if raw.status not in (OPTIMAL, FEASIBLE) or raw.values is None:
        return Outcome(raw.status, None, None, bound, seconds)
    values = dict(enumerate(_whole_values(model, raw.values, name)))
    for row in rows:
        if not row.holds(values) and all(model.kinds[c] in CHECKED for c in row.columns):
            raise EngineError(f"the engine {name} returned values that break a row; try another engine")
    found = objective.value(values)
    if raw.status == OPTIMAL or (bound is not None and bound > found):
        bound = found
    return Outcome(raw.status, tuple(values.values()), found, bound, seconds)


def _whole_values(model: Model, values: Sequence[float], name: str) -> Iterator[int]:
    """Each column rounded once: whole ones to the nearest, figures held from below upward."""
    for value, kind in zip(values, model.kinds, strict=True):
        if kind not in CHECKED:
            yield math.ceil(value - 1e-5 * max(1.0, abs(value) * 1e-4))
            continue
        nearest = round(value)
        if abs(value - nearest) > WHOLE_WITHIN:
            raise EngineError(f"the engine {name} left a yes-or-no question at {value}; try another engine")
        yield nearest


def default_engine() -> str:
    """HiGHS in process where it is installed, else the CBC that comes with pulp."""
    return "highs" if find_spec("highspy") else "cbc"


def available_engines() -> tuple[str, ...]:
    """The engines that are installed here."""
    needs = {"highs": "highspy", "cbc": "pulp", "cpsat": "ortools"}
    return tuple(name for name, module in needs.items() if find_spec(module))


def pulp_problem(
    model: Model, rows: Sequence[Row], objective: Linear, whole: Sequence[str] = WHOLE
) -> tuple[Any, list[Any]]:
    """The model as a pulp problem with generated names, and its variables in column order."""
    import pulp

    problem = pulp.LpProblem("choice", pulp.LpMinimize)
    variables = [
        problem.add_variable(name, low, high, pulp.LpInteger if kind in whole else pulp.LpContinuous)
        for name, low, high, kind in zip(model.names, model.lower, model.upper, model.kinds, strict=True)
    ]
    pairs = [(variables[c], value) for c, value in sorted(objective.terms.items()) if value]
    problem.setObjective(pulp.LpAffineExpression(pairs))
    for number, row in enumerate(rows):
        total = [(variables[c], a) for c, a in zip(row.columns, row.coefficients, strict=True)]
        ends = (
            [("e", pulp.LpConstraintEQ, row.lower)]
            if row.lower == row.upper
            else [("g", pulp.LpConstraintGE, row.lower), ("l", pulp.LpConstraintLE, row.upper)]
        )
        for side, sense, end in ends:
            if end is not None:
                expression = pulp.LpAffineExpression(total)
                name = f"r{number:06d}{side}"
                problem.addConstraint(pulp.LpConstraint(expression, sense, name, end), name)
    return problem, variables


def _values(model: Model, variables: Sequence[Any]) -> list[float]:
    """Values in column order; a column that no row and no aim speaks of stays at its lower end."""
    return [
        low if variable.varValue is None else float(variable.varValue)
        for variable, low in zip(variables, model.lower, strict=True)
    ]


_banner_shown = False


@contextlib.contextmanager
def _quiet_output() -> Iterator[None]:
    """Send file descriptor 1 elsewhere: the first use of highspy prints a banner past every switch."""
    global _banner_shown
    if _banner_shown:
        yield
        return
    with contextlib.suppress(OSError, ValueError, AttributeError):
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.close(nowhere)
        yield
        _banner_shown = True
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _highs(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> _Raw:
    with _quiet_output():
        import highspy
        import pulp

        small = model.kinds.count(INTEGER) <= SMALL
        problem, variables = pulp_problem(model, rows, objective, (INTEGER,) if small else WHOLE)
        engine = pulp.HiGHS(
            msg=False,
            gapRel=0.0,
            gapAbs=1e-6,
            threads=1,
            timeLimit=time_limit,
            random_seed=0,
            mip_feasibility_tolerance=1e-7,
            primal_feasibility_tolerance=1e-8,
            mip_allow_restart=not small,
        )
        problem.solve(engine)
    solver = problem.solverModel
    told, info = solver.getModelStatus(), solver.getInfo()
    known = highspy.HighsModelStatus
    held = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    status = {
        known.kOptimal: OPTIMAL,
        known.kInfeasible: INFEASIBLE,
        known.kUnbounded: UNBOUNDED,
        known.kUnboundedOrInfeasible: INFEASIBLE,  # every column is bounded, so it cannot be the other
    }.get(told, FEASIBLE if held else NO_ANSWER)
    stopped = (known.kTimeLimit, known.kInterrupt, known.kIterationLimit, known.kSolutionLimit)
    if status in (FEASIBLE, NO_ANSWER) and told not in stopped:
        raise EngineError(f"HiGHS stopped with the status “{solver.modelStatusToString(told)}”")
    values = _values(model, variables) if status in (OPTIMAL, FEASIBLE) else None
    bound = info.mip_dual_bound if info.mip_node_count >= 0 else info.objective_function_value
    return _Raw(status, values, bound if status in (OPTIMAL, FEASIBLE, NO_ANSWER) else None)


def _cbc(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> _Raw:
    import pulp

    problem, variables = pulp_problem(model, rows, objective)
    with tempfile.TemporaryDirectory() as folder:
        log = os.path.join(folder, "cbc.log")
        engine = pulp.COIN_CMD(
            path=pulp.PULP_CBC_CMD.pulp_cbc_path,
            msg=False,
            gapRel=0.0,
            gapAbs=0.0,
            threads=1,
            timeLimit=time_limit,
            logPath=log,
            options=["integerTolerance 1e-7"],
        )
        engine.tmpDir = folder
        try:
            problem.solve(engine)
        except pulp.PulpSolverError as error:
            raise EngineError(f"CBC could not be run: {error}") from None
        with open(log, encoding="utf-8", errors="replace") as file:
            text = file.read()
    status = {
        pulp.LpSolutionOptimal: OPTIMAL,
        pulp.LpSolutionIntegerFeasible: FEASIBLE,
        pulp.LpSolutionInfeasible: INFEASIBLE,
        pulp.LpSolutionUnbounded: UNBOUNDED,
    }.get(problem.sol_status, NO_ANSWER)
    if status == NO_ANSWER and problem.status == pulp.LpStatusInfeasible:
        status = INFEASIBLE  # CBC's first word is then "Integer", which the modelling layer half reads
    if status == FEASIBLE and "No feasible solution found" in text:
        status = NO_ANSWER
    values = _values(model, variables) if status in (OPTIMAL, FEASIBLE) else None
    bound = None
    for line in text.splitlines():
        if line.startswith("Lower bound:"):
            bound = float(line.split(":")[1])
    return _Raw(status, values, bound)


def _cpsat(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> _Raw:
    from ortools.sat.python import cp_model

    programme = cp_model.CpModel()
    variables = [
        programme.new_int_var(low, high, name)
        for name, low, high in zip(model.names, model.lower, model.upper, strict=True)
    ]
    for row in rows:
        total = cp_model.LinearExpr.weighted_sum([variables[c] for c in row.columns], row.coefficients)
        low = cp_model.INT_MIN if row.lower is None else row.lower
        high = cp_model.INT_MAX if row.upper is None else row.upper
        programme.add_linear_constraint(total, low, high)
    terms = [(variables[c], v) for c, v in sorted(objective.terms.items()) if v]
    if terms:
        programme.minimize(cp_model.LinearExpr.weighted_sum([t[0] for t in terms], [t[1] for t in terms]))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    if time_limit is not None:
        solver.parameters.max_time_in_seconds = time_limit
    told = solver.solve(programme)
    status = {
        cp_model.OPTIMAL: OPTIMAL,
        cp_model.FEASIBLE: FEASIBLE,
        cp_model.INFEASIBLE: INFEASIBLE,
        cp_model.UNKNOWN: NO_ANSWER,
    }.get(told)
    if status is None:
        raise EngineError(f"CP-SAT refused the model: {programme.validate()}")
    values = [solver.value(v) for v in variables] if status in (OPTIMAL, FEASIBLE) else None
    bound = solver.best_objective_bound if terms and status != INFEASIBLE else None
    return _Raw(status, values, bound)


ENGINES: dict[str, Callable[[Model, Sequence[Row], Linear, float | None], _Raw]] = {
    "highs": _highs,
    "cbc": _cbc,
    "cpsat": _cpsat,
}

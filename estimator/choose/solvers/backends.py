"""The only place that knows the engines: the neutral model out, values and status back.

Statuses are taken from the engine's own model status, never from the modelling layer's (which calls
a solve stopped by time "Optimal"). Engines run on one thread with a gap of zero and a fixed seed.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from msgspec import Struct

from estimator.choose.milp.linear import IMPLIED, INTEGER, LOOSE, Linear, Model, Row
from estimator.choose.solvers import cp_sat
from estimator.core.errors import EngineError

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


class EngineResult(Struct, frozen=True):
    """An engine's answer before rounding; the bound is without the objective's constant."""

    status: str
    values: Sequence[float] | None
    bound: float | None


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
_QUIET = threading.RLock()


@contextlib.contextmanager
def quiet_output() -> Iterator[None]:
    """Send file descriptor 1 elsewhere: the first use of highspy prints a banner past every switch."""
    global _banner_shown
    if _banner_shown:
        yield
        return
    with _QUIET:  # of two at once one would take the other's nowhere for what was there before
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


def _spoken_of(model: Model, rows: Sequence[Row], objective: Linear) -> list[int]:
    """The columns that a row or the aim speaks of, in order of name."""
    spoken = {column for column, value in objective.terms.items() if value}
    spoken.update(column for row in rows for column in row.columns)
    return sorted(spoken, key=model.names.__getitem__)


def _highs_lp(
    model: Model, rows: Sequence[Row], objective: Linear, columns: Sequence[int], whole: Sequence[str]
) -> Any:
    """The model in the arrays of HiGHS, row by row; a row with two ends stands as two, as in ``pulp_problem``."""
    import highspy

    place = {column: number for number, column in enumerate(columns)}
    starts, indices, values = [0], list[int](), list[float]()
    lows, highs = list[float](), list[float]()
    for row in rows:
        of_row = [place[column] for column in row.columns]
        coefficients = [float(value) for value in row.coefficients]
        both = row.lower == row.upper
        for low, high in ((row.lower, row.upper),) if both else ((row.lower, None), (None, row.upper)):
            if low is None and high is None:
                continue
            indices += of_row
            values += coefficients
            starts.append(len(indices))
            lows.append(-highspy.kHighsInf if low is None else float(low))
            highs.append(highspy.kHighsInf if high is None else float(high))
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(columns), len(lows)
    lp.col_cost_ = [float(objective.terms.get(column, 0)) for column in columns]
    lp.col_lower_ = [float(model.lower[column]) for column in columns]
    lp.col_upper_ = [float(model.upper[column]) for column in columns]
    lp.row_lower_, lp.row_upper_ = lows, highs
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = lp.num_col_, lp.num_row_
    lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = starts, indices, values
    kinds = highspy.HighsVarType
    lp.integrality_ = [kinds.kInteger if model.kinds[c] in whole else kinds.kContinuous for c in columns]
    return lp


def _highs(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> EngineResult:
    small = model.kinds.count(INTEGER) <= SMALL
    columns = _spoken_of(model, rows, objective)
    options = {
        "output_flag": False,
        "mip_rel_gap": 0.0,
        "mip_abs_gap": 1e-6,
        "threads": 1,
        "random_seed": 0,
        "mip_feasibility_tolerance": 1e-7,
        "primal_feasibility_tolerance": 1e-8,
        "mip_allow_restart": not small,
        # measured: its probing takes several times as long as the solve that it shortens
        "presolve": "off",
        # measured: this search for a first set takes most of a small solve and a third of a middle one
        "mip_heuristic_run_feasibility_jump": False,
    }
    if time_limit is not None:
        options["time_limit"] = float(time_limit)
    with quiet_output():
        import highspy

        solver = highspy.Highs()
        for option, value in options.items():
            solver.setOptionValue(option, value)
        lp = _highs_lp(model, rows, objective, columns, (INTEGER,) if small else WHOLE)
        if solver.passModel(lp) == highspy.HighsStatus.kError:
            raise EngineError("HiGHS refused the model")
        solver.run()
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
    values = None
    if status in (OPTIMAL, FEASIBLE):
        # a column that no row and no aim speaks of stays at its lower end
        told_of = dict(zip(columns, solver.getSolution().col_value, strict=True))
        values = [told_of.get(column, float(low)) for column, low in enumerate(model.lower)]
    bound = info.mip_dual_bound if info.mip_node_count >= 0 else info.objective_function_value
    return EngineResult(status, values, bound if status in (OPTIMAL, FEASIBLE, NO_ANSWER) else None)


def _cbc(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> EngineResult:
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
    return EngineResult(status, values, bound)


class _Laid(Struct, frozen=True):
    """Columns between their ends and the rows that a model's questions have in common, as CP-SAT has them."""

    ends: tuple[tuple[int, ...], tuple[int, ...]]
    rows: tuple[Row, ...]
    programme: Any


def _cpsat_programme(model: Model, rows: Sequence[Row]) -> Any:
    """The rows for CP-SAT: a copy of those laid for an earlier question, with the others after them.

    The order is that of ``rows`` whatever was laid before, so that the answer hangs on nothing else.
    """
    engine = cp_sat.for_rows()
    ends = (tuple(model.lower), tuple(model.upper))
    laid = model.laid.get("cpsat")
    known = laid if isinstance(laid, _Laid) and laid.ends == ends else None
    shared = model.rows if known is None else known.rows
    common = next((n for n, (one, row) in enumerate(zip(shared, rows, strict=False)) if one is not row), None)
    common = min(len(shared), len(rows)) if common is None else common
    if known is None or common < len(known.rows):
        programme = engine.model()
        variables = engine.record(programme).variables
        for between in zip(*ends, strict=True):
            variables.add().domain.extend(between)
        _add_rows(engine.record(programme), rows[:common])
        known = _Laid(ends, tuple(rows[:common]), programme)
        model.laid["cpsat"] = known
    programme = engine.copied(known.programme)
    _add_rows(engine.record(programme), rows[common:])
    return programme


def _add_rows(record: Any, rows: Sequence[Row]) -> None:
    """Add rows as the model itself holds them: made of sums of its variables they take more than twice as long."""
    constraints = record.constraints
    for row in rows:
        added = constraints.add().linear
        added.vars.extend(row.columns)
        added.coeffs.extend(row.coefficients)
        added.domain.extend(
            (
                cp_sat.LOWEST if row.lower is None else row.lower,
                cp_sat.HIGHEST if row.upper is None else row.upper,
            )
        )


def _cpsat(model: Model, rows: Sequence[Row], objective: Linear, time_limit: float | None) -> EngineResult:
    engine = cp_sat.for_rows()
    programme = _cpsat_programme(model, rows)
    terms = [(column, value) for column, value in sorted(objective.terms.items()) if value]
    if terms:
        least = engine.record(programme).objective
        least.vars.extend([column for column, _ in terms])
        least.coeffs.extend([value for _, value in terms])
        least.scaling_factor = 1.0
    settings: dict[str, object] = {
        "num_workers": 1,
        "catch_sigint_signal": False,  # Ctrl-C ends the command, not the search alone
        "random_seed": 0,
        "linearization_level": 2,  # measured: up to ten times as quick where freight counts
        # measured: without looking for symmetries, and looked through once, it answers in three quarters of the time
        "symmetry_level": 0,
        "max_presolve_iterations": 1,
    }
    if time_limit is not None:
        settings["max_time_in_seconds"] = time_limit
    told = engine.solve(programme, settings)
    status = {
        "OPTIMAL": OPTIMAL,
        "FEASIBLE": FEASIBLE,
        "INFEASIBLE": INFEASIBLE,
        "UNKNOWN": NO_ANSWER,
    }.get(told.status)
    if status is None:
        raise EngineError(f"CP-SAT refused the model: {engine.refused(programme)}")
    values = list(told.values) if status in (OPTIMAL, FEASIBLE) else None
    # it reckons in whole numbers, so an optimum is one; the bound it tells is rounded to a float
    bound = told.bound if terms and status in (FEASIBLE, NO_ANSWER) else None
    return EngineResult(status, values, bound)


ENGINES: dict[str, Callable[[Model, Sequence[Row], Linear, float | None], EngineResult]] = {
    "highs": _highs,
    "cbc": _cbc,
    "cpsat": _cpsat,
}


def load_usual() -> None:
    """Load the engine that is asked first, so that the first question does not wait for it."""
    import highspy  # no banner yet: that comes with the first solve

    assert highspy is not None


def load_confirming() -> None:
    """Load the engine that confirms in whole numbers: the slowest to load."""
    cp_sat.for_rows()

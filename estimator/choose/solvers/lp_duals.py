"""A model with its whole numbers let go: the value of the linear programme and what each row is worth."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.milp.linear import Linear, Model, Row
from estimator.choose.solvers.backends import pulp_problem, quiet_output
from estimator.core.errors import EngineError


def row_duals(model: Model, rows: Sequence[Row], objective: Linear) -> tuple[float, list[float]]:
    """The least ``objective`` over fractional columns, and for each row how it changes per unit of its end.

    Never exact (the engine works in floating point), so only good for guiding a search. EngineError if
    the programme has no solution.
    """
    with quiet_output():
        import pulp

        problem, _ = pulp_problem(model, rows, objective, whole=())
        problem.solve(pulp.HiGHS(msg=False, threads=1, random_seed=0))
    if problem.status != pulp.LpStatusOptimal:
        raise EngineError(f"the relaxed programme ended as “{pulp.LpStatus[problem.status]}”")
    prices = [0.0] * len(rows)
    for constraint in problem.constraints():
        prices[int(constraint.name[1:-1])] += float(constraint.pi or 0.0)  # a row may have been laid as two
    return float(pulp.value(problem.objective)) + objective.constant, prices

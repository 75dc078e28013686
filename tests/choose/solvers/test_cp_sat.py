"""The schedule and choice solver is loaded without pandas, rows without numpy too, and nobody else is left with half of it."""

from __future__ import annotations

import subprocess
import sys

SOLVED = """
import sys
from estimator.choose.solvers import cp_sat

def solved(module):
    model = module.CpModel()
    a, b = (model.new_int_var(0, 9, name) for name in "ab")
    model.add_linear_constraint(2 * a + b, 7, 7)
    model.minimize(a + b)
    solver = module.CpSolver()
    assert solver.solve(model) == module.OPTIMAL
    return [solver.value(one) for one in (a, b)]
"""


def said(code: str) -> str:
    """What a fresh interpreter prints, with every warning an error."""
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", SOLVED + code], capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    return run.stdout.strip()


def test_it_solves_without_pandas() -> None:
    code = "print(solved(cp_sat.cp_model()), 'pandas' in sys.modules, cp_sat.cp_model() is cp_sat.cp_model())"
    assert said(code) == "[3, 1] False True"


def test_who_imports_it_by_name_afterwards_gets_the_whole_of_it_and_of_pandas() -> None:
    code = """
ours = cp_sat.cp_model()
import pandas
from ortools.sat.python import cp_model
assert cp_model is not ours
model = cp_model.CpModel()
made = model.new_int_var_series("x", pandas.Index(["a", "b"]), 0, 5)
print(type(made) is pandas.Series, list(made.index), solved(ours), solved(cp_model))
"""
    assert said(code) == "True ['a', 'b'] [3, 1] [3, 1]"


def test_where_pandas_is_there_it_is_the_one_module() -> None:
    code = """
import pandas
ours = cp_sat.cp_model()
from ortools.sat.python import cp_model
print(ours is cp_model, ours.pd is pandas)
"""
    assert said(code) == "True True"


def test_where_it_needs_more_of_pandas_it_is_loaded_with_pandas() -> None:
    code = """
cp_sat.USED_OF_TABLES = ("Index",)  # as if the module asked for something that the stand-in has not
ours = cp_sat.cp_model()
import pandas
print(ours.pd is pandas, solved(ours))
"""
    assert said(code) == "True [3, 1]"


ROWS = """
def rows():
    engine = cp_sat.for_rows()
    model = engine.model()
    record = engine.record(model)
    for _ in range(2):
        record.variables.add().domain.extend((0, 9))
    row = record.constraints.add().linear
    row.vars.extend((0, 1))
    row.coeffs.extend((2, 1))
    row.domain.extend((7, cp_sat.HIGHEST))
    again = engine.copied(model)
    engine.record(again).objective.vars.extend((0, 1))
    engine.record(again).objective.coeffs.extend((1, 1))
    told = engine.solve(again, {"num_workers": 1})
    engine.record(again).objective.vars.extend((7,))
    refused = engine.solve(again, {}).status
    beyond = record.constraints.add().linear
    beyond.vars.extend((0,))
    beyond.coeffs.extend((1,))
    beyond.domain.extend((20, 30))
    return [told.status, sum(told.values), told.bound, refused, engine.solve(model, {}).status, type(engine).__name__]
"""
SAYS = "['OPTIMAL', 4, 4.0, 'MODEL_INVALID', 'INFEASIBLE', '{}']"


def test_rows_are_solved_without_numpy() -> None:
    code = "print(rows(), 'numpy' in sys.modules, 'pandas' in sys.modules)"
    assert said(ROWS + code) == SAYS.format("Compiled") + " False False"


def test_where_the_compiled_part_has_other_names_the_module_solves_them() -> None:
    code = "cp_sat.USED_OF_COMPILED = ('Nowhere',)\nprint(rows())"
    assert said(ROWS + code) == SAYS.format("Whole")


def test_where_there_is_no_compiled_part_the_module_solves_them() -> None:
    code = "cp_sat.COMPILED = 'ortools.sat.python.nowhere'\nprint(rows())"
    assert said(ROWS + code) == SAYS.format("Whole")

"""OR-Tools' constraint programming, loaded without what it brings along for tables.

Its module imports pandas, the slowest package of all to load, and only for helpers that make variables by the
table; nothing here uses them. So the module is loaded with two empty names in place of pandas, as a copy of our
own: whoever imports it by its name, in the same process, gets the whole one.

A choice has rows alone and needs nothing of that module: it is written into the record of its model itself, and the
compiled part is asked, which loads without numpy too and takes rows in less than half the time.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Mapping
from functools import cache
from threading import Lock
from types import ModuleType
from typing import Any

from msgspec import Struct

from estimator.core.stoppable import heard, stoppable

NAME = "ortools.sat.python.cp_model"
COMPILED = "ortools.sat.python.cp_model_helper"
USED_OF_COMPILED = ("CpModelProto", "SatParameters", "SolveWrapper", "CpSatHelper")
"""What is asked of the compiled part; a release that names it otherwise is asked by its module."""
LOWEST, HIGHEST = -(2**63), 2**63 - 1
"""Ends of a row that are none."""
FAMILY = "ortools."
TABLES = "pandas"
USED_OF_TABLES = ("Index", "Series")
"""What the module asks of pandas while it is loaded: the types that its helpers take and give."""
_one_at_a_time = Lock()


def cp_model() -> Any:
    """The module of CP-SAT; the whole one where pandas is there already, or where it needs more of pandas."""
    with _one_at_a_time:
        return _loaded()


@cache
def _loaded() -> Any:
    if TABLES in sys.modules or NAME in sys.modules:
        return importlib.import_module(NAME)
    stand_in = ModuleType(TABLES)
    for name in USED_OF_TABLES:
        setattr(stand_in, name, type(name, (), {}))
    sys.modules[TABLES] = stand_in
    try:
        return importlib.import_module(NAME)
    except (ImportError, AttributeError, TypeError):
        _forget(stand_in)
        return importlib.import_module(NAME)
    finally:
        _forget(stand_in)


def _forget(stand_in: ModuleType) -> None:
    """Take the stand-in back, and every module that holds it, so that nobody else comes upon them."""
    if sys.modules.get(TABLES) is stand_in:
        del sys.modules[TABLES]
    family = [(name, module) for name, module in list(sys.modules.items()) if name.startswith(FAMILY)]
    for name, module in family:
        if all(one is not stand_in for one in vars(module).values()):
            continue
        del sys.modules[name]
        package, _, last = name.rpartition(".")
        if getattr(sys.modules.get(package), last, None) is module:
            delattr(sys.modules[package], last)


class Said(Struct, frozen=True):
    """What the solver says: its status by name, the columns (none without an answer), and the bound as a float."""

    status: str
    values: tuple[int, ...]
    bound: float


class Compiled:
    """The solver asked through its compiled part: a model is its record and nothing else."""

    def __init__(self, part: Any) -> None:
        self._part = part

    def model(self) -> Any:
        """A model without columns."""
        return self._part.CpModelProto()

    def copied(self, model: Any) -> Any:
        """A copy of a model."""
        made = self._part.CpModelProto()
        made.copy_from(model)
        return made

    def record(self, model: Any) -> Any:
        """The record that columns, rows and the objective of a model are written to."""
        return model

    def solve(self, model: Any, settings: Mapping[str, object]) -> Said:
        """What the solver says of a model, by settings that go by its own names."""
        parameters = self._part.SatParameters()
        for name, value in settings.items():
            setattr(parameters, name, value)
        asked = self._part.SolveWrapper()
        asked.set_parameters(parameters)
        told = stoppable(lambda: asked.solve(model), asked.stop_search)
        return Said(told.status.name, tuple(told.solution), told.best_objective_bound)

    def refused(self, model: Any) -> str:
        """What is wrong with a model, in the solver's words."""
        return str(self._part.CpSatHelper.validate_model(model))


class Whole:
    """The same through its module, as releases without such a compiled part are asked."""

    def __init__(self, module: Any) -> None:
        self._module = module

    def model(self) -> Any:
        """A model without columns."""
        return self._module.CpModel()

    def copied(self, model: Any) -> Any:
        """A copy of a model."""
        return model.clone()

    def record(self, model: Any) -> Any:
        """The record that columns, rows and the objective of a model are written to."""
        return model.proto

    def solve(self, model: Any, settings: Mapping[str, object]) -> Said:
        """What the solver says of a model, by settings that go by its own names."""
        solver = self._module.CpSolver()
        for name, value in settings.items():
            setattr(solver.parameters, name, value)
        status = solver.status_name(stoppable(lambda: solver.solve(model), solver.stop_search))
        return Said(status, tuple(solver.response_proto.solution), solver.best_objective_bound)

    def refused(self, model: Any) -> str:
        """What is wrong with a model, in the solver's words."""
        return str(model.validate())


@cache
def for_rows() -> Compiled | Whole:
    """The solver for models that are rows alone: its compiled part, or its module where that has other names."""
    try:
        part = importlib.import_module(COMPILED)
    except ImportError:
        return Whole(cp_model())
    heard()
    if all(hasattr(part, name) for name in USED_OF_COMPILED):
        return Compiled(part)
    return Whole(cp_model())

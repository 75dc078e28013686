"""OR-Tools' constraint programming, loaded without what it brings along for tables.

Its module imports pandas, the slowest package of all to load, and only for helpers that make variables by the
table; nothing here uses them. So the module is loaded with two empty names in place of pandas, as a copy of our
own: whoever imports it by its name, in the same process, gets the whole one.
"""

from __future__ import annotations

import importlib
import sys
from functools import cache
from threading import Lock
from types import ModuleType
from typing import Any

NAME = "ortools.sat.python.cp_model"
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

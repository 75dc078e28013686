"""Table of the craft: what a grade of tool does to times."""

from __future__ import annotations

from estimator.tables.schema.column import (
    ONE,
    ZERO,
    TableSpec,
    _choice,
    _factor,
    _number,
    _ref,
    _table,
)

CRAFT_TABLES: tuple[TableSpec, ...] = (
    _table(
        "tool_times",
        "how one grade of a tool changes the time of the work",
        "tool grade",
        _ref("tool", "tools", "the tool"),
        _choice("grade", "its grade", "inexpensive", "premium"),
        _factor("run_new", "run time when it is new", ONE),
        _factor("run_worn", "run time in the last part of its life", ONE),
        _number("worn_share", "how large that last part is", "share", ZERO, ZERO, ONE),
        _factor("after_worn", "time of the work that follows, in that last part", ONE),
        _ref("after_task", "tasks", "the work that follows and takes longer", ""),
    ),
)

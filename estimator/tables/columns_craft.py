"""Tables of the craft: how fast work is learnt, what a grade of tool does to times, sizes of grits."""

from __future__ import annotations

from decimal import Decimal

from estimator.tables.columns_base import (
    ONE,
    ZERO,
    Column,
    TableSpec,
    _choice,
    _factor,
    _id,
    _list,
    _number,
    _ref,
    _table,
    _text,
)

CRAFT_TABLES: tuple[TableSpec, ...] = (
    _table(
        "learning_rates",
        "a kind of work and how fast it is learnt",
        "id",
        _id("name of the kind of work"),
        _text("what", "what belongs to it"),
        _list("groups", "groups of tasks that belong to it"),
        _list("tasks", "tasks that belong to it whatever their group", "tasks"),
        _number(
            "rate",
            "share that remains of the time of one unit each time their number doubles",
            "share",
            low=Decimal("0.5"),
            high=ONE,
        ),
    ),
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
    _table(
        "grits",
        "the grain size of one grade of abrasive",
        "system grade",
        _choice("system", "P grades (FEPA, ISO 6344) or CAMI / ANSI grades", "p", "cami"),
        Column("grade", "whole", "the number printed on the sheet", low=Decimal(4), high=Decimal(10_000)),
        _number("micrometres", "average size of a grain", "um", low=ONE, high=Decimal(5000)),
    ),
)

"""The table of methods: more than one way to do a task."""

from __future__ import annotations

from decimal import Decimal

from estimator.tables.schema.column import (
    HUNDRED,
    ONE,
    ZERO,
    Column,
    TableSpec,
    _choice,
    _list,
    _number,
    _ref,
    _table,
    _text,
)

STATION_LETTER = (
    "a letter that a row of shop_stations.csv lists, or O (desk), P (photographs), V (on the way)"
)
REWORK_KINDS = ("q", "r", "s", "d", "x", "n")
COUNTS = (*range(3, 13), "other")
"""Counts of strings that a set may be made for."""
FAMILIES = tuple(f"{family}-{count}" for family in ("guitar", "bass") for count in COUNTS)
_SAME = "(blank: as in tasks.csv)"


def _own_minutes(name: str, meaning: str) -> Column:
    return Column(name, "number", f"{meaning} {_SAME}", "min", None, ZERO, Decimal(100_000))


METHOD_TABLES: tuple[TableSpec, ...] = (
    _table(
        "task_methods",
        "a way to do a task that can be done in more than one; a task without rows has the one of tasks.csv",
        "task method",
        _ref("task", "tasks", "the task"),
        Column("method", "id", "name of the way, as it is given after --method TASK="),
        _text("what", "what it is, in a few words, as it follows the task"),
        Column(
            "usual",
            "yes-no",
            "whether it is the way that tasks.csv tells of; one of a task's ways is, and only has a name here",
            default=False,
        ),
        _own_minutes("setup_min", "minutes once per sitting"),
        _number(
            "repeat_share",
            f"share of the set-up paid by each further instrument {_SAME}",
            "",
            None,
            ZERO,
            ONE,
        ),
        _own_minutes("run_min_low", "low reading of the run time per driver unit"),
        _own_minutes("run_min_likely", "usual run time per driver unit"),
        _own_minutes("run_min_high", "high reading of the run time per driver unit"),
        _own_minutes("wait_fast_min", "unattended minutes after it, at the fastest"),
        _own_minutes("wait_usual_min", "unattended minutes after it, usually"),
        _own_minutes("wait_safe_min", "unattended minutes after it, to be safe"),
        _list("factors", f"codes of the difficulty factors that multiply the run time {_SAME}"),
        Column("level", "whole", f"skill it wants {_SAME}", "", None, ONE, Decimal(5)),
        Column(
            "beginner_factor",
            "number",
            f"run-time factor of a beginner {_SAME}",
            "x",
            None,
            Decimal("0.05"),
            Decimal(20),
        ),
        _number(
            "rework_pct",
            f"odds of rework, per occurrence or per counted unit {_SAME}",
            "%",
            None,
            ZERO,
            HUNDRED,
        ),
        _choice("rework_kind", f"what rework costs {_SAME}", *REWORK_KINDS, default=""),
        _number("rework_share", f"share of the run that rework repeats {_SAME}", "", None, ZERO, Decimal(10)),
        _text("trouble", f"what goes wrong {_SAME}", ""),
        _list("hazards", f"classes of hazard {_SAME}", "hazards"),
        _text("station", f"where it is done {_SAME}: {STATION_LETTER}", ""),
        _list("not_when", "named conditions of the instrument, in any of which it is not to be used"),
    ),
    _table(
        "method_consumables",
        "what a way uses up otherwise than task_consumables.csv tells of the task; a way without rows uses up that",
        "task method consumable instruments",
        _ref("task", "tasks", "the task"),
        Column("method", "id", "the way, of task_methods.csv"),
        _ref("consumable", "consumables", "what is used up"),
        Column("quantity", "number", "units per driver unit; 0: this way takes none of it", low=ZERO),
        _choice(
            "instruments",
            "for which instruments, as in task_consumables.csv",
            "any",
            "guitar",
            "bass",
            *FAMILIES,
            default="any",
        ),
    ),
    _table(
        "method_tools",
        "which tools a way wears otherwise than task_tools.csv tells of the task",
        "task method tool",
        _ref("task", "tasks", "the task"),
        Column("method", "id", "the way, of task_methods.csv"),
        _ref("tool", "tools", "the tool"),
        Column("uses", "number", "units of tool life per driver unit; 0: this way does without it", low=ZERO),
    ),
)

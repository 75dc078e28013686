"""A shop in which some tasks are done another way: all that reads it prices and plans that way.

A way is the row of the task with what differs, and the rows of what it uses up and wears.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from msgspec.structs import replace

from estimator.model import MethodTables, Shop, Task, TaskMethod

FIGURES = (
    "setup_min",
    "repeat_share",
    "run_min_low",
    "run_min_likely",
    "run_min_high",
    "wait_fast_min",
    "wait_usual_min",
    "wait_safe_min",
    "level",
    "beginner_factor",
    "rework_pct",
    "rework_share",
)
"""Columns of a way that are blank (None) where it is as the usual one."""
WORDS = ("factors", "rework_kind", "trouble", "hazards", "station")
"""Columns of a way that are empty where it is as the usual one."""


def used_by(shop: Shop, task: str, method: str) -> tuple[tuple[str, Decimal, str], ...]:
    """What a task uses up, done one way: consumable, quantity, for which instruments."""
    rows = {(name, family): each for name, each, family in shop.usual_consumables.get(task, ())}
    rows |= {(name, family): each for name, each, family in shop.ways.consumables.get((task, method), ())}
    return tuple((name, each, family) for (name, family), each in rows.items() if each)


def worn_by(shop: Shop, task: str, method: str) -> tuple[tuple[str, Decimal], ...]:
    """What a task wears, done one way: tool and uses."""
    rows = {**dict(shop.usual_tools.get(task, ())), **dict(shop.ways.tools.get((task, method), ()))}
    return tuple((name, uses) for name, uses in rows.items() if uses)


def done_usually(task: Task, ways: MethodTables) -> Task:
    """A task with the name of its usual way, where it has more than one."""
    method = ways.usual(task.id)
    return replace(task, method=method, way=ways.methods[task.id][method].what) if method else task


def done_by(task: Task, method: TaskMethod) -> Task:
    """A task done one way."""
    usual = task.by_usual
    if method.usual:
        return usual
    changed = {name: getattr(method, name) for name in FIGURES if getattr(method, name) is not None}
    changed |= {name: getattr(method, name) for name in WORDS if getattr(method, name)}
    return replace(usual, **changed, method=method.method, way=method.what, usual=usual)


def by_methods(shop: Shop, methods: Mapping[str, str]) -> Shop:
    """The shop with some tasks done another way, by task; those that are not named stay as they are."""
    other = {task: method for task, method in methods.items() if shop.tasks[task].method != method}
    if not other:
        return shop
    ways = shop.ways
    return replace(
        shop,
        tasks=MappingProxyType(
            {
                name: done_by(task, ways.methods[name][other[name]]) if name in other else task
                for name, task in shop.tasks.items()
            }
        ),
        task_consumables=MappingProxyType(
            {**shop.task_consumables, **{task: used_by(shop, task, method) for task, method in other.items()}}
        ),
        task_tools=MappingProxyType(
            {**shop.task_tools, **{task: worn_by(shop, task, method) for task, method in other.items()}}
        ),
        as_usual=shop.as_usual or shop,
    )


def other_ways(shop: Shop) -> dict[str, str]:
    """The tasks that a shop has done another way than the usual one, with that way."""
    return {name: task.method for name, task in shop.tasks.items() if task.usual is not None}

"""Checks of the planning tables: what is sold exists, waits grow with care, order and waits have no circle."""

from __future__ import annotations

from collections.abc import Iterator

from estimator.core.errors import Issue, near_miss, shown
from estimator.tables.checks.context import Tables
from estimator.tables.checks.cycles import circles
from estimator.tables.csv_rows import TableRow

SOLD_IN_GENERAL = ("*", "consumables")


def offers_name_classes(tables: Tables) -> Iterator[Issue]:
    """A supplier sells a class of part, everything, or consumables."""
    known = (*tables.ids("part_classes"), *SOLD_IN_GENERAL)
    for row in tables["supplier_offers"]:
        sells = row.values["sells"]
        if sells not in known:
            yield Issue(
                row.origin.at("sells"),
                "nothing of this kind can be sold",
                shown(sells),
                "an id of part_classes.csv, * for every class, or consumables",
                near_miss(sells, known) or "look at the spelling",
            )


def breaks_are_sold(tables: Tables) -> Iterator[Issue]:
    """A quantity break is for something the supplier sells: a class of part, or a consumable."""
    classes, consumables = tables.ids("part_classes"), tables.ids("consumables")
    sold: dict[str, set[str]] = {}
    for row in tables["supplier_offers"]:
        sold.setdefault(row.values["supplier"], set()).add(row.values["sells"])
    for row in tables["quantity_breaks"]:
        what, supplier = row.values["what"], row.values["supplier"]
        known = (*classes, *consumables)
        if what not in known:
            yield Issue(
                row.origin.at("what"),
                "nothing of this name is bought",
                shown(what),
                "an id of part_classes.csv or consumables.csv",
                near_miss(what, known) or "look at the spelling",
            )
        elif sold.get(supplier, set()).isdisjoint(("consumables",) if what in consumables else (what, "*")):
            yield Issue(
                row.origin.at("what"),
                f"{supplier} does not sell it",
                shown(what),
                "something that supplier_offers.csv has the supplier sell",
                "add what it sells to supplier_offers.csv, or delete this row",
            )


def waits_grow(tables: Tables) -> Iterator[Issue]:
    """The fast wait is not above the usual one, nor that above the safe one."""
    for row in tables["task_waits"]:
        fast, usual, safe = (row.values[f"{pace}_min"] for pace in ("fast", "usual", "safe"))
        if not fast <= usual <= safe:
            yield Issue(
                row.origin, "waits out of order", f"{fast}, {usual}, {safe}", "fast up to usual up to safe"
            )


def waits_keep_the_order(tables: Tables) -> Iterator[Issue]:
    """Task order and the waits between tasks, which order tasks too, do not go round in a circle together."""
    edges: dict[str, list[tuple[str, TableRow]]] = {}
    for table in ("task_order", "task_waits"):
        for row in tables[table]:
            before, after = row.values["before"], row.values["after"]
            if before != after:
                edges.setdefault(before, []).append((after, row))
    for circle, row in circles(edges):
        if row.origin.file.endswith("task_waits.csv"):
            yield Issue(
                row.origin.at("after"),
                "the waits between tasks and task_order.csv go round in a circle",
                " -> ".join(circle),
                "no way round in a circle",
                "delete one of these rows",
            )


def lead_days_in_order(tables: Tables) -> Iterator[Issue]:
    """The best number of days to the door is not above the worst."""
    for row in tables["suppliers"]:
        low, high = row.values["lead_days_low"], row.values["lead_days_high"]
        if low > high:
            found = f"{low} and {high}"
            yield Issue(
                row.origin.at("lead_days_low"),
                "lead_days_low is above lead_days_high",
                found,
                "low up to high",
            )

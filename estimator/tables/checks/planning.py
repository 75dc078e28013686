"""Checks of the planning tables: what is sold exists, waits grow with care, order and waits have no circle."""

from __future__ import annotations

from collections.abc import Iterator

from estimator.core.errors import Issue, shown, unknown_word
from estimator.model.operation import SittingName
from estimator.tables.checks.context import Tables
from estimator.tables.checks.cycles import circles
from estimator.tables.csv_rows import TableRow

SOLD_IN_GENERAL = ("*", "consumables")
TAKES_NOTHING = ("O", "P", "V")
"""Letters of work that takes no station: at the desk, photographs, on the way."""


def offers_name_classes(tables: Tables) -> Iterator[Issue]:
    """A supplier sells a class of part, everything, or consumables."""
    known = (*tables.ids("part_classes"), *SOLD_IN_GENERAL)
    for row in tables["supplier_offers"]:
        sells = row.values["sells"]
        if sells not in known:
            yield unknown_word(
                row.origin.at("sells"),
                "nothing of this kind can be sold",
                sells,
                known,
                "an id of part_classes.csv, * for every class, or consumables",
                "look at the spelling",
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
            yield unknown_word(
                row.origin.at("what"),
                "nothing of this name is bought",
                what,
                known,
                "an id of part_classes.csv or consumables.csv",
                "look at the spelling",
            )
        elif sold.get(supplier, set()).isdisjoint(("consumables",) if what in consumables else (what, "*")):
            yield Issue(
                row.origin.at("what"),
                f"{supplier} does not sell it",
                shown(what),
                "something that supplier_offers.csv has the supplier sell",
                "add what it sells to supplier_offers.csv, or delete this row",
            )


def stations_are_there(tables: Tables) -> Iterator[Issue]:
    """The letter of where a task is done stands in a row of shop_stations.csv, or takes no station."""
    letters = {letter for row in tables["shop_stations"] for letter in row.values["stations"]}
    known = sorted(letters.union(TAKES_NOTHING))
    for row in (*tables["tasks"], *tables["task_methods"]):
        letter = row.values["station"]
        if letter and letter not in known:
            yield Issue(
                row.origin.at("station"),
                "no station of this letter",
                shown(letter),
                ", ".join(known),
                "take one of these, or add the letter to the column stations of shop_stations.csv",
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
    for circle, row in circles(_order(tables)):
        if row.origin.file.endswith("task_waits.csv"):
            yield Issue(
                row.origin.at("after"),
                "the waits between tasks and task_order.csv go round in a circle",
                " -> ".join(circle),
                "no way round in a circle",
                "delete one of these rows",
            )


def putting_back_has_a_place(tables: Tables) -> Iterator[Issue]:
    """What puts back names tasks to stand with, and standing with all of them does not go round in a circle."""
    for back in tables["putting_back"]:
        like = set(back.values["like"])
        itself = str(SittingName(back.values["task"], where=back.values["place"]))
        if not like:
            yield Issue(back.origin.at("like"), "no task to stand with", "", "one task or more of tasks.csv")
        edges = _order(tables)
        for before, after, row in [(b, a, r) for b, found in edges.items() for a, r in found]:
            if before in like:
                edges.setdefault(itself, []).append((after, row))
            if after in like:
                edges[before].append((itself, row))
        edges.setdefault(back.values["task"], []).append((itself, back))
        yield from _own_circle(edges, itself, back, "like")


def bored_first_has_a_place(tables: Tables) -> Iterator[Issue]:
    """What is bored first comes before something, and its order does not go round in a circle."""
    for bored in tables["bored_first"]:
        task = bored.values["task"]
        itself = str(SittingName(task, where=bored.values["sitting"]))
        if not bored.values["before"]:
            yield Issue(
                bored.origin.at("before"), "nothing to come before", "", "one task or more of tasks.csv"
            )
        edges = _order(tables)
        for name in bored.values["after"]:
            edges.setdefault(name, []).append((itself, bored))
        edges[itself] = [(name, bored) for name in (*bored.values["before"], task)]
        yield from _own_circle(edges, itself, bored, "before")


def _order(tables: Tables) -> dict[str, list[tuple[str, TableRow]]]:
    """By task: what comes after it, and the row that says so."""
    edges: dict[str, list[tuple[str, TableRow]]] = {}
    for table in ("task_order", "task_waits"):
        for row in tables[table]:
            before, after = row.values["before"], row.values["after"]
            if before != after:
                edges.setdefault(before, []).append((after, row))
    return edges


def _own_circle(
    edges: dict[str, list[tuple[str, TableRow]]], name: str, row: TableRow, column: str
) -> Iterator[Issue]:
    circle = next((c for c, _ in circles(edges) if name in c), None)
    if circle is not None:
        yield Issue(
            row.origin.at(column),
            "the order of work goes round in a circle with this sitting",
            " -> ".join(circle),
            "tasks that do not have to wait for each other",
            "take one of the tasks out",
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

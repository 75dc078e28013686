"""Checks that nothing goes round in a circle: task order, bundles, limits, needs."""

from __future__ import annotations

from collections.abc import Iterator

from estimator.core.errors import Issue
from estimator.tables.checks.context import Tables
from estimator.tables.csv_rows import TableRow

Edges = dict[str, list[tuple[str, TableRow]]]


def circles(edges: Edges) -> Iterator[tuple[list[str], TableRow]]:
    """Every circle that a walk along the edges closes, with the row that closes it.

    A depth-first walk in file order: each row is walked once, so at most one circle is told per row.
    """
    done: set[str] = set()
    for start in edges:
        if start in done:
            continue
        path, stack = [start], [iter(edges[start])]
        while stack:
            step = next(stack[-1], None)
            if step is None:
                done.add(path.pop())
                stack.pop()
                continue
            name, row = step
            if name in path:
                yield [*path[path.index(name) :], name], row
            elif name not in done:
                path.append(name)
                stack.append(iter(edges.get(name, ())))


def _edges(tables: Tables, table: str, start: str, end: str) -> Edges:
    edges: Edges = {}
    for row in tables[table]:
        value = row.values[end]
        for name in (value,) if isinstance(value, str) else value:
            edges.setdefault(row.values[start], []).append((name, row))
    return edges


def _complain(edges: Edges, column: str, problem: str, next_step: str) -> Iterator[Issue]:
    for circle, row in circles(edges):
        yield Issue(
            row.origin.at(column), problem, " -> ".join(circle), "no way round in a circle", next_step
        )


def task_order(tables: Tables) -> Iterator[Issue]:
    """Task order has no circle (a before b before a)."""
    edges = _edges(tables, "task_order", "before", "after")
    yield from _complain(
        edges, "after", "the order of tasks goes round in a circle", "delete one of these rows"
    )


def order_unless(tables: Tables) -> Iterator[Issue]:
    """A row of order_unless.csv closes no circle with the rows that hold while those tasks are not on the job."""
    for own in tables["order_unless"]:
        absent, here = set(own.values["unless"]), {own.values["before"], own.values["after"]}
        edges: Edges = {own.values["before"]: [(own.values["after"], own)]}
        for table in ("task_order", "task_waits", "order_unless"):
            for row in tables[table]:
                before, after = row.values["before"], row.values["after"]
                # through a task that is not on the job only rows that are not direct reach
                binds_two = table != "task_order" or row.values["direct"]
                if here & set(row.values.get("unless", ())):
                    continue
                if row is not own and before != after and not (binds_two and absent & {before, after}):
                    edges.setdefault(before, []).append((after, row))
        circle = next((found for found, row in circles(edges) if own.values["before"] in found), None)
        if circle is not None and own.values["after"] in circle:
            yield Issue(
                own.origin.at("unless"),
                "the order of tasks goes round in a circle though none of these is on the job",
                " -> ".join(circle),
                "tasks without which there is no way round in a circle",
                "name the task by which the way goes round, or delete this row",
            )


def bundles(tables: Tables) -> Iterator[Issue]:
    """No bundle holds itself, directly or by another."""
    edges = _edges(tables, "bundle_work", "bundle", "task")
    yield from _complain(edges, "task", "a bundle holds itself", "delete one of these rows")


def attribute_limits(tables: Tables) -> Iterator[Issue]:
    """No attribute limits itself, directly or by another."""
    edges = _edges(tables, "attribute_limits", "attribute", "other")
    yield from _complain(
        edges, "other", "the limits of attributes go round in a circle", "delete one of these rows"
    )


def needs(tables: Tables) -> Iterator[Issue]:
    """No upgrade needs itself by way of another: then none of them could ever be chosen first."""
    edges = _edges(tables, "upgrades", "id", "needs_all")
    for circle, row in circles(edges):
        yield Issue(
            row.origin.at("needs_all"),
            "upgrades need each other in a circle",
            " -> ".join(circle),
            "no way round in a circle",
            "make them one upgrade, or drop a need",
            "warning",
        )

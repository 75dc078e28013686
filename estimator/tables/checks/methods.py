"""Checks of the ways to do a task: one is the usual one, figures come whole, names are known."""

from __future__ import annotations

from collections.abc import Iterator

from estimator.core.errors import Issue, shown, unknown_word
from estimator.tables.checks.context import Tables
from estimator.tables.conditions import CONDITIONS
from estimator.tables.csv_rows import TableRow
from estimator.tables.methods import FIGURES, WORDS

TOGETHER = (
    ("run_min_low", "run_min_likely", "run_min_high"),
    ("wait_fast_min", "wait_usual_min", "wait_safe_min"),
)


def one_is_usual(tables: Tables) -> Iterator[Issue]:
    """Of the ways of a task one is usual, and that one has no figures of its own."""
    by_task: dict[str, list[TableRow]] = {}
    for row in tables["task_methods"]:
        by_task.setdefault(row.values["task"], []).append(row)
    for task, rows in by_task.items():
        usual = [row for row in rows if row.values["usual"]]
        if len(usual) != 1:
            yield Issue(
                rows[0].origin.at("usual"),
                f"of the ways to do {task} one must be the usual one",
                f"{len(usual)} of {len(rows)}",
                "yes on the row that tasks.csv tells of, no on the others",
                f"add a row for the way of tasks.csv, or mark one of {', '.join(r.values['method'] for r in rows)}",
            )
        for row in usual:
            own = [n for n in (*FIGURES, *WORDS) if row.values[n] not in (None, (), "")]
            if own:
                yield Issue(
                    row.origin.at(own[0]),
                    "the usual way is that of tasks.csv and has no figures here",
                    ", ".join(own),
                    "a blank",
                    "put the figure into tasks.csv, or mark another way as usual",
                )
            if row.values["not_when"]:
                yield Issue(
                    row.origin.at("not_when"),
                    "the usual way can always be used",
                    " ".join(row.values["not_when"]),
                    "a blank",
                    "mark another way as usual: what is left when a way is ruled out must be there",
                )


def figures_come_whole(tables: Tables) -> Iterator[Issue]:
    """A way that has times of its own has all three of them."""
    for row in tables["task_methods"]:
        for names in TOGETHER:
            given = [name for name in names if row.values[name] is not None]
            if given and len(given) < len(names):
                yield Issue(
                    row.origin.at(names[0]),
                    "some readings of a time are blank and some are not",
                    ", ".join(given),
                    f"all of {', '.join(names)}, or none",
                    "fill in the others, or clear them",
                )


def conditions_of_ways_known(tables: Tables) -> Iterator[Issue]:
    """``not_when`` names conditions of the instrument; factors of a way are known codes."""
    for row in tables["task_methods"]:
        known = {
            "not_when": (CONDITIONS, "unknown condition"),
            "factors": (tables.factor_codes, "unknown factor code"),
        }
        for column, (accepted, problem) in known.items():
            for name in row.values[column]:
                if name not in accepted:
                    words = ", ".join(sorted(accepted)[:12]) + " ..."
                    yield unknown_word(row.origin.at(column), problem, name, accepted, words)


def ways_are_of_the_task(tables: Tables) -> Iterator[Issue]:
    """What a way uses up and wears names a way of that task; desk work that nobody is billed for has none."""
    ways: dict[str, list[str]] = {}
    for row in tables["task_methods"]:
        ways.setdefault(row.values["task"], []).append(row.values["method"])
        task = tables.ids("tasks").get(row.values["task"])
        if task is not None and not task.values["billed"]:
            yield Issue(
                row.origin.at("task"),
                "work that is not billed has one way",
                shown(row.values["task"]),
                "a task that is billed",
                "delete the row",
            )
    for table in ("method_consumables", "method_tools"):
        for row in tables[table]:
            known = ways.get(row.values["task"], [])
            method = row.values["method"]
            if method not in known:
                yield unknown_word(
                    row.origin.at("method"),
                    f"no way of this name to do {row.values['task']}",
                    method,
                    known,
                    ", ".join(known) or "nothing: the task has only one way",
                    "look at the spelling, or add the way to task_methods.csv",
                )

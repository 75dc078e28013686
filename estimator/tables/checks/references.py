"""Checks that every name a row refers to exists."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from estimator.core.errors import Issue, near_miss, shown, unknown_word
from estimator.model import Conditional
from estimator.tables.checks.context import Tables
from estimator.tables.conditions import PART_CONDITIONS
from estimator.tables.csv_rows import TableRow
from estimator.tables.schema.shop import BY_NAME, TABLES


def dangling(row: TableRow, column: str, name: str, accepted: Iterable[str], what: str) -> Issue:
    """The complaint about a name that nothing defines."""
    hint = near_miss(name, accepted) or "look at the spelling, or add a row for it"
    return Issue(row.origin.at(column), "nothing has this name", shown(name), what, hint)


def ids_exist(tables: Tables) -> Iterator[Issue]:
    """Every id that a column declares to be of another table is there."""
    for spec in TABLES:
        for column in (column for column in spec.columns if column.refers):
            known = tables.ids(column.refers)
            for row in tables[spec.name]:
                value = row.values[column.name]
                for name in (value,) if isinstance(value, str) else value:
                    if name and name not in known:
                        yield dangling(
                            row, column.name, name, known, f"an id of {BY_NAME[column.refers].file}"
                        )


def work_names_tasks_or_bundles(tables: Tables) -> Iterator[Issue]:
    """Work of upgrades and bundles is a task or a bundle, and no bundle is called like a task."""
    known = set(tables.ids("tasks")) | tables.bundles
    for table in ("upgrade_work", "bundle_work"):
        for row in tables[table]:
            if row.values["task"] not in known:
                yield dangling(
                    row,
                    "task",
                    row.values["task"],
                    known,
                    "an id of tasks.csv or a bundle of bundle_work.csv",
                )
    for row in tables["bundle_work"]:
        if row.values["bundle"] in tables.ids("tasks"):
            yield Issue(
                row.origin.at("bundle"),
                "a bundle is called like a task",
                shown(row.values["bundle"]),
                "a name of its own",
                "rename the bundle",
            )


def needless_work_says_why(tables: Tables) -> Iterator[Issue]:
    """Work is made needless by an upgrade or by a task that upgrades bring: by one of the two."""
    for row in tables["needless_work"]:
        if bool(row.values["upgrade"]) == bool(row.values["with_task"]):
            found = "both" if row.values["upgrade"] else "neither"
            yield Issue(
                row.origin.at("upgrade"),
                "a row names either an upgrade or a task (with_task) that makes work needless",
                found,
                "one of the two",
                "blank one of them" if row.values["upgrade"] else "name the upgrade or the task",
            )


def upgrades_named_exist(tables: Tables) -> Iterator[Issue]:
    """Upgrades named by other upgrades or effects exist (by id, or id and variant of the part)."""
    known = tables.upgrade_names
    for row in tables["upgrades"]:
        for column in ("needs_all", "needs_any", "excludes"):
            for asked in row.values[column]:
                # what shuts another out does so whatever its part
                named = Conditional(asked) if column == "excludes" else Conditional.of(asked)
                name, condition = named.name, named.condition
                if name not in known:
                    yield dangling(row, column, name, known, "an id of upgrades.csv, alone or with -variant")
                elif condition and condition not in PART_CONDITIONS:
                    yield dangling(
                        row,
                        column,
                        asked,
                        known,
                        "after the /, a condition of the part: two-leads, four-leads",
                    )
                elif name == row.values["id"]:
                    yield Issue(
                        row.origin.at(column),
                        "an upgrade names itself",
                        shown(name),
                        "other upgrades",
                        "take it out",
                    )
        for name in row.values["excludes"]:
            if name in row.values["needs_all"]:
                yield Issue(
                    row.origin.at("excludes"),
                    "an upgrade both needs and excludes another",
                    shown(name),
                    "one or the other",
                    "take it out of one of the two columns",
                )
    for row in tables["upgrade_effects"]:
        for name in row.values["together_with"]:
            if name not in known:
                yield dangling(
                    row, "together_with", name, known, "an id of upgrades.csv, alone or with -variant"
                )
    for row in tables["task_effects"]:
        for name in row.values["together_with"]:
            if name not in tables.ids("tasks"):
                yield dangling(row, "together_with", name, tables.ids("tasks"), "an id of tasks.csv")


def menu_names_exist(tables: Tables) -> Iterator[Issue]:
    """Jobs of the menu name upgrades and intake fields that there are."""
    for row in tables["menu_jobs"]:
        for column in ("upgrades", "beside"):
            for name in row.values[column]:
                if name not in tables.upgrade_names:
                    yield dangling(
                        row,
                        column,
                        name,
                        tables.upgrade_names,
                        "an id of upgrades.csv, alone or with -variant",
                    )
        if not row.values["upgrades"]:
            yield Issue(row.origin.at("upgrades"), "a job of the menu without an upgrade", "", "at least one")
        for name in row.values["instrument"]:
            if name not in tables.ids("intake"):
                yield dangling(row, "instrument", name, tables.ids("intake"), "an id of intake.csv")


def effects_name_grades(tables: Tables) -> Iterator[Issue]:
    """The grade of an effect is one that a part of the upgrade's class can have."""
    for row in tables["upgrade_effects"]:
        upgrade = tables.ids("upgrades").get(row.values["upgrade"])
        if upgrade is None:
            continue
        accepted = tables.grades(upgrade.values["part_class"])
        grade = row.values["grade"]
        if grade not in accepted:
            yield unknown_word(
                row.origin.at("grade"), "no part of this upgrade has such a grade or variant", grade, accepted
            )


def upgrades_do_something(tables: Tables) -> Iterator[Issue]:
    """Every upgrade has work or a part, and an upgrade with a part has one to fit."""
    working = {row.values["upgrade"] for row in tables["upgrade_work"]}
    for row in tables["upgrades"]:
        part_class = row.values["part_class"]
        if not part_class and row.values["id"] not in working:
            yield Issue(
                row.origin,
                "an upgrade with neither work nor a part",
                shown(row.values["id"]),
                "rows in upgrade_work.csv, or a part_class",
                "add its work",
            )
        elif part_class and part_class in tables.ids("part_classes") and part_class not in tables.variants:
            yield Issue(
                row.origin.at("part_class"),
                "no part of this class is in parts.csv",
                shown(part_class),
                "a class with at least one part",
                "add a part of this class",
            )


def variants_differ(tables: Tables) -> Iterator[Issue]:
    """Parts of one class differ in variant, as the variant is part of the name of an upgrade."""
    seen: dict[tuple[str, str], TableRow] = {}
    for row in tables["parts"]:
        key = (row.values["part_class"], row.values["variant"])
        first = seen.setdefault(key, row)
        if first is not row:
            found = f"“{key[1]}” of {key[0]}, also in row {first.origin.row}"
            step = "give one of the two another variant"
            yield Issue(row.origin.at("variant"), "two parts of a class are called alike", found, "", step)

"""The reference of tables and job files, generated from the declarations that also drive reading."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from estimator.input.job.keys import SECTIONS
from estimator.model.column import Column
from estimator.tables.cells import plain, range_text
from estimator.tables.csv_rows import CLEARED
from estimator.tables.schema.settings import BUILD_UP, MARKUP, SETTINGS
from estimator.tables.schema.shop import BY_NAME, TABLES

KINDS: Mapping[str, str] = {
    "id": "lower-case words joined by dashes",
    "text": "text",
    "number": "number: 3, 0.5 or 5/8",
    "whole": "whole number",
    "money": "money, not negative",
    "yes-no": "yes or no",
    "choice": "one of the words",
    "list": "words parted by blanks",
    "levels": "CODE=level pairs parted by blanks",
    "fields": "field=value pairs parted by blanks",
    "expression": "numbers and intake fields joined by +, -, * and /",
    "date": "date: 2026-03-01",
    "hours": 'hours, or a text such as "6 h 30 min"',
    "group": "group { name = value }",
}


def accepts(column: Column) -> str:
    """What a column accepts, in words."""
    if column.choices:
        return ", ".join(column.choices)
    words = KINDS[column.kind]
    if column.underscores:
        words += " or underscores"
    if column.refers:
        words = f"id of {BY_NAME[column.refers].file}" + (
            ", parted by blanks" if column.kind == "list" else ""
        )
    if column.low is not None or column.high is not None:
        words += f", {range_text(column.low, column.high, column.above)}"
    return words


def left_out(column: Column) -> str:
    """What a blank or a missing key means."""
    if column.required:
        return "required"
    value = column.default
    if value in (None, "", (), {}):
        return "may be blank"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return plain(value) if isinstance(value, Decimal) else str(value)


def _rows(columns: Iterable[Column]) -> list[str]:
    lines = ["| name | meaning | unit | accepted | left out |", "|---|---|---|---|---|"]
    lines += [
        f"| `{column.name}` | {column.meaning} | {column.unit} | {accepts(column)} | {left_out(column)} |"
        for column in columns
    ]
    return lines


OWN_ROWS = (
    "A file of your own needs a row's key and the columns that it changes: what is left out or blank stays as it "
    f"is in the default shop, `{CLEARED}` clears a cell that may be blank, and a row without a basis is `own`. "
    "Numbers may carry a unit of the kind that is named: `1 h 20 min`, `2 days`, `15 %`."
)
OWN_BASIS = (
    "Every key of the default shop needs a basis under `[basis]`; in a shop.toml of your own a key without one "
    "is `own`."
)


def reference() -> str:
    """Every table, every setting and every key of a job file, as markdown."""
    lines = [
        "# Reference of tables and job files",
        "",
        "Generated from the declarations; do not edit by hand.",
        "",
    ]
    lines += ["## Tables of a shop folder", "", OWN_ROWS, ""]
    for table in TABLES:
        key = " + ".join(f"`{name}`" for name in table.key)
        lines += [f"### {table.file}", "", f"A row is {table.meaning}. No two rows agree in {key}.", ""]
        lines += [*_rows(table.columns), ""]
    lines += [
        "## shop.toml",
        "",
        OWN_BASIS,
        "",
        *_rows(SETTINGS),
        "",
    ]
    lines += ["### [rate_build_up]", "", *_rows(BUILD_UP), ""]
    lines += ["### [[markup]]", "", *_rows(MARKUP), "", "## Job files", ""]
    for section in SECTIONS:
        name = f"[[{section.name}]]" if section.repeated else f"[{section.name}]"
        lines += [f"### {name}", "", f"{section.meaning[0].upper()}{section.meaning[1:]}.", ""]
        if section.columns:
            lines += [*_rows(section.columns), ""]
        if section.open_keys:
            lines += [f"Further keys: {section.open_keys}.", ""]
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    print(reference(), end="")

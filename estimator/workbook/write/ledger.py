"""All tables of the ledger in one workbook, a sheet each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from estimator.core.errors import InputError, Issue, Origin
from estimator.ledger.store import Ledger
from estimator.workbook.write.cells import Book, Sheet

MOST_ROWS = 1_048_575
LARGEST = 10**15
"""Whole numbers beyond this a spreadsheet program rounds: they stand as text."""


def ledger_bytes(ledger: Ledger, day: date) -> bytes:
    """The workbook; InputError where a table has more rows than a sheet."""
    book = Book("The ledger", day)
    for name, (columns, rows) in ledger.tables().items():
        if len(rows) > MOST_ROWS:
            raise InputError(
                Issue(Origin(name), "has more rows than a sheet", str(len(rows)), f"at most {MOST_ROWS}",
                      "export to a folder of CSV files")
            )  # fmt: skip
        sheet = book.sheet(Sheet(name, [16.0] * len(columns)))
        for column, head in enumerate(columns):
            sheet.text(0, column, head, "head")
        for at, row in enumerate(rows, start=1):
            for column, value in enumerate(row):
                if isinstance(value, int) and abs(value) < LARGEST:
                    sheet.number(at, column, value)
                elif value is not None:
                    sheet.text(at, column, str(value))
    return book.done()


REPORTS = {
    "by_task": "Estimate against actual", "hours_by_task": "Where the hours went", "hours_by_month": "Hours by month",
    "pay_per_hour": "Pay per hour", "warranty": "Warranty", "cash_by_month": "Cash by month",
}  # fmt: skip
"""The sheets of the reports, in their order."""


def reports_bytes(reports: Mapping[str, Sequence[Mapping[str, object]]], day: date) -> bytes:
    """Every report as a sheet: money as money, lengths of time in hours."""
    book = Book("Reports of the ledger", day)
    for name, title in REPORTS.items():
        rows = reports[name]
        heads = list(rows[0]) if rows else []
        sheet = book.sheet(Sheet(title, [20.0, *[15.0] * max(0, len(heads) - 1)]))
        if not rows:
            sheet.text(0, 0, "nothing is recorded yet")
        for column, head in enumerate(heads):
            sheet.text(0, column, _head(head), "head")
        for at, row in enumerate(rows, start=1):
            for column, head in enumerate(heads):
                _report_cell(sheet, at, column, head, row[head])
    return book.done()


def _head(name: str) -> str:
    plain = name.removesuffix("_cents")
    plain = f"{plain.removesuffix('_s')}, hours" if plain.endswith("_s") else plain
    return plain.replace("_percent", ", %").replace("_", " ")


def _report_cell(sheet: Sheet, row: int, column: int, head: str, value: object) -> None:
    if isinstance(value, int) and head.endswith("_cents"):
        sheet.money(row, column, value)
    elif isinstance(value, int) and head.endswith("_s"):
        sheet.number(row, column, Decimal(value) / 3600)
    elif isinstance(value, int):
        sheet.number(row, column, value)
    elif value is not None:
        sheet.text(row, column, str(value))

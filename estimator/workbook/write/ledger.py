"""All tables of the ledger in one workbook, a sheet each."""

from __future__ import annotations

from datetime import date

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

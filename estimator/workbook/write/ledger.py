"""All tables of the ledger in one workbook, a sheet each."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from estimator.core.errors import refusal
from estimator.ledger.records import Reports
from estimator.ledger.store import Ledger
from estimator.report.record import MONEY, Figure, Inner, Kind, Record, keys_of
from estimator.report.records import books
from estimator.report.records.books import SECONDS
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.point_chart import bare
from estimator.workbook.write.style import CHART, FONT, HAIR, INK

MOST_ROWS = 1_048_575
LARGEST = 10**15
"""Whole numbers beyond this a spreadsheet program rounds: they stand as text."""


def ledger_bytes(ledger: Ledger, day: date) -> bytes:
    """The workbook; InputError where a table has more rows than a sheet."""
    book = Book("The ledger", day)
    for name, (columns, rows) in ledger.tables().items():
        if len(rows) > MOST_ROWS:
            raise refusal(
                name,
                "has more rows than a sheet",
                str(len(rows)),
                f"at most {MOST_ROWS}",
                "export to a folder of CSV files",
            )
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


def reports_bytes(reports: Reports, day: date) -> bytes:
    """Every report as a sheet: money as money, lengths of time in hours."""
    book = Book("Reports of the ledger", day)
    _report(book, "Estimate against actual", books.ByTask, reports.by_task, ("planned_s", "taken_s"))
    _report(book, "Where the hours went", books.HoursByTask, reports.hours_by_task, ("taken_s",))
    bars = ("client_s", "own_s", "warranty_s")
    _report(book, "Hours by month", books.HoursByMonth, reports.hours_by_month, bars)
    _report(book, "Pay per hour", books.PayPerHour, reports.pay_per_hour, ("per_hour",))
    _report(book, "Warranty", books.Warranty, reports.warranty, ("taken_s",))
    _report(book, "Cash by month", books.CashOfMonth, reports.cash_by_month, ("in", "out", "stock"))
    return book.done()


def _report(
    book: Book, title: str, record: type[Record[Inner]], rows: Sequence[Inner], bars: Sequence[str]
) -> None:
    """A report as a sheet; ``bars``: the columns that its chart draws, the first column names them."""
    figures = list(keys_of(record)) if rows else []
    widths = [24.0, *[15.0] * max(3, len(figures) - 1)]
    sheet = book.sheet(Sheet(title, widths, pages_tall=0 if len(rows) > ONE_PAGE else 1))
    if not rows:
        sheet.text(0, 0, "nothing is recorded yet")
        return
    for column, figure in enumerate(figures):
        sheet.text(0, column, _head(figure), "head-right" if figure.kind.right else "head")
        for at, row in enumerate(rows, start=1):
            _report_cell(sheet, at, column, figure.kind, figure.value(row))
    _chart(book, sheet, figures, len(rows), bars)


PATTERNS = ("solid", "wide_upward_diagonal", "light_horizontal")
"""A bar is told from the one beside it by its pattern: print may be grey."""
MOST_BARS = 24
ONE_PAGE = 30
"""Rows that stand on one page with their chart; else the chart has a page of its own."""
ROW_PIXELS = 18
"""Of a row of usual height, rather less than it is, so that the chart has room enough."""


def _chart(
    book: Book, sheet: Sheet, figures: Sequence[Figure[Any, Any]], many: int, bars: Sequence[str]
) -> None:
    """A bar chart below the rows; of more than there is room for, the first by task, the last by month."""
    names = [figure.name for figure in figures]
    first, last = (max(1, many - MOST_BARS + 1), many) if "month" in names else (1, min(many, MOST_BARS))
    chart = book.chart({"type": "bar"})
    for number, head in enumerate(bars):
        column = names.index(head)
        drawn = CHART[number]
        pattern = {"pattern": PATTERNS[number], "fg_color": drawn, "bg_color": "#FFFFFF"}
        fill = {"fill": {"color": drawn}} if number == 0 else {"pattern": pattern}
        chart.add_series(
            {
                "name": [sheet.name, 0, column],
                "categories": [sheet.name, first, 0, last, 0],
                "values": [sheet.name, first, column, last, column],
                "border": {"color": drawn},
                "gap": 40,
                **fill,
            }
        )
    font = {"name": FONT, "size": 9, "color": INK}
    chart.set_y_axis({"reverse": True, "num_font": font, "major_tick_mark": "none"})
    chart.set_x_axis(
        {
            "num_font": font,
            "min": 0,
            "label_position": "high",
            "major_gridlines": {"visible": True, "line": {"color": HAIR}},
        }
    )
    height = 80 + (last - first + 1) * (10 * len(bars) + 8)
    legend = {"position": "bottom", "font": font} if len(bars) > 1 else None
    bare(chart, round(sum(7 * width + 5 for width in sheet.widths)), height, legend)
    drawn_heads = ", ".join(_head(figures[names.index(head)]) for head in bars)
    words = f"Bars of {drawn_heads} by {_head(figures[0])}; the figures stand above."
    sheet.charts.append((many + 2, 0, chart, {"object_position": 2, "description": words}))
    if many > ONE_PAGE:
        sheet.page_breaks.append(many + 2)
    # what the chart covers is printed too
    sheet.text(many + 2 + height // ROW_PIXELS + 1, 0, "", "text")


def _head(figure: Figure[Any, Any]) -> str:
    name = f"{figure.name.removesuffix('_s')}, hours" if figure.kind is SECONDS else figure.name
    return name.replace("_percent", ", %").replace("_", " ")


def _report_cell(sheet: Sheet, row: int, column: int, kind: Kind, value: Any) -> None:
    if value is None:
        return
    if kind.unit == MONEY.unit:
        sheet.money(row, column, value)
    elif kind is SECONDS:
        sheet.number(row, column, Decimal(value) / 3600, "hours")
    elif kind.right:
        sheet.number(row, column, value)
    else:
        sheet.text(row, column, str(value))

"""All tables of the ledger in one workbook, a sheet each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from estimator.core.amounts import Cents
from estimator.core.errors import refusal
from estimator.ledger.store import Ledger
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


REPORTS = {
    "by_task": "Estimate against actual",
    "hours_by_task": "Where the hours went",
    "hours_by_month": "Hours by month",
    "pay_per_hour": "Pay per hour",
    "warranty": "Warranty",
    "cash_by_month": "Cash by month",
}
"""The sheets of the reports, in their order."""


def reports_bytes(reports: Mapping[str, Sequence[Mapping[str, object]]], day: date) -> bytes:
    """Every report as a sheet: money as money, lengths of time in hours."""
    book = Book("Reports of the ledger", day)
    for name, title in REPORTS.items():
        rows = reports[name]
        heads = list(rows[0]) if rows else []
        sheet = book.sheet(
            Sheet(
                title, [24.0, *[15.0] * max(3, len(heads) - 1)], pages_tall=0 if len(rows) > ONE_PAGE else 1
            )
        )
        if not rows:
            sheet.text(0, 0, "nothing is recorded yet")
        for column, head in enumerate(heads):
            sheet.text(0, column, _head(head), "head-right" if _is_figure(rows, head) else "head")
        for at, row in enumerate(rows, start=1):
            for column, head in enumerate(heads):
                _report_cell(sheet, at, column, head, row[head])
        if rows:
            _chart(book, sheet, heads, rows, BARS[name])
    return book.done()


BARS = {
    "by_task": ("planned_s", "taken_s"),
    "hours_by_task": ("taken_s",),
    "hours_by_month": ("client_s", "own_s", "warranty_s"),
    "pay_per_hour": ("per_hour_cents",),
    "warranty": ("taken_s",),
    "cash_by_month": ("in_cents", "out_cents", "stock_cents"),
}
"""By report the columns that its chart draws; the first column names the bars."""
PATTERNS = ("solid", "wide_upward_diagonal", "light_horizontal")
"""A bar is told from the one beside it by its pattern: print may be grey."""
MOST_BARS = 24
ONE_PAGE = 30
"""Rows that stand on one page with their chart; else the chart has a page of its own."""
ROW_PIXELS = 18
"""Of a row of usual height, rather less than it is, so that the chart has room enough."""


def _chart(
    book: Book, sheet: Sheet, heads: Sequence[str], rows: Sequence[Mapping[str, object]], bars: Sequence[str]
) -> None:
    """A bar chart below the rows; of more than there is room for, the first by task, the last by month."""
    many = len(rows)
    first, last = (max(1, many - MOST_BARS + 1), many) if "month" in heads else (1, min(many, MOST_BARS))
    chart = book.chart({"type": "bar"})
    for number, head in enumerate(bars):
        column = heads.index(head)
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
    words = (
        f"Bars of {', '.join(_head(head) for head in bars)} by {_head(heads[0])}; the figures stand above."
    )
    sheet.charts.append((many + 2, 0, chart, {"object_position": 2, "description": words}))
    if many > ONE_PAGE:
        sheet.page_breaks.append(many + 2)
    # what the chart covers is printed too
    sheet.text(many + 2 + height // ROW_PIXELS + 1, 0, "", "text")


def _is_figure(rows: Sequence[Mapping[str, object]], head: str) -> bool:
    return isinstance(rows[0][head], int | None)


def _head(name: str) -> str:
    plain = name.removesuffix("_cents")
    plain = f"{plain.removesuffix('_s')}, hours" if plain.endswith("_s") else plain
    return plain.replace("_percent", ", %").replace("_", " ")


def _report_cell(sheet: Sheet, row: int, column: int, head: str, value: object) -> None:
    if isinstance(value, int) and head.endswith("_cents"):
        sheet.money(row, column, Cents(value))
    elif isinstance(value, int) and head.endswith("_s"):
        sheet.number(row, column, Decimal(value) / 3600, "hours")
    elif isinstance(value, int):
        sheet.number(row, column, value)
    elif value is not None:
        sheet.text(row, column, str(value))

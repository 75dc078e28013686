"""The Charts sheet: what the cost is made of, what drives the spread, and cost against score.

Charts are native and follow the figures; the numbers always stand in a table beside them.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.cell_text import a1
from estimator.core.money import amount
from estimator.model import Estimate
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import id_words
from estimator.workbook.write.point_chart import bare
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.style import CHART, FONT, HAIR, INK

SHEET = "Charts"
FONT_9: dict[str, Any] = {"name": FONT, "size": 9, "color": INK}
WIDTHS = (34, 12, 12, 40)
LAST = len(WIDTHS) - 1
WIDE = 690
LABELLED = Decimal("0.14")
"""Least share of the bar in which the name of a segment finds room."""
DARK = (0, 2, 4, 5)
"""Colours of the bar on which white is read, of ``CHART``."""
MOST_LABELS = 12
"""Sets that bear their number in the chart; all of them stand in the table."""
TOP_SCORE = 100


class FrontierPoint(Struct, frozen=True):
    """One set on the frontier: its name, its money in cents, its score in hundredths."""

    name: str
    money: Cents
    score: int


def write_charts(
    book: Book,
    estimate: Estimate,
    rows: Sequence[CostRow],
    footer: str,
    frontier: Sequence[FrontierPoint] = (),
) -> Sheet:
    """Write the sheet with two charts, or three when a frontier is given."""
    sheet = book.sheet(Sheet(SHEET, WIDTHS, footer=footer, pages_tall=1))
    words = "The charts follow the figures beside them, which come from the costing."
    sheet.headline(SHEET, words, 0, LAST)
    at = _build_up(book, sheet, 3, estimate)
    at = _spread(book, sheet, at, rows)
    if frontier:
        _frontier(book, sheet, at, frontier)
    return sheet


def _heads(sheet: Sheet, at: int, section: str, heads: Sequence[str]) -> int:
    sheet.text(at, 0, section, "section")
    for column, head in enumerate(heads):
        sheet.text(at + 1, column, head, "head-right" if column else "head")
    sheet.rule(at + 1, 0, len(heads) - 1, "ink")
    return at + 2


def _place(
    sheet: Sheet, at: int, chart: Any, height: int, description: str, legend: dict[str, Any] | None = None
) -> int:
    bare(chart, WIDE, height, legend)
    sheet.charts.append((at, 0, chart, {"object_position": 2, "description": description}))
    rows = height // 20 + 2
    for row in range(at, at + rows):  # keep the room below the chart in the print area
        sheet.low(row, 15)
    sheet.text(at + rows - 1, 0, "", "text")
    return at + rows


def _build_up(book: Book, sheet: Sheet, at: int, estimate: Estimate) -> int:
    money = estimate.totals.money
    first = row = _heads(sheet, at, "What the cost is made of", ("Share of the cost", "Amount", "Share"))
    kinds = (
        ("Labour", "out_labour", money.labour),
        ("Parts", "out_parts", money.parts),
        ("Overhead", "out_overhead", money.overhead),
        ("Reserve", "out_reserve", money.reserve),
        ("Consumables", "out_consumables", money.consumables),
        ("Tools", "out_tools", money.tools),
    )
    for label, name, cents in kinds:
        sheet.text(row, 0, label)
        sheet.formula(row, 1, f"={name}", amount(cents), "money")
        share = Decimal(cents) / money.cost if money.cost else Decimal(0)
        sheet.formula(row, 2, f"=IF(out_cost>0,{a1(row, 1)}/out_cost,0)", share, "percent", num_format="0%")
        sheet.rule(row, 0, 2)
        row += 1
    chart = book.chart({"type": "bar", "subtype": "percent_stacked"})
    for number, (_, _, cents) in enumerate(kinds):
        chart.add_series(
            {
                "name": [SHEET, first + number, 0],
                "categories": [SHEET, first, 0, first, 0],
                "values": [SHEET, first + number, 1, first + number, 1],
                "fill": {"color": CHART[number]},
                "border": {"color": "#FFFFFF", "width": 1},
                "gap": 40,
                **_named_on_itself(number, Decimal(cents) / money.cost if money.cost else Decimal(0)),
            }
        )
    for axis in (chart.set_x_axis, chart.set_y_axis):
        axis({"visible": False, "major_gridlines": {"visible": False}})
    words = ", ".join(f"{label} {amount(cents):f}" for label, _, cents in kinds)
    legend = {"position": "bottom", "font": FONT_9}
    return _place(sheet, row + 1, chart, 150, f"One bar of what the cost is made of: {words}.", legend)


def _spread(book: Book, sheet: Sheet, at: int, rows: Sequence[CostRow]) -> int:
    widest = sorted((r for r in rows if not r.desk and r.sd), key=lambda r: (-r.sd, r.number))[:8]
    first = row = _heads(sheet, at, "What makes the time uncertain", ("Work", "Spread, min", "Mean, min"))
    for work in widest:
        place = f" ({work.place.replace('-', ' ')})" if work.place else ""
        sheet.text(row, 0, f"{id_words(work.task.id)}{place}"[:46])
        sheet.formula(row, 1, f"=SUMIF(work_row,{work.number},work_sd)", work.sd, "minutes")
        sheet.formula(row, 2, f"=SUMIF(work_row,{work.number},work_minutes)", work.minutes, "minutes")
        sheet.rule(row, 0, 2)
        row += 1
    if not widest:
        sheet.text(row, 0, "No work with a spread.", "soft")
        return row + 2
    chart = book.chart({"type": "bar"})
    chart.add_series(
        {
            "name": "Spread, minutes",
            "categories": [SHEET, first, 0, row - 1, 0],
            "values": [SHEET, first, 1, row - 1, 1],
            "fill": {"color": CHART[0]},
            "gap": 45,
            "data_labels": {"value": True, "num_format": "0.0", "font": FONT_9},
        }
    )
    chart.set_y_axis({"reverse": True, "num_font": FONT_9, "line": {"none": True}, "major_tick_mark": "none"})
    chart.set_x_axis({"visible": False, "major_gridlines": {"visible": False}, "min": 0})
    height = 50 + 30 * len(widest)
    words = "; ".join(f"{id_words(w.task.id)} {float(w.sd):.1f}" for w in widest)
    return _place(sheet, row + 1, chart, height, f"Bars of the widest spreads in minutes: {words}.")


def _frontier(book: Book, sheet: Sheet, at: int, points: Sequence[FrontierPoint]) -> int:
    first = row = _heads(sheet, at, "Cost against score", ("Set", "Money", "Score"))
    chart = book.chart({"type": "scatter"})
    for number, point in enumerate(points, start=1):
        sheet.text(row, 0, f"{number}  {point.name}"[:46])
        sheet.money(row, 1, point.money)
        sheet.number(row, 2, Decimal(point.score) / 100, "hours")
        sheet.rule(row, 0, 2)
        row += 1
    named = labelled(len(points))
    chart.add_series(
        {
            "name": "Score",
            "categories": [SHEET, first, 1, row - 1, 1],
            "values": [SHEET, first, 2, row - 1, 2],
            "marker": {"type": "circle", "size": 8, "fill": {"color": INK}, "border": {"color": INK}},
            "data_labels": {
                "value": True,
                "position": "above",
                "font": FONT_9,
                "custom": [
                    {"value": str(number + 1)} if number in named else {"delete": True}
                    for number in range(len(points))
                ],
            },
        }
    )
    grid = {"visible": True, "line": {"color": HAIR, "width": 0.75}}
    chart.set_x_axis(
        {
            "name": "Money",
            "name_font": FONT_9,
            "num_font": FONT_9,
            "min": 0,
            "num_format": "#,##0",
            "major_gridlines": {"visible": False},
        }
    )
    chart.set_y_axis(
        {
            "name": "Score",
            "name_font": FONT_9,
            "num_font": FONT_9,
            "min": 0,
            "max": TOP_SCORE,
            "num_format": "0",
            "major_gridlines": grid,
        }
    )
    said = "; ".join(f"{p.name} {amount(p.money):f} for {Decimal(p.score) / 100:f}" for p in points)
    return _place(sheet, max(row, first) + 1, chart, 340, f"Sets by money and score: {said}.")


def labelled(count: int) -> frozenset[int]:
    """Which of so many points bear their number: all, or evenly spread ones with the first and the last."""
    step = max(1, -(-(count - 1) // (MOST_LABELS - 1)))
    return frozenset([*range(0, count, step), count - 1])


def _named_on_itself(number: int, share: Decimal) -> dict[str, Any]:
    """The name of a segment on itself, so that it is told apart in grey too; a narrow one has it below alone."""
    if share < LABELLED:
        return {}
    font = {**FONT_9, "color": "#FFFFFF" if number in DARK else INK, "bold": True}
    return {"data_labels": {"series_name": True, "value": False, "position": "center", "font": font}}

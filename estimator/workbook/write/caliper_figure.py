"""The figure of a measuring sheet: an instrument from the front and from the side, and where the caliper goes."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from estimator.model import CaliperPlace
from estimator.report.svg.caliper import HIGH as TOP
from estimator.report.svg.caliper import LEFT, LOW, RIGHT, ends, outlines
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.style import FONT, INK, SOFT

ACROSS, ALONG = 6, 7
"""Columns of the points, right of what is printed."""
WIDE, HIGH = 640, 400
ROW_PIXELS = 20
Pair = tuple[float, float]


def write_figure(book: Book, sheet: Sheet, at: int, places: Sequence[CaliperPlace]) -> int:
    """Draw the figure under a sheet, with the letters of what the sheet asks for; the last row that it takes."""
    if not places:
        return at - 2
    sheet.text(
        at,
        1,
        "Figure: where the caliper goes (not to scale; neck to the left, from the front and from the side)",
        "bold",
    )
    chart = book.chart({"type": "scatter", "subtype": "straight"})
    row = 1
    measured = [ends(place) for place in places]
    letters = [((x1 + x2) / 2, (y1 + y2) / 2) for (x1, y1), (x2, y2) in measured]
    font = {"name": FONT, "size": 9, "bold": True, "color": INK}
    labels = {
        "value": True,
        "position": "right",
        "font": font,
        "custom": [{"value": place.letter, "font": font} for place in places],
    }
    looks: tuple[tuple[str, Sequence[Sequence[Pair]], dict[str, Any]], ...] = (
        ("outline", outlines(), {"line": {"color": SOFT, "width": 0.75}, "marker": {"type": "none"}}),
        (
            "caliper",
            measured,
            {"line": {"color": INK, "width": 1.5}, "marker": {"type": "short_dash", "size": 4}},
        ),
        ("letters", [letters], {"line": {"none": True}, "marker": {"type": "none"}, "data_labels": labels}),
    )
    for name, lines, look in looks:
        first = row
        for number, line in enumerate(lines):
            row += bool(number)
            for x, y in line:
                sheet.number(row, ACROSS, Decimal(f"{x:.2f}"))
                sheet.number(row, ALONG, Decimal(f"{y:.2f}"))
                row += 1
        last = row - 1
        chart.add_series(
            {
                "name": name,
                "categories": [sheet.name, first, ACROSS, last, ACROSS],
                "values": [sheet.name, first, ALONG, last, ALONG],
                **look,
            }
        )
        row += 1
    hidden = {"visible": False, "major_gridlines": {"visible": False}}
    chart.set_x_axis({**hidden, "min": LEFT, "max": RIGHT})
    chart.set_y_axis({**hidden, "min": LOW, "max": TOP, "crossing": LOW})
    chart.set_legend({"none": True})
    chart.set_title({"none": True})
    chart.set_chartarea({"border": {"none": True}})
    chart.set_size({"width": WIDE, "height": HIGH})
    words = "; ".join(f"{place.letter} {place.field}" for place in places)
    sheet.charts.append(
        (at + 1, 1, chart, {"object_position": 2, "description": f"Where the caliper goes: {words}"})
    )
    return at + 1 + HIGH // ROW_PIXELS

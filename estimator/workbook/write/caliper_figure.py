"""The figure of a measuring sheet: an instrument from the front and from the side, and where the caliper goes."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from estimator.model import CaliperPlace
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.style import FONT, INK, SOFT

ACROSS, ALONG = 6, 7
"""Columns of the points, right of what is printed."""
FRONT, SIDE = 16.0, -16.0
"""Where the middle of either view stands."""
WIDE, HIGH = 640, 400
ROW_PIXELS = 20
Pair = tuple[float, float]
#: outlines, not to scale: peghead, board, body, routs and bridge from the front; neck, body and strings from the side
FRONT_LINES: tuple[tuple[Pair, ...], ...] = (
    ((0, -5), (-15, -6), (-15, 6), (0, 5)),
    ((0, -5), (0, 5), (46, 6.5), (46, -6.5), (0, -5)),
    ((54, -7), (54, 7), (47, 7), (44, 12), (58, 14), (74, 14), (80, 0), (74, -12), (58, -12), (44, -10), (47, -7), (54, -7)),
    ((57, -8), (60, -8), (60, 8), (57, 8), (57, -8)),
    ((62, -9), (66, -9), (66, 9), (62, 9), (62, -9)),
)  # fmt: skip
SIDE_LINES: tuple[tuple[Pair, ...], ...] = (
    ((-15, -2.6), (-15, -1), (0, 0), (54, 0), (54, -3), (46, -2.6), (0, -2), (-15, -2.6)),
    ((46, -3), (46, -6), (80, -6), (80, -0.8), (55, -0.8), (55, -3), (46, -3)),
    ((0, 0.6), (32, 1.2), (64, 2.2)),
)  # fmt: skip


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
    outlines = [
        *([(x, y + FRONT) for x, y in line] for line in FRONT_LINES),
        *([(x, 1.6 * y + SIDE) for x, y in line] for line in SIDE_LINES),
    ]
    measured = [_ends(place) for place in places]
    letters = [((x1 + x2) / 2, (y1 + y2) / 2) for (x1, y1), (x2, y2) in measured]
    font = {"name": FONT, "size": 9, "bold": True, "color": INK}
    labels = {
        "value": True, "position": "right", "font": font,
        "custom": [{"value": place.letter, "font": font} for place in places],
    }  # fmt: skip
    looks: tuple[tuple[str, Sequence[Sequence[Pair]], dict[str, Any]], ...] = (
        ("outline", outlines, {"line": {"color": SOFT, "width": 0.75}, "marker": {"type": "none"}}),
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
        chart.add_series({
            "name": name, "categories": [sheet.name, first, ACROSS, last, ACROSS],
            "values": [sheet.name, first, ALONG, last, ALONG], **look,
        })  # fmt: skip
        row += 1
    hidden = {"visible": False, "major_gridlines": {"visible": False}}
    chart.set_x_axis({**hidden, "min": -17, "max": 83})
    chart.set_y_axis({**hidden, "min": -28, "max": 36, "crossing": -28})
    chart.set_legend({"none": True})
    chart.set_title({"none": True})
    chart.set_chartarea({"border": {"none": True}})
    chart.set_size({"width": WIDE, "height": HIGH})
    words = "; ".join(f"{place.letter} {place.field}" for place in places)
    sheet.charts.append(
        (at + 1, 1, chart, {"object_position": 2, "description": f"Where the caliper goes: {words}"})
    )
    return at + 1 + HIGH // ROW_PIXELS


def _ends(place: CaliperPlace) -> tuple[Pair, Pair]:
    middle, stretch = (FRONT, 1.0) if place.view == "front" else (SIDE, 1.6)
    return (
        (float(place.x1), stretch * float(place.y1) + middle),
        (float(place.x2), stretch * float(place.y2) + middle),
    )

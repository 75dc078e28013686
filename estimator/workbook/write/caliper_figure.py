"""The figure of a measuring sheet: an instrument from the front and from the side, and where the caliper goes."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.model import CaliperPlace
from estimator.report.svg.caliper import HIGH as TOP
from estimator.report.svg.caliper import LEFT, LOW, RIGHT, ends, outlines
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.point_chart import HIDDEN, PointChart, bare
from estimator.workbook.write.style import FONT, INK, SOFT

ACROSS, ALONG = 6, 7
"""Columns of the points, right of what is printed."""
WIDE, HIGH = 640, 400
ROW_PIXELS = 20


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
    drawing = PointChart(book, sheet, (ACROSS, ALONG), row=1)
    measured = [ends(place) for place in places]
    drawing.add("outline", outlines(), line={"color": SOFT, "width": 0.75})
    drawing.add(
        "caliper", measured, line={"color": INK, "width": 1.5}, marker={"type": "short_dash", "size": 4}
    )
    middles = [((x1 + x2) / 2, (y1 + y2) / 2) for (x1, y1), (x2, y2) in measured]
    letters = [(at, place.letter) for at, place in zip(middles, places, strict=True)]
    drawing.label("letters", letters, "right", {"name": FONT, "size": 9, "bold": True, "color": INK})
    drawing.chart.set_x_axis({**HIDDEN, "min": LEFT, "max": RIGHT})
    drawing.chart.set_y_axis({**HIDDEN, "min": LOW, "max": TOP, "crossing": LOW})
    bare(drawing.chart, WIDE, HIGH)
    words = "; ".join(f"{place.letter} {place.field}" for place in places)
    sheet.charts.append(
        (at + 1, 1, drawing.chart, {"object_position": 2, "description": f"Where the caliper goes: {words}"})
    )
    return at + 1 + HIGH // ROW_PIXELS

"""The Drawings sheet: hole patterns and cavities of the chosen upgrades as native charts, to scale.

Both axes of a chart have the same scale. What becomes of a hole or of wood shows by the shape of the
mark and by its words, and by colour besides; the dimensions stand in a table beside the chart.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from estimator.choose.study import Study
from estimator.model import Estimate
from estimator.report.drawings import Drawn, DrawnPlan, drawn_of
from estimator.report.hole_plans import HolePlan
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.drawn_marks import MarkedPoint, Series, facts_of, hole_scale, series_of
from estimator.workbook.write.point_chart import HIDDEN, bare
from estimator.workbook.write.style import FONT, INK

SHEET = "Drawings"
WIDTHS = (25, 9, 9, 9, 2, 14, 14, 14, 14, 14)
INCHES_WIDE = 20
"""Of the column of values where inches stand in it with their mm."""
NUMBERS = ("Across, mm", "Along, mm", "Size, mm")
CHART_AT = 5
PAGE_ROWS = 40
WIDE = 500
#: room round a drawing, mm, and for the legend and the edge of the chart, pixels
PAD, LEGEND, EDGE = 5.0, 46, 6
#: pixels of 1 mm on paper
PIXELS = 96 / 25.4


def chosen_drawn(study: Study, estimate: Estimate) -> list[tuple[str, Drawn]]:
    """What is drawn of the chosen upgrades, and what is not: by upgrade in words, in order of upgrade."""
    chosen = [v.upgrade for v in study.verdicts if v.upgrade.id in estimate.chosen]
    return [(upgrade.what, drawn_of(study.shop, study.job, upgrade)) for upgrade in chosen]


def chosen_plans(study: Study, estimate: Estimate) -> list[tuple[str, DrawnPlan]]:
    """What there is to draw of the chosen upgrades: (upgrade in words, plan), in order of upgrade."""
    return [(what, plan) for what, drawn in chosen_drawn(study, estimate) for plan in drawn.plans.values()]


def write_drawings(book: Book, study: Study, estimate: Estimate, footer: str) -> Sheet | None:
    """Write the sheet; None where nothing is bored or cut."""
    plans = chosen_plans(study, estimate)
    if not plans:
        return None
    across = max(WIDTHS[1], INCHES_WIDE) if study.shop.lengths == "in" else WIDTHS[1]
    sheet = book.sheet(
        Sheet(SHEET, (WIDTHS[0], across, *WIDTHS[2:]), landscape=True, footer=footer, pages_tall=len(plans))
    )
    words = "Both ways the same scale; check a print by its bar of 10 mm. Lengths in mm."
    sheet.headline(SHEET, words, 0, len(WIDTHS) - 1)
    at = 3
    for number, (upgrade, plan) in enumerate(plans, start=1):
        end = _draw(book, sheet, at, upgrade, plan)
        if number < len(plans):  # pages of equal length: a program that fits pages takes no other breaks
            at = max(end, number * PAGE_ROWS)
            sheet.page_breaks.append(at)
    return sheet


def _draw(book: Book, sheet: Sheet, at: int, upgrade: str, plan: DrawnPlan) -> int:
    sheet.text(at, 0, plan.title, "section")
    guessed = "  ·  not all of it is measured: see Templates before you drill" if plan.assumed else ""
    sheet.text(at + 1, 0, f"For: {upgrade}{guessed}", "soft")
    facts, series = facts_of(plan), series_of(plan)
    scale = hole_scale(plan) if isinstance(plan, HolePlan) else 1.0
    top = _facts(sheet, at + 3, facts)
    series.append(_bar(series))
    row, places = _points(sheet, top, series)
    chart, height = _chart(book, series, places, scale)
    words = f"{plan.title}. " + "; ".join(f"{name} {value}" for name, value in facts) + "."
    seen = f"Drawn {scale:g} : 1 before fitting the page; neck upward, from {plan.seen_from}"
    sheet.text(at + 2, CHART_AT, seen, "soft")
    sheet.charts.append((at + 3, CHART_AT, chart, {"object_position": 2, "description": words}))
    end = max(row, at + 3 + height // 20 + 2)
    sheet.text(end - 1, CHART_AT - 1, "", "text")  # the room of the chart is printed too
    return end


def _facts(sheet: Sheet, at: int, facts: Sequence[tuple[str, str]]) -> int:
    for name, value in facts:
        sheet.text(at, 0, name)
        sheet.text(at, 1, value, "right")
        sheet.rule(at, 0, 1)
        at += 1
    return at + 1


def _points(sheet: Sheet, at: int, series: Iterable[Series]) -> tuple[int, list[tuple[int, int]]]:
    """The points as a table, series under series; the first and last row of each."""
    sheet.text(at, 0, "Points of the drawing", "head")
    for column, head in enumerate(NUMBERS, start=1):
        sheet.text(at, column, head, "head-right")
    sheet.rule(at, 0, len(NUMBERS), "ink")
    at += 1
    places = []
    for each in series:
        first = at
        for number, (y, x) in enumerate(each.points):
            sheet.text(at, 0, (each.words[number] if each.words else "") or each.name, "soft")
            sheet.number(at, 1, _shown(y))
            sheet.number(at, 2, _shown(x))
            if each.sizes:
                sheet.number(at, 3, _shown(each.sizes[number]))
            at += 1
        places.append((first, at - 1))
        sheet.rule(at - 1, 0, len(NUMBERS))
    return at, places


def _shown(length: Decimal) -> Decimal:
    """A length to 0.01 mm, half up."""
    return length.quantize(Decimal("0.01"), ROUND_HALF_UP)


def _chart(
    book: Book, series: Sequence[Series], places: Sequence[tuple[int, int]], scale: float
) -> tuple[Any, int]:
    """The chart with axes alike, and its height in pixels."""
    chart = book.chart({"type": "scatter", "subtype": "straight_with_markers"})
    for each, (first, last) in zip(series, places, strict=True):
        labels: dict[str, Any] = {}
        if each.words:
            font = {"name": FONT, "size": 8, "color": each.ink}
            custom = [{"value": word, "font": font} if word else {"delete": True} for word in each.words]
            labels = {"data_labels": {"value": True, "custom": custom, "position": each.place, "font": font}}
        chart.add_series(
            {
                "name": each.name,
                "categories": [SHEET, first, 1, last, 1],
                "values": [SHEET, first, 2, last, 2],
                "marker": each.marker,
                "line": each.line,
                **labels,
            }
        )
    ys = [float(y) for each in series for y, _ in each.points]
    xs = [float(x) for each in series for _, x in each.points]
    tall = max(xs) - min(xs) + 2 * PAD
    pixels = scale * PIXELS
    middle = (max(ys) + min(ys)) / 2
    half = (WIDE - 2 * EDGE) / pixels / 2
    height = round(tall * pixels) + LEGEND + 2 * EDGE
    chart.set_x_axis({**HIDDEN, "min": round(middle - half, 3), "max": round(middle + half, 3)})
    low = round(min(xs) - PAD, 3)
    chart.set_y_axis({**HIDDEN, "min": low, "max": round(low + tall, 3), "crossing": low})
    inner = {
        "x": EDGE / WIDE,
        "y": EDGE / height,
        "width": 1 - 2 * EDGE / WIDE,
        "height": tall * pixels / height,
    }
    chart.set_plotarea({"layout": inner})
    bare(chart, WIDE, height, {"position": "bottom", "font": {"name": FONT, "size": 9, "color": INK}})
    return chart, height


def _bar(series: Sequence[Series]) -> Series:
    """A bar of 10 mm below the drawing, clear of its widest hole."""
    widest = max((size for each in series for size in each.sizes), default=Decimal(0))
    low = min(x for each in series for _, x in each.points) - widest / 2 - 8
    left = min(y for each in series for y, _ in each.points)
    ends: list[MarkedPoint] = [(left, low), (left + 10, low)]
    return Series("10 mm", ends, ["10 mm", ""], line={"color": INK, "width": 3}, ink=INK)

"""The Templates sheet: every place that is bored or cut, true to size on paper, to be stuck on the wood.

It prints at 100 %. Each drawing stands within one wide column, so that no program stretches it with its own
idea of how wide a column is; circles are traced point by point, because marks of a chart have sizes in steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import cos, pi, sin
from typing import Any

from msgspec import Struct, field

from estimator.choose.study import Study
from estimator.fit.case import mm as spoken
from estimator.model import Estimate
from estimator.report.drawings import DrawnPlan, NotDrawn, OutlinePlan
from estimator.report.hole_plans import HolePlan, HoleRow, letters, rows_of
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.drawn_marks import NEW_INK, facts_of, series_of
from estimator.workbook.write.point_chart import HIDDEN, Pair, PointChart, bare
from estimator.workbook.write.sheets.drawings import chosen_drawn
from estimator.workbook.write.style import FONT, INK, SOFT, wrapped_lines

SHEET = "Templates"
NAME, ACROSS, ALONG = 2, 3, 4
"""Columns of the points that are drawn, right of what is printed."""
WIDE = 94
"""Of the one column, in characters: with a margin of a quarter inch it goes on A4 and on Letter."""
CHART_WIDE = 640
"""Of a drawing, in pixels of 1/96 inch."""
PIXEL = 25.4 / 96
"""Millimetres of a pixel on paper."""
CORNERS = 48
"""Of a circle: on 16 mm the sides lie within 0.02 mm of the round."""
PAD = 6.0
BAR = 100
ROW_PIXELS = 20
PAGE_PIXELS = 980
"""Of height that a page of either paper holds."""

LOOKS: dict[str, dict[str, Any]] = {
    "as it is": {"color": INK, "width": 1.0},
    "to drill or cut": {"color": NEW_INK, "width": 1.0},
    "middle and line": {"color": SOFT, "width": 0.5, "dash_type": "long_dash"},
    "100 mm": {"color": INK, "width": 2.0},
}


class TracedLines(Struct):
    """Lines of one kind: polylines in mm, and words at points of their own."""

    name: str
    lines: list[list[Pair]] = field(default_factory=list)
    dashed: bool = False

    @property
    def look(self) -> dict[str, Any]:
        """How they are drawn."""
        return {**LOOKS[self.name], **({"dash_type": "square_dot"} if self.dashed else {})}


def write_templates(book: Book, study: Study, estimate: Estimate, footer: str) -> Sheet | None:
    """Write the sheet; None where nothing is bored or cut."""
    drawn = chosen_drawn(study, estimate)
    plans = [(what, plan) for what, found in drawn for plan in found.plans.values() if not _too_large(plan)]
    large = [(what, plan) for what, found in drawn for plan in found.plans.values() if _too_large(plan)]
    left = [(what, gap) for what, found in drawn for gap in found.not_drawn]
    if not plans and not left and not large:
        return None
    sheet = book.sheet(
        Sheet(SHEET, (WIDE, 4, 30, 12, 12), footer=footer, margin=0.25, true_size=True, print_last_column=0)
    )
    first = "Print at 100 %, not fitted to the page. Measure the bar of 100 mm before you mark anything."
    sheet.headline(f"Templates  ·  {study.job.id}", first, 0, 0, "bold")
    at, used = 3, 4 * ROW_PIXELS
    trace = _Tracer(book, sheet)
    for what, plan in plans:
        words = _words(study, what, plan)
        chart, high = trace.chart(plan)
        room = (len(words) + 2) * ROW_PIXELS + high
        if used + room > PAGE_PIXELS and used > 4 * ROW_PIXELS:
            sheet.page_breaks.append(at)
            used = 0
        at = _put(sheet, at, plan, words, (chart, high))
        used += room
    for what, plan in large:
        for line in wrapped_lines(f"{what}: {plan.title}: {LARGER}", WIDE - 8):
            sheet.text(at, 0, line, "bold")
            at += 1
    sheet.print_last_row = _left(sheet, at, left)
    return sheet


LARGER = (
    "larger than a page. Print it 1 : 1 over several pages: estimator draw JOB --upgrade ID --template FILE.html "
    "(all its points stand on the sheet Drawings)."
)
LARGEST = (Decimal(160), Decimal(230))
"""Across and along, mm, of what goes on one page of this sheet."""


def _too_large(plan: DrawnPlan) -> bool:
    return isinstance(plan, OutlinePlan) and any(
        size > most for size, most in zip(plan.size, LARGEST, strict=True)
    )


def _words(study: Study, what: str, plan: DrawnPlan) -> list[tuple[str, str]]:
    """Lines over and under a drawing, each with its style; the drawing stands after the first ones."""
    said = [(f"For: {what}  ·  job {study.job.id}, {study.job.received}".rstrip(", "), "soft")]
    if plan.assumed:
        banner = "Do not drill or cut from this: measure " + "; ".join(dict.fromkeys(plan.assumed)) + "."
        said += [(line, "bold") for line in wrapped_lines(banner, WIDE - 8)]
    if isinstance(plan, HolePlan):
        if plan.depth:
            said += [(line, "small") for line in wrapped_lines(f"Depth stop: {plan.depth}.", WIDE, 9)]
        nut = "" if plan.from_nut is None else f", {spoken(plan.from_nut)} mm from the nut"
        along = plan.read(f"Along: from the {plan.line}{nut}. Seen from {plan.seen_from}.")
        said += [(line, "small") for line in wrapped_lines(along, WIDE, 9)]
        said += [
            (line, "small") for row in rows_of(plan) for line in wrapped_lines(hole_words(plan, row), WIDE, 9)
        ]
    else:
        facts = ";  ".join(f"{name} {value}" for name, value in facts_of(plan))
        said += [(line, "small") for line in wrapped_lines(f"{facts}.", WIDE, 9)]
    return said


def hole_words(plan: HolePlan, row: HoleRow) -> str:
    """One mark in words: ``A  drill 25 mm left of the middle, 648 mm from the nut: 2.3 mm or 3/32 in (2.38)``."""
    if not plan.placed:
        where = "where it is"
    elif row.across:
        side = "left" if row.across < 0 else "right"
        where = f"{spoken(abs(row.across))} mm {side} of the {plan.across}"
    else:
        where = f"on the {plan.across}"
    along = (
        f", {spoken(abs(row.along))} mm {'behind' if row.along > 0 else 'before'} the line"
        if row.along
        else ""
    )
    nut = "" if row.from_nut is None else f", {spoken(row.from_nut)} mm from the nut"
    bit = f": {row.bit}" if row.bit else f", {spoken(row.d)} mm wide"
    return plan.read(f"{row.mark}   {row.what} {where}{along}{nut}{bit}")


def _put(
    sheet: Sheet, at: int, plan: DrawnPlan, words: Sequence[tuple[str, str]], drawn: tuple[Any, int]
) -> int:
    chart, high = drawn
    sheet.text(at, 0, plan.title, "section")
    at += 1
    for line, style in words:
        sheet.text(at, 0, line, style)
        at += 1
    sheet.charts.append((at, 0, chart, {"object_position": 2, "description": plan.title}))
    at += -(-high // ROW_PIXELS) + 1
    sheet.text(at - 1, 0, "", "text")  # the room of the drawing is printed too
    return at


def _left(sheet: Sheet, at: int, left: Sequence[tuple[str, NotDrawn]]) -> int:
    """What is bored, cut or glued and not drawn, with how to mark it; the last row."""
    if not left:
        return at
    sheet.text(at, 0, "Not drawn", "section")
    for what, gap in left:
        for line in wrapped_lines(f"{what}: {gap.words}.", WIDE, 9):
            at += 1
            sheet.text(at, 0, line, "small")
    return at


class _Tracer:
    """Makes the drawings; their points stand right of what is printed, one plan under another."""

    def __init__(self, book: Book, sheet: Sheet) -> None:
        self.book, self.sheet, self.row = book, sheet, 1
        for column, head in ((NAME, "Points of the drawings"), (ACROSS, "Across, mm"), (ALONG, "Along, mm")):
            sheet.text(0, column, head, "soft" if column == NAME else "soft-right")

    def chart(self, plan: DrawnPlan) -> tuple[Any, int]:
        """The drawing of a plan true to size, and its height in pixels."""
        lines, labels = traced(plan)
        drawing = PointChart(self.book, self.sheet, (ACROSS, ALONG), self.row, places=4)
        for each in lines:
            self.sheet.text(drawing.row, NAME, plan.title, "soft")
            drawing.add(each.name, each.lines, line=each.look)
        self.sheet.text(drawing.row, NAME, plan.title, "soft")
        drawing.label("marks", labels, "right", {"name": FONT, "size": 8, "color": INK})
        self.row = drawing.row
        return drawing.chart, _to_size(
            drawing.chart, [at for each in lines for line in each.lines for at in line]
        )


def circle(across: float, along: float, d: float) -> list[Pair]:
    """A circle as a closed line of many corners."""
    turns = [2 * pi * k / CORNERS for k in range(CORNERS + 1)]
    return [(across + d / 2 * cos(turn), along + d / 2 * sin(turn)) for turn in turns]


def traced(plan: DrawnPlan) -> tuple[list[TracedLines], list[tuple[Pair, str]]]:
    """The lines of a plan and its words, mm; along counts towards the neck here, as a chart counts upward."""
    old, new = (
        TracedLines("as it is", dashed=bool(plan.measure)),
        TracedLines("to drill or cut", dashed=bool(plan.assumed)),
    )
    guide, labels = TracedLines("middle and line"), []
    if isinstance(plan, HolePlan):
        labels = _holes(plan, old, new)
    else:
        for each in series_of(plan):
            line = [(float(y), float(x)) for y, x in each.points]
            (new if each.ink == NEW_INK else guide if each.ink == SOFT else old).lines.append(line)
            labels += [(at, words) for at, words in zip(line, each.words, strict=False) if words]
    xs = [y for each in (old, new, guide) for line in each.lines for _, y in line]
    low, high = min(xs, default=0.0), max(xs, default=0.0)
    guide.lines.append([(0.0, low - 6), (0.0, high + 6)])
    if isinstance(plan, HolePlan):
        ys = [y for each in (old, new) for line in each.lines for y, _ in line]
        guide.lines.append([(min(ys, default=0.0) - 6, 0.0), (max(ys, default=0.0) + 6, 0.0)])
    bar = TracedLines("100 mm", [[(-BAR / 2, low - 12), (BAR / 2, low - 12)]])
    labels.append(((BAR / 2, low - 12), "100 mm"))
    return [each for each in (old, new, guide, bar) if each.lines], labels


def _holes(plan: HolePlan, old: TracedLines, new: TracedLines) -> list[tuple[Pair, str]]:
    """Circles of old holes (with a cross where they are plugged) and of new ones with hair lines."""
    labels = []
    for number, (hole, fate) in enumerate(zip(plan.test.existing, plan.test.old, strict=True), start=1):
        y, x, d = float(hole.y), -float(hole.x), float(hole.d)
        old.lines.append(circle(y, x, d))
        if fate == "plugged":
            r = d / 2 * 0.7071
            old.lines += [[(y - r, x - r), (y + r, x + r)], [(y - r, x + r), (y + r, x - r)]]
        labels.append(((y, x + d / 2 + 4), f"{number}"))
    for number, (hole, becomes) in enumerate(zip(plan.test.needed, plan.test.new, strict=True)):
        if becomes.case == "reuse":
            continue
        y, x, d = float(hole.y), -float(hole.x), float(hole.d)
        reach = d / 2 + 2
        new.lines += [circle(y, x, d), [(y - reach, x), (y + reach, x)], [(y, x - reach), (y, x + reach)]]
        labels.append(((y, x - d / 2 - 4), letters(number)))
    return labels


def _to_size(chart: Any, points: Sequence[Pair]) -> int:
    """Axes and frame so that a millimetre of the plan is one on paper; the height in pixels."""
    ys, xs = [y for y, _ in points], [x for _, x in points]
    middle = (max(ys) + min(ys)) / 2
    edge = 4
    half = (CHART_WIDE - 2 * edge) * PIXEL / 2
    tall = max(xs) - min(xs) + 2 * PAD
    high = -(-round(tall / PIXEL) // ROW_PIXELS) * ROW_PIXELS
    inner = high - 2 * edge
    low = (max(xs) + min(xs)) / 2 - inner * PIXEL / 2
    chart.set_x_axis({**HIDDEN, "min": round(middle - half, 4), "max": round(middle + half, 4)})
    chart.set_y_axis(
        {**HIDDEN, "min": round(low, 4), "max": round(low + inner * PIXEL, 4), "crossing": round(low, 4)}
    )
    layout = {
        "x": edge / CHART_WIDE,
        "y": edge / high,
        "width": 1 - 2 * edge / CHART_WIDE,
        "height": inner / high,
    }
    chart.set_plotarea({"layout": layout})
    bare(chart, CHART_WIDE, high)
    return high

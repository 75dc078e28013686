"""The small drawings of a job card: under each task that bores or cuts, what it bores or cuts, with its ordinates.

They are no templates: each is drawn as large as its room goes, and the 1 : 1 pages stand on the sheet Templates.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from msgspec import Struct, field

from estimator.fit.case import mm as spoken
from estimator.report.drawings import DrawnPlan
from estimator.report.hole_plans import HolePlan, rows_of
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.point_chart import HIDDEN, Pair, PointChart, bare
from estimator.workbook.write.sheets.templates import BAR, traced
from estimator.workbook.write.style import FONT, INK

BAR_WORDS = f"{BAR} mm"
LABEL_OFF = 4.0
"""How far from the edge of its hole a template sets a mark, mm; here marks stand at the edge."""
HEIGHTS = (92, 74, 58, 44)
"""Of a row of drawings, in points: the tallest that keeps the card on its pages."""
TALLEST = 405.0
"""Points of the tallest row that spreadsheet programs allow."""
SIDE_BY_SIDE = 2
MANY_HOLES = 8
"""Up to so many marks carry their ordinates; more would be written over each other."""
LETTER_PIXELS = 26.0
"""What is kept free round a drawing for its words."""


class CardPictures(Struct):
    """The drawings that a card is to hold: kept while it is written, drawn under the words of their rows at its end.

    A drawing stands in the row of its task, so that no page parts the two. ``columns`` are the left columns of the drawings side by side, ``wide`` how many pixels each has, ``points`` the
    columns, right of what is printed, where the points of the drawings stand.
    """

    book: Book
    sheet: Sheet
    columns: tuple[int, int]
    wide: int
    points: tuple[int, int]
    rows: list[tuple[int, list[DrawnPlan]]] = field(default_factory=list)

    def keep(self, at: int, plans: Sequence[DrawnPlan]) -> None:
        """Keep some plans for the row of their task."""
        for first in range(0, len(plans), SIDE_BY_SIDE):
            self.rows.append((at, list(plans[first : first + SIDE_BY_SIDE])))

    def draw(self, most: float) -> None:
        """Draw them all, as tall as leaves the card within so many points."""
        rest = self.sheet.height
        high = next((h for h in HEIGHTS if rest + h * len(self.rows) <= most), HEIGHTS[-1])
        top = 0
        for at, plans in self.rows:
            words = self.sheet.points(at, at + 1)
            self.sheet.tall(at, min(words + high, TALLEST))
            for column, plan in zip(self.columns, plans, strict=False):
                chart, top = self._chart(plan, high, top)
                said = f"{plan.title}. Not to scale: drill and cut by the sheet Templates."
                below = {"y_offset": round(words * 96 / 72), "object_position": 2, "description": said}
                self.sheet.charts.append((at, column, chart, below))

    def _chart(self, plan: DrawnPlan, high: int, top: int) -> tuple[Any, int]:
        """A drawing that fills its room, lengths across and along at one scale; the next free row of points."""
        lines, labels = traced(plan)
        lines = [each for each in lines if each.name in ("as it is", "to drill or cut")]
        drawing = PointChart(self.book, self.sheet, self.points, top)
        for each in lines:
            drawing.add(each.name, each.lines, line=each.look)
        marks = marks_of(plan, labels)
        for place, held in marks.items():
            drawing.label(place, held, place, {"name": FONT, "size": 7, "color": INK})
        points = [at for each in lines for line in each.lines for at in line]
        self._fit(drawing.chart, points + [at for held in marks.values() for at, _ in held], high)
        return drawing.chart, drawing.row

    def _fit(self, chart: Any, points: Sequence[Pair], high: int) -> None:
        """Axes that show all points at one scale, in the middle of the room."""
        wide, tall = float(self.wide - 8), high * 96 / 72 - 6
        xs, ys = [x for x, _ in points], [y for _, y in points]
        scale = min(
            (wide - 2 * LETTER_PIXELS) / max(max(xs) - min(xs), 1.0),
            (tall - 16) / max(max(ys) - min(ys), 1.0),
        )
        for axis, held, room in ((chart.set_x_axis, xs, wide), (chart.set_y_axis, ys, tall)):
            middle, half = (max(held) + min(held)) / 2, room / scale / 2
            low = round(middle - half, 3)
            axis({**HIDDEN, "min": low, "max": round(middle + half, 3), "crossing": low})
        chart.set_plotarea({"layout": {"x": 0.0, "y": 0.0, "width": 1.0, "height": 1.0}})
        bare(chart, int(wide), int(tall))


def marks_of(plan: DrawnPlan, labels: Sequence[tuple[Pair, str]]) -> dict[str, list[tuple[Pair, str]]]:
    """The words of a drawing by the side of their points on which they stand: old holes above, new ones below."""
    said = [(at, words) for at, words in labels if words != BAR_WORDS]
    if not isinstance(plan, HolePlan):
        return {}  # sizes stand in the words of the task: beside a small drawing they would be broken
    old = [((x, y - LABEL_OFF), words) for (x, y), words in said if words.isdigit()]
    new = [((x, y + LABEL_OFF), words) for (x, y), words in said if not words.isdigit()]
    if new and len({hole.x for hole in plan.test.needed}) > 1:
        old = []  # numbers of several rows would stand in the row before; the list beside the template has them
    return {place: held for place, held in (("above", old), ("below", new)) if held}


def mark_words(plan: DrawnPlan, words: Sequence[str]) -> list[str]:
    """The marks of a drawing; few holes with how far left or right of the middle they stand.

    They are told in the words of the task: beside small drawings some programs break them.
    """
    if not isinstance(plan, HolePlan) or len(words) > MANY_HOLES or not plan.placed:
        return list(words)
    rows = {row.mark: row.across for row in rows_of(plan)}
    sides = {mark: "" if not across else "L" if across < 0 else "R" for mark, across in rows.items()}
    return [
        f"{mark} {spoken(abs(rows[mark]), '0.1')}{sides[mark]}" if mark in rows else mark for mark in words
    ]

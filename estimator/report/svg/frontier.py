"""The frontier as a drawing: cost across, score up; marks told apart by shape and by a letter, not by colour."""

from __future__ import annotations

from msgspec import Struct

from estimator.choose.questions.pareto import ParetoFront, ParetoPoint
from estimator.core.amounts import Cents
from estimator.core.money import amount
from estimator.report.svg.shapes import BOLD, FIRM, PALE, Drawing, Lettering, Stroke
from estimator.report.text.terminal import hours, money

WIDTH, TOP = 180.0, 16.0
LEFT, RIGHT, HIGH = 22.0, 172.0, 92.0
"""Ends of the drawn field in mm on paper; ``HIGH`` is its height."""
LINE = 4.6
"""Height of a line of text, in mm."""
STEPS = (1, 2, 5)


class Axis(Struct, frozen=True):
    """Figures to millimetres: ``low`` at ``start``, ``high`` at ``end``; a tick every ``step``."""

    low: int
    high: int
    step: int
    start: float
    end: float

    def at(self, figure: int) -> float:
        """Where a figure lies, in mm."""
        return self.start + (figure - self.low) * (self.end - self.start) / (self.high - self.low)

    def ticks(self) -> range:
        """The figures that get a tick."""
        return range(self.low, self.high + 1, self.step)


MOST = 8


def axis(low: int, high: int, start: float, end: float) -> Axis:
    """An axis in round steps (1, 2, 5 x ten to a power), no more than ``MOST`` of them."""
    step = 1
    for power in range(20):
        steps = [s * 10**power for s in STEPS if (high - low) // (s * 10**power) < MOST]
        if steps:
            step = steps[0]
            break
    first = low // step * step
    return Axis(first, max(-(-high // step) * step, first + step), step, start, end)


CHEAPEST = "cheapest that meets the wish"


class Marks(Struct, frozen=True):
    """What is marked besides: ``budget`` in cents where it is on cost, ``limits`` in words (all sets keep
    them), and the best set, which meets the wish but need not be on the frontier."""

    budget: Cents | None = None
    limits: tuple[str, ...] = ()
    best: ParetoPoint | None = None
    best_words: str = CHEAPEST


def frontier_svg(frontier: ParetoFront, title: str, currency: str, marks: Marks) -> str:
    """The drawing; ValueError without points."""
    points = frontier.points
    if not points:
        raise ValueError("there is no set to draw")
    known = {point.chosen for point in points}
    shown = points if marks.best is None or marks.best.chosen in known else (*points, marks.best)
    labels = _labels(points, shown, marks)
    sheet = Drawing(title, WIDTH, TOP + HIGH + 36 + LINE * (len(labels) + len(marks.limits)))
    ends = [p.cost for p in shown] + ([marks.budget] if marks.budget is not None else [])
    across = axis(min(ends), max(ends), LEFT, RIGHT)
    up = axis(min(p.score for p in shown), max(p.score for p in shown), TOP + HIGH, TOP)
    sheet.text(LEFT, 7, title, "start", Lettering(4.2, bold=True))
    _axes(sheet, across, up, currency)
    _steps(sheet, points, across, up)
    if marks.budget is not None:
        x = across.at(marks.budget)
        sheet.line(x, TOP, x, TOP + HIGH, Stroke(wide=0.5, dash="2 1.4"))
        near_right = x > (LEFT + RIGHT) / 2
        sheet.text(
            x + (-1.4 if near_right else 1.4), TOP + HIGH - 2, "budget", "end" if near_right else "start"
        )
    for point in shown:
        _mark(sheet, point, across.at(point.cost), up.at(point.score))
    for letter, point, _ in labels:
        sheet.text(across.at(point.cost) - 2.2, up.at(point.score) - 2, letter, "end", BOLD)
    _key(sheet, labels, frontier, currency, marks.limits)
    return sheet.svg()


def _labels(
    points: tuple[ParetoPoint, ...], shown: tuple[ParetoPoint, ...], marks: Marks
) -> list[tuple[str, ParetoPoint, str]]:
    """Letters for the sets worth naming: the cheapest, the knee, the one that meets the wish, the highest."""
    named: dict[int, list[str]] = {}

    def name(number: int | None, words: str) -> None:
        if number is not None:
            named.setdefault(number, []).append(words)

    name(0, "cheapest")
    name(next((i for i, p in enumerate(points) if p.knee), None), "knee: from here a cent buys less")
    best = marks.best
    if best is not None and marks.best_words != CHEAPEST:
        name(next(i for i, p in enumerate(shown) if p.chosen == best.chosen), marks.best_words)
    else:
        meeting = (i for i, p in enumerate(shown) if p.meets_wish)
        name(min(meeting, key=lambda i: (shown[i].cost, i), default=None), CHEAPEST)
    name(max(range(len(points)), key=lambda i: (points[i].score, -i)), "highest score")
    return [
        (chr(ord("A") + place), shown[number], ", ".join(named[number]))
        for place, number in enumerate(sorted(named))
    ]


def _axes(sheet: Drawing, across: Axis, up: Axis, currency: str) -> None:
    foot = TOP + HIGH
    for figure in across.ticks():
        x = across.at(figure)
        sheet.line(x, foot, x, foot + 1.4)
        places = 0 if across.step % 100 == 0 else 2
        sheet.text(x, foot + 5, f"{amount(Cents(figure)):,.{places}f}")
    for figure in up.ticks():
        y = up.at(figure)
        sheet.line(LEFT, y, RIGHT, y, Stroke(PALE, 0.1))
        places = 0 if up.step % 1000 == 0 else 2
        sheet.text(LEFT - 2, y + 1.1, f"{figure / 1000:.{places}f}", "end")
    sheet.line(LEFT, foot, RIGHT, foot, FIRM)
    sheet.line(LEFT, TOP, LEFT, foot, FIRM)
    sheet.text((LEFT + RIGHT) / 2, foot + 10, f"cost to the shop, {currency}")
    sheet.text(LEFT, TOP - 3, "score (points of the wish)", "start")


def _steps(sheet: Drawing, points: tuple[ParetoPoint, ...], across: Axis, up: Axis) -> None:
    """What a sum of money buys at most: level up to the next set that scores more."""
    best = -1
    before: tuple[float, float] | None = None
    for point in points:
        if point.score <= best:
            continue  # only quicker than others (a frontier of three figures)
        best = point.score
        x, y = across.at(point.cost), up.at(point.score)
        if before is not None:
            sheet.line(before[0], before[1], x, before[1], Stroke(PALE, 0.25))
            sheet.line(x, before[1], x, y, Stroke(PALE, 0.25))
        before = (x, y)


def _mark(sheet: Drawing, point: ParetoPoint, x: float, y: float) -> None:
    """Circle: a set; filled square: meets the wish; a ring of four corners around the knee."""
    if point.meets_wish:
        sheet.box(x - 1.1, y - 1.1, 2.2, 2.2, fill="#000000")
    else:
        sheet.circle(x, y, 1.1, fill="#ffffff")
    if point.knee:
        sheet.polygon([(x, y - 3), (x + 3, y), (x, y + 3), (x - 3, y)])


def _key(
    sheet: Drawing,
    labels: list[tuple[str, ParetoPoint, str]],
    frontier: ParetoFront,
    currency: str,
    limits: tuple[str, ...],
) -> None:
    y = TOP + HIGH + 17
    x = LEFT + 1.1
    sheet.circle(x, y - 1, 1.1)
    sheet.text(x + 3, y, "a set", "start")
    x += 20
    sheet.box(x - 1.1, y - 2.1, 2.2, 2.2, fill="#000000")
    sheet.text(x + 3, y, "meets the wish", "start")
    x += 36
    sheet.polygon([(x, y - 3.4), (x + 2.4, y - 1), (x, y + 1.4), (x - 2.4, y - 1)])
    sheet.text(x + 4, y, "the knee", "start")
    y += 2
    for letter, point, words in labels:
        y += LINE
        told = f"{money(point.cost, currency)}, score {point.score / 1000:.1f}, {hours(point.hours)}"
        sheet.text(LEFT, y, f"{letter}: {words}, {told}", "start")
    number = len(frontier.points)
    told = f"{number} {'set' if number == 1 else 'sets'} that no other set beats in all figures"
    y += LINE + 1
    sheet.text(LEFT, y, told + ("." if frontier.complete else ", as far as time allowed."), "start")
    for words in limits:
        y += LINE
        sheet.text(LEFT, y, f"All keep the limit: {words}.", "start")

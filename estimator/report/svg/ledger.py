"""The reports of the ledger as bar charts: two bars are told apart by hatching, not by colour."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from estimator.core.text import money
from estimator.ledger.clock import minutes_text
from estimator.ledger.records import MonthCash, Reports
from estimator.report.svg.shapes import BOLD, FIRM, PALE, Drawing, Lettering, Stroke

WIDTH, LEFT, RIGHT = 180.0, 44.0, 150.0
"""Of the paper and of the field for bars, in mm; right of it stand the figures."""
BAR, GAP, TOP = 4.0, 2.6, 20.0
MOST = 30
"""Bars of one drawing; tables hold the rest."""


class Bars(Struct, frozen=True):
    """A label and its figures, each with its words; the first is drawn full, the second hatched, the third open."""

    label: str
    figures: tuple[int, ...]
    words: tuple[str, ...]


def drawings(of: Reports) -> dict[str, str]:
    """File name and text of a drawing for every report."""
    charts = {
        "estimate-against-actual": (
            "Estimate against actual by task",
            ("planned", "taken"),
            [_bars(row.task, (row.planned_s, row.taken_s)) for row in of.by_task],
        ),
        "where-the-hours-went": (
            "Where the hours went",
            ("hours",),
            [_bars(row.task, (row.taken_s,)) for row in of.hours_by_task],
        ),
        "hours-by-month": (
            "Hours by month",
            ("customers", "the shop's own", "warranty"),
            [
                _bars(row.month, (row.client_s, row.own_s, row.warranty_s))
                for row in of.hours_by_month[-MOST:]
            ],
        ),
        "pay-per-hour": (
            "Pay per hour by kind of job",
            ("per hour",),
            [
                Bars(row.kind, (row.per_hour,), (money(row.per_hour, row.currency),))
                for row in of.pay_per_hour
                if row.per_hour is not None
            ],
        ),
        "warranty": (
            "Hours under warranty by kind of job",
            ("hours",),
            [
                Bars(
                    row.kind,
                    (row.taken_s,),
                    (f"{minutes_text(row.taken_s)}, {row.returned} of {row.jobs}",),
                )
                for row in of.warranty
            ],
        ),
        "cash-by-month": (
            "Cash by month",
            ("in", "out and stock", "left"),
            [_cash(row) for row in of.cash_by_month[-MOST:]],
        ),
    }
    return {f"{name}.svg": bars_svg(*chart) for name, chart in charts.items()}


def _bars(label: str, seconds: tuple[int, ...]) -> Bars:
    return Bars(label, seconds, tuple(minutes_text(one) for one in seconds))


def _cash(row: MonthCash) -> Bars:
    figures = (row.came_in, row.out + row.stock, row.left)
    return Bars(row.month, figures, tuple(money(one, row.currency) for one in figures))


def bars_svg(title: str, series: Sequence[str], rows: Sequence[Bars]) -> str:
    """Bars from a common nought, to one scale, below nought to the left; each with its figure."""
    shown = rows[:MOST]
    high = TOP + sum(BAR * len(row.figures) + GAP for row in shown) + 8
    drawing = Drawing(title, WIDTH, max(high, TOP + 12))
    drawing.text(6, 8, title, "start", Lettering(size=4.4, bold=True))
    x = 6.0
    for number, name in enumerate(series if len(series) > 1 else ()):
        _bar(drawing, number, (x, 12.0, 6.0))
        drawing.text(x + 8, 15.2, name, "start")
        x += 12 + 2.1 * len(name)
    if not shown:
        drawing.text(6, TOP + 4, "nothing is recorded yet", "start")
        return drawing.svg()
    low = min(0, *(one for row in shown for one in row.figures))
    top = max(1, *(one for row in shown for one in row.figures))
    scale = (RIGHT - LEFT) / (top - low)
    nought = LEFT - low * scale
    y = TOP
    for row in shown:
        label = row.label if len(row.label) <= 22 else row.label[:21] + "…"
        drawing.text(LEFT - 2, y + BAR * len(row.figures) / 2 + 1.1, label, "end")
        for number, (figure, words) in enumerate(zip(row.figures, row.words, strict=True)):
            begins, ends = sorted((nought, nought + figure * scale))
            _bar(drawing, number, (begins, y, ends - begins))
            drawing.text(ends + 1.5, y + 3.1, words, "start", Lettering(size=2.8))
            y += BAR
        y += GAP
    drawing.line(nought, TOP - 1, nought, y - GAP + 1, FIRM)
    if len(rows) > MOST:
        drawing.text(6, y + 3, f"{len(rows) - MOST} more stand in the table", "start", BOLD)
    return drawing.svg()


def _bar(drawing: Drawing, number: int, at: tuple[float, float, float]) -> None:
    x, y, wide = at
    drawing.box(x, y + 0.3, wide, BAR - 0.6, Stroke(wide=0.2), PALE if number == 0 else "none")
    if number == 1:
        drawing.hatch(x, y + 0.3, wide, BAR - 0.6, ink="#000000")

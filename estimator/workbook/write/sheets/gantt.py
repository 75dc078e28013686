"""The Gantt sheet: a native chart with a bar per instrument, and the figures it is drawn from.

A day is as wide as another; within a day only the open hours are shown, so that the work can be seen.
Dark is hands-on work, hatched what cures or settles by itself (over nights and weekends too).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from estimator.core.amounts import Elapsed
from estimator.core.text import day
from estimator.plan.plan import Plan
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.point_chart import bare
from estimator.workbook.write.style import CHART, FONT, HAIR, INK

SHEET, FIGURES = "Gantt", "Gantt figures"
TOP, COLUMNS = 3, 15
WORK, CURE = "work", "cure"
MOST_TRIPLES = 80
"""A chart holds 255 rows of figures; each stretch of work takes three (blank, work, cure)."""
GAPS = tuple(map(Decimal, ("0", "0.05", "0.2", "1", "7", "60", "4000")))
"""Breaks of so many days are drawn over, one after another, until the stretches fit."""
EPOCH = date(1899, 12, 30)
WIDE, HEAD, ROW = 1040, 80, 34
Run = tuple[Decimal, Decimal, str]


def write_gantt(book: Book, plan: Plan, footer: str) -> Sheet:
    """Write the sheet with the chart."""
    runs = runs_of(plan)
    count = max(map(len, triples_of(runs).values()), default=0)
    sheet = book.sheet(Sheet(SHEET, (9,) * COLUMNS, landscape=True, footer=footer, pages_tall=1))
    words = "dark: hands on; hatched: cures or settles by itself. A day's width is its open hours."
    sheet.headline("Gantt: a bar for each instrument", words, 0, COLUMNS - 1)
    if not count:
        sheet.text(3, 0, "Nothing is left to do.", "soft")
        return sheet
    chart = book.chart({"type": "bar", "subtype": "stacked"})
    for number in range(3 * count):
        chart.add_series(_series(number, len(runs)))
    _axes(chart, plan, runs)
    height = HEAD + ROW * len(runs)
    bare(chart, WIDE, height)
    said = "; ".join(
        f"{job} from {_told(mine[0][0])} to {_told(mine[-1][1])}" for job, mine in runs.items() if mine
    )
    sheet.charts.append((3, 0, chart, {"object_position": 2, "description": f"Bars by instrument: {said}."}))
    sheet.text(3 + -(-height // 20), 0, "", "text")  # keeps the room of the chart in the print area
    return sheet


def write_figures(book: Book, plan: Plan, footer: str) -> Sheet:
    """Write the figures of the chart: widths in days of blank, work and cure in turn, a column for each job."""
    triples = triples_of(runs_of(plan))
    jobs = list(triples)
    sheet = book.sheet(Sheet(FIGURES, (14, *(10 for _ in jobs)), footer=footer))
    sheet.text(0, 0, "The figures of the Gantt chart", "title")
    sheet.text(1, 0, "in days; put end to end they give the bars", "soft")
    for column, job in enumerate(jobs, 1):
        sheet.text(TOP, column, job, "head-right")
    sheet.rule(TOP, 0, len(jobs), "ink")
    for number in range(max(map(len, triples.values()), default=0)):
        for step, name in enumerate(("then", "hands on", "cures")):
            row = TOP + 1 + 3 * number + step
            sheet.text(row, 0, f"{name} {number + 1}", "soft")
            for column, mine in enumerate(triples.values(), 1):
                if number < len(mine):
                    sheet.number(row, column, mine[number][step], "number", num_format="0.000", font_size=9)
    return sheet


def _series(number: int, jobs: int) -> dict[str, Any]:
    row, step = TOP + 1 + number, number % 3
    look: dict[str, Any] = (
        {"fill": {"none": True}, "border": {"none": True}},
        {"fill": {"color": CHART[0]}, "border": {"none": True}},
        {
            "pattern": {"pattern": "light_upward_diagonal", "fg_color": INK, "bg_color": "#FFFFFF"},
            "border": {"color": "#767676", "width": 0.5},
        },
    )[step]
    return {
        "name": [FIGURES, row, 0],
        "categories": [FIGURES, TOP, 1, TOP, jobs],
        "values": [FIGURES, row, 1, row, jobs],
        "gap": 60,
        "overlap": 100,
        **look,
    }


def _axes(chart: Any, plan: Plan, runs: dict[str, list[Run]]) -> None:
    font = {"name": FONT, "size": 9, "color": INK}
    low = (first_day(plan) - EPOCH).days
    high = max(last_place(runs), low + 1)
    unit = max(1, -(-(high - low) // 16))
    chart.set_y_axis({"reverse": True, "num_font": font, "major_tick_mark": "none"})
    chart.set_x_axis(
        {
            "min": low,
            "max": high,
            "major_unit": unit,
            "num_format": "ddd d mmm",
            "num_font": font,
            "major_gridlines": {"visible": True, "line": {"color": HAIR, "width": 0.75}},
        }
    )


def first_day(plan: Plan) -> date:
    """The first day that is drawn."""
    return plan.now.date() if plan.now else plan.study.file.start


def last_place(runs: Mapping[str, Sequence[Run]]) -> int:
    """The day number at which the last bar has ended; 0 without bars."""
    # not by dividing: decimals are cut towards nought, so the last day would be left off
    return max((math.ceil(mine[-1][1]) for mine in runs.values() if mine), default=0)


def _told(place: Decimal) -> str:
    return day(EPOCH + timedelta(days=int(place)))


def place_of(plan: Plan, elapsed: Elapsed) -> Decimal:
    """A moment as a day number and the share of that day's open minutes gone, to a thousandth."""
    moment = plan.calendar.moment(elapsed)
    start = plan.calendar.elapsed_of(datetime.combine(moment.date(), time()))
    opened = gone = 0
    for opens, closes in zip(plan.calendar.opens, plan.calendar.closes, strict=True):
        if start <= opens < start + 1440:
            opened += closes - opens
            gone += min(max(0, elapsed - opens), closes - opens)
    share = Decimal(gone) / opened if opened else Decimal(elapsed - start) / 1440
    return (Decimal((moment.date() - EPOCH).days) + share).quantize(Decimal("0.001"))


def runs_of(plan: Plan) -> dict[str, list[Run]]:
    """By job: stretches of work and of curing in order, none over another; work goes before curing.

    Short breaks between stretches are drawn over where there are more than a chart can hold.
    """
    runs: dict[str, list[Run]] = {}
    for gap in GAPS:
        runs = _runs(plan, gap)
        if max(map(len, triples_of(runs).values()), default=0) <= MOST_TRIPLES:
            break
    return runs


def _runs(plan: Plan, gap: Decimal) -> dict[str, list[Run]]:
    calendar, waits = plan.calendar, plan.work.waits()
    known = plan.work.by_id()
    found: dict[str, list[Run]] = {}
    for job in dict.fromkeys(o.job for o in plan.work.operations):
        work: list[tuple[Decimal, Decimal]] = []
        cure: list[tuple[Decimal, Decimal]] = []
        for assignment in plan.schedule.assignments:
            if known[assignment.operation].job != job:
                continue
            spans = calendar.spans(assignment.start, assignment.end)
            work.extend((place_of(plan, a), place_of(plan, b)) for a, b in spans)
            end = calendar.elapsed_at_end(assignment.end)
            if waits[assignment.operation]:
                cure.append((place_of(plan, end), place_of(plan, end + waits[assignment.operation])))
        found[job] = _without_overlap(_joined(work, gap), _joined(cure, gap))
    return found


def _joined(spans: Sequence[tuple[Decimal, Decimal]], gap: Decimal) -> list[tuple[Decimal, Decimal]]:
    joined: list[tuple[Decimal, Decimal]] = []
    for low, high in sorted(spans):
        if joined and low <= joined[-1][1] + gap:
            joined[-1] = (joined[-1][0], max(high, joined[-1][1]))
        else:
            joined.append((low, high))
    return joined


def _without_overlap(
    work: Sequence[tuple[Decimal, Decimal]], cure: Sequence[tuple[Decimal, Decimal]]
) -> list[Run]:
    runs: list[Run] = [(low, high, WORK) for low, high in work if high > low]
    for low, high in cure:
        now = low
        for a, b in work:
            if b <= now or a >= high:
                continue
            if a > now:
                runs.append((now, a, CURE))
            now = b
        if now < high:
            runs.append((now, high, CURE))
    return sorted(runs)


def triples_of(runs: dict[str, list[Run]]) -> dict[str, list[tuple[Decimal, Decimal, Decimal]]]:
    """By job: widths of blank, work and cure in turn, which put end to end give the runs."""
    triples: dict[str, list[tuple[Decimal, Decimal, Decimal]]] = {}
    for job, mine in runs.items():
        now = Decimal(0)
        made: list[tuple[Decimal, Decimal, Decimal]] = []
        for low, high, kind in mine:
            if kind == CURE and made and low == now and not made[-1][2]:
                made[-1] = (made[-1][0], made[-1][1], high - low)
            elif kind == WORK:
                made.append((low - now, high - low, Decimal(0)))
            else:
                made.append((low - now, Decimal(0), high - low))
            now = high
        triples[job] = made
    return triples

"""The plan as a picture (SVG) that prints in black and white: a strip per week, a row per job.

Bars are hands-on work, shaded and lettered by kind; the dashed line after a bar is what cures by
itself, day and night. Nights and days without any work are narrow, so that the working day has room.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from html import escape

from msgspec import Struct

from estimator.core.amounts import Elapsed
from estimator.plan.day_list import short
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Assignment, SchedulingProblem

LEFT, DAY, QUIET, NIGHT, ROW, HEAD = 96, 236, 44, 16, 30, 34
STRIP_DAYS = 3
"""Of a strip: on a Letter page upright the hours are then printed in 6 points or more."""
#: kind of work to the two letters that its word begins with, and its shade of grey
SHADES = {
    "strip": ("St", "#ffffff"),
    "oily": ("Oi", "#e9e9e9"),
    "bench": ("Be", "#d8d8d8"),
    "metal": ("Me", "#bdbdbd"),
    "drill": ("Dr", "#f4f4f4"),
    "dusty": ("Du", "#a8a8a8"),
    "finish": ("Fi", "#ffffff"),
    "solder": ("So", "#cccccc"),
    "setup": ("Se", "#e2e2e2"),
    "desk": ("De", "#ffffff"),
}


MARK_LETTERS = {"promised": "P", "wanted by": "W", "parcel": "C"}
NO_MARKS: Mapping[str, Sequence[tuple[date, str]]] = {}


class ChartDay(Struct, frozen=True):
    """A day on paper: its first opening and last closing (elapsed minutes) and its width."""

    day: date
    opens: Elapsed
    closes: Elapsed
    width: int


def days_of(calendar: Calendar, assignments: Sequence[Assignment], last: Elapsed) -> list[ChartDay]:
    """The open days up to the one of elapsed minute ``last``; days without work are narrow."""
    worked = {begins // 1440 for b in assignments for begins, _ in calendar.spans(b.start, b.end)}
    found: dict[int, tuple[Elapsed, Elapsed]] = {}
    for opens, closes in zip(calendar.opens, calendar.closes, strict=True):
        if opens // 1440 > last // 1440:
            break
        found[opens // 1440] = (found.get(opens // 1440, (opens, closes))[0], closes)
    return [
        ChartDay(calendar.moment(opens).date(), opens, closes, DAY if number in worked else QUIET)
        for number, (opens, closes) in found.items()
    ]


def place(elapsed: Elapsed, days: Sequence[ChartDay]) -> float:
    """Where a moment lies on a strip of days, held to its ends."""
    x = float(LEFT)
    for number, day in enumerate(days):
        if elapsed < day.opens:
            return x
        if elapsed <= day.closes:
            return x + day.width * (elapsed - day.opens) / (day.closes - day.opens)
        x += day.width
        if number + 1 == len(days):
            return x + NIGHT
        following = days[number + 1].opens
        if elapsed < following:
            return x + NIGHT * (elapsed - day.closes) / (following - day.closes)
        x += NIGHT
    return x


def gantt_svg(
    work: SchedulingProblem,
    calendar: Calendar,
    assignments: Sequence[Assignment],
    title: str = "",
    marks: Mapping[str, Sequence[tuple[date, str]]] = NO_MARKS,
) -> str:
    """The plan as SVG text; every bar carries its words as a tooltip.

    ``marks``: by job, days with a word of ``MARK_LETTERS``; a blank job for what comes for all of them.
    """
    known = work.by_id()
    jobs = list(dict.fromkeys(o.job for o in work.operations))
    ends = [calendar.elapsed_at_end(b.end) for b in assignments]
    days = days_of(calendar, assignments, max(ends, default=calendar.opens[0]))
    strips = [days[n : n + STRIP_DAYS] for n in range(0, len(days), STRIP_DAYS)]
    height = HEAD + len(jobs) * ROW + 18
    width = LEFT + STRIP_DAYS * (DAY + NIGHT) + 10
    total = len(strips) * height + 100
    kinds = [kind for kind in dict.fromkeys(o.kind for o in work.operations) if kind in SHADES]
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{total}" '
        f'viewBox="0 0 {width} {total}" font-family="sans-serif" font-size="10">',
        f'<rect width="{width}" height="{total}" fill="#fff"/>',
        f'<text x="8" y="18" font-size="14" font-weight="bold">{escape(title)}</text>',
    ]
    for number, strip in enumerate(strips):
        top = 28 + number * height
        out += _frame(strip, top, top + HEAD + len(jobs) * ROW)
        out += _marks(strip, marks.get("", ()), top + 14)
        for row, job in enumerate(jobs):
            y = top + HEAD + row * ROW
            out.append(f'<text x="8" y="{y + 18}" font-size="11">{escape(job[:16])}</text>')
            promised = ", ".join(
                f"{MARK_LETTERS[word]} {day.day} {day:%b}" for day, word in marks.get(job, ())
            )
            out.append(f'<text x="8" y="{y + 28}" font-size="9">{promised}</text>')
            out += _marks(strip, marks.get(job, ()), y + ROW - 4)
            for assignment in assignments:
                if known[assignment.operation].job == job and assignment.start < assignment.end:
                    out += _bar(assignment, work, calendar, strip, y)
    out += _legend(kinds, len(strips) * height + 44)
    out.append("</svg>")
    return "\n".join(out) + "\n"


def _marks(days: Sequence[ChartDay], marks: Sequence[tuple[date, str]], y: int) -> list[str]:
    """A letter in a ring at the end of its day, a parcel at its middle."""
    out = []
    x = float(LEFT)
    for day in days:
        shown = list(dict.fromkeys(word for when, word in marks if when == day.day))
        for number, word in enumerate(shown):
            at = x + day.width - 8 - 15 * number
            out.append(
                f'<circle cx="{at:.1f}" cy="{y - 3}" r="6.5" fill="#fff" stroke="#000" stroke-width="1.2"/>'
                f'<text x="{at:.1f}" y="{y}" font-size="9" font-weight="bold" text-anchor="middle">'
                f"{MARK_LETTERS[word]}<title>{escape(word)}</title></text>"
            )
        x += day.width + NIGHT
    return out


def _frame(days: Sequence[ChartDay], top: int, bottom: int) -> list[str]:
    out = []
    x = LEFT
    for day in days:
        box = f'y="{top + 16}" height="{bottom - top - 16}"'
        out.append(
            f'<text x="{x + 3}" y="{top + 12}" font-weight="bold">{day.day:%a} {day.day.day} {day.day:%b}</text>'
        )
        out.append(f'<rect x="{x + day.width}" {box} width="{NIGHT}" fill="#eee"/>')
        fill = "none" if day.width == DAY else "#f6f6f6"
        out.append(
            f'<rect x="{x}" {box} width="{day.width}" fill="{fill}" stroke="#000" stroke-width="0.5"/>'
        )
        for hour in range(-(-day.opens // 60), day.closes // 60 + 1) if day.width == DAY else ():
            at = place(Elapsed(hour * 60), days)
            out.append(
                f'<text x="{at:.1f}" y="{top + 26}" font-size="10" text-anchor="middle">{hour % 24}</text>'
            )
            out.append(f'<path d="M{at:.1f} {top + 28}V{bottom}" stroke="#ccc" stroke-width="0.4"/>')
        x += day.width + NIGHT
    out.append(f'<path d="M{LEFT} {bottom}H{x}" stroke="#000" stroke-width="0.5"/>')
    return out


def _bar(
    assignment: Assignment, work: SchedulingProblem, calendar: Calendar, days: Sequence[ChartDay], y: int
) -> list[str]:
    operation = next(o for o in work.operations if o.id == assignment.operation)
    first = days[0].opens
    last = calendar.elapsed_of(datetime.combine(days[-1].day + timedelta(days=1), time()))
    end = calendar.elapsed_at_end(assignment.end)
    cured = end + operation.cure
    out = []
    if operation.cure and cured > first and end < last:
        a, b = place(max(first, end), days), place(min(last, cured), days)
        if b - a > 0.5:
            out.append(
                f'<path d="M{a:.1f} {y + 17}H{b:.1f}" stroke="#000" stroke-width="2" stroke-dasharray="3 2"/>'
            )
    words = f"{short(assignment.operation)}, till {calendar.moment(end):%a %H:%M}"
    if assignment.who:
        words += f", {assignment.who}"
    letter, shade = SHADES.get(operation.kind, ("", "#fff"))
    for begins, ends in calendar.spans(assignment.start, assignment.end):
        if ends <= first or begins >= last:
            continue
        a, b = place(begins, days), place(ends, days)
        wide = max(1.0, b - a)
        out.append(
            f'<rect x="{a:.1f}" y="{y + 6}" width="{wide:.1f}" height="20" fill="{shade}" stroke="#000" '
            f'stroke-width="0.6"><title>{escape(words)}</title></rect>'
        )
        if wide >= 14:
            out.append(
                f'<text x="{a + wide / 2:.1f}" y="{y + 19}" font-size="10" text-anchor="middle">{letter}</text>'
            )
    return out


def _legend(kinds: Sequence[str], y: int) -> list[str]:
    out = []
    x = 8
    for kind in kinds:
        letter, shade = SHADES[kind]
        if x + 34 + 7 * len(kind) > LEFT + STRIP_DAYS * (DAY + NIGHT):
            x, y = 8, y + 18
        out.append(
            f'<rect x="{x}" y="{y}" width="16" height="12" fill="{shade}" stroke="#000" stroke-width="0.6"/>'
        )
        out.append(f'<text x="{x + 8}" y="{y + 9}" font-size="9" text-anchor="middle">{letter}</text>')
        out.append(f'<text x="{x + 20}" y="{y + 10}">{escape(kind)}</text>')
        x += 34 + 7 * len(kind)
    x, y = 8, y + 18
    out.append(f'<path d="M{x} {y + 7}h22" stroke="#000" stroke-width="2" stroke-dasharray="3 2"/>')
    ringed = "; ".join(f"{letter} {word}" for word, letter in MARK_LETTERS.items())
    out.append(
        f'<text x="{x + 27}" y="{y + 10}">cures by itself; grey bands are nights and closed days; in a ring: '
        f"{ringed}</text>"
    )
    return out

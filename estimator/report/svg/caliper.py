"""An instrument from the front and from the side, and where on it something is measured; not to scale.

One drawing for the measuring sheet and for the page: the outlines and the ends of a measure are those here. A
field without a place for the caliper has the part of the instrument on which it is looked for.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from estimator.model import CaliperPlace, IntakeField
from estimator.report.svg.shapes import INK, PALE, Drawing, Lettering, Stroke, mm

Pair = tuple[float, float]
FRONT, SIDE = 16.0, -16.0
"""Where the middle of either view stands."""
STRETCH = 1.6
"""By how much the side is drawn thicker than it is: thin measures would not be seen."""
LEFT, RIGHT, LOW, HIGH = -17.0, 83.0, -28.0, 36.0
#: outlines, not to scale: peghead, board, body, routs and bridge from the front; neck, body and strings from the side
FRONT_LINES: tuple[tuple[Pair, ...], ...] = (
    ((0, -5), (-15, -6), (-15, 6), (0, 5)),
    ((0, -5), (0, 5), (46, 6.5), (46, -6.5), (0, -5)),
    (
        (54, -7),
        (54, 7),
        (47, 7),
        (44, 12),
        (58, 14),
        (74, 14),
        (80, 0),
        (74, -12),
        (58, -12),
        (44, -10),
        (47, -7),
        (54, -7),
    ),
    ((57, -8), (60, -8), (60, 8), (57, 8), (57, -8)),
    ((62, -9), (66, -9), (66, 9), (62, 9), (62, -9)),
)
SIDE_LINES: tuple[tuple[Pair, ...], ...] = (
    ((-15, -2.6), (-15, -1), (0, 0), (54, 0), (54, -3), (46, -2.6), (0, -2), (-15, -2.6)),
    ((46, -3), (46, -6), (80, -6), (80, -0.8), (55, -0.8), (55, -3), (46, -3)),
    ((0, 0.6), (32, 1.2), (64, 2.2)),
)
PARTS: dict[str, tuple[float, float, float, float]] = {
    "body": (44, -14, 81, 15),
    "neck": (1, -7.5, 53, 7.5),
    "frets": (1, -7.5, 46, 7.5),
    "nut": (-2.5, -6.5, 2.5, 6.5),
    "bridge": (66.5, -9, 73.5, 9),
    "peghead": (-16, -7, -0.5, 7),
    "pickups": (53.5, -9, 61, 9),
    "controls": (64, -13, 77, -4),
    "guard": (50, -12, 68, -3),
    "small hardware": (-16, -14, 81, 15),
}
"""The part of the front view on which the fields of a section are looked for: two corners."""
SHORT = 8.0
"""Measures below this are ringed."""
_SCALE, _MARGIN = 1.6, 3.0
NOW = Stroke("#8a4b00", 1.1)


def ends(place: CaliperPlace) -> tuple[Pair, Pair]:
    """The two ends of a measure on the figure."""
    middle, stretch = (FRONT, 1.0) if place.view == "front" else (SIDE, STRETCH)
    return (
        (float(place.x1), stretch * float(place.y1) + middle),
        (float(place.x2), stretch * float(place.y2) + middle),
    )


def outlines() -> list[list[Pair]]:
    """The outlines of both views on the figure."""
    return [
        *([(x, y + FRONT) for x, y in line] for line in FRONT_LINES),
        *([(x, STRETCH * y + SIDE) for x, y in line] for line in SIDE_LINES),
    ]


def view_box() -> str:
    """The box of every drawing of the figure."""
    sheet = _sheet()
    return f"0 0 {mm(sheet.width)} {mm(sheet.height)}"


def figure(places: Iterable[CaliperPlace]) -> str:
    """The shapes of the figure: the outlines, and in grey every measure with its letter."""
    sheet = _sheet()
    for line in outlines():
        for (x1, y1), (x2, y2) in pairwise(line):
            sheet.line(*_at(x1, y1), *_at(x2, y2), Stroke(INK, 0.4))
    for place in places:
        _measure(sheet, place, Stroke(PALE, 0.4), Lettering(4.2, "#55585d"))
    return "\n".join(sheet.shapes)


def lit(spec: IntakeField, place: CaliperPlace | None) -> str:
    """The shapes that show where a field is measured, over the figure; blank where it has no place on it."""
    sheet = _sheet()
    if place is not None:
        _measure(sheet, place, NOW, Lettering(6.4, NOW.ink, bold=True, clear=True))
        (x1, y1), (x2, y2) = (_at(*end) for end in ends(place))
        if abs(x2 - x1) + abs(y2 - y1) < SHORT:  # a ring says where to look for so small a stroke
            sheet.circle((x1 + x2) / 2, (y1 + y2) / 2, SHORT - 1, Stroke(NOW.ink, 0.6))
    elif spec.section in PARTS:
        x1, y1, x2, y2 = PARTS[spec.section]
        left, top = _at(x1, y2 + FRONT)
        sheet.box(left, top, _SCALE * (x2 - x1), _SCALE * (y2 - y1), Stroke(NOW.ink, 1.1, "3 1.5"))
    return "\n".join(sheet.shapes)


def _sheet() -> Drawing:
    return Drawing("", _SCALE * (RIGHT - LEFT), _SCALE * (HIGH - LOW + 2 * _MARGIN))


def _at(x: float, y: float) -> Pair:
    return _SCALE * (x - LEFT), _SCALE * (HIGH + _MARGIN - y)


def _measure(sheet: Drawing, place: CaliperPlace, stroke: Stroke, lettering: Lettering) -> None:
    (x1, y1), (x2, y2) = (_at(*end) for end in ends(place))
    sheet.line(x1, y1, x2, y2, stroke)
    along = abs(x2 - x1) >= abs(y2 - y1)
    for x, y in ((x1, y1), (x2, y2)):  # a stroke across either end: from here to here
        if along:
            sheet.line(x, y - 1.4, x, y + 1.4, stroke)
        else:
            sheet.line(x - 1.4, y, x + 1.4, y, stroke)
    middle, size = ((x1 + x2) / 2, (y1 + y2) / 2), lettering.size
    beside = (
        (middle[0], middle[1] - 0.4 * size) if along else (middle[0] + 0.55 * size, middle[1] + 0.35 * size)
    )
    sheet.text(*beside, place.letter, lettering=lettering)

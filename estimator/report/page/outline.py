"""The outline of an instrument with numbers that say where work is done; one plain shape for each kind.

Millimetres on paper. The shapes are nobody's in particular: a rounded body, a neck, a peghead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from estimator.report.svg.shapes import mm

WIDE, HIGH = 62.0, 99.0
ROW = 6.6
"""Least distance between two numbers in one column."""
LEFT, RIGHT = 6.0, 56.0
GREY, DARK = "#ececec", "#1a1a1a"

POINTS: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "guitar": {
        "peghead": (31, 9),
        "nut": (31, 16),
        "frets": (31, 24),
        "strings": (31, 30),
        "neck": (31, 38),
        "joint": (31, 51),
        "pickup-neck": (31, 58),
        "pickup-middle": (31, 65),
        "pickup-bridge": (31, 72),
        "bridge": (31, 79),
        "controls": (42, 79),
        "jack": (46.5, 87),
        "body": (18, 76),
        "strap-button": (31, 95),
    },
    "bass": {
        "peghead": (31, 7),
        "nut": (31, 13),
        "frets": (31, 22),
        "strings": (31, 30),
        "neck": (31, 40),
        "joint": (31, 56),
        "pickup-neck": (31, 64),
        "pickup-middle": (31, 70),
        "pickup-bridge": (31, 76),
        "bridge": (31, 84),
        "controls": (42, 82),
        "jack": (46, 89),
        "body": (18, 78),
        "strap-button": (31, 95.5),
    },
}
TO_THE_RIGHT = ("controls", "jack", "nut", "strings", "pickup-bridge", "joint")


def outline_svg(kind: str, strings: int, pickups: Sequence[str], works: Sequence[tuple[int, str]]) -> str:
    """The drawing; ``works``: (number, mark) of each piece of work, those without a mark left out."""
    points = POINTS[kind]
    at: dict[str, list[int]] = {}
    for number, mark in works:
        if mark in points:
            at.setdefault(mark, []).append(number)
    labels = "".join(_callouts(points, at))
    words = "Where the work is done" if at else "Outline of the instrument"
    return (
        f'<svg viewBox="0 0 {mm(WIDE)} {mm(HIGH)}" role="img" aria-label="{words}" font-size="3">'
        f"{_instrument(kind, strings, pickups)}{labels}</svg>"
    )


def _instrument(kind: str, strings: int, pickups: Sequence[str]) -> str:
    points = POINTS[kind]
    nut, joint, bridge = points["nut"][1], points["joint"][1], points["bridge"][1]
    top, end = joint - 5, HIGH - 3
    middle = (top + end) / 2
    body = (
        f"M31 {mm(joint + 1)}C27 {mm(joint + 1)} 27 {mm(top - 2)} 22 {mm(top - 1)}C15 {mm(top)} 11 {mm(top + 6)} 12 "
        f"{mm(top + 12)}C13 {mm(middle - 6)} 15 {mm(middle - 4)} 14 {mm(middle + 1)}C12 {mm(middle + 6)} 9 {mm(middle + 9)} 9 "
        f"{mm(end - 12)}C9 {mm(end - 3)} 18 {mm(end)} 31 {mm(end)}C44 {mm(end)} 53 {mm(end - 3)} 53 {mm(end - 12)}"
        f"C53 {mm(middle + 9)} 50 {mm(middle + 6)} 48 {mm(middle + 1)}C47 {mm(middle - 4)} 49 {mm(middle - 6)} 50 {mm(top + 12)}"
        f"C51 {mm(top + 6)} 47 {mm(top)} 40 {mm(top - 1)}C35 {mm(top - 2)} 35 {mm(joint + 1)} 31 {mm(joint + 1)}Z"
    )
    shapes = [
        f'<path d="{body}" fill="{GREY}" stroke="{DARK}" stroke-width=".5"/>',
        f'<path d="M29.2 {mm(nut)}h3.6v{mm(joint + 4 - nut)}h-3.6z" fill="#fff" stroke="{DARK}" stroke-width=".4"/>',
        f'<path d="M29.2 {mm(nut)}L27.4 {mm(nut - 11)}L29 {mm(nut - 12.5)}H33L34.6 {mm(nut - 11)}L32.8 {mm(nut)}Z" '
        f'fill="#fff" stroke="{DARK}" stroke-width=".4"/>',
        f'<path d="M29.2 {mm(nut)}h3.6" stroke="{DARK}" stroke-width="1"/>',
        f'<rect x="26.5" y="{mm(bridge - 1.5)}" width="9" height="3.4" fill="#fff" stroke="{DARK}" stroke-width=".35"/>',
    ]
    for pickup in pickups:
        x, y = points[pickup]
        shapes.append(
            f'<rect x="{mm(x - 4)}" y="{mm(y - 1.2)}" width="8" height="2.4" rx=".6" fill="#fff" '
            f'stroke="{DARK}" stroke-width=".35"/>'
        )
    for fret in range(1, 15):
        y = nut + (bridge - nut) * (1 - 2 ** (-fret / 12))
        shapes.append(f'<path d="M29.2 {mm(y)}h3.6" stroke="#999" stroke-width=".2"/>')
    for string in range(strings):
        x = 29.7 + 2.6 * string / max(1, strings - 1)
        shapes.append(f'<path d="M{mm(x)} {mm(nut)}V{mm(bridge)}" stroke="#777" stroke-width=".12"/>')
    x, y = points["controls"]
    shapes += [
        f'<circle cx="{mm(x + dx)}" cy="{mm(y + dy)}" r="1.6" fill="#fff" stroke="{DARK}" stroke-width=".35"/>'
        for dx, dy in ((0, -3), (1.6, 1.6))
    ]
    return "".join(shapes)


def _callouts(points: Mapping[str, tuple[float, float]], at: Mapping[str, Sequence[int]]) -> list[str]:
    """A line and a number for each place; of one column none nearer to the next than a row."""
    found: list[str] = []
    for side in (LEFT, RIGHT):
        mine = sorted(
            (mark for mark in at if (mark in TO_THE_RIGHT) == (side == RIGHT)),
            key=lambda mark: points[mark][1],
        )
        y = 4.0
        for left, mark in zip(range(len(mine), 0, -1), mine, strict=True):
            x, wanted = points[mark]
            y = min(max(y, wanted), HIGH - 4 - ROW * (left - 1))
            numbers = ", ".join(map(str, at[mark]))
            wide = max(2.6, 0.85 * len(numbers) + 1.2)
            edge = side + wide if side == LEFT else side - wide
            found.append(
                f'<path d="M{mm(x)} {mm(wanted)}L{mm(edge)} {mm(y)}" stroke="{DARK}" stroke-width=".25"/>'
                f'<rect x="{mm(side - wide)}" y="{mm(y - 2.6)}" width="{mm(2 * wide)}" height="5.2" rx="2.6" fill="{DARK}"/>'
                f'<text x="{mm(side)}" y="{mm(y + 1.1)}" fill="#fff" text-anchor="middle">{numbers}</text>'
            )
            y += ROW
    return found

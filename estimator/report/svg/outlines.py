"""The outline of a guard or a headstock: on a sheet with all its points, and 1 : 1 over as many pages as it takes."""

from __future__ import annotations

from decimal import Decimal

from estimator.fit.case import mm as spoken
from estimator.report.drawings import OutlinePlan
from estimator.report.svg.shapes import NEW, PALE, Drawing, Lettering, Stroke, mm
from estimator.report.svg.sheet import MARGIN, NO_HEAD, NOTE, PAGE_WIDE, Head, begin

TILE = (170.0, 190.0)
"""Of one page of a template, across and along, mm: it goes on A4 and on Letter."""
OVERLAP = 10.0
"""What two pages that meet both show."""
LIST_COLUMNS = 4
HOLE = 1.5
"""Radius that the middle of a screw hole is drawn with."""


def draw_outline(plan: OutlinePlan, head: Head = NO_HEAD) -> str:
    """The whole outline on one page, as large as goes, with the ordinates of its points."""
    across, along = (float(size) for size in plan.size)
    scale = min(1.0, (PAGE_WIDE - 2 * MARGIN) / max(across, 1.0), 150.0 / max(along, 1.0))
    scale = next((whole for whole in (1.0, 0.5, 0.25, 0.2, 0.1) if whole <= scale), 0.05)
    sheet, top = begin(plan.title, PAGE_WIDE, head, plan.assumed)
    left, first = (float(min(side)) for side in zip(*plan.points, strict=True))
    x0, y0 = (PAGE_WIDE - across * scale) / 2 - left * scale, top + 8 - first * scale
    sheet.text(PAGE_WIDE / 2, top + 2, f"from {plan.seen_from}, neck upward", lettering=NOTE)
    _shape(sheet, plan, (x0, y0, scale))
    low = top + 8 + along * scale
    sheet.across(
        (PAGE_WIDE - across * scale) / 2, (PAGE_WIDE + across * scale) / 2, low + 8, spoken(plan.size[0])
    )
    sheet.bar(MARGIN, low + 14, scale, 100)
    y = _ordinates(sheet, plan, low + 22)
    sheet.height = y + 4
    return sheet.svg()


def _shape(sheet: Drawing, plan: OutlinePlan, at: tuple[float, float, float]) -> None:
    x0, y0, scale = at
    sheet.polygon([(x0 + float(x) * scale, y0 + float(y) * scale) for x, y in plan.points], NEW)
    for number, (x, y) in enumerate(plan.points, start=1):
        sheet.text(
            x0 + float(x) * scale + 1, y0 + float(y) * scale - 0.8, f"{number}", "start", Lettering(2.4, PALE)
        )
    for across, along in plan.holes:
        u, v = x0 + float(across) * scale, y0 + float(along) * scale
        sheet.circle(u, v, HOLE * scale, Stroke(NEW), mark="screw hole")
        sheet.line(u - 2.5, v, u + 2.5, v, Stroke(NEW, 0.15))
        sheet.line(u, v - 2.5, u, v + 2.5, Stroke(NEW, 0.15))


def _ordinates(sheet: Drawing, plan: OutlinePlan, y: float) -> float:
    """All points and screw holes: across the centre line and along, in columns; where to go on."""
    words = [f"{n}: {_pair(point)}" for n, point in enumerate(plan.points, start=1)]
    words += [f"hole: {_pair(hole)}" for hole in plan.holes]
    sheet.text(
        MARGIN,
        y,
        "Points: across from the centre line (left less than 0), along away from the neck, mm",
        "start",
        NOTE,
    )
    rows = -(-len(words) // LIST_COLUMNS)
    for number, line in enumerate(words):
        column, row = divmod(number, rows)
        sheet.text(
            MARGIN + column * (PAGE_WIDE - 2 * MARGIN) / LIST_COLUMNS,
            y + 4 + 3.8 * row,
            line,
            "start",
            Lettering(2.6),
        )
    return y + 4 + 3.8 * rows


def _pair(point: tuple[Decimal, Decimal]) -> str:
    return f"{spoken(point[0])}, {spoken(point[1])}"


def outline_tiles(plan: OutlinePlan, head: Head) -> list[str]:
    """The outline 1 : 1, page by page, each with its bar and the edges to lay on the next; then all its ordinates."""
    left, first = (float(min(side)) for side in zip(*plan.points, strict=True))
    wide, high = (float(size) for size in plan.size)
    columns, rows = _pages(wide, TILE[0]), _pages(high, TILE[1])
    pages = []
    for row in range(rows):
        for column in range(columns):
            name = plan.title
            if rows * columns > 1:
                name += f": page {row * columns + column + 1} of {rows * columns}"
            corner = left + column * (TILE[0] - OVERLAP) - 2, first + row * (TILE[1] - OVERLAP) - 2
            pages.append(_tile(plan, head, name, corner, (column + 1 < columns, row + 1 < rows)))
    return [*pages, draw_outline(plan, Head(head.job, head.day))]


def _pages(size: float, page: float) -> int:
    """How many pages in a row show all of a size, with 2 mm to spare at either end."""
    count = 1
    while count * page - (count - 1) * OVERLAP < size + 4:
        count += 1
    return count


def _tile(
    plan: OutlinePlan, head: Head, name: str, corner: tuple[float, float], goes_on: tuple[bool, bool]
) -> str:
    sheet, top = begin(name, PAGE_WIDE, head, plan.assumed)
    edge = (PAGE_WIDE - TILE[0]) / 2
    inside = f"tile-{mm(corner[0])}-{mm(corner[1])}".replace(".", "_")
    sheet.shapes.append(
        f'<clipPath id="{inside}"><rect x="{mm(edge)}" y="{mm(top)}" width="{mm(TILE[0])}" '
        f'height="{mm(TILE[1])}"/></clipPath><g clip-path="url(#{inside})">'
    )
    _shape(sheet, plan, (edge - corner[0], top - corner[1], 1.0))
    if corner[0] < 0 < corner[0] + TILE[0]:
        middle = edge - corner[0]
        sheet.line(middle, top, middle, top + TILE[1], Stroke(PALE, 0.2, "3 1 0.6 1"))
    sheet.shapes.append("</g>")
    right, down = goes_on
    sheet.box(edge, top, *TILE, Stroke(PALE, 0.2))
    if right:
        x = edge + TILE[0] - OVERLAP
        sheet.line(x, top, x, top + TILE[1], Stroke(PALE, 0.2, "2 1"))
    if down:
        y = top + TILE[1] - OVERLAP
        sheet.line(edge, y, edge + TILE[0], y, Stroke(PALE, 0.2, "2 1"))
    low = top + TILE[1]
    sheet.bar(MARGIN, low + 5, 1.0, 100)
    if right or down:
        sheet.text(PAGE_WIDE - edge, low + 9, "dashed: the edge of the next page", "end", NOTE)
    sheet.height = low + 11
    return sheet.svg()

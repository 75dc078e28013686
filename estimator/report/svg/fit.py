"""To-scale drawings of fit: screw rows before and after, cavities before and after, with dimensions.

Plain SVG that prints in black and white: what happens to a hole or to wood shows by shape, hatching
and label, and by colour besides.
"""

from __future__ import annotations

from decimal import Decimal

from estimator.fit.case import mm as spoken
from estimator.fit.holes import HoleTest
from estimator.model import Job, Shop, Upgrade
from estimator.report.drawings import CavityPlan, HolePlan, Plan, RoutPlan, plans_of
from estimator.report.svg.shapes import INK, NEW, PALE, Drawing, Lettering, Stroke

MARGIN = 14.0
TITLE, NOTE = Lettering(4, bold=True), Lettering(2.6, PALE)
TO_CUT = Stroke(NEW, 0.5, "3 1.2")
"""The edge of wood that is to be taken out."""
#: what a new hole is called under its mark; "separate" and "clash" are both drilled beside an old one
NEW_WORDS = {
    "reuse": "reuse",
    "open-up": "open up",
    "fill-and-reuse": "fill, drill",
    "clash": "drill",
    "separate": "drill",
}
OLD_WORDS = {"kept": "keep", "plugged": "plug", "left": "leave"}


def draw_holes(test: HoleTest, title: str) -> str:
    """Rows of holes to scale: old ones labelled above, new ones below; y runs across the page."""
    holes = [*test.existing, *test.needed]
    half = max((abs(hole.y) + hole.d / 2 for hole in holes), default=Decimal(10))
    rise = max((abs(hole.x) for hole in holes), default=Decimal(0))
    scale = 2.0 if half < 45 else 1.0
    width = max(float(half) * 2 * scale + 2 * MARGIN, 120.0)
    middle, line = width / 2, 42.0 + float(rise) * scale
    sheet = Drawing(title, width, line + 52.0)
    sheet.text(middle, 7, title, lettering=TITLE)
    sheet.line(middle, 16, middle, line + 14, Stroke(PALE, 0.2, "3 1 0.6 1"))
    sheet.text(middle, 14.5, "middle of the neck", lettering=NOTE)
    kept = {fate.old for fate in test.new if fate.case in ("reuse", "open-up")}
    for number, (hole, fate) in enumerate(zip(test.existing, test.old, strict=True)):
        x, y, r = middle + float(hole.y) * scale, line + float(hole.x) * scale, float(hole.d) / 2 * scale
        _old_mark(sheet, x, y, r, fate)
        sheet.text(x, line - 9, OLD_WORDS[fate], lettering=Lettering(2.6, clear=True))
        sheet.text(x, line - 12.4, f"{number + 1}", lettering=Lettering(2.6, PALE, clear=True))
        sheet.line(x, line - 8.4, x, y - r - 0.6, Stroke(PALE, 0.15))
    for hole, new in zip(test.needed, test.new, strict=True):
        x, y, r = middle + float(hole.y) * scale, line + float(hole.x) * scale, float(hole.d) / 2 * scale
        if new.case != "reuse":
            sheet.circle(x, y, r, Stroke(NEW, 0.5))
            for dx, dy in ((r + 1.6, 0.0), (0.0, r + 1.6)):
                sheet.line(x - dx, y - dy, x + dx, y + dy, Stroke(NEW))
        ink = INK if new.case == "reuse" else NEW
        sheet.text(x, line + 11, NEW_WORDS[new.case], lettering=Lettering(2.6, ink, clear=True))
        sheet.line(x, y + r + 0.6, x, line + 8, Stroke(PALE, 0.15))
    for row, y, words, below in (
        (test.existing, line - 17, "old", False),
        (test.needed, line + 14, "new", True),
    ):
        if len(row) > 1:
            ends = sorted(float(hole.y) for hole in row)
            sheet.across(
                middle + ends[0] * scale, middle + ends[-1] * scale, y,
                f"{words}: {len(row)} over {spoken(max(h.y for h in row) - min(h.y for h in row))} mm",
                below=below,
                at=0.25,
            )  # fmt: skip
    _hole_key(sheet, line + 25, scale, len(kept))
    return sheet.svg()


def _old_mark(sheet: Drawing, x: float, y: float, r: float, fate: str) -> None:
    if fate == "kept":
        sheet.circle(x, y, r, fill=INK)
        return
    if fate == "left":
        sheet.circle(x, y, r, Stroke(dash="0.8 0.6"))
        return
    sheet.circle(x, y, r)
    for shift in (-0.5, 0.0, 0.5):
        reach = r * (1 - shift * shift) ** 0.5 * 0.7071
        offset = shift * r * 0.7071
        sheet.line(
            x - reach + offset, y + reach + offset, x + reach + offset, y - reach + offset, Stroke(wide=0.25)
        )


def _hole_key(sheet: Drawing, y: float, scale: float, kept: int) -> None:
    """The key: each mark beside its word, and the bar to check a print by."""
    x = MARGIN
    for fate, words in (
        ("kept", "old hole, reused"),
        ("plugged", "old hole, plugged"),
        ("left", "old hole, left hidden"),
    ):
        _old_mark(sheet, x, y, 1.8, fate)
        sheet.text(x + 4, y + 1.1, words, "start")
        y += 6
    sheet.circle(x, y, 1.8, Stroke(NEW, 0.5))
    sheet.line(x - 3.2, y, x + 3.2, y, Stroke(NEW))
    sheet.line(x, y - 3.2, x, y + 3.2, Stroke(NEW))
    sheet.text(x + 5, y + 1.1, "new hole, drilled", "start")
    sheet.bar(sheet.width / 2 + 4, y, scale)
    sheet.text(sheet.width / 2 + 4, y - 6, f"{kept} of the old holes serve", "start")


def draw_cavity(plan: CavityPlan) -> str:
    """The tremolo cavity from the back: as it is, what is taken out, the wall to the pickup rout."""
    long, wide, more, across = plan.long, plan.wide, plan.longer, plan.wider
    scale = 1.0
    sheet = Drawing(
        plan.title,
        float(max(wide + across, plan.room_wide)) + 74,
        float(long + more) + float(plan.wall_now) + 70,
    )
    middle = 16 + float(wide + across) / 2
    top = 32 + float(plan.wall_now)
    left, right = middle - float(wide) / 2, middle + float(wide) / 2
    sheet.text(sheet.width / 2, 7, plan.title, lettering=TITLE)
    sheet.text(middle, 13, "from the back, neck upward", lettering=NOTE)
    sheet.box(middle - 36, 17, 72, 15, Stroke(PALE, 0.3, "2 1"))
    sheet.text(middle, 26, "bridge pickup rout", lettering=NOTE)
    new_left, new_right = middle - float(wide + across) / 2, middle + float(wide + across) / 2
    new_top, new_bottom = top - float(plan.forward), top + float(long) + float(more - plan.forward)
    bottom = top + float(long)
    if more or across:
        sheet.hatch(new_left, new_top, new_right - new_left, top - new_top)
        sheet.hatch(new_left, bottom, new_right - new_left, new_bottom - bottom)
        sheet.hatch(new_left, top, left - new_left, bottom - top)
        sheet.hatch(right, top, new_right - right, bottom - top)
        sheet.box(new_left, new_top, new_right - new_left, new_bottom - new_top, TO_CUT)
    sheet.box(left, top, right - left, bottom - top)
    block_w, block_t = float(plan.block_w), float(plan.block_t)
    sheet.box(middle - block_w / 2, top + 1, block_w, block_t, Stroke(PALE, 0.25, "0.8 0.8"))
    sheet.text(middle, top + 1 + block_t / 2 + 1, "block at rest", lettering=NOTE)
    sheet.upright(new_right + 4, top, bottom, f"was {spoken(long)}")
    becomes = f"becomes {spoken(max(long, plan.room_long), '0.1')}"
    sheet.upright(new_right + 22, new_top, new_bottom, becomes, NEW)
    sheet.upright(new_right + 22, 32, new_top, f"wall {spoken(plan.wall, '0.1')}")
    sheet.across(left, right, new_bottom + 7, f"was {spoken(wide)}")
    if across:
        sheet.across(new_left, new_right, new_bottom + 14, f"becomes {spoken(wide + across)}", NEW)
    out = f"wood taken out, sloping to the full {spoken(plan.deep)} mm at the back"
    return _cut_key(sheet, new_bottom + 22, scale, "cavity as it is", out)


def draw_rout(plan: RoutPlan) -> str:
    """A pickup rout in plan, strings running up the page: as it is, and as the new pickup wants it."""
    need, there = plan.need, plan.there
    wide, high = float(max(need[0], there[0])), float(max(need[1], there[1]))
    sheet = Drawing(plan.title, max(wide + 2 * MARGIN + 26, 110), high + 66)
    middle, centre = MARGIN + wide / 2, 22 + high / 2
    sheet.text(sheet.width / 2, 7, plan.title, lettering=TITLE)
    sheet.text(middle, 13, "from the front, neck upward", lettering=NOTE)
    new = (middle - float(need[0]) / 2, centre - float(need[1]) / 2, float(need[0]), float(need[1]))
    old = (middle - float(there[0]) / 2, centre - float(there[1]) / 2, float(there[0]), float(there[1]))
    for x, y, across, along in _outside(new, old):
        sheet.hatch(x, y, across, along)
    sheet.box(*new, TO_CUT)
    if there[0]:
        sheet.box(*old)
        sheet.upright(middle + wide / 2 + 4, old[1], old[1] + old[3], f"was {spoken(there[1])}")
    sheet.upright(middle + wide / 2 + 18, new[1], new[1] + new[3], f"wants {spoken(need[1])}", NEW)
    low = centre + high / 2
    if there[0]:
        sheet.across(old[0], old[0] + old[2], low + 7, f"was {spoken(there[0])}")
    sheet.across(new[0], new[0] + new[2], low + 14, f"wants {spoken(need[0])}", NEW)
    is_there = f"rout as it is, {spoken(there[2])} mm deep" if there[0] else "no rout there yet"
    return _cut_key(sheet, low + 22, 1.0, is_there, f"wood taken out; {spoken(need[2])} mm deep wanted")


def _cut_key(sheet: Drawing, key: float, scale: float, before: str, out: str) -> str:
    """The key of a cavity below the drawing, with the bar; the finished drawing."""
    sheet.box(MARGIN, key - 2, 5, 3.4)
    sheet.text(MARGIN + 7, key + 0.8, before, "start")
    sheet.hatch(MARGIN, key + 4, 5, 3.4)
    sheet.box(MARGIN, key + 4, 5, 3.4, TO_CUT)
    sheet.text(MARGIN + 7, key + 6.8, out, "start")
    sheet.bar(MARGIN, key + 13, scale)
    sheet.height = key + 18
    return sheet.svg()


Box = tuple[float, float, float, float]


def _outside(new: Box, old: Box) -> list[Box]:
    """The parts of the new rectangle that lie outside the old one (both on the same centre)."""
    x, y, wide, high = new
    top, bottom = max(y, old[1]), min(y + high, old[1] + old[3])
    left, right = max(x, old[0]), min(x + wide, old[0] + old[2])
    if top >= bottom or left >= right:
        return [new]
    parts = [
        (x, y, wide, top - y),
        (x, bottom, wide, y + high - bottom),
        (x, top, left - x, bottom - top),
        (right, top, x + wide - right, bottom - top),
    ]
    return [part for part in parts if part[2] > 0 and part[3] > 0]


def drawing(plan: Plan) -> str:
    """A plan as SVG text."""
    if isinstance(plan, HolePlan):
        return draw_holes(plan.test, plan.title)
    return draw_cavity(plan) if isinstance(plan, CavityPlan) else draw_rout(plan)


def drawings_of(shop: Shop, job: Job, upgrade: Upgrade) -> dict[str, str]:
    """All drawings that an upgrade calls for, by name (``holes``, ``cavity``, ``rout``), as SVG text.

    Empty where nothing is bored or cut, or where a measurement that the drawing needs is missing.
    """
    return {name: drawing(plan) for name, plan in plans_of(shop, job, upgrade).items()}

"""To-scale drawings of fit: screw rows before and after, cavities before and after, with dimensions.

Plain SVG that prints in black and white: what happens to a hole or to wood shows by shape, hatching
and label, and by colour besides.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.fit.case import mm as spoken
from estimator.fit.holes import HoleTest
from estimator.model import Job, Shop, Upgrade
from estimator.report.drawings import CavityPlan, Drawn, DrawnPlan, OutlinePlan, PiecePlan, RoutPlan, plans_of
from estimator.report.hole_plans import FROM_CENTRE, NEW_WORDS, OLD_WORDS, HolePlan, letters, rows_of
from estimator.report.svg.outlines import draw_outline, outline_tiles
from estimator.report.svg.shapes import INK, NEW, PALE, Drawing, Lettering, Stroke, escape
from estimator.report.svg.sheet import (
    GUESSED,
    LIST_ROW,
    MARGIN,
    NO_HEAD,
    NOTE,
    TO_CUT,
    Head,
    begin,
)

SPAN = 17.0
"""How far from a row of holes the line with its length stands, at least."""


def draw_holes(test: HoleTest, title: str, plan: HolePlan | None = None, head: Head = NO_HEAD) -> str:
    """Rows of holes to scale: old ones labelled above, new ones below; y runs across the page."""
    plan = plan or HolePlan(title, test)
    holes = [*test.existing, *test.needed, *plan.outline]
    half = max((abs(hole.y) + hole.d / 2 for hole in holes), default=Decimal(10))
    rises = [hole.x for hole in holes] or [Decimal(0)]
    scale = 1.0 if head.template or half >= 45 else 2.0
    width = max(float(half) * 2 * scale + 2 * MARGIN, 120.0)
    sheet, top = begin(title, width, head, plan.assumed, plan.depth)
    width = sheet.width
    up = max(-float(min(rises)), 0.0) * scale
    # lengths stand clear of the widest hole and of its mark
    wide = max((float(hole.d) / 2 * scale for hole in (*test.existing, *test.needed)), default=0.0)
    clear = max(SPAN, wide + 9)
    middle, line = width / 2, max(top + 12 + clear, 42.0) + up
    low = line + max(float(max(rises)), 0.0) * scale
    centre = "middle of the neck" if plan.across == FROM_CENTRE else plan.across
    sheet.line(middle, line - up - clear - 9, middle, low + clear - 3, Stroke(PALE, 0.2, "3 1 0.6 1"))
    sheet.text(middle, line - up - clear - 10.5, centre, lettering=NOTE)
    if plan.line:
        sheet.line(MARGIN / 2, line, width - MARGIN / 2, line, Stroke(PALE, 0.2, "3 1 0.6 1"))
    _marks(sheet, plan, (middle, line, scale))
    _spans(sheet, plan, (middle, line - up - clear, low + clear, scale))
    y = low + clear + 9
    if plan.line:
        nut = "" if plan.from_nut is None else f", {spoken(plan.from_nut)} mm from the nut"
        y = (
            sheet.lines(
                MARGIN,
                y,
                plan.read(f"Along: from the {plan.line}{nut}. Seen from {plan.seen_from}."),
                width - 2 * MARGIN,
                NOTE,
            )
            + 2
        )
        y = _hole_list(sheet, plan, y)
    _hole_key(sheet, y + 4, scale, plan.test, head)
    return sheet.svg()


def _marks(sheet: Drawing, plan: HolePlan, at: tuple[float, float, float]) -> None:
    """Every hole at its place; in one row its words stand over and under it, else its mark beside it."""
    middle, line, scale = at
    test = plan.test
    one_row = all(hole.x == 0 for hole in (*test.existing, *test.needed))
    dash_old, dash_new = ("1.2 0.8" if some else "" for some in (plan.measure, plan.assumed))
    for hole in plan.outline:
        x, y, r = middle + float(hole.y) * scale, line + float(hole.x) * scale, float(hole.d) / 2 * scale
        sheet.circle(x, y, r, Stroke(PALE, 0.2, "0.8 0.6"))
    for number, (hole, fate) in enumerate(zip(test.existing, test.old, strict=True), start=1):
        x, y, r = middle + float(hole.y) * scale, line + float(hole.x) * scale, float(hole.d) / 2 * scale
        _old_mark(sheet, x, y, r, fate, dash_old)
        if not one_row:
            sheet.text(x + r + 0.8, y - r, f"{number}", "start", Lettering(2.4))
            continue
        sheet.text(x, line - 9, OLD_WORDS[fate], lettering=Lettering(2.6, clear=True))
        sheet.text(x, line - 12.4, f"{number}", lettering=Lettering(2.6, PALE, clear=True))
        sheet.line(x, line - 8.4, x, y - r - 0.6, Stroke(PALE, 0.15))
    for number, (hole, new) in enumerate(zip(test.needed, test.new, strict=True)):
        x, y, r = middle + float(hole.y) * scale, line + float(hole.x) * scale, float(hole.d) / 2 * scale
        if new.case != "reuse":
            sheet.circle(x, y, r, Stroke(NEW, 0.5, dash_new), mark=f"new {new.case}")
            for dx, dy in ((r + 1.6, 0.0), (0.0, r + 1.6)):
                sheet.line(x - dx, y - dy, x + dx, y + dy, Stroke(NEW, 0.2))
        letter = letters(number)
        if not one_row:
            if new.case != "reuse":
                sheet.text(x + r + 0.8, y + r + 2.2, letter, "start", Lettering(2.4, NEW))
            continue
        ink = INK if new.case == "reuse" else NEW
        sheet.text(x, line + 11, NEW_WORDS[new.case], lettering=Lettering(2.6, ink, clear=True))
        if plan.line and new.case != "reuse":
            sheet.text(x, line + 14.4, letter, lettering=Lettering(2.6, PALE, clear=True))
        sheet.line(x, y + r + 0.6, x, line + 8, Stroke(PALE, 0.15))


def _spans(sheet: Drawing, plan: HolePlan, at: tuple[float, float, float, float]) -> None:
    middle, high, low, scale = at
    for row, y, words, below in (
        (plan.test.existing, high, "old", False),
        (plan.test.needed, low, "new", True),
    ):
        if len(row) > 1:
            ends = sorted(float(hole.y) for hole in row)
            sheet.across(
                middle + ends[0] * scale,
                middle + ends[-1] * scale,
                y,
                plan.read(
                    f"{words}: {len(row)} over {spoken(max(h.y for h in row) - min(h.y for h in row))} mm"
                ),
                below=below,
                at=0.25,
            )


FROM_NUT = "from nut, mm"
LIST_HEADS = (
    ("mark", 0),
    ("what", 9),
    ("across, mm", 26),
    ("along, mm", 44),
    (FROM_NUT, 58),
    ("wide, mm", 74),
    ("drill", 86),
)


def _hole_list(sheet: Drawing, plan: HolePlan, y: float) -> float:
    """The list of marks: where each stands, how wide it is, and the bit for it."""
    rows = rows_of(plan)
    placed = plan.placed
    for head, x in LIST_HEADS:
        if head == FROM_NUT and plan.from_nut is None:
            continue
        sheet.text(MARGIN / 2 + x, y, head, "start", Lettering(2.4, PALE))
    y += 1.2
    sheet.line(MARGIN / 2, y, sheet.width - MARGIN / 2, y, Stroke(wide=0.2))
    y += 3.2
    for row in rows:
        side = "" if not row.across else " left" if row.across < 0 else " right"
        cells = (
            row.mark,
            row.what,
            f"{spoken(abs(row.across))}{side}" if placed else "as it is",
            spoken(row.along) if placed else "",
            "" if row.from_nut is None else spoken(row.from_nut),
            spoken(row.d),
            row.bit,
        )
        for (_, x), words in zip(LIST_HEADS, cells, strict=True):
            if words:
                sheet.text(MARGIN / 2 + x, y, words, "start", Lettering(2.6, NEW if row.bit else INK))
        y += LIST_ROW
    return y


def _old_mark(
    sheet: Drawing, x: float, y: float, r: float, fate: str, dash: str = "", mark: bool = True
) -> None:
    says = f"old {fate}" if mark else ""
    if fate == "kept":
        sheet.circle(x, y, r, Stroke(dash=dash), fill="none" if dash else INK, mark=says)
        if dash:
            sheet.circle(x, y, r / 3, fill=INK)
        return
    if fate == "left":
        sheet.circle(x, y, r, Stroke(dash="0.8 0.6"), mark=says)
        return
    sheet.circle(x, y, r, Stroke(dash=dash), mark=says)
    for shift in (-0.5, 0.0, 0.5):
        reach = r * (1 - shift * shift) ** 0.5 * 0.7071
        offset = shift * r * 0.7071
        sheet.line(
            x - reach + offset, y + reach + offset, x + reach + offset, y - reach + offset, Stroke(wide=0.25)
        )


def _hole_key(sheet: Drawing, y: float, scale: float, test: HoleTest, head: Head) -> None:
    """The key: each mark beside its word, and the bar to check a print by."""
    x = MARGIN
    bar = y
    served = sum(fate == "kept" for fate in test.old)
    for fate, words in (
        ("kept", "old hole, reused"),
        ("plugged", "old hole, plugged"),
        ("left", "old hole, left hidden"),
    ):
        _old_mark(sheet, x, y, 1.8, fate, mark=False)
        sheet.text(x + 4, y + 1.1, words, "start")
        y += 6
    sheet.circle(x, y, 1.8, Stroke(NEW, 0.5))
    sheet.line(x - 3.2, y, x + 3.2, y, Stroke(NEW))
    sheet.line(x, y - 3.2, x, y + 3.2, Stroke(NEW))
    sheet.text(x + 5, y + 1.1, "new hole, drilled; dashed: assumed", "start")
    if head.template:
        sheet.bar(MARGIN, y + 8, 1.0, 100)
    else:
        sheet.bar(sheet.width / 2 + 4, bar + 18, scale)
    sheet.text(sheet.width / 2 + 4, bar + 12, f"{served} of the old holes serve", "start")
    sheet.height = y + (14 if head.template else 7)


def edges(plan: CavityPlan | RoutPlan | PiecePlan) -> tuple[Stroke, Stroke]:
    """How the old and the new outline are drawn: dashed where they rest on what nobody measured."""
    return Stroke(wide=0.4, dash="3 1.2" if plan.measure else ""), GUESSED if plan.assumed else TO_CUT


def draw_cavity(plan: CavityPlan, head: Head = NO_HEAD) -> str:
    """The tremolo cavity from the back: as it is, what is taken out, the wall to the pickup rout."""
    long, wide, more, across = plan.long, plan.wide, plan.longer, plan.wider
    room = max(float(max(wide + across, plan.room_wide)), 72.0)
    sheet, at = begin(plan.title, room + 88, head, plan.assumed)
    was, becomes_edge = edges(plan)
    middle = 16 + room / 2
    wall = at + 19
    top = wall + float(plan.wall_now)
    left, right = middle - float(wide) / 2, middle + float(wide) / 2
    sheet.text(middle, at, f"from {plan.seen_from}, neck upward", lettering=NOTE)
    sheet.box(middle - 36, at + 4, 72, 15, Stroke(PALE, 0.3, "2 1"))
    sheet.text(middle, at + 13, "bridge pickup rout", lettering=NOTE)
    new_left, new_right = middle - float(wide + across) / 2, middle + float(wide + across) / 2
    new_top, new_bottom = top - float(plan.forward), top + float(long) + float(more - plan.forward)
    bottom = top + float(long)
    if more or across:
        sheet.hatch(new_left, new_top, new_right - new_left, top - new_top)
        sheet.hatch(new_left, bottom, new_right - new_left, new_bottom - bottom)
        sheet.hatch(new_left, top, left - new_left, bottom - top)
        sheet.hatch(right, top, new_right - right, bottom - top)
        sheet.box(new_left, new_top, new_right - new_left, new_bottom - new_top, becomes_edge)
    sheet.box(left, top, right - left, bottom - top, was)
    sheet.line(middle, at + 2, middle, new_bottom + 3, Stroke(PALE, 0.2, "3 1 0.6 1"))
    block_w, block_t = float(plan.block_w), float(plan.block_t)
    sheet.box(middle - block_w / 2, top + 1, block_w, block_t, Stroke(PALE, 0.25, "0.8 0.8"))
    sheet.text(middle, top + 1 + block_t / 2 + 1, "block at rest", lettering=NOTE)
    sheet.upright(new_right + 4, top, bottom, f"was {spoken(long)} mm")
    becomes = f"becomes {spoken(max(long, plan.room_long), '0.1')} mm"
    sheet.upright(new_right + 28, new_top, new_bottom, becomes, NEW)
    sheet.upright(new_right + 28, wall, new_top, f"wall {spoken(plan.wall, '0.1')} mm")
    sheet.across(left, right, new_bottom + 7, f"was {spoken(wide)} mm")
    if across:
        sheet.across(new_left, new_right, new_bottom + 14, f"becomes {spoken(wide + across)} mm", NEW)
    out = f"wood taken out, sloping to the full {spoken(plan.deep)} mm at the back"
    halves = f"{spoken(wide / 2)} mm either side of the middle" + (
        f", {spoken((wide + across) / 2)} mm after the cut" if across else ""
    )
    said = plan.read(f"cavity as it is, {halves}"), plan.read(out)
    return _cut_key(sheet, new_bottom + 22, said, head)


def draw_rout(plan: RoutPlan, head: Head = NO_HEAD) -> str:
    """A rout in plan, strings running up the page: as it is, and as it is wanted."""
    need, there = plan.need, plan.there
    wide, high = float(max(need[0], there[0])), float(max(need[1], there[1]))
    sheet, at = begin(plan.title, max(wide + 2 * MARGIN + 38, 120), head, plan.assumed)
    was, becomes = edges(plan)
    middle, centre = MARGIN + wide / 2, at + 9 + high / 2
    sheet.text(middle, at, f"from {plan.seen_from}, neck upward", lettering=NOTE)
    new = (middle - float(need[0]) / 2, centre - float(need[1]) / 2, float(need[0]), float(need[1]))
    old = (middle - float(there[0]) / 2, centre - float(there[1]) / 2, float(there[0]), float(there[1]))
    for x, y, across, along in _outside(new, old):
        sheet.hatch(x, y, across, along)
    sheet.box(*new, becomes)
    sheet.line(middle, at + 2, middle, centre + high / 2 + 3, Stroke(PALE, 0.2, "3 1 0.6 1"))
    sheet.line(middle - wide / 2 - 3, centre, middle + wide / 2 + 3, centre, Stroke(PALE, 0.2, "3 1 0.6 1"))
    if there[0]:
        sheet.box(*old, was)
        sheet.upright(middle + wide / 2 + 4, old[1], old[1] + old[3], f"was {spoken(there[1])} mm")
    sheet.upright(middle + wide / 2 + 24, new[1], new[1] + new[3], f"wants {spoken(need[1])} mm", NEW)
    low = centre + high / 2
    if there[0]:
        sheet.across(old[0], old[0] + old[2], low + 7, f"was {spoken(there[0])} mm")
    sheet.across(new[0], new[0] + new[2], low + 14, f"wants {spoken(need[0])} mm", NEW)
    is_there = f"rout as it is, {spoken(there[2])} mm deep" if there[0] else "no rout there yet"
    out = f"wood taken out; depth stop {spoken(need[2])} mm below the face"
    return _cut_key(sheet, low + 22, (plan.read(is_there), plan.read(out)), head)


def draw_piece(plan: PiecePlan, head: Head = NO_HEAD) -> str:
    """A piece to cut and glue in: from above, and from the side with its thickness at both ends."""
    wide, high, (thick, thin) = float(plan.across), float(plan.along), plan.thick
    sheet, at = begin(plan.title, max(wide + 2 * MARGIN + 64, 120), head, plan.assumed)
    _, edge = edges(plan)
    x, y = MARGIN, at + 6
    sheet.text(x + wide / 2, at + 3, plan.ends[1] or f"from {plan.seen_from}", lettering=NOTE)
    sheet.box(x, y, wide, high, edge)
    sheet.line(x + wide / 2, y - 1, x + wide / 2, y + high + 2, Stroke(PALE, 0.2, "3 1 0.6 1"))
    sheet.upright(x + wide + 4, y, y + high, f"{spoken(plan.along)} mm")
    if plan.ends[0]:
        sheet.text(x + wide / 2, y + high + 4, plan.ends[0], lettering=NOTE)
    side = x + wide + 28
    corners = [(side, y), (side + float(thin), y), (side + float(thick), y + high), (side, y + high)]
    sheet.polygon(corners, NEW, dash=edge.dash)
    sheet.text(side, y - 1.5, f"from the side: {spoken(thin)} mm", "start", NOTE)
    if thick != thin:
        sheet.text(side, y + high + 4, f"{spoken(thick)} mm", "start", NOTE)
    sheet.across(x, x + wide, y + high + 10, f"{spoken(plan.across)} mm")
    sheet.bar(MARGIN, y + high + 18, 1.0, 100 if head.template else 10)
    sheet.height = y + high + 24
    return sheet.svg()


def _cut_key(sheet: Drawing, key: float, said: tuple[str, str], head: Head) -> str:
    """The key of a cavity below the drawing, before and after, with the bar; the finished drawing."""
    before, out = said
    room = sheet.width - 2 * MARGIN - 7
    sheet.box(MARGIN, key - 2, 5, 3.4)
    key = max(sheet.lines(MARGIN + 7, key + 0.8, before, room) + 1, key + 6.8) - 2.8
    sheet.hatch(MARGIN, key, 5, 3.4)
    sheet.box(MARGIN, key, 5, 3.4, TO_CUT)
    key = max(sheet.lines(MARGIN + 7, key + 2.8, out, room) + 1, key + 9)
    sheet.bar(MARGIN, key, 1.0, 100 if head.template else 10)
    sheet.height = key + 5
    return sheet.svg()


Extent = tuple[float, float, float, float]


def _outside(new: Extent, old: Extent) -> list[Extent]:
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


def drawing(plan: DrawnPlan, head: Head = NO_HEAD) -> str:
    """A plan as SVG text."""
    if isinstance(plan, HolePlan):
        return draw_holes(plan.test, plan.title, plan, head)
    if isinstance(plan, PiecePlan):
        return draw_piece(plan, head)
    if isinstance(plan, OutlinePlan):
        return draw_outline(plan, head)
    return draw_cavity(plan, head) if isinstance(plan, CavityPlan) else draw_rout(plan, head)


def sheets_of(plan: DrawnPlan, head: Head) -> list[str]:
    """The pages of a template: an outline larger than a page goes over several."""
    return outline_tiles(plan, head) if isinstance(plan, OutlinePlan) else [drawing(plan, head)]


def head_of(job: Job, template: bool = False) -> Head:
    """What stands over the drawings of a job."""
    return Head(job.id, job.received, template)


def drawings_of(shop: Shop, job: Job, upgrade: Upgrade) -> dict[str, str]:
    """All drawings that an upgrade calls for, by name (``holes``, ``cavity``, ``rout``), as SVG text.

    Empty where nothing is bored or cut, or where a measurement that the drawing needs is missing.
    """
    return {name: drawing(plan, head_of(job)) for name, plan in plans_of(shop, job, upgrade).items()}


def template_page(job: Job, drawn: Sequence[tuple[str, Drawn]]) -> str:
    """A page to print at 100 %: every plan 1 : 1 on a sheet of its own, then what is not drawn.

    ``drawn``: for each upgrade its words and what there is to draw of it.
    """
    pages: dict[str, list[str]] = {}  # a drawing that several upgrades share is printed once
    for what, found in drawn:
        for plan in found.plans.values():
            for sheet in sheets_of(plan, head_of(job, template=True)):
                pages.setdefault(sheet, []).append(escape(what))
    sheets = [f"<section><p>{'; '.join(whats)}</p>\n{sheet}</section>" for sheet, whats in pages.items()]
    left = [
        f"<li>{escape(what)}: {escape(one.words)}</li>" for what, found in drawn for one in found.not_drawn
    ]
    if left:
        sheets.append(f"<section><h1>Not drawn</h1>\n<ul>{''.join(left)}</ul></section>")
    title = escape(f"Templates  ·  {job.id}")
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>\n'
        f"<style>{PAGE_STYLE}</style></head>\n<body>\n" + "\n".join(sheets) + "\n</body></html>\n"
    )


PAGE_STYLE = (
    "@page{margin:12mm} body{margin:0;font:10pt sans-serif} "
    "section{break-after:page} section:last-child{break-after:auto} p{margin:0 0 2mm} "
    "svg{display:block} h1{font-size:13pt} li{margin:2mm 0}"
)
"""The pages carry no scale of their own: a print at 100 % is true to size on A4 and on Letter."""

"""The head of a drawing for the bench: its title, whose it is, and what must be measured before it is worked from."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from estimator.report.svg.shapes import NEW, PALE, Drawing, Lettering, Stroke

MARGIN = 14.0
TITLE, NOTE = Lettering(4, bold=True), Lettering(2.6, PALE)
TO_CUT, GUESSED = Stroke(NEW, 0.5), Stroke(NEW, 0.5, "3 1.2")
"""The edge of wood that is to be taken out, and one that rests on what nobody measured."""


class Head(Struct, frozen=True):
    """What stands over a drawing: whose it is and of which day; a template is drawn 1 : 1 with a bar of 100 mm."""

    job: str = ""
    day: str = ""
    template: bool = False


NO_HEAD = Head()
PAGE_WIDE = 180.0
"""Of a template, mm: it goes on A4 and on Letter with 15 mm to spare on either side."""
LIST_ROW = 4.2
RED = "#a01010"


def begin(
    title: str, wide: float, head: Head, assumed: Sequence[str], depth: str = ""
) -> tuple[Drawing, float]:
    """A sheet with its title, whose it is, and what must be measured before it is worked from; where to go on."""
    wide = PAGE_WIDE if head.template else wide
    sheet = Drawing(title, wide, 0)
    sheet.text(wide / 2, 7, title, lettering=TITLE if len(title) * 2.2 < wide else Lettering(3, bold=True))
    y = 13.0
    if head.job:
        of = f"job {head.job}" + (f", {head.day}" if head.day else "")
        how = "; print at 100 %, and measure the bar before you mark anything" if head.template else ""
        sheet.text(wide / 2, y, of + how, lettering=NOTE)
        y += 5
    if assumed:
        what = "Do not drill or cut from this: measure " + "; ".join(dict.fromkeys(assumed)) + "."
        end = sheet.lines(MARGIN, y + 3, what, wide - 2 * MARGIN, Lettering(2.8, RED, bold=True))
        sheet.box(MARGIN - 3, y - 1.5, wide - 2 * MARGIN + 6, end - y, Stroke(RED, 0.5, "2 1"))
        y = end + 3
    if depth:
        y = sheet.lines(MARGIN, y + 2, f"Depth stop: {depth}.", wide - 2 * MARGIN, Lettering(2.8))
    return sheet, y

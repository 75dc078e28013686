"""The Week sheet: by day what to order and expect, what to do and when, what cures meanwhile, boxes to tick."""

from __future__ import annotations

from estimator.core.cell_text import a1, span
from estimator.core.text import day
from estimator.plan.plan import Plan
from estimator.plan.week import Day, WeekEntry, curing_words, week_of
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.sheets.job_card import BOX_EMPTY
from estimator.workbook.write.style import wrapped_lines

SHEET = "Week"
BOX, FROM, TILL, WHO, WORK, MINUTES, TAKEN, CURING = range(8)
WIDTHS = (3, 6, 6, 9, 50, 8, 8, 34)
LAST = CURING
PAGE = 860.0
"""Points of a page of either paper at the width of this sheet: a day that does not fit begins the next one."""
HEADS = ("", "From", "Till", "Who", "Work, with minutes", "Minutes", "Taken", "Meanwhile cures or settles")
SIDES = {MINUTES: "right", TAKEN: "right", CURING: "indent"}


def write_week(book: Book, plan: Plan, footer: str) -> Sheet:
    """Write the sheet; ``week_minutes`` names the minutes planned, ``week_taken`` those to fill in."""
    sheet = book.sheet(Sheet(SHEET, WIDTHS, footer=footer, repeat=(3, 3), freeze=(4, 0), margin=0.5))
    sheet.headline("The week", "tick the box when done; write the minutes taken where they differ", 0, LAST)
    for column, head in enumerate(HEADS):
        sheet.head(3, column, head, SIDES.get(column, "left"))
    sheet.rule(3, 0, LAST, "ink")
    at = first = 4
    sums: list[str] = []
    total = 0
    for one in week_of(plan):
        at = _day(sheet, at, one, sums)
        total += one.minutes
    sheet.break_at_sections(PAGE)
    sheet.rule(at - 1, 0, LAST, "ink")
    sheet.text(at, WORK, "Hands-on minutes in all", "bold")
    sheet.formula(
        at, MINUTES, f"={'+'.join(sums)}" if sums else "=0", total, "minutes-bold", num_format="#,##0"
    )
    book.name("week_total", sheet, at, MINUTES)
    if at > first:
        sheet.formula(
            at, TAKEN, f"=SUM({span(first, TAKEN, at - 1)})", 0, "minutes-bold", num_format='#,##0;-#,##0;""'
        )
    return sheet


def _day(sheet: Sheet, at: int, one: Day, sums: list[str]) -> int:
    head = at
    sheet.begin_section(at)
    sheet.text(at, 0, day(one.day), "bold", font_size=12)
    sheet.tall(at, 22)
    at += 1
    if one.quiet:
        sheet.text(at, FROM, f"nothing to do at the bench; {one.quiet}", "soft")
        at += 1
    for words in one.errands:
        sheet.text(at, BOX, BOX_EMPTY, "text", font_size=11)
        for line in wrapped_lines(words, sum(WIDTHS[FROM:])):
            sheet.text(at, FROM, line)
            at += 1
        sheet.rule(at - 1, 0, LAST)
    begin = at
    before = ""
    for entry in one.entries:
        now = curing_words(entry.curing, one.day)
        _entry(sheet, at, entry, "as above" if now and now == before and entry.kind == "work" else now)
        if entry.kind == "work":
            before = now
        at += 1
    if one.entries:
        sheet.text(head, WORK, "")
        sheet.formula(
            head,
            MINUTES,
            f"=SUM({span(begin, MINUTES, at - 1)})",
            one.minutes,
            "minutes-bold",
            num_format="#,##0",
        )
        sums.append(a1(head, MINUTES))
    if one.following is not None and (one.entries or one.overnight):
        words = curing_words(one.overnight, one.day, hints=False) or "nothing cures or settles"
        sheet.text(at, FROM, "night")
        sheet.text(at, WORK, f"till {day(one.following)}: {words}", "soft-wrap")
        at += 1
    return at + 1


def _entry(sheet: Sheet, at: int, entry: WeekEntry, curing: str) -> None:
    free = entry.kind == "free"
    style = "soft" if free else "text"
    sheet.text(at, FROM, f"{entry.begins:%H:%M}", style)
    sheet.text(at, TILL, f"{entry.ends:%H:%M}", style)
    sheet.text(at, WHO, entry.who, style)
    changed = "".join(f"\nchanged: {words}" for words in entry.changed)
    sheet.text(
        at,
        WORK,
        f"free; {entry.words}" if free else f"{entry.words}{changed}",
        "soft-wrap" if free else "wrap",
    )
    if not free:
        sheet.text(at, BOX, BOX_EMPTY, "text", font_size=11)
        minutes = int((entry.ends - entry.begins).total_seconds()) // 60
        sheet.number(at, MINUTES, minutes, "minutes", num_format="#,##0")
        sheet.fill_in(at, TAKEN, "number")
    if curing:
        sheet.text(at, CURING, curing, "soft-wrap", indent=1)
    sheet.rule(at, 0, LAST)

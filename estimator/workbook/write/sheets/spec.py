"""The Spec sheet: every attribute asked for or changed: now, wanted, reached, and how it is verified."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import SpecRow
from estimator.core.text import sentence_case
from estimator.core.units import lengths_as_read
from estimator.model import Shop
from estimator.report.words.customer import expected_words
from estimator.tables.cells import plain as number_words
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import id_words, level_words

SHEET = "Spec"
WIDTHS = (36, 24, 18, 24, 7, 34)
LAST = len(WIDTHS) - 1
#: points that still fit one page across without print getting too small
ONE_PAGE = 600
HEADS = ("Attribute", "Now", "Wanted", "Reached", "Met", "Verified by")


def wanted_words(row: SpecRow) -> str:
    """What the wish asks of an attribute, in words; blank when it asks for nothing."""
    if row.kind == "level":
        return f"at least {number_words(Decimal(row.least) / 10)} of 4" if row.least is not None else ""
    sides = []
    if row.least is not None:
        sides.append(f"at least {number_words(Decimal(row.least) / 1000)}")
    if row.most is not None:
        sides.append(f"at most {number_words(Decimal(row.most) / 1000)}")
    return f"{', '.join(sides)} {row.unit}".strip() if sides else ""


def write_spec(book: Book, shop: Shop, spec: Sequence[SpecRow], footer: str) -> Sheet:
    """Write the sheet: what is asked first, then what changes besides, then what stays."""
    sheet = book.sheet(Sheet(SHEET, WIDTHS, landscape=True, footer=footer, repeat=(3, 3), freeze=(4, 0)))
    words = "Levels run from 0 to 4; 4 is best. “Assumed” means that nobody measured it: measure it first."
    sheet.headline(SHEET, words, 0, LAST)
    for column, head in enumerate(HEADS):
        sheet.head(3, column, head)
    sheet.rule(3, 0, LAST, "ink")
    asked = [row for row in spec if row.asked]
    changed = [row for row in spec if not row.asked and row.reached != row.now]
    at = 4
    for heading, rows in (("Asked for", asked), ("Changes besides", changed)):
        sheet.text(at, 0, heading if rows else f"{heading}: nothing", "bold")
        sheet.tall(at, 20)
        at += 1
        for row in rows:
            _spec_row(sheet, at, row, shop)
            at += 1
    if sheet.height <= ONE_PAGE:
        sheet.pages_tall = 1
    return sheet


def _spec_row(sheet: Sheet, at: int, row: SpecRow, shop: Shop) -> None:
    def read(text: str) -> str:
        return lengths_as_read(text, shop.lengths)

    sheet.text(at, 0, read(f"{id_words(row.attribute)}\n{row.what}"), "wrap")
    now = read(level_words(row, row.now, shop))
    sheet.text(at, 1, f"{now} (assumed)" if row.now_assumed else now, "wrap")
    sheet.text(at, 2, read(wanted_words(row)), "wrap")
    reached = read(expected_words(row, level_words(row, row.reached, shop)))
    sheet.text(at, 3, f"{reached}\nby {', '.join(row.by)}" if row.by else reached, "wrap")
    met = ("yes" if row.met else "NO") if row.asked else ""
    sheet.text(at, 4, met, "text" if met == "yes" else "bold")
    sheet.text(at, 5, read(sentence_case(row.verified_by)), "wrap", font_size=9)
    sheet.rule(at, 0, LAST)

"""Offers side by side on one page: what each holds, what it costs, what it gives."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from estimator.core.amounts import Cents
from estimator.core.cell_text import a1
from estimator.core.errors import Origin, refusal
from estimator.core.money import amount
from estimator.price.client.quote import Dues
from estimator.report.page.record import OFFER_NAMES
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import Page, PageOffer
from estimator.workbook.write.sheets.quote import (
    GUTTER,
    WHAT,
    dues_lines,
    footer_of,
    one_page,
    row_of,
    total_words,
    write_boxes,
    write_head,
    write_lasting,
    write_terms,
)
from estimator.workbook.write.style import wrapped_lines

FIRST = 2
MOST = 4
IN_IT, NOT_IN_IT, STAYS = "included", "–", "stays as it is"


def write_offers(book: Book, page: Page, name: str = "Quote", dated: str = "") -> Sheet:
    """The page for two to four offers; InputError for other numbers. ``dated``: what the prices rest on."""
    offers = page.offers
    if not 2 <= len(offers) <= MOST:
        raise refusal(
            Origin(),
            "too many or too few offers for one page",
            f"{len(offers)}",
            f"2 to {MOST}",
            "leave some out: a customer compares few",
        )
    return book.sheet(one_page(lambda more: _filled(page, name, dated, more)))


def _filled(page: Page, name: str, dated: str, more: float) -> Sheet:
    offers = page.offers
    last = FIRST + len(offers) - 1
    # most of what is won goes to what wraps: names at the left, and what each offer brings
    names, each = more * 2 / 9, more * 2 / 3 / len(offers)
    widths = (14 + names, 44 - 2 * (len(offers) - 2) + more / 9, *(15 + each for _ in offers))
    record, room = page.record, sum(widths[1:])
    sheet = Sheet(name, widths, footer=footer_of(page), for_customers=True)
    at = write_boxes(sheet, write_head(sheet, record, last), record, last)
    if dated:
        sheet.low(at - 1, 14)
        sheet.text(at - 1, GUTTER, dated, "soft")
    sheet.text(at, GUTTER, "What we do", "section")
    for column, offer in enumerate(offers, start=FIRST):
        sheet.text(at, column, f"☐ {OFFER_NAMES.get(offer.name, offer.name)}", "bold-right", text_wrap=True)
    sheet.rule(at, GUTTER, last, "ink")
    at = _work(sheet, at + 1, page, last)
    end = _price(sheet, at, page, last)
    at = write_lasting(sheet, _changes(sheet, end, offers, last), record, room)
    at = write_terms(sheet, at, record, room)
    sheet.low(at, 30)
    sheet.rule(at, GUTTER, WHAT, "ink")
    sheet.rule(at, FIRST, last, "ink")
    sheet.text(at + 1, GUTTER, "Yes, please: name and signature", "soft")
    sheet.text(at + 1, FIRST, "Date", "soft")
    return sheet


def _work(sheet: Sheet, at: int, page: Page, last: int) -> int:
    room = sheet.widths[WHAT]
    for done in page.record.done:
        sheet.number(at, GUTTER, done.number, "count")
        sheet.text(at, WHAT, done.words, "wrap")
        for column, offer in enumerate(page.offers, start=FIRST):
            there = done.words in offer.work
            sheet.text(at, column, IN_IT if there else NOT_IN_IT, "right" if there else "soft-right")
        sheet.tall(at, row_of(len(page.record.done)))
        at += 1
        for line in (line for detail in done.details for line in wrapped_lines(detail, room, 9)):
            sheet.text(at, WHAT, line, "soft")
            at += 1
        sheet.rule(at - 1, GUTTER, last)
    sheet.low(at, 8)
    return at + 1


def _price(sheet: Sheet, at: int, page: Page, last: int) -> int:
    offers, terms = page.offers, page.terms
    sheet.text(at, GUTTER, "What it comes to", "section")
    sheet.rule(at, GUTTER, last, "ink")
    first = at = at + 1
    for what in dict.fromkeys(line.what for offer in offers for line in offer.lines):
        sheet.text(at, WHAT, what, "wrap")
        for column, offer in enumerate(offers, start=FIRST):
            sheet.money(at, column, sum((line.amount for line in offer.lines if line.what == what), Cents(0)))
        sheet.tall(at, row_of(len(page.record.done)))
        sheet.rule(at, GUTTER, last)
        at += 1
    end = at - 1
    sheet.rule(end, GUTTER, last, "ink")
    total = total_words(terms.currency)
    rows: list[tuple[str, str, Callable[[int], str], Callable[[PageOffer], Cents]]] = [
        (
            "Work and parts",
            "money",
            lambda c: f"=ROUND(SUM({a1(first, c)}:{a1(end, c)}),2)",
            lambda o: o.price.price,
        ),
        ("Tax", "money", lambda c: "", lambda o: o.price.tax),
        (total, "total", lambda c: f"=ROUND({a1(end + 1, c)}+{a1(end + 2, c)},2)", lambda o: o.price.to_pay),
        *(
            (due.label, "money", lambda c: "", lambda o, place=place: dues_lines(o.dues)[place].cents)
            for place, due in enumerate(dues_lines(offers[0].dues))
        ),
        (
            "Due on collection",
            "money",
            lambda c: _left(end + 3, c, offers[0].dues),
            lambda o: o.dues.on_collection,
        ),
    ]
    for label, style, formula, cents in rows:
        sheet.text(at, WHAT, label, "total-label" if style == "total" else "right")
        for column, offer in enumerate(offers, start=FIRST):
            value, text = amount(cents(offer)), formula(column)
            if style == "total":
                sheet.formula(at, column, text, value, "money-bold", font_size=12)
            elif text:
                sheet.formula(at, column, text, value, "money")
            else:
                sheet.number(at, column, value, "money")
        at += 1
    days = {row.name: row.ready for row in page.record.offers}
    sheet.text(at, WHAT, "Ready, if you say yes today", "right")
    for column, offer in enumerate(offers, start=FIRST):
        sheet.text(at, column, days[OFFER_NAMES.get(offer.name, offer.name)], "right")
    sheet.low(at + 1, 8)
    return at + 2


def _left(total: int, column: int, dues: Dues) -> str:
    """The formula of what is left of the total, less and plus the lines below it."""
    below = "".join(
        f"{due.sign}{a1(total + number, column)}" for number, due in enumerate(dues_lines(dues), start=1)
    )
    return f"=ROUND({a1(total, column)}{below},2)"


def _changes(sheet: Sheet, at: int, offers: Sequence[PageOffer], last: int) -> int:
    """What gets better with each offer, of what was wished for; what does not stays as it is today."""
    today = {change.name: change.today for offer in offers for change in offer.changes}
    if not today:
        return at
    sheet.text(at, GUTTER, "What changes for you", "section")
    sheet.rule(at, GUTTER, last, "ink")
    at += 1
    for name, now in today.items():
        sheet.text(at, GUTTER, name, "wrap")
        sheet.text(at, WHAT, f"today: {now}", "wrap")
        for column, offer in enumerate(offers, start=FIRST):
            words = next((c.afterwards for c in offer.changes if c.name == name), STAYS)
            sheet.text(at, column, words, "wrap", align="right", font_size=9)
        sheet.rule(at, GUTTER, last)
        at += 1
    sheet.low(at, 8)
    return at + 1

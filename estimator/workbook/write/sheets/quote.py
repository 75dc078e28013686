"""The Quote sheet: the customer's page, one page portrait on A4 or Letter.

In the shop's own workbook its figures are linked to the costing; in the customer's file they stand
as they are, and only the sums on the page are formulas.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from estimator.core.cell_text import a1
from estimator.core.money import amount
from estimator.core.text import sentence_case
from estimator.price.client.quote import Dues
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import Page, PageOffer, PageWork, PriceLine, terms_in_words
from estimator.workbook.write.style import money_format, sign_known, wrapped_lines

SHEET = "Quote"
GUTTER, WHAT, QUANTITY, EACH, AMOUNT = range(5)
WIDTHS = (14, 44, 9, 17, 13)
#: points that still fit one page of either paper without small print getting too small
ONE_PAGE = 840
TEXT_ROOM = sum(WIDTHS[WHAT:])


def write_page(book: Book, page: Page, linked: bool) -> Sheet:
    """The page for one offer; ``linked`` ties its figures to the named cells of the Costing sheet."""
    offer = page.offers[0]
    sheet = book.sheet(Sheet(SHEET, WIDTHS, footer=f"{page.shop_name}  ·  Quote {page.number}"))
    at = write_head(sheet, page, AMOUNT)
    at = write_own_note(sheet, at, page)
    at = write_work(sheet, at, offer.work, AMOUNT)
    at = _price(sheet, at, page, offer, linked)
    at = write_result(sheet, at, offer, AMOUNT)
    at = write_terms(sheet, at, page, offer.cautions, TEXT_ROOM)
    _signature(sheet, at)
    fit_one_page(sheet)
    return sheet


def fit_one_page(sheet: Sheet) -> None:
    """Keep a page that is a little too long on one sheet of paper."""
    if sheet.height <= ONE_PAGE:
        sheet.pages_tall = 1


def write_head(sheet: Sheet, page: Page, last: int) -> int:
    """Shop, customer, instrument, number and dates; returns the next free row."""
    sheet.text(0, GUTTER, page.shop_name, "title")
    sheet.text(0, last, "Quote", "title-right")
    sheet.low(1, 6)
    sheet.rule(1, GUTTER, last, "heavy")
    sheet.low(2, 8)
    label = last - 1
    rows = [
        ("Number", page.number),
        ("For", page.customer),
        ("Instrument", page.instrument),
        ("Wanted", page.what),
    ]
    if page.wanted_by:
        rows.append(("Wanted by", page.wanted_by))
    for number, (name, text) in enumerate(rows, start=3):
        sheet.text(number, GUTTER, name, "soft")
        sheet.text(number, WHAT, sentence_case(text) or "–", "wrap")
    sheet.text(3, label, "Date", "soft-right")
    at = 3 + len(rows)
    if page.day and page.valid_until:
        sheet.day(3, last, page.day)
        sheet.text(4, label, "Valid until", "soft-right")
        sheet.day(4, last, page.valid_until)
    else:
        sheet.text(3, last, "", "right")
        sheet.rule(3, last, last, "ink")
    sheet.low(at, 8)
    return at + 1


def write_own_note(sheet: Sheet, at: int, page: Page) -> int:
    """On the shop's own instruments: what the page is, since nobody is charged."""
    if not page.for_sale:
        return at
    sheet.text(
        at,
        GUTTER,
        "The shop's own instrument: this is what a customer would be charged for the same work.",
        "soft",
    )
    sheet.low(at + 1, 6)
    return at + 2


def write_work(sheet: Sheet, at: int, work: Sequence[PageWork], last: int) -> int:
    """What is done, numbered, in plain words."""
    sheet.text(at, GUTTER, "What we will do", "section")
    sheet.rule(at, GUTTER, last, "ink")
    at += 1
    for number, thing in enumerate(work, start=1):
        sheet.number(at, GUTTER, number, "count")
        sheet.tall(at, 18)
        at = _run_over(sheet, at, thing.what, "text", 10)
        for detail in thing.details:
            at = _run_over(sheet, at, detail, "soft", 9)
        sheet.rule(at - 1, GUTTER, last)
    sheet.low(at, 8)
    return at + 1


def _run_over(sheet: Sheet, at: int, text: str, style: str, size: float) -> int:
    """Text in lines that run over the empty cells to their right."""
    for line in wrapped_lines(text, TEXT_ROOM, size):
        sheet.text(at, WHAT, line, style)
        at += 1
    return at


def _price(sheet: Sheet, at: int, page: Page, offer: PageOffer, linked: bool) -> int:
    sheet.text(at, GUTTER, "Price", "section")
    sheet.text(at, QUANTITY, "Quantity", "head-right")
    sheet.text(at, EACH, "Each", "head-right")
    sheet.text(at, AMOUNT, "Amount", "head-right")
    sheet.rule(at, GUTTER, AMOUNT, "ink")
    first = at = at + 1
    for line in offer.lines:
        _price_row(sheet, at, line, linked, offer)
        sheet.tall(at, 18)
        sheet.rule(at, GUTTER, AMOUNT)
        at += 1
    sheet.rule(at - 1, GUTTER, AMOUNT, "ink")
    return _sums(sheet, at, first, page, offer, linked)


def _price_row(sheet: Sheet, at: int, line: PriceLine, linked: bool, offer: PageOffer) -> None:
    sheet.text(at, WHAT, line.what, "wrap")
    if line.quantity is not None:
        formula = _quantity_link(line) if linked else ""
        if formula:
            sheet.formula(at, QUANTITY, formula, line.quantity, "quantity")
        else:
            sheet.number(at, QUANTITY, line.quantity, "quantity")
    if line.each is not None:
        if linked:
            sheet.formula(
                at, EACH, f"=SUMIF(part_row,{line.parts[0]},part_unit_price)", amount(line.each), "money"
            )
        else:
            sheet.money(at, EACH, line.each)
    if linked:
        sheet.formula(at, AMOUNT, amount_link(line, offer.lines), amount(line.amount), "money")
    elif line.each is not None and line.quantity is not None:
        sheet.formula(
            at, AMOUNT, f"=ROUND({a1(at, QUANTITY)}*{a1(at, EACH)},2)", amount(line.amount), "money"
        )
    else:
        sheet.money(at, AMOUNT, line.amount)


def _quantity_link(line: PriceLine) -> str:
    if line.parts:
        return f"=SUMIF(part_row,{line.parts[0]},part_quantity)"
    if len(line.rows) == 1:
        return f'=SUMIFS(wear_used,wear_row,{line.rows[0]},wear_kind,"part")'
    return ""


def amount_link(line: PriceLine, lines: Sequence[PriceLine]) -> str:
    """The formula that ties a line of the price to the costing; the work is what the others leave."""
    if line.kind in ("part", "own-part"):
        return "=" + "+".join(f"SUMIF(part_row,{number},part_price)" for number in line.parts)
    if line.kind == "sold":
        return (
            "=ROUND(" + "+".join(f"SUMIF(work_row,{number},work_parts_price)" for number in line.rows) + ",2)"
        )
    if line.kind == "fee":
        return "=out_fee"
    if line.kind == "rush":
        return "=out_rush"
    less = "-out_price_parts"
    kinds = {other.kind for other in lines}
    less += "-out_fee" if "fee" in kinds else ""
    less += "-out_rush" if "rush" in kinds else ""
    return f"=ROUND(out_price{less},2)"


def _sums(sheet: Sheet, at: int, first: int, page: Page, offer: PageOffer, linked: bool) -> int:
    price, terms = offer.price, page.terms
    sheet.text(at, EACH, "Work and parts", "right")
    sheet.formula(
        at, AMOUNT, f"=ROUND(SUM({a1(first, AMOUNT)}:{a1(at - 1, AMOUNT)}),2)", amount(price.price), "money"
    )
    subtotal = a1(at, AMOUNT)
    at += 1
    sheet.text(at, EACH, "Tax", "right")
    if terms.tax_parts == terms.tax_labour and terms.tax_parts and not linked:
        sheet.number(at, QUANTITY, terms.tax_parts, "soft-percent")
    if linked:
        sheet.formula(at, AMOUNT, "=out_tax", amount(price.tax), "money")
    else:
        sheet.money(at, AMOUNT, price.tax)
    tax = a1(at, AMOUNT)
    sheet.rule(at, EACH, AMOUNT, "ink")
    at += 1
    known = sign_known(terms.currency)
    sheet.text(at, EACH, "Total" if known else f"Total, {terms.currency}", "total-label")
    sheet.formula(
        at, AMOUNT, f"=ROUND({subtotal}+{tax},2)", amount(price.to_pay), "money-bold", font_size=14,
        num_format=money_format(terms.currency),
    )  # fmt: skip
    sheet.tall(at, 24)
    total = a1(at, AMOUNT)
    at += 1
    left = total
    for line in dues_lines(offer.dues):
        sheet.text(at, EACH, line.label, "right")
        if linked:
            sheet.formula(at, AMOUNT, line.formula, amount(line.cents), "money")
        else:
            sheet.money(at, AMOUNT, line.cents)
        left += f"{line.sign}{a1(at, AMOUNT)}"
        at += 1
    sheet.text(at, EACH, "Due on collection", "right")
    sheet.formula(at, AMOUNT, f"=ROUND({left},2)", amount(offer.dues.on_collection), "money")
    return at + 1


@dataclass(frozen=True, slots=True)
class DueLine:
    """What comes off the total or to it, by its sign; ``formula`` ties it to the costing."""

    label: str
    sign: str
    cents: int
    formula: str


def dues_lines(dues: Dues) -> list[DueLine]:
    """The lines between the total and what is due on collection."""
    lines = []
    if dues.credit:
        lines.append(DueLine("Bench fee, paid", "-", dues.credit, "=out_credit"))
    if dues.storage:
        formula = f"=ROUND({amount(dues.storage)}*(1+in_tax_labour),2)"
        lines.append(
            DueLine(f"Storage, {dues.stored_days} days", "+", dues.storage + dues.storage_tax, formula)
        )
    lines.append(DueLine("Deposit to book", "-", dues.deposit, "=out_deposit"))
    return lines


def write_result(sheet: Sheet, at: int, offer: PageOffer, last: int) -> int:
    """What the instrument will be like where the customer asked for something."""
    if not offer.result:
        return at
    sheet.low(at, 8)
    sheet.text(at + 1, GUTTER, "What you get", "section")
    at += 2
    for what, reached in offer.result:
        at = _run_over(sheet, at, f"{what}: {reached}", "text", 10)
    sheet.low(at, 8)
    return at + 1


def write_terms(sheet: Sheet, at: int, page: Page, cautions: Sequence[str], room: float) -> int:
    """The terms and cautions, each a heading in the gutter and its sentence beside it."""
    sheet.text(at, GUTTER, "Good to know", "section")
    at += 1
    said = [*(("Please note", text) for text in cautions), *terms_in_words(page)]
    before = ""
    for heading, sentence in said:
        if heading != before:
            sheet.text(at, GUTTER, heading, "soft")
        before = heading
        for line in wrapped_lines(sentence, room, 9):
            sheet.text(at, WHAT, line, "text", font_size=9)
            at += 1
    return at


def _signature(sheet: Sheet, at: int) -> None:
    sheet.low(at, 30)
    for first, last in ((GUTTER, WHAT), (EACH, AMOUNT)):
        sheet.rule(at, first, last, "ink")
    sheet.text(at + 1, GUTTER, "Agreed: name and signature", "soft")
    sheet.text(at + 1, EACH, "Date", "soft")

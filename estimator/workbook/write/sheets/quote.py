"""The Quote sheet: the customer's page, one page portrait on A4 or Letter.

In the shop's own workbook its figures are linked to the costing; in the customer's file they stand
as they are, and only the sums on the page are formulas.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.cell_text import a1
from estimator.core.money import amount
from estimator.core.text import count
from estimator.price.client.quote import Dues
from estimator.report.page.images import SVG, picture_of
from estimator.report.page.record import DOTS, CustomerPage
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import Page, PageOffer, PriceLine
from estimator.workbook.write.style import money_in_words, wrapped_lines

SHEET = "Quote"
GUTTER, WHAT, QUANTITY, EACH, AMOUNT = range(5)
WIDTHS = (14, 44, 9, 17, 13)
#: points that still fit one page of either paper without small print getting too small
ONE_PAGE = 880
#: points of a page of either paper where the sheet is only as wide as the paper
PAGE = 680
#: rows from which on they stand closer
MANY = 9
#: a long page is set closer: its broadest column by so much broader, its rows lower, less paper left free
BROADER, CLOSER, CLOSE_MARGIN = 36, 0.87, 0.4
#: points that fit one page of either paper so
CLOSE_PAGE = 940
#: points of a page of either paper where such a sheet is only as wide as the paper
CLOSE_BREAK = 890
HEADLINE = 16
#: dots of a photo and of a logo, high
PHOTO_HIGH, LOGO_HIGH = 150, 46
SMALL_ROW = 12.5
AS_QUOTED = "The price as it was quoted"
CHANGED = "The work was changed since: write the quote again"


def write_page(book: Book, page: Page, linked: bool) -> Sheet:
    """The page for one offer; ``linked`` ties its figures to the named cells of the Costing sheet."""
    return book.sheet(one_page(lambda more: _filled(page, linked, more)))


def one_page(filled: Callable[[float], Sheet]) -> Sheet:
    """The sheet as roomy as one sheet of paper allows; where none is enough, on as few as it takes.

    ``filled``: the sheet with its broadest column broader by so much.
    """
    sheet = filled(0)
    if sheet.height <= ONE_PAGE:
        sheet.pages_tall = 1
        return sheet
    close = filled(BROADER)
    close.margin = CLOSE_MARGIN
    close.closer(CLOSER)
    if close.height <= CLOSE_PAGE:
        close.pages_tall = 1
        return close
    sheet.break_at_sections(PAGE)
    close.break_at_sections(CLOSE_BREAK)
    return close if len(close.page_breaks) < len(sheet.page_breaks) else sheet


def _filled(page: Page, linked: bool, more: float) -> Sheet:
    offer, record = page.offers[0], page.record
    widths = (*WIDTHS[:WHAT], WIDTHS[WHAT] + more, *WIDTHS[QUANTITY:])
    sheet = Sheet(SHEET, widths, footer=footer_of(page), for_customers=True)
    room = sum(widths[WHAT:])
    boxes = write_head(sheet, record, AMOUNT)
    at = write_boxes(sheet, boxes, record, AMOUNT, price="")
    at = _changes(sheet, at, record)
    at = _work(sheet, at, record)
    at = write_lasting(sheet, at, record, room)
    at = _price(sheet, at, page, offer, linked, boxes)
    end = write_terms(sheet, at, record, room)
    _signature(sheet, end)
    return sheet


def footer_of(page: Page) -> str:
    """What stands at the foot of each sheet of paper that goes to the customer."""
    return f"{page.record.shop_name}  ·  Quote {page.record.number}"


def row_of(count: int) -> float:
    """Points of one of so many rows."""
    return 18 if count < MANY else 15


def total_words(currency: str) -> str:
    """What stands before a total; money is written in one way on what a customer gets, its currency named."""
    return f"Total, {currency}"


def write_head(sheet: Sheet, record: CustomerPage, last: int) -> int:
    """Shop, number, dates, the wish as headline, whose instrument; returns the next free row."""
    at = _logo(sheet, record)
    sheet.text(at, GUTTER, record.shop_name, "title")
    sheet.text(at, last, f"Quote {record.number}", "title-right")
    at += 1
    lines = record.shop_lines or ("",)
    for number, line in enumerate(lines):
        sheet.text(at, GUTTER, line, "soft")
        if not number:
            sheet.text(at, last, record.dates, "soft-right")
        at += 1
    sheet.low(at, 6)
    sheet.rule(at, GUTTER, last, "heavy")
    at += 1
    for line in wrapped_lines(record.headline, sum(sheet.widths), HEADLINE):
        sheet.text(at, GUTTER, line, "title", font_size=HEADLINE)
        sheet.tall(at, 22)
        at += 1
    for line in wrapped_lines(record.about, sum(sheet.widths), 9):
        sheet.text(at, GUTTER, line, "soft")
        at += 1
    at = _photos(sheet, at, record)
    sheet.low(at, 14)
    return at + 1


def _logo(sheet: Sheet, record: CustomerPage) -> int:
    """The logo above the shop's name; the next free row. A drawing (SVG) has no place in a cell program."""
    if not record.logo or record.logo.startswith(f"data:{SVG}"):
        return 0
    sheet.picture(0, picture_of(record.logo), "", (2, 240, LOGO_HIGH))
    sheet.low(0, (LOGO_HIGH + 6) * 0.75)
    return 1


def _photos(sheet: Sheet, at: int, record: CustomerPage) -> int:
    """The photos side by side; the next free row."""
    if not record.photos:
        return at
    each = sum(7 * width + 5 for width in sheet.widths) / 3
    for number, photo in enumerate(record.photos):
        words = f"Your instrument, picture {number + 1}"
        sheet.picture(at, picture_of(photo), words, (2 + number * each, each - 8, PHOTO_HIGH))
    sheet.low(at, (PHOTO_HIGH + 6) * 0.75)
    return at + 1


def write_boxes(sheet: Sheet, at: int, record: CustomerPage, last: int, price: str | None = None) -> int:
    """The four answers: what it costs, when it is ready, what to pay first, what cannot be undone.

    ``price``: empty where it is written as a formula once the row of the total is known.
    """
    count = len(record.lasting)
    sheet.rule(at - 1, GUTTER, last, "ink")
    for label, value, words in (
        ("Price", record.price if price is None else price, record.price_words),
        ("Ready", record.ready, record.ready_words),
        ("To start", record.to_start, record.to_start_words),
        (
            "Changed for good",
            f"{count} thing{'s' if count > 1 else ''}" if count else "Nothing",
            "named below" if count else "no new holes, no wood cut",
        ),
    ):
        sheet.text(at, GUTTER, label, "soft", text_wrap=True)
        if value:
            sheet.text(at, WHAT, value, "bold", font_size=12)
        for number, line in enumerate(wrapped_lines(words, sum(sheet.widths[WHAT + 1 :]), 9)):
            at += bool(number)
            sheet.text(at, WHAT + 1, line, "soft")
            sheet.low(at, SMALL_ROW if number else 18)
        sheet.rule(at, GUTTER, last)
        at += 1
    sheet.rule(at - 1, GUTTER, last, "ink")
    sheet.low(at, 8)
    return at + 1


def write_lasting(sheet: Sheet, at: int, record: CustomerPage, room: float) -> int:
    """What to know, and what cannot be undone with the line that a customer ticks."""
    for note in record.notes:
        at = _run_over(sheet, at, f"{note}.", "soft", 9, room)
    if record.lasting:
        if record.notes:
            sheet.low(at, 8)
            at += 1
        sheet.text(at, GUTTER, "This is changed for good", "section")
        sheet.rule(at, GUTTER, len(sheet.widths) - 1, "ink")
        at += 1
        for words in record.lasting:
            at = _run_over(sheet, at, words, "text", 10, room)
        sheet.text(at, WHAT, "☐ I know this and want it done.", "bold")
        at += 1
    if record.notes or record.lasting:
        sheet.low(at, 8)
        at += 1
    return at


def _changes(sheet: Sheet, at: int, record: CustomerPage) -> int:
    """Today and afterwards of what was wished for and gets better, with dots for levels."""
    if not record.changes:
        return at
    sheet.text(at, GUTTER, "What changes for you", "section")
    sheet.text(at, QUANTITY, "afterwards", "soft")
    sheet.rule(at, GUTTER, AMOUNT, "ink")
    at += 1
    for row in record.changes:
        today = row.today + (" (our guess)" if row.guess else "")
        texts = ((GUTTER, WHAT, f"{row.name}: {today}", "text"), (QUANTITY, AMOUNT, row.afterwards, "bold"))
        below = at
        for first, end, text, style in texts:
            for number, line in enumerate(
                wrapped_lines(text, sum(sheet.widths[first : end + (first == GUTTER)]), 10)
            ):
                sheet.text(at + number, first, line, style)
                below = max(below, at + number)
        if row.level is not None:
            sheet.text(at, AMOUNT, "●" * row.level + "○" * (DOTS - row.level), "right")
        sheet.rule(below, GUTTER, AMOUNT)
        at = below + 1
    sheet.low(at, 8)
    return at + 1


def _work(sheet: Sheet, at: int, record: CustomerPage) -> int:
    """What is done, numbered, in plain words."""
    sheet.text(at, GUTTER, "What we do", "section")
    sheet.rule(at, GUTTER, AMOUNT, "ink")
    at += 1
    for thing in record.done:
        sheet.number(at, GUTTER, thing.number, "count")
        sheet.tall(at, row_of(len(record.done)))
        at = _run_over(sheet, at, thing.words, "text", 10, sum(sheet.widths[WHAT:]))
        for detail in thing.details:
            at = _run_over(sheet, at, detail, "soft", 9, sum(sheet.widths[WHAT:]))
        sheet.rule(at - 1, GUTTER, AMOUNT)
    sheet.low(at, 8)
    return at + 1


def _run_over(sheet: Sheet, at: int, text: str, style: str, size: float, room: float) -> int:
    """Text in lines that run over the empty cells to their right."""
    for line in wrapped_lines(text, room, size):
        sheet.text(at, WHAT, line, style)
        if size < 10:
            sheet.low(at, SMALL_ROW)
        at += 1
    return at


def _price(sheet: Sheet, at: int, page: Page, offer: PageOffer, linked: bool, boxes: int) -> int:
    sheet.text(at, GUTTER, "What it comes to", "section")
    sheet.text(at, QUANTITY, "Quantity", "head-right")
    sheet.text(at, EACH, "Each", "head-right")
    sheet.text(at, AMOUNT, "Amount", "head-right")
    sheet.rule(at, GUTTER, AMOUNT, "ink")
    first = at = at + 1
    for line in offer.lines:
        _price_row(sheet, at, line, linked, offer)
        sheet.tall(at, row_of(len(offer.lines)))
        sheet.rule(at, GUTTER, AMOUNT)
        at += 1
    sheet.rule(at - 1, GUTTER, AMOUNT, "ink")
    return _sums(sheet, at, first, page, offer, linked, boxes)


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


def _sums(sheet: Sheet, at: int, first: int, page: Page, offer: PageOffer, linked: bool, boxes: int) -> int:
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
    sheet.text(at, EACH, total_words(terms.currency), "total-label")
    sheet.formula(
        at,
        AMOUNT,
        f"=ROUND({subtotal}+{tax},2)",
        amount(price.to_pay),
        "money-bold",
        font_size=14,
    )
    sheet.tall(at, 24)
    total = a1(at, AMOUNT)
    look = {"font_size": 12, "align": "left", "num_format": money_in_words(terms.currency)}
    sheet.formula(boxes, WHAT, f"={total}", amount(price.to_pay), "money-bold", **look)
    if linked:
        sheet.formula(boxes - 1, GUTTER, _bar(offer, total), AS_QUOTED, "bold", font_size=9)
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


def _bar(offer: PageOffer, total: str) -> str:
    """Says above the boxes whether the page still holds; work taken out may leave a rounded price as it was."""
    same = (
        f"ROUND({total}-{amount(offer.price.to_pay)},2)=0",
        f"ROUND(SUMPRODUCT(work_row*work_quantity)-{offer.work_print:f},4)=0",
        f"ROUND(SUMPRODUCT(part_row*part_quantity)-{offer.parts_print:f},4)=0",
    )
    return f'=IF(AND({",".join(same)}),"{AS_QUOTED}","{CHANGED}")'


class DueLine(Struct, frozen=True):
    """What comes off the total or to it, by its sign; ``formula`` ties it to the costing."""

    label: str
    sign: str
    cents: Cents
    formula: str


def dues_lines(dues: Dues) -> list[DueLine]:
    """The lines between the total and what is due on collection."""
    lines = []
    if dues.credit:
        lines.append(DueLine("Bench fee, paid", "-", dues.credit, "=out_credit"))
    if dues.storage:
        formula = f"=ROUND({amount(dues.storage)}*(1+in_tax_labour),2)"
        lines.append(
            DueLine(
                f"Storage, {count(dues.stored_days, 'day')}", "+", dues.storage + dues.storage_tax, formula
            )
        )
    if dues.paid:
        lines.append(DueLine("Paid so far", "-", dues.paid, f"={amount(dues.paid)}"))
    left = f"=MAX(0,ROUND(out_deposit-{amount(dues.paid)},2))" if dues.paid else "=out_deposit"
    lines.append(DueLine("Deposit to book", "-", dues.to_start, left))
    return lines


def write_terms(sheet: Sheet, at: int, record: CustomerPage, room: float) -> int:
    """The shop's word, each a heading in the gutter and its sentence beside it."""
    sheet.low(at, 8)
    sheet.text(at + 1, GUTTER, "Our word", "section")
    sheet.rule(at + 1, GUTTER, len(sheet.widths) - 1, "ink")
    at += 2
    for heading, sentence in record.terms:
        sheet.text(at, GUTTER, heading, "soft")
        at = _run_over(sheet, at, sentence, "small", 9, room)
    return at


def _signature(sheet: Sheet, at: int) -> None:
    sheet.low(at, 24)
    for first, last in ((GUTTER, WHAT), (EACH, AMOUNT)):
        sheet.rule(at, first, last, "ink")
    sheet.text(at + 1, GUTTER, "Yes, please: name and signature", "soft")
    sheet.text(at + 1, EACH, "Date", "soft")

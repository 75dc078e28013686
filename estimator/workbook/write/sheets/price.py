"""The Price sheet: parts, desk work, and the totals with every step of the price.

Every figure that follows from others is a formula with its value; columns are named ``part_...`` and
``desk_...``, results ``out_...``.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.cell_text import a1
from estimator.core.money import amount
from estimator.core.text import sentence_case
from estimator.model import Estimate, PartLine
from estimator.price.client.quote import ordered_pieces
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.rows import CostRow, own_part_minutes
from estimator.workbook.write.sheets.costing import marked_up_formula, work_words
from estimator.workbook.write.totals import write_totals

SHEET, OWN_SHEET = "Price", "Cost"
(KEY, NO, WHAT, GRADE, QUANTITY, BY, UNIT_COST, COST, UNIT_PRICE, PRICE) = range(10)
WIDTHS = (10, 5, 40, 10, 9, 11, 10, 10, 10, 11)
LAST = PRICE
#: beyond the printed page: minutes that a customer's own part or a desk row rests on
EACH, EXTRA, WAIT = 11, 12, 13
MORE = (3, 10, 10, 10)
HEADS = {
    KEY: "Key",
    NO: "No.",
    WHAT: "Part",
    GRADE: "Grade",
    QUANTITY: "Quantity",
    BY: "Bought by",
    UNIT_COST: "Unit cost",
    COST: "Cost",
    UNIT_PRICE: "Unit price",
    PRICE: "Price",
    EACH: "Minutes of fitting",
    EXTRA: "Fitting",
}
#: columns of what a customer is charged
CHARGED = (UNIT_PRICE, PRICE, EACH, EXTRA)
MILLION = Decimal(1_000_000)
HIGH = Decimal(100_000)


def sheet_of(study: Study) -> str:
    """The name of the sheet: the shop's own instrument has a cost, and no customer who pays a price."""
    return SHEET if study.job.for_customer else OWN_SHEET


def write_price(book: Book, study: Study, estimate: Estimate, rows: Sequence[CostRow], footer: str) -> Sheet:
    """Write the sheet and name its columns and results."""
    sheet = book.sheet(
        Sheet(sheet_of(study), (*WIDTHS, *MORE), hidden_columns=(KEY,), footer=footer, print_last_column=LAST)
    )
    follows = "the price" if study.job.for_customer else "the cost"
    sheet.text(0, NO, sheet_of(study), "title")
    sheet.text(1, NO, f"Parts, desk work, and how {follows} follows from the costing.", "soft")
    sheet.rule(1, NO, LAST, "heavy")
    at = write_totals(book, sheet, 3, study, estimate)
    at = _parts(book, sheet, at, study, estimate)
    _desk(book, sheet, at + 1, [row for row in rows if row.desk])
    return sheet


def _heads(sheet: Sheet, at: int, heads: dict[int, str]) -> None:
    for column, head in heads.items():
        left = column in (KEY, NO, WHAT, GRADE, BY)
        sheet.text(
            at, column, head, "head" if left else "head-right", **({"indent": 1} if column == BY else {})
        )
    sheet.rule(at, NO, LAST, "ink")


def _parts(book: Book, sheet: Sheet, at: int, study: Study, estimate: Estimate) -> int:
    """The section of parts: quantity and unit cost may be changed, the price follows the mark-up."""
    sheet.text(at, NO, "Parts", "section")
    priced = study.job.for_customer
    _heads(sheet, at + 1, HEADS if priced else {at: head for at, head in HEADS.items() if at not in CHARGED})
    first = row = at + 2
    ordered = ordered_pieces(study, estimate)
    for number, part in enumerate(estimate.parts, start=1):
        _part_row(sheet, row, number, part, study, ordered[part.upgrade])
        row += 1
    if not estimate.parts:
        sheet.text(row, WHAT, "No parts are bought for this work.", "soft")
        row += 1
    sheet.low(row, 5)
    sheet.rule(row, NO, LAST, "ink")
    for name, column in (
        ("row", NO),
        ("quantity", QUANTITY),
        ("each", UNIT_COST),
        ("cost", COST),
        ("unit_price", UNIT_PRICE),
        ("price", PRICE),
        ("by", BY),
        ("fitting", EXTRA),
    ):
        if priced or column not in CHARGED:
            book.name(f"part_{name}", sheet, first, column, row)
    sheet.text(row + 1, WHAT, "Parts in all", "bold")
    cost, price = (
        sum((p.cost for p in estimate.parts), Cents(0)),
        sum((p.price for p in estimate.parts), Cents(0)),
    )
    sheet.formula(row + 1, COST, "=ROUND(SUM(part_cost),2)", amount(cost), "money-bold")
    if priced:
        sheet.formula(row + 1, PRICE, "=ROUND(SUM(part_price),2)", amount(price), "money-bold")
    return row + 2


def _part_row(sheet: Sheet, row: int, number: int, part: PartLine, study: Study, ordered: Decimal) -> None:
    own = part.owner == "customer"
    sheet.text(row, KEY, f"part:{part.upgrade}", "soft")
    sheet.number(row, NO, number, "count")
    sheet.text(row, WHAT, sentence_case(part.what), "wrap")
    sheet.text(row, GRADE, part.grade, "soft")
    sheet.input(row, QUANTITY, part.quantity, "quantity", Decimal(0), Decimal(1000))
    bought = "customer" if own else "shop" if ordered or not part.quantity else "stock"
    sheet.text(row, BY, bought, "soft", indent=1)
    quantity, each = a1(row, QUANTITY), a1(row, UNIT_COST)
    if own:
        sheet.number(row, UNIT_COST, 0, "money")
    else:
        sheet.input(row, UNIT_COST, amount(part.unit_cost), "money", Decimal(0), MILLION)
    sheet.formula(row, COST, f"=ROUND({quantity}*{each},2)", amount(part.cost), "money")
    sheet.rule(row, NO, LAST)
    if not study.job.for_customer:
        return
    sheet.formula(row, UNIT_PRICE, marked_up_formula(each, study), amount(part.unit_price), "money")
    if own:
        sheet.input(row, EACH, own_part_minutes(part.upgrade, study), "minutes", Decimal(0), HIGH)
        fitting = f"ROUND({a1(row, EACH)}*(in_own_part_labour-1)*in_charge/60,2)"
        sheet.formula(row, EXTRA, f"=IF({quantity}>0,{fitting},0)", amount(part.fitting), "money")
    sheet.formula(row, PRICE, f"=ROUND({quantity}*{a1(row, UNIT_PRICE)},2)", amount(part.price), "money")


def _desk(book: Book, sheet: Sheet, at: int, rows: Sequence[CostRow]) -> None:
    """Talking, writing and ordering: minutes only, on client work they are not billed."""
    row = at
    if rows:
        sheet.text(row, NO, "Desk work, not billed", "section")
        _heads(
            sheet,
            row + 1,
            {
                NO: "Row",
                WHAT: "Work",
                QUANTITY: "Quantity",
                BY: "Unit",
                PRICE: "Minutes",
                EACH: "Minutes per unit",
                EXTRA: "Minutes extra",
                WAIT: "Wait, minutes",
            },
        )
        sheet.tall(row + 1, 26)
        row += 2
    first = row
    for work in rows:
        quantity, each = a1(row, QUANTITY), a1(row, EACH)
        sheet.text(row, KEY, work.key, "soft")
        sheet.number(row, NO, work.number, "count")
        sheet.text(row, WHAT, work_words(work), "wrap", font_size=9)
        sheet.input(row, QUANTITY, work.quantity, "quantity", Decimal(0), Decimal(1000))
        sheet.text(row, BY, "sitting" if work.setup else work.task.driver, "soft", indent=1)
        sheet.formula(
            row, PRICE, f"=IF({quantity}>0,{quantity}*{each}+{a1(row, EXTRA)},0)", work.minutes, "minutes"
        )
        sheet.input(row, EACH, work.each_min, "minutes", Decimal(0), HIGH)
        sheet.input(row, EXTRA, work.extra + work.again, "minutes", Decimal(0), HIGH)
        sheet.number(row, WAIT, Decimal(work.line.wait) / 100, "minutes")
        sheet.rule(row, NO, LAST)
        row += 1
    sheet.low(row, 5)
    sheet.rule(row, NO, LAST, "ink")
    book.name("desk_minutes", sheet, first, PRICE, row)
    book.name("desk_wait", sheet, first, WAIT, row)

"""The Price sheet: parts, desk work, and the totals with every step of the price.

Every figure that follows from others is a formula with its value; columns are named ``part_...`` and
``desk_...``, results ``out_...``.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.cell_text import Value, a1
from estimator.core.money import amount
from estimator.core.text import sentence_case
from estimator.model import Estimate, PartLine
from estimator.price.client.quote import ordered_pieces
from estimator.workbook.row_key import part_key
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.columns import Column, Columns, name_columns, write_heads, write_row
from estimator.workbook.write.rows import CostRow, own_part_minutes
from estimator.workbook.write.sheets.costing import marked_up_formula, work_words
from estimator.workbook.write.totals import write_totals

SHEET, OWN_SHEET = "Price", "Cost"


MOST, MOST_PIECES, DEAREST = 100_000, 1000, 1_000_000


class Col(Columns):
    """Columns of the sheet as the parts use them; beyond the printed page the minutes that a row rests on."""

    KEY = Column("Key", 10)
    NO = Column("No.", 5, "count", named="row")
    WHAT = Column("Part", 40, "wrap")
    GRADE = Column("Grade", 10)
    QUANTITY = Column("Quantity", 9, "quantity", most=MOST_PIECES, named="quantity")
    BY = Column("Bought by", 11, named="by", look={"indent": 1})
    UNIT_COST = Column("Unit cost", 10, "money", most=DEAREST, named="each")
    COST = Column("Cost", 10, "money", "=ROUND({QUANTITY}*{UNIT_COST},2)", named="cost")
    UNIT_PRICE = Column("Unit price", 10, "money", named="unit_price")
    PRICE = Column("Price", 11, "money", "=ROUND({QUANTITY}*{UNIT_PRICE},2)", named="price")
    BETWEEN = Column("", 3)
    EACH = Column("Minutes of fitting", 10, "minutes", most=MOST)
    EXTRA = Column(
        "Fitting",
        10,
        "money",
        "=IF({QUANTITY}>0,ROUND({EACH}*(in_own_part_labour-1)*in_charge/60,2),0)",
        named="fitting",
    )
    WAIT = Column("Wait, minutes", 10, "minutes")


LAST = Col.PRICE
#: what the head of a column says where it is another of desk work than of parts
DESK_HEADS = {
    Col.NO: "Row",
    Col.WHAT: "Work",
    Col.QUANTITY: "Quantity",
    Col.BY: "Unit",
    Col.PRICE: "Minutes",
    Col.EACH: "Minutes per unit",
    Col.EXTRA: "Minutes extra",
    Col.WAIT: "Wait, minutes",
}
#: columns of what a customer is charged
CHARGED = (Col.UNIT_PRICE, Col.PRICE, Col.EACH, Col.EXTRA)


def sheet_of(study: Study) -> str:
    """The name of the sheet: the shop's own instrument has a cost, and no customer who pays a price."""
    return SHEET if study.job.for_customer else OWN_SHEET


def write_price(book: Book, study: Study, estimate: Estimate, rows: Sequence[CostRow], footer: str) -> Sheet:
    """Write the sheet and name its columns and results."""
    sheet = book.sheet(
        Sheet(sheet_of(study), Col.widths(), hidden_columns=(Col.KEY,), footer=footer, print_last_column=LAST)
    )
    follows = "the price" if study.job.for_customer else "the cost"
    words = f"Parts, desk work, and how {follows} follows from the costing."
    sheet.headline(sheet_of(study), words, Col.NO, LAST)
    at = write_totals(book, sheet, 3, study, estimate)
    at = _parts(book, sheet, at, study, estimate)
    _desk(book, sheet, at + 1, [row for row in rows if row.desk])
    return sheet


def _parts(book: Book, sheet: Sheet, at: int, study: Study, estimate: Estimate) -> int:
    """The section of parts: quantity and unit cost may be changed, the price follows the mark-up."""
    sheet.text(at, Col.NO, "Parts", "section")
    priced = study.job.for_customer
    shown = [c for c in Col if c not in (Col.BETWEEN, Col.WAIT) and (priced or c not in CHARGED)]
    write_heads(sheet, at + 1, shown)
    sheet.rule(at + 1, Col.NO, LAST, "ink")
    first = row = at + 2
    ordered = ordered_pieces(study, estimate)
    for number, part in enumerate(estimate.parts, start=1):
        _part_row(sheet, row, number, part, study, ordered[part.upgrade])
        row += 1
    if not estimate.parts:
        sheet.text(row, Col.WHAT, "No parts are bought for this work.", "soft")
        row += 1
    sheet.end_rows(row, Col.NO, LAST)
    name_columns(book, sheet, "part", first, row, shown)
    sheet.text(row + 1, Col.WHAT, "Parts in all", "bold")
    cost, price = (
        sum((p.cost for p in estimate.parts), Cents(0)),
        sum((p.price for p in estimate.parts), Cents(0)),
    )
    sheet.formula(row + 1, Col.COST, "=ROUND(SUM(part_cost),2)", amount(cost), "money-bold")
    if priced:
        sheet.formula(row + 1, Col.PRICE, "=ROUND(SUM(part_price),2)", amount(price), "money-bold")
    return row + 2


def _part_row(sheet: Sheet, row: int, number: int, part: PartLine, study: Study, ordered: Decimal) -> None:
    own = part.owner == "customer"
    values: dict[Col, Value | tuple[str, Value]] = {
        Col.KEY: part_key(part.upgrade),
        Col.NO: number,
        Col.WHAT: sentence_case(part.what),
        Col.GRADE: part.grade,
        Col.QUANTITY: part.quantity,
        Col.BY: "customer" if own else "shop" if ordered or not part.quantity else "stock",
        Col.COST: amount(part.cost),
    }
    if own:
        sheet.number(row, Col.UNIT_COST, 0, "money")
    else:
        values[Col.UNIT_COST] = amount(part.unit_cost)
    if study.job.for_customer:
        values[Col.UNIT_PRICE] = marked_up_formula("{UNIT_COST}", study), amount(part.unit_price)
        values[Col.PRICE] = amount(part.price)
        if own:
            values[Col.EACH] = own_part_minutes(part.upgrade, study)
            values[Col.EXTRA] = amount(part.fitting)
    write_row(sheet, row, values)
    sheet.rule(row, Col.NO, LAST)


def _desk(book: Book, sheet: Sheet, at: int, rows: Sequence[CostRow]) -> None:
    """Talking, writing and ordering: minutes only, on client work they are not billed."""
    row = at
    if rows:
        sheet.text(row, Col.NO, "Desk work, not billed", "section")
        write_heads(sheet, row + 1, DESK_HEADS)
        sheet.rule(row + 1, Col.NO, LAST, "ink")
        sheet.tall(row + 1, 26)
        row += 2
    first = row
    for work in rows:
        values: dict[Col, Value] = {
            Col.KEY: work.key,
            Col.NO: work.number,
            Col.QUANTITY: work.quantity,
            Col.BY: "sitting" if work.setup else work.task.driver,
            Col.EACH: work.each_min,
            Col.WAIT: Decimal(work.line.wait) / 100,
        }
        write_row(sheet, row, values)
        sheet.text(row, Col.WHAT, work_words(work), "wrap", font_size=9)
        quantity, each, extra = (a1(row, column) for column in (Col.QUANTITY, Col.EACH, Col.EXTRA))
        sheet.formula(
            row, Col.PRICE, f"=IF({quantity}>0,{quantity}*{each}+{extra},0)", work.minutes, "minutes"
        )
        sheet.input(row, Col.EXTRA, work.extra + work.again, "minutes", Decimal(0), Decimal(MOST))
        sheet.rule(row, Col.NO, LAST)
        row += 1
    sheet.end_rows(row, Col.NO, LAST)
    book.name("desk_minutes", sheet, first, Col.PRICE, row)
    book.name("desk_wait", sheet, first, Col.WAIT, row)

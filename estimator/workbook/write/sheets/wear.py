"""The Wear sheet: what every row of work uses up, so that its money can be traced to a pack or a tool."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.text import sentence_case
from estimator.model import Use
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.columns import Column, Columns, name_columns, write_heads, write_row
from estimator.workbook.write.customer_page import id_words
from estimator.workbook.write.rows import CostRow

SHEET = "Wear"


FINE = {"num_format": "#,##0.0000"}


class Col(Columns):
    """Columns of the sheet."""

    ROW = Column("Row", 5, "count", named="row")
    ITEM = Column("Item", 5, "count", named="item")
    WORK = Column("Work", 32, "wrap", look={"font_size": 9})
    WHAT = Column("Used up", 32, "wrap", look={"font_size": 9})
    KIND = Column("Kind", 6, named="kind")
    PER_UNIT = Column("Per unit of work", 9, "quantity", look={"num_format": "#,##0.####"})
    UNITS = Column("Units of work", 9, "quantity", "=SUMIF(work_row,{ROW},work_quantity)")
    USED = Column("Used", 9, "quantity", "={PER_UNIT}*{UNITS}", named="used")
    UNIT = Column("Unit", 9, look={"indent": 1})
    EACH = Column("Each", 10, "quantity", look=FINE)
    MONEY = Column("Money", 10, "quantity", "={USED}*{EACH}", named="money", look=FINE)


LAST = Col.MONEY


def item_numbers(rows: Sequence[CostRow]) -> dict[str, int]:
    """Consumables numbered by their first use; the numbers tie this sheet to the buying list."""
    names = dict.fromkeys(use.id for row in rows if not row.desk for use in row.consumables)
    return {name: number for number, name in enumerate(names, start=1)}


def write_wear(book: Book, study: Study, rows: Sequence[CostRow], footer: str) -> Sheet:
    """Write the sheet and name its columns ``wear_...``; each ends on an empty spacer row."""
    sheet = book.sheet(
        Sheet(SHEET, Col.widths(), landscape=True, footer=footer, repeat=(3, 3), freeze=(4, 0))
    )
    sheet.headline(
        SHEET,
        "What each row of work uses up, by share of a pack or of a tool's life. Whole packs to buy stand on "
        "the sheet of parts.",
        0,
        LAST,
    )
    write_heads(sheet, 3, Col)
    sheet.rule(3, 0, LAST, "ink")
    numbers = item_numbers(rows)
    first = row = 4
    billed = [work for work in rows if not work.desk]
    for work in billed:
        for use in work.consumables:
            kind = study.shop.consumables[use.id].billed_as
            _use_row(sheet, row, work, use, kind, numbers[use.id])
            row += 1
        for use in work.tools:
            _use_row(sheet, row, work, use, "tool", 0)
            row += 1
    sheet.end_rows(row, 0, LAST)
    name_columns(book, sheet, "wear", first, row, Col)
    total = sum((w.quantity * u.cost for w in billed for u in (*w.consumables, *w.tools)), Decimal(0))
    sheet.text(row + 1, Col.WORK, "Sum, before it is rounded row by row", "soft")
    sheet.formula(row + 1, LAST, "=SUM(wear_money)", total, "money-bold")
    return sheet


def _use_row(sheet: Sheet, row: int, work: CostRow, use: Use, kind: str, item: int) -> None:
    each = use.cost / use.quantity if use.quantity else Decimal(0)
    values = {
        Col.ROW: work.number,
        **({Col.ITEM: item} if item else {}),
        Col.WORK: id_words(work.task.id),
        Col.WHAT: sentence_case(use.what),
        Col.KIND: kind,
        Col.PER_UNIT: use.quantity,
        Col.UNITS: work.quantity,
        Col.USED: work.quantity * use.quantity,
        Col.UNIT: use.unit,
        Col.EACH: ("=SUMIF(pack_item,{ITEM},pack_each)", each) if item else each,
        Col.MONEY: work.quantity * use.cost,
    }
    write_row(sheet, row, values)
    sheet.rule(row, 0, LAST)

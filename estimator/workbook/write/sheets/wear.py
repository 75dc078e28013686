"""The Wear sheet: what every row of work uses up, so that its money can be traced to a pack or a tool."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.cell_text import a1
from estimator.core.text import sentence_case
from estimator.model import Use
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import id_words
from estimator.workbook.write.rows import CostRow

SHEET = "Wear"
HEADS = (
    ("Row", "head"),
    ("Item", "head"),
    ("Work", "head"),
    ("Used up", "head"),
    ("Kind", "head"),
    ("Per unit of work", "head-right"),
    ("Units of work", "head-right"),
    ("Used", "head-right"),
    ("Unit", "head"),
    ("Each", "head-right"),
    ("Money", "head-right"),
)


LAST = len(HEADS) - 1


def item_numbers(rows: Sequence[CostRow]) -> dict[str, int]:
    """Consumables numbered by their first use; the numbers tie this sheet to the buying list."""
    names = dict.fromkeys(use.id for row in rows if not row.desk for use in row.consumables)
    return {name: number for number, name in enumerate(names, start=1)}


def write_wear(book: Book, study: Study, rows: Sequence[CostRow], footer: str) -> Sheet:
    """Write the sheet and name its columns ``wear_...``; each ends on an empty spacer row."""
    sheet = book.sheet(
        Sheet(
            SHEET,
            (5, 5, 32, 32, 6, 9, 9, 9, 9, 10, 10),
            landscape=True,
            footer=footer,
            repeat=(3, 3),
            freeze=(4, 0),
        )
    )
    sheet.text(0, 0, "Wear", "title")
    sheet.text(
        1,
        0,
        "What each row of work uses up, by share of a pack or of a tool's life. Whole packs to buy stand on "
        "the sheet of parts.",
        "soft",
    )
    sheet.rule(1, 0, LAST, "heavy")
    for column, (head, style) in enumerate(HEADS):
        sheet.text(3, column, head, style, **({"indent": 1} if head == "Unit" else {}))
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
    sheet.low(row, 5)
    sheet.rule(row, 0, LAST, "ink")
    for name, column in (("row", 0), ("item", 1), ("kind", 4), ("used", 7), ("money", 10)):
        book.name(f"wear_{name}", sheet, first, column, row)
    total = sum((w.quantity * u.cost for w in billed for u in (*w.consumables, *w.tools)), Decimal(0))
    sheet.text(row + 1, 2, "Sum, before it is rounded row by row", "soft")
    sheet.formula(row + 1, LAST, "=SUM(wear_money)", total, "money-bold")
    return sheet


def _use_row(sheet: Sheet, row: int, work: CostRow, use: Use, kind: str, item: int) -> None:
    sheet.number(row, 0, work.number, "count")
    if item:
        sheet.number(row, 1, item, "count")
    sheet.text(row, 2, id_words(work.task.id), "wrap", font_size=9)
    sheet.text(row, 3, sentence_case(use.what), "wrap", font_size=9)
    sheet.text(row, 4, kind, "soft")
    sheet.number(row, 5, use.quantity, "quantity", num_format="#,##0.####")
    quantity = work.quantity
    sheet.formula(row, 6, f"=SUMIF(work_row,{a1(row, 0)},work_quantity)", quantity, "quantity")
    sheet.formula(row, 7, f"={a1(row, 5)}*{a1(row, 6)}", quantity * use.quantity, "quantity")
    sheet.text(row, 8, use.unit, "soft", indent=1)
    each = use.cost / use.quantity if use.quantity else Decimal(0)
    if item:
        sheet.formula(
            row, 9, f"=SUMIF(pack_item,{a1(row, 1)},pack_each)", each, "quantity", num_format="#,##0.0000"
        )
    else:
        sheet.number(row, 9, each, "quantity", num_format="#,##0.0000")
    sheet.formula(
        row, 10, f"={a1(row, 7)}*{a1(row, 9)}", quantity * use.cost, "quantity", num_format="#,##0.0000"
    )
    sheet.rule(row, 0, LAST)

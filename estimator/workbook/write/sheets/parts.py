"""The sheet of parts and consumables: what to buy (whole packs, cash) beside what is used (by share).

The two are never added together: a pack is bought whole, and the job is charged what it uses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from msgspec import Struct

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.cell_text import Value, a1
from estimator.core.money import amount, cents
from estimator.core.text import sentence_case
from estimator.estimate.packs import pieces_from_stock, pieces_there
from estimator.model import Consumable, Estimate, PartLine
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.columns import Column, Columns, write_heads, write_row
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.sheets.wear import item_numbers
from estimator.workbook.write.style import money_format

SHEET = "Parts and consumables"
MOST = 1_000_000
MILLION = Decimal(MOST)


class Col(Columns):
    """Columns of the sheet, with their heads and figures of the consumables."""

    NO = Column("Item", 5, "count")
    WHAT = Column("Consumable", 46, "wrap")
    PACK = Column("Pack", 15)
    USED = Column("Used", 9, "quantity", "=SUMIF(wear_item,{NO},wear_used)")
    UNIT = Column("Unit", 9, look={"indent": 1})
    SHARE = Column("Cost of what is used", 11, "money", "=SUMIF(wear_item,{NO},wear_money)")
    STOCK = Column("In stock", 9, "quantity", most=MOST)
    BUY = Column("Packs to buy", 9, "whole", most=10_000)
    EACH = Column("A pack", 10, "money", most=MOST)
    CASH = Column("Cash", 11, "money", "=ROUND({BUY}*{EACH},2)")
    PER_PACK = Column("Units in a pack", 9, "quantity")
    PER_UNIT = Column("A unit", 10, "quantity", "={EACH}/{PER_PACK}", look={"num_format": "#,##0.0000"})


LAST = Col.PER_UNIT
PART_HEADS = {
    Col.NO: "No.",
    Col.WHAT: "Part",
    Col.PACK: "Bought by",
    Col.USED: "Needed",
    Col.SHARE: Col.SHARE.of.head,
    Col.STOCK: Col.STOCK.of.head,
    Col.BUY: "To buy",
    Col.EACH: "Each",
    Col.CASH: Col.CASH.of.head,
}


def write_parts(book: Book, study: Study, estimate: Estimate, rows: Sequence[CostRow], footer: str) -> Sheet:
    """Write the sheet; ``out_cash`` is the money that leaves the till."""
    sheet = book.sheet(Sheet(SHEET, Col.widths(), landscape=True, footer=footer))
    words = "Left: what the job uses and is charged for. Right: what is bought and paid now, in whole packs."
    sheet.headline(SHEET, words, 0, LAST)
    at = _parts(book, sheet, 3, study, estimate)
    at = _consumables(book, sheet, at + 1, study, estimate, rows)
    sheet.text(at, Col.WHAT, "Cash to lay out", "bold")
    sheet.text(at, Col.PACK, "parts, packs, and what is sold with the work", "soft")
    sheet.formula(
        at,
        Col.CASH,
        "=ROUND(SUM(buy_cash)+SUM(pack_cash)+SUM(work_parts),2)",
        amount(estimate.totals.money.cash),
        "money-bold",
        num_format=money_format(study.shop.terms.currency),
    )
    book.name("out_cash", sheet, at, Col.CASH)
    return sheet


def _heads(sheet: Sheet, at: int, heads: Mapping[Col, str]) -> None:
    write_heads(sheet, at, heads)
    sheet.tall(at, 26)
    sheet.rule(at, 0, LAST, "ink")


def _parts(book: Book, sheet: Sheet, at: int, study: Study, estimate: Estimate) -> int:
    sheet.text(at, 0, "Parts", "section")
    _heads(sheet, at + 1, PART_HEADS)
    first = row = at + 2
    there = pieces_from_stock(estimate.parts, study.job.stock)
    earlier: dict[str, tuple[int, int]] = {}
    for number, part in enumerate(estimate.parts, start=1):
        left = earlier.get(part.part, (row, pieces_there(part.part, study.job.stock)))
        _part_row(sheet, row, number, part, left, there[part.upgrade])
        if part.owner == "shop":
            earlier[part.part] = row, left[1] - there[part.upgrade]
        row += 1
    if not estimate.parts:
        sheet.text(row, Col.WHAT, "No parts are bought for this job.", "soft")
        row += 1
    sheet.end_rows(row, 0, LAST)
    book.name("buy_pieces", sheet, first, Col.BUY, row)
    book.name("buy_cash", sheet, first, Col.CASH, row)
    return row + 1


def _part_row(sheet: Sheet, row: int, number: int, part: PartLine, left: tuple[int, int], taken: int) -> None:
    """``left``: the row that took of this part before (this one: none did), and what it left in stock."""
    own = part.owner == "customer"
    item, each, bought = a1(row, Col.NO), amount(part.unit_cost), part.quantity - taken
    write_row(
        sheet,
        row,
        {
            Col.NO: number,
            Col.WHAT: sentence_case(part.what),
            Col.PACK: "customer" if own else "shop",
            Col.USED: (f"=SUMIF(part_row,{item},part_quantity)", part.quantity),
            Col.SHARE: (f"=SUMIF(part_row,{item},part_cost)", amount(part.cost)),
            Col.EACH: (f"=SUMIF(part_row,{item},part_each)", each),
            Col.CASH: Decimal(0) if own else amount(cents(each * bought)),
        },
    )
    if own:
        sheet.number(row, Col.STOCK, part.quantity, "quantity")
        sheet.number(row, Col.BUY, 0, "quantity")
    else:
        before, there = left
        if before == row:
            sheet.input(row, Col.STOCK, there, "quantity", Decimal(0), MILLION)
        else:
            sheet.formula(row, Col.STOCK, f"={a1(before, Col.STOCK)}-{_taken(before)}", there, "quantity")
        sheet.formula(row, Col.BUY, f"={a1(row, Col.USED)}-{_taken(row)}", bought, "quantity")
    sheet.rule(row, 0, LAST)


def _taken(row: int) -> str:
    """What a row takes from the stock: whole pieces, as far as they reach."""
    return f"MIN({a1(row, Col.STOCK)},INT({a1(row, Col.USED)}))"


def packs_to_buy(study: Study, estimate: Estimate) -> dict[str, int]:
    """Whole packs bought for a set of upgrades, by consumable, as the estimate counts them."""
    return study.costing.packs_for(estimate.chosen)


def _consumables(
    book: Book, sheet: Sheet, at: int, study: Study, estimate: Estimate, rows: Sequence[CostRow]
) -> int:
    sheet.text(at, 0, "Consumables", "section")
    _heads(sheet, at + 1, {column: column.of.head for column in Col})
    packs = packs_to_buy(study, estimate)
    stocked = study.costing.setting.stocked
    numbers = item_numbers(rows)
    for name in sorted(packs):  # bought for desk work only
        numbers.setdefault(name, len(numbers) + 1)
    used: dict[str, Decimal] = {}
    for work in rows:
        for use in work.consumables:
            if not work.desk:
                used[use.id] = used.get(use.id, Decimal(0)) + work.quantity * use.quantity
    first = row = at + 2
    for name, number in numbers.items():
        consumable = study.shop.consumables[name]
        quantity = used.get(name, Decimal(0))
        if name in stocked:
            charged = sum(
                (cents(u.cost) for line in estimate.lines for u in line.consumables if u.id == name), Cents(0)
            )
            pieces = _Pieces(consumable, quantity, study.job.stock[name], packs.get(name, 0), charged)
            _piece_row(sheet, row, number, pieces)
        else:
            _consumable_row(sheet, row, number, consumable, quantity, packs.get(name, 0))
        row += 1
    sheet.end_rows(row, 0, LAST)
    book.name("pack_item", sheet, first, Col.NO, row)
    book.name("pack_each", sheet, first, Col.PER_UNIT, row)
    book.name("pack_cash", sheet, first, Col.CASH, row)
    return row + 1


class _Pieces(Struct, frozen=True):
    """What is sold by the piece: how many are used, in stock and bought, and the cents charged for them."""

    item: Consumable
    used: Decimal
    there: Decimal
    bought: int
    charged: Cents


def _piece_row(sheet: Sheet, row: int, number: int, pieces: _Pieces) -> None:
    """What is sold with the work and of which some is in stock: whole pieces beyond it are bought.

    The cash to lay out holds what all work is charged for such things; what the stock saves is taken off here.
    """
    item = pieces.item
    _consumable_row(sheet, row, number, item, pieces.used, pieces.bought, marked=False)
    each = cents(item.price / item.units_per_pack)
    beyond = "SUMPRODUCT((wear_item={NO})*ROUND(wear_used,3))-ROUND({STOCK},3)"
    lines = "SUMPRODUCT((wear_item={NO})*ROUND(wear_money,2))"
    cash = amount(pieces.bought * each - pieces.charged)
    write_row(
        sheet,
        row,
        {
            Col.STOCK: pieces.there,
            Col.BUY: (f"=MAX(0,ROUNDUP(ROUND({beyond},3),0))", pieces.bought),
            Col.CASH: (f"=ROUND({{BUY}}*ROUND({{PER_UNIT}},2)-{lines},2)", cash),
        },
    )


def _consumable_row(
    sheet: Sheet, row: int, number: int, item: Consumable, used: Decimal, packs: int, marked: bool = True
) -> None:
    values: dict[Col, Value] = {
        Col.NO: number,
        Col.WHAT: sentence_case(item.what),
        Col.PACK: item.pack,
        Col.USED: used,
        Col.UNIT: item.unit,
        Col.SHARE: used * item.price / item.units_per_pack,
        Col.EACH: item.price,
        Col.PER_UNIT: item.price / item.units_per_pack,
    }
    if item.by_the_pack:
        values[Col.CASH] = amount(cents(item.price) * packs)
    if item.by_the_piece and marked:
        sheet.text(row, Col.STOCK, "sold with the work", "soft", indent=1)
    elif item.on_shelf and marked:
        sheet.text(row, Col.STOCK, "from the shelf", "soft", indent=1)
    elif item.by_the_pack:
        values[Col.BUY] = packs
    sheet.input(row, Col.PER_PACK, item.units_per_pack, "quantity", Decimal("0.001"), MILLION)
    write_row(sheet, row, values)
    sheet.rule(row, 0, LAST)

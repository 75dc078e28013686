"""The sheet of parts and consumables: what to buy (whole packs, cash) beside what is used (by share).

The two are never added together: a pack is bought whole, and the job is charged what it uses.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.cell_text import a1
from estimator.core.money import amount, cents
from estimator.core.records import dataclass
from estimator.core.text import sentence_case
from estimator.estimate.packs import pieces_from_stock, pieces_there
from estimator.model import Consumable, Estimate, PartLine
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.sheets.wear import item_numbers
from estimator.workbook.write.style import money_format

SHEET = "Parts and consumables"
NO, WHAT, PACK, USED, UNIT, SHARE, STOCK, BUY, EACH, CASH, PER_PACK, PER_UNIT = range(12)
WIDTHS = (5, 46, 15, 9, 9, 11, 9, 9, 10, 11, 9, 10)
LAST = len(WIDTHS) - 1
MILLION = Decimal(1_000_000)
Block = tuple[tuple[int, str], ...]
PART_HEADS: Block = (
    (NO, "No."),
    (WHAT, "Part"),
    (PACK, "Bought by"),
    (USED, "Needed"),
    (SHARE, "Cost of what is used"),
    (STOCK, "In stock"),
    (BUY, "To buy"),
    (EACH, "Each"),
    (CASH, "Cash"),
)
CONSUMABLE_HEADS: Block = (
    (NO, "Item"),
    (WHAT, "Consumable"),
    (PACK, "Pack"),
    (USED, "Used"),
    (UNIT, "Unit"),
    (SHARE, "Cost of what is used"),
    (STOCK, "In stock"),
    (BUY, "Packs to buy"),
    (EACH, "A pack"),
    (CASH, "Cash"),
    (PER_PACK, "Units in a pack"),
    (PER_UNIT, "A unit"),
)


def write_parts(book: Book, study: Study, estimate: Estimate, rows: Sequence[CostRow], footer: str) -> Sheet:
    """Write the sheet; ``out_cash`` is the money that leaves the till."""
    sheet = book.sheet(Sheet(SHEET, WIDTHS, landscape=True, footer=footer))
    sheet.text(0, 0, "Parts and consumables", "title")
    sheet.text(
        1,
        0,
        "Left: what the job uses and is charged for. Right: what is bought and paid now, in whole packs.",
        "soft",
    )
    sheet.rule(1, 0, LAST, "heavy")
    at = _parts(book, sheet, 3, study, estimate)
    at = _consumables(book, sheet, at + 1, study, estimate, rows)
    sheet.text(at, WHAT, "Cash to lay out", "bold")
    sheet.text(at, PACK, "parts, packs, and what is sold with the work", "soft")
    sheet.formula(
        at,
        CASH,
        "=ROUND(SUM(buy_cash)+SUM(pack_cash)+SUM(work_parts),2)",
        amount(estimate.totals.money.cash),
        "money-bold",
        num_format=money_format(study.shop.terms.currency),
    )
    book.name("out_cash", sheet, at, CASH)
    return sheet


def _heads(sheet: Sheet, at: int, heads: Block) -> None:
    for column, head in heads:
        indent = {"indent": 1} if column == UNIT else {}
        sheet.text(at, column, head, "head" if column in (NO, WHAT, PACK, UNIT) else "head-right", **indent)
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
        sheet.text(row, WHAT, "No parts are bought for this job.", "soft")
        row += 1
    sheet.low(row, 5)
    sheet.rule(row, 0, LAST, "ink")
    book.name("buy_pieces", sheet, first, BUY, row)
    book.name("buy_cash", sheet, first, CASH, row)
    return row + 1


def _part_row(sheet: Sheet, row: int, number: int, part: PartLine, left: tuple[int, int], taken: int) -> None:
    """``left``: the row that took of this part before (this one: none did), and what it left in stock."""
    own = part.owner == "customer"
    sheet.number(row, NO, number, "count")
    sheet.text(row, WHAT, sentence_case(part.what), "wrap")
    sheet.text(row, PACK, "customer" if own else "shop", "soft")
    sheet.formula(row, USED, f"=SUMIF(part_row,{a1(row, NO)},part_quantity)", part.quantity, "quantity")
    sheet.formula(row, SHARE, f"=SUMIF(part_row,{a1(row, NO)},part_cost)", amount(part.cost), "money")
    each = amount(part.unit_cost)
    if own:
        sheet.number(row, STOCK, part.quantity, "quantity")
        sheet.number(row, BUY, 0, "quantity")
    else:
        before, there = left
        if before == row:
            sheet.input(row, STOCK, there, "quantity", Decimal(0), MILLION)
        else:
            sheet.formula(row, STOCK, f"={a1(before, STOCK)}-{_taken(before)}", there, "quantity")
        sheet.formula(row, BUY, f"={a1(row, USED)}-{_taken(row)}", part.quantity - taken, "quantity")
    sheet.formula(row, EACH, f"=SUMIF(part_row,{a1(row, NO)},part_each)", each, "money")
    cash = Decimal(0) if own else amount(cents(each * (part.quantity - taken)))
    sheet.formula(row, CASH, f"=ROUND({a1(row, BUY)}*{a1(row, EACH)},2)", cash, "money")
    sheet.rule(row, 0, LAST)


def _taken(row: int) -> str:
    """What a row takes from the stock: whole pieces, as far as they reach."""
    return f"MIN({a1(row, STOCK)},INT({a1(row, USED)}))"


def packs_to_buy(study: Study, estimate: Estimate) -> dict[str, int]:
    """Whole packs bought for a set of upgrades, by consumable, as the estimate counts them."""
    return study.costing.packs_for(estimate.chosen)


def _consumables(
    book: Book, sheet: Sheet, at: int, study: Study, estimate: Estimate, rows: Sequence[CostRow]
) -> int:
    sheet.text(at, 0, "Consumables", "section")
    _heads(sheet, at + 1, CONSUMABLE_HEADS)
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
    sheet.low(row, 5)
    sheet.rule(row, 0, LAST, "ink")
    book.name("pack_item", sheet, first, NO, row)
    book.name("pack_each", sheet, first, PER_UNIT, row)
    book.name("pack_cash", sheet, first, CASH, row)
    return row + 1


@dataclass(frozen=True, slots=True)
class _Pieces:
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
    sheet.input(row, STOCK, pieces.there, "quantity", Decimal(0), MILLION)
    mine = f"(wear_item={a1(row, NO)})"
    beyond = f"SUMPRODUCT({mine}*ROUND(wear_used,3))-ROUND({a1(row, STOCK)},3)"
    sheet.formula(row, BUY, f"=MAX(0,ROUNDUP(ROUND({beyond},3),0))", pieces.bought, "whole")
    lines = f"SUMPRODUCT({mine}*ROUND(wear_money,2))"
    sheet.formula(
        row,
        CASH,
        f"=ROUND({a1(row, BUY)}*ROUND({a1(row, PER_UNIT)},2)-{lines},2)",
        amount(pieces.bought * each - pieces.charged),
        "money",
    )


def _consumable_row(
    sheet: Sheet, row: int, number: int, item: Consumable, used: Decimal, packs: int, marked: bool = True
) -> None:
    sheet.number(row, NO, number, "count")
    sheet.text(row, WHAT, sentence_case(item.what), "wrap")
    sheet.text(row, PACK, item.pack, "soft")
    sheet.formula(row, USED, f"=SUMIF(wear_item,{a1(row, NO)},wear_used)", used, "quantity")
    sheet.text(row, UNIT, item.unit, "soft", indent=1)
    share = used * item.price / item.units_per_pack
    sheet.formula(row, SHARE, f"=SUMIF(wear_item,{a1(row, NO)},wear_money)", share, "money")
    if item.by_the_piece and marked:
        sheet.text(row, STOCK, "sold with the work", "soft", indent=1)
    elif item.on_shelf and marked:
        sheet.text(row, STOCK, "from the shelf", "soft", indent=1)
    elif item.by_the_pack:
        sheet.input(row, BUY, packs, "whole", Decimal(0), Decimal(10_000))
    sheet.input(row, EACH, item.price, "money", Decimal(0), MILLION)
    if item.by_the_pack:
        cash = cents(item.price) * packs
        sheet.formula(row, CASH, f"=ROUND({a1(row, BUY)}*{a1(row, EACH)},2)", amount(cash), "money")
    sheet.input(row, PER_PACK, item.units_per_pack, "quantity", Decimal("0.001"), MILLION)
    each = item.price / item.units_per_pack
    sheet.formula(
        row, PER_UNIT, f"={a1(row, EACH)}/{a1(row, PER_PACK)}", each, "quantity", num_format="#,##0.0000"
    )
    sheet.rule(row, 0, LAST)

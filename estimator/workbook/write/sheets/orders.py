"""The Orders sheet: one basket per supplier with live totals, and what each job bears, to the cent."""

from __future__ import annotations

from estimator.batch.cost_sharing import RULE
from estimator.batch.orders import Basket, OrderLine
from estimator.core.amounts import Cents
from estimator.core.cell_text import a1, span
from estimator.core.money import amount
from estimator.plan.plan import Plan
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.sheets.job_card import BOX_EMPTY
from estimator.workbook.write.style import wrapped_lines

SHEET = "Orders"
BOX, NUMBER, UNIT, WHAT, NEED, MONEY, JOBS = range(7)
WIDTHS = (4, 8, 8, 46, 13, 12)
SHARE_WIDTH = 12
MOST_PRINTED = 8


def write_orders(book: Book, plan: Plan, footer: str) -> Sheet:
    """Write the sheet; ``orders_total`` names what leaves the till, shares stand in one column a job."""
    jobs = list(plan.orders.by_job)
    left = JOBS + len(jobs)
    widths = (*WIDTHS, *(SHARE_WIDTH for _ in jobs), SHARE_WIDTH)
    many = (
        MONEY if len(jobs) > MOST_PRINTED else None
    )  # the shares of many jobs would make the print too small
    sheet = book.sheet(Sheet(SHEET, widths, landscape=True, footer=footer, print_last_column=many))
    words = "one basket per supplier, in whole packs; what is in the shop is used first"
    sheet.headline(SHEET, words, 0, left)
    at = 3
    totals: list[int] = []
    for basket in plan.orders.baskets:
        at = _basket(sheet, at, basket, jobs, totals)
    if not plan.orders.baskets:
        sheet.text(at, NUMBER, "Nothing has to be bought.", "soft")
        at += 2
    _grand(book, sheet, at, plan, jobs, totals)
    at += 3
    room = sum(widths if many is None else WIDTHS)
    for had in plan.orders.had:
        for words in wrapped_lines(had.words[:1].upper() + had.words[1:] + ".", room, 9):
            sheet.text(at, BOX, words, "soft")
            at += 1
    for line in wrapped_lines(f"How shared money is split: {RULE}.", room, 9):
        sheet.text(at, BOX, line, "soft")
        at += 1
    _spares(sheet, at + 1, plan)
    return sheet


def _heads(sheet: Sheet, at: int, jobs: list[str]) -> None:
    heads = ("", "Number", "", "What", "Needed by", "Money")
    for column, head in enumerate((*heads, *(f"borne by {job}" for job in jobs), "left to split")):
        sheet.text(at, column, head, "head" if column in (BOX, UNIT, WHAT) else "head-right")
    sheet.rule(at, 0, JOBS + len(jobs), "ink")


def _basket(sheet: Sheet, at: int, basket: Basket, jobs: list[str], totals: list[int]) -> int:
    left = JOBS + len(jobs)
    sheet.text(at, BOX, f"{basket.seller}: {basket.words}", "section")
    _heads(sheet, at + 1, jobs)
    sheet.tall(at + 1, 28)
    first = at = at + 2
    for line in basket.lines:
        sheet.text(at, BOX, BOX_EMPTY, "text", font_size=14)
        sheet.text(at, NUMBER, line.number, "right")
        sheet.text(at, UNIT, {"pack": "pack", "tool": "tool", "rent": "rent"}.get(line.kind, "piece"), "soft")
        sheet.text(at, WHAT, line.words, "wrap")
        if line.need_by is not None:
            sheet.day(at, NEED, line.need_by)
        sheet.input(at, MONEY, amount(line.cents), "money")
        _shares(sheet, at, dict(line.bears), jobs, line)
        sheet.rule(at, 0, left)
        at += 1
    sheet.text(at, WHAT, "Freight" if basket.freight else "Freight: free" if basket.sent else "To be fetched")
    sheet.input(at, MONEY, amount(basket.freight), "money")
    _shares(sheet, at, dict(basket.freight_bears), jobs, None)
    sheet.rule(at, 0, left, "ink")
    sheet.text(at + 1, WHAT, "Together", "bold")
    for column in range(MONEY, left + 1):
        cents = _column(basket, jobs, column)
        sheet.formula(at + 1, column, f"=SUM({span(first, column, at)})", amount(cents), "money-bold")
    totals.append(at + 1)
    return at + 3


def _column(basket: Basket, jobs: list[str], column: int) -> Cents:
    if column == MONEY:
        return basket.total
    if column == JOBS + len(jobs):
        return Cents(0)
    job = jobs[column - JOBS]
    mine = sum((cents for line in basket.lines for who, cents in line.bears if who == job), Cents(0))
    return mine + sum((cents for who, cents in basket.freight_bears if who == job), Cents(0))


def _shares(sheet: Sheet, at: int, bears: dict[str, Cents], jobs: list[str], line: OrderLine | None) -> None:
    for column, job in enumerate(jobs, JOBS):
        sheet.money(at, column, bears.get(job, Cents(0)))
    last = JOBS + len(jobs)
    borne = sum(bears.values(), Cents(0))
    cents = (line.cents if line else borne) - borne
    sheet.formula(
        at, last, f"=ROUND({a1(at, MONEY)}-SUM({a1(at, JOBS)}:{a1(at, last - 1)}),2)", amount(cents), "money"
    )


def _grand(book: Book, sheet: Sheet, at: int, plan: Plan, jobs: list[str], totals: list[int]) -> None:
    left = JOBS + len(jobs)
    _heads(sheet, at, jobs)
    sheet.tall(at, 28)
    sheet.text(at + 1, WHAT, "All orders", "bold")
    cents = [plan.orders.total, *(plan.orders.by_job[job] for job in jobs), Cents(0)]
    for column, value in zip(range(MONEY, left + 1), cents, strict=True):
        formula = "=" + ("+".join(a1(row, column) for row in totals) or "0")
        sheet.formula(at + 1, column, formula, amount(value), "money-bold")
    book.name("orders_total", sheet, at + 1, MONEY)
    for number, _ in enumerate(jobs):
        book.name(f"orders_job{number + 1}", sheet, at + 1, JOBS + number)
    sheet.text(at + 1, UNIT, plan.shop.terms.currency, "soft")


def _spares(sheet: Sheet, at: int, plan: Plan) -> None:
    if plan.orders.no_spares:
        sheet.text(at, BOX, plan.orders.no_spares[:1].upper() + plan.orders.no_spares[1:] + ".", "soft")
        at += 1
    for spare in plan.orders.spares:
        extra = spare.pieces - spare.good
        if not extra:
            continue
        practise = f"; practise on {spare.practise_on}" if spare.practise_on else ""
        words = f"Spares, not ordered by itself: {spare.words}: for {spare.good} good have {spare.pieces}{practise}"
        sheet.text(at, BOX, words, "soft")
        at += 1
    shelf = plan.cash - plan.orders.total
    if shelf:
        words = f"Besides, {amount(shelf)} {plan.shop.terms.currency} of strings and the like come from the shelf."
        sheet.text(at, BOX, words, "soft")

"""The Cost sheet: what each instrument costs by heading and its share of the orders, with live totals."""

from __future__ import annotations

from decimal import Decimal

from estimator.core.amounts import Cents
from estimator.core.cell_text import a1, span
from estimator.core.money import amount
from estimator.plan.plan import Plan
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.style import wrapped_lines

SHEET = "Cost by job"
HEADS = (
    "Instrument",
    "Parts",
    "Consumables",
    "Tools",
    "Labour",
    "Overhead",
    "Reserve",
    "Cost",
    "Share of orders",
    "Minutes, on average",
    "Minutes, 80 % sure",
)
WIDTHS = (18, 11, 12, 10, 11, 11, 11, 12, 12, 12, 12)
COST, ORDERS, MINUTES, SAFE = 7, 8, 9, 10
KINDS = ("parts", "consumables", "tools", "labour", "overhead", "reserve")


def write_costs(book: Book, plan: Plan, footer: str) -> Sheet:
    """Write the sheet; ``cost_total`` names the cost of all jobs together."""
    sheet = book.sheet(Sheet(SHEET, WIDTHS, landscape=True, footer=footer))
    sheet.headline("Cost by instrument", f"in {plan.shop.terms.currency}; not for the customer", 0, SAFE)
    for column, head in enumerate(HEADS):
        sheet.head(3, column, head, "right" if column else "left")
    sheet.tall(3, 28)
    sheet.rule(3, 0, SAFE, "ink")
    first = at = 4
    totals = [0] * (SAFE + 1)
    numbers = {job: number for number, job in enumerate(plan.orders.by_job, 1)}
    for job, estimate in plan.estimates.items():
        money = estimate.totals.money
        row = [
            0,
            *(int(getattr(money, kind)) for kind in KINDS),
            money.cost,
            plan.orders.by_job[job],
            estimate.totals.expected,
            estimate.totals.p80,
        ]
        sheet.text(at, 0, job)
        for column in range(1, COST):
            sheet.money(at, column, Cents(row[column]))
        sheet.formula(at, COST, f"=SUM({a1(at, 1)}:{a1(at, COST - 1)})", amount(money.cost), "money-bold")
        sheet.formula(at, ORDERS, f"=orders_job{numbers[job]}", amount(plan.orders.by_job[job]), "money")
        for column in (MINUTES, SAFE):
            sheet.number(at, column, Decimal(row[column]) / 100, "minutes")
        sheet.rule(at, 0, SAFE)
        totals = [one + other for one, other in zip(totals, row, strict=True)]
        at += 1
    sheet.rule(at - 1, 0, SAFE, "ink")
    sheet.text(at, 0, "Together", "bold")
    for column in range(1, SAFE):  # surety of all together is no sum
        value = amount(Cents(totals[column])) if column < MINUTES else Decimal(totals[column]) / 100
        sheet.formula(at, column, f"=SUM({span(first, column, at - 1)})", value, "money-bold")
    book.name("cost_total", sheet, at, COST)
    at += 2
    had = "A part in stock, or off another instrument, stands here at its list price; nothing is paid for it."
    for words in (
        *((had,) if plan.orders.had else ()),
        "Cost: parts at list prices, consumables by use, labour and overhead of the minutes on average, reserve.",
        "Share of orders: what leaves the till now, in whole packs, with freight and at the suppliers' prices.",
        "Minutes: of each job done alone; the week needs fewer where set-ups are shared, more where work is changed over.",
    ):
        for line in wrapped_lines(words, sum(WIDTHS), 9):
            sheet.text(at, 0, line, "soft")
            at += 1
    return sheet

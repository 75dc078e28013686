"""Prices and reports as they stand on the page: the menu beside posted prices, what the ledger says of the year."""

from __future__ import annotations

from datetime import date

from estimator.core.amounts import Cents
from estimator.core.text import money, sentence_case
from estimator.ledger.clock import minutes_text
from estimator.ledger.reports import cash_by_month, hours_by_task, pay_per_hour
from estimator.price.client.menu import MenuRow, menu_of
from estimator.report.records.price import difference
from estimator.report.text.terminal import hours
from estimator.server.desk import Desk

MOST_TASKS = 12
KINDS = {"commission": "For customers", "resale": "Sold", "own": "Our own"}


def menu_values(desk: Desk) -> dict[str, object]:
    """The menu: each job with its price without parts, its time, and the middle half of what lists post."""
    currency = desk.shop.terms.currency
    rows = []
    for row in _menu(desk):
        band = row.band
        posted = f"{money(band.low, currency)} to {money(band.high, currency)}" if band else ""
        rows.append(
            (
                sentence_case(row.job.what),
                money(row.price, currency),
                hours(row.minutes),
                posted,
                difference(row),
            )
        )
    return {"menu": rows}


def _menu(desk: Desk) -> tuple[MenuRow, ...]:
    if desk.menu is None:
        desk.menu = menu_of(desk.shop) if desk.shop.menu.jobs else ()
    return desk.menu


def price_list_text(desk: Desk) -> str:
    """The price list for customers as a page by itself; InputError where the menu has no job."""
    from estimator.report.page.price_list import price_list, price_list_html

    return price_list_html(price_list(_menu(desk), desk.shop, date.today()), desk.shop.paper)


def report_values(desk: Desk) -> dict[str, object]:
    """Pay per hour, where the hours went, cash by month; empty where there is no ledger."""
    with desk.ledger() as books:
        if books is None:
            return {"pay": [], "hours": [], "cash": []}
        pay, spent, cash = pay_per_hour(books), hours_by_task(books), cash_by_month(books)
    return {
        "pay": [
            (
                KINDS.get(str(row.kind), str(row.kind)),
                str(row.jobs),
                _money(row.left, row.currency),
                minutes_text(row.taken_s) + (f" of {minutes_text(row.planned_s)} as quoted" * row.few_times),
                _money(row.per_hour, row.currency),
            )
            for row in pay
        ],
        "hours": [
            (sentence_case(str(row.task).replace("-", " ")), minutes_text(row.taken_s))
            for row in spent[:MOST_TASKS]
        ],
        "cash": [
            (
                str(row.month),
                _money(row.came_in, row.currency),
                _money(row.out, row.currency),
                _money(row.stock, row.currency),
                _money(row.left, row.currency),
            )
            for row in cash
        ],
    }


def _money(cents: Cents | None, currency: str) -> str:
    return "–" if cents is None else money(cents, currency)

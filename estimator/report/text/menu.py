"""The menu for the command line: text."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from estimator.core.money import amount
from estimator.core.text import count
from estimator.model import Shop
from estimator.price.client.menu import ENOUGH_LISTS, MenuRow, median_ratio
from estimator.report.record import table_of
from estimator.report.records.price import MenuJobTold
from estimator.report.text.terminal import put, show_table


def show_menu(rows: Sequence[MenuRow], shop: Shop, pieces: bool = False) -> None:
    """The menu as a table, with what stands besides the work, reasons below."""
    show_table(
        f"Menu: price of the labour without parts, before tax, in {shop.terms.currency}",
        *table_of(MenuJobTold, rows),
    )
    if pieces:
        for row in rows:
            told = ", ".join(f"{name} {amount(value):.2f}" for name, value in row.pieces if value)
            put(f"{row.job.id} ({row.job.what}): {told}.")
    put(*(f"{row.job.id}: {row.job.reason}." for row in rows if row.job.reason))
    middle = median_ratio(rows)
    if middle is not None:
        which = "jobs" if len(rows) == len(shop.menu.jobs) else "jobs shown here"
        put(f"The middle ratio over the {which} with {ENOUGH_LISTS} or more lists: {middle:.2f}.")
    put(
        "With set-up: what the job adds to a set-up. Posted: quartiles of the lists of the shop's own country, else of all, in money of this year; rows with "
        "their addresses are in posted_prices.csv. The factor to this year's money is from memory."
    )


def say_list(rows: Sequence[MenuRow], written: Path) -> None:
    """The price list that was written."""
    put(f"wrote {written}")
    put(
        f"A price list for customers, {count(len(rows), 'job')}, with the prices of the menu as they are today. "
        "Open it in a browser, print it, hang it up; write it again when a price changes."
    )

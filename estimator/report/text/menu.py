"""The menu for the command line: text."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.core.amounts import Cents
from estimator.core.money import amount
from estimator.model import Shop
from estimator.price.client.menu import CORE, ENOUGH_LISTS, MenuRow, median_ratio
from estimator.report.text.money import say
from estimator.report.text.terminal import show_table

NAMED = 3
"""Pieces besides the work that are named of each price."""


def difference(row: MenuRow) -> str:
    """The largest pieces of a price besides the work itself."""
    others = sorted(
        ((name, value) for name, value in row.pieces if name != CORE and value), key=lambda one: -one[1]
    )
    return ", ".join(f"{name} {_plain(value)}" for name, value in others[:NAMED])


def _plain(value: Cents) -> str:
    return f"{amount(value):.0f}"


def _band_words(row: MenuRow) -> str:
    band = row.band
    return "none" if band is None else f"{_plain(band.low)}/{_plain(band.middle)}/{_plain(band.high)}"


def show_menu(rows: Sequence[MenuRow], shop: Shop, pieces: bool = False) -> None:
    """The menu as a table, with what stands besides the work, reasons below."""
    show_table(
        f"Menu: price of the labour without parts, before tax, in {shop.terms.currency}",
        ("job", "min", "price", "with set-up", "posted", "lists", "x", "besides the work"),
        [
            (
                row.job.id,
                f"{row.minutes / 100:.0f}",
                f"{amount(row.price):.2f}",
                "" if row.with_set_up is None else f"{amount(row.with_set_up):.2f}",
                _band_words(row),
                "" if row.band is None else f"{row.band.lists}",
                "" if row.ratio is None else f"{row.ratio}",
                difference(row),
            )
            for row in rows
        ],
        right=(1, 2, 3, 5, 6),
    )
    if pieces:
        for row in rows:
            told = ", ".join(f"{name} {amount(value):.2f}" for name, value in row.pieces if value)
            say([f"{row.job.id} ({row.job.what}): {told}."])
    say([f"{row.job.id}: {row.job.reason}." for row in rows if row.job.reason])
    middle = median_ratio(rows)
    if middle is not None:
        which = "jobs" if len(rows) == len(shop.menu.jobs) else "jobs shown here"
        say([f"The middle ratio over the {which} with {ENOUGH_LISTS} or more lists: {middle:.2f}."])
    say(
        [
            "With set-up: what the job adds to a set-up. Posted: quartiles of the lists of the shop's own country, else of all, in money of this year; rows with "
            "their addresses are in posted_prices.csv. The factor to this year's money is from memory."
        ]
    )

"""A shop's own numbers for the command line: text and data."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.core.money import money_text
from estimator.learn.own_shop import MenuChange, OwnShop
from estimator.report.text.money import Data, say
from estimator.report.text.terminal import show_table


def own_shop_data(own: OwnShop) -> Data:
    """The object that ``own-shop --json`` prints."""
    return {
        "currency": own.currency,
        "differences": [
            {
                "file": one.file,
                "key": one.key,
                "column": one.column,
                "before": one.before,
                "after": one.after,
                "basis": one.basis,
                "source": one.source,
            }
            for one in own.differences
        ],
        **menu_data(own.changes, own.same),
    }


def menu_data(changes: Sequence[MenuChange], same: int) -> Data:
    """Jobs of the menu before and after."""
    return {
        "menu": [
            {
                "job": row.job,
                "minutes_before": _hundredths(row.minutes_before),
                "minutes_after": _hundredths(row.minutes_after),
                "price_before": None if row.price_before is None else money_text(row.price_before),
                "price_after": None if row.price_after is None else money_text(row.price_after),
            }
            for row in changes
        ],
        "menu_unchanged": same,
    }


def _hundredths(minutes: int | None) -> float | None:
    return None if minutes is None else minutes / 100


def show_own_shop(own: OwnShop) -> None:
    """Every difference, then the menu."""
    if own.differences:
        show_table(
            "What is not as in the default shop",
            ("file", "row", "column", "default", "here", "basis"),
            [
                (
                    one.file,
                    one.key,
                    one.column,
                    one.before,
                    one.after,
                    one.basis + (f": {one.source}" if one.source else ""),
                )
                for one in own.differences
            ],
            right=(3, 4),
        )
    else:
        say(["Nothing differs from the default shop."])
    show_menu_changes(own.changes, own.same, own.currency)


def show_menu_changes(changes: Sequence[MenuChange], same: int, currency: str) -> None:
    """The menu before and after, for the jobs that move."""
    if changes:
        show_table(
            f"What that does to the menu (minutes hands-on, {currency} without parts)",
            ("job", "min before", "min after", "price before", "price after"),
            [
                (
                    row.what,
                    _minutes(row.minutes_before),
                    _minutes(row.minutes_after),
                    _money(row.price_before),
                    _money(row.price_after),
                )
                for row in changes
            ],
            right=(1, 2, 3, 4),
        )
    say([f"{same} jobs of the menu stay as they were."])


def _minutes(hundredths: int | None) -> str:
    return "not on it" if hundredths is None else f"{hundredths / 100:.0f}"


def _money(cents: int | None) -> str:
    return "" if cents is None else money_text(cents)

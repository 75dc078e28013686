"""Printed lines added up once more: what a reader sums on paper must be what the totals say."""

from __future__ import annotations

from estimator.core.amounts import Cents, Hundredths
from estimator.model import Estimate

EACH = ("tools", "labour", "overhead", "reserve")
"""Headings of money that are nothing but sums of the work lines."""


def lines_amiss(estimate: Estimate) -> list[str]:
    """Where the printed lines do not add up to the totals, in words; an empty list if they do.

    Desk work of client jobs stands apart: it costs nothing there, and its minutes are told by themselves.
    """
    totals, lines = estimate.totals, estimate.lines
    wrong = []
    for what, printed, told in (
        (
            "hands-on minutes",
            sum((line.setup + line.minutes for line in lines), Hundredths(0)),
            totals.attended,
        ),
        (
            "reserve minutes",
            sum((line.rework + line.allowance for line in lines), Hundredths(0)),
            totals.reserve_min,
        ),
        (
            "waiting minutes",
            sum((line.wait for line in (*lines, *estimate.desk)), Hundredths(0)),
            totals.unattended,
        ),
        (
            "desk minutes",
            sum((line.setup + line.minutes for line in estimate.desk), Hundredths(0)),
            totals.desk,
        ),
    ):
        if printed != told:
            wrong.append(f"{what} of the lines add up to {printed / 100:.2f}, not to {told / 100:.2f}")
    money = totals.money
    sums = [(name, sum(getattr(line.money, name) for line in lines), getattr(money, name)) for name in EACH]
    parts = sum((line.cost for line in estimate.parts), Cents(0)) + sum(
        (line.money.parts for line in lines), Cents(0)
    )
    prices = sum((line.price for line in estimate.parts), Cents(0)) + sum(
        (line.money.price_parts for line in lines), Cents(0)
    )
    besides = sum((line.fitting for line in estimate.parts), Cents(0)) + sum(
        (line.money.price_work for line in lines), Cents(0)
    )
    sums += [
        ("parts", parts, money.parts),
        ("parts at their price", prices, money.price_parts),
        ("work charged besides the hours", besides, money.price_work),
    ]
    for name, added, said in sums:
        if added != said:
            wrong.append(f"{name} of the lines come to {added / 100:.2f}, not to {said / 100:.2f}")
    return wrong

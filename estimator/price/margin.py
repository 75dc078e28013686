"""Mark-up, margin and break-even: three shares that are often taken for one another.

markup = (price - cost) / cost; margin = (price - cost) / price; margin = markup / (1 + markup).
All exact fractions; money in cents.
"""

from __future__ import annotations

from fractions import Fraction

from estimator.errors import InputError, Issue, Origin


def margin_of(cost: int, price: int) -> Fraction:
    """Share of the price that is left over cost; InputError at a price of nought."""
    if price <= 0:
        raise InputError(Issue(Origin(), "no margin without a price", str(price), "a price above nought"))
    return Fraction(price - cost, price)


def markup_of(cost: int, price: int) -> Fraction:
    """What the price lies above cost, as a share of cost; InputError at a cost of nought."""
    if cost <= 0:
        raise InputError(Issue(Origin(), "no mark-up without a cost", str(cost), "a cost above nought"))
    return Fraction(price - cost, cost)


def margin_from_markup(markup: Fraction) -> Fraction:
    """The margin that a mark-up leaves."""
    return markup / (1 + markup)


def markup_from_margin(margin: Fraction) -> Fraction:
    """The mark-up that leaves a margin (below 1)."""
    return margin / (1 - margin)


def price_for_margin(cost: int, margin: Fraction) -> int:
    """The price in cents, half up, of which ``margin`` is left over ``cost``: cost / (1 - margin)."""
    price = Fraction(cost) / (1 - margin)
    return int((2 * price + 1) // 2)


def break_even_units(fixed: int, price: int, variable: int, profit: int = 0) -> Fraction | None:
    """Units at which price covers fixed and variable cost and leaves ``profit``; None if it never does."""
    if price <= variable:
        return None
    return Fraction(fixed + profit, price - variable)

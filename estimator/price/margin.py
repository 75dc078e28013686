"""Mark-up, margin and break-even: three shares that are often taken for one another.

markup = (price - cost) / cost; margin = (price - cost) / price; margin = markup / (1 + markup).
All exact fractions; money in cents.
"""

from __future__ import annotations

from fractions import Fraction

from estimator.errors import InputError, Issue, Origin
from estimator.estimate.money import money_text
from estimator.model import Job, Totals


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


def under_cost(job: Job, totals: Totals) -> int:
    """Cents by which a customer's price before tax lies under the cost of the work; 0 where it does not."""
    return max(0, totals.cost - totals.price) if job.kind == "commission" else 0


def under_cost_words(price: int, cost: int, currency: str) -> str:
    """What a price under cost means, in one sentence; an empty text where it covers the cost."""
    if price >= cost:
        return ""
    return (
        f"the price before tax, {money_text(price)} {currency}, lies {money_text(cost - price)} {currency} under the cost "
        f"of {money_text(cost)} {currency}: raise the charge by the hour, the mark-up or the least charge, or do it "
        "knowing what it loses"
    )


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

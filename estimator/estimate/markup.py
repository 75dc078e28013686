"""A part's price to the customer."""

from __future__ import annotations

from estimator.core.money import amount, cents
from estimator.model import Terms


def marked_up(unit_cost: int, terms: Terms) -> int:
    """The price of a part (cents) that costs ``unit_cost`` cents: its cost times the factor of its band."""
    for band in terms.markup:
        if band.up_to is None or amount(unit_cost) <= band.up_to:
            return cents(amount(unit_cost) * band.factor)
    return unit_cost

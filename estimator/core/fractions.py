"""Exact fractions to whole cents, half up, in one step."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

HALF = Fraction(1, 2)


def half_up(value: Fraction) -> int:
    """The nearest whole number, halves away from zero."""
    whole = (abs(value) + HALF).__floor__()
    return whole if value >= 0 else -whole


def cents_of(money: Fraction) -> int:
    """Money as whole cents, half up."""
    return half_up(money * 100)


def percent(share: Fraction | Decimal, places: int = 1) -> str:
    """A share as per cent in words, such as 85.0 %."""
    return f"{half_up(Fraction(share) * 100 * 10**places) / 10**places:.{places}f} %"

"""Exact fractions to whole cents, half up, in one step."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

HALF = Fraction(1, 2)


def half_up(value: Fraction) -> int:
    """The nearest whole number, halves away from nought."""
    whole = (abs(value) + HALF).__floor__()
    return whole if value >= 0 else -whole


def cents_of(money: Fraction) -> int:
    """Money as whole cents, half up."""
    return half_up(money * 100)


def per_hour(money: int, minutes: int) -> int | None:
    """Cents for hundredths of a minute as cents an hour, half up; None without time."""
    return half_up(Fraction(money * 6000, minutes)) if minutes > 0 else None


def percent(share: Fraction | Decimal, places: int = 1) -> str:
    """A share as per cent in words, such as 85.0 %."""
    return f"{half_up(Fraction(share) * 100 * 10**places) / 10**places:.{places}f} %"

"""The only rounding of money: half up, to the cent, once per atom.

Half up is what spreadsheet programs do with ROUND(x, 2), so a quote and its workbook agree.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

from estimator.core.amounts import Cents, Hundredths

SIXTY = Decimal(60)
HUNDRED = Decimal(100)
CRUMB = Decimal("1e-9")
HALF = Fraction(1, 2)


def cents(amount: Decimal) -> Cents:
    """An amount of money in whole cents, half up (away from zero)."""
    return Cents(_half_up(amount * HUNDRED))


def centiminutes(minutes: Decimal) -> Hundredths:
    """Minutes in whole hundredths, half up."""
    return Hundredths(_half_up(minutes * HUNDRED))


def _half_up(value: Decimal) -> int:
    """The nearest whole number, half up.

    A quotient that should be an exact half can fall short of it in the 28th figure; it is read to nine
    places first, as a spreadsheet program reads it to fifteen figures, so that both round alike.
    """
    return int(value.quantize(CRUMB, ROUND_HALF_UP).quantize(Decimal(1), ROUND_HALF_UP))


def money_text(amount_in_cents: Cents) -> str:
    """Cents as a decimal string with two places, the form of all money in JSON."""
    sign = "-" if amount_in_cents < 0 else ""
    return f"{sign}{abs(amount_in_cents) // 100}.{abs(amount_in_cents) % 100:02d}"


def amount(amount_in_cents: Cents) -> Decimal:
    """Cents as a Decimal amount."""
    return Decimal(amount_in_cents).scaleb(-2)


def round_up_to(value: Decimal, step: Decimal) -> Decimal:
    """The least multiple of ``step`` that is not below ``value``."""
    return (value / step).to_integral_value(ROUND_CEILING) * step


def times_rate(minutes: Decimal, rate_per_hour: Decimal) -> Cents:
    """Minutes at an hourly rate, in cents."""
    return cents(minutes * rate_per_hour / SIXTY)


def half_up(value: Fraction) -> int:
    """The nearest whole number, halves away from zero."""
    whole = (abs(value) + HALF).__floor__()
    return whole if value >= 0 else -whole


def cents_of(money: Fraction) -> Cents:
    """Money as whole cents, half up."""
    return Cents(half_up(money * 100))


def percent(share: Fraction | Decimal | float, places: int = 1) -> str:
    """A share as per cent in words, such as 85.0 %."""
    return f"{half_up(Fraction(share) * 100 * 10**places) / 10**places:.{places}f} %"

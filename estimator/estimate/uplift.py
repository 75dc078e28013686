"""What a buyer pays for an instrument that was worked on: condition, uplifts, ceiling.

price = min(ceiling, base x condition + sum over the uplifts, largest first, of what each still adds).
Buyers pay less for every further thing: an uplift counts ``damping`` (0.7) of what it would count one
place higher, rounded half up to the cent at every step (so 0.7^(k-1) within a cent or so). Stepwise
rounding keeps the differences between two uplifts from growing down the ranks, so "largest first" is
exactly the best of all orders, to the cent.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from estimator.core.amounts import Cents, Hundredths

ONE = Decimal(1)


def ranked(value: Cents, ranks: int, damping: Decimal) -> tuple[Cents, ...]:
    """What an uplift of ``value`` cents counts as the largest, the second largest ... (``ranks`` numbers)."""
    amounts = []
    for _ in range(ranks):
        amounts.append(value)
        value = Cents(int((value * damping).quantize(ONE, ROUND_HALF_UP)))
    return tuple(amounts)


def damped(values: Iterable[Cents], damping: Decimal) -> tuple[tuple[Cents, Cents], ...]:
    """(full value, what it counts) of every uplift, largest first; cents."""
    ordered = sorted(values, reverse=True)
    return tuple((value, ranked(value, rank + 1, damping)[rank]) for rank, value in enumerate(ordered))


def share_left(price: Cents, fee_basis_points: int) -> Cents:
    """The price less a fee of so many ten-thousandths, half up to the cent."""
    return Cents((price * (10_000 - fee_basis_points) + 5_000) // 10_000)


def pay_for(minutes: Hundredths, pay: Cents) -> Cents:
    """Hundredths of a minute at cents an hour, half up (also below zero)."""
    return Cents((2 * minutes * pay + 6000) // 12000)

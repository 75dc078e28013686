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

ONE = Decimal(1)


def ranked(value: int, ranks: int, damping: Decimal) -> tuple[int, ...]:
    """What an uplift of ``value`` cents counts as the largest, the second largest ... (``ranks`` numbers)."""
    amounts = []
    for _ in range(ranks):
        amounts.append(value)
        value = int((value * damping).quantize(ONE, ROUND_HALF_UP))
    return tuple(amounts)


def damped(values: Iterable[int], damping: Decimal) -> tuple[tuple[int, int], ...]:
    """(full value, what it counts) of every uplift, largest first; cents."""
    ordered = sorted(values, reverse=True)
    return tuple((value, ranked(value, rank + 1, damping)[rank]) for rank, value in enumerate(ordered))


def share_left(price: int, fee_basis_points: int) -> int:
    """The price less a fee of so many ten-thousandths, half up to the cent."""
    return (price * (10_000 - fee_basis_points) + 5_000) // 10_000


def pay_for(minutes: int, pay: int) -> int:
    """Hundredths of a minute at cents an hour, half up (also below zero)."""
    return (2 * minutes * pay + 6000) // 12000

"""Whole numbers that stand for exact ones, so that what is shown adds up to the total that is shown."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal

ONE = Decimal(1)


def whole_rows(values: Sequence[Decimal]) -> list[int]:
    """A whole number for each value, less than one off, that add up to the sum of the values rounded half up.

    By largest remainders: all are rounded down, and those with the most left are rounded up, as many as the sum
    asks for; of alike the first.
    """
    floors = [int(value.to_integral_value(ROUND_FLOOR)) for value in values]
    short = int(sum(values, Decimal(0)).quantize(ONE, ROUND_HALF_UP)) - sum(floors)
    by_rest = sorted(range(len(values)), key=lambda at: (floors[at] - values[at], at))
    up = set(by_rest[:short])
    return [floor + (at in up) for at, floor in enumerate(floors)]

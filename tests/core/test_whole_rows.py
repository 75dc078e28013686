"""Whole numbers that add up to the whole sum: by hand, and over drawn lists."""

from __future__ import annotations

import random
from decimal import ROUND_HALF_UP, Decimal

from estimator.core.whole import whole_rows


def test_by_hand() -> None:
    assert whole_rows([]) == []
    assert whole_rows([Decimal("0.5"), Decimal("0.5")]) == [1, 0]
    # each rounded by itself would be 4 + 4 + 4 = 12, and the sum is 10.8
    assert whole_rows([Decimal("3.6"), Decimal("3.6"), Decimal("3.6")]) == [4, 4, 3]
    assert whole_rows([Decimal("3.4"), Decimal("3.4"), Decimal("3.4")]) == [4, 3, 3]
    assert whole_rows([Decimal("12.00"), Decimal("0.49")]) == [12, 0]


def test_drawn_lists_add_up_and_no_row_is_a_whole_one_off() -> None:
    draw, mended = random.Random(126), 0
    for _ in range(3000):
        values = [Decimal(draw.randint(0, 9000)) / 100 for _ in range(draw.randint(1, 40))]
        rows = whole_rows(values)
        total = int(sum(values).quantize(Decimal(1), ROUND_HALF_UP))
        assert sum(rows) == total
        assert all(abs(row - value) < 1 for row, value in zip(rows, values, strict=True))
        rest = [value - int(value) for value in values]
        up = [r for r, row, value in zip(rest, rows, values, strict=True) if row > value]
        down = [r for r, row, value in zip(rest, rows, values, strict=True) if row <= value]
        assert not up or not down or min(up) >= max(down)
        mended += total != sum(int(value.quantize(Decimal(1), ROUND_HALF_UP)) for value in values)
    assert mended > 1000  # rounded one by one, that many lists would not add up

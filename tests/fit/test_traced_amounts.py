"""Amounts of a table worked out of a number that notes comparisons: it is used, and never held against another."""

from __future__ import annotations

from decimal import Decimal

import pytest

from estimator.core.expressions import parse_expression
from estimator.fit.traced import Traced


@pytest.mark.parametrize(
    ("text", "at_three", "at_four"),
    [
        ("7", "7", "7"),
        ("2 * deep", "6", "8"),
        ("deep * wide - 1/2", "5.5", "7.5"),
        ("wide / deep + deep", "3.6667", "4.5"),
    ],
)
def test_the_same_amounts_come_again_for_the_same_numbers(text: str, at_three: str, at_four: str) -> None:
    noted: list[Decimal] = []
    expression = parse_expression(text)
    for value, amount in ((Decimal(3), at_three), (Decimal(4), at_four), (Decimal("3.0"), at_three)):
        of = {"deep": value, "wide": Decimal(2)}
        traced = of | {"deep": Traced(value, Decimal(1), value, noted.append)}
        for numbers in (of, traced, of, traced):
            assert round(expression.value(numbers.__getitem__), 4) == Decimal(amount)
            assert type(expression.value(numbers.__getitem__)) is Decimal
    assert noted == []


def test_nothing_is_remembered_of_a_division_by_zero() -> None:
    expression = parse_expression("wide / deep")
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            expression.value({"deep": Decimal(0), "wide": Decimal(2)}.__getitem__)
    assert expression.value({"deep": Decimal(1), "wide": Decimal(2)}.__getitem__) == 2

"""Lengths as people of a country read them, in one place."""

from __future__ import annotations

import random
import re
from decimal import Decimal
from fractions import Fraction

import pytest

from estimator.core.units import lengths_as_read

D = Decimal


@pytest.mark.parametrize(
    ("mm", "inches"),
    [
        ("0.25", "0.01 in"),
        ("2.4", "0.094 in"),
        ("1.6", "0.063 in"),
        ("25.4", "1 in"),
        ("42", "1.65 in"),
        # named sizes: scales and radii
        ("648", "25.5 in"),
        ("864", "34 in"),
        ("305", "12 in"),
        ("184", "7.25 in"),
        ("628", "24.72 in"),
    ],
)
def test_a_length_in_inches(mm: str, inches: str) -> None:
    assert lengths_as_read(f"{mm} mm", "in") == inches
    assert lengths_as_read(f"{mm} mm", "mm") == f"{mm} mm"


def test_every_length_of_a_text_and_nothing_else() -> None:
    text = "gap 0.5 to 0.8 mm, 6 strings, 2.0 mm thick string, 5 cents, 40 cm2, 3 mmx"
    assert lengths_as_read(text, "mm") == text
    assert lengths_as_read(text, "in") == (
        "gap 0.02 to 0.031 in, 6 strings, 0.079 in thick string, 5 cents, 40 cm2, 3 mmx"
    )


def test_what_is_read_is_as_near_as_its_places() -> None:
    chance = random.Random(17)
    for _ in range(2000):
        length = D(chance.randrange(1, 900_00)) / 100
        told = Fraction(re.sub(" in$", "", lengths_as_read(f"{length} mm", "in"))) * Fraction("25.4")
        near = (
            Fraction("0.5")
            if length >= 100
            else Fraction("0.127")
            if length >= D("25.4")
            else Fraction("0.0127")
        )
        assert abs(told - Fraction(length)) <= near


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("1.984375 mm", "1.98 mm"),
        ("0.396875 mm", "0.397 mm"),
        ("9.921875 / 9.998 mm", "9.92 / 10 mm"),
        ("0.15 to 0.125 mm", "0.15 to 0.125 mm"),
        ("1.984375 g", "1.984375 g"),
        ("648 mm", "648 mm"),
    ],
)
def test_what_was_written_in_inches_is_read_in_mm_that_a_rule_tells_apart(text: str, read: str) -> None:
    assert lengths_as_read(text, "mm") == read

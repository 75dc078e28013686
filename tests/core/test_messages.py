"""What stands in a message neither acts on the terminal nor hides, and numbers of any length are told of."""

from __future__ import annotations

import pytest

from estimator.core.errors import shown, visible
from estimator.core.expressions import ExpressionError, parse_expression


@pytest.mark.parametrize(
    ("text", "seen"),
    [
        ("plain ü€漢 words", "plain ü€漢 words"),
        ("an\u00a0odd\u2009blank", "an\u00a0odd\u2009blank"),
        ("a\nb\rc\td", "a\\nb\\rc\\td"),
        ("\x1b[2J\x07", "\\x1b[2J\\x07"),
        ("\x9b2J", "\\x9b2J"),
        ("\u202egnp.exe\u2066", "\\u202egnp.exe\\u2066"),
        ("\u2028\udce4", "\\u2028\\udce4"),
    ],
)
def test_letters_that_act_or_hide_are_told_by_their_escapes(text: str, seen: str) -> None:
    assert visible(text) == seen
    assert shown(text) == f"“{seen}”"


@pytest.mark.parametrize("number", ["9" * 31, "9" * 5000, "0." + "9" * 5000, "1/" + "9" * 5000])
def test_a_number_longer_than_any_measure_is_refused_in_words(number: str) -> None:
    with pytest.raises(ExpressionError, match="a number of more than 30 digits"):
        parse_expression(f"2 * {number}")


@pytest.mark.parametrize("number", ["1/0", "1/00", "1/000", "0/0"])
def test_nothing_is_divided_by_nought(number: str) -> None:
    with pytest.raises(ExpressionError, match="division by zero"):
        parse_expression(number)

"""Times and sums of limits as people write them: hours and minutes, money with its currency."""

from __future__ import annotations

import random
import re
from decimal import ROUND_CEILING, Decimal

import pytest

from estimator.core.text import time_text
from estimator.model.problem import Rule, Source

WRITTEN = re.compile(r"(?:(\d+) h (?=\d\d))?(\d+(?:\.\d\d?)?) min")


def read_back(words: str) -> int:
    """Hundredths of a minute of what is written."""
    found = WRITTEN.fullmatch(words)
    assert found, words
    hours, minutes = found.groups()
    assert hours is None or Decimal(minutes) < 60
    return int(hours or 0) * 6000 + int(Decimal(minutes) * 100)


@pytest.mark.parametrize(
    ("hundredths", "nearest", "exact"),
    [
        (0, "0 min", "0 min"),
        (550, "6 min", "5.5 min"),
        (5949, "59 min", "59.49 min"),
        (5950, "1 h 00 min", "59.5 min"),
        (6000, "1 h 00 min", "1 h 00 min"),
        (16000, "2 h 40 min", "2 h 40 min"),
        (16235, "2 h 42 min", "2 h 42.35 min"),
        (6505, "1 h 05 min", "1 h 05.05 min"),
    ],
)
def test_times_by_hand(hundredths: int, nearest: str, exact: str) -> None:
    assert time_text(hundredths) == nearest
    assert time_text(hundredths, exact=True) == exact


def test_what_a_limit_tells_reads_back() -> None:
    """2,000 drawn limits: exact they are the limit itself; what goes beyond one is told as no less than it is, and more."""
    draw = random.Random(20)
    rule = Rule("hours", "minutes", "at most")
    for _ in range(2000):
        most = draw.choice((draw.randint(1, 60_000), draw.randint(1, 600) * 100))
        spent = most + draw.choice((1, draw.randint(1, 99), draw.randint(1, 30_000)))
        assert read_back(rule.told(most)) == most
        told = read_back(rule.told(spent, ROUND_CEILING))
        assert told % 100 == 0
        assert most < spent <= told < spent + 100


def test_money_of_a_limit_has_its_currency() -> None:
    assert Rule(Source.BUDGET, "money", "price", unit="USD").told(123456) == "1,234.56 USD"
    assert Rule(Source.BUDGET, "money", "price").told(50) == "0.50"

"""What learned prices and odds do to the last quotes, against sums by hand."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.learn.on_quotes import on_quotes
from estimator.learn.values import Value
from estimator.ledger.store import Ledger
from estimator.model import Shop
from tests.ledger.shop import accepted, begun
from tests.shops import default_shop

STRINGS = "c-strings-guitar"


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def value(part: str, file: str, row: str, before: str, after: str) -> Value:
    column = "price" if part == "prices" else "rework_pct"
    return Value(part, file, row, column, Decimal(before), Decimal(before), Decimal(after), 9, "so it was")


def quoted(ledger: Ledger, job: str) -> str:
    """A quote that reckons with 2 sets of strings, one part, and 4 chances that levelling goes wrong."""
    uses = {("string-up", STRINGS): 2_000_000, ("fit-jack", "jack"): 1_000_000}
    return accepted(ledger, job, materials=3000, uses=uses, chances={"level-frets": 400})


def test_dearer_strings_a_dearer_part_and_higher_odds(tmp_path: Path, shop: Shop) -> None:
    """A pack of ten sets 70 to 79: two sets are 1.80 more. The part 4 to 5: 1.00 more. 4 chances at 8 and 10 %."""
    with begun(tmp_path) as ledger:
        number = quoted(ledger, "blue")
        strings = value("prices", "consumables.csv", STRINGS, "70", "79")
        part = value("prices", "parts.csv", "jack", "4", "5")
        odds = value("rework", "tasks.csv", "level-frets", "8", "10")
        (one,) = on_quotes(ledger, shop, [strings, part, odds])
        assert (one.number, one.materials, one.materials_learned) == (number, 3000, 3280)
        assert (one.wrong, one.wrong_learned) == (Decimal("0.32"), Decimal("0.40"))
        assert one.changes


def test_what_is_too_early_or_stays_does_nothing(tmp_path: Path, shop: Shop) -> None:
    with begun(tmp_path) as ledger:
        quoted(ledger, "blue")
        early = replace(value("prices", "consumables.csv", STRINGS, "70", "79"), early=True)
        wait = value("waits", "tasks.csv", "level-frets", "60", "90")
        (one,) = on_quotes(ledger, shop, [early, wait])
        assert not one.changes


def test_the_last_ten_alone(tmp_path: Path, shop: Shop) -> None:
    with begun(tmp_path) as ledger:
        for number in range(12):
            quoted(ledger, f"job-{number}")
        found = on_quotes(ledger, shop, [])
        assert len(found) == 10
        assert not any(one.changes for one in found)

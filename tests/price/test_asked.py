"""Prices as listings write them, and columns as people call them."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.input.asked import read_asked
from estimator.price.donor.rank import offer_list
from estimator.tables.cells import CellError
from estimator.tables.load import load_shop


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("250", "250"),
        ("$1,250.50", "1250.50"),
        ("USD 1,250", "1250"),
        ("1.250,50 €", "1250.50"),
        ("1.250", "1250"),
        ("1 250,5", "1250.5"),
        ("1'250", "1250"),
        ("250,-", "250"),
        ("€ 99,90", "99.90"),
        ("1.2k", "1200"),
        ("Free", "0"),
    ],
)
def test_a_price_is_read_as_written(text: str, value: str) -> None:
    assert read_asked(text) == Decimal(value)


@pytest.mark.parametrize(
    "text", ["", "ask", "250 or 300", "1,2,3", "12,34,56", "1.250.5", "1,250,50", "-5", "1e3", "25.000.00"]
)
def test_what_could_be_two_sums_is_none(text: str) -> None:
    with pytest.raises(CellError):
        read_asked(text)


def test_drawn_sums_come_back_from_every_way_of_writing() -> None:
    drawn = random.Random(20)
    for _ in range(3000):
        cents = drawn.choice([drawn.randrange(100_000), drawn.randrange(100_000_000)])
        whole, part = divmod(cents, 100)
        thousands, decimal = drawn.choice(
            [(",", "."), (".", ","), (" ", ","), ("'", "."), ("", "."), ("", ",")]
        )
        text = f"{whole:,}".replace(",", thousands)
        text += f"{decimal}{part:02d}" if part or drawn.random() < 0.5 else ""
        sign = drawn.choice(["", "$", "USD ", "€ ", "CHF "])
        text = drawn.choice([f"{sign}{text}", f"{text} {sign.strip()}".strip()])
        assert read_asked(text) == Decimal(cents) / 100, text


def test_a_list_of_ones_own_is_ranked_by_pay_an_hour(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.csv"
    path.write_text('Title,Price,tier\nworn guitar,"$1,040.00",A\nanother,40 USD,A\n', encoding="utf-8")
    shop = load_shop()
    found = offer_list(path, shop, by="per-hour")
    assert [(o.id, o.what, o.ask) for o in found.offers] == [
        ("row-3", "another", 4_000),
        ("row-2", "worn guitar", 104_000),
    ]
    earned = [o.earned for o in found.offers if o.earned is not None]
    assert earned == sorted(earned, reverse=True)
    assert run(["offer", "--list", str(path), "--by", "per-hout"]) == 2
    assert "did you mean “per-hour”" in capsys.readouterr().err


@pytest.mark.parametrize("text", ["99 €", "EUR 99", "99 eur", "£99"])
def test_a_sum_in_another_currency_is_not_taken_for_the_shops(text: str) -> None:
    with pytest.raises(CellError, match="another currency"):
        read_asked(text, "USD")


@pytest.mark.parametrize("text", ["99", "$99", "99 USD", "99 usd"])
def test_a_sum_in_the_shops_currency_is_taken(text: str) -> None:
    assert read_asked(text, "USD") == 99

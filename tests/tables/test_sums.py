"""Sums of money as people write them, in listings and wherever a sum is typed; columns as people call them."""

from __future__ import annotations

import random
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.input.job.keys import SECTIONS
from estimator.input.job.load import job_from
from estimator.model.column import Column
from estimator.price.donor.rank import offer_list
from estimator.tables.cells import CellError
from estimator.tables.load import load_shop
from estimator.tables.schema.shop import TABLES
from estimator.tables.schema.table import TableSpec
from estimator.tables.sums import money_reader, read_asked, read_sum, whole_cents
from estimator.tables.toml.text import TomlFile
from tests.shops import default_shop


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
    shop = default_shop()
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


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("120", "120"),
        ("$120", "120"),
        ("120 USD", "120"),
        ("usd 120", "120"),
        ("US$ 120", "120"),
        ("120 dollars", "120"),
        ("1,200.50", "1200.50"),
        ("1,200", "1200"),
        ("1.200,50", "1200.50"),
        ("99,90", "99.90"),
        ("1 200", "1200"),
        ("120,-", "120"),
        ("0.125", "0.125"),
        ("12.5", "12.5"),
    ],
)
def test_a_sum_is_typed_as_people_write_it(text: str, value: str) -> None:
    assert read_sum(text, "USD") == Decimal(value)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1.250", "two ways"),
        ("$1.250", "two ways"),
        ("120 EUR", "another currency"),
        ("€120", "another currency"),
        ("120 C$", "another currency"),
        ("120 min", "no sum of money"),
        ("1.2k", "no sum of money"),
        ("free", "no sum of money"),
        ("60-80", "text where a number belongs"),
        ("1,20.00", "no price"),
        ("", "text where a number belongs"),
    ],
)
def test_what_is_not_one_certain_sum_is_refused(text: str, told: str) -> None:
    with pytest.raises(CellError) as caught:
        read_sum(text, "USD")
    assert told in caught.value.problem
    assert caught.value.accepted


def test_a_sum_that_reads_two_ways_is_told_both() -> None:
    with pytest.raises(CellError) as caught:
        read_sum("1.250", "USD")
    assert caught.value.accepted == "1250 or 1.25"


def test_a_sign_is_held_against_a_currency_whose_own_sign_is_known() -> None:
    assert read_sum("$120", "CAD") == read_sum("$120", "ARS") == 120
    with pytest.raises(CellError, match="another currency"):
        read_sum("$120", "EUR")
    with pytest.raises(CellError, match="another currency"):
        read_sum("€120", "ARS")


def test_drawn_sums_are_read_alike_by_a_listing_and_at_the_till() -> None:
    drawn = random.Random(21)
    read = 0
    for _ in range(4000):
        cents = drawn.choice([drawn.randrange(2_000), drawn.randrange(100_000_000)])
        whole, part = divmod(cents, 100)
        thousands, decimal = drawn.choice([(",", "."), (".", ","), (" ", ","), ("", "."), ("", ",")])
        text = f"{whole:,}".replace(",", thousands)
        text += f"{decimal}{part:02d}" if part or drawn.random() < 0.5 else ""
        text = drawn.choice([text, f"${text}", f"USD {text}", f"{text} usd"])
        if re.search(r"\b[1-9]\d{0,2}\.\d{3}\b(?![.,])", text):
            with pytest.raises(InputError, match="two ways"):
                whole_cents(text, "sum", "USD")
        else:
            assert whole_cents(text, "sum", "USD") == cents == read_asked(text, "USD") * 100, text
            read += 1
    assert read > 3000


def money_fields() -> list[tuple[str, str]]:
    """Every key of a job file that holds money: section and key."""
    found = [(section.name, c.name) for section in SECTIONS for c in section.columns if c.kind == "money"]
    return [*found, *(("instrument", name) for name, f in default_shop().intake.items() if f.kind == "money")]


@pytest.mark.parametrize(("section", "key"), money_fields())
@pytest.mark.parametrize("text", ["$120.00", "120 USD", "1,200.50", "120 EUR", "1.250"])
def test_every_money_key_of_a_job_file_takes_a_sum_as_people_write_it(
    section: str, key: str, text: str
) -> None:
    kind = "commission" if section == "terms" else "resale"
    beside = {"instrument": {"kind": "guitar-solid"}, "job": {"id": "one", "kind": kind}}
    rows: dict[str, Any] = (
        {"part": [{"id": "mine", "class": "p-jack", key: text}]} if section == "part" else {}
    )
    if not rows:
        rows = {section: beside.get(section, {}) | {key: text}}
    toml = TomlFile("one.toml", beside | rows)
    shop = default_shop()
    if text in ("120 EUR", "1.250"):
        told = "another currency" if "EUR" in text else "two ways"
        with pytest.raises(InputError, match=told):
            job_from(toml, shop)
    else:
        job_from(toml, shop)


MONEY_COLUMNS = [(spec, column) for spec in TABLES for column in spec.columns if column.kind == "money"]


@pytest.mark.parametrize(("spec", "column"), MONEY_COLUMNS, ids=lambda it: it.name)
def test_money_of_own_tables_may_carry_its_currency(spec: TableSpec, column: Column) -> None:
    """Every column of money in every table: what is accepted wherever money is typed is accepted there."""
    reads = money_reader(column, "USD")
    for text, value in (("$12.50", "12.50"), ("12.50 USD", "12.50"), ("12.50", "12.50"), ("$ 20", "20")):
        if column.high is None or Decimal(value) <= column.high:
            assert reads(text) == Decimal(value), (spec.name, text)
    for text, words in (("€12", "another currency"), ("12 zlo", "no sum"), ("-$3", "no sum"), ("-3", "neg")):
        with pytest.raises(CellError, match=words):
            reads(text)


def test_a_shop_writes_its_prices_as_they_stand_on_the_bill(tmp_path: Path) -> None:
    """Own tables and settings with signs, headings with capitals; another currency names file, row and column."""
    (tmp_path / "shop.toml").write_text('charge_per_hour = "$1,070.50"\n[rate_build_up]\ntools = "90 USD"\n')
    (tmp_path / "parts.csv").write_text("ID,Price low,Price,Price high\npot-standard,$6,$6.25,7 USD\n")
    shop = load_shop(tmp_path)
    assert shop.terms.charge_per_hour == Decimal("1070.50")
    assert shop.terms.rate_build_up["tools"] == 90
    assert shop.parts["pot-standard"].price == Decimal("6.25")
    assert run(["own-shop", "--shop", str(tmp_path)]) == 0
    (tmp_path / "shop.toml").write_text('currency = "EUR"\n')
    with pytest.raises(InputError) as refused:
        load_shop(tmp_path)
    assert {(issue.where.row, issue.where.column, issue.found) for issue in refused.value.issues} >= {
        (2, "price", "“$6.25”"),
        (2, "price_low", "“$6”"),
        (2, "price_high", "“7 USD”"),
    }

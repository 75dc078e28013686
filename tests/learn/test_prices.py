"""Prices from what was bought: the last ones, per pack and per piece, taken over so that the table stays in order."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path
from statistics import median

import pytest

from estimator.learn.accept import accept, shop_rows, take_back
from estimator.learn.prices import prices
from estimator.learn.values import Value
from estimator.ledger.stock import BOUGHT, MILLION, Beside, stock_move
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.tables.load import load_shop
from tests.ledger.shop import at, begun
from tests.shops import default_shop

STRINGS = "c-strings-guitar"


@pytest.fixture(scope="module")
def default() -> Shop:
    return default_shop()


def bought(ledger: Ledger, item: str, many: int, cents: int, day: int, currency: str = "USD") -> None:
    stock_move(
        ledger, BOUGHT, item, many * MILLION, at(f"2026-10-{day:02d} 09:00"), Beside(None, cents, currency)
    )


def found(ledger: Ledger, shop: Shop, folder: Path) -> dict[str, Value]:
    return {one.row: one for one in prices(ledger, shop, shop_rows(folder, "parts.csv"))}


def test_the_middle_of_the_last_three_by_the_pack(tmp_path: Path, default: Shop) -> None:
    of = default.consumables[STRINGS]
    assert (of.price, of.units_per_pack) == (70, 10)
    with begun(tmp_path) as ledger:
        for day, cents in enumerate((10000, 7400, 7900, 8000), 1):
            bought(ledger, STRINGS, 10, cents, day)
        bought(ledger, STRINGS, 10, 1000, 9, currency="EUR")  # another money says nothing of this one
        bought(ledger, STRINGS, 10, 0, 9)  # nor does one whose cost was not typed
        one = found(ledger, default, tmp_path)[STRINGS]
        assert (one.before, one.after, one.number, one.proposed) == (70, 79, 3, True)
        assert one.words == "3 last purchases, 7.40 to 8.00 for a set"


def test_a_single_price_far_off_waits_for_a_second(tmp_path: Path, default: Shop) -> None:
    with begun(tmp_path) as ledger:
        bought(ledger, STRINGS, 1, 7000, 1)  # a pack typed as a set
        assert found(ledger, default, tmp_path)[STRINGS].early
        bought(ledger, STRINGS, 1, 7000, 2)
        assert not found(ledger, default, tmp_path)[STRINGS].early


@pytest.mark.slow
def test_taken_over_beside_low_and_high_and_back(tmp_path: Path, default: Shop) -> None:
    rows = shop_rows(tmp_path, "parts.csv")
    part = next(iter(rows.values())).values
    cents = int(part["price_high"] * 100) + 150
    with begun(tmp_path) as ledger:
        bought(ledger, part["id"], 2, 2 * cents, 1)
        bought(ledger, STRINGS, 10, 7700, 1)
        values = tuple(found(ledger, default, tmp_path).values())
        accept(ledger, tmp_path, (), at("2026-10-06 09:00"), values=values)
        shop = load_shop(tmp_path)
        assert shop.parts[part["id"]].price == Decimal(cents) / 100
        assert shop.consumables[STRINGS].price == 77
        assert "measured" in (tmp_path / "parts.csv").read_text()
        cells = shop_rows(tmp_path, "parts.csv")[(part["id"],)].values
        assert cells["price_low"] == part["price_low"]
        assert cells["price_high"] == cells["price"]
        assert not any(one.proposed for one in found(ledger, shop, tmp_path).values())
        take_back(ledger, tmp_path, at("2026-10-07 09:00"))
        assert load_shop(tmp_path).parts[part["id"]].price == part["price"]


@pytest.mark.slow
def test_any_purchases_in_plain_arithmetic(tmp_path: Path, default: Shop) -> None:
    """100 drawn runs of purchases: always the middle of the last three, per pack, to the cent."""
    draw = random.Random(7)
    items = draw.sample(sorted(default.consumables), 25)
    with begun(tmp_path) as ledger, ledger.writing():
        kept: dict[str, list[Decimal]] = {}
        for day in range(1, 5):
            for item in items:
                many, cents = draw.randint(1, 20), draw.randint(1, 20_000)
                bought(ledger, item, many, cents, day)
                kept.setdefault(item, []).append(Decimal(cents) / 100 / many)
                last = median(kept[item][-3:]) * default.consumables[item].units_per_pack
                assert abs(found(ledger, default, tmp_path)[item].after - last) <= Decimal("0.005")

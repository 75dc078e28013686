"""The menu: prices that add up from their pieces, beside what is posted."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from statistics import quantiles

import pytest

from estimator import load_shop
from estimator.core.errors import InputError
from estimator.core.money import cents
from estimator.model import Shop
from estimator.price.client.menu import CORE, MenuRow, band_of, menu_of

CENT = Decimal("0.01")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop()


@pytest.fixture(scope="module")
def menu(shop: Shop) -> tuple[MenuRow, ...]:
    return menu_of(shop)


def test_every_posted_price_is_brought_to_this_year_by_its_factor(shop: Shop) -> None:
    rows = [row for rows in shop.menu.posted.values() for row in rows]
    assert len(rows) > 100
    for row in rows:
        middle = (row.low + row.high) / 2 * row.to_now
        assert row.price_now == middle.quantize(CENT, ROUND_HALF_UP), row.origin


def test_quartiles_are_those_of_the_lists_at_home(shop: Shop) -> None:
    posted = shop.menu.posted["set-up-hardtail"]
    home = [float(row.price_now) for row in posted if row.place == "US"]
    band = band_of(shop, posted)
    assert band is not None
    assert (band.lists, band.taken) == (len(posted), len(home))
    by_hand = [cents(Decimal(str(value))) for value in quantiles(home, method="inclusive")]
    assert (band.low, band.middle, band.high) == tuple(by_hand)


def test_pieces_add_up_to_the_price(menu: tuple[MenuRow, ...]) -> None:
    assert len(menu) > 30
    for row in menu:
        assert sum(value for _, value in row.pieces) == row.price > 0, row.job.id
        assert dict(row.pieces)[CORE] > 0, row.job.id


def test_work_beside_a_set_up_is_never_dearer_than_alone(menu: tuple[MenuRow, ...]) -> None:
    compared = [row for row in menu if row.with_set_up is not None]
    assert len(compared) > 20
    assert all(row.with_set_up is not None and row.with_set_up <= row.price for row in compared)


def test_a_word_that_no_job_has_is_told(shop: Shop) -> None:
    assert [row.job.id for row in menu_of(shop, ("jack",))] == ["jack"]
    with pytest.raises(InputError, match="no job of the menu has this word"):
        menu_of(shop, ("hurdy-gurdy",))


def test_top_names_the_dearest_beside_the_lists(menu: tuple[MenuRow, ...], shop: Shop) -> None:
    ratios = sorted((row.ratio for row in menu if row.ratio is not None), reverse=True)
    assert [row.ratio for row in menu_of(shop, (), 3)] == ratios[:3]

"""The menu: prices that add up from their pieces, beside what is posted."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from statistics import quantiles

import pytest
from msgspec.structs import replace

from estimator.core.errors import InputError
from estimator.core.money import cents
from estimator.model import Shop
from estimator.price.client.menu import CORE, ENOUGH_LISTS, FAULTS, MenuRow, band_of, median_ratio, menu_of
from estimator.tables.methods import by_methods
from tests.shops import default_shop

CENT = Decimal("0.01")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


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


def test_a_partial_refret_is_what_it_adds_to_a_level(menu: tuple[MenuRow, ...], shop: Shop) -> None:
    """By hand: five tasks set up and run once each, the check and the strings being those of the level.

    One fret is lifted cold, hammered in and bevelled with a flat file: no set-up of iron, press or holder pays.
    """
    shop = by_methods(shop, {"pull-frets": "cold", "seat-frets": "hammer", "trim-bevel-ends": "flat-file"})
    row = next(row for row in menu if row.job.id == "partial-refret-one")
    names = ("pull-frets", "clean-fret-slots", "cut-bend-fretwire", "seat-frets", "trim-bevel-ends")
    tasks = [shop.tasks[name] for name in names]
    runs = sum(
        Decimal("0.3") * (t.run_min_low + t.run_min_high) + Decimal("0.4") * t.run_min_likely for t in tasks
    )
    by_hand = sum(t.setup_min for t in tasks) + runs
    assert Decimal(row.minutes) / 100 == pytest.approx(by_hand, rel=Decimal("0.03"))


def test_a_word_that_no_job_has_is_told(shop: Shop) -> None:
    assert [row.job.id for row in menu_of(shop, ("jack",))] == ["jack"]
    with pytest.raises(InputError, match="no job of the menu has this word"):
        menu_of(shop, ("hurdy-gurdy",))


@pytest.mark.slow
def test_top_names_the_dearest_beside_the_lists(menu: tuple[MenuRow, ...], shop: Shop) -> None:
    ratios = sorted((row.ratio for row in menu if row.ratio is not None), reverse=True)
    assert [row.ratio for row in menu_of(shop, (), 3)] == ratios[:3]


def test_the_menu_stands_by_the_posted_prices_or_says_why(menu: tuple[MenuRow, ...]) -> None:
    """At most 1.6 times the middle of the lists in the middle of the jobs; none above 2.5 without a reason."""
    compared = [row for row in menu if row.band is not None and row.band.lists >= ENOUGH_LISTS]
    assert len(compared) >= 20
    middle = median_ratio(menu)
    assert middle is not None
    assert middle <= Decimal("1.6")
    assert [row.job.id for row in menu if row.ratio is not None and row.ratio > Decimal("2.5")] == [
        row.job.id for row in menu if row.job.reason
    ]


@pytest.mark.slow
def test_reasons_and_times_are_not_bent_to_the_lists(shop: Shop, menu: tuple[MenuRow, ...]) -> None:
    """A dearer hour lifts every price, and a job without a reason that then stands too high is seen."""
    dearer = replace(shop, terms=replace(shop.terms, charge_per_hour=2 * shop.terms.charge_per_hour))
    again = {row.job.id: row for row in menu_of(dearer)}
    assert all(again[row.job.id].price >= row.price for row in menu)
    assert any(r.ratio is not None and r.ratio > Decimal("2.5") and not r.job.reason for r in again.values())


def test_hidden_faults_stand_in_the_price_only_where_the_shop_says_so(shop: Shop) -> None:
    held = replace(shop, terms=replace(shop.terms, hidden_faults_quoted="in-price"))
    (now,), (then,) = menu_of(shop, ("set-up-hardtail",)), menu_of(held, ("set-up-hardtail",))
    assert dict(now.pieces)[FAULTS] == 0 < dict(then.pieces)[FAULTS]
    assert now.minutes == then.minutes

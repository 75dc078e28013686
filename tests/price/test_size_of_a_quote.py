"""Round the size of a large quote: the price never falls and never leaps as work is added."""

from __future__ import annotations

import random
from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

import pytest
from msgspec.structs import replace

from estimator.choose.study import Study, study_job
from estimator.estimate.commission import price_of
from estimator.estimate.costing import quoted_minutes
from estimator.input.job.load import load_job
from estimator.model import JobTerms, Money, Shop
from tests.drawn_jobs import EXAMPLES
from tests.shops import default_shop

LARGE = 8 * 6000


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def test_the_minutes_quoted_go_from_the_mean_to_the_surety_without_a_leap() -> None:
    """By hand: 8 h at the mean; 9 h with 100 min of surety: 60 min of it; from 9 h 40 min on all of it."""
    assert quoted_minutes(LARGE - 1, LARGE + 9999, LARGE) == LARGE - 1
    assert quoted_minutes(LARGE, LARGE + 10000, LARGE) == LARGE
    assert quoted_minutes(9 * 6000, 9 * 6000 + 10000, LARGE) == 9 * 6000 + 6000
    assert quoted_minutes(10 * 6000, 10 * 6000 + 10000, LARGE) == 10 * 6000 + 10000
    assert quoted_minutes(100, 180, 0) == 180


@pytest.mark.parametrize("used", [0, 2400, 2500, 2501, 9000])
def test_the_price_of_a_minute_more_is_bounded_on_both_sides_of_the_size(shop: Shop, used: int) -> None:
    """Each minute of the mean: two minutes quoted, as much again of the fee, rounded up to units and cents."""
    terms = shop.terms
    rate = terms.charge_per_hour * 100 / 60
    least_step = 2 * (1 + terms.labour_reserve) * terms.billing_unit_min * rate
    most = 0
    before = None
    for mean in range(LARGE - 6000, LARGE + 3 * 6000, 25):
        minutes = quoted_minutes(mean, round(mean * 1.18), LARGE)
        price = price_of(minutes, Money(consumables=used), terms, JobTerms()).price
        if before is not None:
            assert price >= before
            most = max(most, price - before)
        before = price
    assert 0 < most <= least_step + 2


@pytest.mark.parametrize("minutes", [60, 475, 480, 485, 600])
def test_a_cent_more_used_up_never_costs_more_than_the_fee_it_stands_for(shop: Shop, minutes: int) -> None:
    prices = [
        price_of(minutes * 100, Money(consumables=used), shop.terms, JobTerms()).price
        for used in range(2300, 2700)
    ]
    steps = [after - before for before, after in pairwise(prices)]
    assert min(steps) >= 0
    # a large quote bears at least 4 % of eight hours' labour: 24.00 of the 25.01 that are then due at cost
    assert max(steps) <= (1 if minutes <= 480 else 630)


def chains(study: Study, seed: int) -> Iterator[list[str]]:
    """Sets that grow by one upgrade at a time, in a drawn order."""
    chance = random.Random(seed)
    open_to = [
        v.upgrade.id
        for v in study.verdicts
        if v.outcome != "does-not-fit" and all(row.with_task for row in v.upgrade.needless)
    ]
    for _ in range(4):
        order = chance.sample(open_to, min(14, len(open_to)))
        yield order


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_chains_of_jobs_never_leap_and_never_get_cheaper(shop: Shop, seed: int) -> None:
    """A dearer set by so many minutes, parts and materials costs no more than these ask for, with one rounding."""
    chance = random.Random(seed)
    hours = Decimal(chance.choice((2, 3, 4, 5)))
    small = replace(shop, terms=replace(shop.terms, large_quote_hours=hours))
    job = load_job(EXAMPLES / "tight-commission.toml", small)
    study = study_job(small, replace(job, budget=replace(job.budget, surety=None)))
    rate, terms = small.terms.charge_per_hour * 100 / 60, small.terms
    crossed = 0
    for order in chains(study, seed):
        told = [study.costing.estimate(order[:n]) for n in range(len(order) + 1)]
        for one, more in pairwise(told):
            mean = more.totals.quoted_mean - one.totals.quoted_mean
            enough = more.totals.surety_min - one.totals.surety_min
            assert mean >= 0
            assert enough >= 0
            if one.totals.at_mean or one.totals.between:
                assert enough <= 2 * mean
            crossed += one.totals.at_mean and not more.totals.at_mean
            steps = study.costing.price(one.totals.surety_min, one.totals.money)
            after = study.costing.price(more.totals.surety_min, more.totals.money)
            rest = after.parts - steps.parts + after.more_work - steps.more_work
            used = max(0, more.totals.money.consumables - one.totals.money.consumables)
            unit = terms.billing_unit_min
            hours_ask = (Decimal(enough) / 100 + unit) * rate * (2 + terms.labour_reserve)
            assert after.price >= steps.price - 1 + min(0, rest)
            assert after.price - steps.price <= hours_ask + rest + used
    assert crossed

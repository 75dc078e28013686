"""Laws that any estimate of time must obey, whatever the rates say."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import load_shop
from estimator.estimate.batch import batch_minutes, least_stable_batch, minutes_each, minutes_saved, rhythm
from estimator.estimate.factors import skill_factor
from estimator.estimate.labour import run_line, with_allowance
from estimator.estimate.learning import (
    crawford_unit,
    practised_factor,
    rate_of,
    repeats_to_experienced,
    rust_factor,
    wright_unit,
)
from estimator.estimate.quantiles import gamma_quantile, lognormal_quantile
from estimator.estimate.spread import joint_sd, mean_of, sd_of
from estimator.estimate.wear import kept_units, unit_cost_with_spoilage
from estimator.estimate.work import neutral_setting
from estimator.model import Demand, Shop
from estimator.tables.columns import TASK_GROUPS
from tests.estimate.terms import some_terms


@lru_cache(maxsize=1)
def shop() -> Shop:
    return load_shop()


tasks = st.deferred(lambda: st.sampled_from(sorted(shop().tasks)))
amounts = st.integers(1, 400).map(lambda n: Decimal(n) / 4)
sds = st.lists(st.floats(0, 1e4), min_size=1, max_size=12)


@given(tasks, amounts, amounts)
def test_more_units_never_take_less_time_or_wear(task: str, one: Decimal, other: Decimal) -> None:
    less, more = sorted((one, other))
    setting = neutral_setting(shop())
    small, large = (run_line(shop().tasks[task], Demand(task, "", q, ""), setting) for q in (less, more))
    assert small.minutes <= large.minutes
    assert small.sd <= large.sd
    assert small.rework <= large.rework
    assert small.money.consumables <= large.money.consumables
    assert small.money.tools <= large.money.tools
    assert small.money.cost <= large.money.cost


@given(tasks, amounts)
def test_more_skill_is_never_slower_nor_clumsier(task: str, quantity: Decimal) -> None:
    lines = [
        run_line(
            shop().tasks[task], Demand(task, "", quantity, ""), replace(neutral_setting(shop()), skill=k)
        )
        for k in (1, 2, 3, 4, 5)
    ]
    for lower, higher in pairwise(lines):
        assert higher.minutes <= lower.minutes
        assert higher.rework_odds <= lower.rework_odds
        assert higher.rework <= lower.rework


@given(tasks)
def test_skill_stays_between_beginner_and_specialist(task: str) -> None:
    row = shop().tasks[task]
    factors = [skill_factor(row, k) for k in (1, 2, 3, 4, 5)]
    assert factors[0] == row.beginner_factor
    assert factors[3] == 1
    assert factors == sorted(factors, reverse=True)


@given(sds, st.floats(0, 1))
def test_spread_lies_between_independent_and_in_step(values: list[float], cause: float) -> None:
    joint = joint_sd(values, cause)
    assert joint >= 0
    assert joint_sd(values, 0) <= joint * (1 + 1e-12) + 1e-9
    assert joint <= sum(values) * (1 + 1e-12) + 1e-9
    assert joint >= max(values) * (1 - 1e-12) - 1e-9


@given(st.lists(st.integers(0, 10_000), min_size=3, max_size=3), st.sampled_from(["10-50-90", "pert"]))
def test_mean_lies_between_the_ends_and_spread_is_not_negative(points: list[int], reading: str) -> None:
    low, likely, high = (Decimal(p) for p in sorted(points))
    assert low <= mean_of(low, likely, high, reading) <= high
    assert sd_of(low, high, reading) >= 0
    assert (sd_of(low, high, reading) == 0) == (low == high)


@given(st.integers(0, 100_000), st.integers(0, 90))
def test_allowance_on_the_shift_is_never_less_than_on_the_work(minutes: int, pct: int) -> None:
    work = some_terms_cached(Decimal(pct) / 100, "work")
    shift = some_terms_cached(Decimal(pct) / 100, "shift")
    normal = Decimal(minutes) / 100
    assert with_allowance(normal, shift) >= with_allowance(normal, work) >= normal


@lru_cache(maxsize=256)
def some_terms_cached(allowance: Decimal, on: str):  # type: ignore[no-untyped-def]
    return some_terms(allowance=allowance, allowance_on=on)


# --- batches and learning


@given(st.floats(0.1, 500), st.floats(0, 100), st.floats(0, 0.99), st.integers(1, 200))
def test_a_longer_run_is_cheaper_apiece_and_dearer_in_all(
    setup: float, run: float, share: float, pieces: int
) -> None:
    assert minutes_each(setup, run, pieces + 1, share) < minutes_each(setup, run, pieces, share)
    assert batch_minutes(setup, run, pieces + 1, share) >= batch_minutes(setup, run, pieces, share)
    assert minutes_each(setup, run, pieces, share) >= run
    apart = pieces * batch_minutes(setup, run, 1)
    together = batch_minutes(setup, run, pieces, share)
    assert apart - together == pytest.approx(minutes_saved(setup, pieces, share), abs=1e-6)


def test_batches_of_the_bench() -> None:
    """Sums on paper (memory): 3 necks 152 + 2 x 141; 5 set-ups 71 + 4 x 63 minutes in place of 356."""
    setup = sum(shop().tasks[t].setup_min for t in ("prep-fretwork", "level-frets", "crown-frets"))
    assert batch_minutes(float(setup), 10, 3, 0.4) == pytest.approx(float(setup) * 1.8 + 30)
    with pytest.raises(ValueError, match="no batch keeps up"):
        least_stable_batch(5, 1, 1)
    assert [rhythm(n) for n in (1, 2, 3, 4, 9)] == [1.0, 0.97, 0.95, 0.94, 0.94]


@given(st.floats(0.5, 1.0), st.integers(1, 500))
def test_the_cumulative_average_curve_is_never_above_the_unit_curve(rate: float, n: int) -> None:
    assert wright_unit(100, rate, n) <= crawford_unit(100, rate, n) * (1 + 1e-9)


@given(st.floats(1.0, 3.0), st.floats(0.7, 0.99), st.integers(1, 2000))
def test_practice_never_makes_slower_and_stops_at_experienced_time(
    beginner: float, rate: float, n: int
) -> None:
    now, later = practised_factor(beginner, rate, n), practised_factor(beginner, rate, n + 1)
    assert 1.0 <= later <= now <= beginner
    there = repeats_to_experienced(beginner, rate)
    if n < there * (1 - 1e-9):
        assert now > 1.0
    if n > there * (1 + 1e-9):
        assert now == 1.0


def test_repeats_to_experienced_time() -> None:
    """Worked for 0.88 (memory): factors 1.3, 1.6, 2.0, 2.4, 2.6 take 4, 13, 43, 115, 178 repeats."""
    ours = [repeats_to_experienced(b, 0.88) for b in (1.3, 1.6, 2.0, 2.4, 2.6)]
    assert ours == pytest.approx([4, 13, 43, 115, 178], rel=0.04)
    assert repeats_to_experienced(1.0, 0.88) == 1.0
    assert repeats_to_experienced(2.0, 1.0) == float("inf")


def test_every_task_has_a_learning_rate() -> None:
    rates = shop().craft.learning
    assert sorted(group for row in rates.values() for group in row.groups) == sorted(TASK_GROUPS)
    for task in shop().tasks.values():
        row = rate_of(task, shop())
        assert row is not None
        assert Decimal("0.8") <= row.rate < 1
    assert rate_of(shop().tasks["seat-frets"], shop()) == rates["refret-chain"]
    assert rate_of(shop().tasks["crown-frets"], shop()) == rates["fret-work"]
    stranger = replace(shop().tasks["crown-frets"], id="other", group="other")
    assert rate_of(stranger, shop()) is None


def test_rust_wears_off_in_three_repeats() -> None:
    assert rust_factor(1) == 1.0
    assert rust_factor(3) == pytest.approx(1.10)
    assert rust_factor(14) == pytest.approx(1.25)
    assert [rust_factor(14, n) for n in (1, 2, 3, 4, 5)] == sorted(
        (rust_factor(14, n) for n in (1, 2, 3, 4, 5)), reverse=True
    )
    assert rust_factor(14, 4) == 1.0


# --- points of skewed times


@settings(max_examples=50)
@given(st.floats(1, 1e4), st.floats(0.05, 1.0), st.floats(0.01, 0.98))
def test_points_rise_with_their_probability(mean: float, cv: float, p: float) -> None:
    for quantile in (lognormal_quantile, gamma_quantile):
        assert quantile(mean, cv, p) < quantile(mean, cv, p + 0.01)
        assert quantile(mean, cv, 0.5) <= mean


# --- shelf life


@given(st.integers(1, 400))
def test_what_spoils_on_the_shelf_costs_more_per_unit(tenths: int) -> None:
    use = Decimal(tenths) / 10
    for consumable in shop().consumables.values():
        kept = kept_units(consumable, use)
        assert 0 < kept <= consumable.units_per_pack
        cost = unit_cost_with_spoilage(consumable, use)
        assert cost >= consumable.price / consumable.units_per_pack
        if consumable.shelf_months is None:
            assert kept == consumable.units_per_pack


def test_a_pack_nobody_uses_has_no_unit_cost() -> None:
    keeps = next(c for c in shop().consumables.values() if c.shelf_months is not None)
    with pytest.raises(ValueError, match="no use in a month"):
        unit_cost_with_spoilage(keeps, Decimal(0))


# --- hard metal: both factors


def test_hard_metal_takes_longer_and_wears_more_and_both_show() -> None:
    setting = neutral_setting(shop())
    row = shop().tasks["level-frets"]
    soft, hard = (
        run_line(row, Demand(row.id, "", Decimal(22), "", levels={"FW": metal}), setting)
        for metal in ("nickel-silver", "stainless")
    )
    stainless = shop().metals["stainless"]
    assert hard.factor == soft.factor * stainless.level
    assert hard.minutes > soft.minutes
    abrasive = {use.id: use for use in hard.consumables}["c-abrasive-roll"]
    before = {use.id: use for use in soft.consumables}["c-abrasive-roll"]
    assert abrasive.factor == stainless.abrasive
    assert abrasive.quantity == before.quantity * stainless.abrasive
    crowned = shop().tasks["crown-frets"]
    worn = run_line(crowned, Demand(crowned.id, "", Decimal(22), "", levels={"FW": "stainless"}), setting)
    file = {use.id: use for use in worn.tools}["t-crown-file"]
    assert file.factor == stainless.tool_wear
    assert file.quantity == 22 * stainless.tool_wear

"""Laws that any estimate of time must obey, whatever the rates say."""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.estimate.factors import skill_factor
from estimator.estimate.labour import run_line, with_allowance
from estimator.estimate.three_point import joint_sd, mean_of, sd_of
from estimator.estimate.work_list import neutral_setting
from estimator.model import Demand, Shop
from tests.estimate.terms import some_terms
from tests.shops import default_shop


@lru_cache(maxsize=1)
def shop() -> Shop:
    return default_shop()


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


# --- shelf life


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

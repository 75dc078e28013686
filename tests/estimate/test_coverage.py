"""How many of such jobs stay within the minutes and the cost that a surety promises.

Ten jobs, rework and hidden faults drawn as events: of 100,000 draws of each, 79 to 81 % stay within the
figure at 80, and 94 to 96 % within the one at 95. A draw counts the whole job, so one seed serves all.
Of the cost 93.5 to 96 % at 95: its spread is that of the minutes, and what rework spoils stands at its mean.
"""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import Choice, make_choice, study_job
from estimator.estimate.costing import surety_minutes
from estimator.estimate.risk.look_ahead import fixed_cents, rate_of, surety_rows
from estimator.estimate.risk.moments import closed_form
from estimator.estimate.risk.monte_carlo import draw_minutes
from estimator.estimate.three_point import factor_of, percent_of, z_of
from estimator.estimate.work_list import neutral_setting, price_work
from estimator.input.job.load import load_job
from estimator.model import WorkLine
from tests.estimate.jobs import bass_setting, work
from tests.estimate.risk.curves import closed_form_of_curves, closed_form_of_times
from tests.estimate.test_work_list import BASS, BLOCKS, four_instruments
from tests.shops import default_shop

SHOP = default_shop()
SEED, DRAWS = 20_261_128, 100_000
CAUSE = float(SHOP.terms.shared_cause)
EXAMPLES = ("tight-commission", "short-scale-bass", "resale-flip", "school-guitar")
LISTS = ("four guitars in one run", "worn bass", "a b", "a c", "a b d e", "a b c d e f")


@lru_cache
def best_set(name: str) -> Choice:
    """The best set of an example; what is to be sold goes by parcel, unless ``local`` is said."""
    name, _, way = name.partition(" sold ")
    job = load_job(Path(__file__).parents[2] / "example_jobs" / f"{name}.toml", SHOP)
    if job.kind == "resale":
        job = replace(job, sale=replace(job.sale, way=way or "marketplace"))
    return make_choice(study_job(SHOP, job))


def lines_of(name: str) -> tuple[WorkLine, ...]:
    if name.partition(" sold ")[0] in EXAMPLES:
        return best_set(name).estimate.lines
    setting = neutral_setting(SHOP)
    if name == "four guitars in one run":
        return price_work(setting, four_instruments(SHOP)).lines
    if name == "worn bass":
        return price_work(bass_setting(SHOP), work(BASS)).lines
    demands = [d for b in name.split() for d in work(BLOCKS[b], "" if b in "ab" else b)]
    return price_work(setting, demands).lines


@pytest.mark.slow
@pytest.mark.parametrize("name", [*EXAMPLES, *LISTS])
def test_as_many_jobs_stay_within_the_hours_as_the_surety_says(name: str) -> None:
    lines = lines_of(name)
    drawn, _ = draw_minutes(lines, CAUSE, DRAWS, SEED, events=True)
    closed, times = closed_form(lines, SHOP), closed_form_of_times(lines, SHOP)
    assert drawn.mean() == pytest.approx(closed.mean, rel=0.005)
    assert drawn.std() == pytest.approx(closed.sd, rel=0.02)
    for percent in (80, 95):
        held = surety_minutes(round(closed.mean * 100), closed.sd, z_of(Decimal(percent), SHOP.terms.skew))
        for minutes in (closed.at(percent), held / 100):
            share = 100 * float((drawn <= minutes).mean())
            assert percent - 1 <= share <= percent + 1, (percent, share)
        # the times alone, as of a normal curve, promise too much
        assert 100 * float((drawn <= times.at(percent)).mean()) < percent - 1


@pytest.mark.slow
@pytest.mark.parametrize("name", [*EXAMPLES, "resale-flip sold local", *LISTS])
def test_the_rule_of_three_readings_lies_within_a_per_cent_of_the_curves_drawn(name: str) -> None:
    """0.3 / 0.4 / 0.3 beside the mean of a normal curve split at its median; the draws beside that mean."""
    lines = lines_of(name)
    drawn, _ = draw_minutes(lines, CAUSE, DRAWS, SEED, events=True)
    curves = closed_form_of_curves(lines, SHOP, events=True).mean
    assert drawn.mean() == pytest.approx(curves, rel=0.003)
    assert closed_form(lines, SHOP).mean == pytest.approx(curves, rel=0.01)


@pytest.mark.parametrize("name", EXAMPLES)
def test_as_many_jobs_stay_within_the_cost_as_the_surety_says(name: str) -> None:
    choice = best_set(name)
    costing, estimate = choice.study.costing, choice.estimate
    minutes, material = draw_minutes(estimate.lines, CAUSE, DRAWS, SEED, events=True)
    cost = fixed_cents(estimate.totals.money) + minutes * (rate_of(costing) * 100 / 60) + material * 100
    for row in surety_rows(costing, estimate, (80, 95)):
        share = 100 * float((cost <= row.cost).mean())
        least = row.percent - 1 if row.percent == 80 else 93.5
        assert least <= share <= row.percent + 1, (row.percent, share)


@pytest.mark.parametrize("skew", [0.0, 0.2, 0.5, 1.0, 2.0])
def test_a_factor_and_its_per_cent_are_each_others_reverse(skew: float) -> None:
    factors = [factor_of(percent, skew) for percent in (50, 60, 80, 90, 95, 99, 99.9)]
    assert factors == sorted(factors)
    found = [percent_of(factor, skew) for factor in factors]
    assert found == pytest.approx([50, 60, 80, 90, 95, 99, 99.9])


def test_no_skew_is_the_printed_normal_table() -> None:
    assert [z_of(Decimal(p), Decimal(0)) for p in (50, 80, 90, 95)] == [0.0, 0.84, 1.28, 1.64]


def test_nothing_is_held_below_the_mean() -> None:
    assert factor_of(50, 0.5) < 0
    assert [z_of(Decimal(p), Decimal("0.5")) for p in (50, 80, 90, 95)] == [0.0, 0.82, 1.34, 1.79]
    assert z_of(None, Decimal("0.5")) == 0.0

"""Honesty of estimates: known bias and coverage, too early, the correction of the surety in use."""

from __future__ import annotations

import random
from decimal import Decimal
from math import sqrt
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.learn.accept import accept, take_back
from estimator.learn.honesty import Honesty, honesty, jobs_needed, linear_spread
from estimator.ledger import jobs, timers
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.tables.load import load_shop
from tests.ledger.shop import at, booking, offered
from tests.shops import default_shop

NAMES = ("string-up", "set-action", "level-frets", "solder-joints", "clean-controls")


@pytest.fixture(scope="module")
def default() -> Shop:
    return default_shop()


def filled(path: Path, shop: Shop, many: int, bias: float, cause: float, missing: bool = False) -> Ledger:
    """Jobs whose times have the shop's spread, a bias, and a shared cause of their own."""
    draw = random.Random(11)
    names = [name for name in NAMES if name in shop.tasks]
    ledger = Ledger(path, new=True)
    for number in range(many):
        job = f"job-{number}"
        jobs.book(ledger, booking(job), at("2026-10-05 09:00"))
        jobs.give_quote(ledger, job, offered(seconds=dict.fromkeys(names, 3600)), at("2026-10-05 09:05"))
        jobs.accept(ledger, job, None, None, at("2026-10-05 09:10"))
        common = draw.gauss(0, 1)
        for name in names[: 1 if missing else None]:
            noise = sqrt(cause) * common + sqrt(1 - cause) * draw.gauss(0, 1)
            seconds = 3600 * bias * max(0.1, 1 + linear_spread(shop.tasks[name]) * noise)
            timers.typed(ledger, job, name, round(seconds), at("2026-10-05 12:00"))
        jobs.move(ledger, job, "ready", at("2026-10-05 15:00"))
    return ledger


def report(path: Path, shop: Shop, many: int, bias: float = 1.0, cause: float = 0.2, **more: bool) -> Honesty:
    with filled(path, shop, many, bias, cause, **more) as ledger:
        return honesty(ledger, shop, dict.fromkeys(NAMES, bias))


@pytest.mark.slow
def test_a_known_bias_is_told_and_costs_coverage(tmp_path: Path, default: Shop) -> None:
    found = report(tmp_path / "a.sqlite", default, 80, bias=1.3)
    assert found.whole is not None
    assert found.whole.bias == pytest.approx(1.3, rel=0.08)
    assert not found.whole.early
    share = {(one.percent, one.with_learned): one.within / one.jobs for one in found.coverage}
    assert share[80, False] < 0.6  # quotes a third too low hold far less than they promise
    assert share[80, True] == pytest.approx(0.8, abs=0.12)  # and with the bias out what they promise
    assert share[95, True] > 0.87


def test_few_jobs_are_too_early_to_tell(tmp_path: Path, default: Shop) -> None:
    found = report(tmp_path / "a.sqlite", default, 4)
    assert all(one.early for one in found.coverage)
    assert all(one.early for one in found.tasks)
    assert found.cause is None
    assert found.settings == {}
    assert [jobs_needed(percent) for percent in (80, 95)] == [20, 80]


def test_jobs_without_most_of_their_times_do_not_count(tmp_path: Path, default: Shop) -> None:
    found = report(tmp_path / "a.sqlite", default, 3, missing=True)
    assert found.whole is None
    assert found.incomplete == 3
    assert [one.jobs for one in found.tasks] == [3]


@pytest.mark.slow
def test_the_surety_in_use_is_corrected_by_own_coverage(tmp_path: Path, default: Shop) -> None:
    """Times that share far more than the shop thinks: the correction brings the 80 % point near 80 of 100 jobs."""
    (tmp_path / "shop.toml").write_text("charge_per_hour = 60\n")
    with filled(tmp_path / "a.sqlite", default, 150, 1.0, 0.8) as ledger:
        found = honesty(ledger, default, {})
        assert found.cause is not None
        assert found.cause > found.cause_now + Decimal("0.2")
        accept(ledger, tmp_path, (), at("2026-10-06 09:00"), found.settings)
        mine = load_shop(tmp_path)
        assert mine.terms.shared_cause == found.cause
        assert mine.terms.charge_per_hour == 60
        again = honesty(ledger, mine, {})
        before, after = (one.coverage[0].within / one.coverage[0].jobs for one in (found, again))
        assert abs(after - 0.8) < abs(before - 0.8)
        take_back(ledger, tmp_path, at("2026-10-07 09:00"))
        assert load_shop(tmp_path).terms.shared_cause == default.terms.shared_cause
        # the same with all jobs alike: a shop whose cause is right is left as it is
        right = replace(default, terms=replace(default.terms, shared_cause=Decimal("0.8")))
        assert honesty(ledger, right, {}).cause == pytest.approx(Decimal("0.8"), abs=Decimal("0.12"))

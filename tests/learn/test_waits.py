"""Waits from own cures: the middle one, between the row's own ends and never below the fast one."""

from __future__ import annotations

import random
from datetime import timedelta
from pathlib import Path
from statistics import median

import pytest

from estimator.learn.accept import accept, take_back
from estimator.learn.values import Value
from estimator.learn.waits import waits
from estimator.ledger import timers
from estimator.ledger.clock import Moment
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.tables.load import load_shop
from tests.ledger.shop import accepted, at, begun

NUT = "finish-glue-nut"


@pytest.fixture(scope="module")
def default() -> Shop:
    return load_shop()


def cure(ledger: Ledger, task: str, minutes: int) -> None:
    start = at("2026-10-05 10:00")
    timers.begin(ledger, "blue", task, start, cure=True)
    timers.end(ledger, Moment(start.utc + timedelta(minutes=minutes), start.ahead_min), "blue", task)


def found(ledger: Ledger, shop: Shop) -> Value:
    (one,) = waits(ledger, shop)
    return one


def test_the_middle_cure_between_the_ends(tmp_path: Path, default: Shop) -> None:
    task = default.tasks[NUT]
    assert (task.wait_fast_min, task.wait_usual_min, task.wait_safe_min) == (10, 15, 60)
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for minutes in (30, 40, 25, 900):
            cure(ledger, NUT, minutes)
        assert found(ledger, default).early
        cure(ledger, NUT, 3)  # too soon: no evidence for a shorter wait
        assert found(ledger, default).early
        cure(ledger, NUT, 20)
        one = found(ledger, default)
        assert (one.after, one.number, one.proposed) == (30, 5, True)
        assert one.words == "5 cures, the middle one 30 min; 1 ended before the fast wait of 10 min, left out"
        cure(ledger, "strings-off", 30)  # its row has no wait
        assert found(ledger, default).row == NUT


@pytest.mark.slow
def test_taken_over_and_back(tmp_path: Path, default: Shop) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for _ in range(5):
            cure(ledger, NUT, 1000)
        one = found(ledger, default)
        assert one.after == 60
        assert "held at the safe wait of 60" in one.words
        accept(ledger, tmp_path, (), at("2026-10-06 09:00"), values=(one,))
        shop = load_shop(tmp_path)
        assert shop.tasks[NUT].wait_usual_min == 60
        assert shop.tasks[NUT].run_min_likely == default.tasks[NUT].run_min_likely
        assert not found(ledger, shop).proposed
        take_back(ledger, tmp_path, at("2026-10-07 09:00"))
        assert load_shop(tmp_path).tasks[NUT].wait_usual_min == 15


def test_any_cures_stay_between_the_ends(tmp_path: Path, default: Shop) -> None:
    """60 drawn lots of cures of five tasks: in order fast, usual, safe, and the plain middle one where it lies between."""
    draw = random.Random(2)
    tasks = draw.sample(sorted(t.id for t in default.tasks.values() if t.wait_safe_min > t.wait_fast_min), 5)
    with begun(tmp_path) as ledger, ledger.writing():
        accepted(ledger)
        kept: dict[str, list[int]] = {task: [] for task in tasks}
        for _ in range(12):
            for name in tasks:
                task = default.tasks[name]
                minutes = round(float(task.wait_safe_min) * draw.lognormvariate(-0.5, 1)) + 1
                cure(ledger, name, minutes)
                if minutes >= task.wait_fast_min:
                    kept[name].append(minutes)
            for one in waits(ledger, default):
                task = default.tasks[one.row]
                assert task.wait_fast_min <= one.after <= task.wait_safe_min
                if kept[one.row] and task.wait_fast_min <= median(kept[one.row]) <= task.wait_safe_min:
                    assert abs(float(one.after) - median(kept[one.row])) <= 0.5

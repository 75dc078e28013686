"""Waits from own cures: the middle one, between the row's own ends and never below the fast one."""

from __future__ import annotations

import random
import re
from datetime import timedelta
from decimal import Decimal
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
from tests.shops import default_shop

NUT = "finish-glue-nut"


@pytest.fixture(scope="module")
def default() -> Shop:
    return default_shop()


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


def by_hand(ledger: Ledger, task: str, hour: int) -> None:
    timers.begin(ledger, "blue", task, at(f"2026-10-05 {hour}:00"))
    timers.end(ledger, at(f"2026-10-05 {hour}:10"), "blue", task)


PAINT, FITTED = "shield-cavity-paint", "fit-harness"


def test_a_wait_between_two_tasks_is_told_by_what_the_job_went_on_with(tmp_path: Path, default: Shop) -> None:
    """Cured 500 min before the harness went in: the pair's; what was wiped off meanwhile and other work is not."""
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for _ in range(5):
            cure(ledger, PAINT, 300)
        assert [(one.file, one.row, one.number) for one in waits(ledger, default)] == [
            ("tasks.csv", PAINT, 5)
        ]
        by_hand(ledger, "clean-controls", 11)  # while it cures: not what the job went on with
        by_hand(ledger, FITTED, 20)
        (one,) = waits(ledger, default)
        assert (one.file, one.row, one.column) == ("task_waits.csv", f"{PAINT}={FITTED}=1", "usual_min")
        assert (one.after, one.number, one.proposed) == (300, 5, True)
        assert one.words == "5 cures before fit-harness, the middle one 300 min"


@pytest.mark.slow
def test_a_wait_between_two_tasks_is_taken_over_and_back(tmp_path: Path, default: Shop) -> None:
    def standing(shop: Shop) -> dict[tuple[str, str, int], Decimal]:
        return {(w.before, w.after, w.every): w.usual_min for w in shop.planning.waits}

    old = standing(default)
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for minutes in (250, 400, 500, 450, 480):
            cure(ledger, PAINT, minutes)
        by_hand(ledger, FITTED, 20)
        (one,) = waits(ledger, default)
        accept(ledger, tmp_path, (), at("2026-10-06 09:00"), values=(one,))
        assert standing(load_shop(tmp_path)) == {**old, (PAINT, FITTED, 1): Decimal(450)}
        (again,) = waits(ledger, load_shop(tmp_path))
        assert not again.proposed
        assert again.prior == one.prior
        take_back(ledger, tmp_path, at("2026-10-07 09:00"))
        assert standing(load_shop(tmp_path)) == old


def test_every_cure_counts_once(tmp_path: Path, default: Shop) -> None:
    """40 drawn jobs of cures and work between them: each cure tells of one row at most, a pair's only before its task."""
    draw = random.Random(4)
    rows = [row for row in default.planning.waits if row.safe_min]
    pairs = [(row.before, row.after) for row in rows]
    other = ["clean-controls", "quick-look"]
    for number in range(40):
        path = tmp_path / str(number)
        path.mkdir()
        with begun(path) as ledger:
            accepted(ledger)
            expected: dict[tuple[str, ...], int] = {}
            for day in range(1, 1 + draw.randint(1, 6)):
                before, after = draw.choice(pairs)
                followed = draw.choice([after, after, draw.choice(other)])
                start = at(f"2026-10-{day:02d} 08:00")
                timers.begin(ledger, "blue", before, start, cure=True)
                timers.end(ledger, Moment(start.utc + timedelta(minutes=600), 120), "blue", before)
                timers.begin(ledger, "blue", followed, at(f"2026-10-{day:02d} 19:00"))
                timers.end(ledger, at(f"2026-10-{day:02d} 19:30"), "blue", followed)
                mine = [
                    row for row in default.planning.waits if (row.before, row.after) == (before, followed)
                ]
                pair = len(mine) == 1 and mine[0].every == 1
                key = ("task_waits.csv", before, followed) if pair else ("tasks.csv", before)
                if pair or default.tasks[before].wait_safe_min:
                    expected[key] = expected.get(key, 0) + 1
            told = {}
            for one in waits(ledger, default):
                left_out = int((re.search(r"; (\d+) ended before", one.words) or [0, 0])[1])
                told[(one.file, *one.row.split("=")[:2])] = one.number + left_out
            assert told == expected

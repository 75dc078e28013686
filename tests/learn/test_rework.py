"""Odds of rework: the closed form against a worked example, the ledger's evidence, taking over and back."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from estimator.choose.tools import make_named_or_best
from estimator.cli.common import load_study
from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.learn.accept import accept, take_back, task_bases
from estimator.learn.evidence import evidence
from estimator.learn.rework import posterior, rework, weight_of
from estimator.ledger import jobs, timers
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.tables.load import load_shop
from estimator.workbook.quote_record import quote_record
from tests.ledger.shop import accepted, at, begun, booking, offered
from tests.shops import default_shop


@pytest.fixture(scope="module")
def default() -> Shop:
    return default_shop()


def job(ledger: Ledger, number: int, task: str, wrong: int = 0, chances: int | None = None) -> None:
    """A finished job with one task, which went wrong so often."""
    name, day = f"job-{number}", f"2026-{number // 28 % 12 + 1:02d}-{number % 28 + 1:02d}"
    jobs.book(ledger, booking(name), at(f"{day} 09:00"))
    kept = {} if chances is None else {task: chances}
    jobs.give_quote(ledger, name, offered(seconds={task: 1200}, chances=kept), at(f"{day} 09:05"))
    jobs.accept(ledger, name, None, None, at(f"{day} 09:10"))
    timers.typed(ledger, name, task, 1200, at(f"{day} 12:00"))
    for _ in range(wrong):
        timers.typed(ledger, name, task, 600, at(f"{day} 13:00"), redone=600)
    jobs.move(ledger, name, "ready", at(f"{day} 15:00"))


@pytest.mark.parametrize(
    ("weight", "mean"),
    [(5, 0.446), (10, 0.446), (20, 0.447), (100, 0.450), (200, 0.453)],
)
def test_a_worked_example_of_a_textbook(weight: float, mean: float) -> None:
    """437 girls of 980 births under beta priors about 0.485: a textbook's table of posterior medians (memory)."""
    assert posterior(0.485, weight, 980, 437)[0] == pytest.approx(mean, abs=0.0006)


def test_conjugate_arithmetic_by_hand() -> None:
    """Odds of 8 % weigh 25 chances: beta(2, 23); with 3 of 25 gone wrong beta(5, 45): mean 0.1, sd sqrt(0.09 / 51)."""
    assert weight_of(0.08) == 25
    mean, spread = posterior(0.08, 25, 25, 3)
    assert mean == pytest.approx(0.1)
    assert spread == pytest.approx((0.09 / 51) ** 0.5)
    assert weight_of(0) == weight_of(0.5) == 20


def test_minutes_done_again_are_no_time_of_the_task(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger, seconds={"string-up": 1200})
        timers.begin(ledger, "blue", "string-up", at("2026-10-05 10:00"))
        timers.end(ledger, at("2026-10-05 10:40"), redone=900)
        rows = timers.times_of(ledger, "blue")
        assert [(row.seconds, row.redone) for row in rows] == [(1500, 0), (900, 1)]
        timers.correct(ledger, rows[1].id, 600, at("2026-10-05 11:00"))
        assert timers.times_of(ledger, "blue")[-1].redone == 1
        # it was worked all the same
        assert timers.planned_and_taken(ledger, "blue", "string-up").taken_s == 2100
        jobs.move(ledger, "blue", "ready", at("2026-10-05 15:00"))
        assert [row["taken_s"] for row in evidence(ledger)] == [1500]


def test_what_cannot_be_done_again_is_refused(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger, seconds={"string-up": 1200})
        with pytest.raises(InputError, match="more was done again"):
            timers.typed(ledger, "blue", "string-up", 600, at("2026-10-05 12:00"), redone=601)
        timers.begin(ledger, "blue", "glue", at("2026-10-05 10:00"), cure=True)
        with pytest.raises(InputError, match="a cure does nothing again"):
            timers.end(ledger, at("2026-10-05 12:00"), "blue", "glue", redone=60)
        assert [row.kind for row in timers.running(ledger, at("2026-10-05 12:00"))] == ["cure"]
        assert timers.times_of(ledger, "blue") == []


@pytest.mark.slow
def test_odds_from_what_went_wrong(tmp_path: Path, default: Shop) -> None:
    """Own odds by hand; chances as the quote kept them, one for an older quote; nothing before the first event."""
    task = default.tasks["bench-inspection"]
    assert task.rework_pct == 8
    with begun(tmp_path) as ledger:
        for number in range(6):
            job(ledger, number, task.id)
        assert rework(ledger, default) == ()  # nobody ever said that anything went wrong
        for number in range(6, 26):
            job(ledger, number, task.id, wrong=number in (6, 9, 12, 15), chances=150 if number % 2 else None)
        (found,) = rework(ledger, default)
        # (0.08 x 25 + 4) / (25 + 10 + 10 x 1.5)
        assert found.after == 12
        assert found.number == 25
        assert found.proposed


def test_units_of_an_old_quote_are_not_known(tmp_path: Path, default: Shop) -> None:
    task = next(one for one in default.tasks.values() if one.driver == "hole" and one.rework_pct)
    with begun(tmp_path) as ledger:
        job(ledger, 0, task.id, wrong=1)
        assert rework(ledger, default) == ()
        job(ledger, 1, task.id, wrong=1, chances=800)
        (found,) = rework(ledger, default)
        assert found.number == 8
        assert found.early


def test_struck_out_times_tell_of_nothing(tmp_path: Path, default: Shop) -> None:
    with begun(tmp_path) as ledger:
        job(ledger, 0, "bench-inspection", wrong=1)
        wrong = timers.times_of(ledger, "job-0")[-1]
        timers.correct(ledger, wrong.id, 0, at("2026-10-05 11:00"))
        assert rework(ledger, default) == ()


@pytest.mark.slow
def test_odds_taken_over_and_back_and_not_learned_twice(tmp_path: Path) -> None:
    old = b"id,setup_min\nbench-inspection,2\n"
    (tmp_path / "tasks.csv").write_bytes(old)
    with begun(tmp_path) as ledger:
        for number in range(25):
            job(ledger, number, "bench-inspection", wrong=number % 5 == 0)
        found = rework(ledger, load_shop(tmp_path))
        assert [one.after for one in found] == [14]  # (2 + 5) / 50
        accept(ledger, tmp_path, (), at("2026-10-06 09:00"), values=found)
        shop = load_shop(tmp_path)
        task = shop.tasks["bench-inspection"]
        assert (task.rework_pct, task.setup_min) == (14, 2)
        assert task_bases(tmp_path)["bench-inspection"] == "measured"
        assert "5 gone wrong of 25 chances" in (tmp_path / "tasks.csv").read_text()
        again = rework(ledger, shop)
        assert [(one.prior, one.after, one.proposed) for one in again] == [(8, 14, False)]
        assert take_back(ledger, tmp_path, at("2026-10-07 09:00"))[1] == 1
        assert (tmp_path / "tasks.csv").read_bytes() == old
        assert [one.prior for one in rework(ledger, load_shop(tmp_path))] == [8]


@pytest.mark.slow
def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "tasks.csv").write_text("id,setup_min\nquick-look,2\n")
    with begun(tmp_path) as ledger:
        for number in range(25):
            job(ledger, number, "bench-inspection", wrong=number % 5 == 0)
        accepted(ledger, seconds={"bench-inspection": 1200})
    shop = ["--shop", str(tmp_path)]
    minutes = ["ledger", "time", "blue", "bench-inspection", "30", *shop, "--now", "2026-10-05 12:00"]
    assert run([*minutes, "--redone", "40"]) == 2
    assert "more was done again" in capsys.readouterr().err
    assert run([*minutes, "--redone", "10"]) == 0
    assert run(["ledger", "time", "blue", *shop]) == 0
    assert "done again" in capsys.readouterr().out
    assert run(["learn", *shop, "--only", "rewrk", "--accept"]) == 2
    assert "rework" in capsys.readouterr().err
    assert run(["learn", *shop, "--json"]) == 0
    (value,) = json.loads(capsys.readouterr().out)["values"]
    assert (value["before"], value["after"], value["proposed"]) == ("8", "14", True)
    assert run(["learn", *shop, "--only", "rework", "--accept", "--now", "2026-10-06 09:00"]) == 0
    assert "1 of rework" in capsys.readouterr().out
    assert load_shop(tmp_path).tasks["bench-inspection"].rework_pct == 14
    assert run(["learn", *shop, "--take-back", "--now", "2026-10-07 09:00"]) == 0
    assert load_shop(tmp_path).tasks["bench-inspection"].rework_pct == 8


def test_known_odds_are_recovered_better_than_by_either_alone() -> None:
    """200 tasks whose own odds lie about the handbook's: less error than the handbook, or than own shares alone."""
    draw = random.Random(5)
    for chances in (10, 50, 200):
        errors = {"learned": 0.0, "handbook": 0.0, "own": 0.0}
        for _ in range(200):
            book = draw.choice((0.03, 0.05, 0.08, 0.12))
            truth = draw.betavariate(book * weight_of(book), (1 - book) * weight_of(book))
            wrong = sum(draw.random() < truth for _ in range(chances))
            for name, odds in (
                ("learned", posterior(book, weight_of(book), chances, wrong)[0]),
                ("handbook", book),
                ("own", wrong / chances),
            ):
                errors[name] += (odds - truth) ** 2
        assert errors["learned"] < errors["handbook"]
        assert errors["learned"] < errors["own"]


@pytest.mark.slow
def test_a_quote_keeps_its_chances(default: Shop) -> None:
    """Of every task, chances at the table's odds: what they come to is the quote's own expectation of rework."""
    choice = make_named_or_best(load_study("example:tight-commission", None), ())
    kept = quote_record(choice).chances
    assert kept
    for task in {line.task for line in choice.estimate.lines}:
        lines = [line for line in choice.estimate.lines if line.task == task]
        expected = sum(float(line.rework_odds) * line.rework_trials for line in lines)
        pct = float(default.tasks[task].rework_pct)
        if pct:
            assert kept[task] / 100 * pct / 100 == pytest.approx(expected, abs=pct / 10_000)
        else:
            assert kept[task] == 100 * sum(line.rework_trials for line in lines)

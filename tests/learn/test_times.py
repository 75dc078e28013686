"""Task times from the ledger: evidence, acceptance into the shop's folder, taking back."""

from __future__ import annotations

import json
import random
import time
import tracemalloc
from math import exp
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.learn.accept import accept, take_back, task_bases
from estimator.learn.evidence import evidence, works_of
from estimator.learn.times import lesson
from estimator.ledger import jobs, timers
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.tables.load import load_shop
from tests.ledger.shop import at, booking, offered
from tests.shops import default_shop

SLOW = {"string-up": 1.5, "set-action": 1.4, "level-frets": 0.8}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "tasks.csv").write_text("id,setup_min\nquick-look,2\n")
    return mine


def fill(ledger: Ledger, many: int, seed: int = 1, first: int = 0, day: str = "2026-10-05") -> None:
    """Finished jobs in which three tasks take other times than quoted."""
    draw = random.Random(seed)
    for number in range(first, first + many):
        job = f"job-{number}"
        jobs.book(ledger, booking(job), at(f"{day} 09:00"))
        jobs.give_quote(ledger, job, offered(seconds=dict.fromkeys(SLOW, 1200)), at(f"{day} 09:05"))
        jobs.accept(ledger, job, None, None, at(f"{day} 09:10"))
        for name, factor in SLOW.items():
            seconds = round(1200 * factor * exp(draw.gauss(0, 0.15) - 0.15**2 / 2))
            timers.typed(ledger, job, name, seconds, at(f"{day} 12:00"))
        jobs.move(ledger, job, "ready", at(f"{day} 15:00"))


@pytest.mark.slow
def test_learned_accepted_and_taken_back(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 25)
    old = (folder / "tasks.csv").read_bytes()
    shop = ["--shop", str(folder)]
    assert run(["learn", *shop, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    factors = {row["task"]: row["factor"] for row in told["tasks"]}
    for name, factor in SLOW.items():
        assert factors[name] == pytest.approx(factor, rel=0.1)
    assert len(told["quotes"]) == 10
    assert (folder / "tasks.csv").read_bytes() == old  # shown only
    assert run(["learn", *shop, "--accept", "--now", "2026-10-06 09:00"]) == 0
    assert "--take-back" in capsys.readouterr().out
    mine, before = load_shop(folder), default_shop()
    assert float(mine.tasks["string-up"].run_min_likely / before.tasks["string-up"].run_min_likely) == (
        pytest.approx(factors["string-up"], rel=0.01)
    )
    assert mine.tasks["quick-look"].setup_min == 2
    assert task_bases(folder)["string-up"] == "measured"
    # what is learned stands in the times now: the same log says the same, so nothing is left to change
    assert run(["learn", *shop, "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert {row["task"]: row["factor"] for row in again["tasks"]} == pytest.approx(factors, rel=0.002)
    assert not any(row["proposed"] for row in again["tasks"])
    assert run(["learn", *shop, "--take-back", "--now", "2026-10-07 09:00"]) == 0
    assert (folder / "tasks.csv").read_bytes() == old
    assert run(["learn", *shop, "--take-back"]) == 2


@pytest.fixture(scope="module")
def default() -> Shop:
    return default_shop()


@pytest.mark.slow
def test_quotes_with_learned_times_are_not_learned_twice(folder: Path, default: Shop) -> None:
    """After taking over, quotes reckon 1.5 of the handbook: a ratio of 1 then says 1.5 of the handbook still."""
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 12)
        found = lesson(ledger, default, {})
        accept(ledger, folder, found.to_accept, at("2026-10-06 09:00"))
        before = {one.task: one.level.factor for one in found.tasks}
        for number in range(100, 112):
            job = f"job-{number}"
            jobs.book(ledger, booking(job), at("2026-10-07 09:00"))
            planned = {name: round(1200 * before[name]) for name in SLOW}
            jobs.give_quote(ledger, job, offered(seconds=planned), at("2026-10-07 09:05"))
            jobs.accept(ledger, job, None, None, at("2026-10-07 09:10"))
            for name, factor in SLOW.items():
                timers.typed(ledger, job, name, round(1200 * factor), at("2026-10-07 12:00"))
            jobs.move(ledger, job, "ready", at("2026-10-07 15:00"))
        after = {one.task: one.level.factor for one in lesson(ledger, default, {}).tasks}
        for name, factor in SLOW.items():
            assert after[name] == pytest.approx(factor, rel=0.1)


@pytest.mark.slow
def test_a_way_has_times_of_its_own(folder: Path, default: Shop) -> None:
    """Jobs by burr say what the burr takes; the router, which nobody used, follows its group alone."""
    task, burr = "enlarge-tremolo-cavity", "enlarge-tremolo-cavity=burr"
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        for number in range(20):
            job = f"job-{number}"
            ways = {task: "burr"} if number % 2 else {}
            jobs.book(ledger, booking(job), at("2026-10-05 09:00"))
            jobs.give_quote(ledger, job, offered(seconds={task: 1200}, ways=ways), at("2026-10-05 09:05"))
            jobs.accept(ledger, job, None, None, at("2026-10-05 09:10"))
            timers.typed(ledger, job, task, 1800 if ways else 1200, at("2026-10-05 12:00"))
            jobs.move(ledger, job, "ready", at("2026-10-05 15:00"))
        found = lesson(ledger, default, task_bases(folder))
        levels = {one.task: one.level for one in found.tasks}
        assert (levels[task].jobs, levels[burr].jobs) == (10, 10)
        assert levels[burr].factor > 1.3
        assert levels[task].factor < 1.15
        (quote,) = [one for one in found.quotes if one.job == "job-19"]
        assert quote.after == pytest.approx(20 * levels[burr].factor)
        accept(ledger, folder, found.to_accept, at("2026-10-06 09:00"))
        again = lesson(ledger, load_shop(folder), task_bases(folder))
        assert again.to_accept == ()
    mine, theirs = works_of(load_shop(folder)), works_of(default)
    assert float(mine[burr].run_min_likely / theirs[burr].run_min_likely) == pytest.approx(
        levels[burr].factor, rel=0.01
    )
    assert float(mine[task].run_min_likely / theirs[task].run_min_likely) < 1.15
    assert task_bases(folder)[burr] == "measured"


@pytest.mark.slow
def test_a_table_changed_since_is_not_put_back(folder: Path, default: Shop) -> None:
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 12)
        accept(ledger, folder, lesson(ledger, default, {}).to_accept, at("2026-10-06 09:00"))
        with (folder / "tasks.csv").open("a") as file:
            file.write("quick-look,,,,,,\n")
        with pytest.raises(InputError, match="changed since"):
            take_back(ledger, folder, at("2026-10-07 09:00"))
        assert ledger.row("SELECT 1 FROM learned WHERE taken_back_at IS NOT NULL") is None


def test_a_few_jobs_are_too_early(folder: Path, default: Shop) -> None:
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 2)
        found = lesson(ledger, default, {})
        assert found.to_accept == ()
        assert all(one.early for one in found.tasks if one.level.jobs)
        with pytest.raises(InputError, match="nothing to take over"):
            accept(ledger, folder, found.to_accept, at("2026-10-06 09:00"))


def test_what_came_after_a_return_is_no_time_of_the_task(tmp_path: Path) -> None:
    with Ledger(tmp_path / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 1)
        for state, day in (("collected", 16), ("paid", 17), ("returned", 20)):
            if ledger.row("SELECT 1 FROM job WHERE state = 'paid'") and state == "paid":
                continue
            jobs.move(ledger, "job-0", state, at(f"2026-10-{day} 09:00")) if state != "paid" else jobs.pay(
                ledger, "job-0", "payment", 20000, at("2026-10-17 09:00")
            )
        first = {row["task"]: row["taken_s"] for row in evidence(ledger)}
        timers.typed(ledger, "job-0", "string-up", 4000, at("2026-10-21 09:00"))
        jobs.move(ledger, "job-0", "ready", at("2026-10-22 09:00"))
        assert {row["task"]: row["taken_s"] for row in evidence(ledger)} == first


@pytest.mark.slow
def test_ten_years_of_logs(tmp_path: Path, default: Shop) -> None:
    """5,000 jobs and 150,000 lines: seconds and megabytes of learning."""
    names = list(default.tasks)[:20]
    path = tmp_path / "ledger.sqlite"
    draw = random.Random(3)
    with Ledger(path, new=True) as ledger, ledger.writing():
        ledger.write("INSERT INTO customer (name) VALUES ('c')")
        for n in range(5000):
            moment = f"{2016 + n // 500}-{n % 12 + 1:02d}-05T08:00:00Z"
            ledger.write(
                "INSERT INTO job (id, customer, kind, what, instrument, currency, state)"
                " VALUES (?, 1, 'commission', 'x', 'guitar', 'USD', 'paid')",
                (f"j{n}",),
            )
            ledger.write(
                "INSERT INTO quote VALUES (?, ?, ?, 60, 20000, 0, 20000, 4000, 'USD', '[]')",
                (f"q{n}", f"j{n}", moment),
            )
            ledger.write("UPDATE job SET accepted_quote = ? WHERE id = ?", (f"q{n}", f"j{n}"))
            for name in names:
                ledger.write("INSERT INTO quote_task VALUES (?, ?, 1200)", (f"q{n}", name))
        for n in range(150_000):
            ledger.write(
                "INSERT INTO spell (job, task, kind, seconds, source, at, ahead_min)"
                " VALUES (?, ?, 'hands', ?, 'timer', '2026-10-05T08:00:00Z', 60)",
                (f"j{n % 5000}", names[n // 5000 % 20], draw.randrange(300, 2400)),
            )
    with Ledger(path) as ledger:
        start = time.process_time()
        found = lesson(ledger, default, {})
        took = time.process_time() - start
        tracemalloc.start()
        lesson(ledger, default, {})
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
    print(f"learning over {found.jobs} jobs, {found.times} times: {took:.1f} s, {peak:.0f} MB")
    assert found.times == 100_000
    assert took < 20
    assert peak < 250

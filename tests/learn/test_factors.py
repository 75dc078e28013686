"""Difficulty factors from the ledger: a known truth recovered, nothing made of noise, taking over and back."""

from __future__ import annotations

import random
from decimal import Decimal
from math import exp, fsum, log
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.tools import make_named_or_best
from estimator.cli.common import load_study
from estimator.cli.main import run
from estimator.learn.accept import accept, take_back, task_bases
from estimator.learn.every_value import PARTS
from estimator.learn.factors import FactorLesson, factors
from estimator.learn.proposal import Proposal, taught_by
from estimator.learn.times import lesson
from estimator.ledger import jobs, timers
from estimator.ledger.jobs import QuotedFactor
from estimator.ledger.store import Ledger
from estimator.model import Shop
from estimator.report.record import as_data
from estimator.report.records.learn import LessonTold
from estimator.report.text.learn import show_lesson
from estimator.tables.load import load_shop
from estimator.workbook.quote_record import quote_record
from tests.ledger.shop import at, booking, offered
from tests.shops import default_shop

TASK, SECONDS, RUN = "level-frets", 3000, 2400
SPREAD_OF_ONE = 0.4
"""About the handbook's spread of one job of the task."""
HARD, SOFT = ("metals.csv", "stainless", "level"), ("metals.csv", "nickel-silver", "level")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def fill(
    ledger: Ledger, many: int, true: float, at_task: float = 1.0, seed: int = 1, spread: float = 0.2
) -> None:
    """As many jobs with soft wire and with hard wire; what the hard one takes more than the table, on the run."""
    draw = random.Random(seed)
    with ledger.writing():  # as one: else each step of each job waits for the disk
        for number in range(2 * many):
            mean = (SECONDS - RUN + RUN * (true if number % 2 else 1.0)) * at_task
            took = round(mean * exp(draw.gauss(0, spread) - spread**2 / 2))
            add(ledger, f"job-{number}", bool(number % 2), took)


def add(ledger: Ledger, name: str, hard: bool, took: int, stands: float = 1.45, day: str = "05") -> None:
    """A finished job; ``stands``: the factor of hard wire in the table when it was quoted."""
    run = round(RUN * stands / 1.45) if hard else RUN
    cell, value = (HARD, round(stands * 1_000_000)) if hard else (SOFT, 1_000_000)
    one, seconds = QuotedFactor(TASK, *cell, run, value), {TASK: SECONDS - RUN + run}
    jobs.book(ledger, booking(name), at(f"2026-10-{day} 09:00"))
    jobs.give_quote(ledger, name, offered(seconds=seconds, factors=(one,)), at(f"2026-10-{day} 09:05"))
    jobs.accept(ledger, name, None, None, at(f"2026-10-{day} 09:10"))
    timers.typed(ledger, name, TASK, took, at(f"2026-10-{day} 12:00"))
    jobs.move(ledger, name, "ready", at(f"2026-10-{day} 15:00"))


def learned(found: FactorLesson) -> float:
    (one,) = [value for value in found.values if value.row == HARD[1]]
    return float(one.after / one.prior)


def test_a_hard_wire_is_told_from_a_slow_shop(tmp_path: Path, shop: Shop) -> None:
    """Everything takes 1.3 of the handbook, and the run on hard wire 1.5 of that."""
    with Ledger(tmp_path / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 60, true=1.5, at_task=1.3)
        found = lesson(ledger, shop, {})
        (task,) = [one for one in found.tasks if one.task == TASK]
        assert task.level.factor == pytest.approx(1.3, rel=0.08)
        assert learned(found.factors) == pytest.approx(1.5, rel=0.12)
        (value,) = [one for one in found.factors.values if one.proposed]
        assert (value.file, value.row, value.column) == HARD
        assert "60 jobs with it, 60 with another" in value.words


@pytest.mark.slow
def test_it_is_nearer_to_the_truth_than_the_table_and_than_the_plain_average(
    tmp_path: Path, shop: Shop
) -> None:
    """40 hidden factors about the table's at 6 and 20 jobs a side; of 40 that are the table's few are moved."""
    for many in (6, 20):
        draw, errors, wrong = random.Random(many), {"learned": 0.0, "table": 0.0, "plain": 0.0}, 0
        for seed in range(40):
            true = exp(draw.gauss(0, 0.2))
            with Ledger(tmp_path / f"{many}-{seed}.sqlite", new=True) as ledger:
                fill(ledger, many, true, seed=seed, spread=SPREAD_OF_ONE)
                plain = _plain(ledger)
                errors["learned"] += log(learned(factors(ledger, shop)) / true) ** 2
                errors["plain"] += log(plain / true) ** 2
                errors["table"] += log(1 / true) ** 2
            with Ledger(tmp_path / f"none-{many}-{seed}.sqlite", new=True) as ledger:
                fill(ledger, many, 1.0, seed=100 + seed, spread=SPREAD_OF_ONE)
                wrong += any(one.proposed for one in factors(ledger, shop).values)
        print(many, {name: (total / 40) ** 0.5 for name, total in errors.items()}, wrong)
        assert errors["learned"] < errors["plain"]
        assert errors["learned"] < errors["table"]
        assert wrong <= 4


def _plain(ledger: Ledger) -> float:
    """The plain ratio of the mean times on either wire."""
    rows = ledger.rows("SELECT job, seconds FROM time_taken")
    sides = [[row["seconds"] for row in rows if int(row["job"][4:]) % 2 == side] for side in (0, 1)]
    return (fsum(sides[1]) / len(sides[1])) / (fsum(sides[0]) / len(sides[0]))


def test_taken_over_once_and_taken_back(tmp_path: Path, shop: Shop) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 40, true=1.5)
        found = factors(ledger, shop)
        taken = [one for one in found.values if one.proposed]
        accept(ledger, folder, (), at("2026-10-06 09:00"), None, taken)
        mine = load_shop(folder)
        assert mine.metals["stainless"].level == taken[0].after
        assert mine.metals["stainless"].crown == shop.metals["stainless"].crown
        again = factors(ledger, mine)
        assert learned(again) == pytest.approx(learned(found))
        assert not any(one.proposed for one in again.values)
        assert lesson(ledger, mine, task_bases(folder)).to_accept == lesson(ledger, shop, {}).to_accept
        take_back(ledger, folder, at("2026-10-07 09:00"))
    assert load_shop(folder).metals["stainless"] == shop.metals["stainless"]


@pytest.mark.slow
def test_a_level_that_was_learned_has_most_jobs_later(tmp_path: Path, shop: Shop) -> None:
    """What lies between two wires is not put on the one after it was put on the other."""
    folder = tmp_path / "mine"
    folder.mkdir()
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 20, true=1.5)
        accept(
            ledger,
            folder,
            (),
            at("2026-10-06 09:00"),
            None,
            [one for one in factors(ledger, shop).values if one.proposed],
        )
        first = load_shop(folder).metals["stainless"].level
        draw = random.Random(2)
        for number in range(40):
            took = round((SECONDS - RUN + RUN * 1.5) * exp(draw.gauss(0, 0.2) - 0.02))
            add(ledger, f"later-{number}", True, took, float(first), "07")
        again = [one for one in factors(ledger, load_shop(folder)).values if one.proposed]
        if again:
            accept(ledger, folder, (), at("2026-10-08 09:00"), None, again)
    metals = load_shop(folder).metals
    assert metals["nickel-silver"].level == shop.metals["nickel-silver"].level
    assert float(metals["stainless"].level) == pytest.approx(1.45 * 1.5, rel=0.12)


@pytest.mark.slow
def test_both_levels_learned_earlier_are_held_against_what_stands(tmp_path: Path, shop: Shop) -> None:
    """Where a table holds a difference twice, the level with most jobs stays and the other goes back."""
    folder = tmp_path / "mine"
    folder.mkdir()
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 20, true=1.5)
        (hard,) = [one for one in factors(ledger, shop).values if one.proposed]
        twice = replace(hard, row=SOFT[1], prior=Decimal(1), before=Decimal(1), after=Decimal("0.7"))
        accept(ledger, folder, (), at("2026-10-06 09:00"), None, [hard, twice])
        again = [one for one in factors(ledger, load_shop(folder)).values if one.proposed]
        accept(ledger, folder, (), at("2026-10-08 09:00"), None, again)
        metals = load_shop(folder).metals
        assert float(metals["stainless"].level / metals["nickel-silver"].level) == pytest.approx(
            1.45 * 1.5, rel=0.12
        )
        assert not any(one.proposed for one in factors(ledger, load_shop(folder)).values)


@pytest.mark.slow
def test_a_factor_taken_over_from_chance_goes_back(tmp_path: Path, shop: Shop) -> None:
    """Many jobs later say that the wire is as the table has it: what was learned of a few does not stay."""
    folder = tmp_path / "mine"
    folder.mkdir()
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 8, true=2.0)
        (one,) = [one for one in factors(ledger, shop).values if one.proposed]
        accept(ledger, folder, (), at("2026-10-06 09:00"), None, [one])
        draw = random.Random(2)
        for number in range(120):
            hard = bool(number % 2)
            # so that the first and the later ones come to the table's factor together
            took = round((SECONDS if not hard else SECONDS * 0.94) * exp(draw.gauss(0, 0.2) - 0.02))
            add(ledger, f"later-{number}", hard, took, float(one.after), "07")
        (back,) = factors(ledger, load_shop(folder)).values
        assert back.proposed
        assert float(back.after) == pytest.approx(1.45, rel=0.06)


@pytest.mark.slow
@pytest.mark.parametrize(("stands", "becomes"), [("0.10", "0.12"), ("15", "18")])
def test_a_small_or_large_factor_of_the_shop_moves_by_what_was_learned(
    tmp_path: Path, shop: Shop, stands: str, becomes: str
) -> None:
    """It is held to what the tables take, and to nothing narrower that would move it the other way."""
    metal = replace(shop.metals["stainless"], level=Decimal(stands))
    mine = replace(shop, metals={**shop.metals, "stainless": metal})
    with Ledger(tmp_path / "ledger.sqlite", new=True) as ledger:
        draw = random.Random(1)
        for number in range(40):
            hard = bool(number % 2)
            one = QuotedFactor(
                TASK, *(HARD if hard else SOFT), SECONDS, round(float(stands) * 1e6) if hard else 1_000_000
            )
            jobs.book(ledger, booking(f"job-{number}"), at("2026-10-05 09:00"))
            jobs.give_quote(
                ledger,
                f"job-{number}",
                offered(seconds={TASK: SECONDS}, factors=(one,)),
                at("2026-10-05 09:05"),
            )
            jobs.accept(ledger, f"job-{number}", None, None, at("2026-10-05 09:10"))
            took = round(SECONDS * (1.2 if hard else 1) * exp(draw.gauss(0, 0.05)))
            timers.typed(ledger, f"job-{number}", TASK, took, at("2026-10-05 12:00"))
            jobs.move(ledger, f"job-{number}", "ready", at("2026-10-05 15:00"))
        (value,) = factors(ledger, mine).values
    assert value.proposed
    assert float(value.after) == pytest.approx(float(becomes), rel=0.05)


def test_a_level_alone_says_nothing(tmp_path: Path, shop: Shop) -> None:
    """Where all jobs were on hard wire nobody can tell the wire from the bench."""
    with Ledger(tmp_path / "ledger.sqlite", new=True) as ledger:
        for number in range(12):
            name = f"job-{number}"
            one = QuotedFactor(TASK, *HARD, RUN, 1_450_000)
            jobs.book(ledger, booking(name), at("2026-10-05 09:00"))
            jobs.give_quote(
                ledger, name, offered(seconds={TASK: SECONDS}, factors=(one,)), at("2026-10-05 09:05")
            )
            jobs.accept(ledger, name, None, None, at("2026-10-05 09:10"))
            timers.typed(ledger, name, TASK, 2 * SECONDS, at("2026-10-05 12:00"))
            jobs.move(ledger, name, "ready", at("2026-10-05 15:00"))
        assert factors(ledger, shop).values == ()


def test_a_quote_holds_the_factors_of_its_work(tmp_path: Path) -> None:
    """Each cell with the seconds that it multiplies, never more than the task takes."""
    study = load_study("example:tight-commission", None)
    choice = make_named_or_best(study, ["set-up", "shield-paint"])
    record = quote_record(choice)
    assert {("set-tremolo", "factors.csv", "BT=six-screw-trem", "factor", 1_150_000)} <= {
        (one.task, one.file, one.row, one.column, one.millionths) for one in record.factors
    }
    for one in record.factors:
        assert 0 < one.seconds <= record.seconds[one.task]


@pytest.mark.parametrize("seed", range(4))
def test_times_alone_hold_what_the_factors_would_explain(tmp_path: Path, shop: Shop, seed: int) -> None:
    """The hard wire takes 1.6 of its table: whichever parts are taken over, the whole of the jobs is as it was done.

    Taken over with the factors the times come down by what these go up; without them they must not.
    """
    folder = tmp_path / "mine"
    folder.mkdir()
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 40, true=1.6, at_task=1.2, seed=seed)
        done = sum(row["seconds"] for row in ledger.rows("SELECT seconds FROM time_taken"))
        asked = {"both": PARTS, "times": ("times",), "times and prices": ("times", "prices")}
        whole, tasks = {}, {}
        for name, parts in asked.items():
            taught = taught_by(ledger, shop, folder, at("2026-10-06 09:00"), parts)
            (one,) = [one for one in taught.lesson.tasks if one.task == TASK]
            (hard,) = [one for one in taught.values if one.row == HARD[1]]
            assert hard.proposed
            by = float(hard.after / hard.prior) if "factors" in parts else 1.0
            whole[name] = 40 * one.level.factor * (2 * (SECONDS - RUN) + RUN * (1 + by))
            tasks[name] = Proposal.of(parts, taught).tasks
    assert tasks["times"] == tasks["times and prices"]
    assert tasks["times"] != tasks["both"]
    for name, seconds in whole.items():
        assert seconds == pytest.approx(done, rel=0.05), name


def test_the_command_takes_over_times_that_stand_alone(
    tmp_path: Path, shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "shop.toml").write_text("")
    with Ledger(folder / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 40, true=1.6)
        taught = taught_by(ledger, shop, folder, at("2026-10-06 09:00"), ("times",))
    (one,) = [one for one in taught.lesson.to_accept if one.task == TASK]
    line = ["learn", "--shop", str(folder), "--accept", "--only", "times", "--now", "2026-10-06 09:00"]
    assert run(line) == 0
    assert "factors" not in capsys.readouterr().out.rpartition("wrote ")[2]
    mine = load_shop(folder)
    assert mine.tasks[TASK].run_min_likely == one.after[2]
    assert mine.metals["stainless"] == shop.metals["stainless"]
    # the factors may still be taken over later: the times then give back what they held for them
    with Ledger(folder / "ledger.sqlite") as ledger:
        later = taught_by(ledger, mine, folder, at("2026-10-07 09:00"))
    (back,) = [one for one in later.lesson.to_accept if one.task == TASK]
    assert back.after[2] < mine.tasks[TASK].run_min_likely


def test_jobs_that_keep_no_factors_are_counted(
    tmp_path: Path, shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    """They speak of the time of the task, not of the wire; work that has no factors is not missed any."""
    with Ledger(tmp_path / "ledger.sqlite", new=True) as ledger:
        fill(ledger, 6, true=1.5)
        for number, task in enumerate((TASK, TASK, "quick-look")):
            name = f"old-{number}"
            jobs.book(ledger, booking(name), at("2026-10-05 09:00"))
            jobs.give_quote(ledger, name, offered(seconds={task: SECONDS}), at("2026-10-05 09:05"))
            jobs.accept(ledger, name, None, None, at("2026-10-05 09:10"))
            timers.typed(ledger, name, task, SECONDS, at("2026-10-05 12:00"))
            jobs.move(ledger, name, "ready", at("2026-10-05 15:00"))
        found = lesson(ledger, shop, {})
    assert shop.tasks[TASK].factors
    assert not shop.tasks["quick-look"].factors
    assert found.factors.without == 2
    (one,) = [one for one in found.tasks if one.task == TASK]
    assert one.level.jobs == 14
    show_lesson(found)
    assert "The quotes of 2 jobs keep no difficulty factors" in " ".join(capsys.readouterr().out.split())
    assert as_data(LessonTold(found))["jobs_without_factors"] == 2

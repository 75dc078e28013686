"""A plan taken up again from what the ledger holds: done, running, not begun; planned against real; promises."""

from __future__ import annotations

import json
import random
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.ledger import jobs, timers
from estimator.ledger.clock import Moment
from estimator.ledger.for_plan import state_by_ledger
from estimator.ledger.store import Ledger
from estimator.model.operation import operation_name
from estimator.plan.replan.plan import PlannedAgain, plan_again
from estimator.plan.replan.saved_plan import KeptWork, kept_text, read_kept
from estimator.report.words.replan import again_words
from estimator.schedule.records import Search
from estimator.schedule.verify import breaches_of
from tests.ledger.shop import at, begun, offered
from tests.plan.bench import batch, plan

BATCH = "batch-three"


def booked(folder: Path, promised: str = "2026-10-30") -> Ledger:
    (folder / "week.json").write_text(kept_text(plan(BATCH)))
    ledger = begun(folder)
    for job in ("school", "commission", "bass"):
        jobs.book(
            ledger,
            jobs.Booking(job, "commission", "", "guitar-solid", "USD", "A. Customer"),
            at("2026-10-01 09:00"),
        )
        jobs.give_quote(ledger, job, offered(), at("2026-10-01 09:00"))
        jobs.accept(ledger, job, None, datetime.fromisoformat(promised).date(), at("2026-10-01 09:00"))
    return ledger


def again(ledger: Ledger, folder: Path, now: Moment) -> tuple[PlannedAgain, list[str]]:
    study = batch(BATCH)
    state, told = state_by_ledger(ledger, study, str(folder / "week.json"), now)
    return plan_again(study, state, search=Search(engine="rule", tries=5)), [str(one) for one in told]


def work() -> list[KeptWork]:
    kept = read_kept(kept_text(plan(BATCH)).encode(), "x").work
    return sorted(kept, key=lambda one: (one.begins, one.ends))


def moment(when: datetime) -> Moment:
    return at(when.isoformat(" ", "minutes"))


def names(one: KeptWork) -> tuple[str, str]:
    job, sitting = operation_name(one.operation)
    return job, sitting.task


@pytest.mark.slow
def test_nothing_recorded_is_nothing_done(tmp_path: Path) -> None:
    with booked(tmp_path) as ledger:
        found, told = again(ledger, tmp_path, at("2026-10-05 09:00"))
    assert (found.plan.done, found.running, found.implied, told) == ((), {}, (), [])
    assert len(found.plan.schedule.assignments) == len(work())


@pytest.mark.slow
def test_what_was_ended_is_done_and_what_runs_runs(tmp_path: Path) -> None:
    first, second = work()[:2]
    with booked(tmp_path) as ledger:
        job, task = names(first)
        timers.begin(ledger, job, task, moment(first.begins))
        timers.end(ledger, moment(first.ends))
        job, task = names(second)
        timers.begin(ledger, job, task, moment(second.begins))
        now = second.begins + timedelta(minutes=1)
        found, told = again(ledger, tmp_path, moment(now))
    planned = int((second.ends - second.begins).total_seconds()) // 60
    assert {o.id for o in found.plan.done} == {first.operation}
    assert found.running == {second.operation: max(1, planned - 1)}
    assert told == []
    mine = next(one for one in found.recorded if one.job == names(first)[0])
    assert (mine.done, mine.planned_s) == (1, mine.taken_s)


@pytest.mark.slow
def test_work_that_was_not_written_down_is_implied_by_later_work_and_told(tmp_path: Path) -> None:
    later = next(one for one in work() if plan(BATCH).work.by_id()[one.operation].after)
    with booked(tmp_path) as ledger:
        timers.typed(ledger, *names(later), 600, moment(later.ends))
        found, _ = again(ledger, tmp_path, moment(later.ends))
    needed = {link.before for link in plan(BATCH).work.by_id()[later.operation].after}
    assert needed <= set(found.implied)
    assert "not written down, but later work is" in again_words(found)


def test_slow_work_moves_promises_and_says_so(tmp_path: Path) -> None:
    with booked(tmp_path, promised="2026-10-07") as ledger:
        mine = [
            one
            for one in work()
            if one.operation.startswith("bass:") and one.begins.date() == one.ends.date()
        ]
        assert "at that pace" not in again_words(again(ledger, tmp_path, at("2026-10-12 12:00"))[0])
        for one in mine[:6]:
            job, task = names(one)
            timers.typed(
                ledger, job, task, 4 * int((one.ends - one.begins).total_seconds()), at("2026-10-12 12:00")
            )
        found, _ = again(ledger, tmp_path, at("2026-10-12 12:00"))
        [row] = [row for row in found.recorded if row.job == "bass"]
        assert row.planned_s >= 3600
    text = again_words(found)
    assert "(400 %)" in text
    assert "at that pace what is left takes" in text
    flat = " ".join(text.split())
    mine = found.plan.study.studies
    assert not mine["bass"].job.for_customer
    assert f"{job}: promised for Wed 7 Oct 2026, the plan promises" in flat
    assert mine["commission"].job.for_customer
    assert "commission: the customer was told Wed 7 Oct 2026, the plan promises" in flat
    assert flat.count("tell the customer") == sum(
        f"{name}: {words}" in flat
        for name, one in mine.items()
        if one.job.for_customer
        for words in ("the customer was told", "promised Wed", "promised Thu", "promised Fri")
    )


def test_a_job_that_is_ready_has_all_its_work_done(tmp_path: Path) -> None:
    with booked(tmp_path) as ledger:
        timers.typed(
            ledger,
            "bass",
            names(next(w for w in work() if names(w)[0] == "bass"))[1],
            60,
            at("2026-10-06 11:00"),
        )
        timers.begin(ledger, "bass", "x", at("2026-10-06 11:30"))
        timers.end(ledger, at("2026-10-06 11:40"))
        jobs.move(ledger, "bass", "ready", at("2026-10-06 12:00"))
        found, told = again(ledger, tmp_path, at("2026-10-07 09:00"))
    assert not [b for b in found.plan.schedule.assignments if b.operation.startswith("bass:")]
    assert any("work on bass that the plan does not have" in one for one in told)


def test_a_forgotten_timer_and_a_job_that_is_not_booked_are_told(tmp_path: Path) -> None:
    with booked(tmp_path) as ledger:
        job, task = names(work()[0])
        timers.begin(ledger, job, task, at("2026-10-05 09:00"))
        with pytest.raises(InputError, match="over night"):
            again(ledger, tmp_path, at("2026-10-06 09:00"))
    (tmp_path / "bare").mkdir()
    with Ledger(tmp_path / "bare" / "ledger.sqlite", new=True) as bare:
        _, told = state_by_ledger(bare, batch(BATCH), str(tmp_path / "week.json"), at("2026-10-05 09:00"))
        assert len(told) == 3
        for bad in ("none.json", "bare"):
            with pytest.raises(InputError, match="no such plan"):
                state_by_ledger(bare, batch(BATCH), str(tmp_path / bad), at("2026-10-05 09:00"))
        with pytest.raises(InputError, match="before the plan begins"):
            state_by_ledger(bare, batch(BATCH), str(tmp_path / "week.json"), at("2026-10-01 09:00"))


@pytest.mark.slow
def test_a_plan_made_again_twice_takes_the_minutes_of_running_work_off_once(tmp_path: Path) -> None:
    """What was taken, recorded and planned reads the same however often the plan was saved in between."""
    drawn = random.Random(11)
    seen = 0
    for number in range(6):
        folder = tmp_path / str(number)
        folder.mkdir()
        with booked(folder) as ledger:
            order = [one for one in work() if one.begins.date() == one.ends.date()]
            first, second, third = order[:3]
            slow = drawn.choice((70, 100, 130))
            for one in (first, second):
                planned = int((one.ends - one.begins).total_seconds())
                timers.typed(ledger, *names(one), planned * slow // 100, moment(one.ends))
            length = int((third.ends - third.begins).total_seconds()) // 60
            timers.begin(ledger, *names(third), moment(third.begins))
            now = third.begins + timedelta(minutes=drawn.randint(1, max(1, length - 1)))
            one, told = again(ledger, folder, moment(now))
            for later in (0, 0, 2):
                now += timedelta(minutes=later)
                direct, told = again(ledger, folder, moment(now))
                saved = folder / "again.json"
                saved.write_text(kept_text(one.plan))
                study = batch(BATCH)
                state, chained = state_by_ledger(ledger, study, str(saved), moment(now))
                one = plan_again(study, state, search=Search(engine="rule", tries=5))
                assert (one.running, one.recorded) == (direct.running, direct.recorded)
                assert [str(issue).partition(": ")[2] for issue in chained] == [
                    line.partition(": ")[2] for line in told
                ]
                if not later:
                    assert kept_text(one.plan) == saved.read_text()
                seen += bool(one.running) and any(row.done for row in one.recorded)
    assert seen == 18


def test_work_taken_as_done_whose_part_has_not_come_is_told_with_its_parcel(tmp_path: Path) -> None:
    """Later work says that a jack is fitted, but its parcel is still expected: that is told, not assumed."""
    known = plan(BATCH).work.by_id()
    later = next(
        one for one in work() if "school:fit-jack" in {link.before for link in known[one.operation].after}
    )
    with booked(tmp_path) as ledger:
        timers.typed(ledger, *names(later), 600, at("2026-10-06 11:00"))
        early, _ = again(ledger, tmp_path, at("2026-10-06 12:00"))
        (tmp_path / "again.json").write_text(kept_text(early.plan))
        state, _ = state_by_ledger(ledger, batch(BATCH), str(tmp_path / "again.json"), at("2026-10-06 12:00"))
        twice = plan_again(batch(BATCH), state, search=Search(engine="rule", tries=5))
        late, _ = again(ledger, tmp_path, at("2026-10-20 12:00"))
    for found in (early, twice):
        told = [one.problem for one in found.warnings if "fit jack of school" in one.problem]
        assert len(told) == 1, found.warnings
        assert told[0].endswith("taken as done, but the parcel of parts-house is expected on Fri 9 Oct only")
    assert "school:fit-jack" in late.implied
    assert not [one for one in late.warnings if "parcel" in one.problem]


@pytest.mark.slow
def test_drawn_days_at_the_bench_give_plans_without_a_breach(tmp_path: Path) -> None:
    """Work recorded in any order, with gaps, corrections and pauses: what is done or runs is not planned again."""
    draw = random.Random(5)
    for number in range(12):
        folder = tmp_path / str(number)
        folder.mkdir()
        clock = datetime(2026, 10, 5, 9)
        with booked(folder) as ledger:
            for one in work()[: draw.randint(1, 25)]:
                if draw.random() < 0.3:
                    continue
                job, task = names(one)
                if draw.random() < 0.5:
                    timers.begin(ledger, job, task, moment(clock))
                    clock += timedelta(minutes=draw.randint(1, 20))
                    timers.end(ledger, moment(clock))
                else:
                    spell = timers.typed(ledger, job, task, draw.randint(60, 3600), moment(clock)).spell
                    if draw.random() < 0.2:
                        timers.correct(ledger, spell, draw.choice((0, 300)), moment(clock))
            if draw.random() < 0.5:
                job, task = names(draw.choice(work()))
                timers.begin(ledger, job, task, moment(clock))
                clock += timedelta(minutes=5)
            found, _ = again(ledger, folder, moment(clock))
            done = {o.id for o in found.plan.done}
            spells = {
                (r["job"], r["task"])
                for r in ledger.rows("SELECT job, task FROM time_taken WHERE seconds > 0")
            }
        left = {b.operation for b in found.plan.schedule.assignments}
        assert not done & left
        assert done | left == {one.operation for one in work()}
        assert {names(one) for one in work() if one.operation in done - set(found.implied)} <= spells
        calendar = found.plan.calendar
        assert (
            breaches_of(found.plan.work, calendar.opens, calendar.closes, found.plan.schedule.assignments)
            == []
        )


@pytest.mark.slow
def test_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    booked(tmp_path).close()
    command = ["plan", f"example:{BATCH}", "--engine", "rule"]
    assert run([*command, "--progress", "week.json", "--now", "2026-10-05 10:00+02:00", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["job"] for one in told["again"]["recorded"]] == ["school", "commission", "bass"]
    for more in (
        ["--progress", "no.json"],
        ["--now", "2026-10-05"],
        ["--progress", "week.json", "--gain"],
        ["--progress", "week.json", "--state", "x.toml"],
        ["--progress", "week.json", "--now", "soon"],
    ):
        assert run([*command, *more]) == 2
        assert "Traceback" not in capsys.readouterr().err

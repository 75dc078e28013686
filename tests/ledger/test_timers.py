"""Times at the bench: one pair of hands, several cures, nothing guessed, every correction kept."""

from __future__ import annotations

import random
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.ledger import jobs, timers
from estimator.ledger.clock import Moment
from tests.ledger.shop import accepted, at, begun, booking


def test_begin_pause_go_on_and_end(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger, seconds={"fit-nut": 1800})
        timers.begin(ledger, "blue", "fit-nut", at("2026-10-06 09:00"))
        assert jobs.account(ledger, "blue").state == "at-work"
        assert timers.pause(ledger, at("2026-10-06 09:10")).seconds == 600
        assert timers.begin(ledger, "blue", "fit-nut", at("2026-10-07 14:00")).went_on
        done = timers.end(ledger, at("2026-10-07 14:05"))
        assert (done.seconds, done.planned_s, done.taken_s) == (900, 1800, 900)
        assert timers.running(ledger, at("2026-10-07 14:06")) == []


def test_an_interruption_pauses_what_the_hands_were_at(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        accepted(ledger, "red")
        timers.begin(ledger, "blue", "frets", at("2026-10-06 09:00"))
        assert timers.begin(ledger, "red", "strings", at("2026-10-06 09:20")).paused == "blue, frets"
        timers.end(ledger, at("2026-10-06 09:25"))
        assert [
            (row.task, row.paused, row.seconds) for row in timers.running(ledger, at("2026-10-06 10:00"))
        ] == [("frets", True, 1200)]
        assert timers.end(ledger, at("2026-10-06 10:00"), "blue").seconds == 1200


def test_cures_run_beside_the_hands_and_over_night(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for task in ("glue", "lacquer"):
            timers.begin(ledger, "blue", task, at("2026-10-06 17:00"), cure=True)
        timers.begin(ledger, "blue", "wiring", at("2026-10-06 17:01"))
        timers.end(ledger, at("2026-10-06 17:31"))
        with pytest.raises(InputError, match="several things run"):
            timers.end(ledger, at("2026-10-07 08:00"), "blue")
        done = timers.end(ledger, at("2026-10-07 09:00"), "blue", "glue")
        assert (done.seconds, done.taken_s) == (16 * 3600, 0)
        assert len(timers.running(ledger, at("2026-10-07 09:00"))) == 1


@pytest.mark.parametrize(
    ("begun_at", "now", "why"),
    [
        ("2026-10-06 17:40", "2026-10-07 08:55", "over night"),
        ("2026-10-06 23:59", "2026-10-07 00:01", "over night"),
        ("2026-10-06 07:00", "2026-10-06 17:01", "more than 10 hours"),
        ("2026-10-06 09:00", "2026-10-06 08:00", "earlier time"),
    ],
)
def test_a_forgotten_timer_is_asked_about_and_never_guessed(
    tmp_path: Path, begun_at: str, now: str, why: str
) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        timers.begin(ledger, "blue", "frets", at(begun_at))
        before = ledger.tables()
        for act in (timers.end, timers.pause, lambda it, when: timers.begin(it, "blue", "nut", when)):
            with pytest.raises(InputError, match=f"{why}.*--took MINUTES"):
                act(ledger, at(now))
            assert ledger.tables() == before
        [row] = timers.running(ledger, at(now))
        assert why in row.forgotten
        assert row.seconds is None
        assert timers.end(ledger, at(now), took=2700).seconds == 2700
        assert ledger.rows("SELECT seconds, source FROM spell") == [{"seconds": 2700, "source": "typed"}]


def test_a_shift_of_the_clock_adds_no_time(tmp_path: Path) -> None:
    """Begun before the clocks go back, ended after: what passed counts, not what the clock shows."""
    with begun(tmp_path) as ledger:
        accepted(ledger)
        start = at("2026-10-25 02:30")
        timers.begin(ledger, "blue", "frets", start)
        later = Moment(start.utc + timedelta(minutes=45), 60)
        assert f"{later.local:%H:%M}" == "02:15"
        assert timers.end(ledger, later).seconds == 2700


def test_corrections_keep_their_history(tmp_path: Path) -> None:
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        accepted(ledger)
        first = timers.typed(ledger, "blue", "nut", 720, now).spell
        second = timers.correct(ledger, first, 900, now, "misread").spell
        with pytest.raises(InputError, match=f"correct number {second}"):
            timers.correct(ledger, first, 60, now)
        timers.correct(ledger, second, 0, now, "another job")
        assert [row.seconds for row in timers.times_of(ledger, "blue")] == [720, 900, 0]
        assert timers.planned_and_taken(ledger, "blue", "nut").taken_s == 0
        for wrong in (99, second):
            with pytest.raises(InputError):
                timers.correct(ledger, wrong, 60, now)


def test_a_card_beside_the_clock_is_told_and_not_guessed(tmp_path: Path) -> None:
    """Whoever timed a task on the phone and wrote the card as well is told: both are counted until one is struck out."""
    with begun(tmp_path) as ledger:
        accepted(ledger)
        now = at("2026-10-06 10:00")
        timers.typed(ledger, "blue", "nut", 600, now)
        cards = [("blue", "nut", "nut", Decimal(12), ""), ("blue", "frets", "neck", Decimal(40), "")]
        told = timers.from_cards(ledger, cards, now)
        assert [(row.task, row.seconds, row.beside_s) for row in told] == [
            ("nut", 720, 600),
            ("frets", 2400, 0),
        ]
        timers.correct(ledger, 1, 0, now)
        assert [row.beside_s for row in timers.from_cards(ledger, cards, now)] == [0, 0]


def test_a_card_read_twice_counts_once(tmp_path: Path) -> None:
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        accepted(ledger)
        card = [("blue", "nut", "nut", Decimal("12.5"), ""), ("blue", "frets", "neck", Decimal(40), "hard")]
        assert [row.done for row in timers.from_cards(ledger, card, now)] == ["new", "new"]
        assert [row.done for row in timers.from_cards(ledger, card, now)] == ["as before", "as before"]
        card[1] = ("blue", "frets", "neck", Decimal(45), "hard")
        assert [row.done for row in timers.from_cards(ledger, card, now)] == ["as before", "corrected"]
        assert timers.planned_and_taken(ledger, "blue", "frets").taken_s == 2700
        assert timers.planned_and_taken(ledger, "blue", "nut").taken_s == 750
        with pytest.raises(InputError, match="no job of this name"):
            timers.from_cards(
                ledger, [("blue", "x", "", Decimal(1), ""), ("grey", "x", "", Decimal(1), "")], now
            )
        assert timers.planned_and_taken(ledger, "blue", "x").taken_s == 0


def test_nothing_begins_on_a_job_that_was_not_accepted(tmp_path: Path) -> None:
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking(), now)
        for act in (
            lambda: timers.begin(ledger, "blue", "nut", now),
            lambda: timers.begin(ledger, "grey", "nut", now),
            lambda: timers.pause(ledger, now),
            lambda: timers.end(ledger, now),
            lambda: timers.end(ledger, now, "blue"),
            lambda: timers.typed(ledger, "blue", "nut", 0, now),
        ):
            with pytest.raises(InputError, match="next: "):
                act()
        assert ledger.rows("SELECT * FROM running") == ledger.rows("SELECT * FROM spell") == []


def test_drawn_days_add_up(tmp_path: Path) -> None:
    """A plain model of the hands beside the ledger: after every act both have taken the same seconds."""
    draw = random.Random(21)
    acts = 0
    with begun(tmp_path) as ledger:
        for name in ("blue", "red"):
            accepted(ledger, name)
        taken: dict[tuple[str, str], int] = {}
        open_: dict[tuple[str, str], int] = {}
        busy: tuple[str, str] | None = None
        now = at("2026-10-06 07:00")
        for _ in range(300):
            step = draw.randrange(0, 600)
            now = Moment(now.utc + timedelta(seconds=step), 120)
            if now.local.hour >= 20:  # the evening: lay down, go home
                if busy:
                    open_[busy] += step
                    timers.pause(ledger, now)
                    busy = None
                now = Moment(now.utc + timedelta(hours=11), 120)
                continue
            if busy:
                open_[busy] += step
            key = (draw.choice(("blue", "red")), draw.choice(("nut", "frets", "wiring")))
            act = draw.randrange(3)
            if act == 0 and key != busy:
                timers.begin(ledger, *key, now)
                open_.setdefault(key, 0)
                busy = key
            elif act == 1 and busy:
                assert timers.pause(ledger, now).seconds == open_[busy]
                busy = None
            elif act == 2 and key in open_:
                seconds = open_.pop(key)
                assert timers.end(ledger, now, *key).seconds == seconds
                taken[key] = taken.get(key, 0) + seconds
                busy = None if key == busy else busy
                acts += 1
        found = {
            (row["job"], row["task"]): row["sum"]
            for row in ledger.rows("SELECT job, task, SUM(seconds) AS sum FROM time_taken GROUP BY job, task")
        }
        assert found == taken
        assert {(r.job, r.task): r.seconds for r in timers.running(ledger, now)} == open_
    assert acts > 30


def test_a_job_is_not_ready_while_a_time_is_open(tmp_path: Path) -> None:
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        accepted(ledger)
        timers.begin(ledger, "blue", "nut", now)
        timers.pause(ledger, now)
        for state in ("ready", "declined"):
            with pytest.raises(
                InputError, match=r"not ended; found nut.*next: estimator ledger end blue TASK"
            ):
                jobs.move(ledger, "blue", state, now)
        timers.end(ledger, now, "blue", took=60)
        assert jobs.move(ledger, "blue", "ready", now).state == "ready"


def test_minutes_written_down_afterwards_tell_that_the_job_was_at_work(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        timers.typed(ledger, "blue", "nut", 600, at("2026-10-06 10:00"))
        assert jobs.job_row(ledger, "blue").state == "at-work"
        jobs.move(ledger, "blue", "ready", at("2026-10-06 11:00"))
        timers.typed(ledger, "blue", "nut", 600, at("2026-10-06 12:00"))
        assert jobs.job_row(ledger, "blue").state == "ready"  # forgotten minutes do not take it back
        jobs.book(ledger, booking("red"), at("2026-10-06 12:00"))
        timers.typed(ledger, "red", "look", 600, at("2026-10-06 12:00"))
        assert jobs.job_row(ledger, "red").state == "asked"
        assert ledger.faults() == []


def test_a_task_is_known_however_it_is_spelled(tmp_path: Path) -> None:
    """Capitals, blanks and hyphens are nobody's slip; a blank name is told what there is."""
    with begun(tmp_path) as ledger:
        accepted(ledger)
        timers.typed(ledger, "blue", "set-action", 600, at("2026-10-06 09:00"))
        for spelled in ("set-action", "Set Action", "set_action", "SET-ACTION"):
            assert timers.task_meant(ledger, "blue", spelled) == "set-action"
        assert timers.task_meant(ledger, "blue", "Set Action", new=True) == "Set Action"
        assert timers.task_meant(ledger, "blue", "polish the pool") == "polish the pool"
        for slip, words in (("set-acton", "did you mean"), (" ", "no task of blue is named")):
            with pytest.raises(InputError, match=words):
                timers.task_meant(ledger, "blue", slip)
        timers.begin(ledger, "blue", "set-action", at("2026-10-06 10:00"))
        assert timers.end(ledger, at("2026-10-06 10:10"), "blue", "Set action").task == "set-action"

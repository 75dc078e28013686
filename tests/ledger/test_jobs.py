"""Jobs from the first call to the receipt."""

from __future__ import annotations

import json
import random
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.ledger import jobs
from estimator.ledger.board import board
from estimator.ledger.receipt import receipt
from estimator.ledger.states import FIRST, FIRST_ELSE, FOR_SALE_ONLY, NEXT, WORDS
from tests.ledger.shop import accepted, at, begun, booking, offered


def test_every_state_can_be_reached_and_has_words() -> None:
    assert set(NEXT) == set(WORDS)
    reached, open_ = set(), [FIRST_ELSE, *FIRST.values()]
    while open_:
        state = open_.pop()
        if state not in reached:
            reached.add(state)
            open_ += NEXT[state]
    assert reached == set(WORDS)


def test_a_job_from_asked_to_paid(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        assert jobs.book(ledger, booking(), at("2026-10-05 09:00")).state == "asked"
        number = jobs.give_quote(ledger, "blue", offered(), at("2026-10-05 09:30"))
        assert number == "2026-001"
        jobs.accept(ledger, "blue", number, date(2026, 10, 20), at("2026-10-06 10:00"))
        assert jobs.pay(ledger, "blue", "deposit", 5000, at("2026-10-06 10:01")).balance == 15000
        for state in ("waiting", "at-work", "ready", "told"):
            jobs.move(ledger, "blue", state, at("2026-10-12 10:00"))
        assert jobs.move(ledger, "blue", "collected", at("2026-10-14 17:00")).state == "collected"
        assert jobs.pay(ledger, "blue", "payment", 15000, at("2026-10-14 17:01")).state == "paid"
        text = receipt(ledger, "blue", "The Bench", at("2026-10-14 17:02"))
        assert "For: A. Customer" in text
        assert "Agreed" in text
        assert text.splitlines()[-1].split() == ["Left", "to", "pay", "0.00", "USD"]
        steps = [row.state for row in jobs.history(ledger, "blue").steps]
        assert steps == [
            "asked",
            "quoted",
            "accepted",
            "waiting",
            "at-work",
            "ready",
            "told",
            "collected",
            "paid",
        ]
        assert ledger.faults() == []


def test_quote_numbers_begin_anew_each_year_and_come_once(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking(), at("2026-12-31 09:00"))
        given = [
            jobs.give_quote(ledger, "blue", offered(), at(day))
            for day in ("2026-12-31 23:30", "2027-01-01 00:30", "2026-12-31 23:40", "2027-01-02 09:00")
        ]
    assert given == ["2026-001", "2027-001", "2026-002", "2027-002"]


def test_numbers_without_a_booked_job_are_of_the_same_row(tmp_path: Path) -> None:
    now = at("2026-12-31 09:00")
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking(), now)
        given = [
            jobs.give_number(ledger, now),
            jobs.give_quote(ledger, "blue", offered(), now),
            jobs.give_number(ledger, now),
        ]
        assert jobs.is_booked(ledger, "blue")
        assert not jobs.is_booked(ledger, "red")
    assert given == ["2026-001", "2026-002", "2026-003"]


@pytest.mark.slow
def test_commands_at_once_never_get_the_same_number(tmp_path: Path) -> None:
    begun(tmp_path).close()
    now = at("2026-12-31 09:00")

    def take(_: int) -> list[str]:
        with begun(tmp_path) as ledger:  # a connection of its own, as another command has
            return [jobs.give_number(ledger, now) for _ in range(10)]

    with ThreadPoolExecutor(6) as pool:
        given = [number for one in pool.map(take, range(6)) for number in one]
    assert sorted(given) == [f"2026-{n:03d}" for n in range(1, 61)]


def test_a_change_is_a_new_quote_and_the_old_one_stays(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        first = accepted(ledger)
        jobs.move(ledger, "blue", "at-work", at("2026-10-06 09:00"))
        second = jobs.give_quote(ledger, "blue", offered(26000), at("2026-10-06 09:10"))
        assert jobs.account(ledger, "blue").agreed == 20000
        jobs.accept(ledger, "blue", second, None, at("2026-10-06 09:20"))
        assert jobs.account(ledger, "blue").agreed == 26000
        quotes = jobs.history(ledger, "blue").quotes
        assert [(q.number, q.to_pay) for q in quotes] == [(first, 20000), (second, 26000)]
        assert jobs.history(ledger, "blue").state == "at-work"


def test_work_that_comes_in_by_a_change_is_told_beside_the_day_promised_before(tmp_path: Path) -> None:
    """Promised with 200 minutes of work; 260, then 230 are agreed: 60 more are told, then none."""
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking("blue"), at("2026-10-05 09:00"))
        jobs.give_quote(ledger, "blue", offered(seconds={"set-action": 12_000}), at("2026-10-05 09:05"))
        day, now = date(2026, 10, 20), at("2026-10-06 09:20")
        assert jobs.accept(ledger, "blue", None, day, now).promised_before_s == 0
        jobs.give_quote(ledger, "blue", offered(26000, seconds={"set-action": 15_600}), now)
        found = jobs.accept(ledger, "blue", None, None, now)
        assert (found.promised, found.promised_before_s) == ("2026-10-20", 3_600)
        assert jobs.accept(ledger, "blue", None, None, now).promised_before_s == 0
        jobs.give_quote(ledger, "blue", offered(seconds={"set-action": 13_800}), now)
        assert jobs.accept(ledger, "blue", None, None, now).promised_before_s == 0


def test_what_cannot_be_is_refused_and_changes_nothing(tmp_path: Path) -> None:
    now = at("2026-10-05 09:20")
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking(), now)
        before = ledger.tables()
        wrong = [
            lambda: jobs.book(ledger, booking(), now),
            lambda: jobs.book(ledger, booking(" "), now),
            lambda: jobs.accept(ledger, "blue", None, None, now),
            lambda: jobs.move(ledger, "blue", "accepted", now),
            lambda: jobs.move(ledger, "blue", "ready", now),
            lambda: jobs.move(ledger, "blue", "raedy", now),
            lambda: jobs.move(ledger, "bleu", "declined", now),
            lambda: jobs.pay(ledger, "blue", "payment", 0, now),
            lambda: jobs.pay(ledger, "blue", "payment", -100, now),
            lambda: jobs.pay(ledger, "blue", "gift", 100, now),
            lambda: jobs.pay(ledger, "blue", "refund", 100, now),
            lambda: jobs.give_quote(ledger, "green", offered(), now),
            lambda: receipt(ledger, "blue", "", now),
        ]
        for number, act in enumerate(wrong):
            with pytest.raises(InputError, match=r"accepted: |found "):
                act()
            assert ledger.tables() == before, number
        jobs.give_quote(ledger, "blue", offered(), now)
        for name, day in (("2026-009", None), (None, date(2026, 10, 4))):
            with pytest.raises(InputError):
                jobs.accept(ledger, "blue", name, day, now)
        assert jobs.history(ledger, "blue").state == "quoted"


def test_a_customers_instrument_is_never_for_sale(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for state in ("at-work", "ready"):
            jobs.move(ledger, "blue", state, at("2026-10-06 09:00"))
        with pytest.raises(InputError, match="cannot become listed"):
            jobs.move(ledger, "blue", "listed", at("2026-10-06 09:00"))
        assert jobs.book(ledger, booking("donor", "resale", ""), at("2026-10-06 09:00")).state == "accepted"
        jobs.pay(ledger, "donor", "purchase", 6000, at("2026-10-06 09:00"))
        for state in ("at-work", "ready", "listed", "sold", "returned", "at-work"):
            jobs.move(ledger, "donor", state, at("2026-10-07 09:00"))
        assert jobs.account(ledger, "donor").balance is None


def test_drawn_lives_keep_the_books_right(tmp_path: Path) -> None:
    """Steps at random: the last step is the state, the balance is agreed less lowered less paid, nobody jumps a step."""
    draw = random.Random(11)
    refused = 0
    with begun(tmp_path) as ledger:
        for number in range(12):
            job, kind = f"j{number}", draw.choice(("commission", "resale", "own"))
            jobs.book(ledger, booking(job, kind), at("2026-10-05 09:00"))
            last, agreed, paid, quotes = jobs.account(ledger, job).state, None, 0, {}
            for _ in range(25):
                now, act = at("2026-10-05 10:00"), draw.randrange(4)
                if act == 0:
                    sum_ = draw.randrange(1, 30000)
                    quotes[jobs.give_quote(ledger, job, offered(sum_, 0), now)] = sum_
                elif act == 1:
                    cents = draw.randrange(1, 5000)
                    kind_ = draw.choice(("deposit", "payment", "refund"))
                    try:
                        jobs.pay(ledger, job, kind_, cents, now)
                        paid += -cents if kind_ == "refund" else cents
                    except InputError:
                        assert kind_ == "refund"
                        assert cents > paid
                        refused += 1
                elif act == 2:
                    try:
                        taken = jobs.accept(ledger, job, None, None, now).quote
                        agreed = quotes[taken]
                    except InputError:
                        refused += 1
                else:
                    state = draw.choice(list(WORDS))
                    try:
                        jobs.move(ledger, job, state, now)
                        assert kind != "commission" or state not in FOR_SALE_ONLY
                    except InputError:
                        refused += 1
                account = jobs.account(ledger, job)
                assert account.paid == paid
                steps = [row.state for row in jobs.history(ledger, job).steps]
                gone = steps[-1] == "declined" and "collected" not in steps
                due = 0 if gone else agreed
                assert account.agreed == (due if kind == "commission" else None)
                if due is not None and kind == "commission":
                    assert account.balance == due - account.lowered - paid
                    assert 0 <= account.lowered <= account.given_back
                assert all(after in NEXT[before] for before, after in pairwise(steps))
                last = steps[-1]
                assert account.state == last
        assert ledger.faults() == []
    assert refused > 20


def test_the_board_tells_what_is_due_late_untold_and_stored(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        promises = {"late": 10, "due": 17, "in": 30, "waiting": 30, "untold": 9, "stored": 9}
        for name, day in promises.items():
            jobs.book(ledger, booking(name), at("2026-10-01 09:00"))
            jobs.give_quote(ledger, name, offered(), at("2026-10-01 09:00"))
            jobs.accept(ledger, name, None, date(2026, 10, day), at("2026-10-01 09:00"))
        jobs.book(ledger, booking("asked"), at("2026-10-01 09:00"))
        jobs.move(ledger, "waiting", "waiting", at("2026-10-02 09:00"))
        for name, states in {"untold": ("at-work", "ready"), "stored": ("at-work", "ready", "told")}.items():
            for state in states:
                jobs.move(ledger, name, state, at("2026-10-03 09:00"))
        found = board(ledger, jobs.Storage(at("2026-10-15 09:00"), lambda days: max(0, days - 5) * 200))
        assert {name: [row.job for row in rows] for name, rows in found.items() if rows} == {
            name: [name] for name in (*promises, "asked")
        }
        assert found["stored"][0].stored_days == 12
        assert found["stored"][0].storage == 7 * 200
        jobs.move(ledger, "stored", "collected", at("2026-10-15 10:00"))
        assert board(ledger, jobs.Storage(at("2026-10-15 10:00"), lambda days: 0))["stored"] == []


def test_a_quote_is_kept_to_the_letter(tmp_path: Path) -> None:
    lines = [{"what": 'Nut “slippery” =1+1; DROP TABLE quote\n"', "amount": "184.00", "kind": "work"}]
    with begun(tmp_path) as ledger:
        jobs.book(ledger, booking(), at("2026-10-05 09:00"))
        jobs.give_quote(ledger, "blue", jobs.Offered(18400, 0, 18400, "USD", lines), at("2026-10-05 09:00"))
    with begun(tmp_path) as ledger:
        assert jobs.history(ledger, "blue").quotes[0].lines == lines
        assert json.loads(ledger.rows("SELECT lines_json FROM quote")[0]["lines_json"]) == lines

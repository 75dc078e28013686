"""What is owed, and by whom: one function says it for every command and paper."""

from __future__ import annotations

import random
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import make_choice_of, study_job
from estimator.core.amounts import Cents
from estimator.core.errors import InputError
from estimator.input.job.load import job_from
from estimator.ledger import jobs, timers
from estimator.ledger.board import board
from estimator.ledger.papers import INVOICE, RECEIPT, paper
from estimator.ledger.parcels import Parcel, tell_parcel
from estimator.ledger.receipt import receipt
from estimator.ledger.records import MonthHours
from estimator.ledger.reports import all_reports, cash_by_month, hours_by_month
from estimator.ledger.stock import MILLION, stock, stock_move
from estimator.ledger.store import Ledger
from estimator.report.text.ledger import balance_words, paid_words
from estimator.tables.toml.text import parse_toml
from estimator.workbook.quote_record import quote_record
from tests.ledger.shop import accepted, at, begun, booking, offered
from tests.shops import default_shop

NOW = at("2026-11-01 09:00")


def collected(ledger: Ledger, job: str = "blue") -> None:
    for state in ("at-work", "ready", "collected"):
        jobs.move(ledger, job, state, at("2026-10-12 16:00"))


def test_money_given_back_after_it_was_paid_is_not_asked_for_again(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        jobs.pay(ledger, "blue", "payment", 20000, at("2026-10-10 10:00"))
        collected(ledger)
        found = jobs.pay(ledger, "blue", "refund", 4000, NOW)
        assert (found.balance, found.lowered, found.paid) == (0, 4000, 16000)
        assert "left to pay 0.00 USD" in balance_words(found)
        text = receipt(ledger, "blue", "", NOW)
        assert "Left to pay" in text
        assert text.rstrip().endswith(" 0.00 USD")
        sheet = paper(ledger, "blue", INVOICE, NOW)
        assert sheet.total is not None
        assert (sheet.total.words, sheet.total.amount) == ("Left to pay", 0)
        # what a reader adds up comes out at what is said
        off = next(line.amount for line in sheet.lines if line.words == jobs.LOWERED)
        agreed = next(line.amount for line in sheet.lines if line.words == "Agreed")
        assert (agreed or 0) + (off or 0) - sum(line.amount or 0 for line in sheet.payments) == 0


def test_what_was_paid_too_much_is_settled_by_giving_it_back(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        found = jobs.pay(ledger, "blue", "payment", 25000, at("2026-10-10 10:00"))
        assert found.balance == -5000
        assert "paid too much 50.00 USD" in balance_words(found)
        assert "Paid too much" in receipt(ledger, "blue", "", NOW)
        assert "-" not in receipt(ledger, "blue", "", NOW).splitlines()[-1]
        found = jobs.pay(ledger, "blue", "refund", 6000, NOW)
        assert (found.balance, found.lowered) == (0, 1000)


def test_a_deposit_given_back_before_it_was_paid_leaves_the_price(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        jobs.pay(ledger, "blue", "deposit", 5000, at("2026-10-10 10:00"))
        found = jobs.pay(ledger, "blue", "refund", 5000, NOW)
        assert (found.balance, found.lowered) == (20000, 0)


@pytest.mark.parametrize("said_yes", [True, False])
def test_the_deposit_of_a_declined_job_is_owed_to_the_customer(tmp_path: Path, said_yes: bool) -> None:
    with begun(tmp_path) as ledger:
        if said_yes:
            accepted(ledger)
        else:
            jobs.book(ledger, booking(), at("2026-10-05 09:00"))
            jobs.give_quote(ledger, "blue", offered(), at("2026-10-05 09:05"))
        jobs.pay(ledger, "blue", "deposit", 5000, at("2026-10-10 10:00"))
        jobs.move(ledger, "blue", "declined", at("2026-10-11 10:00"))
        assert "to give back 50.00 USD" in balance_words(jobs.account(ledger, "blue"))
        assert "To give back" in receipt(ledger, "blue", "", NOW)
        total = paper(ledger, "blue", RECEIPT, NOW).total
        assert total is not None
        assert (total.words, total.amount) == ("To give back", 5000)
        with pytest.raises(InputError):
            paper(ledger, "blue", INVOICE, NOW)
        assert not jobs.history(ledger, "blue").invoices
        assert jobs.pay(ledger, "blue", "refund", 5000, NOW).balance == 0


def test_drawn_payments_settle_once(tmp_path: Path) -> None:
    """However it was paid: once all is settled, goodwill leaves it settled, and what came in stays in the sum."""
    draw = random.Random(11)
    with begun(tmp_path) as ledger:
        for number in range(40):
            job, price = f"j{number}", draw.randrange(100, 60000)
            accepted(ledger, job, to_pay=price, tax=0)
            parts = sorted(draw.sample(range(1, price), 2))
            for cents in (parts[0], parts[1] - parts[0], price - parts[1]):
                jobs.pay(ledger, job, "payment", cents, at("2026-10-10 10:00"))
            if draw.random() < 0.5:
                collected(ledger, job)
            over = draw.randrange(500) if draw.random() < 0.5 else 0
            if over:
                jobs.pay(ledger, job, "payment", over, at("2026-10-20 10:00"))
            back = [draw.randrange(1, price // 3 + 2) for _ in range(draw.randrange(1, 3))]
            for cents in back:
                found = jobs.pay(ledger, job, "refund", cents, NOW)
            assert found.balance == -max(0, over - sum(back))
            assert found.lowered == max(0, sum(back) - over)
            assert found.paid == price + over - sum(back)


def test_what_was_typed_twice_is_struck_and_the_price_stays(tmp_path: Path) -> None:
    """Given back as a refund it would be taken off what was agreed, though nothing ever went out of the till."""
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for _ in range(3):
            found = jobs.pay(ledger, "blue", "deposit", 9000, at("2026-10-10 10:00"))
        assert found.balance == -7000
        assert "--kind deposit --mistyped" in paid_words(found, Cents(9000))
        found = jobs.strike(ledger, "blue", "deposit", 18000, at("2026-10-10 10:01"))
        assert (found.paid, found.balance, found.lowered, found.given_back) == (9000, 11000, 0, 0)
        [line] = paper(ledger, "blue", INVOICE, NOW).payments
        assert line.amount == 9000
        [month] = cash_by_month(ledger)
        assert (month.came_in, month.out, month.left) == (9000, 0, 9000)
        with pytest.raises(InputError, match=r"at most 90\.00"):
            jobs.strike(ledger, "blue", "deposit", 9001, NOW)


def test_struck_payments_count_nowhere(tmp_path: Path) -> None:
    """Drawn: a ledger in which payments were mistyped and struck stands as one in which they never were."""
    draw = random.Random(13)
    with begun(tmp_path) as ledger:
        for number in range(40):
            wrong, right = f"w{number}", f"r{number}"
            for job in (wrong, right):
                accepted(ledger, job, to_pay=20000, tax=0)
                if number % 3 == 0:
                    collected(ledger, job)
            for _ in range(draw.randrange(2, 6)):
                kind, cents = (
                    draw.choice(("deposit", "payment", "bench-fee", "refund")),
                    draw.randrange(1, 15000),
                )
                if kind == "refund" and cents > jobs.account(ledger, right).paid:
                    continue
                for job in (wrong, right):
                    jobs.pay(ledger, job, kind, cents, NOW)
                if draw.random() < 0.5:
                    bad = draw.choice(("deposit", "payment", "bench-fee"))
                    jobs.pay(ledger, wrong, bad, 777, NOW)
                    jobs.strike(ledger, wrong, bad, 777, NOW)
                if kind == "refund":
                    jobs.strike(ledger, wrong, kind, cents, NOW)
                    jobs.pay(ledger, wrong, kind, cents, NOW)
            one, other = jobs.account(ledger, wrong), jobs.account(ledger, right)
            named = {"job": "", "state": ""}
            assert replace(one, **named) == replace(other, **named)
            if jobs.history(ledger, right).payments:
                told = [paper(ledger, job, RECEIPT, NOW).payments for job in (wrong, right)]
                assert told[0] == told[1]


def thirty_a_day(days: int) -> int:
    return max(0, days - 30) * 200


def told(ledger: Ledger, job: str = "blue") -> None:
    for state in ("at-work", "ready", "told"):
        jobs.move(ledger, job, state, at("2026-10-12 16:00"))


def test_storage_is_due_everywhere_and_stays_when_it_is_collected(tmp_path: Path) -> None:
    late = at("2026-11-26 10:00")
    storage = jobs.Storage(late, thirty_a_day)
    with begun(tmp_path) as ledger:
        accepted(ledger)
        told(ledger)
        assert jobs.account(ledger, "blue", storage).balance == 20000 + 3000
        sheet = paper(ledger, "blue", INVOICE, late, storage)
        assert ("Storage, any tax on it included", 3000) in [
            (line.words, line.amount) for line in sheet.lines
        ]
        assert sheet.total is not None
        assert sheet.total.amount == 23000
        found = jobs.pay(ledger, "blue", "payment", 20000, late, storage=storage)
        assert found.balance == 3000
        assert jobs.move(ledger, "blue", "collected", late, storage=storage).state == "collected"
        # what is charged once does not grow, and stays though nobody names the terms
        assert (
            jobs.account(ledger, "blue", jobs.Storage(at("2027-01-01 09:00"), thirty_a_day)).balance == 3000
        )
        assert "Storage" in receipt(ledger, "blue", "", late)
        jobs.pay(ledger, "blue", "payment", 3000, late)
        assert jobs.account(ledger, "blue").state == "paid"


def test_a_bench_fee_that_was_paid_counts_once_and_up_to_what_is_due(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger, fee_paid=3000)
        jobs.give_quote(ledger, "blue", offered(fee_paid=3000), NOW)
        assert [one.kind for one in jobs.history(ledger, "blue").payments] == ["bench-fee"]
        assert jobs.account(ledger, "blue").balance == 17000
        assert "Bench fee" in receipt(ledger, "blue", "", NOW)
        jobs.move(ledger, "blue", "declined", NOW)
        assert jobs.account(ledger, "blue").balance == 0
        accepted(ledger, "small", to_pay=2000, tax=0, fee_paid=3000)
        assert jobs.account(ledger, "small").balance == 0
        assert jobs.pay(ledger, "small", "refund", 500, NOW).balance == 0


def test_a_quote_holds_the_fee_that_its_job_says_is_paid_whoever_gives_it() -> None:
    """Command, numbered workbook and page all keep this record: none of them has to think of the fee."""
    shop = default_shop()
    for kind, said, fee in (("commission", "yes", 3000), ("commission", "no", 0), ("own", "yes", 0)):
        text = f'[job]\nid = "x"\nkind = "{kind}"\n[instrument]\nkind = "guitar-solid"\n[terms]\nbench_fee_paid = "{said}"\n'
        study = study_job(shop, job_from(parse_toml(text.encode(), "x.toml"), shop))
        assert quote_record(make_choice_of(study, ("clean-controls",))).fee_paid == fee


def test_a_customers_job_is_neither_bought_nor_sold(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        for kind in jobs.FOR_OWN_ONLY:
            with pytest.raises(InputError, match="neither bought nor sold"):
                jobs.pay(ledger, "blue", kind, 100, NOW)
        assert not jobs.history(ledger, "blue").payments


def test_no_quote_replaces_the_one_a_job_was_collected_under(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        first = accepted(ledger)
        later = jobs.give_quote(ledger, "blue", offered(3219, 0), at("2026-10-06 09:00"))
        collected(ledger)
        jobs.move(ledger, "blue", "returned", NOW)
        for state in ("returned", "at-work"):
            with pytest.raises(InputError, match="book new work"):
                jobs.accept(ledger, "blue", later, None, NOW)
            # nor is one given that nobody could accept
            with pytest.raises(InputError, match="book new work"):
                jobs.give_quote(ledger, "blue", offered(3219, 0), NOW)
            assert jobs.history(ledger, "blue").accepted_quote == first, state
            jobs.move(ledger, "blue", "at-work", NOW)


def test_an_invoice_is_never_in_use_again(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        first = accepted(ledger)
        second = jobs.give_quote(ledger, "blue", offered(30000, 0), NOW)
        numbers = []
        for quote in (first, second, first, first):
            jobs.accept(ledger, "blue", quote, None, NOW)
            numbers.append(paper(ledger, "blue", INVOICE, NOW).number)
        assert numbers == ["I2026-001", "I2026-002", "I2026-003", "I2026-003"]
        facts = dict(paper(ledger, "blue", INVOICE, NOW).facts)
        assert facts["Takes the place of"] == "I2026-001, I2026-002"


def test_a_corrected_time_stays_in_its_month(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        number = timers.typed(ledger, "blue", "strings", 3600, at("2026-10-12 16:00")).spell
        collected(ledger)
        jobs.move(ledger, "blue", "returned", at("2026-11-20 10:00"))
        timers.correct(ledger, number, 1800, at("2026-12-01 10:00"))
        assert hours_by_month(ledger) == [MonthHours("2026-10", client_s=1800, own_s=0, warranty_s=0)]


def no_storage(days: int) -> int:
    return 0


def test_the_board_and_the_reports_hold_what_is_owed_on_closed_jobs(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        for job in ("unpaid", "settled", "over", "gone", "goodwill"):
            accepted(ledger, job)
        collected(ledger, "unpaid")
        for job, cents in (("settled", 20000), ("over", 20100), ("goodwill", 20000)):
            jobs.pay(ledger, job, "payment", cents, NOW)
            collected(ledger, job)
        jobs.pay(ledger, "goodwill", "refund", 4000, NOW)
        jobs.pay(ledger, "gone", "deposit", 5000, NOW)
        jobs.move(ledger, "gone", "declined", NOW)
        for donor in ("donor", "other"):
            jobs.book(ledger, booking(donor, "resale"), NOW)
            for state in ("at-work", "ready", "listed", "sold"):
                jobs.move(ledger, donor, state, NOW)
        jobs.pay(ledger, "other", "sale", 26000, NOW)
        found = board(ledger, jobs.Storage(NOW, no_storage))
        owed = {row.job: row.note for row in found["owed"]}
        assert owed == {
            "unpaid": "200.00 USD owed by the customer",
            "over": "1.00 USD owed to the customer",
            "gone": "50.00 USD owed to the customer",
            "donor": "sold, and no sale is recorded",
        }
        assert all_reports(ledger).money_owed == found["owed"]
        jobs.move(ledger, "unpaid", "returned", NOW)
        (row,) = board(ledger, jobs.Storage(NOW, no_storage))["in"]
        assert row.note == "200.00 USD owed by the customer"


def test_a_parcel_after_the_promise_is_told_in_the_row_of_its_job(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        for job, day in (("blue", 10), ("red", 20)):
            accepted(ledger, job)
            jobs.accept(ledger, job, None, date(2026, 11, day), NOW)
            tell_parcel(ledger, Parcel("north", job=job, upgrade="tuners"), date(2026, 11, 15), NOW)
        found = board(ledger, jobs.Storage(NOW, no_storage))["in"]
        assert {row.job: row.note for row in found} == {
            "blue": "tuners for blue from north is expected on 2026-11-15, after the promise",
            "red": "",
        }


def test_a_paused_task_is_ended_not_typed_beside_itself(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        timers.begin(ledger, "blue", "strings", NOW)
        timers.pause(ledger, at("2026-11-01 09:20"))
        with pytest.raises(InputError) as caught:
            timers.end(ledger, at("2026-11-01 09:30"))
        assert "estimator ledger end blue strings" in str(caught.value.issues[0])
        assert "ledger time" not in str(caught.value.issues[0])
        assert timers.end(ledger, NOW, "blue", "strings").taken_s == 1200


def test_a_job_that_comes_back_holds_no_parts_of_the_stock_again(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger, needs={"tuner": 6 * MILLION})
        stock_move(ledger, "bought", "tuner", 8 * MILLION, NOW)
        assert stock(ledger)[0].reserved == 6 * MILLION
        collected(ledger)
        for state in ("returned", "at-work"):
            jobs.move(ledger, "blue", state, NOW)
            assert stock(ledger)[0].reserved == 0

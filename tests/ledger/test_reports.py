"""Reports with figures worked out by hand."""

from __future__ import annotations

from pathlib import Path

from estimator.ledger import jobs, reports, timers
from estimator.ledger.stock import Beside, stock_move
from tests.ledger.shop import accepted, at, begun, booking


def test_estimate_against_actual_by_job_and_task(tmp_path: Path) -> None:
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        accepted(ledger, "blue", seconds={"nut": 1200, "frets": 3600, "wiring": 600})
        accepted(ledger, "red", seconds={"nut": 1200})
        timers.typed(ledger, "blue", "nut", 1500, now)
        timers.typed(ledger, "blue", "search", 300, now)
        timers.correct(ledger, timers.typed(ledger, "blue", "frets", 9000, now)["spell"], 3000, now)
        timers.typed(ledger, "red", "nut", 1500, now)
        rows = reports.estimate_against_actual(ledger, "blue")
        assert [(r["task"], r["planned_s"], r["taken_s"], r["beyond_s"]) for r in rows] == [
            ("frets", 3600, 3000, -600), ("nut", 1200, 1500, 300), ("search", None, 300, None), ("wiring", 600, 0, -600),
        ]  # fmt: skip
        assert reports.by_task(reports.estimate_against_actual(ledger)) == []
        for job in ("blue", "red"):
            for state in ("at-work", "ready"):
                jobs.move(ledger, job, state, now)
        found = {row["task"]: row for row in reports.by_task(reports.estimate_against_actual(ledger))}
        assert found["nut"] == {
            "task": "nut",
            "jobs": 2,
            "planned_s": 2400,
            "taken_s": 3000,
            "taken_percent": 125,
        }
        assert set(found) == {"nut", "frets"}


def test_pay_per_hour_by_kind(tmp_path: Path) -> None:
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        for job, sum_ in (("blue", 20000), ("red", 11600)):
            accepted(ledger, job, to_pay=sum_, tax=1600, materials=3000)
            timers.typed(ledger, job, "work", 5400, now)
            for state in ("at-work", "ready", "collected"):
                jobs.move(ledger, job, state, now)
        accepted(ledger, "open", to_pay=99900)
        jobs.book(ledger, booking("donor", "resale", ""), now)
        jobs.pay(ledger, "donor", "purchase", 6000, now)
        jobs.pay(ledger, "donor", "sale", 16001, now)
        timers.typed(ledger, "donor", "work", 7200, now)
        for state in ("at-work", "ready", "listed", "sold"):
            jobs.move(ledger, "donor", state, now)
        client, resale = reports.pay_per_hour(ledger)
        # (184.00 - 30.00) + (100.00 - 30.00) over three hours; 100.01 over two, half up
        assert (client["jobs"], client["left_cents"], client["taken_s"], client["per_hour_cents"]) == (
            2,
            22400,
            10800,
            7467,
        )
        assert (resale["left_cents"], resale["per_hour_cents"]) == (10001, 5001)


def test_cash_by_month_of_the_shops_calendar(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        jobs.pay(ledger, "blue", "deposit", 5000, at("2026-10-31 23:30"))
        jobs.pay(ledger, "blue", "payment", 16000, at("2026-11-01 00:30"))
        jobs.pay(ledger, "blue", "refund", 1000, at("2026-11-02 09:00"))
        stock_move(
            ledger, "bought", "strings", 10**6, at("2026-11-03 09:00"), Beside(cents=2500, currency="USD")
        )
        found = [[row[k] for k in ("month", "in_cents", "out_cents", "stock_cents", "left_cents")]
                 for row in reports.cash_by_month(ledger)]  # fmt: skip
        assert found == [["2026-10", 5000, 0, 0, 5000], ["2026-11", 16000, 1000, 2500, 12500]]

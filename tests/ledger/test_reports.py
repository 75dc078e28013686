"""Reports with figures worked out by hand."""

from __future__ import annotations

import io
import random
from datetime import date
from pathlib import Path
from xml.etree.ElementTree import fromstring as parse

import pytest

from estimator.ledger import jobs, reports, timers
from estimator.ledger.records import MonthHours, TaskHours, TaskOverall, WarrantyWork
from estimator.ledger.stock import Beside, stock_move
from estimator.ledger.store import Ledger
from estimator.ledger.timers import correct, typed
from estimator.report.svg.ledger import drawings
from estimator.report.text.ledger import show_reports
from estimator.workbook.write.ledger import reports_bytes
from tests.ledger.shop import accepted, at, begun, booking


def test_estimate_against_actual_by_job_and_task(tmp_path: Path) -> None:
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        accepted(ledger, "blue", seconds={"nut": 1200, "frets": 3600, "wiring": 600})
        accepted(ledger, "red", seconds={"nut": 1200})
        timers.typed(ledger, "blue", "nut", 1500, now)
        timers.typed(ledger, "blue", "search", 300, now)
        timers.correct(ledger, timers.typed(ledger, "blue", "frets", 9000, now).spell, 3000, now)
        timers.typed(ledger, "red", "nut", 1500, now)
        rows = reports.estimate_against_actual(ledger, "blue")
        assert [(r.task, r.planned_s, r.taken_s, r.beyond_s) for r in rows] == [
            ("frets", 3600, 3000, -600),
            ("nut", 1200, 1500, 300),
            ("search", None, 300, None),
            ("wiring", 600, 0, -600),
        ]
        assert reports.by_task(ledger) == []
        for job in ("blue", "red"):
            for state in ("at-work", "ready"):
                jobs.move(ledger, job, state, now)
        found = {row.task: row for row in reports.by_task(ledger)}
        assert found["nut"] == TaskOverall(
            task="nut", jobs=2, planned_s=2400, taken_s=3000, taken_percent=125
        )
        assert set(found) == {"nut", "frets"}


def test_by_task_is_the_sum_of_the_jobs(tmp_path: Path) -> None:
    """Drawn jobs: the sums of the file are those of the rows of each job, added up one by one."""
    rng = random.Random(3)
    now = at("2026-10-06 09:00")
    tasks = ("nut", "frets", "wiring", "paint")
    with begun(tmp_path) as ledger:
        for number in range(25):
            name = f"job-{number}"
            accepted(
                ledger, name, seconds={task: rng.randrange(0, 4000, 400) for task in rng.sample(tasks, 3)}
            )
            for _ in range(rng.randrange(6)):
                spell = timers.typed(ledger, name, rng.choice(tasks), rng.randrange(60, 5000), now).spell
                if rng.random() < 0.3:
                    timers.correct(ledger, spell, rng.choice([0, 600]), now)
            for state in ("at-work", "ready")[: rng.randrange(3)]:
                jobs.move(ledger, name, state, now)
        expected: dict[str, list[int]] = {}
        for row in reports.estimate_against_actual(ledger):
            if row.planned_s and row.taken_s and row.state == "ready":
                sums = expected.setdefault(row.task, [0, 0, 0])
                for at_, more in enumerate((1, row.planned_s, row.taken_s)):
                    sums[at_] += more
        found = {r.task: [r.jobs, r.planned_s, r.taken_s] for r in reports.by_task(ledger)}
    assert found == expected
    assert len(found) == 4


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
        assert (client.jobs, client.left, client.taken_s, client.per_hour) == (
            2,
            22400,
            10800,
            7467,
        )
        assert (resale.left, resale.per_hour) == (10001, 5001)
        # what is given back once the price was paid is no pay: 20.00 of 200.00 with 16.00 of tax in it
        jobs.pay(ledger, "blue", "payment", 20000, now)
        jobs.pay(ledger, "blue", "refund", 2000, now)
        jobs.pay(ledger, "red", "payment", 12600, now)
        jobs.pay(ledger, "red", "refund", 1000, now)  # what was paid too much: the price stays
        client, after = reports.pay_per_hour(ledger)
        assert client.left == 22400 - 1840
        assert client.per_hour == 6853
        assert after == resale


def test_a_pay_of_few_times_is_told_as_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ten minutes written down of hours of work make hundreds an hour: that is said beside it."""
    now = at("2026-10-06 09:00")
    with begun(tmp_path) as ledger:
        accepted(ledger, "blue", to_pay=20000, seconds={"nut": 1200, "frets": 3600})
        accepted(ledger, "open", seconds={"nut": 1200})
        timers.typed(ledger, "blue", "nut", 2340, now)
        for state in ("at-work", "ready", "collected"):
            jobs.move(ledger, "blue", state, now)
        assert [row.planned_s for row in reports.pay_per_hour(ledger)] == [4800]
        show_reports(reports.all_reports(ledger))
        assert "less than half of the hours as quoted" in " ".join(capsys.readouterr().out.split())
        timers.typed(ledger, "blue", "frets", 120, now)
        show_reports(reports.all_reports(ledger))
        assert "less than half" not in capsys.readouterr().out


def test_cash_by_month_of_the_shops_calendar(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        accepted(ledger)
        jobs.pay(ledger, "blue", "deposit", 5000, at("2026-10-31 23:30"))
        jobs.pay(ledger, "blue", "payment", 16000, at("2026-11-01 00:30"))
        jobs.pay(ledger, "blue", "refund", 1000, at("2026-11-02 09:00"))
        stock_move(
            ledger, "bought", "strings", 10**6, at("2026-11-03 09:00"), Beside(cents=2500, currency="USD")
        )
        found = [
            [row.month, row.came_in, row.out, row.stock, row.left] for row in reports.cash_by_month(ledger)
        ]
        assert found == [["2026-10", 5000, 0, 0, 5000], ["2026-11", 16000, 1000, 2500, 12500]]


def come_back(ledger: Ledger) -> None:
    """A job that was done in September and came back in October: an hour, 20.00 given back, a set of strings at 7.00."""
    accepted(ledger)
    stock_move(
        ledger, "bought", "strings", 2_000_000, at("2026-10-05 10:00"), Beside(cents=1400, currency="USD")
    )
    typed(ledger, "blue", "nut", 7200, at("2026-10-06 10:00"))
    jobs.move(ledger, "blue", "at-work", at("2026-10-06 10:00"))
    jobs.move(ledger, "blue", "ready", at("2026-10-06 11:00"))
    jobs.pay(ledger, "blue", "payment", 20000, at("2026-10-06 11:00"))
    jobs.move(ledger, "blue", "collected", at("2026-10-07 11:00"))
    jobs.move(ledger, "blue", "returned", at("2026-11-02 11:00"))
    typed(ledger, "blue", "nut", 3600, at("2026-11-02 12:00"))
    stock_move(ledger, "used", "strings", 1_000_000, at("2026-11-02 12:00"), Beside("blue"))
    stock_move(ledger, "bought", "glue", 1_000_000, at("2026-11-02 12:00"))
    stock_move(ledger, "used", "glue", 1_000_000, at("2026-11-02 12:00"), Beside("blue"))
    jobs.pay(ledger, "blue", "refund", 2000, at("2026-11-03 12:00"))


def test_what_the_warranty_took(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        come_back(ledger)
        assert reports.warranty(ledger) == [
            WarrantyWork(
                kind="commission",
                currency="USD",
                jobs=1,
                returned=1,
                taken_s=3600,
                refund=2000,
                unpriced=1,
                materials=700,
                returned_percent=100,
            )
        ]


def test_where_the_hours_went(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        come_back(ledger)
        jobs.book(ledger, booking("bass", "own", ""), at("2026-11-04 09:00"))
        typed(ledger, "bass", "frets", 3600, at("2026-11-04 10:00"))
        struck = typed(ledger, "bass", "paint", 3600, at("2026-11-04 10:00")).spell
        correct(ledger, struck, 0, at("2026-11-04 10:01"))
        assert reports.hours_by_task(ledger) == [
            TaskHours(task="nut", jobs=1, taken_s=10800, share_percent=75),
            TaskHours(task="frets", jobs=1, taken_s=3600, share_percent=25),
        ]
        assert reports.hours_by_month(ledger) == [
            MonthHours("2026-10", client_s=7200, own_s=0, warranty_s=0),
            MonthHours("2026-11", client_s=0, own_s=3600, warranty_s=3600),
        ]


def test_the_drawings_hold_every_figure_to_scale(tmp_path: Path) -> None:
    with begun(tmp_path) as ledger:
        assert all("nothing is recorded yet" in one for one in drawings(reports.all_reports(ledger)).values())
        come_back(ledger)
        found = drawings(reports.all_reports(ledger))
    assert len(found) == 6
    for text in found.values():
        parse(text)
    cash = parse(found["cash-by-month.svg"])
    words = [one.text for one in cash.iter() if one.tag.endswith("text")]
    assert {"200.00 USD", "14.00 USD", "186.00 USD", "-20.00 USD"} <= set(words)
    wide = [float(one.attrib["width"]) for one in cash.iter() if one.tag.endswith("rect")][4:]
    figures = [20000, 1400, 18600, 0, 2000, 2000]
    assert [round(one / wide[0], 2) for one in wide] == [round(one / 20000, 2) for one in figures]


def test_the_workbook_of_reports_reads_back(tmp_path: Path) -> None:
    import openpyxl

    with begun(tmp_path) as ledger:
        come_back(ledger)
        found = reports.all_reports(ledger)
    book = openpyxl.load_workbook(io.BytesIO(reports_bytes(found, date(2026, 11, 4))))
    assert len(book.sheetnames) == 6
    rows = list(book["Cash by month"].iter_rows(values_only=True))
    assert rows[0][:3] == ("month", "currency", "in")
    assert rows[1] == ("2026-10", "USD", 200, 0, 14, 186)
    went = [row[2] for row in book["Where the hours went"].iter_rows(values_only=True)]
    assert [one for one in went if one is not None] == ["taken, hours", 3]
    by_month = book["Cash by month"]
    (chart,) = by_month._charts
    heads = [[by_month[f"{'ABCDEF'[n]}1"].value for n in (2, 3, 4)]]
    drawn = [series.val.numRef.f.replace("$", "") for series in chart.series]
    assert drawn == [f"'Cash by month'!{column}2:{column}3" for column in "CDE"], heads


def test_hours_by_month_go_by_the_shops_clock(tmp_path: Path) -> None:
    """Half past midnight in a shop two hours ahead is the evening before in UTC, and the month before too."""
    with begun(tmp_path) as ledger:
        accepted(ledger)
        typed(ledger, "blue", "nut", 3600, at("2026-11-01 00:30"))
        typed(ledger, "blue", "nut", 60, at("2026-10-31 23:30"))
        assert [(row.month, row.client_s) for row in reports.hours_by_month(ledger)] == [
            ("2026-10", 60),
            ("2026-11", 3600),
        ]

"""A ledger with jobs in it, for the tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from estimator.ledger import jobs
from estimator.ledger.clock import Moment
from estimator.ledger.store import Ledger


def at(text: str) -> Moment:
    """A moment of a shop two hours ahead of UTC, by its own clock."""
    return Moment(datetime.fromisoformat(text).replace(tzinfo=UTC) - timedelta(hours=2), 120)


def booking(job: str = "blue", kind: str = "commission", customer: str = "A. Customer") -> jobs.Booking:
    return jobs.Booking(job, kind, "less hum", "guitar-solid", "USD", customer, "555 0100", serial="S123")


def offered(to_pay: int = 20000, tax: int = 1600, **more: object) -> jobs.Offered:
    lines = [{"what": "Work", "amount": f"{(to_pay - tax) / 100:.2f}"}]
    return jobs.Offered(to_pay - tax, tax, to_pay, "USD", lines, **more)  # type: ignore[arg-type]


def begun(tmp_path: Path) -> Ledger:
    return Ledger(tmp_path / "ledger.sqlite", new=True)


def accepted(ledger: Ledger, job: str = "blue", **more: object) -> str:
    """A job booked, quoted and accepted; returns the number of its quote."""
    jobs.book(ledger, booking(job), at("2026-10-05 09:00"))
    number = jobs.give_quote(ledger, job, offered(**more), at("2026-10-05 09:05"))  # type: ignore[arg-type]
    jobs.accept(ledger, job, None, None, at("2026-10-05 09:10"))
    return number

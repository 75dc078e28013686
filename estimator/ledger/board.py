"""The promise board: what is in, what waits, what is due or late, what is ready and not told; storage."""

from __future__ import annotations

from datetime import date, timedelta

from msgspec.structs import replace

from estimator.core.amounts import Cents
from estimator.core.text import money
from estimator.ledger.jobs import Storage, account
from estimator.ledger.parcels import parcel_news
from estimator.ledger.records import BoardRow
from estimator.ledger.states import CLOSED, UNDER_WAY
from estimator.ledger.store import Ledger

DUE_DAYS = 3
"""Days ahead that a promise counts as due."""
SINCE = "strftime('%Y-%m-%d', step.at, step.ahead_min || ' minutes') AS since"
"""The day of the last step by the shop's clock."""
OPEN = ("asked", "quoted", *UNDER_WAY, "ready", "told", "listed")
HEADINGS = {
    "late": "Late",
    "due": "Due",
    "waiting": "Waiting for parts",
    "in": "In, or at work",
    "untold": "Ready and not told",
    "stored": "Told, not collected",
    "asked": "Asked or quoted, no answer yet",
    "listed": "For sale",
    "owed": "Money owed",
}


def board(ledger: Ledger, storage: Storage) -> dict[str, list[BoardRow]]:
    """Open jobs by what they ask for now; each stands once, under the first heading that is true of it.

    Beside them what is closed and not settled: money owed to the shop, or by it. A parcel that is expected only
    after the day promised is told in the row of its job.
    """
    now = storage.now
    marks = ", ".join("?" * len(OPEN))
    rows = ledger.told(
        BoardRow,
        "SELECT job.id AS job, job.what, job.kind, job.state, job.promised, job.currency,"
        f" COALESCE(customer.name, '') AS customer, {SINCE} FROM job"
        " LEFT JOIN customer ON customer.id = job.customer"
        " JOIN step ON step.id = (SELECT MAX(id) FROM step WHERE step.job = job.id)"
        f" WHERE job.state IN ({marks}) ORDER BY COALESCE(job.promised, '9999'), step.at, job.id",
        OPEN,
    )
    found: dict[str, list[BoardRow]] = {name: [] for name in HEADINGS}
    for row in rows:
        days = (now.day - date.fromisoformat(row.since)).days
        told = replace(row, note=_note(ledger, row, storage))
        if told.state == "told":
            told = replace(told, stored_days=days, storage=storage.charge(days))
        found[_heading(told, now.day)].append(told)
    found["owed"] = money_owed(ledger)
    return found


def money_owed(ledger: Ledger) -> list[BoardRow]:
    """Jobs that are closed and not settled: owed to the shop (above zero), to the customer (below), or a sale unsaid."""
    marks = ", ".join("?" * len(CLOSED))
    rows = ledger.told(
        BoardRow,
        "SELECT job.id AS job, job.what, job.kind, job.state, job.promised, job.currency,"
        f" COALESCE(customer.name, '') AS customer, {SINCE} FROM job"
        " LEFT JOIN customer ON customer.id = job.customer"
        " LEFT JOIN quote ON quote.number = job.accepted_quote"
        " JOIN step ON step.id = (SELECT MAX(id) FROM step WHERE step.job = job.id)"
        # what is paid to the cent and was never given back needs no closer look
        f" WHERE job.state IN ({marks}) AND (job.kind <> 'commission' OR job.state = 'declined'"
        "  OR EXISTS (SELECT 1 FROM payment WHERE payment.job = job.id AND cents < 0)"
        "  OR COALESCE(quote.to_pay_cents, 0) + (SELECT COALESCE(SUM(cents), 0) FROM charge WHERE charge.job = job.id)"
        "   <> (SELECT COALESCE(SUM(cents), 0) FROM payment WHERE payment.job = job.id))"
        " ORDER BY step.at, job.id",
        CLOSED,
    )
    owed = []
    for row in rows:
        left = account(ledger, row.job).balance
        if note := _owed_words(ledger, row, left):
            owed.append(replace(row, owed=left, note=note))
    return owed


def _owed_words(ledger: Ledger, row: BoardRow, left: Cents | None) -> str:
    """Who owes what on a job; blank where nobody does."""
    if row.kind != "commission":
        sold = ledger.row(
            "SELECT 1 FROM payment WHERE job = ? AND kind = 'sale' GROUP BY job HAVING SUM(cents) > 0",
            (row.job,),
        )
        return "sold, and no sale is recorded" if row.state == "sold" and sold is None else ""
    if not left:
        return ""
    return f"{money(abs(left), row.currency)} owed {'by' if left > 0 else 'to'} the customer"


def _note(ledger: Ledger, row: BoardRow, storage: Storage) -> str:
    """What is out of order with an open job: money that is owed already, a parcel that comes after the promise."""
    notes = []
    left = account(ledger, row.job, storage).balance
    collected = "SELECT id FROM step WHERE job = ? AND state = 'collected'"
    if left and (left < 0 or ledger.row(collected, (row.job,))):
        notes.append(_owed_words(ledger, row, left))
    if row.promised and row.state in UNDER_WAY:
        notes += [
            f"{parcel.words()} is expected on {day}, after the promise"
            for parcel, day in parcel_news(ledger).items()
            if day is not None and parcel.job == row.job and day.isoformat() > row.promised
        ]
    return "; ".join(notes)


def _heading(row: BoardRow, today: date) -> str:
    state, promised = row.state, row.promised
    if state in ("asked", "quoted"):
        return "asked"
    if state in ("told", "listed"):
        return "stored" if state == "told" else "listed"
    if state == "ready":
        return "untold" if row.kind == "commission" else "in"
    if promised and promised < today.isoformat():
        return "late"
    if promised and promised <= (today + timedelta(days=DUE_DAYS)).isoformat():
        return "due"
    return "waiting" if state == "waiting" else "in"

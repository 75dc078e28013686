"""The promise board: what is in, what waits, what is due or late, what is ready and not told; storage."""

from __future__ import annotations

from datetime import date, timedelta

from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.states import UNDER_WAY
from estimator.ledger.store import Ledger, Row

DUE_DAYS = 3
"""Days ahead that a promise counts as due."""
OPEN = ("asked", "quoted", *UNDER_WAY, "ready", "told", "listed")
HEADINGS = {
    "late": "Late", "due": "Due", "waiting": "Waiting for parts", "in": "In, or at work", "untold": "Ready and not told",
    "stored": "Told, not collected", "asked": "Asked or quoted, no answer yet", "listed": "For sale",
}  # fmt: skip


def board(ledger: Ledger, now: Moment, free_days: int, per_day_cents: int) -> dict[str, list[Row]]:
    """Open jobs by what they ask for now; each stands once, under the first heading that is true of it."""
    marks = ", ".join("?" * len(OPEN))
    rows = ledger.rows(
        "SELECT job.id AS job, job.what, job.kind, job.state, job.promised, job.currency,"
        " COALESCE(customer.name, '') AS customer, step.at, step.ahead_min FROM job"
        " LEFT JOIN customer ON customer.id = job.customer"
        " JOIN step ON step.id = (SELECT MAX(id) FROM step WHERE step.job = job.id)"
        f" WHERE job.state IN ({marks}) ORDER BY COALESCE(job.promised, '9999'), step.at, job.id",
        OPEN,
    )
    found: dict[str, list[Row]] = {name: [] for name in HEADINGS}
    for row in rows:
        since = kept_moment(row.pop("at"), row.pop("ahead_min")).day
        row["since"] = since.isoformat()
        days = (now.day - since).days
        if row["state"] == "told":
            row["stored_days"] = days
            row["storage_cents"] = max(0, days - free_days) * per_day_cents
        found[_heading(row, now.day)].append(row)
    return found


def _heading(row: Row, today: date) -> str:
    state, promised = row["state"], row["promised"]
    if state in ("asked", "quoted"):
        return "asked"
    if state in ("told", "listed"):
        return "stored" if state == "told" else "listed"
    if state == "ready":
        return "untold" if row["kind"] == "commission" else "in"
    if promised and promised < today.isoformat():
        return "late"
    if promised and promised <= (today + timedelta(days=DUE_DAYS)).isoformat():
        return "due"
    return "waiting" if state == "waiting" else "in"

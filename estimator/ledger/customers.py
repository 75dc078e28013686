"""A customer's data: shown and erased on request."""

from __future__ import annotations

from estimator.core.errors import refused_word
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import history
from estimator.ledger.records import CustomerHistory, Erased, InstrumentHistory
from estimator.ledger.states import OPEN_WITH_CUSTOMER, WORDS
from estimator.ledger.store import Ledger, Row


def customer_row(ledger: Ledger, name: str) -> Row:
    """A customer by the name; InputError with what is nearest where there is none."""
    found = ledger.row("SELECT * FROM customer WHERE name = ?", (name,))
    if found is None:
        known = [str(row["name"]) for row in ledger.rows("SELECT name FROM customer WHERE erased_at IS NULL")]
        raise refused_word(
            ledger.where,
            "there is no customer of this name",
            name,
            known,
            "a name as it was booked",
            "estimator ledger board shows names",
        )
    return found


def show_customer(ledger: Ledger, name: str) -> CustomerHistory:
    """All that is kept of a customer."""
    row = customer_row(ledger, name)
    ids = [
        str(it["id"]) for it in ledger.rows("SELECT id FROM job WHERE customer = ? ORDER BY id", (row["id"],))
    ]
    return CustomerHistory(row["name"], row["contact"], [history(ledger, job) for job in ids])


def show_instrument(ledger: Ledger, serial: str) -> InstrumentHistory:
    """All jobs on an instrument, by its serial number, whoever brought it; spaces and case make no other one."""
    plain = "".join(serial.split()).casefold()
    rows = ledger.rows("SELECT id, serial FROM job WHERE serial <> '' ORDER BY id")
    ids = [str(row["id"]) for row in rows if "".join(row["serial"].split()).casefold() == plain]
    if not ids:
        raise refused_word(
            ledger.where,
            "there is no instrument of this serial number",
            serial,
            [str(row["serial"]) for row in rows],
            "a serial number as a job file gives it ([job] serial)",
            "estimator ledger show JOB shows it",
        )
    jobs = [history(ledger, job) for job in ids]
    return InstrumentHistory(serial, sorted(jobs, key=lambda job: job.steps[0].at))


def erase_customer(ledger: Ledger, name: str, now: Moment) -> Erased:
    """Take name, contact, serial numbers, job file, photos, what was agreed in words and every remark away.

    The figures stay for the books, invoices by their number; the photos themselves lie where they lay.

    InputError while a job of theirs is open: their instrument is in the shop, or money is owed.
    """
    with ledger.writing():
        row = customer_row(ledger, name)
        jobs = ledger.rows("SELECT id, state FROM job WHERE customer = ? ORDER BY id", (row["id"],))
        still = [f"{job['id']} ({WORDS[job['state']]})" for job in jobs if job["state"] in OPEN_WITH_CUSTOMER]
        if still:
            raise ledger.refusal(
                "jobs of this customer are open",
                ", ".join(still),
                "jobs that are paid or declined",
                "settle them first: estimator ledger move JOB STATE",
            )
        ledger.write(
            "UPDATE customer SET name = ?, contact = '', erased_at = ? WHERE id = ?",
            (f"erased {row['id']}", now.text, row["id"]),
        )
        for job in jobs:
            ledger.write(
                "UPDATE job SET serial = '', make = '', what = '', file = '' WHERE id = ?", (job["id"],)
            )
            # a step's remark that names a quote is the shop's own; others may name people
            ledger.write(
                "UPDATE step SET remark = '' WHERE job = ? AND remark NOT IN (SELECT number FROM quote)",
                (job["id"],),
            )
            for table in ("photo", "agreed"):
                ledger.write(f"DELETE FROM {table} WHERE job = ?", (job["id"],))
            for table in ("payment", "spell", "stock_move", "parcel_news"):
                ledger.write(f"UPDATE {table} SET remark = '' WHERE job = ?", (job["id"],))
    ledger.forget_deleted()
    return Erased(f"erased {row['id']}", [job["id"] for job in jobs])

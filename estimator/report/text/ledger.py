"""What the ledger holds, on a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import UNSET

from estimator.core.amounts import Millionths, Seconds
from estimator.core.text import moment, money
from estimator.ledger.board import HEADINGS
from estimator.ledger.clock import kept_moment, minutes_text
from estimator.ledger.jobs import Account, balance_line
from estimator.ledger.records import BoardRow, GivenQuote, Payment, ShelfRow, TaskTimes
from estimator.ledger.reports import Reports
from estimator.ledger.states import WORDS
from estimator.report.records.ledger import quantity
from estimator.report.text.terminal import put, show_table

Row = dict[str, Any]


def show_board(board: Mapping[str, Sequence[BoardRow]]) -> None:
    """The promise board, heading by heading; headings without jobs are left out."""
    for name, rows in board.items():
        if rows:
            noted = any(row.note for row in rows)
            show_table(
                f"{HEADINGS[name]} ({len(rows)})",
                (
                    "job",
                    "customer",
                    "is",
                    "since",
                    "promised",
                    "days stored",
                    "storage",
                    *(["mind"] if noted else []),
                ),
                [
                    (
                        row.job,
                        row.customer,
                        WORDS[row.state],
                        row.since,
                        row.promised or "",
                        "" if row.stored_days is UNSET else str(row.stored_days),
                        money(row.storage, row.currency) if row.storage else "",
                        *([row.note] if noted else []),
                    )
                    for row in rows
                ],
                right=(5, 6),
            )
    if not any(board.values()):
        put("No job is open.")


def show_parcels(rows: Sequence[Row]) -> None:
    """Parcels that are late, with the day on which each is expected now."""
    if not rows:
        put("No parcel is late.")
        return
    show_table(
        "Parcels that are late",
        ("from", "what", "expected", ""),
        [
            (
                row["seller"],
                f"{row['upgrade']} for {row['job']}" if row["upgrade"] else row["item"] or "all of it",
                row["expected"],
                "has it come?" if row["overdue"] else "",
            )
            for row in rows
        ],
    )


def show_job(job: Row) -> None:
    """All that the ledger holds of a job."""
    put(f"{job['id']}: {job['what']} ({WORDS[job['state']]})")
    if job["customer"]:
        put(f"customer: {job['customer']}" + (f", {job['contact']}" if job["contact"] else ""))
    words = [job["instrument"], job["make"], f"serial {job['serial']}" if job["serial"] else ""]
    put("instrument: " + ", ".join(word for word in words if word))
    if job["promised"]:
        put(f"promised: {job['promised']}")
    show_table(
        "Steps",
        ("when", "is", "remark"),
        [(_when(row), WORDS[row["state"]], row["remark"]) for row in job["steps"]],
    )
    if job["quotes"]:
        asked = "to pay" if job["kind"] == "commission" else "cost"
        show_table(
            "Quotes",
            ("number", "given", asked, ""),
            [
                (
                    row.number,
                    _when(row),
                    money(row.to_pay, row.currency),
                    "accepted" if row.number == job["accepted_quote"] else "",
                )
                for row in job["quotes"]
            ],
            right=(2,),
        )
    if job["agreed"]:
        show_table(
            "Agreed on the way",
            ("when", "words", "quote"),
            [(_when(row), row["words"], row["quote"] or "") for row in job["agreed"]],
        )
    if job["photos"]:
        show_table(
            "Photos",
            ("when", "file", "remark", ""),
            [
                (_when(row), row["path"], row["remark"], "the file is not there" if row["missing"] else "")
                for row in job["photos"]
            ],
        )
    for row in job["invoices"]:
        put(f"invoice {row['number']} of {_when(row)} for quote {row['quote']}")
    if job["payments"]:
        show_table(
            "Payments",
            ("when", "kind", "amount", "remark"),
            [(_when(row), row.kind, money(row.amount, row.currency), row.remark) for row in job["payments"]],
            right=(2,),
        )
    put(balance_words(job["account"]))


def balance_words(account: Account) -> str:
    """What was paid and what is left to pay."""
    paid = f"paid {money(account.paid, account.currency)}"
    if account.bought:
        came_in = account.paid
        left = money(came_in - account.bought, account.currency)
        bought = f"bought for {money(account.bought, account.currency)}"
        return f"{bought}; came in {money(came_in, account.currency)}: {left}" if came_in else bought
    balance = balance_line(account)
    if balance is None:
        return f"{paid}; nothing was agreed to pay"
    words, due = balance
    off = account.lowered
    lowered = f"; {money(off, account.currency)} taken off what was agreed" if off else ""
    return f"{paid}{lowered}; {words[0].lower()}{words[1:]} {money(due, account.currency)}"


def _when(row: Row | GivenQuote | Payment) -> str:
    at, ahead_min = (row["at"], row["ahead_min"]) if isinstance(row, dict) else (row.at, row.ahead_min)
    return moment(kept_moment(at, ahead_min).local)


def show_running(rows: Sequence[Row]) -> None:
    """What runs and what is paused."""
    show_table(
        "Running",
        ("job", "task", "", "time"),
        [
            (
                row["job"],
                row["task"],
                "paused" if row["paused"] else row["kind"],
                f"ask: {row['forgotten']}" if row["forgotten"] else minutes_text(row["seconds"]),
            )
            for row in rows
        ],
    )


def show_times(job: str, rows: Sequence[Row]) -> None:
    """The times of a job; what was corrected is told with the number that took its place."""
    show_table(
        f"Times of {job}",
        ("number", "task", "time", "how", "recorded", "remark"),
        [
            (
                str(row["id"]),
                row["task"],
                minutes_text(row["seconds"]),
                f"corrected by {row['corrected_by']}" if row["corrected_by"] else row["source"],
                _when(row),
                "; ".join(word for word in ("done again" if row["redone"] else "", row["remark"]) if word),
            )
            for row in rows
        ],
        right=(0, 2),
    )


def show_stock(rows: Sequence[ShelfRow]) -> None:
    """What is left, held and free of every item, at what to order and how many; then what goes off."""
    show_table(
        "Stock",
        ("item", "left", "reserved", "free", "short", "order at", "order"),
        [
            (
                row.item,
                *map(_many, (row.left, row.reserved, row.free, row.short, row.order_point, row.to_order)),
            )
            for row in rows
        ],
        right=(1, 2, 3, 4, 5, 6),
    )
    if any(row.order_point is not None for row in rows):
        put(
            "order at: mean use a day x days till a parcel comes + 1.645 x spread of a day's use x root of the days,"
            " over the last year (common practice; short in one wait of twenty)"
        )
    for row in rows:
        if row.gone_off:
            put(
                f"{row.item}: {quantity(row.gone_off)} kept till {row.keeps_till}: look at it;"
                f" gone: estimator ledger stock spoiled {row.item} NUMBER"
            )
        elif row.soon_off:
            put(f"{row.item}: keeps till {row.keeps_till}: use it first")


def _many(millionths: Millionths | None) -> str:
    return "" if millionths is None else quantity(millionths)


def show_against(job: str, rows: Sequence[TaskTimes]) -> None:
    """Estimate against actual of one job."""
    show_table(
        f"Estimate against actual: {job}",
        ("task", "planned", "taken", "beyond"),
        [(row.task, _time(row.planned_s), _time(row.taken_s), _time(row.beyond_s)) for row in rows],
        right=(1, 2, 3),
    )
    planned, taken = (
        sum((row.planned_s or Seconds(0) for row in rows), Seconds(0)),
        sum((row.taken_s for row in rows), Seconds(0)),
    )
    put(f"in all: planned {minutes_text(planned)}, taken {minutes_text(taken)}")


def show_reports(of: Reports) -> None:
    """The reports over all jobs."""
    _show_work(of)
    _show_hours(of)
    _show_money(of)


def _show_work(of: Reports) -> None:
    show_table(
        "Estimate against actual by task, jobs that are ready",
        ("task", "jobs", "planned", "taken", "%"),
        [
            (
                row.task,
                str(row.jobs),
                _time(row.planned_s),
                _time(row.taken_s),
                str(row.taken_percent),
            )
            for row in of.by_task
        ],
        right=(1, 2, 3, 4),
    )
    show_table(
        "Pay per hour, jobs that are done",
        ("kind", "jobs", "left for the work", "hours", "per hour"),
        [
            (
                row.kind,
                str(row.jobs),
                money(row.left, row.currency),
                _time(row.taken_s),
                "no times" if row.per_hour is None else money(row.per_hour, row.currency),
            )
            for row in of.pay_per_hour
        ],
        right=(1, 2, 3, 4),
    )


def _show_hours(of: Reports) -> None:
    show_table(
        "Where the hours went",
        ("task", "jobs", "hours", "%"),
        [(row.task, str(row.jobs), _time(row.taken_s), str(row.share_percent)) for row in of.hours_by_task],
        right=(1, 2, 3),
    )
    show_table(
        "Hours by month",
        ("month", "customers", "the shop's own", "warranty"),
        [(row.month, *map(_time, (row.client_s, row.own_s, row.warranty_s))) for row in of.hours_by_month],
        right=(1, 2, 3),
    )


def _show_money(of: Reports) -> None:
    show_table(
        "Warranty, of jobs that were done",
        ("kind", "jobs", "came back", "%", "hours", "given back", "materials"),
        [
            (
                row.kind,
                str(row.jobs),
                str(row.returned),
                str(row.returned_percent),
                _time(row.taken_s),
                money(row.refund, row.currency),
                money(row.materials, row.currency)
                + (f" and {row.unpriced} without a price" if row.unpriced else ""),
            )
            for row in of.warranty
        ],
        right=(1, 2, 3, 4, 5, 6),
    )
    if of.money_owed:
        show_table(
            "Money owed, jobs that are closed",
            ("job", "customer", "is", "since", ""),
            [(row.job, row.customer, WORDS[row.state], row.since, row.note) for row in of.money_owed],
        )
    show_table(
        "Cash by month",
        ("month", "in", "out", "stock", "left"),
        [
            (
                row.month,
                *(money(sum_, row.currency) for sum_ in (row.came_in, row.out, row.stock, row.left)),
            )
            for row in of.cash_by_month
        ],
        right=(1, 2, 3, 4),
    )


def _time(seconds: int | None) -> str:
    if seconds is None:
        return ""
    return f"-{minutes_text(-seconds)}" if seconds < 0 else minutes_text(seconds)

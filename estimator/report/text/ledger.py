"""What the ledger holds, on a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from estimator.core.text import moment, money
from estimator.ledger.board import HEADINGS
from estimator.ledger.clock import kept_moment
from estimator.ledger.states import WORDS
from estimator.report.text.terminal import show_table

Row = dict[str, Any]


def show_board(board: Mapping[str, Sequence[Row]]) -> None:
    """The promise board, heading by heading; headings without jobs are left out."""
    for name, rows in board.items():
        if rows:
            show_table(
                f"{HEADINGS[name]} ({len(rows)})",
                ("job", "customer", "is", "since", "promised", "days stored", "storage"),
                [
                    (
                        row["job"], row["customer"], WORDS[row["state"]], row["since"], row["promised"] or "",
                        str(row.get("stored_days", "")),
                        money(row["storage_cents"], row["currency"]) if row.get("storage_cents") else "",
                    )
                    for row in rows
                ],
                right=(5, 6),
            )  # fmt: skip
    if not any(board.values()):
        print("No job is open.")


def show_job(job: Row) -> None:
    """All that the ledger holds of a job."""
    print(f"{job['id']}: {job['what']} ({WORDS[job['state']]})")
    if job["customer"]:
        print(f"customer: {job['customer']}" + (f", {job['contact']}" if job["contact"] else ""))
    words = [job["instrument"], job["make"], f"serial {job['serial']}" if job["serial"] else ""]
    print("instrument: " + ", ".join(word for word in words if word))
    if job["promised"]:
        print(f"promised: {job['promised']}")
    show_table("Steps", ("when", "is", "remark"), [
        (_when(row), WORDS[row["state"]], row["remark"]) for row in job["steps"]
    ])  # fmt: skip
    if job["quotes"]:
        show_table("Quotes", ("number", "given", "to pay", ""), [
            (row["number"], _when(row), money(row["to_pay_cents"], row["currency"]),
             "accepted" if row["number"] == job["accepted_quote"] else "")
            for row in job["quotes"]
        ], right=(2,))  # fmt: skip
    if job["payments"]:
        show_table("Payments", ("when", "kind", "amount", "remark"), [
            (_when(row), row["kind"], money(row["cents"], row["currency"]), row["remark"])
            for row in job["payments"]
        ], right=(2,))  # fmt: skip
    print(balance_words(job["account"]))


def balance_words(account: Row) -> str:
    """What was paid and what is left to pay."""
    paid = f"paid {money(account['paid_cents'], account['currency'])}"
    if account["balance_cents"] is None:
        return f"{paid}; nothing was agreed to pay"
    left = account["balance_cents"]
    words = "left to pay" if left >= 0 else "paid too much:"
    return f"{paid}; {words} {money(abs(left), account['currency'])}"


def _when(row: Row) -> str:
    return moment(kept_moment(row["at"], row["ahead_min"]).local)

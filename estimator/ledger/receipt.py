"""The words of a receipt: what was agreed, what was paid, what is left."""

from __future__ import annotations

from decimal import Decimal

from estimator.core.amounts import Cents
from estimator.core.text import day, money
from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.jobs import FROM_CUSTOMER, LOWERED, NAMES, Storage, balance_line, history
from estimator.ledger.store import Ledger

WIDTH = 60


def receipt(ledger: Ledger, job: str, shop_name: str, now: Moment, storage: Storage | None = None) -> str:
    """The receipt of a job as plain text; InputError where nothing was paid."""
    it = history(ledger, job, storage)
    paid = [row for row in it.payments if row.kind in FROM_CUSTOMER]
    if not paid:
        raise ledger.refusal(
            f"nothing was paid for {job}",
            "no payment",
            "a payment that was recorded",
            f"estimator ledger pay {job} SUM",
        )
    currency = it.currency
    lines = [*([shop_name] if shop_name else []), f"Receipt: {job}, {day(now.day)}"]
    lines += [f"For: {it.customer}"] if it.customer else []
    # what the shop says of its own instrument is not for its buyer
    lines += [it.what] if it.what and it.kind == "commission" else []
    quote = it.accepted
    if quote and it.kind == "commission" and it.account.agreed == quote.to_pay:
        given = kept_moment(quote.at, quote.ahead_min)
        lines += ["", f"Quote {quote.number} of {day(given.day)}"]
        lines += [
            _row(str(line["what"]), Cents(int(Decimal(str(line["amount"])) * 100)), currency)
            for line in quote.lines
        ]
        lines += [_row("Tax", quote.tax, currency)] if quote.tax else []
        lines += [_row("Agreed", quote.to_pay, currency)]
        stored = it.account.storage
        lines += [_row("Storage", stored, currency)] if stored else []
        lowered = it.account.lowered
        lines += [_row(LOWERED, -lowered, currency)] if lowered else []
    lines.append("")
    lines += [
        _row(
            f"{NAMES[row.kind]}, {day(kept_moment(row.at, row.ahead_min).day)}",
            row.amount,
            currency,
        )
        for row in paid
    ]
    balance = balance_line(it.account)
    if balance is not None:
        lines.append(_row(*balance, currency))
    return "\n".join(lines) + "\n"


def _row(words: str, cents: Cents, currency: str) -> str:
    amount = money(cents, currency)
    room = WIDTH - len(amount) - 2
    short = words if len(words) <= room else words[: room - 1] + "…"
    return f"{short.ljust(room)}  {amount}"

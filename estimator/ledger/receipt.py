"""The words of a receipt: what was agreed, what was paid, what is left."""

from __future__ import annotations

from estimator.core.text import money
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import Storage
from estimator.ledger.papers import RECEIPT, PaperLine, paper
from estimator.ledger.store import Ledger

WIDTH = 60


def receipt(ledger: Ledger, job: str, shop_name: str, now: Moment, storage: Storage | None = None) -> str:
    """The receipt of a job as plain text; InputError where nothing was paid."""
    it = paper(ledger, job, RECEIPT, now, storage)
    lines = [*([shop_name] if shop_name else []), f"{it.title}: {job}, {it.dated}"]
    lines += [f"For: {it.customer}"] if it.customer else []
    lines += [it.headline] if it.headline else []
    if it.lines:
        lines += ["", *(f"{head} {words}" for head, words in it.facts if head == "Quote")]
    lines += [_row(line, it.currency) for line in it.lines]
    lines += ["", *(_row(line, it.currency) for line in (*it.payments, it.total) if line is not None)]
    return "\n".join(lines) + "\n"


def _row(line: PaperLine, currency: str) -> str:
    amount, words = "" if line.amount is None else money(line.amount, currency), line.words
    room = WIDTH - len(amount) - 2
    short = words if len(words) <= room else words[: room - 1] + "…"
    return f"{short.ljust(room)}  {amount}"

"""What belongs to a job on paper: photos, what was agreed on the way, and the papers a customer gets.

A paper holds what the customer was told and nothing of the shop's own: no cost, no minutes, no remark.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents
from estimator.core.errors import InputError, as_accepted, near_miss, refusal, refused_word, shown
from estimator.core.text import day, instrument_words, money
from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.jobs import (
    FROM_CUSTOMER,
    IN_ORDER,
    LEFT,
    LOWERED,
    NAMES,
    Storage,
    balance_line,
    history,
    job_row,
    unstruck,
)
from estimator.ledger.records import Account, AgreedOn, GivenQuote, History, Payment, PhotoKept
from estimator.ledger.store import Ledger

INVOICE, RECEIPT, TICKET = KINDS = ("invoice", "receipt", "claim-ticket")


class PaperLine(Struct, frozen=True):
    """A line of a paper; ``amount`` in cents, None where it has none."""

    words: str
    amount: Cents | None = None
    beside: str = ""


class Paper(Struct, frozen=True):
    """An invoice, a receipt or a claim ticket, ready to be shown."""

    kind: str
    title: str
    number: str
    dated: str
    customer: str
    contact: str
    headline: str
    about: str
    facts: tuple[tuple[str, str], ...]
    lines: tuple[PaperLine, ...]
    agreed: tuple[str, ...]
    payments: tuple[PaperLine, ...]
    total: PaperLine | None
    currency: str


def add_photo(ledger: Ledger, job: str, file: str, now: Moment, remark: str = "") -> PhotoKept:
    """Keep where a photo of a job lies; InputError where it is not there, or is kept already."""
    path = Path(file).absolute()
    if not path.is_file():
        raise refusal(
            "FILE", "there is no such photo", shown(file), "a file that is there", "look at the name"
        )
    home = ledger.path.absolute().parent
    kept = Path(os.path.normpath(path))
    kept = kept.relative_to(home) if kept.is_relative_to(home) else kept
    with ledger.writing():
        job_row(ledger, job)
        if ledger.row("SELECT id FROM photo WHERE job = ? AND path = ?", (job, kept.as_posix())):
            raise ledger.refusal(
                f"{job} has this photo already",
                shown(kept.as_posix()),
                "another photo",
                f"estimator ledger show {job}",
            )
        ledger.add("photo", now, job=job, path=kept.as_posix(), remark=remark)
    return PhotoKept(job, kept.as_posix())


def agree(ledger: Ledger, job: str, words: str, quote: str | None, now: Moment) -> AgreedOn:
    """Keep what was agreed on the way; ``quote``: the one that says what it costs."""
    with ledger.writing():
        job_row(ledger, job)
        quotes = [
            q["number"] for q in ledger.rows("SELECT number FROM quote WHERE job = ?" + IN_ORDER, (job,))
        ]
        if quote is not None and quote not in quotes:
            raise refused_word(
                ledger.where,
                f"{job} has no quote of this number",
                quote,
                quotes,
                ", ".join(quotes) or "none was given",
                f"estimator ledger quote {job}",
            )
        if not words.strip():
            raise refusal(
                "WORDS", "what was agreed is not said", "nothing", "a sentence", "type it in quotation marks"
            )
        ledger.add("agreed", now, job=job, words=words.strip(), quote=quote)
    return AgreedOn(job, words.strip(), quote)


def paper(ledger: Ledger, job: str, kind: str, now: Moment, storage: Storage | None = None) -> Paper:
    """A paper of a job. An invoice gets its number when it is first asked for, one for each quote accepted."""
    kind = as_accepted(kind, KINDS)
    if kind not in KINDS:
        step = near_miss(kind, KINDS) or "take one of these"
        raise refusal("KIND", "no paper of this kind", shown(kind), ", ".join(KINDS), step)
    it = history(ledger, job, storage)
    quote, client = it.accepted, it.kind == "commission"
    truly = unstruck((row.kind, row.amount) for row in it.payments)
    paid = [
        replace(row, amount=amount)
        for row, amount in zip(it.payments, truly, strict=True)
        if row.kind in FROM_CUSTOMER and amount
    ]
    _check_due(ledger, kind, it, quote, paid)
    title = {INVOICE: "Invoice", RECEIPT: "Receipt", TICKET: "Claim ticket"}[kind]
    number, given = (job, now)
    if kind == INVOICE and quote is not None:
        number, given = _invoice(ledger, job, quote.number, now)
    # of a declined job nothing is agreed any more
    shown_quote = quote if client and quote and it.account.agreed == quote.to_pay else None
    return Paper(
        kind,
        title,
        number,
        day(given.day),
        it.customer,
        it.contact,
        it.what if client else "",
        _about(it),
        tuple(_facts(it, quote, kind)),
        (*_quote_lines(shown_quote), *_beside(it.account, shown_quote)),
        _agreed(it, quote),
        tuple(map(_payment, paid)),
        _total(it, quote, kind),
        it.currency,
    )


def _check_due(
    ledger: Ledger, kind: str, it: History, quote: GivenQuote | None, paid: Sequence[Payment]
) -> None:
    """Refuse a paper that tells of what never was: a customer, an agreement, a payment."""
    job, client = it.id, it.kind == "commission"
    if kind == TICKET and not client:
        raise _cannot(
            ledger,
            f"{job} belongs to the shop",
            it.kind,
            "a customer's job",
            f"estimator ledger show {job}",
        )
    if kind == INVOICE and (quote is None or not client):
        raise _cannot(
            ledger,
            f"nothing was agreed with a customer for {job}",
            it.state,
            "a job with an accepted quote",
            f"estimator ledger accept {job}",
        )
    if kind == RECEIPT and not paid:
        raise _cannot(
            ledger,
            f"nothing was paid for {job}",
            "no payment",
            "a payment that was recorded",
            f"estimator ledger pay {job} SUM",
        )
    if kind == INVOICE and it.account.agreed != (quote.to_pay if quote else None):
        raise _cannot(
            ledger,
            f"{job} was declined: there is nothing to invoice",
            it.state,
            "a job that was done",
            f"estimator ledger show {job} (a deposit: estimator ledger pay {job} SUM --kind refund)",
        )


def _cannot(ledger: Ledger, what: str, found: str, accepted: str, next_: str) -> InputError:
    return ledger.refusal(what, found, accepted, next_)


def _invoice(ledger: Ledger, job: str, quote: str, now: Moment) -> tuple[str, Moment]:
    """Number and moment of the invoice for a quote; a new number follows the last one of the year."""
    with ledger.writing():
        old = ledger.row(
            "SELECT number, quote, at, ahead_min FROM invoice WHERE job = ? ORDER BY LENGTH(number) DESC, number DESC",
            (job,),
        )
        # one that another took the place of is never in use again
        if old is not None and old["quote"] == quote:
            return str(old["number"]), kept_moment(old["at"], old["ahead_min"])
        year = f"I{now.local.year}-"
        last = ledger.rows("SELECT COUNT(*) AS many FROM invoice WHERE SUBSTR(number, 1, 6) = ?", (year,))[0][
            "many"
        ]
        number = f"{year}{last + 1:03d}"
        ledger.add("invoice", now, number=number, job=job, quote=quote)
    return number, now


def _about(it: History) -> str:
    words = instrument_words(it.instrument)
    more = (it.make, f"serial number {it.serial}" if it.serial else "")
    return ", ".join([words, *(one for one in more if one)])


def _facts(it: History, quote: GivenQuote | None, kind: str) -> list[tuple[str, str]]:
    came = it.steps[0]
    if it.kind != "commission":
        return []  # what the shop says of its own instrument is not for its buyer
    facts = [("With us since", day(kept_moment(came.at, came.ahead_min).day))]
    if quote is not None:
        facts.append(("Quote", f"{quote.number} of {day(kept_moment(quote.at, quote.ahead_min).day)}"))
    if kind == TICKET and it.promised:
        facts.append(("Promised for", day(date.fromisoformat(it.promised))))
    earlier = [one.number for one in it.invoices]
    if quote is not None and it.invoices and it.invoices[-1].quote == quote.number:
        earlier.pop()
    if kind == INVOICE and earlier:
        facts.append(("Takes the place of", ", ".join(earlier)))
    return facts


def _quote_lines(quote: GivenQuote | None) -> tuple[PaperLine, ...]:
    if quote is None:
        return ()
    lines = [
        PaperLine(
            str(line["what"]), Cents(int(Decimal(str(line["amount"])) * 100)), _times(line, quote.currency)
        )
        for line in quote.lines
    ]
    if quote.tax:
        lines.append(PaperLine("Tax", quote.tax))
    return (*lines, PaperLine("Agreed", quote.to_pay))


def _beside(account: Account, quote: GivenQuote | None) -> list[PaperLine]:
    """What is due on top of what was agreed, its tax in it, and what was taken off it."""
    storage = "Storage, any tax on it included" if quote is not None and quote.tax else "Storage"
    beside = ((storage, account.storage), (LOWERED, -account.lowered))
    return [PaperLine(words, cents) for words, cents in beside if cents]


def _times(line: Mapping[str, object], currency: str) -> str:
    """Quantity and price of a piece, where the quote named both for a thing that is counted."""
    many, each = line.get("quantity"), line.get("each")
    if line.get("kind") != "part" or many in (None, "1") or each is None:
        return ""
    return f"{many} at {money(Cents(int(Decimal(str(each)) * 100)), currency)}"


def _agreed(it: History, quote: GivenQuote | None) -> tuple[str, ...]:
    """What was agreed in words, but for what stands with a quote that is not the accepted one; once a day."""
    mine = quote.number if quote is not None else None
    said = (
        f"{day(kept_moment(row.at, row.ahead_min).day)}: {row.words}"
        for row in it.agreed
        if row.quote in (None, mine)
    )
    return tuple(dict.fromkeys(said))


def _payment(row: Payment) -> PaperLine:
    return PaperLine(f"{NAMES[row.kind]}, {day(kept_moment(row.at, row.ahead_min).day)}", row.amount)


def _total(it: History, quote: GivenQuote | None, kind: str) -> PaperLine | None:
    balance = balance_line(it.account)
    if balance is None or (quote is None and it.state != "declined"):
        return None
    words, cents = balance
    return PaperLine("To pay on collection" if kind == TICKET and words == LEFT else words, cents)

"""What is agreed on a job and what was paid: written into the ledger, and shown from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.study import Choice
from estimator.core.errors import refusal
from estimator.core.text import money, sentence_case
from estimator.ledger.clock import Moment, kept_moment, minutes_text, read_day, read_moment, read_seconds
from estimator.ledger.jobs import (
    FROM_CUSTOMER,
    Storage,
    accept,
    balance_line,
    book,
    booking_of,
    give_quote,
    history,
    is_booked,
    move,
    pay,
    storage_of,
)
from estimator.ledger.receipt import receipt
from estimator.ledger.records import History, Payment
from estimator.ledger.reports import estimate_against_actual
from estimator.ledger.states import FOR_SALE_ONLY, NEXT, WORDS
from estimator.ledger.store import Ledger
from estimator.ledger.timers import begin, end, running
from estimator.server.desk import Asked, Desk
from estimator.tables.sums import whole_cents
from estimator.workbook.quote_record import quote_record

STARTABLE = ("accepted", "waiting", "at-work", "returned")
"""States in which work may be begun on."""


class QuoteLine(Struct, frozen=True):
    """A line of a quote that another quote has not, or has at another sum."""

    sign: str
    what: str
    amount: str


class OnTheClock(Struct, frozen=True):
    """A task whose time runs or is paused; ``forgotten``: why its time is asked for."""

    job: str
    task: str
    words: str
    since: str
    so_far: str
    paused: bool
    forgotten: str


class GivenQuote(Struct, frozen=True):
    """A quote as it was given, and in what it differs from the one before."""

    number: str
    given: str
    to_pay: str
    accepted: bool
    lines: tuple[tuple[str, str], ...]
    differs: tuple[QuoteLine, ...]


def last_quote(desk: Desk, job: str) -> str:
    """The number of the last quote of a job in the ledger; blank if there is none."""
    with desk.ledger() as books:
        return "" if books is None or not is_booked(books, job) else _last_quote(books, job)


def _last_quote(books: Ledger, job: str) -> str:
    quotes = history(books, job).quotes
    return quotes[-1].number if quotes else ""


def take(desk: Desk, asked: Asked, choice: Choice, promised: str, seen: str, save: Callable[[], None]) -> str:
    """Book the job if it is not, keep the quote with its planned times, and accept it: all of it or nothing.

    ``seen``: the last quote that the page knew of; InputError where another was given since. ``save`` writes
    the job file, once nothing stands in the way any more.
    """
    now, job = read_moment(None), asked.job
    day = read_day(promised, "promised for", desk.shop.dates, now.day) if promised else None
    with desk.ledger(new=True) as books:
        assert books is not None
        with books.writing():
            if not is_booked(books, job.id):
                file = str(asked.file.path.absolute())
                book(books, booking_of(job, desk.shop.terms.currency, file), now)
            last = _last_quote(books, job.id)
            if last != seen:
                raise refusal(
                    "take the job",
                    "a quote was given since this page was opened",
                    last,
                    next_step="look at it under “Agreed and paid”; go on from there",
                )
            number = give_quote(books, job.id, quote_record(choice), now)
            accept(books, job.id, number, day, now)
            save()
    return number


def shown(books: Ledger | None, job: str, storage: Storage, hides: bool = False) -> dict[str, object] | None:
    """All that the page shows of a job in the ledger; None where it is not booked.

    ``hides``: a customer looks on; what was paid for the instrument, and every sum of a job that is the shop's
    own, is not shown.
    """
    if books is None or not is_booked(books, job):
        return None
    told = history(books, job, storage)
    account, state, currency = told.account, told.state, told.account.currency
    sums = [("Paid", account.paid)]
    left = balance_line(account)
    if account.agreed is not None and left:
        sums = [("Agreed", account.agreed), *sums, left]
    own = told.kind != "commission"
    if hides and own:
        sums, told = [], replace(told, payments=[], quotes=[])
    elif account.bought:
        sums.append(("Paid for the instrument itself", account.bought))
    runs = clock(books, read_moment(None))
    steps = [
        name for name in NEXT[state] if (own or name not in FOR_SALE_ONLY) and name not in ("quoted", "asked")
    ]
    return {
        "state": WORDS[state],
        "promised": told.promised or "",
        "sums": [(name, money(cents, currency)) for name, cents in sums],
        "quotes": _quotes(told, currency),
        "times": [
            (row.task, task_words(row.task), _spent(row.planned_s), _spent(row.taken_s))
            for row in estimate_against_actual(books, job)
        ],
        "clock": runs,
        "on_clock": [one.task for one in runs if one.job == job and not one.paused],
        "startable": state in STARTABLE,
        "job": job,
        "steps": [(_when(row.at, row.ahead_min), WORDS[row.state], row.remark) for row in told.steps],
        "payments": _payments(told.payments, currency),
        "next_states": [(name, WORDS[name]) for name in steps if not (name == "accepted" and not own)],
        "kinds": [kind for kind in (*FROM_CUSTOMER, "purchase") if own or kind not in ("sale", "purchase")],
    }


def task_words(task: str) -> str:
    """A task as it is said."""
    return sentence_case(task.replace("-", " "))


def clock(books: Ledger, now: Moment) -> list[OnTheClock]:
    """What runs now: whose, since when, and the question where it may have been forgotten."""
    return [
        OnTheClock(
            row.job,
            row.task,
            task_words(row.task),
            f"{row.began.local:%d %b, %H:%M}",
            "" if row.seconds is None else minutes_text(row.seconds),
            row.paused,
            row.forgotten,
        )
        for row in running(books, now)
    ]


def timed(desk: Desk, job: str, fields: Mapping[str, str]) -> None:
    """Begin on a task or end one; InputError asks for the time where a clock ran on unwatched."""
    task, took = fields.get("task", ""), fields.get("took", "").strip()
    with desk.ledger() as books:
        if books is None:
            return
        if fields.get("do") == "begin":
            begin(books, job, task, read_moment(None))
        else:
            end(books, read_moment(None), job, task, read_seconds(took, "took") if took else None)


def receipt_text(desk: Desk, job: str) -> str:
    """The receipt of a job; InputError where nothing was paid."""
    with desk.ledger() as books:
        if books is None:
            raise refusal("receipt", "nothing was paid yet", next_step="record a payment first")
        now = read_moment(None)
        return receipt(books, job, desk.shop.terms.shop_name, now, storage_of(desk.shop, now))


def _spent(seconds: int | None) -> str:
    return minutes_text(seconds) if seconds else "–"


def _when(at: str, ahead_min: int) -> str:
    return f"{kept_moment(at, ahead_min).local:%Y-%m-%d %H:%M}"


def _payments(rows: list[Payment], currency: str) -> list[tuple[str, str, str, str]]:
    return [(_when(row.at, row.ahead_min), row.kind, money(row.amount, currency), row.remark) for row in rows]


def _quotes(told: History, currency: str) -> list[GivenQuote]:
    found: list[GivenQuote] = []
    before: tuple[tuple[str, str], ...] = ()
    for quote in told.quotes:
        lines = tuple((str(line["what"]), f"{line['amount']} {currency}") for line in quote.lines)
        differs = tuple(
            QuoteLine(sign, *line)
            for sign, these, others in (("−", before, lines), ("+", lines, before))
            for line in these
            if line not in others
        )
        found.append(
            GivenQuote(
                quote.number,
                _when(quote.at, quote.ahead_min),
                money(quote.to_pay, currency),
                quote.number == told.accepted_quote,
                lines,
                differs if before else (),
            )
        )
        before = lines
    return found


def paid(desk: Desk, job: str, kind: str, sum_: str, remark: str) -> None:
    """Record money that came in or went out."""
    cents = whole_cents(sum_, "sum", desk.shop.terms.currency)
    with desk.ledger() as books:
        if books is not None:
            now = read_moment(None)
            pay(books, job, kind, cents, now, remark, storage_of(desk.shop, now))


def moved(desk: Desk, job: str, state: str, remark: str) -> None:
    """Record the next step of a job."""
    with desk.ledger() as books:
        if books is not None:
            now = read_moment(None)
            move(books, job, state, now, remark, storage=storage_of(desk.shop, now))

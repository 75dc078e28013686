"""``ledger``: jobs from the first call to the receipt."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    EXAMPLE,
    ForceOption,
    JobArg,
    WithOption,
    job_path,
    load_both,
    load_shop_of,
    load_study,
    names_meant,
    no_choice,
    tell,
)
from estimator.cli.ledger.options import Desk, JobIdArg, RemarkOption
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from estimator.ledger.jobs import Listing, Offered
    from estimator.ledger.records import Account, Moved

WayOption = Annotated[
    str | None, typer.Option("--way", metavar="WAY", help="With listed: how it is sold, local say.")
]
TierOption = Annotated[
    str | None,
    typer.Option("--tier", metavar="CLASS", help="With --way: its price class; else as its job file says."),
]
ExpectedOption = Annotated[
    str | None, typer.Option("--expected", metavar="SUM", help="With --way: what it is expected to bring.")
]


def book(at: Desk, job: JobArg) -> int:
    """Take a job in: customer, instrument and wish as its job file says. Begins the ledger if there is none."""
    from estimator.ledger.jobs import book as book_in
    from estimator.ledger.jobs import booking_of, far_received
    from estimator.report.records.books import Booked

    moment = at.moment
    the_shop, it = load_both(job, at.shop)
    file = job if job.startswith(EXAMPLE) else str(job_path(job).absolute())
    booking = booking_of(it, the_shop.terms.currency, file)
    with at.open(new=True) as books:
        found = book_in(books, booking, moment)
    tell(far_received(booking, moment))
    words = f"{found.job} is booked in {found.ledger}; next: estimator ledger quote {found.job}"
    return at.answer(Booked(found), words)


def quote(at: Desk, job: JobIdArg, with_: WithOption = None) -> int:
    """Work out a quote from the job's file (the best set, or the upgrades named) and keep it as it is given."""
    from estimator.choose.tools import make_named_or_best
    from estimator.ledger.jobs import give_quote, history, job_row
    from estimator.price.client.beyond_worth import brings_less
    from estimator.report.records.books import NewQuote, QuoteTold
    from estimator.report.text.choice import worth_lines
    from estimator.report.text.ledger import beside_agreed
    from estimator.report.words.nothing import nothing_lines
    from estimator.report.words.tools import tool_lines
    from estimator.workbook.quote_record import quote_record

    moment = at.moment
    with at.open() as books:
        study = load_study(job_row(books, job).file or f"{job}.toml", at.shop)
        choice = make_named_or_best(study, names_meant(study, with_))
        if not choice.found:
            return no_choice(choice, at.as_json)
        it = quote_record(choice)
        number = give_quote(books, job, it, moment)
        client = job_row(books, job).kind == "commission"
        agreed = history(books, job).accepted
    to_pay = choice.estimate.totals.to_pay
    brings = brings_less(study.shop, study.job, to_pay)
    found = NewQuote(job, number, it, client, choice.estimate.chosen, choice.tools, brings)
    worth = worth_lines(study, {"": to_pay})
    more = (*nothing_lines(choice, bool(with_)), *worth, *tool_lines(choice))
    return at.answer(
        QuoteTold(found),
        lambda: put(
            f"quote {number} for {job}: {_worth(it, client)}{beside_agreed(it.to_pay, agreed)}", *more
        ),
    )


def _worth(quoted: Offered, client: bool) -> str:
    """What a quote comes to, in words, and what was paid of it already."""
    from estimator.core.text import money

    sum_ = f"{money(quoted.to_pay, quoted.currency)} {'to pay' if client else 'of cost'}"
    fee = f"; the bench fee of {money(quoted.fee_paid, quoted.currency)} counts as paid, as the job says"
    return sum_ + (fee if quoted.fee_paid else "")


def accept(
    at: Desk,
    job: JobIdArg,
    number: Annotated[
        str | None, typer.Option("--quote", metavar="NUMBER", help="Which quote; else the last.")
    ] = None,
    promised: Annotated[
        str | None, typer.Option("--promised", metavar="DAY", help="Day it is promised for.")
    ] = None,
) -> int:
    """The customer says yes to a quote, or to a change by a newer one; stock it needs is held for it."""
    from estimator.ledger.clock import minutes_text, read_day
    from estimator.ledger.jobs import accept as accept_it
    from estimator.report.records.books import Accepted

    moment = at.moment
    day = read_day(promised, "--promised", at.tables.dates, moment.day) if promised else None
    with at.open() as books:
        found = accept_it(books, job, number, day, moment)
    until = f", promised for {found.promised}" if found.promised else ""
    more = minutes_text(found.promised_before_s) if found.promised_before_s else ""
    said = f"; that day was promised before {more} of work came in: --promised DAY moves it" if more else ""
    return at.answer(Accepted(found), f"{job}: quote {found.quote} is accepted{until}{said}")


def move(
    at: Desk,
    job: JobIdArg,
    state: Annotated[
        str, typer.Argument(metavar="STATE", help="waiting, ready, told, collected, listed, sold ...")
    ],
    way: WayOption = None,
    tier: TierOption = None,
    expected: ExpectedOption = None,
    remark: RemarkOption = "",
    waive: Annotated[
        bool, typer.Option("--waive-storage", help="Storage that has run up is not charged.")
    ] = False,
) -> int:
    """Say what a job is now; the steps come in their order. Storage is charged when it is collected.

    listed --way WAY lets days to sell be learned.
    """
    from estimator.core.errors import as_accepted
    from estimator.ledger.jobs import account, job_row
    from estimator.ledger.jobs import move as move_it
    from estimator.ledger.states import WORDS
    from estimator.report.records.books import MovedTold

    moment = at.moment
    storage = None if waive else at.storage
    with at.open() as books:
        file = job_row(books, job).file
        state = as_accepted(state, WORDS)
        listing = _listing(state, way, tier, expected, file, at.shop)
        found = move_it(books, job, state, moment, remark, listing, storage)
        it = account(books, job, storage)
    owed = _owed(found, it)
    if found.state == "listed" and listing is None:
        owed = f"; say by which way, so that days to sell can be learned: estimator ledger move {job} listed --way WAY"
    return at.answer(MovedTold(found), f"{job} is {WORDS[found.state]}{owed}")


def _owed(found: Moved, account: Account) -> str:
    """What is left to pay or to give back after a step, where the step asks for it; blank else."""
    from estimator.core.text import mid_sentence, money
    from estimator.ledger.jobs import balance_line

    balance = balance_line(account)
    asks = found.state in ("ready", "told", "collected") or (found.balance or 0) < 0
    if balance is None or not balance[1] or not asks:
        return ""
    words, cents = balance
    return f"; {mid_sentence(words)} {money(cents, account.currency)}"


def _listing(
    state: str, way: str | None, tier: str | None, expected: str | None, file: str, shop: str | None
) -> Listing | None:
    """How it is offered, as typed and as the job file has it; InputError where that is not clear."""
    from estimator.core.errors import as_accepted, refusal, refused_word, shown
    from estimator.ledger.jobs import LARGEST_CENTS, Listing
    from estimator.tables.sums import whole_cents

    if way is None or state != "listed":
        stray = {"--way": way, "--tier": tier, "--expected": expected}
        for option, text in stray.items():
            if text is not None:
                raise refusal(
                    option,
                    "says how an instrument is listed",
                    shown(text),
                    "listed --way WAY",
                    "add --way WAY" if state == "listed" else "leave it out",
                )
        return None
    tables = load_shop_of(shop)
    way = as_accepted(way, tables.resale.ways)
    if way not in tables.resale.ways:
        raise refused_word("--way", "nothing in the shop's tables has this name", way, tables.resale.ways)
    if tier is None and (file.startswith(EXAMPLE) or (file and job_path(file).is_file())):
        answered = load_both(file, shop)[1].instrument.get("tier")
        tier = None if answered is None or answered.value is None else str(answered.value)
    if tier is None or tier not in tables.resale.tiers:
        raise refusal(
            "--tier",
            "its price class is not known",
            shown(tier) if tier else "nothing",
            ", ".join(tables.resale.tiers),
            "add --tier CLASS, or tier to [instrument] of its job file",
        )
    cents_ = whole_cents(expected, "--expected", tables.terms.currency) if expected else None
    if cents_ is not None and not 0 < cents_ < LARGEST_CENTS:
        raise refusal(
            "--expected", "is no price", shown(expected or ""), "more than zero", "type the price expected"
        )
    return Listing(way, tier, cents_)


def pay(
    at: Desk,
    job: JobIdArg,
    amount: Annotated[str, typer.Argument(metavar="SUM", help="Money, such as 50 or 49.90.")],
    kind: Annotated[
        str, typer.Option("--kind", help="deposit, payment, bench-fee, refund, sale or purchase.")
    ] = "payment",
    mistyped: Annotated[
        bool,
        typer.Option("--mistyped", help="So much was recorded of that kind by mistake: it is struck."),
    ] = False,
    remark: RemarkOption = "",
) -> int:
    """Record money that came in or went out for a job, or strike what was typed wrongly."""
    from estimator.ledger.jobs import pay as pay_in
    from estimator.ledger.jobs import strike
    from estimator.report.records.books import PaidTold
    from estimator.report.text.ledger import paid_words
    from estimator.tables.sums import whole_cents

    moment = at.moment
    paid = whole_cents(amount, "SUM", at.tables.terms.currency)
    with at.open() as books:
        found = (strike if mistyped else pay_in)(books, job, kind, paid, moment, remark, at.storage)
    return at.answer(PaidTold(found), f"{job}: {paid_words(found, None if mistyped else paid)}")


def receipt(
    at: Desk,
    job: JobIdArg,
    output: Annotated[
        str | None, typer.Option("-o", "--output", metavar="FILE", help="Text file to write.")
    ] = None,
    force: ForceOption = False,
) -> int:
    """Print the receipt of a job: what was agreed, what was paid, what is left."""
    from estimator.core.save import save_text
    from estimator.ledger.jobs import storage_of
    from estimator.ledger.receipt import receipt as receipt_of
    from estimator.ledger.records import ReceiptMade
    from estimator.report.records import books as tells

    moment = at.moment
    own = at.tables
    with at.open() as books:
        text = receipt_of(books, job, own.terms.shop_name, moment, storage_of(own, moment))
    written = str(save_text(Path(output), text, force=force, extensions=(".txt",))) if output else None
    words = f"wrote {written}" if written else text.rstrip()
    return at.answer(tells.ReceiptMade(ReceiptMade(job, text, written)), words)


def show(at: Desk, job: JobIdArg) -> int:
    """Tell all that the ledger holds of a job."""
    from estimator.ledger.jobs import history
    from estimator.report.records.books import History
    from estimator.report.text.ledger import show_job

    storage = at.storage
    with at.open() as books:
        found = history(books, job, storage)
    return at.answer(History(found), lambda: show_job(found))


def board(at: Desk) -> int:
    """The promise board: late, due, waiting, in, ready and not told, stored; late parcels; what runs."""
    from estimator.ledger.board import board as board_of
    from estimator.ledger.parcels import parcel_rows
    from estimator.ledger.timers import running
    from estimator.report.records.books import Board, BoardNow
    from estimator.report.text.ledger import show_board, show_parcels, show_running

    moment = at.moment
    storage = at.storage
    with at.open() as books:
        found = board_of(books, storage)
        runs = running(books, moment)
        parcels = parcel_rows(books, moment)

    def words() -> None:
        show_board(found)
        if parcels:
            show_parcels(parcels)
        if runs:
            show_running(runs)

    return at.answer(Board(BoardNow(found, parcels, runs)), words)


def show_customer(
    at: Desk,
    name: Annotated[str, typer.Argument(metavar="NAME", help="The customer's name as it was booked.")],
) -> int:
    """Tell all that is kept of a customer."""
    from estimator.ledger.customers import show_customer as all_of
    from estimator.report.records.books import CustomerTold
    from estimator.report.text.ledger import show_job

    with at.open() as books:
        found = all_of(books, name)

    def words() -> None:
        put(found.customer + (f", {found.contact}" if found.contact else ""))
        for job in found.jobs:
            show_job(job)

    return at.answer(CustomerTold(found), words)


def erase_customer(
    at: Desk,
    name: Annotated[str, typer.Argument(metavar="NAME", help="The customer's name as it was booked.")],
) -> int:
    """Erase a customer's name, contact, serial numbers and remarks; sums and times stay for the books."""
    from estimator.ledger.customers import erase_customer as erase
    from estimator.report.records.books import Erased

    with at.open() as books:
        found = erase(books, name, at.moment)
    left = "copies, exports and job files that were written before still hold it: take them away yourself"
    return at.answer(Erased(found), f"{name} is erased from the ledger; {left}")


COMMANDS = (book, quote, accept, move, pay, receipt, board, show, show_customer, erase_customer)

"""``ledger``: jobs from the first call to the receipt."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import (
    ForceOption,
    JobArg,
    JsonOption,
    LedgerOption,
    WithOption,
    job_path,
    load_both,
    load_shop_of,
    load_study,
    names_meant,
    no_choice,
    open_ledger,
)
from estimator.cli.ledger.options import (
    JobIdArg,
    NowOption,
    RemarkOption,
    ShopFolder,
    answer,
)
from estimator.report.text.terminal import put

if TYPE_CHECKING:
    from estimator.ledger.jobs import Listing, Offered
    from estimator.ledger.store import Row

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


def book(
    job: JobArg,
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Take a job in: customer, instrument and wish as its job file says. Begins the ledger if there is none."""
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import book as book_in
    from estimator.ledger.jobs import booking_of

    moment = read_moment(now)
    the_shop, it = load_both(job, shop)
    file = job if job.startswith("example:") else str(job_path(job).absolute())
    with open_ledger(ledger, shop, new=True) as books:
        state = book_in(books, booking_of(it, the_shop.terms.currency, file), moment)
        found = {"job": it.id, "state": state, "ledger": str(books.path)}
    return answer(
        found, as_json, f"{it.id} is booked in {found['ledger']}; next: estimator ledger quote {it.id}"
    )


def quote(
    job: JobIdArg,
    with_: WithOption = None,
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Work out a quote from the job's file (the best set, or the upgrades named) and keep it as it is given."""
    from estimator.choose.tools import make_named_or_best
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import give_quote, job_row
    from estimator.report.record import as_data
    from estimator.report.records.tools import Tools
    from estimator.report.words.nothing import nothing_lines
    from estimator.report.words.tools import tool_lines
    from estimator.workbook.quote_record import quote_record

    moment = read_moment(now)
    with open_ledger(ledger, shop) as books:
        study = load_study(job_row(books, job)["file"] or f"{job}.toml", shop)
        choice = make_named_or_best(study, names_meant(study, with_))
        if not choice.found:
            return no_choice(choice, as_json)
        it = quote_record(choice)
        number = give_quote(books, job, it, moment)
        client = job_row(books, job)["kind"] == "commission"
    asked = {"price_cents": it.price, "tax_cents": it.tax, "to_pay_cents": it.to_pay}
    found = {
        "job": job,
        "quote": number,
        **(asked if client else {**dict.fromkeys(asked), "cost_cents": it.to_pay}),
        "currency": it.currency,
        "lines": list(it.lines),
        "upgrades": list(choice.estimate.chosen),
        "bench_fee_paid_cents": it.fee_paid,
        **as_data(Tools(choice.tools)),
    }
    more = (*nothing_lines(choice, bool(with_)), *tool_lines(choice))
    return answer(found, as_json, lambda: put(f"quote {number} for {job}: {_worth(it, client)}", *more))


def _worth(quoted: Offered, client: bool) -> str:
    """What a quote comes to, in words, and what was paid of it already."""
    from estimator.core.text import money

    sum_ = f"{money(quoted.to_pay, quoted.currency)} {'to pay' if client else 'of cost'}"
    fee = f"; the bench fee of {money(quoted.fee_paid, quoted.currency)} counts as paid, as the job says"
    return sum_ + (fee if quoted.fee_paid else "")


def accept(
    job: JobIdArg,
    number: Annotated[
        str | None, typer.Option("--quote", metavar="NUMBER", help="Which quote; else the last.")
    ] = None,
    promised: Annotated[
        str | None, typer.Option("--promised", metavar="DAY", help="Day it is promised for.")
    ] = None,
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """The customer says yes to a quote, or to a change by a newer one; stock it needs is held for it."""
    from estimator.ledger.clock import minutes_text, read_day, read_moment
    from estimator.ledger.jobs import accept as accept_it

    moment = read_moment(now)
    day = read_day(promised, "--promised", load_shop_of(shop).dates, moment.day) if promised else None
    with open_ledger(ledger, shop) as books:
        found = accept_it(books, job, number, day, moment)
    until = f", promised for {found['promised']}" if found["promised"] else ""
    more = minutes_text(found["promised_before_s"]) if found["promised_before_s"] else ""
    said = f"; that day was promised before {more} of work came in: --promised DAY moves it" if more else ""
    return answer(found, as_json, f"{job}: quote {found['quote']} is accepted{until}{said}")


def move(
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
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Say what a job is now; the steps come in their order. Storage is charged when it is collected.

    listed --way WAY lets days to sell be learned.
    """
    from estimator.core.errors import as_accepted
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import account, job_row, storage_of
    from estimator.ledger.jobs import move as move_it
    from estimator.ledger.states import WORDS

    moment = read_moment(now)
    storage = None if waive else storage_of(load_shop_of(shop), moment)
    with open_ledger(ledger, shop) as books:
        file = str(job_row(books, job)["file"])
        state = as_accepted(state, WORDS)
        listing = _listing(state, way, tier, expected, file, shop)
        found = move_it(books, job, state, moment, remark, listing, storage)
        it = account(books, job, storage)
    owed = _owed(found, it)
    if found["state"] == "listed" and listing is None:
        owed = f"; say by which way, so that days to sell can be learned: estimator ledger move {job} listed --way WAY"
    return answer(found, as_json, f"{job} is {WORDS[found['state']]}{owed}")


def _owed(found: Row, account: Row) -> str:
    """What is left to pay or to give back after a step, where the step asks for it; blank else."""
    from estimator.core.text import money
    from estimator.ledger.jobs import balance_line

    balance = balance_line(account)
    asks = found["state"] in ("ready", "told", "collected") or (found["balance_cents"] or 0) < 0
    if balance is None or not balance[1] or not asks:
        return ""
    words, cents = balance
    return f"; {words[0].lower()}{words[1:]} {money(cents, account['currency'])}"


def _listing(
    state: str, way: str | None, tier: str | None, expected: str | None, file: str, shop: str | None
) -> Listing | None:
    """How it is offered, as typed and as the job file has it; InputError where that is not clear."""
    from estimator.core.errors import as_accepted, near_miss, refusal, shown
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
        raise refusal(
            "--way",
            "nothing in the shop's tables has this name",
            shown(way),
            ", ".join(tables.resale.ways),
            near_miss(way, tables.resale.ways) or "take one of these",
        )
    if tier is None and (file.startswith("example:") or (file and job_path(file).is_file())):
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
    job: JobIdArg,
    amount: Annotated[str, typer.Argument(metavar="SUM", help="Money, such as 50 or 49.90.")],
    kind: Annotated[
        str, typer.Option("--kind", help="deposit, payment, bench-fee, refund, sale or purchase.")
    ] = "payment",
    remark: RemarkOption = "",
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Record money that came in or went out for a job."""
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import pay as pay_in
    from estimator.ledger.jobs import storage_of
    from estimator.report.text.ledger import balance_words
    from estimator.tables.sums import whole_cents

    moment = read_moment(now)
    tables = load_shop_of(shop)
    storage, paid = storage_of(tables, moment), whole_cents(amount, "SUM", tables.terms.currency)
    with open_ledger(ledger, shop) as books:
        found = pay_in(books, job, kind, paid, moment, remark, storage)
    return answer(found, as_json, f"{job}: {balance_words(found)}")


def receipt(
    job: JobIdArg,
    output: Annotated[
        str | None, typer.Option("-o", "--output", metavar="FILE", help="Text file to write.")
    ] = None,
    force: ForceOption = False,
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Print the receipt of a job: what was agreed, what was paid, what is left."""
    from estimator.core.save import save_text
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import storage_of
    from estimator.ledger.receipt import receipt as receipt_of

    moment = read_moment(now)
    own = load_shop_of(shop)
    with open_ledger(ledger, shop) as books:
        text = receipt_of(books, job, own.terms.shop_name, moment, storage_of(own, moment))
    written = str(save_text(Path(output), text, force=force, extensions=(".txt",))) if output else None
    return answer(
        {"job": job, "receipt": text, "written": written},
        as_json,
        f"wrote {written}" if written else text.rstrip(),
    )


def show(
    job: JobIdArg,
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Tell all that the ledger holds of a job."""
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import history, storage_of
    from estimator.report.text.ledger import show_job

    storage = storage_of(load_shop_of(shop), read_moment(now))
    with open_ledger(ledger, shop) as books:
        found = history(books, job, storage)
    return answer(found, as_json, lambda: show_job(found))


def board(
    ledger: LedgerOption = None, now: NowOption = None, shop: ShopFolder = None, as_json: JsonOption = False
) -> int:
    """The promise board: late, due, waiting, in, ready and not told, stored; late parcels; what runs."""
    from estimator.ledger.board import board as board_of
    from estimator.ledger.clock import read_moment
    from estimator.ledger.jobs import storage_of
    from estimator.ledger.parcels import parcel_rows
    from estimator.ledger.timers import running
    from estimator.report.text.ledger import show_board, show_parcels, show_running

    moment = read_moment(now)
    storage = storage_of(load_shop_of(shop), moment)
    with open_ledger(ledger, shop) as books:
        found = board_of(books, storage)
        runs = running(books, moment)
        parcels = parcel_rows(books, moment)

    def words() -> None:
        show_board(found)
        if parcels:
            show_parcels(parcels)
        if runs:
            show_running(runs)

    return answer({**found, "parcels": parcels, "running": runs}, as_json, words)


def show_customer(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The customer's name as it was booked.")],
    ledger: LedgerOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Tell all that is kept of a customer."""
    from estimator.ledger.customers import show_customer as all_of
    from estimator.report.text.ledger import show_job

    with open_ledger(ledger, shop) as books:
        found = all_of(books, name)

    def words() -> None:
        put(f"{found['customer']}" + (f", {found['contact']}" if found["contact"] else ""))
        for job in found["jobs"]:
            show_job(job)

    return answer(found, as_json, words)


def erase_customer(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The customer's name as it was booked.")],
    ledger: LedgerOption = None,
    now: NowOption = None,
    shop: ShopFolder = None,
    as_json: JsonOption = False,
) -> int:
    """Erase a customer's name, contact, serial numbers and remarks; sums and times stay for the books."""
    from estimator.ledger.clock import read_moment
    from estimator.ledger.customers import erase_customer as erase

    with open_ledger(ledger, shop) as books:
        found = erase(books, name, read_moment(now))
    left = "copies, exports and job files that were written before still hold it: take them away yourself"
    return answer(found, as_json, f"{name} is erased from the ledger; {left}")


COMMANDS = (book, quote, accept, move, pay, receipt, board, show, show_customer, erase_customer)

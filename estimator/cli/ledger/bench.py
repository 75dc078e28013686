"""``ledger``: times and stock, as they happen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from estimator.cli.common import read_decimal, tell
from estimator.cli.ledger.options import Desk, JobIdArg, RemarkOption
from estimator.core.amounts import Cents, Millionths
from estimator.core.errors import refusal

if TYPE_CHECKING:
    from datetime import date

    from estimator.core.errors import InputError, Issue
    from estimator.ledger.clock import Moment
    from estimator.ledger.parcels import Parcel
    from estimator.ledger.records import CardTime, OfTask
    from estimator.ledger.store import Ledger
    from estimator.model import Shop
    from estimator.report.records.books import FromStock

UsedOption = Annotated[
    str | None,
    typer.Option(
        "--used",
        metavar="WHAT",
        help="What it used: planned, none, or ITEM=NUMBER,ITEM=NUMBER; else it is proposed.",
    ),
]
RedoneOption = Annotated[
    str | None,
    typer.Option(
        "--redone", metavar="MINUTES", help="Of this, the minutes that did again what had gone wrong."
    ),
]
NewOption = Annotated[bool, typer.Option("--new", help="The task is none of those that its name is like.")]


def begin(
    at: Desk,
    job: JobIdArg,
    task: Annotated[
        str, typer.Argument(metavar="[TASK]", help="The task as the quote names it; left out: tells which.")
    ] = "",
    cure: Annotated[
        bool, typer.Option("--cure", help="It dries or cures: no hands, and others run beside it.")
    ] = False,
    new: NewOption = False,
) -> int:
    """Begin on a task, or go on with it; what the hands were at is paused."""
    from estimator.ledger.timers import begin as begin_it
    from estimator.ledger.timers import planned_and_taken, task_meant
    from estimator.report.records.books import Begun

    with at.open() as books:
        task = task_meant(books, job, task, new)
        found = begin_it(books, job, task, at.moment, cure)
        planned = planned_and_taken(books, job, task).planned_s
    paused = f"; {found.paused} is paused" if found.paused else ""
    begun = "goes on" if found.went_on else "begun" if planned is not None else "begun; not in the quote"
    return at.answer(Begun(found), f"{job}, {task}: {begun}{paused}")


def pause(at: Desk) -> int:
    """Lay down what the hands are at; begin goes on with it."""
    from estimator.ledger.clock import minutes_text
    from estimator.ledger.timers import pause as pause_it
    from estimator.report.records.books import LaidDown

    with at.open() as books:
        found = pause_it(books, at.moment)
    return at.answer(
        LaidDown(found), f"{found.job}, {found.task}: paused after {minutes_text(found.seconds)}"
    )


def end(
    at: Desk,
    job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="Its job; else what the hands are at.")
    ] = None,
    task: Annotated[str | None, typer.Argument(metavar="[TASK]", help="Its task, where several run.")] = None,
    took: Annotated[
        str | None, typer.Option("--took", metavar="MINUTES", help="What it truly took in all.")
    ] = None,
    used: UsedOption = None,
    redone: RedoneOption = None,
    remark: RemarkOption = "",
) -> int:
    """End a task and record its time, and what it used; one that ran over night is asked about, not guessed."""
    from estimator.ledger.clock import minutes_text, read_seconds
    from estimator.ledger.timers import end as end_it
    from estimator.ledger.used import read_used
    from estimator.report.records.books import EndedNow, EndTold

    seconds = None if took is None else read_seconds(took, "--took")
    again = 0 if redone is None else read_seconds(redone, "--redone")
    what = None if used is None else read_used(used)
    with at.open() as books, books.writing():
        found = end_it(books, at.moment, job, task, seconds, remark, again)
        by_hand, stock, used_up = found.kind == "hands", None, ""
        if by_hand or what is not None:
            stock, used_up = _off_the_stock(books, found.job, found.task, what, at.moment)
    words = f"{found.job}, {found.task}: {minutes_text(found.seconds)}"
    words += beside_plan(found) + _again(again) if by_hand else " of cure"
    return at.answer(EndTold(EndedNow(found, stock)), words + used_up)


def _off_the_stock(
    books: Ledger, job: str, task: str, what: str | dict[str, Millionths] | None, now: Moment
) -> tuple[FromStock, str]:
    """Take off what was used, or propose it; with the words of it."""
    from estimator.core.errors import shown
    from estimator.ledger.stock import quantity
    from estimator.ledger.used import proposed, tell_used, uses_words
    from estimator.report.records.books import FromStock

    if what is not None:
        moves = tell_used(books, job, task, what, now)
        left = (f"{row.item}: {quantity(row.left)} left" for row in moves)
        return FromStock(moves), "\n" + ("; ".join(left) or "nothing is taken off the stock")
    uses = proposed(books, job, task)
    next_ = f"estimator ledger used {job} {shown(task) if ' ' in task else task} planned"
    words = f"\nused by the quote: {uses_words(uses)}; take it off: {next_} (or none, or ITEM=NUMBER)"
    return FromStock(planned=uses), words if uses else ""


def used(
    at: Desk,
    job: JobIdArg,
    task: Annotated[
        str | None, typer.Argument(metavar="[TASK]", help="The task; left out: what is still to be said.")
    ] = None,
    what: Annotated[
        str | None, typer.Argument(metavar="[WHAT]", help="planned, none, or ITEM=NUMBER,ITEM=NUMBER.")
    ] = None,
) -> int:
    """Say what a task used of the stock, as planned or else; alone, list the tasks of which it was not said."""
    from estimator.ledger.jobs import job_row
    from estimator.ledger.timers import task_meant
    from estimator.ledger.used import FORMS, read_used, untold, uses_words
    from estimator.report.records.books import FromStock, OfJob, Untold, UsedNow, UsedTold

    if task is not None and what is None:
        raise refusal("WHAT", "what it used is not said", "nothing", FORMS, "type it after the task")
    with at.open() as books:
        if task is None or what is None:
            job_row(books, job)
            rows = untold(books, job)
            lines = [f"{name}: {uses_words(uses)} by the quote" for name, uses in rows.items()]
            told = [UsedNow(job, name, FromStock(planned=uses)) for name, uses in rows.items()]
            return at.answer(Untold(OfJob(job, told)), "\n".join(lines) or "all is told")
        task = task_meant(books, job, task)
        stock, words = _off_the_stock(books, job, task, read_used(what, "WHAT"), at.moment)
    return at.answer(UsedTold(UsedNow(job, task, stock)), f"{job}, {task}: {words.strip()}")


def _again(seconds: int) -> str:
    from estimator.ledger.clock import minutes_text

    return f"; {minutes_text(seconds)} of it did again what had gone wrong" if seconds else ""


def beside_plan(found: OfTask) -> str:
    """What was planned for a task, and what it has taken in all."""
    from estimator.ledger.clock import minutes_text

    beside = "not in the quote" if found.planned_s is None else f"planned {minutes_text(found.planned_s)}"
    return f"; {beside}, taken so far {minutes_text(found.taken_s)}"


def runs(at: Desk) -> int:
    """Tell what runs now and what is paused."""
    from estimator.ledger.timers import running
    from estimator.report.records.books import Runs
    from estimator.report.text.ledger import show_running

    with at.open() as books:
        found = running(books, at.moment)
    return at.answer(Runs(found), lambda: show_running(found))


def time(
    at: Desk,
    job: JobIdArg,
    task: Annotated[
        str | None, typer.Argument(metavar="[TASK]", help="The task; left out: list the job's times.")
    ] = None,
    minutes: Annotated[
        str | None, typer.Argument(metavar="[MINUTES]", help='"12 min", 0:15, "1 h 5" or 70.')
    ] = None,
    new: NewOption = False,
    redone: RedoneOption = None,
    remark: RemarkOption = "",
) -> int:
    """Record minutes that were written down, or list the times of a job with their numbers."""
    from estimator.ledger.clock import ACCEPTED, minutes_text, read_seconds
    from estimator.ledger.timers import task_meant, times_of, typed
    from estimator.report.records.books import OfJob, Recorded, Times
    from estimator.report.text.ledger import show_times

    if task is not None and minutes is None:
        raise refusal(
            "MINUTES", "how long it took is not said", "nothing", ACCEPTED, "type the minutes after the task"
        )
    with at.open() as books:
        if task is None or minutes is None:
            rows = times_of(books, job)
            return at.answer(Times(OfJob(job, rows)), lambda: show_times(job, rows))
        task = task_meant(books, job, task, new)
        again = 0 if redone is None else read_seconds(redone, "--redone")
        seconds = read_seconds(minutes, "MINUTES")
        found = typed(books, job, task, seconds, at.moment, remark, again)
    words = f"{job}, {task}: {minutes_text(found.seconds)} recorded as number {found.spell}"
    return at.answer(Recorded(found), words + beside_plan(found) + _again(again))


def correct(
    at: Desk,
    number: Annotated[
        int, typer.Argument(metavar="NUMBER", help="Number of the time, as ledger time JOB lists it.")
    ],
    minutes: Annotated[str, typer.Argument(metavar="MINUTES", help="What it truly was; 0 strikes it out.")],
    remark: RemarkOption = "",
) -> int:
    """Correct a time that was recorded; the old one stays in its history."""
    from estimator.ledger.clock import minutes_text, read_seconds
    from estimator.ledger.timers import correct as correct_it
    from estimator.report.records.books import Corrected

    with at.open() as books:
        found = correct_it(books, number, read_seconds(minutes, "MINUTES"), at.moment, remark)
    before, after = minutes_text(found.before_s), minutes_text(found.seconds)
    return at.answer(Corrected(found), f"{found.job}, {found.task}: {after} instead of {before}")


def card(
    at: Desk, source: Annotated[str, typer.Argument(metavar="BOOK", help="Workbook with job cards (.xlsx).")]
) -> int:
    """Take over the minutes written into a job card or a plan's cards; reading one again counts nothing twice."""
    from estimator.ledger.timers import from_cards
    from estimator.report.record import table_of
    from estimator.report.records.books import Card, CardTime
    from estimator.report.text.terminal import show_table
    from estimator.workbook.read.costing import read_job_card

    _, rows = read_job_card(source)
    with at.open() as books:
        found = from_cards(books, rows, at.moment)
    tell(_twice(found))
    return at.answer(Card(found), lambda: show_table("Times off the card", *table_of(CardTime, found)))


def _twice(found: list[CardTime]) -> list[Issue]:
    """Warnings where a task has minutes off a card and others beside them, which may be the same work."""
    from estimator.core.errors import Origin, warning
    from estimator.ledger.clock import minutes_text

    return [
        warning(
            Origin(f"{row.job}, {row.task}"),
            "has minutes off the card and others beside them",
            f"{minutes_text(row.seconds)} and {minutes_text(row.beside_s)}",
            "each piece of work once",
            f"if it is the same work, strike one out: estimator ledger time {row.job}, then estimator ledger correct NUMBER 0",
        )
        for row in found
        if row.seconds and row.beside_s
    ]


def stock(
    at: Desk,
    kind: Annotated[
        str | None,
        typer.Argument(metavar="[KIND]", help="bought, returned, used, counted, spoiled; none: list."),
    ] = None,
    item: Annotated[str | None, typer.Argument(metavar="[ITEM]", help="Id of a part or consumable.")] = None,
    quantity: Annotated[str | None, typer.Argument(metavar="[NUMBER]", help="How many, in its unit.")] = None,
    cost: Annotated[
        str | None,
        typer.Option("--cost", metavar="SUM", help="What was paid for what was bought, or came back."),
    ] = None,
    job: Annotated[str | None, typer.Option("--job", metavar="JOB", help="The job that used it.")] = None,
    best_before: Annotated[
        str | None, typer.Option("--best-before", metavar="DAY", help="Till when what was bought keeps.")
    ] = None,
    new: Annotated[bool, typer.Option("--new", help="The item is in no table of the shop.")] = False,
    remark: RemarkOption = "",
) -> int:
    """Record what came in, went back, was used, counted or spoiled; alone, list what is left, free, to be ordered, and goes off."""
    from estimator.ledger import stock as of_stock
    from estimator.ledger.clock import read_day
    from estimator.report.records.books import StockTold

    if kind is None:
        return _list_stock(at)
    if item is None or quantity is None:
        raise _not_said(kind)
    many, tables = of_stock.read_quantity(read_decimal("NUMBER", quantity), "NUMBER"), at.tables
    with at.open(new=True) as books:
        if not new:
            known = {*tables.parts, *tables.consumables, *(row.item for row in of_stock.stock(books))}
            _known(item, known, "ITEM", "an id of parts.csv or consumables.csv")
        till = read_day(best_before, "--best-before", tables.dates, at.moment.day) if best_before else None
        beside = of_stock.Beside(job, _cost(cost, tables), tables.terms.currency, remark, best_before=till)
        found = of_stock.stock_move(books, kind, item, many, at.moment, beside)
    return at.answer(StockTold(found), f"{item}: {of_stock.quantity(found.left)} left")


def parcel(
    at: Desk,
    seller: Annotated[
        str | None, typer.Argument(metavar="[SELLER]", help="Who sends it; none: list what is late.")
    ] = None,
    expected: Annotated[
        str | None, typer.Option("--expected", metavar="DAY", help="The day it is expected now.")
    ] = None,
    came: Annotated[bool, typer.Option("--came", help="It has come.")] = False,
    item: Annotated[
        str, typer.Option("--item", metavar="ITEM", help="One consumable of it; else all it holds.")
    ] = "",
    job: Annotated[str, typer.Option("--job", metavar="JOB", help="With --part: the job it is for.")] = "",
    part: Annotated[
        str, typer.Option("--part", metavar="UPGRADE", help="With --job: the upgrade whose part is late.")
    ] = "",
    new: Annotated[bool, typer.Option("--new", help="Seller or item is in no table of the shop.")] = False,
    remark: RemarkOption = "",
) -> int:
    """Say that a parcel comes later than promised, or that it came; plan --progress reads it."""
    from estimator.ledger.parcels import Parcel, parcel_rows, tell_parcel
    from estimator.report.records.books import ParcelNews, Parcels
    from estimator.report.text.ledger import show_parcels

    moment = at.moment
    if seller is None:
        with at.open() as books:
            rows = parcel_rows(books, moment)
        return at.answer(Parcels(rows), lambda: show_parcels(rows))
    tables, of = at.tables, Parcel(seller, item, job, part)
    day = _day_of(expected, came, tables, moment)
    _known_parcel(of, tables, new)
    with at.open(new=True) as books:
        found = tell_parcel(books, of, day, moment, remark)
    said = "it came" if came else f"expected {found.expected}"
    return at.answer(ParcelNews(found), f"{of.words()}: {said}")


def _day_of(expected: str | None, came: bool, tables: Shop, moment: Moment) -> date | None:
    from estimator.ledger.clock import read_day

    if (expected is None) is not came:
        raise refusal(
            "parcel",
            "what became of it is not clear",
            "both" if came else "nothing",
            "--expected DAY or --came",
            "say one of the two",
        )
    return None if expected is None else read_day(expected, "--expected", tables.dates, moment.day)


def _known_parcel(parcel: Parcel, tables: Shop, new: bool) -> None:
    if new:
        return
    _known(parcel.seller, set(tables.planning.suppliers), "SELLER", "an id of suppliers.csv")
    if parcel.item:
        _known(parcel.item, set(tables.consumables), "--item", "an id of consumables.csv")


def _cost(text: str | None, tables: Shop) -> Cents:
    """What was paid or came back, nothing where it is not said."""
    from estimator.tables.sums import whole_cents

    return whole_cents(text, "--cost", tables.terms.currency) if text else Cents(0)


def _not_said(kind: str) -> InputError:

    return refusal(
        "stock",
        "of what, and how many, is not said",
        kind,
        "an id and a number",
        f"estimator ledger stock {kind} ITEM NUMBER",
    )


def _list_stock(at: Desk) -> int:
    """What is left, what to order, what goes off."""
    from estimator.ledger.shelf import keeps_of, shelf
    from estimator.report.records.books import Stock
    from estimator.report.text.ledger import show_stock

    keeps, usual = keeps_of(at.tables)
    with at.open() as books:
        rows = shelf(books, keeps, usual, at.moment)
    return at.answer(Stock(rows), lambda: show_stock(rows))


def _known(name: str, known: set[str], where: str, accepted: str) -> None:
    """InputError for a name that no table of the shop has."""
    from estimator.core.errors import refused_word

    if name not in known:
        raise refused_word(
            where,
            "nothing in the shop's tables has this name",
            name,
            known,
            accepted,
            "add --new if no table has it",
        )


COMMANDS = (begin, pause, end, used, time, correct, card, stock, parcel, runs)

"""What the ledger holds, on a terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from estimator.core.amounts import Cents, Seconds
from estimator.core.text import mid_sentence, money
from estimator.ledger import records as kept
from estimator.ledger.board import HEADINGS
from estimator.ledger.clock import minutes_text
from estimator.ledger.jobs import balance_line
from estimator.ledger.states import WORDS
from estimator.ledger.stock import quantity
from estimator.report.record import Inner, Record, table_of
from estimator.report.records import books
from estimator.report.text.terminal import put, show_table


def show_board(board: Mapping[str, Sequence[kept.BoardRow]]) -> None:
    """The promise board, heading by heading; headings without jobs are left out."""
    for name, title in HEADINGS.items():
        if rows := board[name]:
            show_table(f"{title} ({len(rows)})", *table_of(books.OpenJob, rows))
    if not any(board[name] for name in HEADINGS):
        put("No job is open.")


def show_parcels(rows: Sequence[kept.LateParcel]) -> None:
    """Parcels that are late, with the day on which each is expected now."""
    if not rows:
        put("No parcel is late.")
        return
    show_table("Parcels that are late", *table_of(books.LateParcel, rows))


def show_job(job: kept.History) -> None:
    """All that the ledger holds of a job."""
    put(f"{job.id}: {job.what} ({WORDS[job.state]})")
    if job.customer:
        put(f"customer: {job.customer}" + (f", {job.contact}" if job.contact else ""))
    words = [job.instrument, job.make, f"serial {job.serial}" if job.serial else ""]
    put("instrument: " + ", ".join(word for word in words if word))
    if job.promised:
        put(f"promised: {job.promised}")
    show_table("Steps", *table_of(books.Step, job.steps))
    if job.quotes:
        quote = books.QuoteGiven if job.kind == "commission" else books.OwnQuote
        taken = ("", lambda of: "accepted" if of.number == job.accepted_quote else "")
        show_table("Quotes", *table_of(quote, job.quotes, _currency, last=taken))
    if job.agreed:
        show_table("Agreed on the way", *table_of(books.AgreedTold, job.agreed))
    if job.photos:
        show_table("Photos", *table_of(books.Photo, job.photos))
    for row in job.invoices:
        put(f"invoice {row.number} of {books.when(row.at, row.ahead_min)} for quote {row.quote}")
    if job.payments:
        show_table("Payments", *table_of(books.Payment, job.payments, _currency))
    put(balance_words(job.account))


def beside_agreed(to_pay: Cents, agreed: kept.GivenQuote | None) -> str:
    """By how much a new quote differs from the one that was accepted, and what to do; blank where none was."""
    if agreed is None:
        return ""
    more = to_pay - agreed.to_pay
    sum_ = (
        f"{money(Cents(abs(more)), agreed.currency)} {'more' if more > 0 else 'less'} than" if more else "as"
    )
    return f"; {sum_} quote {agreed.number}, which stands till this one is accepted: estimator ledger accept {agreed.job}"


def balance_words(account: kept.Account) -> str:
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
    return f"{paid}{lowered}; {mid_sentence(words)} {money(due, account.currency)}"


def paid_words(found: kept.Paid, sum_: Cents | None) -> str:
    """How a job stands after a payment of a sum; None: so much was struck. What was typed twice can be struck."""
    words = balance_words(found)
    if sum_ is None:
        return f"struck as mistyped; {words}"
    if found.kind in ("deposit", "payment") and found.balance is not None and found.balance < 0:
        typed = f"estimator ledger pay {found.job} {Decimal(sum_) / 100:.2f} --kind {found.kind} --mistyped"
        return f"{words} (typed twice? {typed})"
    return words


def show_running(rows: Sequence[kept.RunningNow]) -> None:
    """What runs and what is paused."""
    show_table("Running", *table_of(books.RunningTask, rows))


def show_times(job: str, rows: Sequence[kept.TimeTaken]) -> None:
    """The times of a job; what was corrected is told with the number that took its place."""
    show_table(f"Times of {job}", *table_of(books.TimeTaken, rows))


def show_stock(rows: Sequence[kept.ShelfRow]) -> None:
    """What is left, held and free of every item, at what to order and how many; then what goes off."""
    show_table("Stock", *table_of(books.Item, rows))
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


def show_against(job: str, rows: Sequence[kept.TaskTimes]) -> None:
    """Estimate against actual of one job."""
    show_table(f"Estimate against actual: {job}", *table_of(books.TaskOfJob, rows))
    planned = sum((row.planned_s or Seconds(0) for row in rows), Seconds(0))
    taken = sum((row.taken_s for row in rows), Seconds(0))
    put(f"in all: planned {minutes_text(planned)}, taken {minutes_text(taken)}")


def show_reports(of: kept.Reports) -> None:
    """The reports over all jobs; that nobody owes anything is not said."""
    _report("Estimate against actual by task, jobs that are ready", books.ByTask, of.by_task)
    _report("Pay per hour, jobs that are done", books.PayPerHour, of.pay_per_hour)
    if any(row.few_times for row in of.pay_per_hour):
        put(
            "less than half of the hours as quoted have a time written down: the pay per hour is that much too high"
            " (estimator ledger time adds what was left out)"
        )
    _report("Where the hours went", books.HoursByTask, of.hours_by_task)
    _report("Hours by month", books.HoursByMonth, of.hours_by_month)
    _report("Warranty, of jobs that were done", books.Warranty, of.warranty)
    if of.money_owed:
        _report("Money owed, jobs that are closed", books.OwedJob, of.money_owed)
    _report("Cash by month", books.CashOfMonth, of.cash_by_month)


def _report(title: str, record: type[Record[Inner]], rows: Sequence[Inner]) -> None:
    show_table(title, *table_of(record, rows, _currency))


def _currency(row: object) -> str:
    """The currency of the money in a row; of a row without money none."""
    return getattr(row, "currency", "")

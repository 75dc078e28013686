"""What the commands of the ledger answer that list what it holds; money, quantities and moments as they are kept."""

from __future__ import annotations

from collections.abc import Sequence
from operator import itemgetter as cell
from typing import Any

from msgspec import UNSET, Struct
from msgspec.structs import replace

from estimator.core.text import moment, money
from estimator.ledger import records
from estimator.ledger.clock import kept_moment, minutes_text
from estimator.ledger.jobs import Account
from estimator.ledger.records import (
    BoardRow,
    GivenQuote,
    MonthCash,
    MonthHours,
    ShelfRow,
    TaskHours,
    TaskOverall,
    TaskTimes,
    WarrantyWork,
)
from estimator.ledger.reports import Reports as AllReports
from estimator.ledger.states import WORDS
from estimator.report.record import FIGURE, MONEY, UNNAMED, Kind, Record, Teller, plain_data
from estimator.report.records.ledger import quantity

Row = dict[str, Any]
currency_of = cell("currency")
"""The currency of the money in a row."""


def _time(seconds: int) -> str:
    return f"-{minutes_text(-seconds)}" if seconds < 0 else minutes_text(seconds)


def _moment(at: str, ahead_min: int) -> str:
    return moment(kept_moment(at, ahead_min).local)


def _when(row: Row) -> str:
    return _moment(row["at"], row["ahead_min"])


SECONDS = Kind("s", plain_data, _time, right=True)
QUANTITY = Kind("number as text", quantity, quantity, right=True)
PER_HOUR = replace(MONEY, none="no times")
STATE = Kind("text", plain_data, lambda state: WORDS[state])
AT, AHEAD = "moment, in UTC", "minutes that the shop's clock was ahead of it"
_row = Teller[Row]()
_job = Teller[BoardRow]()
_item = Teller[ShelfRow]()
_task = Teller[TaskTimes]()
_overall = Teller[TaskOverall]()
_hours = Teller[TaskHours]()
_month = Teller[MonthHours]()
_pay = Teller[records.PayPerHour]()
_warranty = Teller[WarrantyWork]()
_cash = Teller[MonthCash]()
_quote = Teller[GivenQuote]()
_payment = Teller[records.Payment]()


class JobTold(Record[BoardRow]):
    """A job that is open, or not settled."""

    job = _job.text("id of the job", lambda of: of.job, head="job")
    customer = _job.text("the customer's name", lambda of: of.customer, head="customer")
    state = _job.of(STATE, "what the job is now", lambda of: of.state, head="is")
    since = _job.text("the day since which it is", lambda of: of.since, head="since")
    what = _job.text("what is wished, in words", lambda of: of.what)
    kind = _job.text("kind of job", lambda of: of.kind)
    currency = _job.text("currency of its money", lambda of: of.currency)


class OpenJob(JobTold):
    """A job on the board, under what it asks for now."""

    promised = _job.text("the day it is promised for", lambda of: of.promised, head="promised")
    stored_days = _job.where_there(
        _job.whole(
            "days since its customer was told",
            lambda of: None if of.stored_days is UNSET else of.stored_days,
            head="days stored",
        )
    )
    storage = _job.where_there(
        _job.money("what its storage has come to", lambda of: None if of.storage is UNSET else of.storage)
    )
    charged = _job.column(
        "storage",
        lambda of: money(of.storage, of.currency) if of.storage else "",
        FIGURE,
    )
    note = _job.text("what is out of order with it", lambda of: of.note, head="mind")


class OwedJob(JobTold):
    """A job that is closed and not settled."""

    promised = _job.text("the day it was promised for", lambda of: of.promised)
    owed = _job.money(
        "owed to the shop; below zero: to the customer", lambda of: None if of.owed is UNSET else of.owed
    )
    note = _job.text("who owes what", lambda of: of.note, head=UNNAMED)


class LateParcel(Record[Row]):
    """A parcel that comes later than promised."""

    seller = _row.text("who sends it, an id of suppliers.csv", cell("seller"), head="from")
    item = _row.text("one consumable of it; blank: all of it", cell("item"))
    job = _row.text("the job that a part is for", cell("job"))
    upgrade = _row.text("the upgrade whose part is late", cell("upgrade"))
    in_words = _row.column(
        "what",
        lambda of: f"{of['upgrade']} for {of['job']}" if of["upgrade"] else of["item"] or "all of it",
    )
    expected = _row.text("the day it is expected now", cell("expected"), head="expected")
    overdue = _row.yes("that day is over, and nobody said that it came", cell("overdue"))
    asked = _row.column(UNNAMED, lambda of: "has it come?" if of["overdue"] else "")


class RunningTask(Record[Row]):
    """A task that runs or is paused."""

    id = _row.whole("its number", cell("id"))
    job = _row.text("id of the job", cell("job"), head="job")
    task = _row.text("the task", cell("task"), head="task")
    kind = _row.text("hands or cure", cell("kind"))
    paused_or_kind = _row.column(UNNAMED, lambda of: "paused" if of["paused"] else of["kind"])
    began_at = _row.text(f"when it was begun: {AT}", cell("began_at"))
    began_ahead_min = _row.whole(AHEAD, cell("began_ahead_min"))
    since_at = _row.text(f"since when it runs without a pause: {AT}", cell("since_at"))
    since_ahead_min = _row.whole(AHEAD, cell("since_ahead_min"))
    before_s = _row.of(SECONDS, "what it took before that", cell("before_s"))
    paused = _row.yes("it is paused", cell("paused"))
    forgotten = _row.text("why it may have been forgotten", cell("forgotten"))
    seconds = _row.of(SECONDS, "what it took so far; none: nobody knows", cell("seconds"))
    time = _row.column(
        "time", lambda of: f"ask: {of['forgotten']}" if of["forgotten"] else minutes_text(of["seconds"])
    )


class Board(Record[Row]):
    """What ``ledger board`` answers."""

    late = _row.rows(OpenJob, "promised for a day that is over", cell("late"))
    due = _row.rows(OpenJob, "promised for these days", cell("due"))
    waiting = _row.rows(OpenJob, "waiting for parts", cell("waiting"))
    in_ = _row.rows(OpenJob, "in, or at work", cell("in"))
    untold = _row.rows(OpenJob, "ready and not told", cell("untold"))
    stored = _row.rows(OpenJob, "told, not collected", cell("stored"))
    asked = _row.rows(OpenJob, "asked or quoted, no answer yet", cell("asked"))
    listed = _row.rows(OpenJob, "for sale", cell("listed"))
    owed = _row.rows(OwedJob, "money owed", cell("owed"))
    parcels = _row.rows(LateParcel, "late parcels", cell("parcels"))
    running = _row.rows(RunningTask, "what runs", cell("running"))


class Parcels(Record[Row]):
    """What ``ledger parcel`` answers alone."""

    parcels = _row.rows(LateParcel, "late parcels", cell("parcels"))


class Runs(Record[Row]):
    """What ``ledger running`` answers."""

    running = _row.rows(RunningTask, "what runs", cell("running"))


class TimeTaken(Record[Row]):
    """A time that was recorded."""

    id = _row.whole("its number", cell("id"), head="number")
    job = _row.text("id of the job", cell("job"))
    task = _row.text("the task", cell("task"), head="task")
    place = _row.text("where, off a job card", cell("place"))
    kind = _row.text("hands or cure", cell("kind"))
    seconds = _row.of(SECONDS, "how long", cell("seconds"), head="time")
    source = _row.text("how it was recorded", cell("source"))
    how = _row.column(
        "how", lambda of: f"corrected by {of['corrected_by']}" if of["corrected_by"] else of["source"]
    )
    began_at = _row.text(f"when it was begun: {AT}", cell("began_at"))
    at = _row.text(f"when it was recorded: {AT}", cell("at"))
    recorded = _row.column("recorded", _when)
    ahead_min = _row.whole(AHEAD, cell("ahead_min"))
    remark = _row.text("words with it", cell("remark"))
    corrects = _row.whole("number of the time that it corrects", cell("corrects"))
    redone = _row.whole("1: it did again what had gone wrong", cell("redone"))
    corrected_by = _row.whole("number of the time that corrects it", cell("corrected_by"))
    remarks = _row.column(
        "remark",
        lambda of: "; ".join(word for word in ("done again" if of["redone"] else "", of["remark"]) if word),
    )


class Times(Record[Row]):
    """What ``ledger time`` answers of a job."""

    job = _row.text("id of the job", cell("job"))
    times = _row.rows(TimeTaken, "its times", cell("times"))


class CardTime(Record[Row]):
    """A time off a job card."""

    job = _row.text("id of the job", cell("job"), head="job")
    task = _row.text("the task", cell("task"), head="task")
    place = _row.text("where", cell("place"), head="place")
    seconds = _row.of(SECONDS, "how long", cell("seconds"), head="time")
    done = _row.text("new, corrected or as before", cell("done"), head=UNNAMED)
    beside_s = _row.of(SECONDS, "recorded of the task otherwise", cell("beside_s"))


class Card(Record[Row]):
    """What ``ledger card`` answers."""

    times = _row.rows(CardTime, "the times off the cards", cell("times"))


class Item(Record[ShelfRow]):
    """An item in stock, in its unit."""

    item = _item.text("id of the part or consumable", lambda of: of.item, head="item")
    left = _item.of(QUANTITY, "what is there", lambda of: of.left, head="left")
    reserved = _item.of(QUANTITY, "held for jobs under way", lambda of: of.reserved, head="reserved")
    free = _item.of(QUANTITY, "there and not held", lambda of: of.free, head="free")
    short = _item.of(QUANTITY, "held and not there", lambda of: of.short, head="short")
    lead_days = _item.whole("days till a parcel comes", lambda of: of.lead_days)
    order_point = _item.of(QUANTITY, "at what to order", lambda of: of.order_point, head="order at")
    to_order = _item.of(QUANTITY, "how many to order", lambda of: of.to_order, head="order")
    keeps_till = _item.text("the first day on which some of it goes off", lambda of: of.keeps_till)
    gone_off = _item.of(QUANTITY, "past its day", lambda of: of.gone_off)
    soon_off = _item.yes("some of it goes off these days", lambda of: of.soon_off)
    spoiled = _item.of(QUANTITY, "told as spoiled so far", lambda of: of.spoiled)


class Stock(Record[Row]):
    """What ``ledger stock`` answers alone."""

    stock = _row.rows(Item, "what is in stock", cell("stock"))


class TaskOfJob(Record[TaskTimes]):
    """A task of a job, estimate against actual."""

    job = _task.text("id of the job", lambda of: of.job)
    task = _task.text("the task", lambda of: of.task, head="task")
    state = _task.text("what the job is now", lambda of: of.state)
    planned_s = _task.of(SECONDS, "by the accepted quote", lambda of: of.planned_s, head="planned")
    taken_s = _task.of(SECONDS, "by hand", lambda of: of.taken_s, head="taken")
    beyond_s = _task.of(SECONDS, "taken beyond what was planned", lambda of: of.beyond_s, head="beyond")


class Against(Record[Row]):
    """What ``ledger report`` answers of a job."""

    job = _row.text("id of the job", cell("job"))
    tasks = _row.rows(TaskOfJob, "estimate against actual", cell("tasks"))


class ByTask(Record[TaskOverall]):
    """A task over the jobs that are ready."""

    task = _overall.text("the task", lambda of: of.task, head="task")
    jobs = _overall.whole("jobs that had it", lambda of: of.jobs, head="jobs")
    planned_s = _overall.of(SECONDS, "by the accepted quotes", lambda of: of.planned_s, head="planned")
    taken_s = _overall.of(SECONDS, "by hand", lambda of: of.taken_s, head="taken")
    taken_percent = _overall.whole("taken of planned, in per cent", lambda of: of.taken_percent, head="%")


class HoursByTask(Record[TaskHours]):
    """Where the hours went."""

    task = _hours.text("the task", lambda of: of.task, head="task")
    jobs = _hours.whole("jobs that had it", lambda of: of.jobs, head="jobs")
    taken_s = _hours.of(SECONDS, "by hand", lambda of: of.taken_s, head="hours")
    share_percent = _hours.whole("of all hours, in per cent", lambda of: of.share_percent, head="%")


class HoursByMonth(Record[MonthHours]):
    """The hours of a month."""

    month = _month.text("year and month", lambda of: of.month, head="month")
    client_s = _month.of(SECONDS, "for customers", lambda of: of.client_s, head="customers")
    own_s = _month.of(SECONDS, "for what the shop owns", lambda of: of.own_s, head="the shop's own")
    warranty_s = _month.of(SECONDS, "under warranty", lambda of: of.warranty_s, head="warranty")


class PayPerHour(Record[records.PayPerHour]):
    """What jobs of a kind that are done brought an hour."""

    kind = _pay.text("kind of job", lambda of: of.kind, head="kind")
    currency = _pay.text("currency of the money", lambda of: of.currency)
    jobs = _pay.whole("jobs that are done", lambda of: of.jobs, head="jobs")
    left = _pay.money("left for the work", lambda of: of.left, head="left for the work")
    taken_s = _pay.of(SECONDS, "by hand", lambda of: of.taken_s, head="hours")
    per_hour = _pay.of(PER_HOUR, "left an hour; none: no times", lambda of: of.per_hour, head="per hour")


class Warranty(Record[WarrantyWork]):
    """Jobs of a kind that came back, and what that took."""

    kind = _warranty.text("kind of job", lambda of: of.kind, head="kind")
    currency = _warranty.text("currency of the money", lambda of: of.currency)
    jobs = _warranty.whole("jobs that were done", lambda of: of.jobs, head="jobs")
    returned = _warranty.whole("of them came back", lambda of: of.returned, head="came back")
    came_back = _warranty.column("%", lambda of: str(of.returned_percent), FIGURE)
    taken_s = _warranty.of(SECONDS, "by hand after they did", lambda of: of.taken_s, head="hours")
    refund = _warranty.money("given back after they did", lambda of: of.refund, head="given back")
    unpriced = _warranty.whole("uses of what was never bought at a price", lambda of: of.unpriced)
    materials = _warranty.money("used after they did, at cost", lambda of: of.materials)
    used = _warranty.column(
        "materials",
        lambda of: (
            money(of.materials, of.currency) + (f" and {of.unpriced} without a price" if of.unpriced else "")
        ),
        FIGURE,
    )
    returned_percent = _warranty.whole("of them came back, in per cent", lambda of: of.returned_percent)


class CashOfMonth(Record[MonthCash]):
    """The till of a month."""

    month = _cash.text("year and month", lambda of: of.month, head="month")
    currency = _cash.text("currency of the money", lambda of: of.currency)
    in_ = _cash.money("came in for jobs", lambda of: of.came_in, head="in")
    out = _cash.money("went out for jobs", lambda of: of.out, head="out")
    stock = _cash.money("went out for stock", lambda of: of.stock, head="stock")
    left = _cash.money("left of it", lambda of: of.left, head="left")


class Reported(Struct, frozen=True):
    """The reports over all jobs, the tasks job by job, and the files that were written."""

    found: AllReports
    tasks: Sequence[TaskTimes]
    written: Sequence[str]


_reported = Teller[Reported]()


class Reports(Record[Reported]):
    """What ``ledger report`` answers."""

    by_task = _reported.rows(
        ByTask, "estimate against actual, jobs that are ready", lambda of: of.found.by_task
    )
    hours_by_task = _reported.rows(HoursByTask, "where the hours went", lambda of: of.found.hours_by_task)
    hours_by_month = _reported.rows(HoursByMonth, "hours by month", lambda of: of.found.hours_by_month)
    pay_per_hour = _reported.rows(
        PayPerHour, "pay per hour, jobs that are done", lambda of: of.found.pay_per_hour
    )
    warranty = _reported.rows(Warranty, "warranty, of jobs that were done", lambda of: of.found.warranty)
    money_owed = _reported.rows(OwedJob, "money owed, jobs that are closed", lambda of: of.found.money_owed)
    cash_by_month = _reported.rows(CashOfMonth, "cash by month", lambda of: of.found.cash_by_month)
    tasks = _reported.rows(
        TaskOfJob, "estimate against actual, task by task of every job", lambda of: of.tasks
    )
    written = _reported.words("the files that were written", lambda of: of.written)


class Dated(Record[Row]):
    """What stands beside its moment."""

    when = _row.column("when", _when)
    at = _row.text(AT, cell("at"))
    ahead_min = _row.whole(AHEAD, cell("ahead_min"))


class Step(Dated):
    """A step of a job."""

    state = _row.of(STATE, "what the job became", cell("state"), head="is")
    remark = _row.text("words with it", cell("remark"), head="remark")


class QuoteGiven(Record[GivenQuote]):
    """A quote as it was given."""

    number = _quote.text("its number", lambda of: of.number, head="number")
    job = _quote.text("id of the job", lambda of: of.job)
    at = _quote.text(AT, lambda of: of.at)
    ahead_min = _quote.whole(AHEAD, lambda of: of.ahead_min)
    given = _quote.column("given", lambda of: _moment(of.at, of.ahead_min))
    price = _quote.money("price before tax", lambda of: of.price)
    tax = _quote.money("tax on it", lambda of: of.tax)
    to_pay = _quote.money("price with tax; of own work: its cost", lambda of: of.to_pay, head="to pay")
    materials = _quote.money("materials at cost", lambda of: of.materials)
    currency = _quote.text("currency of the money", lambda of: of.currency)
    lines = _quote.of(Kind("list of objects", plain_data), "its lines", lambda of: of.lines)


class OwnQuote(QuoteGiven):
    """A quote for work on what the shop owns."""

    to_pay = _quote.money("its cost", lambda of: of.to_pay, head="cost")


class AgreedTold(Dated):
    """What was agreed on the way."""

    words = _row.text("what was agreed", cell("words"), head="words")
    quote = _row.text("the quote with its price", cell("quote"), head="quote")


class Photo(Dated):
    """A photo of a job."""

    path = _row.text("its file", cell("path"), head="file")
    remark = _row.text("words with it", cell("remark"), head="remark")
    missing = _row.yes("the file is not there", cell("missing"))
    gone = _row.column(UNNAMED, lambda of: "the file is not there" if of["missing"] else "")


class Invoice(Dated):
    """An invoice that was given."""

    number = _row.text("its number", cell("number"))
    quote = _row.text("the quote that it is for", cell("quote"))


class Payment(Record[records.Payment]):
    """Money that came in or went out for a job."""

    id = _payment.whole("its number", lambda of: of.id)
    when = _payment.column("when", lambda of: _moment(of.at, of.ahead_min))
    kind = _payment.text(
        "deposit, payment, bench-fee, refund, sale or purchase", lambda of: of.kind, head="kind"
    )
    amount = _payment.money("the sum; below zero: it went out", lambda of: of.amount, head="amount")
    currency = _payment.text("its currency", lambda of: of.currency)
    at = _payment.text(AT, lambda of: of.at)
    ahead_min = _payment.whole(AHEAD, lambda of: of.ahead_min)
    remark = _payment.text("words with it", lambda of: of.remark, head="remark")


_account = Teller[Account]()


class AccountTold(Record[Account]):
    """How the money of a job stands."""

    job = _account.text("id of the job", lambda of: of.job)
    state = _account.text("what the job is now", lambda of: of.state)
    currency = _account.text("currency of the money", lambda of: of.currency)
    agreed = _account.money("agreed; none: nothing was", lambda of: of.agreed)
    paid = _account.money("paid by the customer", lambda of: of.paid)
    given_back = _account.money("given back", lambda of: of.given_back)
    lowered = _account.money("taken off what was agreed", lambda of: of.lowered)
    storage = _account.money("for days stored", lambda of: of.storage)
    balance = _account.money("left to pay; below zero: paid too much", lambda of: of.balance)
    bought = _account.money("paid out for the instrument itself", lambda of: of.bought)


class History(Record[Row]):
    """All that the ledger holds of a job."""

    id = _row.text("id of the job", cell("id"))
    customer = _row.text("the customer's name", cell("customer"))
    contact = _row.text("how to reach the customer", cell("contact"))
    kind = _row.text("kind of job", cell("kind"))
    what = _row.text("what is wished, in words", cell("what"))
    instrument = _row.text("kind of instrument", cell("instrument"))
    make = _row.text("its make", cell("make"))
    model = _row.text("its model", cell("model"))
    serial = _row.text("its serial number", cell("serial"))
    file = _row.text("the job file", cell("file"))
    currency = _row.text("currency of its money", currency_of)
    state = _row.text("what it is now", cell("state"))
    promised = _row.text("the day it is promised for", cell("promised"))
    accepted_quote = _row.text("number of the quote that was accepted", cell("accepted_quote"))
    account = _row.one(AccountTold, "how its money stands", cell("account"))
    steps = _row.rows(Step, "what it was, one after the other", cell("steps"))
    quotes = _row.rows(QuoteGiven, "quotes that were given", cell("quotes"))
    agreed = _row.rows(AgreedTold, "what was agreed on the way", cell("agreed"))
    photos = _row.rows(Photo, "where photos lie", cell("photos"))
    invoices = _row.rows(Invoice, "invoices that were given", cell("invoices"))
    payments = _row.rows(Payment, "money that came in and went out", cell("payments"))


class CustomerTold(Record[Row]):
    """What ``ledger show-customer`` answers."""

    customer = _row.text("the name", cell("customer"))
    contact = _row.text("how to reach the customer", cell("contact"))
    jobs = _row.rows(History, "the jobs", cell("jobs"))


class InstrumentTold(Record[Row]):
    """What ``ledger instrument`` answers."""

    serial = _row.text("the serial number as it was asked for", cell("serial"))
    jobs = _row.rows(History, "all jobs on it", cell("jobs"))

"""What the commands of the ledger answer that list what it holds; money, quantities and moments as they are kept."""

from __future__ import annotations

from operator import itemgetter as cell
from typing import Any

from msgspec.structs import replace

from estimator.core.text import moment, money
from estimator.ledger.clock import kept_moment, minutes_text
from estimator.ledger.jobs import Account
from estimator.ledger.states import WORDS
from estimator.report.record import FIGURE, MONEY, UNNAMED, Kind, Record, Teller, plain_data
from estimator.report.records.ledger import quantity

Row = dict[str, Any]
currency_of = cell("currency")
"""The currency of the money in a row."""


def _time(seconds: int) -> str:
    return f"-{minutes_text(-seconds)}" if seconds < 0 else minutes_text(seconds)


def _when(row: Row) -> str:
    return moment(kept_moment(row["at"], row["ahead_min"]).local)


SECONDS = Kind("s", plain_data, _time, right=True)
QUANTITY = Kind("number as text", quantity, quantity, right=True)
PER_HOUR = replace(MONEY, none="no times")
STATE = Kind("text", plain_data, lambda state: WORDS[state])
AT, AHEAD = "moment, in UTC", "minutes that the shop's clock was ahead of it"
_row = Teller[Row]()


class JobTold(Record[Row]):
    """A job that is open, or not settled."""

    job = _row.text("id of the job", cell("job"), head="job")
    customer = _row.text("the customer's name", cell("customer"), head="customer")
    state = _row.of(STATE, "what the job is now", cell("state"), head="is")
    since = _row.text("the day since which it is", cell("since"), head="since")
    what = _row.text("what is wished, in words", cell("what"))
    kind = _row.text("kind of job", cell("kind"))
    currency = _row.text("currency of its money", currency_of)


class OpenJob(JobTold):
    """A job on the board, under what it asks for now."""

    promised = _row.text("the day it is promised for", cell("promised"), head="promised")
    stored_days = _row.where_there(
        _row.whole("days since its customer was told", lambda of: of.get("stored_days"), head="days stored")
    )
    storage = _row.where_there(_row.money("what its storage has come to", lambda of: of.get("storage_cents")))
    charged = _row.column(
        "storage",
        lambda of: money(of["storage_cents"], of["currency"]) if of.get("storage_cents") else "",
        FIGURE,
    )
    note = _row.text("what is out of order with it", cell("note"), head="mind")


class OwedJob(JobTold):
    """A job that is closed and not settled."""

    promised = _row.text("the day it was promised for", cell("promised"))
    owed = _row.money("owed to the shop; below zero: to the customer", cell("owed_cents"))
    note = _row.text("who owes what", cell("note"), head=UNNAMED)


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


class Item(Record[Row]):
    """An item in stock, in its unit."""

    item = _row.text("id of the part or consumable", cell("item"), head="item")
    left = _row.of(QUANTITY, "what is there", cell("left_millionths"), head="left")
    reserved = _row.of(QUANTITY, "held for jobs under way", cell("reserved_millionths"), head="reserved")
    free = _row.of(QUANTITY, "there and not held", cell("free_millionths"), head="free")
    short = _row.of(QUANTITY, "held and not there", cell("short_millionths"), head="short")
    lead_days = _row.whole("days till a parcel comes", cell("lead_days"))
    order_point = _row.of(QUANTITY, "at what to order", cell("order_point_millionths"), head="order at")
    to_order = _row.of(QUANTITY, "how many to order", cell("to_order_millionths"), head="order")
    keeps_till = _row.text("the first day on which some of it goes off", cell("keeps_till"))
    gone_off = _row.of(QUANTITY, "past its day", cell("gone_off_millionths"))
    soon_off = _row.yes("some of it goes off these days", cell("soon_off"))
    spoiled = _row.of(QUANTITY, "told as spoiled so far", cell("spoiled_millionths"))


class Stock(Record[Row]):
    """What ``ledger stock`` answers alone."""

    stock = _row.rows(Item, "what is in stock", cell("stock"))


class TaskOfJob(Record[Row]):
    """A task of a job, estimate against actual."""

    job = _row.text("id of the job", cell("job"))
    task = _row.text("the task", cell("task"), head="task")
    state = _row.text("what the job is now", cell("state"))
    planned_s = _row.of(SECONDS, "by the accepted quote", cell("planned_s"), head="planned")
    taken_s = _row.of(SECONDS, "by hand", cell("taken_s"), head="taken")
    beyond_s = _row.of(SECONDS, "taken beyond what was planned", cell("beyond_s"), head="beyond")


class Against(Record[Row]):
    """What ``ledger report`` answers of a job."""

    job = _row.text("id of the job", cell("job"))
    tasks = _row.rows(TaskOfJob, "estimate against actual", cell("tasks"))


class ByTask(Record[Row]):
    """A task over the jobs that are ready."""

    task = _row.text("the task", cell("task"), head="task")
    jobs = _row.whole("jobs that had it", cell("jobs"), head="jobs")
    planned_s = _row.of(SECONDS, "by the accepted quotes", cell("planned_s"), head="planned")
    taken_s = _row.of(SECONDS, "by hand", cell("taken_s"), head="taken")
    taken_percent = _row.whole("taken of planned, in per cent", cell("taken_percent"), head="%")


class HoursByTask(Record[Row]):
    """Where the hours went."""

    task = _row.text("the task", cell("task"), head="task")
    jobs = _row.whole("jobs that had it", cell("jobs"), head="jobs")
    taken_s = _row.of(SECONDS, "by hand", cell("taken_s"), head="hours")
    share_percent = _row.whole("of all hours, in per cent", cell("share_percent"), head="%")


class HoursByMonth(Record[Row]):
    """The hours of a month."""

    month = _row.text("year and month", cell("month"), head="month")
    client_s = _row.of(SECONDS, "for customers", cell("client_s"), head="customers")
    own_s = _row.of(SECONDS, "for what the shop owns", cell("own_s"), head="the shop's own")
    warranty_s = _row.of(SECONDS, "under warranty", cell("warranty_s"), head="warranty")


class PayPerHour(Record[Row]):
    """What jobs of a kind that are done brought an hour."""

    kind = _row.text("kind of job", cell("kind"), head="kind")
    currency = _row.text("currency of the money", currency_of)
    jobs = _row.whole("jobs that are done", cell("jobs"), head="jobs")
    left = _row.money("left for the work", cell("left_cents"), head="left for the work")
    taken_s = _row.of(SECONDS, "by hand", cell("taken_s"), head="hours")
    per_hour = _row.of(PER_HOUR, "left an hour; none: no times", cell("per_hour_cents"), head="per hour")


class Warranty(Record[Row]):
    """Jobs of a kind that came back, and what that took."""

    kind = _row.text("kind of job", cell("kind"), head="kind")
    currency = _row.text("currency of the money", currency_of)
    jobs = _row.whole("jobs that were done", cell("jobs"), head="jobs")
    returned = _row.whole("of them came back", cell("returned"), head="came back")
    came_back = _row.column("%", lambda of: str(of["returned_percent"]), FIGURE)
    taken_s = _row.of(SECONDS, "by hand after they did", cell("taken_s"), head="hours")
    refund = _row.money("given back after they did", cell("refund_cents"), head="given back")
    unpriced = _row.whole("uses of what was never bought at a price", cell("unpriced"))
    materials = _row.money("used after they did, at cost", cell("materials_cents"))
    used = _row.column(
        "materials",
        lambda of: (
            money(of["materials_cents"], of["currency"])
            + (f" and {of['unpriced']} without a price" if of["unpriced"] else "")
        ),
        FIGURE,
    )
    returned_percent = _row.whole("of them came back, in per cent", cell("returned_percent"))


class CashOfMonth(Record[Row]):
    """The till of a month."""

    month = _row.text("year and month", cell("month"), head="month")
    currency = _row.text("currency of the money", currency_of)
    in_ = _row.money("came in for jobs", cell("in_cents"), head="in")
    out = _row.money("went out for jobs", cell("out_cents"), head="out")
    stock = _row.money("went out for stock", cell("stock_cents"), head="stock")
    left = _row.money("left of it", cell("left_cents"), head="left")


class Reports(Record[Row]):
    """What ``ledger report`` answers."""

    by_task = _row.rows(ByTask, "estimate against actual, jobs that are ready", cell("by_task"))
    hours_by_task = _row.rows(HoursByTask, "where the hours went", cell("hours_by_task"))
    hours_by_month = _row.rows(HoursByMonth, "hours by month", cell("hours_by_month"))
    pay_per_hour = _row.rows(PayPerHour, "pay per hour, jobs that are done", cell("pay_per_hour"))
    warranty = _row.rows(Warranty, "warranty, of jobs that were done", cell("warranty"))
    money_owed = _row.rows(OwedJob, "money owed, jobs that are closed", cell("money_owed"))
    cash_by_month = _row.rows(CashOfMonth, "cash by month", cell("cash_by_month"))
    tasks = _row.rows(TaskOfJob, "estimate against actual, task by task of every job", cell("tasks"))
    written = _row.words("the files that were written", cell("written"))


class Dated(Record[Row]):
    """What stands beside its moment."""

    when = _row.column("when", _when)
    at = _row.text(AT, cell("at"))
    ahead_min = _row.whole(AHEAD, cell("ahead_min"))


class Step(Dated):
    """A step of a job."""

    state = _row.of(STATE, "what the job became", cell("state"), head="is")
    remark = _row.text("words with it", cell("remark"), head="remark")


class QuoteGiven(Record[Row]):
    """A quote as it was given."""

    number = _row.text("its number", cell("number"), head="number")
    job = _row.text("id of the job", cell("job"))
    at = _row.text(AT, cell("at"))
    ahead_min = _row.whole(AHEAD, cell("ahead_min"))
    given = _row.column("given", _when)
    price = _row.money("price before tax", cell("price_cents"))
    tax = _row.money("tax on it", cell("tax_cents"))
    to_pay = _row.money("price with tax; of own work: its cost", cell("to_pay_cents"), head="to pay")
    materials = _row.money("materials at cost", cell("materials_cents"))
    currency = _row.text("currency of the money", currency_of)
    lines = _row.of(Kind("list of objects", plain_data), "its lines", cell("lines"))


class OwnQuote(QuoteGiven):
    """A quote for work on what the shop owns."""

    to_pay = _row.money("its cost", cell("to_pay_cents"), head="cost")


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


class Payment(Dated):
    """Money that came in or went out for a job."""

    id = _row.whole("its number", cell("id"))
    kind = _row.text("deposit, payment, bench-fee, refund, sale or purchase", cell("kind"), head="kind")
    amount = _row.money("the sum; below zero: it went out", cell("cents"), head="amount")
    currency = _row.text("its currency", currency_of)
    remark = _row.text("words with it", cell("remark"), head="remark")


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

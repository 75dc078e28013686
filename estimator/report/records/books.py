"""What the commands of the ledger answer: money, quantities and moments as they are kept.

A row of the ledger is told by what its field is typed as (``ledger/records.py``): cents as money, millionths as a
quantity, seconds as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import starmap
from typing import Generic, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Millionths, Seconds
from estimator.core.text import moment, money
from estimator.estimate.tools.to_get import ToolsGot
from estimator.ledger import records as kept
from estimator.ledger.clock import kept_moment, minutes_text
from estimator.ledger.jobs import Offered
from estimator.ledger.states import WORDS
from estimator.ledger.stock import quantity
from estimator.price.client.beyond_worth import Brings
from estimator.report.record import FIGURE, MONEY, UNNAMED, Figure, Kind, Record, Source, Teller, plain_data
from estimator.report.record import WORDS as LISTED
from estimator.report.records.tools import Tools
from estimator.report.records.worth import BringsLess

Took = TypeVar("Took", bound="Seconds | None")
Many = TypeVar("Many", bound="Millionths | None")
Happened = TypeVar("Happened", bound=kept.Dated)
Told = TypeVar("Told")


class OfJob(Struct, Generic[Told], frozen=True):
    """What a listing of one job holds."""

    job: str
    rows: Sequence[Told]


def _time(seconds: Seconds) -> str:
    return f"-{minutes_text(-seconds)}" if seconds < 0 else minutes_text(seconds)


def when(at: str, ahead_min: int) -> str:
    """A moment by the shop's clock."""
    return moment(kept_moment(at, ahead_min).local)


SECONDS = Kind("s", plain_data, _time, right=True)
QUANTITY = Kind("number as text", quantity, quantity, right=True)
PER_HOUR = replace(MONEY, none="no times")
STATE = Kind("text", plain_data, lambda state: WORDS[state])
LINES = Kind("list of objects", plain_data)
AT, AHEAD = "moment, in UTC", "minutes that the shop's clock was ahead of it"


class _Teller(Teller[Source]):
    """With what the ledger alone counts."""

    def seconds(self, meaning: str, value: Callable[[Source], Took], head: str = "") -> Figure[Source, Took]:
        """Seconds, in a table as hours and minutes."""
        return self.of(SECONDS, meaning, value, head)

    def quantity(self, meaning: str, value: Callable[[Source], Many], head: str = "") -> Figure[Source, Many]:
        """Millionths."""
        return self.of(QUANTITY, meaning, value, head)


_booked = _Teller[kept.Booked]()
_begun = _Teller[kept.Begun]()
_laid = _Teller[kept.LaidDown]()
_stands = _Teller[kept.OfTask]()
_recorded = _Teller[kept.Recorded]()
_corrected = _Teller[kept.Corrected]()
_accepted = _Teller[kept.Accepted]()
_photographed = _Teller[kept.PhotoKept]()
_agreed_on = _Teller[kept.AgreedOn]()
_receipt = _Teller[kept.ReceiptMade]()
_paper = _Teller[kept.PaperMade]()
_copied = _Teller[kept.Copied]()
_exported = _Teller[kept.Exported]()
_checked = _Teller[kept.Checked]()
_news = _Teller[kept.ParcelNews]()
_erased = _Teller[kept.Erased]()
_job = _Teller[kept.BoardRow]()
_parcel = _Teller[kept.LateParcel]()
_running = _Teller[kept.RunningNow]()
_parcels = _Teller[Sequence[kept.LateParcel]]()
_runs = _Teller[Sequence[kept.RunningNow]]()
_taken = _Teller[kept.TimeTaken]()
_times = _Teller[OfJob[kept.TimeTaken]]()
_card = _Teller[kept.CardTime]()
_cards = _Teller[Sequence[kept.CardTime]]()
_item = _Teller[kept.ShelfRow]()
_moved = _Teller[kept.StockMoved]()
_use = _Teller[kept.ItemUse]()
_stock = _Teller[Sequence[kept.ShelfRow]]()
_of_task = _Teller[kept.TaskTimes]()
_against = _Teller[OfJob[kept.TaskTimes]]()
_task = _Teller[kept.TaskOverall]()
_spent = _Teller[kept.TaskHours]()
_month = _Teller[kept.MonthHours]()
_pay = _Teller[kept.PayPerHour]()
_warranty = _Teller[kept.WarrantyWork]()
_cash = _Teller[kept.MonthCash]()
_reports = _Teller[kept.Reports]()
_dated = _Teller[kept.Dated]()
_step = _Teller[kept.Step]()
_next = _Teller[kept.Moved]()
_quote = _Teller[kept.GivenQuote]()
_agreed = _Teller[kept.Agreed]()
_photo = _Teller[kept.Photo]()
_invoice = _Teller[kept.Invoice]()
_payment = _Teller[kept.Payment]()
_account = _Teller[kept.Account]()
_paid = _Teller[kept.Paid]()
_history = _Teller[kept.History]()
_customer = _Teller[kept.CustomerHistory]()
_instrument = _Teller[kept.InstrumentHistory]()


class JobTold(Record[kept.BoardRow]):
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
        _job.whole("days since its customer was told", lambda of: of.stored_days, head="days stored")
    )
    storage = _job.where_there(_job.money("what its storage has come to", lambda of: of.storage))
    charged = _job.column(
        "storage",
        lambda of: money(of.storage, of.currency) if of.storage else "",
        FIGURE,
    )
    note = _job.text("what is out of order with it", lambda of: of.note, head="mind")


class OwedJob(JobTold):
    """A job that is closed and not settled."""

    promised = _job.text("the day it was promised for", lambda of: of.promised)
    owed = _job.money("owed to the shop; below zero: to the customer", lambda of: of.owed)
    note = _job.text("who owes what", lambda of: of.note, head=UNNAMED)


class LateParcel(Record[kept.LateParcel]):
    """A parcel that comes later than promised."""

    seller = _parcel.text("who sends it, an id of suppliers.csv", lambda of: of.seller, head="from")
    item = _parcel.text("one consumable of it; blank: all of it", lambda of: of.item)
    job = _parcel.text("the job that a part is for", lambda of: of.job)
    upgrade = _parcel.text("the upgrade whose part is late", lambda of: of.upgrade)
    in_words = _parcel.column(
        "what",
        lambda of: f"{of.upgrade} for {of.job}" if of.upgrade else of.item or "all of it",
    )
    expected = _parcel.text("the day it is expected now", lambda of: of.expected, head="expected")
    overdue = _parcel.yes("that day is over, and nobody said that it came", lambda of: of.overdue)
    asked = _parcel.column(UNNAMED, lambda of: "has it come?" if of.overdue else "")


class RunningTask(Record[kept.RunningNow]):
    """A task that runs or is paused."""

    id = _running.whole("its number", lambda of: of.id)
    job = _running.text("id of the job", lambda of: of.job, head="job")
    task = _running.text("the task", lambda of: of.task, head="task")
    kind = _running.text("hands or cure", lambda of: of.kind)
    paused_or_kind = _running.column(UNNAMED, lambda of: "paused" if of.paused else of.kind)
    began_at = _running.text(f"when it was begun: {AT}", lambda of: of.began_at)
    began_ahead_min = _running.whole(AHEAD, lambda of: of.began_ahead_min)
    since_at = _running.text(f"since when it runs without a pause: {AT}", lambda of: of.since_at)
    since_ahead_min = _running.whole(AHEAD, lambda of: of.since_ahead_min)
    before_s = _running.seconds("what it took before that", lambda of: of.before_s)
    paused = _running.yes("it is paused", lambda of: of.paused)
    forgotten = _running.text("why it may have been forgotten", lambda of: of.forgotten)
    seconds = _running.seconds("what it took so far; none: nobody knows", lambda of: of.seconds)
    time = _running.column(
        "time", lambda of: f"ask: {of.forgotten}" if of.seconds is None else minutes_text(of.seconds)
    )


class BoardNow(Struct, frozen=True):
    """The board at a moment: jobs by heading, parcels that are late, what runs."""

    jobs: Mapping[str, Sequence[kept.BoardRow]]
    parcels: Sequence[kept.LateParcel]
    running: Sequence[kept.RunningNow]


_board = _Teller[BoardNow]()


class Board(Record[BoardNow]):
    """What ``ledger board`` answers."""

    late = _board.rows(OpenJob, "promised for a day that is over", lambda of: of.jobs["late"])
    due = _board.rows(OpenJob, "promised for these days", lambda of: of.jobs["due"])
    waiting = _board.rows(OpenJob, "waiting for parts", lambda of: of.jobs["waiting"])
    in_ = _board.rows(OpenJob, "in, or at work", lambda of: of.jobs["in"])
    untold = _board.rows(OpenJob, "ready and not told", lambda of: of.jobs["untold"])
    stored = _board.rows(OpenJob, "told, not collected", lambda of: of.jobs["stored"])
    asked = _board.rows(OpenJob, "asked or quoted, no answer yet", lambda of: of.jobs["asked"])
    listed = _board.rows(OpenJob, "for sale", lambda of: of.jobs["listed"])
    owed = _board.rows(OwedJob, "money owed", lambda of: of.jobs["owed"])
    parcels = _board.rows(LateParcel, "late parcels", lambda of: of.parcels)
    running = _board.rows(RunningTask, "what runs", lambda of: of.running)


class Parcels(Record[Sequence[kept.LateParcel]]):
    """What ``ledger parcel`` answers alone."""

    parcels = _parcels.rows(LateParcel, "late parcels", lambda of: of)


class Runs(Record[Sequence[kept.RunningNow]]):
    """What ``ledger running`` answers."""

    running = _runs.rows(RunningTask, "what runs", lambda of: of)


class TimeTaken(Record[kept.TimeTaken]):
    """A time that was recorded."""

    id = _taken.whole("its number", lambda of: of.id, head="number")
    job = _taken.text("id of the job", lambda of: of.job)
    task = _taken.text("the task", lambda of: of.task, head="task")
    place = _taken.text("where, off a job card", lambda of: of.place)
    kind = _taken.text("hands or cure", lambda of: of.kind)
    seconds = _taken.seconds("how long", lambda of: of.seconds, head="time")
    source = _taken.text("how it was recorded", lambda of: of.source)
    how = _taken.column("how", lambda of: f"corrected by {of.corrected_by}" if of.corrected_by else of.source)
    began_at = _taken.text(f"when it was begun: {AT}", lambda of: of.began_at)
    at = _taken.text(f"when it was recorded: {AT}", lambda of: of.at)
    recorded = _taken.column("recorded", lambda of: when(of.at, of.ahead_min))
    ahead_min = _taken.whole(AHEAD, lambda of: of.ahead_min)
    remark = _taken.text("words with it", lambda of: of.remark)
    corrects = _taken.whole("number of the time that it corrects", lambda of: of.corrects)
    redone = _taken.whole("1: it did again what had gone wrong", lambda of: of.redone)
    corrected_by = _taken.whole("number of the time that corrects it", lambda of: of.corrected_by)
    remarks = _taken.column(
        "remark",
        lambda of: "; ".join(word for word in ("done again" if of.redone else "", of.remark) if word),
    )


class Times(Record[OfJob[kept.TimeTaken]]):
    """What ``ledger time`` answers of a job."""

    job = _times.text("id of the job", lambda of: of.job)
    times = _times.rows(TimeTaken, "its times", lambda of: of.rows)


class CardTime(Record[kept.CardTime]):
    """A time off a job card."""

    job = _card.text("id of the job", lambda of: of.job, head="job")
    task = _card.text("the task", lambda of: of.task, head="task")
    place = _card.text("where", lambda of: of.place, head="place")
    seconds = _card.seconds("how long", lambda of: of.seconds, head="time")
    done = _card.text("new, corrected or as before", lambda of: of.done, head=UNNAMED)
    beside_s = _card.seconds("recorded of the task otherwise", lambda of: of.beside_s)


class Card(Record[Sequence[kept.CardTime]]):
    """What ``ledger card`` answers."""

    times = _cards.rows(CardTime, "the times off the cards", lambda of: of)


class Item(Record[kept.ShelfRow]):
    """An item in stock, in its unit."""

    item = _item.text("id of the part or consumable", lambda of: of.item, head="item")
    left = _item.quantity("what is there", lambda of: of.left, head="left")
    reserved = _item.quantity("held for jobs under way", lambda of: of.reserved, head="reserved")
    free = _item.quantity("there and not held", lambda of: of.free, head="free")
    short = _item.quantity("held and not there", lambda of: of.short, head="short")
    lead_days = _item.whole("days till a parcel comes", lambda of: of.lead_days)
    order_point = _item.quantity("at what to order", lambda of: of.order_point, head="order at")
    to_order = _item.quantity("how many to order", lambda of: of.to_order, head="order")
    keeps_till = _item.text("the first day on which some of it goes off", lambda of: of.keeps_till)
    gone_off = _item.quantity("past its day", lambda of: of.gone_off)
    soon_off = _item.yes("some of it goes off these days", lambda of: of.soon_off)
    spoiled = _item.quantity("told as spoiled so far", lambda of: of.spoiled)


class Booked(Record[kept.Booked]):
    """What ``ledger book`` answers."""

    job = _booked.text("id of the job", lambda of: of.job)
    state = _booked.of(STATE, "what it is now", lambda of: of.state)
    ledger = _booked.text("the file of the ledger", lambda of: of.ledger)


class Begun(Record[kept.Begun]):
    """What ``ledger begin`` answers."""

    job = _begun.text("id of the job", lambda of: of.job)
    task = _begun.text("the task", lambda of: of.task)
    kind = _begun.text("hands or cure", lambda of: of.kind)
    went_on = _begun.yes("it had been begun before", lambda of: of.went_on)
    paused = _begun.text("what the hands were at, and is paused now", lambda of: of.paused)


class LaidDown(Record[kept.LaidDown]):
    """What ``ledger pause`` answers."""

    job = _laid.text("id of the job", lambda of: of.job)
    task = _laid.text("the task", lambda of: of.task)
    seconds = _laid.seconds("what it took so far", lambda of: of.seconds)


class OfTask(Record[kept.OfTask]):
    """How a task of a job stands."""

    planned_s = _stands.seconds("by the accepted quote; none: it is not in it", lambda of: of.planned_s)
    taken_s = _stands.seconds("by hand so far", lambda of: of.taken_s)


class Recorded(Record[kept.Recorded]):
    """What ``ledger time`` answers of minutes."""

    spell = _recorded.whole("number of the time", lambda of: of.spell)
    job = _recorded.text("id of the job", lambda of: of.job)
    task = _recorded.text("the task", lambda of: of.task)
    seconds = _recorded.seconds("how long", lambda of: of.seconds)
    of_task = _recorded.joined(OfTask, lambda of: of)


class Ended(Record[kept.Recorded]):
    """A task that was ended."""

    spell = _recorded.whole("number of the time", lambda of: of.spell)
    job = _recorded.text("id of the job", lambda of: of.job)
    task = _recorded.text("the task", lambda of: of.task)
    kind = _recorded.text("hands or cure", lambda of: of.kind)
    seconds = _recorded.seconds("how long", lambda of: of.seconds)
    of_task = _recorded.joined(OfTask, lambda of: of)


class Corrected(Record[kept.Corrected]):
    """What ``ledger correct`` answers."""

    spell = _corrected.whole("number of the time that corrects the other", lambda of: of.spell)
    job = _corrected.text("id of the job", lambda of: of.job)
    task = _corrected.text("the task", lambda of: of.task)
    seconds = _corrected.seconds("how long", lambda of: of.seconds)
    before_s = _corrected.seconds("how long it was said to be", lambda of: of.before_s)


class Accepted(Record[kept.Accepted]):
    """What ``ledger accept`` answers."""

    job = _accepted.text("id of the job", lambda of: of.job)
    quote = _accepted.text("number of the quote", lambda of: of.quote)
    promised = _accepted.text("the day it is promised for", lambda of: of.promised)
    promised_before_s = _accepted.seconds(
        "work that came in after that day was promised", lambda of: of.promised_before_s
    )


class PhotoKept(Record[kept.PhotoKept]):
    """What ``ledger photo`` answers."""

    job = _photographed.text("id of the job", lambda of: of.job)
    photo = _photographed.text(
        "its file, from the ledger's folder where it is inside it", lambda of: of.photo
    )


class AgreedOn(Record[kept.AgreedOn]):
    """What ``ledger agree`` answers."""

    job = _agreed_on.text("id of the job", lambda of: of.job)
    agreed = _agreed_on.text("what was agreed, as kept", lambda of: of.agreed)
    quote = _agreed_on.text("the quote with its price", lambda of: of.quote)


class ReceiptMade(Record[kept.ReceiptMade]):
    """What ``ledger receipt`` answers."""

    job = _receipt.text("id of the job", lambda of: of.job)
    receipt = _receipt.text("the receipt, line by line", lambda of: of.receipt)
    written = _receipt.text("the file that was written; none: none was asked for", lambda of: of.written)


class PaperMade(Record[kept.PaperMade]):
    """What ``ledger paper`` answers."""

    job = _paper.text("id of the job", lambda of: of.job)
    kind = _paper.text("invoice, receipt or claim-ticket", lambda of: of.kind)
    number = _paper.text("its number; of what has none, the id of the job", lambda of: of.number)
    written = _paper.of(LISTED, "the files that were written", lambda of: of.written)


class Copied(Record[kept.Copied]):
    """What ``ledger backup`` answers."""

    written = _copied.text("the file that was written", lambda of: of.written)


class Exported(Record[kept.Exported]):
    """What ``ledger export`` answers."""

    written = _exported.of(LISTED, "the files that were written", lambda of: of.written)


class Checked(Record[kept.Checked]):
    """What ``ledger check`` answers."""

    ledger = _checked.text("the file of the ledger", lambda of: of.ledger)
    version = _checked.whole("version of its tables", lambda of: of.version)
    faults = _checked.of(LISTED, "what is wrong inside; empty: it is whole", lambda of: of.faults)


class ParcelNews(Record[kept.ParcelNews]):
    """What ``ledger parcel`` answers of one."""

    seller = _news.text("who sends it, an id of suppliers.csv", lambda of: of.seller)
    item = _news.text("one consumable of it; blank: all of it", lambda of: of.item)
    upgrade = _news.text("the upgrade whose part is late", lambda of: of.upgrade)
    expected = _news.text("the day it is expected now; none: it came", lambda of: of.expected)
    job = _news.text("the job that a part is for", lambda of: of.job)


class Erased(Record[kept.Erased]):
    """What ``ledger erase-customer`` answers."""

    customer = _erased.text("the name in place of the one erased", lambda of: of.customer)
    jobs = _erased.of(LISTED, "ids of the jobs", lambda of: of.jobs)


class StockTold(Record[kept.StockMoved]):
    """What happened to an item in stock, in its unit."""

    item = _moved.text("id of the part or consumable", lambda of: of.item)
    kind = _moved.text("bought, returned, used, counted or spoiled", lambda of: of.kind)
    change = _moved.quantity("how many it is more; below zero: less", lambda of: of.change)
    left = _moved.quantity("what is there now", lambda of: of.left)


class UseTold(Record[kept.ItemUse]):
    """What work uses of an item, in its unit."""

    item = _use.text("id of the part or consumable", lambda of: of.item)
    quantity = _use.quantity("how many", lambda of: of.quantity)


class FromStock(Struct, frozen=True):
    """What work used: movements where it was said (else None), what is planned where it is proposed (else None)."""

    moves: Sequence[kept.StockMoved] | None = None
    planned: Mapping[str, Millionths] | None = None


_from_stock = _Teller[FromStock]()


class FromStockTold(Record[FromStock]):
    """What work used of the stock."""

    used = _from_stock.rows_if(
        lambda of: of.moves is not None, StockTold, "what was taken off", lambda of: of.moves or ()
    )
    proposed = _from_stock.rows_if(
        lambda of: of.planned is not None,
        UseTold,
        "what it uses by the quote; it is to be said whether it did",
        lambda of: starmap(kept.ItemUse, (of.planned or {}).items()),
    )


class EndedNow(Struct, frozen=True):
    """A task that was ended, and what it used, if that is told."""

    time: kept.Recorded
    stock: FromStock | None


_ended = _Teller[EndedNow]()


class EndTold(Record[EndedNow]):
    """What ``ledger end`` answers."""

    time = _ended.joined(Ended, lambda of: of.time)
    stock = _ended.joined(FromStockTold, lambda of: of.stock)


class UsedNow(Struct, frozen=True):
    """What a task of a job used."""

    job: str
    task: str
    stock: FromStock


_used = _Teller[UsedNow]()


class UntoldTask(Record[UsedNow]):
    """A task of which nobody said what it used."""

    task = _used.text("the task", lambda of: of.task)
    stock = _used.joined(FromStockTold, lambda of: of.stock)


class UsedTold(Record[UsedNow]):
    """What ``ledger used`` answers of a task."""

    job = _used.text("id of the job", lambda of: of.job)
    task = _used.text("the task", lambda of: of.task)
    stock = _used.joined(FromStockTold, lambda of: of.stock)


_untold = _Teller[OfJob[UsedNow]]()


class Untold(Record[OfJob[UsedNow]]):
    """What ``ledger used`` answers of a job."""

    job = _untold.text("id of the job", lambda of: of.job)
    untold = _untold.rows(UntoldTask, "tasks of which nobody said what they used", lambda of: of.rows)


class Stock(Record[Sequence[kept.ShelfRow]]):
    """What ``ledger stock`` answers alone."""

    stock = _stock.rows(Item, "what is in stock", lambda of: of)


class TaskOfJob(Record[kept.TaskTimes]):
    """A task of a job, estimate against actual."""

    job = _of_task.text("id of the job", lambda of: of.job)
    task = _of_task.text("the task", lambda of: of.task, head="task")
    state = _of_task.text("what the job is now", lambda of: of.state)
    planned_s = _of_task.seconds("by the accepted quote", lambda of: of.planned_s, head="planned")
    taken_s = _of_task.seconds("by hand", lambda of: of.taken_s, head="taken")
    beyond_s = _of_task.seconds("taken beyond what was planned", lambda of: of.beyond_s, head="beyond")


class Against(Record[OfJob[kept.TaskTimes]]):
    """What ``ledger report`` answers of a job."""

    job = _against.text("id of the job", lambda of: of.job)
    tasks = _against.rows(TaskOfJob, "estimate against actual", lambda of: of.rows)


class ByTask(Record[kept.TaskOverall]):
    """A task over the jobs that are ready."""

    task = _task.text("the task", lambda of: of.task, head="task")
    jobs = _task.whole("jobs that had it", lambda of: of.jobs, head="jobs")
    planned_s = _task.seconds("by the accepted quotes", lambda of: of.planned_s, head="planned")
    taken_s = _task.seconds("by hand", lambda of: of.taken_s, head="taken")
    taken_percent = _task.whole("taken of planned, in per cent", lambda of: of.taken_percent, head="%")


class HoursByTask(Record[kept.TaskHours]):
    """Where the hours went."""

    task = _spent.text("the task", lambda of: of.task, head="task")
    jobs = _spent.whole("jobs that had it", lambda of: of.jobs, head="jobs")
    taken_s = _spent.seconds("by hand", lambda of: of.taken_s, head="hours")
    share_percent = _spent.whole("of all hours, in per cent", lambda of: of.share_percent, head="%")


class HoursByMonth(Record[kept.MonthHours]):
    """The hours of a month."""

    month = _month.text("year and month", lambda of: of.month, head="month")
    client_s = _month.seconds("for customers", lambda of: of.client_s, head="customers")
    own_s = _month.seconds("for what the shop owns", lambda of: of.own_s, head="the shop's own")
    warranty_s = _month.seconds("under warranty", lambda of: of.warranty_s, head="warranty")


class PayPerHour(Record[kept.PayPerHour]):
    """What jobs of a kind that are done brought an hour."""

    kind = _pay.text("kind of job", lambda of: of.kind, head="kind")
    currency = _pay.text("currency of the money", lambda of: of.currency)
    jobs = _pay.whole("jobs that are done", lambda of: of.jobs, head="jobs")
    left = _pay.money("left for the work", lambda of: of.left, head="left for the work")
    planned_s = _pay.seconds("by hand, as quoted", lambda of: of.planned_s, head="as quoted")
    taken_s = _pay.seconds("by hand", lambda of: of.taken_s, head="hours")
    per_hour = _pay.of(PER_HOUR, "left an hour; none: no times", lambda of: of.per_hour, head="per hour")


class Warranty(Record[kept.WarrantyWork]):
    """Jobs of a kind that came back, and what that took."""

    kind = _warranty.text("kind of job", lambda of: of.kind, head="kind")
    currency = _warranty.text("currency of the money", lambda of: of.currency)
    jobs = _warranty.whole("jobs that were done", lambda of: of.jobs, head="jobs")
    returned = _warranty.whole("of them came back", lambda of: of.returned, head="came back")
    came_back = _warranty.column("%", lambda of: str(of.returned_percent), FIGURE)
    taken_s = _warranty.seconds("by hand after they did", lambda of: of.taken_s, head="hours")
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


class CashOfMonth(Record[kept.MonthCash]):
    """The till of a month."""

    month = _cash.text("year and month", lambda of: of.month, head="month")
    currency = _cash.text("currency of the money", lambda of: of.currency)
    in_ = _cash.money("came in for jobs", lambda of: of.came_in, head="in")
    out = _cash.money("went out for jobs", lambda of: of.out, head="out")
    stock = _cash.money("went out for stock", lambda of: of.stock, head="stock")
    left = _cash.money("left of it", lambda of: of.left, head="left")


class ReportsTold(Record[kept.Reports]):
    """The reports over all jobs."""

    by_task = _reports.rows(ByTask, "estimate against actual, jobs that are ready", lambda of: of.by_task)
    hours_by_task = _reports.rows(HoursByTask, "where the hours went", lambda of: of.hours_by_task)
    hours_by_month = _reports.rows(HoursByMonth, "hours by month", lambda of: of.hours_by_month)
    pay_per_hour = _reports.rows(PayPerHour, "pay per hour, jobs that are done", lambda of: of.pay_per_hour)
    warranty = _reports.rows(Warranty, "warranty, of jobs that were done", lambda of: of.warranty)
    money_owed = _reports.rows(OwedJob, "money owed, jobs that are closed", lambda of: of.money_owed)
    cash_by_month = _reports.rows(CashOfMonth, "cash by month", lambda of: of.cash_by_month)


class ReportsWritten(Struct, frozen=True):
    """The reports over all jobs, tasks of every job, and the files that were written."""

    reports: kept.Reports
    tasks: Sequence[kept.TaskTimes]
    written: Sequence[str]


_written = _Teller[ReportsWritten]()


class Reports(Record[ReportsWritten]):
    """What ``ledger report`` answers."""

    reports = _written.joined(ReportsTold, lambda of: of.reports)
    tasks = _written.rows(
        TaskOfJob, "estimate against actual, task by task of every job", lambda of: of.tasks
    )
    written = _written.words("the files that were written", lambda of: of.written)


class Dated(Record[Happened]):
    """What stands beside its moment."""

    when = _dated.column("when", lambda of: when(of.at, of.ahead_min))
    at = _dated.text(AT, lambda of: of.at)
    ahead_min = _dated.whole(AHEAD, lambda of: of.ahead_min)


class Step(Dated[kept.Step]):
    """A step of a job."""

    state = _step.of(STATE, "what the job became", lambda of: of.state, head="is")
    remark = _step.text("words with it", lambda of: of.remark, head="remark")


class NewQuote(Struct, frozen=True):
    """A quote that is kept now: ``client``: of a customer's job, ``upgrades``: ids of what it is for."""

    job: str
    number: str
    it: Offered
    client: bool
    upgrades: Sequence[str]
    tools: ToolsGot
    brings: Brings | None = None


_new = _Teller[NewQuote]()


class QuoteTold(Record[NewQuote]):
    """What ``ledger quote`` answers."""

    job = _new.text("id of the job", lambda of: of.job)
    quote = _new.text("its number", lambda of: of.number)
    price = _new.money("price before tax; none: own work", lambda of: of.it.price if of.client else None)
    tax = _new.money("tax on it", lambda of: of.it.tax if of.client else None)
    to_pay = _new.money("price with tax", lambda of: of.it.to_pay if of.client else None)
    cost = _new.where_there(
        _new.money("of own work: its cost", lambda of: None if of.client else of.it.to_pay)
    )
    currency = _new.text("currency of the money", lambda of: of.it.currency)
    lines = _new.of(LINES, "its lines", lambda of: of.it.lines)
    upgrades = _new.words("what it is for, ids of upgrades.csv", lambda of: of.upgrades)
    instrument_brings_less = _new.one(
        BringsLess,
        "what the instrument brings, where the price lies above it; for the shop",
        lambda of: of.brings,
    )
    bench_fee_paid = _new.money("bench fee that counts as paid", lambda of: of.it.fee_paid)
    tools = _new.joined(Tools, lambda of: of.tools)


class MovedTold(Record[kept.Moved]):
    """What ``ledger move`` answers."""

    job = _next.text("id of the job", lambda of: of.job)
    state = _next.text("what it is now", lambda of: of.state)
    balance = _next.money("left to pay; none: nothing was agreed", lambda of: of.balance)


class QuoteGiven(Record[kept.GivenQuote]):
    """A quote as it was given."""

    number = _quote.text("its number", lambda of: of.number, head="number")
    job = _quote.text("id of the job", lambda of: of.job)
    at = _quote.text(AT, lambda of: of.at)
    ahead_min = _quote.whole(AHEAD, lambda of: of.ahead_min)
    given = _quote.column("given", lambda of: when(of.at, of.ahead_min))
    price = _quote.money("price before tax", lambda of: of.price)
    tax = _quote.money("tax on it", lambda of: of.tax)
    to_pay = _quote.money("price with tax; of own work: its cost", lambda of: of.to_pay, head="to pay")
    materials = _quote.money("materials at cost", lambda of: of.materials)
    currency = _quote.text("currency of the money", lambda of: of.currency)
    lines = _quote.of(LINES, "its lines", lambda of: of.lines)


class OwnQuote(QuoteGiven):
    """A quote for work on what the shop owns."""

    to_pay = _quote.money("its cost", lambda of: of.to_pay, head="cost")


class AgreedTold(Dated[kept.Agreed]):
    """What was agreed on the way."""

    words = _agreed.text("what was agreed", lambda of: of.words, head="words")
    quote = _agreed.text("the quote with its price", lambda of: of.quote, head="quote")


class Photo(Dated[kept.Photo]):
    """A photo of a job."""

    path = _photo.text("its file", lambda of: of.path, head="file")
    remark = _photo.text("words with it", lambda of: of.remark, head="remark")
    missing = _photo.yes("the file is not there", lambda of: of.missing)
    gone = _photo.column(UNNAMED, lambda of: "the file is not there" if of.missing else "")


class Invoice(Dated[kept.Invoice]):
    """An invoice that was given."""

    number = _invoice.text("its number", lambda of: of.number)
    quote = _invoice.text("the quote that it is for", lambda of: of.quote)


class Payment(Dated[kept.Payment]):
    """Money that came in or went out for a job."""

    id = _payment.whole("its number", lambda of: of.id)
    kind = _payment.text(
        "deposit, payment, bench-fee, refund, sale or purchase", lambda of: of.kind, head="kind"
    )
    amount = _payment.money(
        "the sum; below zero: it went out, or what came in was struck as mistyped",
        lambda of: of.amount,
        head="amount",
    )
    currency = _payment.text("its currency", lambda of: of.currency)
    remark = _payment.text("words with it", lambda of: of.remark, head="remark")


class AccountTold(Record[kept.Account]):
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


class PaidTold(Record[kept.Paid]):
    """What ``ledger pay`` answers."""

    account = _paid.joined(AccountTold, lambda of: of)
    payment = _paid.whole("number of the payment", lambda of: of.payment)
    kind = _paid.text("deposit, payment, bench-fee, refund, sale or purchase", lambda of: of.kind)


class History(Record[kept.History]):
    """All that the ledger holds of a job."""

    id = _history.text("id of the job", lambda of: of.id)
    customer = _history.text("the customer's name", lambda of: of.customer)
    contact = _history.text("how to reach the customer", lambda of: of.contact)
    kind = _history.text("kind of job", lambda of: of.kind)
    what = _history.text("what is wished, in words", lambda of: of.what)
    instrument = _history.text("kind of instrument", lambda of: of.instrument)
    make = _history.text("its make", lambda of: of.make)
    model = _history.text("its model", lambda of: of.model)
    serial = _history.text("its serial number", lambda of: of.serial)
    file = _history.text("the job file", lambda of: of.file)
    currency = _history.text("currency of its money", lambda of: of.currency)
    state = _history.text("what it is now", lambda of: of.state)
    promised = _history.text("the day it is promised for", lambda of: of.promised)
    accepted_quote = _history.text("number of the quote that was accepted", lambda of: of.accepted_quote)
    account = _history.one(AccountTold, "how its money stands", lambda of: of.account)
    steps = _history.rows(Step, "what it was, one after the other", lambda of: of.steps)
    quotes = _history.rows(QuoteGiven, "quotes that were given", lambda of: of.quotes)
    agreed = _history.rows(AgreedTold, "what was agreed on the way", lambda of: of.agreed)
    photos = _history.rows(Photo, "where photos lie", lambda of: of.photos)
    invoices = _history.rows(Invoice, "invoices that were given", lambda of: of.invoices)
    payments = _history.rows(Payment, "money that came in and went out", lambda of: of.payments)


class CustomerTold(Record[kept.CustomerHistory]):
    """What ``ledger show-customer`` answers."""

    customer = _customer.text("the name", lambda of: of.customer)
    contact = _customer.text("how to reach the customer", lambda of: of.contact)
    jobs = _customer.rows(History, "the jobs", lambda of: of.jobs)


class InstrumentTold(Record[kept.InstrumentHistory]):
    """What ``ledger instrument`` answers."""

    serial = _instrument.text("the serial number as it was asked for", lambda of: of.serial)
    jobs = _instrument.rows(History, "all jobs on it", lambda of: of.jobs)

"""What the ledger answers, record by record: the type of a field says what its whole number counts."""

from __future__ import annotations

from typing import Any

from msgspec import Struct

from estimator.core.amounts import Cents, Millionths, Seconds
from estimator.ledger.clock import Moment, kept_moment


class JobKept(Struct, frozen=True, kw_only=True):
    """A job as it is kept, but for its customer."""

    id: str
    kind: str
    what: str
    instrument: str
    make: str
    model: str
    serial: str
    file: str
    currency: str
    state: str
    promised: str | None
    accepted_quote: str | None


class JobRow(JobKept, frozen=True, kw_only=True):
    """The same with the number of its customer."""

    customer: int | None


class Booked(Struct, frozen=True):
    """A job that was taken in, and the file of the ledger that it stands in."""

    job: str
    state: str
    ledger: str


class Begun(Struct, frozen=True):
    """A task that was begun, or gone on with; ``paused``: what the hands were at before."""

    job: str
    task: str
    kind: str
    went_on: bool
    paused: str | None


class LaidDown(Struct, frozen=True):
    """A task that is paused now, and what it took till then."""

    job: str
    task: str
    seconds: Seconds


class OfTask(Struct, frozen=True, kw_only=True):
    """What a task was planned to take by the accepted quote (None: not in it), and what it has taken by hand."""

    planned_s: Seconds | None
    taken_s: Seconds


class Recorded(OfTask, frozen=True, kw_only=True):
    """A time that was recorded, by its number (``spell``), and how its task stands."""

    spell: int
    job: str
    task: str
    kind: str
    seconds: Seconds


class Corrected(Struct, frozen=True):
    """A time in the place of another, by its number."""

    spell: int
    job: str
    task: str
    seconds: Seconds
    before_s: Seconds


class Accepted(Struct, frozen=True):
    """A quote that was accepted; ``promised_before_s``: work that came in after the day was promised."""

    job: str
    quote: str
    promised: str | None
    promised_before_s: Seconds


class PhotoKept(Struct, frozen=True):
    """Where a photo of a job lies: from the ledger's folder where it is inside it, else from the root."""

    job: str
    photo: str


class AgreedOn(Struct, frozen=True):
    """What was agreed on the way, as kept; ``quote``: the number of the one with its price."""

    job: str
    agreed: str
    quote: str | None


class ReceiptMade(Struct, frozen=True):
    """The words of a receipt; ``written``: the file with them (None: none was asked for)."""

    job: str
    receipt: str
    written: str | None


class PaperMade(Struct, frozen=True):
    """A paper by its kind and number, and its files."""

    job: str
    kind: str
    number: str
    written: list[str]


class Copied(Struct, frozen=True):
    """The file with a copy of the ledger."""

    written: str


class Exported(Struct, frozen=True):
    """The files with the tables of the ledger."""

    written: list[str]


class Checked(Struct, frozen=True):
    """The file of the ledger, the version of its tables, and what is wrong inside (nothing: it is whole)."""

    ledger: str
    version: int
    faults: list[str]


class ParcelNews(Struct, frozen=True):
    """What was heard of a parcel: the day it is expected now; None: it came."""

    seller: str
    item: str
    upgrade: str
    expected: str | None
    job: str


class Erased(Struct, frozen=True):
    """What a customer who was erased is called now, and the jobs."""

    customer: str
    jobs: list[str]


class TaskTimes(Struct, frozen=True):
    """A task of a job: planned by its accepted quote (None: not in it) and taken by hand."""

    job: str
    task: str
    state: str
    planned_s: Seconds | None
    taken_s: Seconds
    beyond_s: Seconds | None


class TaskOverall(Struct, frozen=True):
    """A task over the jobs that had it planned and done."""

    task: str
    jobs: int
    planned_s: Seconds
    taken_s: Seconds
    taken_percent: int


class TaskHours(Struct, frozen=True):
    """Where the hours at the bench went: a task over all jobs."""

    task: str
    jobs: int
    taken_s: Seconds
    share_percent: int


class MonthHours(Struct):
    """Time at the bench in a month of the shop's calendar, by whose the work was."""

    month: str
    client_s: Seconds = Seconds(0)
    own_s: Seconds = Seconds(0)
    warranty_s: Seconds = Seconds(0)


class PayPerHour(Struct, frozen=True):
    """What jobs of a kind left for the work, and for an hour of it (None: no times).

    ``planned_s``: the hands-on time of the same jobs as they were quoted.
    """

    kind: str
    currency: str
    jobs: int
    left: Cents
    planned_s: Seconds
    taken_s: Seconds
    per_hour: Cents | None

    @property
    def few_times(self) -> bool:
        """Whether less than half of what was quoted has a time: then the pay for an hour is no measure."""
        return self.per_hour is not None and 2 * self.taken_s < self.planned_s


class MonthCash(Struct):
    """Money in and out of the till for jobs in a month, and spent on stock (below zero: more was sent back)."""

    month: str
    currency: str
    came_in: Cents = Cents(0)
    out: Cents = Cents(0)
    stock: Cents = Cents(0)
    left: Cents = Cents(0)


class WarrantyWork(Struct):
    """Jobs of a kind that were done, how many came back, and what that took; ``unpriced``: uses without a price."""

    kind: str
    currency: str
    jobs: int = 0
    returned: int = 0
    taken_s: Seconds = Seconds(0)
    refund: Cents = Cents(0)
    unpriced: int = 0
    materials: Cents = Cents(0)
    returned_percent: int = 0


class BoardRow(Struct, frozen=True):
    """A job on the board.

    ``stored_days``, ``storage``: of one that waits for its customer. ``owed``: of one that is closed, above zero
    to the shop, below to the customer.
    """

    job: str
    what: str
    kind: str
    state: str
    promised: str | None
    currency: str
    customer: str
    since: str
    stored_days: int | None = None
    storage: Cents | None = None
    owed: Cents | None = None
    note: str = ""


class Reports(Struct, frozen=True):
    """Every report over all jobs."""

    by_task: list[TaskOverall]
    hours_by_task: list[TaskHours]
    hours_by_month: list[MonthHours]
    pay_per_hour: list[PayPerHour]
    warranty: list[WarrantyWork]
    money_owed: list[BoardRow]
    cash_by_month: list[MonthCash]


class StockRow(Struct, frozen=True, kw_only=True):
    """What is left of an item, what jobs under way hold of it, what is free or lacking."""

    item: str
    left: Millionths
    reserved: Millionths
    free: Millionths
    short: Millionths


class ShelfRow(StockRow, frozen=True, kw_only=True):
    """The same with when and how many to order, and what goes off (see ``shelf``)."""

    lead_days: int
    order_point: Millionths | None
    to_order: Millionths
    keeps_till: str | None
    gone_off: Millionths
    soon_off: bool
    spoiled: Millionths


class StockMoved(Struct, frozen=True):
    """What happened to the stock of an item, and what is left of it."""

    item: str
    kind: str
    change: Millionths
    left: Millionths


class ItemUse(Struct, frozen=True):
    """How much of an item work uses."""

    item: str
    quantity: Millionths


class Dated(Struct, frozen=True, kw_only=True):
    """What happened at a moment: in UTC, beside the minutes that the shop's clock was ahead of it."""

    at: str
    ahead_min: int


class Step(Dated, frozen=True, kw_only=True):
    """A step of a job: what it became."""

    state: str
    remark: str


class GivenQuote(Dated, frozen=True, kw_only=True):
    """A quote as it was given; ``lines`` as they stood on it."""

    number: str
    job: str
    price: Cents
    tax: Cents
    to_pay: Cents
    materials: Cents
    currency: str
    lines: list[dict[str, Any]]


class Agreed(Dated, frozen=True, kw_only=True):
    """What was agreed on the way; ``quote``: the number of the one with its price."""

    words: str
    quote: str | None


class Photo(Dated, frozen=True, kw_only=True):
    """Where a photo of a job lies; ``missing``: the file is not there."""

    path: str
    remark: str
    missing: bool = False


class Invoice(Dated, frozen=True, kw_only=True):
    """An invoice that was given, and the number of the quote that it is for."""

    number: str
    quote: str


class Payment(Dated, frozen=True, kw_only=True):
    """Money that came in for a job, or went out (below zero)."""

    id: int
    kind: str
    amount: Cents
    currency: str
    remark: str


class Account(Struct, frozen=True):
    """What was agreed on a job, came in and is left to pay; see ``account``. None: nothing was agreed."""

    job: str
    state: str
    currency: str
    agreed: Cents | None
    paid: Cents
    given_back: Cents
    lowered: Cents
    storage: Cents
    balance: Cents | None
    bought: Cents


class Paid(Account, frozen=True):
    """A payment by its number, and how the job stands after it."""

    payment: int
    kind: str


class History(JobKept, frozen=True, kw_only=True):
    """All that the ledger holds of a job."""

    customer: str
    contact: str
    account: Account
    steps: list[Step]
    quotes: list[GivenQuote]
    agreed: list[Agreed]
    photos: list[Photo]
    invoices: list[Invoice]
    payments: list[Payment]

    @property
    def accepted(self) -> GivenQuote | None:
        """The quote that was accepted; None where none was."""
        return next((quote for quote in self.quotes if quote.number == self.accepted_quote), None)


class CustomerHistory(Struct, frozen=True):
    """All that is kept of a customer."""

    customer: str
    contact: str
    jobs: list[History]


class InstrumentHistory(Struct, frozen=True):
    """All jobs on an instrument, by its serial number as it was asked for."""

    serial: str
    jobs: list[History]


class LateParcel(Struct, frozen=True):
    """A parcel that is late: the day it is expected now; ``overdue``: it is over, and nobody said that it came."""

    seller: str
    item: str
    job: str
    upgrade: str
    expected: str
    overdue: bool


class Running(Struct, frozen=True):
    """A task that was begun and not ended: ``since_at`` none: paused; ``before_s``: what it took before its last pause."""

    id: int
    job: str
    task: str
    kind: str
    began_at: str
    began_ahead_min: int
    since_at: str | None
    since_ahead_min: int | None
    before_s: Seconds

    @property
    def began(self) -> Moment:
        """When it was begun."""
        return kept_moment(self.began_at, self.began_ahead_min)

    @property
    def since(self) -> Moment | None:
        """Since when it runs without a pause; None: it is paused."""
        if self.since_at is None or self.since_ahead_min is None:
            return None
        return kept_moment(self.since_at, self.since_ahead_min)

    @property
    def paused(self) -> bool:
        """Whether it is paused."""
        return self.since_at is None


class RunningNow(Running, frozen=True, kw_only=True):
    """The same at a moment: why it may have been forgotten (blank: it was not), what it took so far (None: nobody knows)."""

    forgotten: str
    seconds: Seconds | None


class TimeTaken(Dated, frozen=True, kw_only=True):
    """A time that was recorded, hands or cure, and how; ``redone`` 1: it did again what had gone wrong.

    ``corrects``, ``corrected_by``: the numbers of the time before and after it in its history.
    """

    id: int
    job: str
    task: str
    place: str
    kind: str
    seconds: Seconds
    source: str
    began_at: str | None
    remark: str
    corrects: int | None
    redone: int
    corrected_by: int | None


class CardTime(Struct, frozen=True):
    """A time off a job card: ``done``: what became of it; ``beside_s``: recorded of the task otherwise."""

    job: str
    task: str
    place: str
    seconds: Seconds
    done: str
    beside_s: Seconds


class Moved(Struct, frozen=True):
    """The state of a job after a step, and what is left to pay (None: nothing was agreed)."""

    job: str
    state: str
    balance: Cents | None

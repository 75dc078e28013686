"""Jobs through their life: booked, quoted, accepted, moved on, paid for."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal

from msgspec import Struct, field
from msgspec.structs import asdict, replace

from estimator.core.amounts import Cents, Seconds
from estimator.core.days import far_off
from estimator.core.errors import Issue, Origin, as_accepted, refusal, refused_word, shown, warning
from estimator.core.text import day_of
from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.records import (
    Accepted,
    Account,
    Agreed,
    Booked,
    GivenQuote,
    History,
    Invoice,
    JobRow,
    Moved,
    Paid,
    Payment,
    Photo,
    Step,
)
from estimator.ledger.states import DONE, FIRST, FIRST_ELSE, FOR_SALE_ONLY, NEXT, WORDS, WORK_IS_OVER
from estimator.ledger.store import Ledger
from estimator.model import Job, Shop

PAYMENTS = {"deposit": 1, "payment": 1, "bench-fee": 1, "sale": 1, "refund": -1, "purchase": -1}
"""Kinds of payment, and whether money comes in or goes out."""
FROM_CUSTOMER = ("deposit", "payment", "bench-fee", "refund", "sale")
FOR_OWN_ONLY = ("sale", "purchase")
"""Only what belongs to the shop is bought and sold."""
NAMES = {
    "deposit": "Deposit",
    "payment": "Payment",
    "bench-fee": "Bench fee",
    "refund": "Given back",
    "sale": "Sale",
}
"""Payments as a paper calls them."""
LOWERED = "Taken off afterwards"
"""How a paper calls what was given back after the price was paid."""
MISTYPED = "struck, was mistyped"
"""The remark beside what was struck, where no other was given."""
LARGEST_CENTS = 10**11
IN_ORDER = " ORDER BY SUBSTR(number, 1, 4), LENGTH(number), number"
"""Quotes in the order they were given: their numbers rise."""


class Storage(Struct, frozen=True):
    """What keeping a job costs from the day its customer was told: ``charge`` turns days into cents, tax and all."""

    now: Moment
    charge: Callable[[int], int]


def storage_of(shop: Shop, now: Moment) -> Storage:
    """What keeping a job costs by the shop's terms, up to now."""
    from estimator.price.client.quote import storage_with_tax

    return Storage(now, lambda days: storage_with_tax(days, shop.terms))


class Booking(Struct, frozen=True):
    """An instrument that comes in: what the job file says of it."""

    id: str
    kind: str
    what: str
    instrument: str
    currency: str
    customer: str = ""
    contact: str = ""
    make: str = ""
    serial: str = ""
    file: str = ""
    received: str = ""


class QuotedFactor(Struct, frozen=True):
    """A cell of a table that multiplies times: by how many millionths, which seconds of a task (with it in them)."""

    task: str
    file: str
    row: str
    column: str
    seconds: int
    millionths: int


class Offered(Struct, frozen=True):
    """A quote as it is given: money in cents, planned seconds by task, what it needs of the stock in millionths.

    ``uses``: by task and item, what the task is reckoned to use, the things of the shelf among them.
    ``ways``: by task the method that it is reckoned with, where that is not the usual one.
    ``factors``: the cells of the tables by which times of tasks were multiplied.
    ``chances``: by task, how often it may go wrong, in hundredths at the odds of the table.
    ``fee_paid``: the bench fee, where the job says that it is paid, in cents.
    """

    price: Cents
    tax: Cents
    to_pay: Cents
    currency: str
    lines: Sequence[Mapping[str, object]]
    materials: Cents = Cents(0)
    seconds: Mapping[str, int] = field(default_factory=dict)
    needs: Mapping[str, int] = field(default_factory=dict)
    uses: Mapping[tuple[str, str], int] = field(default_factory=dict)
    chances: Mapping[str, int] = field(default_factory=dict)
    ways: Mapping[str, str] = field(default_factory=dict)
    factors: Sequence[QuotedFactor] = ()
    fee_paid: Cents = Cents(0)


def booking_of(job: Job, currency: str, file: str) -> Booking:
    """What a job file says of an instrument that comes in; ``file``: where it lies."""
    labels = job.labels
    contact = ", ".join(way for way in (labels.phone, labels.email) if way)
    return Booking(
        job.id,
        job.kind,
        job.what,
        str(job.instrument["kind"].value),
        currency,
        job.customer,
        contact,
        labels.make,
        labels.serial,
        file,
        job.received,
    )


def job_row(ledger: Ledger, job: str) -> JobRow:
    """A job by its id; InputError with what is nearest where there is none."""
    found = ledger.one(JobRow, "SELECT * FROM job WHERE id = ?", (job,))
    if found is None:
        known = [str(row["id"]) for row in ledger.rows("SELECT id FROM job")]
        raise refused_word(
            ledger.where,
            "there is no job of this name",
            job,
            known,
            "the id of a job that was booked",
            "estimator ledger board lists them",
        )
    return found


def far_received(it: Booking, now: Moment) -> list[Issue]:
    """A warning where the day on which an instrument came in, as its file says, lies years off the one of its booking."""
    came = day_of(it.received)
    far = "" if came is None else far_off(came, now.day, "the day of its booking")
    where = Origin(it.file, column="[job] received")
    return [warning(where, far, it.received, next_step="look at the year, or at --now")] if far else []


def book(ledger: Ledger, it: Booking, now: Moment) -> Booked:
    """Take a job in."""
    state = FIRST.get(it.kind, FIRST_ELSE)
    if not it.id.strip():
        raise refusal(
            Origin(it.file, column="[job] id"),
            "the job has no name",
            "nothing",
            "an id",
            "give the job an id",
        )
    with ledger.writing():
        if ledger.row("SELECT id FROM job WHERE id = ?", (it.id,)):
            raise ledger.refusal(
                "a job of this name is booked already",
                shown(it.id),
                "a new id",
                f"give the job file another id, or see estimator ledger show {it.id}",
            )
        customer = _customer(ledger, it.customer, it.contact) if it.customer else None
        ledger.add(
            "job",
            id=it.id,
            customer=customer,
            kind=it.kind,
            what=it.what,
            instrument=it.instrument,
            make=it.make,
            serial=it.serial,
            file=it.file,
            currency=it.currency,
            state=state,
        )
        _step(ledger, it.id, state, now, "")
    return Booked(it.id, state, str(ledger.path))


def _customer(ledger: Ledger, name: str, contact: str) -> int:
    found = ledger.row("SELECT id, contact FROM customer WHERE name = ?", (name,))
    if found is None:
        return ledger.add("customer", name=name, contact=contact)
    if contact and contact != found["contact"]:
        ledger.write("UPDATE customer SET contact = ? WHERE id = ?", (contact, found["id"]))
    return int(found["id"])


def give_quote(ledger: Ledger, job: str, it: Offered, now: Moment) -> str:
    """Keep a quote as it is given; returns its number, which is never given twice.

    A bench fee that the job says is paid is recorded as a payment, once for a job. InputError where a customer's job
    was collected: nobody could accept it any more.
    """
    with ledger.writing():
        row = job_row(ledger, job)
        _not_collected(ledger, row, row.state)
        number = _next_number(ledger, now)
        ledger.add(
            "quote",
            now,
            number=number,
            job=job,
            price_cents=it.price,
            tax_cents=it.tax,
            to_pay_cents=it.to_pay,
            materials_cents=it.materials,
            currency=it.currency,
            lines_json=json.dumps(list(it.lines), ensure_ascii=False),
        )
        for task, seconds in it.seconds.items():
            ledger.add("quote_task", quote=number, task=task, seconds=seconds)
        for one in it.factors:
            kept = {"file": one.file, "row": one.row, "column_": one.column, "millionths": one.millionths}
            ledger.add("quote_factor", quote=number, task=one.task, seconds=one.seconds, **kept)
        for task, method in it.ways.items():
            ledger.add("quote_way", quote=number, task=task, method=method)
        for task, hundredths in it.chances.items():
            ledger.add("quote_chance", quote=number, task=task, hundredths=hundredths)
        for item, millionths in it.needs.items():
            ledger.add("quote_need", quote=number, item=item, millionths=millionths)
        for (task, item), millionths in it.uses.items():
            ledger.add("quote_use", quote=number, task=task, item=item, millionths=millionths)
        if row.state in ("asked", "quoted"):
            _to(ledger, row, "quoted", now, number)
        paid = ledger.row("SELECT id FROM payment WHERE job = ? AND kind = 'bench-fee'", (job,))
        if it.fee_paid and paid is None:
            pay(ledger, job, "bench-fee", it.fee_paid, now, "as the job says")
    return number


def give_number(ledger: Ledger, now: Moment) -> str:
    """A number for a quote of a job that is not booked: the next one, which is never given again."""
    with ledger.writing():
        return _next_number(ledger, now)


def is_booked(ledger: Ledger, job: str) -> bool:
    """Whether a job of this name is in the ledger."""
    return ledger.row("SELECT id FROM job WHERE id = ?", (job,)) is not None


def _next_number(ledger: Ledger, now: Moment) -> str:
    """The next number of the year, within a transaction: two commands never get the same."""
    year = now.local.year
    ledger.write("INSERT OR IGNORE INTO quote_counter VALUES (?, 0)", (year,))
    ledger.write("UPDATE quote_counter SET last = last + 1 WHERE year = ?", (year,))
    last = ledger.rows("SELECT last FROM quote_counter WHERE year = ?", (year,))[0]["last"]
    return f"{year}-{last:03d}"


def accept(ledger: Ledger, job: str, number: str | None, promised: date | None, now: Moment) -> Accepted:
    """The customer says yes to a quote (the last one if none is named); or to a change, with a newer quote.

    ``promised_before_s`` of what is returned: seconds of work that came in by a change after the day was promised.
    """
    with ledger.writing():
        row = job_row(ledger, job)
        quotes = [
            q["number"] for q in ledger.rows("SELECT number FROM quote WHERE job = ?" + IN_ORDER, (job,))
        ]
        if number is not None and number not in quotes:
            raise ledger.refusal(
                f"{job} has no quote of this number",
                shown(number),
                ", ".join(quotes) or "none was given",
                "name one of its quotes",
            )
        if not quotes:
            raise ledger.refusal(
                f"{job} has no quote that could be accepted",
                "none",
                "a quote that was given",
                f"estimator ledger quote {job}",
            )
        taken = number or quotes[-1]
        if promised is not None and promised < now.day:
            raise refusal(
                "--promised",
                "the day has gone by",
                str(promised),
                f"{now.day} or later",
                "promise another day",
            )
        if row.state in ("asked", "quoted"):
            _to(ledger, row, "accepted", now, taken)
        else:
            _check_open(ledger, row, taken)
        ledger.write(
            "UPDATE job SET accepted_quote = ?, promised = COALESCE(?, promised) WHERE id = ?",
            (taken, promised.isoformat() if promised else None, job),
        )
        more = _planned_s(ledger, taken) - _planned_s(ledger, row.accepted_quote)
    kept = promised is None and row.promised is not None and row.accepted_quote not in (None, taken)
    day = str(promised) if promised else row.promised
    return Accepted(job, taken, day, Seconds(max(0, more) if kept else 0))


def _check_open(ledger: Ledger, row: JobRow, taken: str) -> None:
    """Refuse a quote for a job that is over, or that was collected under another quote."""
    job = row.id
    if row.state == "declined" or row.state in DONE:
        raise ledger.refusal(
            f"{job} is {WORDS[row.state]}: nothing can be accepted any more",
            taken,
            "a job that is open",
            f"estimator ledger show {job}",
        )
    if row.accepted_quote not in (None, taken):
        _not_collected(ledger, row, taken)


def _not_collected(ledger: Ledger, row: JobRow, found: str) -> None:
    """Refuse a new price for what a customer has collected under another."""
    collected = "SELECT id FROM step WHERE job = ? AND state = 'collected'"
    if row.kind == "commission" and row.accepted_quote and ledger.row(collected, (row.id,)):
        raise ledger.refusal(
            f"{row.id} was collected under quote {row.accepted_quote}, which this one would replace",
            found,
            "work under warranty, without a new price",
            "book new work under an id of its own: estimator ledger book JOB",
        )


def _planned_s(ledger: Ledger, quote: str | None) -> int:
    """Seconds of work that a quote holds; none: nothing."""
    words = "SELECT COALESCE(SUM(seconds), 0) AS sum FROM quote_task WHERE quote = ?"
    return int(ledger.rows(words, (quote,))[0]["sum"]) if quote else 0


class Listing(Struct, frozen=True):
    """How an instrument of the shop's own is offered: the way of selling, its price class, the cents expected."""

    way: str
    tier: str
    expected: Cents | None = None


def move(
    ledger: Ledger,
    job: str,
    state: str,
    now: Moment,
    remark: str = "",
    listing: Listing | None = None,
    storage: Storage | None = None,
) -> Moved:
    """The job's next step; returns what it is now and what is still to pay.

    Storage that has run up is charged when the instrument leaves the shelf; without ``storage`` it is waived.
    """
    state = as_accepted(state, WORDS)
    with ledger.writing():
        row = job_row(ledger, job)
        if state == "accepted" and row.kind == "commission":
            raise ledger.refusal(
                "what was accepted has to be said",
                state,
                "the number of a quote",
                f"estimator ledger accept {job}",
            )
        if state in WORK_IS_OVER:
            _nothing_runs_on(ledger, job)
        if row.state == "told" and storage is not None:
            days, cents = _stored(ledger, job, storage)
            if cents:
                ledger.add("charge", now, job=job, kind="storage", cents=cents, days=days)
        # minutes that were written down have told this already, and a way to sell may be told later
        told = state == row.state and (state == "at-work" or (state == "listed" and listing is not None))
        if not told:
            _to(ledger, row, state, now, remark)
        if state == "listed" and listing is not None:
            _list_it(ledger, job, listing, now)
        if state == "collected" and row.kind == "commission" and _settled(ledger, job):
            _to(ledger, replace(row, state=state), "paid", now, "")
            state = "paid"
    still = storage if state == "told" else None
    return Moved(job, state, account(ledger, job, still).balance)


def _list_it(ledger: Ledger, job: str, listing: Listing, now: Moment) -> None:
    """By which way it is on sale, from the step that put it there; another way than told before: from now on."""
    at, ahead_min = now.text, now.ahead_min
    if ledger.row("SELECT 1 FROM listing WHERE job = ?", (job,)) is None:
        step = ledger.row("SELECT at, ahead_min FROM step WHERE job = ? ORDER BY id DESC LIMIT 1", (job,))
        at, ahead_min = (step["at"], step["ahead_min"]) if step is not None else (at, ahead_min)
    ledger.write(
        "INSERT OR REPLACE INTO listing VALUES (?, ?, ?, ?, ?, ?)",
        (job, listing.way, listing.tier, listing.expected, at, ahead_min),
    )


def _stored(ledger: Ledger, job: str, storage: Storage) -> tuple[int, int]:
    """Days since the customer was told, and what they cost; nothing where the job is not told."""
    step = ledger.row("SELECT state, at, ahead_min FROM step WHERE job = ? ORDER BY id DESC LIMIT 1", (job,))
    if step is None or step["state"] != "told":
        return 0, 0
    days = max(0, (storage.now.day - kept_moment(step["at"], step["ahead_min"]).day).days)
    return days, storage.charge(days)


def _nothing_runs_on(ledger: Ledger, job: str) -> None:
    """InputError where a time of the job is still open: it would never be ended."""
    rows = ledger.rows("SELECT task FROM running WHERE job = ? ORDER BY id", (job,))
    if rows:
        raise ledger.refusal(
            f"{job} has times that were not ended",
            ", ".join(row["task"] for row in rows),
            "a job on which nothing runs or is paused",
            f"estimator ledger end {job} TASK",
        )


def pay(
    ledger: Ledger,
    job: str,
    kind: str,
    cents: Cents,
    now: Moment,
    remark: str = "",
    storage: Storage | None = None,
) -> Paid:
    """Money that came in or went out (by its kind); a job that is collected and paid in full is paid."""
    kind = _kind_of_sum(kind, cents)
    with ledger.writing():
        row = job_row(ledger, job)
        if kind in FOR_OWN_ONLY and row.kind == "commission":
            raise refusal(
                "--kind",
                f"{job} belongs to a customer and is neither bought nor sold",
                kind,
                ", ".join(one for one in PAYMENTS if one not in FOR_OWN_ONLY),
                "say what was paid: --kind payment",
            )
        if kind == "refund" and cents > (paid := account(ledger, job).paid):
            raise refusal(
                "amount",
                "more would be given back than was paid",
                f"{Decimal(cents) / 100:.2f}",
                f"at most {Decimal(paid) / 100:.2f}",
                "type the sum that is given back",
            )
        came = {"kind": kind, "cents": cents * PAYMENTS[kind], "currency": row.currency}
        number = ledger.add("payment", now, job=job, remark=remark, **came)
        if row.state == "collected" and _settled(ledger, job):
            _to(ledger, row, "paid", now, "")
    return Paid(**asdict(account(ledger, job, storage)), payment=number, kind=kind)


def strike(
    ledger: Ledger,
    job: str,
    kind: str,
    cents: Cents,
    now: Moment,
    remark: str = "",
    storage: Storage | None = None,
) -> Paid:
    """So much of what was recorded of a kind was typed by mistake: it counts nowhere; what was typed is kept."""
    kind = _kind_of_sum(kind, cents)
    with ledger.writing():
        row = job_row(ledger, job)
        [sum_] = ledger.rows(
            "SELECT ABS(COALESCE(SUM(cents), 0)) AS cents FROM payment WHERE job = ? AND kind = ?",
            (job, kind),
        )
        if cents > sum_["cents"]:
            raise refusal(
                "amount",
                f"more of --kind {kind} would be struck than was recorded",
                f"{Decimal(cents) / 100:.2f}",
                f"at most {Decimal(sum_['cents']) / 100:.2f}",
                f"look what was recorded, and as what: estimator ledger show {job}",
            )
        came = {"kind": kind, "cents": -cents * PAYMENTS[kind], "currency": row.currency}
        number = ledger.add("payment", now, job=job, remark=remark or MISTYPED, **came)
    return Paid(**asdict(account(ledger, job, storage)), payment=number, kind=kind)


def _kind_of_sum(kind: str, cents: Cents) -> str:
    """A kind of payment as it is kept; InputError where it is none, or the sum is none that can be paid."""
    kind = as_accepted(kind, PAYMENTS)
    if kind not in PAYMENTS:
        raise refused_word("--kind", "no payment of this kind", kind, PAYMENTS)
    if not 0 < cents < LARGEST_CENTS:
        raise refusal(
            "amount",
            "is no sum that can be paid",
            f"{Decimal(cents) / 100}",
            "more than zero; --kind refund gives money back",
            "type the sum",
        )
    return kind


def unstruck(payments: Iterable[tuple[str, Cents]]) -> list[Cents]:
    """What truly came or went of each payment (kind, cents): what was struck as mistyped is off the latest before it."""
    found: list[Cents] = []
    kinds: list[str] = []
    for kind, cents in payments:
        true = cents
        if cents * PAYMENTS[kind] < 0:
            for at in reversed(range(len(found))):
                if kinds[at] == kind and found[at]:
                    off = min(abs(found[at]), abs(true))
                    found[at] = Cents(found[at] - off * PAYMENTS[kind])
                    true = Cents(true + off * PAYMENTS[kind])
        kinds.append(kind)
        found.append(true)
    return found


def account(ledger: Ledger, job: str, storage: Storage | None = None) -> Account:
    """What was agreed, paid, given back and is left, what was paid out for the instrument itself, in cents.

    The one place where a balance is worked out. Money given back of what was paid too much, or before the
    price was paid, leaves what is due as it is; what is given back beyond that, once the price was paid or the
    job collected, lowers it (``lowered``) and is never asked for again. A job declined before it was
    ever collected owes nothing: ``balance`` below zero is owed to the customer. A bench fee counts up
    to what is due and stays with the shop beyond it. Storage is due on top of the agreement: what was charged,
    and with ``storage`` what has run up till now of a job that is told. What was struck as mistyped never was.
    """
    row = job_row(ledger, job)
    agreed = ledger.row("SELECT to_pay_cents FROM quote WHERE number = ?", (row.accepted_quote,))
    due = agreed["to_pay_cents"] if agreed and row.kind == "commission" else None
    collected = ledger.row("SELECT MIN(at) AS at FROM step WHERE job = ? AND state = 'collected'", (job,))
    since = collected["at"] if collected else None
    if row.kind == "commission" and row.state == "declined" and since is None:
        due = 0
    charged = ledger.rows("SELECT COALESCE(SUM(cents), 0) AS cents FROM charge WHERE job = ?", (job,))[0][
        "cents"
    ]
    stored = 0 if due is None else charged + (_stored(ledger, job, storage)[1] if storage else 0)
    whole = None if due is None else due + stored
    recorded = ledger.rows("SELECT kind, cents, at FROM payment WHERE job = ? ORDER BY id", (job,))
    truly = unstruck((one["kind"], one["cents"]) for one in recorded)
    payments = [{**one, "cents": cents} for one, cents in zip(recorded, truly, strict=True)]
    paid = back = lowered = 0
    fee = sum(one["cents"] for one in payments if one["kind"] == "bench-fee")
    # a fee beyond what is due is not given back
    kept = 0 if whole is None else max(0, fee - whole)
    before = fee - kept
    for one in payments:
        if one["kind"] not in FROM_CUSTOMER:
            continue
        if one["cents"] < 0:
            back -= one["cents"]
            left = None if whole is None else whole - before - lowered
            if left is not None and (left <= 0 or (since is not None and since <= one["at"])):
                lowered += max(0, -one["cents"] + min(0, left))
        paid += one["cents"]
        before += one["cents"] if one["kind"] != "bench-fee" else 0
    return Account(
        job,
        row.state,
        row.currency,
        agreed=due,
        paid=Cents(paid),
        given_back=Cents(back),
        lowered=Cents(lowered),
        storage=Cents(stored),
        balance=None if whole is None else Cents(whole - lowered - before),
        bought=Cents(-sum(one["cents"] for one in payments if one["kind"] == "purchase")),
    )


LEFT = "Left to pay"


def balance_line(account: Account) -> tuple[str, Cents] | None:
    """How a balance is called wherever it is told, and its cents, never below zero; None where nothing was agreed."""
    left = account.balance
    if left is None:
        return None
    if left >= 0:
        return LEFT, left
    return "To give back" if account.state == "declined" else "Paid too much", -left


GIVEN = (
    "SELECT number, job, at, ahead_min, price_cents AS price, tax_cents AS tax, to_pay_cents AS to_pay,"
    " materials_cents AS materials, currency, lines_json AS lines FROM quote WHERE job = ?"
)
PAID = (
    "SELECT id, kind, cents AS amount, currency, at, ahead_min, remark FROM payment WHERE job = ? ORDER BY id"
)
STEPS = "SELECT state, at, ahead_min, remark FROM step WHERE job = ? ORDER BY id"
AGREED = "SELECT words, quote, at, ahead_min FROM agreed WHERE job = ? ORDER BY id"
PHOTOS = "SELECT path, remark, at, ahead_min FROM photo WHERE job = ? ORDER BY id"
INVOICES = "SELECT number, quote, at, ahead_min FROM invoice WHERE job = ? ORDER BY LENGTH(number), number"


def history(ledger: Ledger, job: str, storage: Storage | None = None) -> History:
    """All that the ledger holds of a job."""
    row = job_row(ledger, job)
    customer = ledger.row("SELECT name, contact FROM customer WHERE id = ?", (row.customer,))
    quotes = ledger.rows(GIVEN + IN_ORDER, (job,))
    photos = ledger.told(Photo, PHOTOS, (job,))
    of = {
        "customer": customer["name"] if customer else "",
        "contact": customer["contact"] if customer else "",
        "account": account(ledger, job, storage),
        "steps": ledger.told(Step, STEPS, (job,)),
        "quotes": [GivenQuote(**each | {"lines": json.loads(each["lines"])}) for each in quotes],
        "agreed": ledger.told(Agreed, AGREED, (job,)),
        "photos": [replace(one, missing=not (ledger.path.parent / one.path).is_file()) for one in photos],
        "invoices": ledger.told(Invoice, INVOICES, (job,)),
        "payments": ledger.told(Payment, PAID, (job,)),
    }
    return History(**asdict(row) | of)


def _settled(ledger: Ledger, job: str) -> bool:
    balance = account(ledger, job).balance
    return balance is not None and balance <= 0


def _to(ledger: Ledger, row: JobRow, state: str, now: Moment, remark: str) -> None:
    """The next step within a transaction; InputError where it may not follow."""
    job, old = row.id, row.state
    own = row.kind != "commission"
    allowed = [name for name in NEXT[old] if own or name not in FOR_SALE_ONLY]
    if state not in WORDS:
        raise refused_word("state", "no state of this name", state, WORDS)
    if state not in allowed:
        raise ledger.refusal(
            f"{job} is {WORDS[old]} and cannot become {WORDS[state]}",
            state,
            ", ".join(allowed),
            "take the steps in their order",
        )
    _step(ledger, job, state, now, remark)
    ledger.write("UPDATE job SET state = ? WHERE id = ?", (state, job))


def to_work(ledger: Ledger, job: str, now: Moment) -> None:
    """Within a transaction: a job that is begun on is at work; InputError where nothing may be begun."""
    row = job_row(ledger, job)
    if row.state != "at-work":
        _to(ledger, row, "at-work", now, "")


def worked_on(ledger: Ledger, job: str, now: Moment) -> None:
    """Within a transaction: a job whose work was written down afterwards was at work; one that is further stays there."""
    row = job_row(ledger, job)
    if row.state in ("accepted", "waiting", "returned"):
        _to(ledger, row, "at-work", now, "")


def _step(ledger: Ledger, job: str, state: str, now: Moment, remark: str) -> None:
    ledger.add("step", now, job=job, state=state, remark=remark)

"""The stock: bought, sent back, used, counted, spoiled; what is left, what of it is promised to jobs. Whole millionths."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Cents, Millionths
from estimator.core.errors import as_accepted, refusal, refused_word, shown
from estimator.core.units import scaled
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import LARGEST_CENTS, job_row
from estimator.ledger.records import StockMoved, StockRow
from estimator.ledger.states import UNDER_WAY
from estimator.ledger.store import Ledger

MILLION = 1_000_000
MOST = 10**6
BOUGHT, RETURNED, USED, COUNTED, SPOILED = KINDS = ("bought", "returned", "used", "counted", "spoiled")
"""What is told of a stock; what is sent back to its seller is kept as so much less bought, for so much less money."""


def quantity(millionths: Millionths) -> str:
    """Millionths as a number, exactly."""
    return scaled(millionths, MILLION)


def read_quantity(number: Decimal, option: str = "quantity") -> Millionths:
    """A quantity in whole millionths; InputError where it has finer places or is none."""
    millionths = number * MILLION
    if millionths != millionths.to_integral_value() or not 0 <= number <= MOST:
        raise refusal(
            option,
            "is no quantity that can be kept",
            f"{number:f}",
            f"0 to {MOST}, with at most six places",
            "type the quantity",
        )
    return Millionths(int(millionths))


class Beside(Struct, frozen=True):
    """What is said beside a movement of the stock: for which job and task, what it cost (cents), a remark.

    ``best_before``: the day till which what was bought keeps, as its label says.
    """

    job: str | None = None
    cents: Cents = Cents(0)
    currency: str = ""
    remark: str = ""
    task: str = ""
    best_before: date | None = None


NOTHING = Beside()


def _check_move(kind: str, item: str, millionths: Millionths, beside: Beside) -> None:
    """Refuse what cannot happen to a stock, whatever is left of it."""
    cents = beside.cents
    if kind not in KINDS:
        raise refused_word("stock", "nothing of this kind happens to a stock", kind, KINDS)
    if not item.strip() or (not millionths and kind != COUNTED):
        raise refusal(
            "stock",
            "there is nothing to record",
            f"{quantity(millionths)} of {shown(item)}",
            "an id and more than nothing",
            "type the id and how many",
        )
    if (cents and kind not in (BOUGHT, RETURNED)) or not 0 <= cents < LARGEST_CENTS:
        raise refusal(
            "--cost",
            "only what is bought has a cost, of zero or more, and what is sent back what came back for it",
            f"{Decimal(cents) / 100} for {kind}",
            "a sum with stock bought or stock returned",
            "leave it out",
        )
    if beside.best_before and kind != BOUGHT:
        raise refusal(
            "--best-before",
            "only what is bought has a day till which it keeps",
            kind,
            "a day with stock bought",
            "leave it out",
        )


def stock_move(
    ledger: Ledger, kind: str, item: str, millionths: Millionths, now: Moment, beside: Beside = NOTHING
) -> StockMoved:
    """Record what came in, went out or was counted; returns what is left now."""
    kind = as_accepted(kind, KINDS)
    job, cents = beside.job, -beside.cents if kind == RETURNED else beside.cents
    _check_move(kind, item, millionths, beside)
    with ledger.writing():
        if job is not None:
            job_row(ledger, job)
        left = _left(ledger, item)
        change = {BOUGHT: millionths, COUNTED: millionths - left}.get(kind, -millionths)
        if left + change < 0:
            raise ledger.refusal(
                f"more of {item} would be {kind} than there is",
                quantity(millionths),
                f"at most {quantity(left)}",
                f"count it and say what is there: estimator ledger stock counted {item} NUMBER",
            )
        ledger.add(
            "stock_move",
            now,
            item=item,
            kind=BOUGHT if kind == RETURNED else kind,
            millionths=change,
            counted_millionths=millionths if kind == COUNTED else None,
            cents=cents,
            currency=beside.currency,
            job=job,
            remark=beside.remark,
            task=beside.task,
            best_before=str(beside.best_before) if beside.best_before else None,
        )
    return StockMoved(item, kind, change, left + change)


def stock(ledger: Ledger, leave_out: frozenset[str] = frozenset()) -> list[StockRow]:
    """Every item: what is left, what jobs under way hold of it, what is free.

    ``leave_out``: jobs whose own reservation does not count (the job that asks what it may take).
    """
    left = {
        str(row["item"]): Millionths(row["left_"])
        for row in ledger.rows(
            "SELECT item, SUM(millionths) AS left_ FROM stock_move GROUP BY item ORDER BY item"
        )
    }
    none = Millionths(0)
    held: dict[str, Millionths] = {}
    for (job, item), millionths in _held(ledger).items():
        if job not in leave_out:
            held[item] = held.get(item, none) + millionths
    return [
        StockRow(
            item=item,
            left=left.get(item, none),
            reserved=held.get(item, none),
            free=max(none, left.get(item, none) - held.get(item, none)),
            short=max(none, held.get(item, none) - left.get(item, none)),
        )
        for item in sorted({*left, *held})
    ]


def free_stock(ledger: Ledger, jobs: frozenset[str]) -> dict[str, Decimal]:
    """What these jobs may take: all that is left less what other jobs under way hold."""
    return {row.item: Decimal(row.free) / MILLION for row in stock(ledger, jobs) if row.free}


def _held(ledger: Ledger) -> dict[tuple[str, str], Millionths]:
    """What each job under way holds of each item: what its accepted quote needs, less what it has used.

    Of a task of which it was said what it used, whatever it was, nothing is held any more.
    """
    marks = ", ".join("?" * len(UNDER_WAY))
    rows = ledger.rows(
        "SELECT job.id AS job, quote_need.item, quote_need.millionths - MAX("
        "COALESCE((SELECT -SUM(stock_move.millionths)"
        " FROM stock_move WHERE stock_move.job = job.id AND stock_move.item = quote_need.item"
        " AND stock_move.kind = 'used'), 0),"
        " COALESCE((SELECT SUM(quote_use.millionths) FROM quote_use"
        " JOIN use_told ON use_told.job = job.id AND use_told.task = quote_use.task"
        " WHERE quote_use.quote = job.accepted_quote AND quote_use.item = quote_need.item), 0)) AS held"
        " FROM job JOIN quote_need ON quote_need.quote = job.accepted_quote"
        # what was handed over has its parts in it, whether that was written down or not
        f" WHERE job.state IN ({marks}) AND NOT EXISTS"
        " (SELECT 1 FROM step WHERE step.job = job.id AND step.state IN ('collected', 'sold'))",
        UNDER_WAY,
    )
    return {(row["job"], row["item"]): row["held"] for row in rows if row["held"] > 0}


def _left(ledger: Ledger, item: str) -> Millionths:
    sql = "SELECT COALESCE(SUM(millionths), 0) AS left_ FROM stock_move WHERE item = ?"
    return Millionths(ledger.rows(sql, (item,))[0]["left_"])

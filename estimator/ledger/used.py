"""What a task used of the stock: proposed from the accepted quote when it ends; accepted, changed, or nothing."""

from __future__ import annotations

from collections.abc import Mapping

from estimator.core.amounts import Millionths
from estimator.core.errors import refused_word
from estimator.ledger.clock import Moment
from estimator.ledger.jobs import job_row
from estimator.ledger.records import StockMoved
from estimator.ledger.stock import USED, Beside, quantity, stock_move
from estimator.ledger.store import Ledger

PLANNED, CHANGED, NONE = "planned", "changed", "none"
FORMS = "planned, none, or items with what was used of each: c-strings-guitar=2, c-ca-glue=0.5"


def proposed(ledger: Ledger, job: str, task: str) -> dict[str, Millionths]:
    """Millionths by item that the accepted quote reckons the task to use, of what the stock has ever held.

    Nothing where it was said already what the task used. What was taken off for this task by hand counts.
    """
    if ledger.row("SELECT how FROM use_told WHERE job = ? AND task = ?", (job, task)):
        return {}
    rows = ledger.rows(
        "SELECT quote_use.item, quote_use.millionths + COALESCE((SELECT SUM(millionths) FROM stock_move"
        " WHERE stock_move.job = job.id AND stock_move.item = quote_use.item AND stock_move.kind = 'used'"
        " AND stock_move.task = quote_use.task), 0) AS left_"
        " FROM job JOIN quote_use ON quote_use.quote = job.accepted_quote"
        " WHERE job.id = ? AND quote_use.task = ? AND EXISTS"
        " (SELECT 1 FROM stock_move WHERE stock_move.item = quote_use.item) ORDER BY quote_use.item",
        (job, task),
    )
    return {row["item"]: row["left_"] for row in rows if row["left_"] > 0}


def _not_in_stock(ledger: Ledger, job: str, task: str) -> str:
    """What the accepted quote has a task use that the stock never held, and how it comes into it."""
    rows = ledger.rows(
        "SELECT quote_use.item AS item FROM job JOIN quote_use ON quote_use.quote = job.accepted_quote"
        " WHERE job.id = ? AND quote_use.task = ? ORDER BY quote_use.item",
        (job, task),
    )
    items = [str(row["item"]) for row in rows]
    if not items:
        return "a task of the accepted quote that uses up something"
    return f"{', '.join(items)} by the quote, once it came in: estimator ledger stock bought {items[0]} NUMBER --cost SUM"


def read_used(text: str, option: str = "--used") -> str | dict[str, Millionths]:
    """``planned``, ``none``, or millionths by item as they were typed."""
    from estimator.core.units import UnitError, parse_quantity
    from estimator.ledger.stock import read_quantity

    if text.strip() in (PLANNED, NONE):
        return text.strip()
    found: dict[str, Millionths] = {}
    for one in text.split(","):
        item, equals, many = (word.strip() for word in one.partition("="))
        try:
            number = parse_quantity(many, "") if equals and item else None
        except UnitError:
            number = None
        if number is None or item in found:
            raise refused_word(
                option,
                "does not say what was used",
                one.strip(),
                (PLANNED, NONE),
                FORMS,
                "type it in one of these forms",
            )
        found[item] = read_quantity(number, option)
    return found


def tell_used(
    ledger: Ledger, job: str, task: str, what: str | Mapping[str, Millionths], now: Moment
) -> list[StockMoved]:
    """Take what a task used off the stock, once; all of it or nothing. Returns the movements."""
    with ledger.writing():
        job_row(ledger, job)
        told = ledger.row("SELECT how FROM use_told WHERE job = ? AND task = ?", (job, task))
        if told is not None:
            raise ledger.refusal(
                f"what {task} of {job} used was told already",
                str(told["how"]),
                "each task once",
                f"take more off with: estimator ledger stock used ITEM NUMBER --job {job}; or count it",
            )
        planned = proposed(ledger, job, task)
        if what == PLANNED and not planned:
            raise ledger.refusal(
                f"nothing is planned to be used by {task} of {job} that the stock has ever held",
                PLANNED,
                _not_in_stock(ledger, job, task),
                f"say what it used: {FORMS}",
            )
        uses = planned if what == PLANNED else {} if isinstance(what, str) else dict(what)
        moves = [
            stock_move(ledger, USED, item, many, now, Beside(job, task=task))
            for item, many in uses.items()
            if many
        ]
        how = PLANNED if what == PLANNED else CHANGED if uses else NONE
        ledger.add("use_told", now, job=job, task=task, how=how)
    return moves


def untold(ledger: Ledger, job: str) -> dict[str, dict[str, Millionths]]:
    """Tasks of a job that were ended or timed and of which nobody has said what they used, each with what is planned."""
    tasks = ledger.rows(
        "SELECT DISTINCT task FROM time_taken WHERE job = ? AND kind = 'hands' AND (seconds > 0 OR corrects IS NULL)"
        " AND NOT EXISTS (SELECT 1 FROM running WHERE running.job = time_taken.job AND running.task = time_taken.task)"
        " ORDER BY task",
        (job,),
    )
    found = ((row["task"], proposed(ledger, job, row["task"])) for row in tasks)
    return {task: uses for task, uses in found if uses}


def uses_words(uses: Mapping[str, Millionths]) -> str:
    """Items with how many of each: ``1 c-strings-guitar, 0.5 c-ca-glue``."""
    return ", ".join(f"{quantity(many)} {item}" for item, many in uses.items())

"""Waits from own cures (``begin --cure`` till ``end``): the shop's own middle one against the usual wait of the row.

A cure that was left over night tells when somebody came back, not when the glue was dry: own waits lean long.
So the usual wait only moves between the row's own ends: never below the fast one, which is the least that the
label allows, never above the safe one. Struck-out times do not count, nor do cures that ended before the fast
wait was over: such a wait is a fault of the bench and no reason to plan with it. A wait of ``task_waits.csv``
hangs on the task that follows, which a cure does not name: it is the one that the job went on with by hand after
the cure, and a cure that tells of such a pair does not tell of its first task alone.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from statistics import median

from msgspec import Struct

from estimator.core.text import count
from estimator.estimate.ways import JOINED
from estimator.learn.values import Priors, Value
from estimator.ledger.store import Ledger
from estimator.model import Shop, TaskWait

#: cures of a task below which it is too early to tell (memory)
ENOUGH = 5
PART = "waits"
WHOLE = Decimal(1)


class _Row(Struct, frozen=True):
    """A row that has a wait: its table, key and column, what it is called, and its ends."""

    file: str
    key: str
    column: str
    fast: Decimal
    usual: Decimal
    safe: Decimal
    before: str = ""


def cures(ledger: Ledger) -> dict[tuple[str, str], list[Decimal]]:
    """By the task that cured and the one that its job went on with (none: blank), the minutes of every cure that ended."""
    found: dict[tuple[str, str], list[Decimal]] = {}
    for row in ledger.rows(
        "SELECT cure.task, cure.seconds, (SELECT next.task FROM time_taken AS next WHERE next.job = cure.job"
        "  AND next.kind = 'hands' AND next.seconds > 0 AND next.at > cure.at ORDER BY next.at, next.id LIMIT 1) AS after"
        " FROM time_taken AS cure WHERE cure.kind = 'cure' AND cure.seconds > 0 ORDER BY cure.task, after, cure.id"
    ):
        found.setdefault((row["task"], row["after"] or ""), []).append(Decimal(row["seconds"]) / 60)
    return found


def waits(ledger: Ledger, shop: Shop) -> tuple[Value, ...]:
    """The usual wait of every row of which cures were recorded: of a pair where the job went on with its second task."""
    by_row: dict[_Row, list[Decimal]] = {}
    pairs = _pairs(shop)
    for (task, after), minutes in cures(ledger).items():
        row = pairs.get((task, after)) or _of_task(task, shop)
        if row is not None and row.safe:
            by_row.setdefault(row, []).extend(minutes)
    priors = Priors(ledger)
    return tuple(_value(row, minutes, priors) for row, minutes in by_row.items())


def _of_task(task: str, shop: Shop) -> _Row | None:
    found = shop.tasks.get(task)
    if found is None:
        return None
    return _Row(
        "tasks.csv", task, "wait_usual_min", found.wait_fast_min, found.wait_usual_min, found.wait_safe_min
    )


def _pairs(shop: Shop) -> dict[tuple[str, str], _Row]:
    """The rows of ``task_waits.csv`` by their two tasks; a pair that waits otherwise after so many sittings is not told."""
    rows: dict[tuple[str, str], list[TaskWait]] = {}
    for row in shop.planning.waits:
        rows.setdefault((row.before, row.after), []).append(row)
    return {
        pair: _Row(
            "task_waits.csv",
            JOINED.join((one.before, one.after, str(one.every))),
            "usual_min",
            one.fast_min,
            one.usual_min,
            one.safe_min,
            one.after,
        )
        for pair, (one, *others) in rows.items()
        if not others and one.every == 1 and one.safe_min
    }


def _value(row: _Row, minutes: list[Decimal], priors: Priors) -> Value:
    kept = [one for one in minutes if one >= row.fast]
    prior = priors.of(row.file, row.key, row.column, row.usual)
    words = count(len(kept), "cure", "cures") + (f" before {row.before}" if row.before else "")
    after = row.usual
    if kept:
        middle = median(kept)
        after = min(max(middle.quantize(WHOLE, ROUND_HALF_UP), row.fast), row.safe)
        words += f", the middle one {middle:.0f} min"
        if middle > row.safe:
            words += f", held at the safe wait of {row.safe:.0f}"
    if len(kept) < len(minutes):
        words += f"; {len(minutes) - len(kept)} ended before the fast wait of {row.fast:.0f} min, left out"
    early = len(kept) < ENOUGH
    return Value(PART, row.file, row.key, row.column, prior, row.usual, after, len(kept), words, early)

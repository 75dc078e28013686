"""Waits from own cures (``begin --cure`` till ``end``): the shop's own middle one against the usual wait of the row.

A cure that was left over night tells when somebody came back, not when the glue was dry: own waits lean long.
So the usual wait only moves between the row's own ends: never below the fast one, which is the least that the
label allows, never above the safe one. Struck-out times do not count, nor do cures that ended before the fast
wait was over: such a wait is a fault of the bench and no reason to plan with it. Waits of ``task_waits.csv``
hang on the task that follows, which a cure does not name: they stay as they are.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from statistics import median

from estimator.core.text import count
from estimator.learn.values import Priors, Value
from estimator.ledger.store import Ledger
from estimator.model import Shop

#: cures of a task below which it is too early to tell (memory)
ENOUGH = 5
PART, FILE, COLUMN = "waits", "tasks.csv", "wait_usual_min"
WHOLE = Decimal(1)


def cures(ledger: Ledger) -> dict[str, list[Decimal]]:
    """By task, the minutes of every cure that was ended."""
    found: dict[str, list[Decimal]] = {}
    for row in ledger.rows(
        "SELECT task, seconds FROM time_taken WHERE kind = 'cure' AND seconds > 0 ORDER BY task, id"
    ):
        found.setdefault(row["task"], []).append(Decimal(row["seconds"]) / 60)
    return found


def waits(ledger: Ledger, shop: Shop) -> tuple[Value, ...]:
    """The usual wait of every task of which cures were recorded, where its row has a wait."""
    priors = Priors(ledger)
    return tuple(
        _value(task, minutes, shop, priors)
        for task, minutes in cures(ledger).items()
        if task in shop.tasks and shop.tasks[task].wait_safe_min
    )


def _value(task: str, minutes: list[Decimal], shop: Shop, priors: Priors) -> Value:
    row = shop.tasks[task]
    fast, now, safe = row.wait_fast_min, row.wait_usual_min, row.wait_safe_min
    kept = [one for one in minutes if one >= fast]
    prior = priors.of(FILE, task, COLUMN, now)
    words = count(len(kept), "cure", "cures")
    after = now
    if kept:
        middle = median(kept)
        after = min(max(middle.quantize(WHOLE, ROUND_HALF_UP), fast), safe)
        words += f", the middle one {middle:.0f} min"
        if middle > safe:
            words += f", held at the safe wait of {safe:.0f}"
    if len(kept) < len(minutes):
        words += f"; {len(minutes) - len(kept)} ended before the fast wait of {fast:.0f} min, left out"
    return Value(PART, FILE, task, COLUMN, prior, now, after, len(kept), words, len(kept) < ENOUGH)

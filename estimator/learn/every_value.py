"""Every single value of the tables that the ledger speaks of, part by part."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from estimator.core.errors import near_miss, refusal, shown
from estimator.learn import factors, prices, rework, sales, waits
from estimator.learn.accept import shop_rows
from estimator.learn.values import Value
from estimator.ledger.clock import Moment
from estimator.ledger.store import Ledger
from estimator.model import Shop

TIMES = "times"
PARTS = (TIMES, factors.PART, rework.PART, prices.PART, sales.PART, waits.PART)


def every_value(
    ledger: Ledger, shop: Shop, folder: Path, now: Moment, of_factors: factors.FactorLesson
) -> tuple[Value, ...]:
    """What the ledger says of factors (known from the lesson on times), odds, prices, sales and waits."""
    return (
        *of_factors.values,
        *rework.rework(ledger, shop),
        *prices.prices(ledger, shop, shop_rows(folder, prices.PARTS_FILE)),
        *sales.sales(ledger, shop, now),
        *waits.waits(ledger, shop),
    )


def read_parts(text: str | None) -> Collection[str]:
    """The parts of learning that are taken over: all, or those named with commas between; InputError says which."""
    if text is None:
        return PARTS
    named = [word.strip() for word in text.split(",") if word.strip()]
    wrong = next((word for word in named if word not in PARTS), None)
    if wrong is not None or not named:
        raise refusal(
            "--only",
            "is no part of what is learned",
            shown(wrong or text),
            ", ".join(PARTS),
            near_miss(wrong or "", PARTS) or "name one or more, with commas",
        )
    return named

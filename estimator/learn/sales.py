"""Days to sell from own sales: by way of selling, what the shop's instruments took against what the tables say.

Days to sell are taken as exponential about their mean, so that what is still offered counts with its days so far
(leaving it out would make every way look quick). The factor of a way is then
(weight + days of all over the days that the tables say) / (weight + number sold): an inverse gamma curve about
the handbook's factor that counts as 10 sales (memory). What was paid stands beside what was expected; the price
classes themselves are not moved by it, because an expected price often starts from a clean price of one's own.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from math import fsum
from statistics import median

from estimator.core.text import count
from estimator.learn.values import Priors, Value
from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.store import Ledger, Row
from estimator.model import Shop

#: sales that the handbook's days count as, and sales by a way below which it is too early to tell (memory)
WEIGHT, ENOUGH = 10, 5
#: what is sold on the day it was listed took this share of a day (memory)
LEAST_DAYS = 0.5
PART, FILE, COLUMN = "sales", "selling_ways.csv", "days_factor"
HUNDREDTH, LEAST, MOST = Decimal("0.01"), Decimal("0.01"), Decimal(10)


def factor(days: list[float], sold: int) -> float:
    """The factor on the handbook's days; ``days``: of all that was offered, over the handbook's."""
    return (WEIGHT + fsum(days)) / (WEIGHT + sold)


def offers(ledger: Ledger, now: Moment) -> list[Row]:
    """Everything that was listed with its way: days till it was sold, till it was taken back, or so far."""
    rows = ledger.rows(
        "SELECT listing.*, (SELECT step.state || ' ' || step.at FROM step WHERE step.job = listing.job"
        " AND step.at >= listing.at AND step.state <> 'listed' ORDER BY step.id LIMIT 1) AS next_,"
        " (SELECT SUM(cents) FROM payment WHERE payment.job = listing.job AND kind IN ('sale', 'refund')) AS paid_cents"
        " FROM listing ORDER BY listing.job"
    )
    for row in rows:
        state, _, at = (row.pop("next_") or "").partition(" ")
        end = kept_moment(at, 0) if at else now
        seconds = (end.utc - kept_moment(row["at"], row["ahead_min"]).utc).total_seconds()
        row["days"], row["sold"] = max(LEAST_DAYS, seconds / 86_400), state == "sold"
    return rows


def sales(ledger: Ledger, shop: Shop, now: Moment) -> tuple[Value, ...]:
    """The factor of every way by which something was listed."""
    by_way: dict[str, list[Row]] = {}
    for row in offers(ledger, now):
        if row["way"] in shop.resale.ways and row["tier"] in shop.resale.tiers:
            by_way.setdefault(row["way"], []).append(row)
    priors = Priors(ledger)
    return tuple(_value(way, rows, shop, priors) for way, rows in sorted(by_way.items()))


def _value(way: str, rows: list[Row], shop: Shop, priors: Priors) -> Value:
    now = shop.resale.ways[way].days_factor
    prior = priors.of(FILE, way, COLUMN, now)
    expected = [float(shop.resale.tiers[row["tier"]].days * (prior or LEAST)) for row in rows]
    sold = [row for row in rows if row["sold"]]
    by = factor([row["days"] / usual for row, usual in zip(rows, expected, strict=True)], len(sold))
    after = ((prior or LEAST) * Decimal(repr(by))).quantize(HUNDREDTH, ROUND_HALF_UP)
    words = f"{len(sold)} sold"
    if len(sold) < len(rows):
        words += f", {count(len(rows) - len(sold), 'was not', 'were not')} yet"
    if sold:
        words += f"; the middle one took {median(row['days'] for row in sold):.0f} days"
    shares = [
        row["paid_cents"] / row["expected_cents"]
        for row in sold
        if row["expected_cents"] and row["paid_cents"]
    ]
    if shares:
        words += f" and brought {median(shares):.2f} of what was expected"
    early = len(sold) < ENOUGH
    return Value(PART, FILE, way, COLUMN, prior, now, min(MOST, max(LEAST, after)), len(sold), words, early)

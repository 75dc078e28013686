"""Prices of parts and consumables from what was bought: the middle one of the last purchases, beside the table's.

What was paid says what the next one costs, so nothing is shrunk towards the table. A single purchase far from
the table (a third, or three times) is more likely a slip, packs typed for pieces say, and waits for a second one.
What was paid counts whole, its freight with it where it was typed in.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from statistics import median

from msgspec.structs import replace

from estimator.core.amounts import Cents
from estimator.core.money import money_text
from estimator.core.text import count
from estimator.learn.values import Value
from estimator.ledger.stock import BOUGHT, MILLION
from estimator.ledger.store import Ledger, Row
from estimator.model import Shop
from estimator.tables.csv_rows import Key, TableRow

#: purchases of a thing of which the middle price is taken (memory)
LAST = 3
#: a single purchase this many times above or below the table is not believed yet (memory)
FAR = 3
PART, PARTS_FILE, CONSUMABLES_FILE, COLUMN = "prices", "parts.csv", "consumables.csv", "price"
CENT = Decimal("0.01")


def purchases(ledger: Ledger, currency: str) -> dict[str, list[Row]]:
    """By item, every purchase with a cost in this currency, the last first."""
    found: dict[str, list[Row]] = {}
    for row in ledger.rows(
        "SELECT item, cents, millionths FROM stock_move WHERE kind = ? AND cents > 0 AND millionths > 0"
        " AND currency = ? ORDER BY at DESC, id DESC",
        (BOUGHT, currency),
    ):
        found.setdefault(row["item"], []).append(row)
    return found


def prices(ledger: Ledger, shop: Shop, part_rows: Mapping[Key, TableRow]) -> tuple[Value, ...]:
    """The price of everything of the tables that was bought; ``part_rows``: the shop's rows of ``parts.csv``."""
    found = []
    for item, rows in sorted(purchases(ledger, shop.terms.currency).items()):
        if item in shop.consumables:
            of = shop.consumables[item]
            found.append(_value(CONSUMABLES_FILE, item, of.price, of.units_per_pack, of.unit, rows))
        elif (item,) in part_rows:
            cells = part_rows[(item,)].values
            one = _value(PARTS_FILE, item, cells["price"], Decimal(1), "piece", rows)
            ends = min(cells["price_low"], one.after), max(cells["price_high"], one.after)
            found.append(replace(one, beside={"price_low": ends[0], "price_high": ends[1]}))
    return tuple(found)


def _value(file: str, item: str, now: Decimal, units: Decimal, unit: str, rows: list[Row]) -> Value:
    last = rows[:LAST]
    each = [Decimal(row["cents"]) * MILLION / row["millionths"] for row in last]  # cents of one unit
    after = (median(each) * units / 100).quantize(CENT, ROUND_HALF_UP)
    low, high = (money_text(Cents(int(of(each).to_integral_value(ROUND_HALF_UP)))) for of in (min, max))
    span = low if low == high else f"{low} to {high}"
    words = f"{count(len(last), 'purchase', 'last purchases')}, {span} for a {unit}"
    far = len(last) == 1 and not now <= after * FAR <= now * FAR * FAR
    return Value(PART, file, item, COLUMN, now, now, after, len(last), words, early=far)

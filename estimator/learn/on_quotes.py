"""What learned prices and odds of rework would have made of the last quotes; times are told with the task times.

Days to sell and waits stand in no quote of a customer's work: they move the day, not the money.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.learn import prices, rework
from estimator.learn.times import QUOTES
from estimator.learn.values import Value
from estimator.ledger.stock import MILLION
from estimator.ledger.store import Ledger
from estimator.model import Shop

HUNDREDTH = Decimal("0.01")


class QuoteValues(Struct, frozen=True):
    """A quote: its materials at cost in cents, and how many things go wrong on average, as quoted and as learned."""

    number: str
    job: str
    materials: Cents
    materials_learned: Cents
    wrong: Decimal
    wrong_learned: Decimal

    @property
    def changes(self) -> bool:
        """Whether anything of it would be another."""
        return self.materials != self.materials_learned or self.wrong != self.wrong_learned


def on_quotes(ledger: Ledger, shop: Shop, values: Sequence[Value]) -> tuple[QuoteValues, ...]:
    """The last quotes with what the values that would be taken over make of them; the last first."""
    proposed = [one for one in values if one.proposed]
    dearer = {one.row: _per_unit(shop, one) for one in proposed if one.part == prices.PART}
    odds = {one.row: (one.before, one.after) for one in proposed if one.part == rework.PART}
    quotes = ledger.rows(
        "SELECT number, job, materials_cents FROM quote ORDER BY at DESC, number DESC LIMIT ?", (QUOTES,)
    )
    return tuple(
        _of_quote(ledger, row["number"], row["job"], row["materials_cents"], dearer, odds) for row in quotes
    )


def _per_unit(shop: Shop, one: Value) -> Decimal:
    """By how many cents a unit of an item is dearer than the table says."""
    units = shop.consumables[one.row].units_per_pack if one.file == prices.CONSUMABLES_FILE else Decimal(1)
    return (one.after - one.before) * 100 / units


def _of_quote(
    ledger: Ledger,
    number: str,
    job: str,
    materials: Cents,
    dearer: Mapping[str, Decimal],
    odds: Mapping[str, tuple[Decimal, Decimal]],
) -> QuoteValues:
    more = sum(
        (
            dearer[row["item"]] * row["millionths"] / MILLION
            for row in ledger.rows("SELECT item, millionths FROM quote_use WHERE quote = ?", (number,))
            if row["item"] in dearer
        ),
        Decimal(0),
    )
    wrong = [Decimal(0), Decimal(0)]
    for row in ledger.rows("SELECT task, hundredths FROM quote_chance WHERE quote = ?", (number,)):
        for which, per_cent in enumerate(odds.get(row["task"], ())):
            wrong[which] += Decimal(row["hundredths"]) * per_cent / 10_000
    before, after = (many.quantize(HUNDREDTH, ROUND_HALF_UP) for many in wrong)
    return QuoteValues(
        number, job, materials, materials + Cents(int(more.to_integral_value(ROUND_HALF_UP))), before, after
    )

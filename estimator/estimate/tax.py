"""Sales tax on the lines of an invoice, rounded per line or once for the whole.

Half up at the third decimal: the rule of the Streamlined Sales and Use Tax Agreement, section 324
(carry to the third decimal, round up when it is greater than 4), which lets the seller compute per
item or per invoice. Which goods and services are taxed is local law: ask locally.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.errors import Origin, refusal

PER = ("invoice", "line")
CAUTION = (
    "Tax is off until you switch it on: whether parts, labour or both are taxed, and at what rate, differs from "
    "place to place. Ask your accountant or the local authority."
)


class TaxLine(Struct, frozen=True):
    """One line that is taxed: net amount in cents, rate as a share of one."""

    net: Cents
    rate: Decimal


def tax_of(lines: Iterable[TaxLine], per: str = "invoice") -> Cents:
    """Tax in cents: each line rounded and added up, or the exact sum rounded once."""
    if per not in PER:
        raise refusal(Origin("shop.toml", None, "tax_per"), "unknown way to round tax", per, ", ".join(PER))
    exact = [Decimal(line.net) * line.rate for line in lines]
    if per == "line":
        return Cents(sum(int(tax.quantize(Decimal(1), ROUND_HALF_UP)) for tax in exact))
    return Cents(int(sum(exact, Decimal(0)).quantize(Decimal(1), ROUND_HALF_UP)))

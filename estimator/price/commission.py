"""What to charge for client work: hours, reserve, consumables fee, parts, rush, tax.

price = max(minimum, hours x rate x (1 + reserve) + consumables fee + sum(part x mark-up)) x rush, + tax.
Every step is rounded to the cent, half up. Tax rules are local: ask; the settings default to none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from estimator.estimate.money import amount, cents, round_up_to
from estimator.model import Terms


@dataclass(frozen=True, slots=True)
class Price:
    """A price and its steps, in whole cents; ``billed_min`` in hundredths of a minute."""

    billed_min: int
    labour: int
    reserve: int
    fee: int
    parts: int
    rush: int
    price: int
    tax: int
    to_pay: int


def consumables_fee(labour: int, consumables: int, terms: Terms) -> int:
    """A share of labour between its least and most; at cost when consumables exceed the most."""
    if amount(consumables) > terms.fee_most:
        return consumables
    share = amount(labour) * terms.fee_share
    return cents(min(max(share, terms.fee_least), terms.fee_most))


def price_of(
    minutes: int,
    price_parts: int,
    consumables: int,
    terms: Terms,
    settings: Mapping[str, Decimal | str],
) -> Price:
    """The price of ``minutes`` (hundredths, at the surety quoted), parts and consumables (cents).

    It never falls when any of the three rises.
    """
    rate = Decimal(settings.get("charge_per_hour", terms.charge_per_hour))
    billed = round_up_to(Decimal(minutes) / 100, terms.billing_unit_min)
    labour = cents(billed * rate / 60)
    reserve = cents(amount(labour) * terms.labour_reserve)
    fee = consumables_fee(labour, consumables, terms) if billed else 0
    plain = max(cents(terms.minimum_charge), labour + reserve + fee + price_parts)
    rushed = cents(amount(plain) * (terms.rush if settings.get("rush") == "yes" else Decimal(1)))
    tax = _tax(rushed, price_parts, terms)
    return Price(
        int(billed * 100), labour, reserve, fee, price_parts, rushed - plain, rushed, tax, rushed + tax
    )


def _tax(price: int, price_parts: int, terms: Terms) -> int:
    on_parts = amount(price_parts) * terms.tax_parts
    on_labour = amount(max(price - price_parts, 0)) * terms.tax_labour
    if terms.tax_per == "line":
        return cents(on_parts) + cents(on_labour)
    return cents(on_parts + on_labour)

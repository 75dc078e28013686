"""What to charge for client work: hours, reserve, consumables fee, parts, rush, tax.

price = max(minimum, hours x rate x (1 + reserve) + consumables fee + sum(part x mark-up)) x rush, + tax.
Work charged besides the hours (fitting a customer's own part, more reserve for the warranty of some kinds
of work, less for a batch) comes to the hours. A quote of fewer hours than the shop's ``large_quote_hours``
bears no consumables fee but what it uses up beyond the most of one; above that size the fee comes in
with the labour, cent by cent, until all of it is there.
Every step is rounded to the cent, half up. Tax rules are local: ask; the settings default to none.
"""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Cents, Hundredths
from estimator.core.money import amount, cents, round_up_to
from estimator.estimate.tax import TaxLine, tax_of
from estimator.model import JobTerms, Money, Terms


class Price(Struct, frozen=True):
    """A price and its steps, in whole cents; ``billed_min`` in hundredths of a minute.

    ``more_work`` is work charged besides the hours (below zero for a batch), ``top_up`` what the
    least charge adds; price = labour + reserve + more_work + top_up + fee + parts + rush.
    """

    billed_min: Hundredths
    labour: Cents
    reserve: Cents
    more_work: Cents
    top_up: Cents
    fee: Cents
    parts: Cents
    rush: Cents
    price: Cents
    tax: Cents
    to_pay: Cents

    @property
    def work(self) -> Cents:
        """The work as one line of the invoice."""
        return self.labour + self.reserve + self.more_work + self.top_up


def consumables_fee(labour: Cents, consumables: Cents, terms: Terms) -> Cents:
    """A share of labour between its least and most; at cost when consumables exceed the most."""
    if amount(consumables) > terms.fee_most:
        return consumables
    share = amount(labour) * terms.fee_share
    return cents(min(max(share, terms.fee_least), terms.fee_most))


def price_of(minutes: Hundredths, money: Money, terms: Terms, own: JobTerms, least: bool = True) -> Price:
    """The price of ``minutes`` (hundredths, at the surety quoted) and of ``money``.

    ``own``: what differs on this job. Of ``money`` it takes parts, consumables, work besides the hours and tax by the line. ``least``:
    whether the least charge counts. Without it neither price nor what is to pay ever falls when any
    of the five rises; with it the tax may, where parts are taxed less than the labour they stand for.
    """
    rate = own.charge(terms)
    billed = round_up_to(Decimal(minutes) / 100, terms.billing_unit_min)
    labour = cents(billed * rate / 60)
    reserve = cents(amount(labour) * terms.labour_reserve)
    fee = consumables_fee(labour, money.consumables, terms) if billed else Cents(0)
    if terms.large_quote:
        size = round_up_to(terms.large_quote_hours * 60, terms.billing_unit_min)
        beyond_size = max(Cents(0), labour - cents(size * rate / 60))
        fee = min(fee, max(Cents(0), money.consumables - cents(terms.fee_most)) + beyond_size)
    plain = labour + reserve + money.price_work + fee + money.price_parts
    top_up = max(Cents(0), cents(terms.minimum_charge) - plain) if least else Cents(0)
    plain += top_up
    price = cents(amount(plain) * own.rush_factor(terms))
    rush = price - plain
    work = labour + reserve + money.price_work + top_up
    tax = _tax(work, fee, rush, money, terms)
    return Price(
        Hundredths(int(billed * 100)),
        labour,
        reserve,
        money.price_work,
        top_up,
        fee,
        money.price_parts,
        rush,
        price,
        tax,
        price + tax,
    )


def _tax(work: Cents, fee: Cents, rush: Cents, money: Money, terms: Terms) -> Cents:
    """Tax on the lines of the invoice; those of parts are rounded by themselves in ``money.line_tax``."""
    rest = [TaxLine(line, terms.tax_labour) for line in (work, fee, rush)]
    if terms.tax_per == "line":
        return money.line_tax + tax_of(rest, "line")
    return tax_of([*rest, TaxLine(money.price_parts, terms.tax_parts)], "invoice")

"""A quote for client work: the price with its steps, what is due when, the terms, the floor under it.

All money in cents. The price itself is ``estimate.commission``; this adds what stands around it.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from estimator.choose.study import Study, all_parts, make_estimate
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import Origin, refusal
from estimator.core.money import amount, cents, half_up
from estimator.estimate.commission import Price
from estimator.estimate.packs import pieces_from_stock
from estimator.estimate.tax import TaxLine, tax_of
from estimator.model import Estimate, Job, Shop, Terms
from estimator.price.client.hourly_rate import shop_rate


class Dues(Struct, frozen=True):
    """What is due when, in cents.

    ``credit`` is the bench fee already paid, ``deposit`` is asked before work begins, ``storage`` is
    what ``stored_days`` cost after the free ones, with its tax. ``due`` is all that is left to pay,
    the deposit with it, and ``paid`` what has been paid of that so far (0 but where the ledger was asked).
    """

    credit: Cents
    deposit: Cents
    stored_days: int
    storage: Cents
    storage_tax: Cents
    due: Cents
    paid: Cents = Cents(0)

    @property
    def to_start(self) -> Cents:
        """What is left to pay of the deposit."""
        return max(Cents(0), self.deposit - self.paid)

    @property
    def on_collection(self) -> Cents:
        """What is left to pay when the deposit is paid; below zero: what is to be given back."""
        return self.due - self.paid - self.to_start


class Quote(Struct, frozen=True):
    """The price of an upgrade set to a customer, step by step (cents; minutes in hundredths).

    ``fitting`` is the part of ``steps.more_work`` for the customer's own parts, ``warranty`` what work
    that comes back oftener adds in it for its warranty, ``batch`` what a batch takes off in it. ``floor`` (mean hours without the owner's draw, parts and what is used up, at cost)
    and ``earned`` (cents an hour, all hours counted) are for the shop's eyes only. ``charged`` names the
    parts that are in the price, and what the work uses up that is sold like a part (strings).
    """

    chosen: tuple[str, ...]
    steps: Price
    rate: Cents
    fitting: Cents
    batch: Cents
    warranty: Cents
    dues: Dues
    order_parts: Cents
    floor: Cents
    earned: Cents | None
    surety: Decimal
    own_parts: bool
    rush: bool
    bench_fee_paid: bool
    fee_at_cost: bool
    fee_beyond: bool
    charged: tuple[str, ...]
    estimate: Estimate

    @property
    def price(self) -> Cents:
        """The price before tax."""
        return self.steps.price

    @property
    def under_cost(self) -> Cents:
        """What the price lies under the cost of the work, in cents; 0 where it does not."""
        return max(Cents(0), self.estimate.totals.cost - self.price)

    @property
    def tax(self) -> Cents:
        """Tax on the price."""
        return self.steps.tax

    @property
    def to_pay(self) -> Cents:
        """Price and tax."""
        return self.steps.to_pay

    @property
    def deposit(self) -> Cents:
        """What is asked before work begins."""
        return self.dues.deposit


def for_a_customer(job: Job) -> None:
    """InputError for a job that is not for a customer: nothing else is quoted."""
    if job.kind != "commission":
        raise refusal(
            Origin(job.file, None, "[job] kind"),
            "only client work is quoted",
            f"“{job.kind}”",
            'kind = "commission"',
            "for an instrument to be sold, look at the offer and the profit instead",
        )


def quote_for(study: Study, chosen: Collection[str]) -> Quote:
    """The quote of a commission for a set of upgrades. InputError for jobs that are not for a customer."""
    job, shop = study.job, study.shop
    for_a_customer(job)
    estimate = make_estimate(study, chosen)
    totals, terms = estimate.totals, shop.terms
    steps = study.costing.price(totals.surety_min, totals.money)
    fitting = sum((part.fitting for part in estimate.parts), Cents(0))
    hours = totals.expected + totals.desk
    many = amount(totals.money.consumables) > terms.fee_most
    money_out = totals.money.parts + totals.money.consumables + totals.money.tools
    return Quote(
        chosen=estimate.chosen,
        steps=steps,
        rate=cents(study.costing.setting.charge),
        fitting=fitting,
        batch=fitting + estimate.warranty - steps.more_work,
        warranty=estimate.warranty,
        dues=dues_of(study, estimate, steps),
        order_parts=ordered_parts(study, estimate),
        floor=floor_price(estimate, shop),
        earned=Cents(half_up(Fraction((steps.price - money_out) * 6000, hours))) if hours else None,
        surety=totals.surety,
        own_parts=any(part.owner == "customer" for part in estimate.parts),
        rush=job.terms.rush,
        bench_fee_paid=job.terms.bench_fee_paid,
        fee_at_cost=many and steps.fee == totals.money.consumables,
        fee_beyond=many and 0 < steps.fee < totals.money.consumables,
        charged=tuple(
            dict.fromkeys(part.what for part in all_parts(study, estimate) if part.owner != "customer")
        ),
        estimate=estimate,
    )


def ordered_pieces(study: Study, estimate: Estimate) -> dict[str, Decimal]:
    """How many pieces of its part must be bought for each upgrade: not the customer's own, none left in stock."""
    there = pieces_from_stock(estimate.parts, study.job.stock)
    return {
        part.upgrade: part.quantity - there[part.upgrade] if part.owner == "shop" else Decimal(0)
        for part in estimate.parts
    }


def ordered_parts(study: Study, estimate: Estimate) -> Cents:
    """The price of the parts that must be ordered, in cents."""
    pieces = ordered_pieces(study, estimate)
    return sum((cents(amount(part.unit_price) * pieces[part.upgrade]) for part in estimate.parts), Cents(0))


def dues_of(study: Study, estimate: Estimate, price: Price) -> Dues:
    """What is due when: the bench fee credited, the deposit, and storage that has run up."""
    terms, days = study.shop.terms, study.job.terms.stored_days
    credit = min(bench_fee(study.job, terms), price.to_pay)
    storage = storage_charge(days, terms)
    tax = storage_with_tax(days, terms) - storage
    left = price.to_pay - credit
    deposit = min(left, deposit_of(ordered_parts(study, estimate), price.labour, terms))
    return Dues(credit, deposit, days, storage, tax, left + storage + tax, study.job.labels.paid)


def bench_fee(job: Job, terms: Terms) -> Cents:
    """The bench fee where the job says that it is paid, in cents; else nothing."""
    return cents(terms.bench_fee) if job.terms.bench_fee_paid else Cents(0)


def deposit_of(ordered: Cents, labour: Cents, terms: Terms) -> Cents:
    """All parts that must be ordered, and a share of the labour above a free amount, rounded up to a step; cents."""
    over = max(Cents(0), labour - cents(terms.deposit_labour_over))
    exact = ordered + cents(amount(over) * terms.deposit_labour_share)
    step = cents(terms.deposit_step)
    return Cents(-(-exact // step) * step) if step else exact


def floor_price(estimate: Estimate, shop: Shop) -> Cents:
    """Mean hours at the rate without the owner's draw, parts at cost and what is used up.

    Below it the shop pays to work. A shop that states its rates outright has its overhead taken.
    """
    totals = estimate.totals
    stated = cents(shop.terms.overhead_per_hour)
    rate = shop_rate(shop).overhead if shop.terms.rate_build_up else stated
    overhead = Cents(half_up(Fraction(totals.expected * rate, 6000)))
    return overhead + totals.money.parts + totals.money.consumables + totals.money.tools


def storage_charge(days: int, terms: Terms) -> Cents:
    """What storage costs after so many days since the customer was told that it is ready, in cents."""
    return cents(max(0, days - terms.storage_free_days) * terms.storage_per_day)


def storage_with_tax(days: int, terms: Terms) -> Cents:
    """What so many days of storage come to on a bill: the charge and its tax, in cents."""
    charge = storage_charge(days, terms)
    return charge + tax_of([TaxLine(charge, terms.tax_labour)])


class ChangeOrder(Struct, frozen=True):
    """A new choice against a quoted one: what comes in, what goes out, the difference. Cents, hundredths."""

    added: tuple[str, ...]
    dropped: tuple[str, ...]
    kept: tuple[str, ...]
    price: Cents
    tax: Cents
    to_pay: Cents
    deposit: Cents
    minutes: Hundredths
    quoted: Quote
    new: Quote


def change_order(quoted: Quote, new: Quote) -> ChangeOrder:
    """Compare a new quote with the one that was agreed; both must be of the same job."""
    before, after = set(quoted.chosen), set(new.chosen)
    return ChangeOrder(
        added=tuple(sorted(after - before)),
        dropped=tuple(sorted(before - after)),
        kept=tuple(sorted(before & after)),
        price=new.price - quoted.price,
        tax=new.tax - quoted.tax,
        to_pay=new.to_pay - quoted.to_pay,
        deposit=new.deposit - quoted.deposit,
        minutes=new.estimate.totals.surety_min - quoted.estimate.totals.surety_min,
        quoted=quoted,
        new=new,
    )

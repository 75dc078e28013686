"""A quote for client work: the price with its steps, what is due when, the terms, the floor under it.

All money in cents. The price itself is ``price.commission``; this adds what stands around it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from estimator.choose.sale_terms import rule
from estimator.errors import InputError, Issue, Origin
from estimator.estimate.money import amount, cents
from estimator.model import Estimate, Shop
from estimator.pipeline import Study, make_estimate
from estimator.price.commission import Price
from estimator.price.exact import half_up
from estimator.price.rate import shop_rate


@dataclass(frozen=True, slots=True)
class Quote:
    """The price of an upgrade set to a customer, step by step (cents; minutes in hundredths).

    ``minimum`` is what the minimum bench charge added, ``batch`` what a batch takes off; ``to_pay`` =
    price + tax - batch; ``credit`` the bench fee already paid, ``due`` what is left of ``to_pay`` after
    it; ``deposit`` is asked before work begins and is part of ``due``. ``floor`` (mean hours without
    the owner's draw, parts and what is used up, at cost) and ``earned`` (cents an hour, all hours counted) are
    for the shop's eyes only.
    """

    chosen: tuple[str, ...]
    steps: Price
    rate: int
    minimum: int
    batch: int
    price: int
    tax: int
    to_pay: int
    credit: int
    due: int
    deposit: int
    order_parts: int
    floor: int
    earned: int | None
    surety: Decimal
    own_parts: bool
    rush: bool
    fee_at_cost: bool
    valid_days: int
    warranty_days: int
    readjust_days: int
    storage_free_days: int
    storage_per_day: int
    estimate: Estimate


def quote_for(
    study: Study, chosen: Collection[str], bench_fee_paid: int | None = None, batch_saved_min: int = 0
) -> Quote:
    """The quote of a commission for a set of upgrades.

    ``bench_fee_paid`` in cents is credited (nought unless given); ``batch_saved_min`` are set-up
    minutes (hundredths) that this instrument saves by coming in a run (see ``saved_setup``).
    InputError for jobs that are not for a customer.
    """
    job, shop = study.job, study.shop
    if job.kind != "commission":
        raise InputError(
            Issue(Origin(job.file, None, "[job] kind"), "only client work is quoted", f"“{job.kind}”",
                  'kind = "commission"', "for an instrument to be sold, look at the offer and the profit instead")
        )  # fmt: skip
    estimate = make_estimate(study, chosen)
    totals, terms = estimate.totals, shop.terms
    steps = study.costing.price(totals.surety_min, totals.money.price_parts, totals.money.consumables)
    rate = cents(Decimal(job.settings.get("charge_per_hour", terms.charge_per_hour)))
    plain = steps.labour + steps.reserve + steps.fee + steps.parts
    batch = batch_discount(batch_saved_min, rate, rule(shop, "batch-share")) if batch_saved_min else 0
    batch = min(batch, steps.price)
    credit = min(bench_fee_paid or 0, steps.to_pay - batch)
    ordered = sum(
        part.price for part in estimate.parts if part.owner == "shop" and not job.stock.get(part.part)
    )
    to_pay = steps.to_pay - batch
    deposit = deposit_of(ordered, steps.labour, shop)
    due = to_pay - credit
    hours = totals.expected + totals.desk
    money_out = totals.money.parts + totals.money.consumables + totals.money.tools
    return Quote(
        chosen=estimate.chosen,
        steps=steps,
        rate=rate,
        minimum=max(0, cents(terms.minimum_charge) - plain),
        batch=batch,
        price=steps.price - batch,
        tax=steps.tax,
        to_pay=to_pay,
        credit=credit,
        due=due,
        deposit=min(deposit, due),
        order_parts=ordered,
        floor=floor_price(estimate, shop),
        earned=half_up(Fraction((steps.price - batch - money_out) * 6000, hours)) if hours else None,
        surety=totals.surety,
        own_parts=any(part.owner == "customer" for part in estimate.parts),
        rush=job.settings.get("rush") == "yes",
        fee_at_cost=amount(totals.money.consumables) > terms.fee_most,
        valid_days=terms.quote_valid_days,
        warranty_days=terms.warranty_days,
        readjust_days=int(rule(shop, "readjust-days")),
        storage_free_days=terms.storage_free_days,
        storage_per_day=cents(rule(shop, "storage-per-day")),
        estimate=estimate,
    )


def bench_fee(shop: Shop) -> int:
    """The fee for a look at the bench, in cents; it is credited when the job is taken."""
    return cents(rule(shop, "bench-fee"))


def deposit_of(special_parts: int, labour: int, shop: Shop) -> int:
    """All parts that must be ordered, and a share of the labour above a free amount; cents."""
    terms = shop.terms
    over = max(0, labour - cents(terms.deposit_labour_over))
    return special_parts + cents(amount(over) * terms.deposit_labour_share)


def floor_price(estimate: Estimate, shop: Shop) -> int:
    """Mean hours at the rate without the owner's draw, parts at cost and what is used up.

    Below it the shop pays to work. A shop that states its rates outright has its overhead taken.
    """
    totals = estimate.totals
    stated = cents(shop.terms.overhead_per_hour)
    rate = shop_rate(shop).overhead if shop.terms.rate_build_up else stated
    overhead = half_up(Fraction(totals.expected * rate, 6000))
    return overhead + totals.money.parts + totals.money.consumables + totals.money.tools


def saved_setup(shop: Shop, estimates: Sequence[Estimate]) -> int:
    """Set-up minutes (hundredths) that a run of instruments saves in all, the first paying in full.

    Each further instrument with the same task pays its repeat share of the set-up only.
    """
    count = Counter(
        task for estimate in estimates for task in dict.fromkeys(line.task for line in estimate.lines)
    )
    saved = sum(
        (
            (number - 1) * shop.tasks[task].setup_min * (1 - shop.tasks[task].repeat_share)
            for task, number in count.items()
        ),
        Decimal(0),
    )
    return int(saved * 100)


def batch_discount(saved_minutes: int, rate: int, share: Decimal) -> int:
    """A share of the saved set-up minutes (hundredths) at the charged rate (cents an hour), in cents."""
    return half_up(Fraction(saved_minutes * rate, 6000) * Fraction(share))


def storage_charge(days: int, shop: Shop) -> int:
    """What storage costs after so many days since the work was done, in cents."""
    free = shop.terms.storage_free_days
    return max(0, days - free) * cents(rule(shop, "storage-per-day"))


@dataclass(frozen=True, slots=True)
class ChangeOrder:
    """A new choice against a quoted one: what comes in, what goes out, the difference. Cents, hundredths."""

    added: tuple[str, ...]
    dropped: tuple[str, ...]
    kept: tuple[str, ...]
    price: int
    tax: int
    to_pay: int
    deposit: int
    minutes: int
    parts_cost: int
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
        parts_cost=new.estimate.totals.money.parts - quoted.estimate.totals.money.parts,
        quoted=quoted,
        new=new,
    )

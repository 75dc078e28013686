"""The money side for the command line: rate, price, offers, plans to sell, spares, tools; text and data."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.kept import change_of
from estimator.core.money import cents, money_text
from estimator.estimate.risk.spare_blanks import Spares
from estimator.estimate.tools.buy_rent_send import ToolWayCost
from estimator.model import Shop
from estimator.price.client.given_price import GivenPrice
from estimator.price.client.hourly_rate import ShopRate
from estimator.price.client.quote import ChangeOrder, Quote
from estimator.price.client.three_offers import CustomerOffer, Offers
from estimator.report.text.terminal import hours, money, put, show_table
from estimator.report.words.tools import got_lines, tools_data

Data = dict[str, object]


def say(sentences: Sequence[str]) -> None:
    """Sentences, one a line."""
    for sentence in sentences:
        put(sentence)


def rate_data(rate: ShopRate) -> Data:
    """The object that ``rate --json`` prints."""
    return {
        "total": f"{rate.total:.2f}",
        "billed_hours": float(rate.billed),
        "break_even": money_text(rate.break_even),
        "overhead": money_text(rate.overhead),
        "with_margin": money_text(rate.with_margin),
        "rounded": money_text(rate.rounded),
        "charged": money_text(rate.charged),
        "charged_covers": rate.charged_covers,
        "charged_leaves_margin": rate.charged_leaves_margin,
    }


def show_offers(offers: Offers, shop: Shop) -> None:
    """Offers side by side: what each holds and what it costs the customer."""
    currency = shop.terms.currency
    show_table(
        "Offers",
        ("offer", "to pay", "hands-on", "upgrades"),
        [
            (
                offer.name,
                money(offer.quote.to_pay, currency),
                hours(offer.choice.estimate.totals.expected),
                ", ".join(offer.chosen) or "nothing: all that is wished is met already",
            )
            for offer in offers.made
        ],
        right=(1, 2),
    )
    say([*offers_words(offers), *got_lines(offers.tools, currency)])


def offers_words(offers: Offers) -> list[str]:
    """What each offer is, and why there are no others."""
    return [
        *(f"{offer.name}: {offer.words}{_short_words(offer)}" for offer in offers.made),
        *(f"No {name} offer: {why}." for name, why in offers.not_made),
    ]


def _short_words(offer: CustomerOffer) -> str:
    """Which other offer this is at once, where it stays below the wish, and which limits it exceeds."""
    missed = [f"{name} {reached / 10:g} of {wished / 10:g}" for name, reached, wished in offer.short]
    missed += offer.given_up
    return (
        (f"; {offer.only_by[0].lower()}{offer.only_by[1:].rstrip('.')}" if offer.only_by else "")
        + (f"; it is at once the offer {' and '.join(offer.also)}" if offer.also else "")
        + (f"; below the wish: {', '.join(missed)}" if missed else "")
        + (f"; over the limit: {', '.join(offer.over)}" if offer.over else "")
    )


def quote_data(quote: Quote, shop: Shop) -> Data:
    """One quote as data; ``floor`` and ``earned_per_hour`` are for the shop only."""
    steps, dues, terms = quote.steps, quote.dues, shop.terms
    return {
        "upgrades": list(quote.chosen),
        "parts_in_price": list(quote.charged),
        "steps": {
            "billed_hours": steps.billed_min / 6000,
            "charge_per_hour": money_text(quote.rate),
            "labour": money_text(steps.labour),
            "warranty_reserve": money_text(steps.reserve + quote.warranty),
            "own_part_fitting": money_text(quote.fitting),
            "batch": money_text(-quote.batch),
            "consumables_fee": money_text(steps.fee),
            "parts": money_text(steps.parts),
            "minimum_adds": money_text(steps.top_up),
            "rush_adds": money_text(steps.rush),
        },
        "price": money_text(quote.price),
        "tax": money_text(quote.tax),
        "to_pay": money_text(quote.to_pay),
        "credit": money_text(dues.credit),
        "storage": money_text(dues.storage),
        "storage_tax": money_text(dues.storage_tax),
        "due": money_text(dues.due),
        "deposit": money_text(quote.deposit),
        "due_on_collection": money_text(dues.on_collection),
        "floor": money_text(quote.floor),
        "price_under_cost": money_text(quote.under_cost),
        "earned_per_hour": None if quote.earned is None else money_text(quote.earned),
        "surety": float(quote.surety),
        "at_mean": quote.estimate.totals.at_mean,
        "valid_days": terms.quote_valid_days,
        "warranty_days": terms.warranty_days,
        "readjust_days": terms.readjust_days,
        "storage_free_days": terms.storage_free_days,
        "storage_per_day": money_text(cents(terms.storage_per_day)),
    }


def offers_data(offers: Offers, shop: Shop) -> Data:
    """Offers as data, and those that are not made, with the reason."""
    return {
        "offers": [
            {
                "offer": o.name,
                "also": list(o.also),
                "words": o.words,
                "below_wish": [
                    {"attribute": name, "reached": reached / 10, "wished": wished / 10}
                    for name, reached, wished in o.short
                ],
                "given_up": list(o.given_up),
                "only_by_changing": [change_of(rule) for rule in o.choice.answer.changed],
                "over_limits": list(o.over),
                "quote": quote_data(o.quote, shop),
            }
            for o in offers.made
        ],
        "not_made": [{"offer": name, "why": why} for name, why in offers.not_made],
        "tools_got": tools_data(offers.tools)["tools_got"],
    }


def change_data(change: ChangeOrder, shop: Shop) -> Data:
    """The object that ``change --json`` prints."""
    return {
        "added": list(change.added),
        "dropped": list(change.dropped),
        "price": money_text(change.price),
        "to_pay": money_text(change.to_pay),
        "deposit": money_text(change.deposit),
        "minutes": change.minutes / 100,
        "quoted": quote_data(change.quoted, shop),
        "new": quote_data(change.new, shop),
    }


def spares_data(spares: Spares) -> Data:
    """The object that ``spares --json`` prints."""
    return {
        "good": spares.good,
        "buy": spares.pieces,
        "spare": spares.spare,
        "surety": float(spares.surety),
        "wanted": float(spares.wanted),
    }


def ways_data(costs: Sequence[ToolWayCost]) -> list[Data]:
    """The object that ``invest --json`` prints."""
    return [
        {
            "way": c.way.id,
            "cash": money_text(c.cash),
            "time": money_text(c.time),
            "cost": money_text(c.cost),
            "tied_up": money_text(c.tied_up),
            "per_job": money_text(c.per_job),
            "cheaper_up_to_jobs": c.cheaper_to,
            "payback_jobs": c.payback,
        }
        for c in costs
    ]


def given_data(found: GivenPrice) -> Data:
    """The object that ``price --given --json`` prints."""
    return {
        "given": money_text(found.given),
        "least_without_work": money_text(found.least),
        "asked": money_text(found.asked),
        "pays_for_minutes": None if found.paid_minutes is None else found.paid_minutes / 100,
        "mean_minutes": found.quoted_mean / 100,
        "surety": round(found.surety, 2),
        "surety_with_hidden_faults": round(found.with_faults, 2),
    }

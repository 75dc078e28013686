"""A quote in plain sentences: its steps for the shop, its terms as a customer reads them, change orders."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.core.money import cents, money_text, percent
from estimator.core.text import count
from estimator.estimate.tax import CAUTION
from estimator.model import Shop, Terms
from estimator.price.client.given_price import GivenPrice
from estimator.price.client.quote import ChangeOrder, Dues, Quote
from estimator.price.client.under_cost import under_cost_words
from estimator.report.words.money import money

FIXED_PRICE = "If it takes us longer, you pay no more."
SURPRISES = (
    "If we find a fault nobody could see, we stop, tell you in writing what it would cost, "
    "and go on only when you say so."
)
"""What a customer reads of a quoted price, wherever he does."""


def quote_sentences(quote: Quote, shop: Shop) -> list[str]:
    """The price of client work as it is built up (for the shop)."""
    steps = quote.steps
    besides = f", and {money(quote.warranty, shop)} for fret and finish work" if quote.warranty else ""
    held = f"enough in {quote.surety.normalize():f} of 100 such jobs"
    if quote.estimate.totals.at_mean:
        held = "what such jobs take on average"
    elif quote.estimate.totals.between:
        held = f"between what such jobs take on average and what is {held}"
    many = " fee"
    if quote.fee_at_cost:
        many = ", at cost because they are many"
    elif quote.fee_beyond:
        many = ", what is beyond the fee that a small job does not bear"
    again = "" if shop.terms.faults_priced else "; hidden faults are quoted again when found"
    lines = [
        f"{steps.billed_min / 6000:.2f} h billed at {money(quote.rate, shop)} ({held}{again}): "
        f"{money(steps.labour, shop)}",
        f"reserve for warranty work: {money(steps.reserve, shop)}{besides}",
        f"consumables{many}: {money(steps.fee, shop)}{'' if steps.fee else ' (in the rate of a small job)'}",
        f"parts with mark-up: {money(steps.parts, shop)}",
    ]
    terms, dues = shop.terms, quote.dues
    if quote.fitting:
        more = percent(terms.own_part_labour - 1, 0)
        lines.append(f"fitting the customer's own parts, {more} on the labour: {money(quote.fitting, shop)}")
    if quote.batch:
        share = percent(terms.batch_share, 0)
        lines.append(f"less {share} of the set-up time that the batch saves: -{money(quote.batch, shop)}")
    if steps.top_up:
        lines.append(f"minimum bench charge adds {money(steps.top_up, shop)}")
    if quote.rush:
        lines.append(f"rush adds {money(steps.rush, shop)}")
    lines.append(
        f"price {money(quote.price, shop)}, tax {money(quote.tax, shop)}, to pay {money(quote.to_pay, shop)}"
    )
    if dues.credit:
        lines.append(f"bench fee already paid: -{money(dues.credit, shop)}")
    if dues.stored_days:
        lines.append(storage_sentence(dues, shop))
    if dues.due != quote.to_pay:
        lines.append(f"left to pay: {money(dues.due, shop)}")
    lines.append(
        f"deposit before work begins: {money(quote.deposit, shop)} (of it ordered parts {money(quote.order_parts, shop)})"
    )
    if not (terms.tax_parts or terms.tax_labour):
        lines.append(CAUTION)
    lines.append(f"shop only: floor {money(quote.floor, shop)}; never quote it")
    if quote.under_cost:
        lines.append(
            f"shop only: {under_cost_words(quote.price, quote.estimate.totals.cost, shop.terms.currency)}"
        )
    if quote.earned is not None:
        lines.append(
            f"shop only: it pays {money(quote.earned, shop)} an hour, unbilled desk time counted, before overhead"
        )
    return lines


def storage_sentence(dues: Dues, shop: Shop) -> str:
    """What storage has come to."""
    free = shop.terms.storage_free_days
    if not dues.storage:
        return f"stored for {count(dues.stored_days, 'day')}, of which {free} are free: nothing to pay for storage"
    tax = f", tax {money(dues.storage_tax, shop)}" if dues.storage_tax else ""
    day = money(cents(shop.terms.storage_per_day), shop)
    return (
        f"stored for {count(dues.stored_days, 'day')}, of which {free} are free, at {day} a day: "
        f"{money(dues.storage, shop)}{tax}"
    )


def shop_lines(terms: Terms) -> tuple[str, ...]:
    """How to reach the shop, when it is open, its tax number."""
    contact = " · ".join(t for t in (terms.shop_address, terms.shop_phone, terms.shop_email) if t)
    more = [
        terms.opening_hours and f"open {terms.opening_hours}",
        terms.tax_number and f"tax number {terms.tax_number}",
    ]
    return tuple(line for line in (contact, " · ".join(t for t in more if t)) if line)


def warranty_words(terms: Terms) -> str:
    """Warranty on the work and free re-adjustment, as a customer reads it; blank where there is neither."""
    said = []
    if terms.warranty_days:
        said.append(f"{count(terms.warranty_days, 'day')} on our work.")
    if terms.readjust_days:
        said.append(f"A first re-adjustment within {count(terms.readjust_days, 'day')} is free.")
    return " ".join(said)


def storage_a_day(terms: Terms) -> str:
    """What a day of storage beyond the free ones costs, as a customer reads it: its tax comes on top."""
    taxed = " and its tax" if terms.tax_labour else ""
    return f"{money_text(cents(terms.storage_per_day))} {terms.currency}{taxed} a day"


def storage_words(terms: Terms) -> str:
    """The terms of storage, as a customer reads them."""
    said = f"Storage is free for {count(terms.storage_free_days, 'day')} after we tell you that it is ready"
    if terms.storage_per_day:
        said += f", then {storage_a_day(terms)}"
    if terms.lien_days:
        said += f"; after {count(terms.lien_days, 'day')} the local law on unclaimed goods holds"
    return said + "."


def bench_fee_words(terms: Terms, paid: bool) -> str:
    """What a look at the bench costs and when it is taken off; blank where the shop asks nothing for it."""
    if not terms.bench_fee:
        return ""
    fee = f"{money_text(cents(terms.bench_fee))} {terms.currency}"
    if paid:
        return f"The {fee} that you paid for the look at the bench are taken off."
    return f"A look at the bench costs {fee}; it is not charged when the work is done."


def terms_sentences(quote: Quote, shop: Shop) -> list[str]:
    """What the customer agrees to: validity, warranty, storage, changes, what is not in the price."""
    terms = shop.terms
    lines = [
        f"This quote holds for {count(terms.quote_valid_days, 'day')}.",
        *(
            f"{head}: {said}"
            for head, said in (
                ("Warranty", warranty_words(terms)),
                ("Collection", storage_words(terms)),
                ("Bench fee", bench_fee_words(terms, quote.bench_fee_paid)),
            )
            if said
        ),
        "Changes are written down and agreed before the work is done.",
        "Not in the price: faults that show only once the instrument is apart; we ask before we mend them.",
        *_parts_sentences(quote.charged),
        "Not under warranty: wear, knocks, weather, and work that others do afterwards.",
    ]
    if quote.own_parts:
        lines.append(
            "Parts you bring are fitted after a check that they fit; they themselves have no warranty from us."
        )
    return lines


def _parts_sentences(charged: Sequence[str]) -> list[str]:
    """What of parts and strings is in the price, by name, and that nothing else is."""
    if not charged:
        return ["Not in the price: strings, cases and other parts, and shipping."]
    return [
        f"In the price besides the work: {'; '.join(charged)}.",
        "Not in the price: parts that are not named here, and shipping.",
    ]


def change_sentences(change: ChangeOrder, shop: Shop) -> list[str]:
    """A change order in words."""
    lines = []
    if change.added:
        lines.append("comes in: " + ", ".join(change.added))
    if change.dropped:
        lines.append("goes out: " + ", ".join(change.dropped))
    if not lines:
        return [
            "nothing changes: the same upgrades, and the price of both is that of the job file as it is now; after a new "
            "measurement estimator ledger quote JOB tells the new price beside the agreed one"
        ]
    word = "more" if change.to_pay >= 0 else "less"
    lines.append(
        f"to pay {money(change.new.to_pay, shop)} instead of {money(change.quoted.to_pay, shop)}: "
        f"{money(abs(change.to_pay), shop)} {word}"
    )
    lines.append("write it down and have it agreed before the work is done")
    return lines


def given_sentences(found: GivenPrice, shop: Shop) -> list[str]:
    """How sure a price is that someone named, tax included; the answer first."""
    named = money(found.given, shop)
    asked = f"the shop would ask {money(found.asked, shop)}"
    if found.paid_minutes is None:
        return [
            f"{named} pays for no work at all: parts and what is due without any hours come to "
            f"{money(found.least, shop)}; {asked}"
        ]
    lines = [
        f"{named} to pay: {in_a_hundred(found.surety)} such jobs stay within the {found.paid_minutes / 6000:.2f} h that "
        f"it pays for; they take {found.quoted_mean / 6000:.2f} h on average, and {asked}"
    ]
    if found.faults_apart:
        lines.append(
            "hidden faults are quoted again when found; were they to be borne too, "
            f"{in_a_hundred(found.with_faults)} would stay within it"
        )
    return lines


def in_a_hundred(percent_within: float) -> str:
    """A share as so many of a hundred, never rounded to certain or to never."""
    if 0 < percent_within < 0.5:
        return "fewer than 1 of 100"
    if 99.5 <= percent_within < 100:
        return "more than 99 of 100"
    return f"{percent_within:.0f} of 100"

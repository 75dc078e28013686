"""Offers for the command line."""

from __future__ import annotations

from estimator.core.text import mid_sentence
from estimator.model import Shop
from estimator.price.client.three_offers import CustomerOffer, Offers
from estimator.report.record import table_of
from estimator.report.records.price import OfferTold
from estimator.report.text.choice import worth_lines
from estimator.report.text.terminal import put, show_table
from estimator.report.words.tools import got_lines


def show_offers(offers: Offers, shop: Shop) -> None:
    """Offers side by side: what each holds and what it costs the customer."""
    currency, study = shop.terms.currency, offers.wished.study
    show_table("Offers", *table_of(OfferTold, [(made, study) for made in offers.made], currency))
    prices = {made.name: made.quote.estimate.totals.to_pay for made in offers.made}
    put(*offers_words(offers), *worth_lines(study, prices), *got_lines(offers.tools, currency))


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
        (f"; {mid_sentence(offer.only_by).rstrip('.')}" if offer.only_by else "")
        + (f"; it is at once the offer {' and '.join(offer.also)}" if offer.also else "")
        + (f"; below the wish: {', '.join(missed)}" if missed else "")
        + (f"; over the limit: {', '.join(offer.over)}" if offer.over else "")
    )

"""Whether work costs a customer more than the instrument would bring: no reason against it, but he should hear it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.money import cents, money_text
from estimator.model import Job, Shop


class Brings(Struct, frozen=True):
    """What an instrument brings clean and working, in cents, less than the work on it costs.

    ``exactly``: whether somebody looked it up; else it is the high end of its price class. ``by``: whence it is known.
    """

    cents: Cents
    exactly: bool
    by: str


def brings_less(shop: Shop, job: Job, to_pay: Cents) -> Brings | None:
    """What the instrument brings, where the price of work, with its tax, lies above it.

    None too where nobody looked at what it brings, where the job names its worth (the choice is held to that), and
    where the instrument is not a customer's. Of a price class the high end counts (``resale_tiers.csv``).
    """
    brings = _brings(shop, job)
    if brings is None or job.budget.worth is not None or not job.for_customer:
        return None
    return brings if to_pay > brings.cents else None


def beyond_worth_words(shop: Shop, job: Job, to_pay: Cents) -> str:
    """That a price lies above what the instrument would bring clean and working, in one sentence; else blank."""
    return offers_beyond_worth_words(shop, job, {"": to_pay})


def offers_beyond_worth_words(shop: Shop, job: Job, offers: Mapping[str, Cents]) -> str:
    """The same of several offers by their names, of which those above it are named; blank where none is."""
    beyond = {name: brings for name, of in offers.items() if (brings := brings_less(shop, job, of))}
    if not beyond:
        return ""
    brings, currency = next(iter(beyond.values())), shop.terms.currency
    sums = (f"{money_text(offers[name])} {currency}{name and f' ({name})'}" for name in beyond)
    return (
        f"such an instrument brings {'about' if brings.exactly else 'up to'} {money_text(brings.cents)} {currency}, "
        f"clean and working ({brings.by}); the work comes to {' or '.join(sums)}: say so before the yes"
    )


def _brings(shop: Shop, job: Job) -> Brings | None:
    clean, tier = job.instrument.get("base_clean"), job.instrument.get("tier")
    if clean is not None and not clean.assumed and isinstance(clean.value, Decimal):
        return Brings(cents(clean.value), True, "base_clean as looked up")
    if tier is not None and not tier.assumed and (row := shop.resale.tiers.get(str(tier.value))):
        return Brings(cents(row.base_high), False, f"price class {row.id}, a rough figure")
    return None

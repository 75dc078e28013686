"""Whether work costs a customer more than the instrument would bring: no reason against it, but he should hear it."""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.money import cents, money_text
from estimator.model import Job, Shop, Totals


class Brings(Struct, frozen=True):
    """What an instrument brings clean and working, in cents, less than the work on it costs.

    ``exactly``: whether somebody looked it up; else it is the high end of its price class. ``by``: whence it is known.
    """

    cents: Cents
    exactly: bool
    by: str


def brings_less(shop: Shop, job: Job, totals: Totals) -> Brings | None:
    """What the instrument brings, where the price of work lies above it.

    None too where nobody looked at what it brings, where the job names its worth (the choice is held to that), and
    where the instrument is not a customer's. Of a price class the high end counts (``resale_tiers.csv``).
    """
    brings = _brings(shop, job)
    if brings is None or job.budget.worth is not None or not job.for_customer:
        return None
    return brings if totals.to_pay > brings.cents else None


def beyond_worth_words(shop: Shop, job: Job, totals: Totals) -> str:
    """That a price lies above what the instrument would bring clean and working, in one sentence; else blank."""
    brings = brings_less(shop, job, totals)
    if brings is None:
        return ""
    currency, about = shop.terms.currency, "about" if brings.exactly else "up to"
    return (
        f"such an instrument brings {about} {money_text(brings.cents)} {currency}, clean and working ({brings.by}); "
        f"the work comes to {money_text(totals.to_pay)} {currency}: say so before the yes"
    )


def _brings(shop: Shop, job: Job) -> Brings | None:
    clean, tier = job.instrument.get("base_clean"), job.instrument.get("tier")
    if clean is not None and not clean.assumed and isinstance(clean.value, Decimal):
        return Brings(cents(clean.value), True, "base_clean as looked up")
    if tier is not None and not tier.assumed and (row := shop.resale.tiers.get(str(tier.value))):
        return Brings(cents(row.base_high), False, f"price class {row.id}, a rough figure")
    return None

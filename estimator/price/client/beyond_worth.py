"""Whether work costs a customer more than the instrument would bring: no reason against it, but he should hear it."""

from __future__ import annotations

from decimal import Decimal

from estimator.core.amounts import Cents
from estimator.core.money import cents, money_text
from estimator.model import Job, Shop, Totals


def beyond_worth_words(shop: Shop, job: Job, totals: Totals) -> str:
    """That a price lies above what the instrument would bring clean and working, in one sentence; else blank.

    Blank too where nobody looked at what it brings, where the job names its worth (the choice is held to that), and
    where the instrument is not a customer's. Of a price class the high end counts (``resale_tiers.csv``).
    """
    brings = _brings(shop, job)
    if brings is None or job.budget.worth is not None or not job.for_customer or totals.to_pay <= brings[0]:
        return ""
    most, by = brings
    currency = shop.terms.currency
    return (
        f"such an instrument brings {by[0]} {money_text(most)} {currency}, clean and working ({by[1]}); "
        f"the work comes to {money_text(totals.to_pay)} {currency}: say so before the yes"
    )


def _brings(shop: Shop, job: Job) -> tuple[Cents, tuple[str, str]] | None:
    clean, tier = job.instrument.get("base_clean"), job.instrument.get("tier")
    if clean is not None and not clean.assumed and isinstance(clean.value, Decimal):
        return cents(clean.value), ("about", "base_clean as looked up")
    if tier is not None and not tier.assumed and (row := shop.resale.tiers.get(str(tier.value))):
        return cents(row.base_high), ("up to", f"price class {row.id}, a rough figure")
    return None

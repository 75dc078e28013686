"""Whether what a customer pays covers what the work costs."""

from __future__ import annotations

from estimator.core.amounts import Cents
from estimator.core.money import money_text
from estimator.model import Job, Totals


def under_cost(job: Job, totals: Totals) -> Cents:
    """Cents by which a customer's price before tax lies under the cost of the work; 0 where it does not."""
    return max(Cents(0), totals.cost - totals.price) if job.kind == "commission" else Cents(0)


def under_cost_words(price: Cents, cost: Cents, currency: str) -> str:
    """What a price under cost means, in one sentence; an empty text where it covers the cost."""
    if price >= cost:
        return ""
    return (
        f"the price before tax, {money_text(price)} {currency}, lies {money_text(cost - price)} {currency} under the cost "
        f"of {money_text(cost)} {currency}: raise the charge by the hour, the mark-up or the least charge, or do it "
        "knowing what it loses"
    )

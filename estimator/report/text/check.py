"""That the tables of a shop, and a job file, are in order: nothing else is loaded to say so."""

from __future__ import annotations

from decimal import Decimal

from estimator.core.text import count
from estimator.model import Job, Shop
from estimator.report.text.terminal import put


def show_check(shop: Shop, job: Job | None) -> None:
    """That all is in order, and how much of the job nobody measured."""
    put(
        f"The shop's tables are in order: {count(len(shop.upgrades), 'upgrade')}, {count(len(shop.parts), 'part')}."
    )
    if job is not None:
        assumed = sum(1 for reading in job.instrument.values() if reading.assumed)
        put(
            f"The job file {job.id} is in order: {count(len(job.instrument) - assumed, 'value')} measured, {assumed} assumed "
            "(measure says which to take first)."
        )


def show_check_in_full(shop: Shop, job: Job | None, doubted: int, adds: tuple[Decimal, Decimal]) -> None:
    """What was read, and that it is in order.

    ``doubted``: known jobs outside what the trade expects; ``adds``: minutes that a customer's job adds to them.
    """
    put(
        f"shop: {count(len(shop.tasks), 'task')}, {len(shop.consumables)} consumables, {len(shop.tools)} tools, "
        f"{count(len(shop.parts), 'part')}, {count(len(shop.upgrades), 'upgrade')}, {count(len(shop.attributes), 'attribute')}: in order"
    )
    known = len(shop.known_jobs)
    if known:
        put(
            f"known jobs: {known - doubted} of {known} within what the trade expects, by their mean minutes; "
            f"a customer's job adds {adds[0]:.0f} min at the bench and {adds[1]:.0f} min at the desk (not billed)"
        )
    if job is None:
        return
    assumed = [name for name, reading in job.instrument.items() if reading.assumed]
    put(
        f"job {job.id}: {len(job.instrument) - len(assumed)} measured values, {len(assumed)} assumed, "
        f"{len(job.requirements)} requirements: in order"
    )

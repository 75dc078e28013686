"""The money answers in plain sentences, for the bench: no arithmetic beyond what a reader could redo."""

from __future__ import annotations

from estimator.core.amounts import Cents
from estimator.core.money import percent
from estimator.core.text import count
from estimator.core.text import money as as_text
from estimator.estimate.risk.spare_blanks import Spares
from estimator.estimate.tools.buy_rent_send import ToolWayCost
from estimator.model import Shop
from estimator.price.client.hourly_rate import STEP, ShopRate, rate_by_share
from estimator.price.donor.rank import OfferList


def money(value: Cents, shop: Shop) -> str:
    """An amount with the shop's currency."""
    return as_text(value, shop.terms.currency)


def rate_sentences(rate: ShopRate, shop: Shop) -> list[str]:
    """How the hourly rate comes about, line by line."""
    lines = [f"{line.what}: {line.amount:,.2f} a year" for line in rate.lines]
    lines.append(f"all together {rate.total:,.2f} a year")
    lines.append(
        f"{rate.weeks.normalize():f} weeks x {rate.hours_per_week.normalize():f} h = {rate.hours.normalize():f} h in "
        f"the shop, of which {percent(rate.billable_share, 0)} are billed: {rate.billed:.1f} h"
    )
    lines.append(
        f"{rate.total:,.2f} / {rate.billed:.1f} h = {money(rate.break_even, shop)} an hour to break even"
    )
    if rate.margin:
        lines.append(
            f"with a margin of {percent(rate.margin, 0)} of the price: {money(rate.with_margin, shop)}"
        )
    lines.append(f"rounded up to a whole {STEP:f}: {money(rate.rounded, shop)} an hour")
    if rate.charged and rate.charged_covers and not rate.charged_leaves_margin:
        short = money(rate.with_margin - rate.charged, shop)
        lines.append(
            f"you charge {money(rate.charged, shop)}: it covers what an hour costs, but is {short} short of the margin"
        )
    elif rate.charged and rate.charged_covers:
        lines.append(f"you charge {money(rate.charged, shop)}: it covers what an hour costs")
    elif rate.charged:
        short = money(rate.break_even - rate.charged, shop)
        lines.append(f"you charge {money(rate.charged, shop)}: every billed hour falls {short} short")
    lines.append(
        f"without your own draw it is {money(rate.overhead, shop)} an hour: below that you pay for working"
    )
    for row in rate_by_share(rate):
        lines.append(
            f"were {percent(row.billable_share, 0)} billed: {money(row.break_even, shop)}, charged {money(row.rounded, shop)}"
        )
    return lines


def list_sentences(found: OfferList) -> list[str]:
    """What came of many listings, and what was left out."""
    lines = [
        f"{len(found.offers)} of {count(found.rows, 'listing')} looked at, {found.to_buy} may be bought at their price"
    ]
    if not found.to_buy:
        lines.append("buy none of them at these prices")
    if rows := found.left_out:
        lines.append(
            f"{rows} {'row was' if rows == 1 else 'rows were'} left out because of errors, listed above"
        )
    return lines


def spares_sentences(spares: Spares) -> list[str]:
    """How many to buy, with the odds at each count."""
    lines = [
        f"for {spares.good} good pieces, each spoiled with odds of {percent(spares.failure)}: start with {spares.pieces} "
        f"(enough in {percent(spares.surety)}; wanted {percent(spares.wanted)})"
    ]
    lines += [f"  {count(row.pieces, 'piece')}: enough in {percent(row.surety)}" for row in spares.rows]
    return lines


def investment_sentences(costs: tuple[ToolWayCost, ...], jobs: int, shop: Shop) -> list[str]:
    """The ways to get a kind of job done, cheapest first."""
    lines = []
    for item in costs:
        tied = f" ({money(item.tied_up, shop)} of it not worn off)" if item.tied_up else ""
        wait = f", {count(item.way.wait_days, 'day')} away" if item.way.wait_days else ""
        lines.append(
            f"{item.way.what}: {money(item.cost, shop)} over {jobs} {'job' if jobs == 1 else 'jobs'}, "
            f"{money(item.per_job, shop)} each, cash {money(item.cash, shop)}{tied}{wait}{_against(item)}"
        )
    return lines


def _against(item: ToolWayCost) -> str:
    """How a way stands against the one that all are held against: the inexpensive tool, bought."""
    if item.cheaper_to >= item.looked_at:
        return f"; cheaper than the inexpensive tool at any number of jobs up to {item.looked_at}"
    if item.cheaper_to:
        return f"; cheaper than the inexpensive tool up to job {item.cheaper_to}"
    if item.payback is not None:
        return f"; pays back against the inexpensive tool from job {item.payback} on"
    return ""

"""The money answers in plain sentences, for the bench: no arithmetic beyond what a reader could redo."""

from __future__ import annotations

from estimator.estimate.money import money_text
from estimator.model import Shop
from estimator.price.exact import percent
from estimator.price.investment import WayCost
from estimator.price.offer import Offer
from estimator.price.offer_list import OfferList
from estimator.price.rate import ShopRate, rate_by_share
from estimator.price.resale import Plan, Proceeds
from estimator.price.spares import Spares

#: said with every offer and quote: the program knows arithmetic, not law
NO_ADVICE = (
    "Dealers' licences, tax on regular resale, warranty, lien and abandoned-property rules are local: ask an "
    "accountant and the local authority."
)


def money(value: int, shop: Shop) -> str:
    """An amount with the shop's currency."""
    return f"{money_text(value)} {shop.terms.currency}"


def hours(minutes: int) -> str:
    """Hundredths of a minute as hours to one place."""
    return f"{minutes / 6000:.1f} h"


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
    lines.append(f"rounded up to a whole {rate.step.normalize():f}: {money(rate.rounded, shop)} an hour")
    if rate.charged and rate.charged_covers:
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


def proceeds_sentences(p: Proceeds, shop: Shop) -> list[str]:
    """A sale with its working."""
    base = " (the middle of its class; look for three recent sales)" if p.base_assumed else ""
    lines = [f"clean and working such instruments bring {money(p.base, shop)} here{base}"]
    if p.condition_now == p.condition_sold:
        lines.append(f"sold as {p.condition_sold.replace('-', ' ')}: {money(p.standing, shop)}")
    else:
        now, then = p.condition_now.replace("-", " "), p.condition_sold.replace("-", " ")
        lines.append(f"now: {now}; after the work: {then}, {money(p.standing, shop)}")
    for item in p.uplifts:
        if item.counts == item.full:
            lines.append(f"{item.what}: + {money(item.counts, shop)}")
        else:
            lines.append(
                f"{item.what}: + {money(item.counts, shop)} ({money(item.full, shop)} if it stood alone)"
            )
    lines += [f"{what}: - {money(value, shop)}" for what, value in p.losses]
    if p.capped:
        lines.append(f"no work lifts this class above {money(p.ceiling, shop)}")
    low, high = max(0, p.price - p.spread), p.price + p.spread
    lines.append(
        f"likely price {money(p.price, shop)} (two in three between {money(low, shop)} and {money(high, shop)})"
    )
    lines.append(f"{p.way_what}: fees {money(p.fees + p.fixed, shop)}, about {p.days:.0f} days")
    lines += [
        f"{what}: + {money(value, shop)}, {minutes / 100:.0f} min to sell"
        for what, value, minutes in p.removed
    ]
    lines.append(f"parts, wear and rework cost {money(p.money_out, shop)}")
    lines.append(f"time {hours(p.minutes)}, of it {hours(p.hands_on)} at the bench and with camera and box")
    lines.append(
        f"left at {money(p.pay, shop)} an hour, before the price of the instrument: {money(p.profit, shop)}"
    )
    if p.paid and p.earned is not None:
        lines.append(f"bought for {money(p.paid, shop)} it earns {money(p.earned, shop)} an hour")
    return lines


def plan_sentences(plans: tuple[Plan, ...], shop: Shop) -> list[str]:
    """The plans side by side."""
    lines = []
    for plan in plans:
        p = plan.proceeds
        earned = "" if p.earned is None else f", {money(p.earned, shop)} an hour"
        lines.append(
            f"{plan.words}: sells for {money(p.price, shop)}, {hours(p.minutes)}, leaves {money(p.surplus, shop)}{earned}"
        )
    return lines


def offer_sentences(offer: Offer, shop: Shop) -> list[str]:
    """The answer first: the most to pay, or plainly not to buy; then what it rests on."""
    plan, lines = offer.plan, []
    if offer.stop <= 0:
        lines.append(
            f"Do not buy: at {money(offer.pay, shop)} an hour it is worth nothing to you, not even for free "
            f"({money(offer.most, shop)})."
        )
    elif offer.ask and offer.ask > offer.stop:
        lines.append(f"Do not buy at {money(offer.ask, shop)}: the most to pay is {money(offer.stop, shop)}.")
    elif offer.ask:
        lines.append(f"Buy: {money(offer.ask, shop)} is asked, the most to pay is {money(offer.stop, shop)}.")
    else:
        lines.append(f"The most to pay is {money(offer.stop, shop)}.")
    if offer.limit is not None and offer.limit < offer.most:
        lines.append(
            f"(by the sum alone {money(offer.most, shop)}; a rule of thumb stops at {money(offer.limit, shop)})"
        )
    if offer.pay_at_ask is not None and offer.ask > offer.stop:
        lines.append(f"At {money(offer.ask, shop)} it would pay {money(offer.pay_at_ask, shop)} an hour.")
    if not offer.papers:
        lines.append("No papers are told of: without the seller's name and a receipt do not buy.")
    lines.append(
        f"{offer.seen.what}: bad in {offer.odds_bad * 100} of 100; a bad one still brings {money(offer.salvage, shop)} and "
        f"costs {hours(offer.lost_minutes)}"
    )
    lines.append(
        f"(1 - {float(offer.odds_bad):.2f}) x {money(plan.profit, shop)} + {float(offer.odds_bad):.2f} x "
        f"({money(offer.salvage, shop)} - {hours(offer.lost_minutes)} at {money(offer.pay, shop)}) = {money(offer.most, shop)}"
    )
    work = ", ".join(plan.chosen) or "nothing but cleaning"
    lines.append(f"the plan: {work}; sell it: {plan.way_what}")
    if offer.odds is not None:
        odds = offer.odds
        lines.append(
            f"paid {money(odds.paid, shop)}: money is lost in {odds.loss:.0%} of such deals, the wanted pay is missed in "
            f"{odds.below_pay:.0%}; one in ten earns less than {money(odds.earned[0], shop)} an hour, one in ten more "
            f"than {money(odds.earned[2], shop)}"
        )
    told = [move for move in offer.checks if move.moves > 0][:5]
    if told:
        lines.append("what to look at first, by how far it moves the offer:")
    for move in told:
        bad = (
            f"walk away: {move.check.walk_away_if}"
            if move.after_bad is None or not move.check.lower_for
            else (f"{move.check.lower_for}: {money(move.after_bad, shop)}")
        )
        lines.append(f"  {move.check.what}: good {money(move.after_good, shop)}; {bad}")
    lines.append(NO_ADVICE)
    return lines


def list_sentences(found: OfferList, shop: Shop, most: int = 10) -> list[str]:
    """The best of many listings, and what was left out."""
    lines = [
        f"{len(found.offers)} of {found.rows} listings looked at, {found.to_buy} may be bought at their price"
    ]
    for offer in found.offers[:most]:
        if offer.buy:
            lines.append(
                f"row {offer.row} {offer.id}: asked {money(offer.ask, shop)}, most {money(offer.stop, shop)}, sells for "
                f"{money(offer.price, shop)}"
            )
    if not found.to_buy:
        lines.append("buy none of them at these prices")
    if found.issues:
        rows = len({issue.where.row for issue in found.issues})
        lines.append(f"{rows} rows were left out because of errors, listed above")
    return lines


def spares_sentences(spares: Spares, what: str = "pieces") -> list[str]:
    """How many to buy, with the odds at each count."""
    lines = [
        f"for {spares.good} good {what}, each spoiled with odds of {percent(spares.failure)}: start with {spares.pieces} "
        f"(enough in {percent(spares.surety)}; wanted {percent(spares.wanted)})"
    ]
    lines += [f"  {row.pieces} {what}: enough in {percent(row.surety)}" for row in spares.rows]
    return lines


def investment_sentences(costs: tuple[WayCost, ...], jobs: int, shop: Shop) -> list[str]:
    """The ways to get a kind of job done, cheapest first."""
    lines = []
    for item in costs:
        pays = "" if item.payback is None else f"; pays back from job {item.payback} on"
        wait = f", {item.way.wait_days} days away" if item.way.wait_days else ""
        lines.append(
            f"{item.way.what}: {money(item.cost, shop)} over {jobs} jobs, {money(item.per_job, shop)} each, cash "
            f"{money(item.cash, shop)}{wait}{pays}"
        )
    return lines

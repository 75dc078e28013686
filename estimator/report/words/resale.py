"""Sales and offers in plain sentences, the verdict first; no arithmetic beyond what a reader could redo."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.milp.earning import NONE_EARNS
from estimator.core.amounts import Cents
from estimator.core.text import time_text
from estimator.model import Job, Shop
from estimator.price.donor.offer import CheckMove, DonorOffer
from estimator.price.resale.asking_price import Asking
from estimator.price.resale.compare import Box, Proceeds, SalePlan
from estimator.price.resale.part_out import PartOut
from estimator.report.words.money import money

#: said with every offer and quote: the program knows arithmetic, not law
NO_ADVICE = (
    "Dealers' licences, tax on regular resale, warranty, lien and abandoned-property rules are local: ask an "
    "accountant and the local authority."
)


def proceeds_sentences(p: Proceeds, shop: Shop) -> list[str]:
    """A sale with its working."""
    base = " (the middle of its class; look for three recent sales)" if p.base_assumed else ""
    lines = [f"clean and working such instruments bring {money(p.base, shop)} here{base}"]
    if not p.whole:
        return [*lines, *_parted_sentences(p, shop)]
    if p.condition_now == p.condition_sold:
        lines.append(
            f"sold in the condition “{p.condition_sold.replace('-', ' ')}”: {money(p.standing, shop)}"
        )
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
    low, high = max(Cents(0), p.price - p.spread), p.price + p.spread
    lines.append(
        f"likely price {money(p.price, shop)} (two in three between {money(low, shop)} and {money(high, shop)})"
    )
    besides = f", box, freight and fetching {money(p.fixed, shop)}" if p.fixed else ""
    lines.append(f"{p.way_what}: fees {money(p.fees, shop)}{besides}, about {days_words(p.days)}")
    lines += [
        f"{what}: + {money(value, shop)}, {minutes / 100:.0f} min to sell"
        for what, value, minutes in p.removed
    ]
    lines.append(f"parts, wear and rework cost {money(p.money_out, shop)}")
    lines.append(
        f"time {time_text(p.minutes)}, of it {time_text(p.hands_on)} at the bench and with camera and box"
    )
    return [*lines, *_left_sentences(p, shop)]


def _parted_sentences(p: Proceeds, shop: Shop) -> list[str]:
    """What is left of an instrument that is taken apart."""
    now = p.condition_now.replace("-", " ")
    lines = [
        f"as it stands: {now}; its lots together bring {money(p.price, shop)} (two in three between "
        f"{money(max(Cents(0), p.price - p.spread), shop)} and {money(p.price + p.spread, shop)}), about {days_words(p.days)}"
    ]
    if p.fixed:
        lines.append(f"fetching it costs {money(p.fixed, shop)}")
    lines.append(f"time {time_text(p.minutes)}: finding and fetching it, taking it apart, selling the lots")
    return [*lines, *_left_sentences(p, shop)]


def _left_sentences(p: Proceeds, shop: Shop) -> list[str]:
    lines = [
        f"left at {money(p.pay, shop)} an hour, before the price of the instrument: {money(p.profit, shop)}"
    ]
    if p.paid and p.earned is not None:
        lines.append(f"bought for {money(p.paid, shop)} it earns {money(p.earned, shop)} an hour")
    return lines


def sale_verdict(plan: SalePlan, shop: Shop, others: Sequence[Proceeds] = ()) -> str:
    """Whether the most profitable plan pays the time at the wanted pay, told before anything else.

    ``others``: every other plan and way that was compared; who has the instrument already wants the most cash.
    """
    p = plan.proceeds
    bought = f" when {money(p.paid, shop)} is paid for the instrument" if p.paid else ""
    earned = "" if p.earned is None else f"; it earns {money(p.earned, shop)} an hour"
    if p.surplus >= 0:
        return f"Worth it{bought}: {plan.words} leaves {money(p.surplus, shop)} over {money(p.pay, shop)} an hour{earned}."
    if p.cash_left < 0:
        most = max((p, *others), key=lambda one: one.cash_left)
        if most.cash_left < 0:
            words = plan.words if most is p else plan_words(most)
            return (
                f"Do not do it{bought}: even the best plan ({words}) loses {money(-most.cash_left, shop)} in cash, "
                "your time not counted."
            )
        return (
            f"It does not pay {money(p.pay, shop)} an hour{bought}: the plan that falls least short ({plan.words}) "
            f"loses {money(-p.cash_left, shop)} in cash, your time not counted; the most in cash, "
            f"{money(most.cash_left, shop)} for {time_text(most.minutes)}, is left by: {plan_words(most)}."
        )
    return (
        f"It does not pay {money(p.pay, shop)} an hour{bought}: the best plan ({plan.words}) falls "
        f"{money(-p.surplus, shop)} short{earned}."
    )


def not_told(job: Job) -> list[str]:
    """That nothing is counted for the instrument itself, where nobody told what was paid."""
    ask = job.instrument.get("ask")
    said = "Nothing is counted for buying it: write what was paid as ask (0: nothing) into the job file."
    return [said] if ask is not None and ask.assumed else []


def days_words(days: Decimal) -> str:
    """Days as they are spoken, to the whole day."""
    return "a day" if round(days) == 1 else f"{days:.0f} days"


def part_out_sentence(out: PartOut, shop: Shop) -> str:
    """Taking the instrument apart and selling it in lots."""
    brings = f"{money(out.low, shop)} to {money(out.high, shop)}"
    if out.stated:
        brings = f"{money(out.middle, shop)} (as the job states)"
    lots = ", ".join(f"{lot.what} {money(lot.value, shop)}" for lot in out.lots)
    return (
        f"taken apart and sold in lots it brings {brings} within "
        f"{out.days.normalize():f} days and takes {time_text(out.minutes)}; that leaves {money(out.profit, shop)} before the "
        f"price of the instrument"
        + (f" (counted at the least they may be, the lots worth listing: {lots})" if lots else "")
    )


def parcel_sentence(parcel: Box, box: str) -> str:
    """The box by the rules of carriers."""
    said = (
        f"sent in a box ({box}): {parcel.length} x {parcel.width} x {parcel.height} in, counts as "
        f"{parcel.dimensional_lb} lb, length and girth {parcel.girth_length} in"
    )
    if parcel.extra_handling:
        said += "; long enough for extra handling, ask the carrier"
    if parcel.too_large:
        said += "; over the usual limit of length and girth: take a smaller box"
    return said


def asking_sentences(
    prices: tuple[Asking, ...], cuts: tuple[tuple[int, Cents], ...], shop: Shop
) -> list[str]:
    """What to ask, quickly or with patience, and how to come down."""
    lines = [
        f"ask {money(a.price, shop)} {a.what}: about {days_words(a.days)}, leaves {money(a.profit, shop)} before the price "
        "of the instrument"
        for a in prices
    ]
    steps = ", ".join(f"day {day} {money(price, shop)}" for day, price in cuts)
    return [*lines, f"if it does not sell, come down in steps: {steps}"]


def _verdict(offer: DonorOffer, shop: Shop) -> list[str]:
    lines = []
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
    return lines


def _pay_sentence(offer: DonorOffer, shop: Shop) -> str:
    """The most to pay at one of two pays."""
    most = f"pay {money(offer.stop, shop)} at the most" if offer.stop > 0 else "do not buy"
    work = ", ".join(offer.plan.chosen) or (
        "nothing but cleaning" if offer.plan.whole else offer.plan.way_what
    )
    return f"  at {money(offer.pay, shop)} an hour: {most} (the plan: {work})"


def verdict_lines(offer: DonorOffer, shop: Shop, other: DonorOffer | None = None) -> list[str]:
    """Whether to buy and for how much at most; ``other``: the same donor at a second pay."""
    lines = _verdict(offer, shop)
    if other is not None:
        lines += [_pay_sentence(made, shop) for made in (offer, other)]
    if offer.limit is not None and offer.limit < offer.most:
        lines.append(
            f"(by the sum alone {money(offer.most, shop)}; a rule of thumb stops at {money(offer.limit, shop)})"
        )
    if offer.pay_at_ask is not None and offer.ask > offer.stop:
        why = f": {NONE_EARNS}" if offer.loses_at_ask else ""
        lines.append(
            f"At {money(offer.ask, shop)} it would pay {money(offer.pay_at_ask, shop)} an hour{why}."
        )
    if not offer.papers:
        lines.append("No papers are told of: without the seller's name and a receipt do not buy.")
    return lines


def plan_words(plan: Proceeds) -> str:
    """The work of a plan and how it is sold."""
    if not plan.whole:
        return plan.way_what
    return f"{', '.join(plan.chosen) or 'nothing but cleaning'}; sell it: {plan.way_what}"


def offer_sentences(offer: DonorOffer, shop: Shop, other: DonorOffer | None = None) -> list[str]:
    """The answer first: the most to pay, or plainly not to buy; then what it rests on.

    ``other``: the same donor at a second pay, to stand beside the first.
    """
    plan, lines = offer.plan, verdict_lines(offer, shop, other)
    lost = time_text(offer.lost_minutes, exact=True)
    gone = f"{money(offer.spent, shop)} and {lost}" if offer.spent else lost
    less = f" - {money(offer.spent, shop)}" if offer.spent else ""
    sold = offer.salvage_price or offer.salvage_stated
    doing = "getting it here, finding out and selling it" if sold else "getting it here and finding out"
    lines.append(
        f"{offer.seen.what}: bad in {offer.odds_bad * 100} of 100; {bad_words(offer, shop)} and "
        f"costs {gone} of {doing}"
    )
    lines.append(
        f"(1 - {float(offer.odds_bad):.2f}) x {money(plan.profit, shop)} + {float(offer.odds_bad):.2f} x "
        f"({money(offer.salvage, shop)}{less} - {lost} at {money(offer.pay, shop)}) = {money(offer.most, shop)}"
    )
    lines.append(f"the plan: {plan_words(plan)}")
    odds = offer.odds
    lines.append(
        f"paid {money(odds.paid, shop)}: money is lost in {odds.loss * 100:.0f} of 100 such deals, the wanted pay is missed "
        f"in {odds.below_pay * 100:.0f}; one in ten earns less than {money(odds.earned[0], shop)} an hour, one in ten more "
        f"than {money(odds.earned[2], shop)}"
    )
    told = [move for move in offer.checks if move.moves > 0][:5]
    if told and _none_helps(offer):
        lines.append("no single check would make it worth buying, however good the result")
    elif told:
        lines.append("what to look at first, by how far it moves the most to pay:")
        lines += [f"  {check_words(move, shop)}" for move in told]
    lines.append(NO_ADVICE)
    return lines


def _none_helps(offer: DonorOffer) -> bool:
    """Whether it stays not worth buying, whatever a single check shows."""
    return offer.stop <= 0 and all(move.after_good <= 0 for move in offer.checks if move.moves > 0)


def look_first(offer: DonorOffer, shop: Shop) -> list[str]:
    """The check that moves the most to pay furthest; where none could make it worth buying, that."""
    first = next((move for move in offer.checks if move.moves > 0), None)
    if first is None:
        return []
    if _none_helps(offer):
        return ["No single check would make it worth buying, however good the result."]
    return [f"Look first: {check_words(first, shop)}."]


def bad_words(offer: DonorOffer, shop: Shop) -> str:
    """What a bad donor still brings, and what of its price selling it takes."""
    if offer.salvage_stated:
        return f"a bad one still brings {money(offer.salvage, shop)} (as the job states)"
    if not offer.salvage_price:
        return "a bad one is given away, for selling it would take all that it brings,"
    taken = offer.salvage_price - offer.salvage
    less = f" ({money(offer.salvage_price, shop)} less {money(taken, shop)} of fees, freight and packing)"
    return f"a bad one still brings {money(offer.salvage, shop)}{less if taken else ''}"


def check_words(move: CheckMove, shop: Shop) -> str:
    """One check: the most to pay after a good result and after a bad one, and when to walk away."""
    said = [f"{move.check.what}: if good {_most(move.after_good, shop)}"]
    if move.after_bad is not None and move.check.lower_for:
        said.append(f"else, for {move.check.lower_for}, {_most(move.after_bad, shop)}")
    if move.check.walk_away_if and move.walk_odds:
        said.append(f"walk away: {move.check.walk_away_if}")
    return "; ".join(said)


def _most(cents: Cents, shop: Shop) -> str:
    return f"pay up to {money(cents, shop)}" if cents > 0 else "do not buy"

"""Donors and sales for the command line: plans to sell, the most to pay, many listings; text and data."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.faults import condition_words, faults_found
from estimator.choose.milp.earning import NONE_EARNS
from estimator.choose.questions.measure_first import measure_first
from estimator.choose.study import Study
from estimator.core.money import money_text
from estimator.estimate.sale_terms import box_of
from estimator.model import Shop
from estimator.price.donor.offer import DonorOffer
from estimator.price.donor.rank import PER_HOUR, OfferList
from estimator.price.resale.asking_price import asking_prices, best_sale, price_cuts
from estimator.price.resale.compare import Proceeds, SalePlan, parcel_of
from estimator.price.resale.part_out import part_out
from estimator.report.text.choice import first_lines, show_cautions
from estimator.report.text.money import Data, say
from estimator.report.text.terminal import money, put, show_table
from estimator.report.words import money as words
from estimator.report.words import resale as resale_words
from estimator.report.words.faults import fault_sentences, faults_data


def proceeds_data(of: Proceeds) -> Data:
    """What a sale brings, as data."""
    return {
        "upgrades": list(of.chosen),
        "way": of.way,
        "sale_price": money_text(of.price),
        "fees": money_text(of.fees),
        "box_freight_fetching": money_text(of.fixed),
        "brought": money_text(of.brought),
        "money_out": money_text(of.money_out),
        "minutes": of.minutes / 100,
        "profit": money_text(of.profit),
        "paid": money_text(of.paid),
        "surplus": money_text(of.surplus),
        "earned_per_hour": None if of.earned is None else money_text(of.earned),
        "days": float(of.days),
    }


def _parcel_data(study: Study) -> Data | None:
    """The job's box by the rules of carriers; None where no way to sell sends anything."""
    if not _is_sent(study.shop):
        return None
    parcel = parcel_of(study)
    return {
        "inches": [parcel.length, parcel.width, parcel.height],
        "dimensional_lb": parcel.dimensional_lb,
        "length_and_girth_in": parcel.girth_length,
        "extra_handling": parcel.extra_handling,
        "too_large": parcel.too_large,
    }


def _is_sent(shop: Shop) -> bool:
    return any(way.freight_by != "none" for way in shop.resale.ways.values())


def sale_data(study: Study, plans: Sequence[SalePlan], ways: Sequence[Proceeds]) -> Data:
    """The object that ``sell --json`` prints."""
    best = best_sale(plans, ways)
    out = part_out(study)
    return {
        "worth_it": best.proceeds.surplus >= 0,
        "best": {"plan": best.name, "words": best.words, **proceeds_data(best.proceeds)},
        "plans": [{"plan": p.name, "words": p.words, **proceeds_data(p.proceeds)} for p in plans],
        "ways": [proceeds_data(of) for of in ways],
        "asking": [
            {
                "price": money_text(a.price),
                "what": a.what,
                "days": float(a.days),
                "profit": money_text(a.profit),
            }
            for a in asking_prices(study, best.proceeds)
        ],
        "part_out": {
            "low": money_text(out.low),
            "high": money_text(out.high),
            "profit": money_text(out.profit),
            "stated": out.stated,
        },
        "parcel": _parcel_data(study),
        **standing_data(study, best.proceeds.chosen),
    }


def standing_data(study: Study, chosen: Sequence[str]) -> Data:
    """What holds the condition down, and the faults with the least work that mends each."""
    return {
        "condition": list(condition_words(study)),
        "faults": faults_data(faults_found(study, chosen)),
    }


def standing_lines(study: Study, chosen: Sequence[str]) -> list[str]:
    """The same in sentences."""
    found = faults_found(study, chosen)
    return [
        *condition_words(study),
        *fault_sentences(found, study.shop.terms.currency, set_named=True, lengths=study.shop.lengths),
    ]


def show_sale(study: Study, plans: Sequence[SalePlan], ways: Sequence[Proceeds]) -> None:
    """The verdict, plans compared, the working of the best, and the best plan sold by every way."""
    shop = study.shop
    currency = shop.terms.currency
    best = best_sale(plans, ways)
    put(resale_words.sale_verdict(best, shop))
    say(standing_lines(study, best.proceeds.chosen))
    show_table(
        f"Plans; unless it says otherwise {plans[0].proceeds.way_what}",
        ("plan", "brings, fees off", "time", "left after your pay", "an hour"),
        [
            (
                plan.words,
                money(plan.proceeds.price - plan.proceeds.fees, currency),
                words.hours(plan.proceeds.minutes),
                money(plan.proceeds.surplus, currency),
                "" if plan.proceeds.earned is None else money(plan.proceeds.earned, currency),
            )
            for plan in plans
        ],
        right=(1, 2, 3, 4),
    )
    work = "nothing but cleaning" if best.proceeds.whole else best.words
    put(f"How the best comes about ({', '.join(best.proceeds.chosen) or work}):")
    say([f"  {line}" for line in resale_words.proceeds_sentences(best.proceeds, shop)])
    show_table(
        "Sold whole: the most profitable plan, by each way to sell",
        ("way", "price", "fees", "leaves, time paid", "days"),
        [
            (
                of.way_what,
                money(of.price, currency),
                money(of.fees, currency),
                money(of.profit - of.paid, currency),
                f"{of.days:.0f}",
            )
            for of in ways
        ],
        right=(1, 2, 3, 4),
    )
    if prices := asking_prices(study, best.proceeds):
        say(resale_words.asking_sentences(prices, price_cuts(shop, prices[-1].price, prices[0].price), shop))
    put(resale_words.part_out_sentence(part_out(study), shop))
    if _is_sent(shop):
        put(resale_words.parcel_sentence(parcel_of(study), box_of(shop, study.job).what))
    chosen = best.proceeds.chosen
    put(*first_lines(study, measure_first(study, chosen)))
    show_cautions(study, study.costing.estimate(chosen))


def offer_data(offer: DonorOffer, other: DonorOffer | None = None) -> Data:
    """The object that ``offer --json`` prints; ``other``: the same at a second pay, in brief."""
    beside = {} if other is None else {"at_other_pay": _at_pay(other)}
    return beside | {
        "buy": offer.buy,
        "most": money_text(offer.most),
        "stop": money_text(offer.stop),
        "limit": None if offer.limit is None else money_text(offer.limit),
        "ask": money_text(offer.ask),
        "odds_bad": float(offer.odds_bad),
        "salvage": money_text(offer.salvage),
        "salvage_price": money_text(offer.salvage_price),
        "salvage_stated": offer.salvage_stated,
        "spent_if_bad": money_text(offer.spent),
        "lost_minutes": offer.lost_minutes / 100,
        "pay_per_hour": money_text(offer.pay),
        "pay_at_ask": None if offer.pay_at_ask is None else money_text(offer.pay_at_ask),
        "no_set_earns": NONE_EARNS if offer.loses_at_ask else None,
        "plan": proceeds_data(offer.plan),
        "odds": None
        if offer.odds is None
        else {
            "paid": money_text(offer.odds.paid),
            "loss": offer.odds.loss,
            "below_pay": offer.odds.below_pay,
            "earned_per_hour": [money_text(point) for point in offer.odds.earned],
        },
        "checks": [
            {
                "check": move.check.id,
                "what": move.check.what,
                "moves": money_text(move.moves),
                "most_if_good": money_text(move.after_good),
                "most_if_bad": None if move.after_bad is None else money_text(move.after_bad),
                "walk_odds": float(move.walk_odds),
                "fault_odds": float(move.fault_odds),
            }
            for move in offer.checks
        ],
    }


def _at_pay(offer: DonorOffer) -> Data:
    return {
        "pay_per_hour": money_text(offer.pay),
        "buy": offer.buy,
        "most": money_text(offer.most),
        "stop": money_text(offer.stop),
        "plan": proceeds_data(offer.plan),
    }


def show_list(found: OfferList, shop: Shop, most: int) -> None:
    """The listings ranked, ``most`` of them at the most, then what was left out."""
    currency = shop.terms.currency
    show_table(
        f"Listings, the best {'pay an hour ' if found.by == PER_HOUR else ''}first; money in {currency}",
        ("row", "listing", "asked", "most to pay", "verdict", "earns an hour", "sells for", "seen"),
        [
            (
                str(o.row),
                f"{o.id}: {o.what}" if o.what else o.id,
                money_text(o.ask),
                money_text(o.stop),
                o.verdict,
                "" if o.earned is None else money_text(o.earned),
                f"{money_text(o.price)}{'*' if o.base_assumed else ''}{'+' if o.parted else ''}",
                o.seen,
            )
            for o in found.offers[:most]
        ],
        right=(0, 2, 3, 5, 6),
    )
    if any(o.base_assumed for o in found.offers[:most]):
        put("* from the middle of its price class: look for three recent sales")
    if any(o.parted for o in found.offers[:most]):
        put("+ taken apart and sold in lots: that leaves more than selling it whole")
    if len(found.offers) > most:
        put(f"{len(found.offers) - most} more rank below these; --top N shows more of them, --json all")
    put("earns an hour: what to expect at the price asked, all time and the odds of a bad one counted")
    say(words.list_sentences(found))


def list_data(found: OfferList) -> Data:
    """The object that ``offer --list --json`` prints; rows in error are told, not dropped."""
    return {
        "rows": found.rows,
        "left_out": len({issue.where.row for issue in found.issues}),
        "to_buy": found.to_buy,
        "offers": [
            {
                "row": o.row,
                "id": o.id,
                "buy": o.buy,
                "most": money_text(o.most),
                "stop": money_text(o.stop),
                "ask": money_text(o.ask),
                "left": money_text(o.left),
                "verdict": o.verdict,
                "earned_per_hour": None if o.earned is None else money_text(o.earned),
                "sale_price": money_text(o.price),
                "seen": o.seen,
                "base_assumed": o.base_assumed,
                "most_may_miss": money_text(o.within),
                "upgrades": list(o.chosen),
                "part_out": o.parted,
            }
            for o in found.offers
        ],
        "skipped": [issue.as_dict() for issue in found.issues],
    }

"""What ``sell`` and ``offer`` answer."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from estimator.choose.faults import condition_words, faults_found
from estimator.choose.milp.earning import NONE_EARNS
from estimator.choose.study import Study
from estimator.core.money import money_text
from estimator.model import Shop
from estimator.price.donor.odds import Odds
from estimator.price.donor.offer import CheckMove, DonorOffer
from estimator.price.donor.rank import NO_PRICE, ListingOffer, OfferList
from estimator.price.resale.asking_price import Asking, asking_prices, best_sale
from estimator.price.resale.compare import Box, Proceeds, SalePlan, parcel_of
from estimator.price.resale.part_out import PartOut, part_out
from estimator.report.record import AS_IN_DATA, FIGURE, MONEY, TIME, Kind, Record, Teller, plain_data
from estimator.report.records.fit import ISSUES
from estimator.report.records.wish import SHARE, Fault

DAYS = Kind("days", float, "{:.0f}".format, right=True)
_sold = Teller[Proceeds]()


class ProceedsTold(Record[Proceeds]):
    """What a sale brings."""

    upgrades = _sold.words("the set", lambda of: of.chosen)
    way = _sold.text("way to sell, an id of selling_ways.csv", lambda of: of.way)
    in_words = _sold.column("way", lambda of: of.way_what)
    sale_price = _sold.money("what it is sold for", lambda of: of.price, head="price")
    fees = _sold.money("what the way keeps", lambda of: of.fees, head="fees")
    box_freight_fetching = _sold.money("box, freight, fetching", lambda of: of.fixed)
    brought = _sold.money("left of that", lambda of: of.brought)
    money_out = _sold.money("what the work lays out", lambda of: of.money_out)
    minutes = _sold.minutes("all time that it takes", lambda of: of.minutes)
    profit = _sold.money("left before the price of the instrument", lambda of: of.profit)
    paid = _sold.money("what was paid for it", lambda of: of.paid)
    after_pay = _sold.column("leaves, time paid", lambda of: of.surplus, MONEY)
    surplus = _sold.money("left after the wanted pay", lambda of: of.surplus)
    earned_per_hour = _sold.money("what an hour earns", lambda of: of.earned)
    days = _sold.of(DAYS, "days until it is sold", lambda of: of.days, head="days")


_plan = Teller[SalePlan]()


class SalePlanTold(Record[SalePlan]):
    """A plan worth comparing."""

    plan = _plan.text("its name", lambda of: of.name)
    words = _plan.text("in words", lambda of: of.words, head="plan")
    brings = _plan.column("brings, fees off", lambda of: of.proceeds.price - of.proceeds.fees, MONEY)
    time = _plan.column("time", lambda of: of.proceeds.minutes, TIME)
    left = _plan.column("left after your pay", lambda of: of.proceeds.surplus, MONEY)
    an_hour = _plan.column("an hour", lambda of: of.proceeds.earned, MONEY)
    proceeds = _plan.joined(ProceedsTold, lambda of: of.proceeds)


_asking = Teller[Asking]()
_parts = Teller[PartOut]()
_box = Teller[Box]()


class AskingTold(Record[Asking]):
    """A price to ask."""

    price = _asking.money("price to ask", lambda of: of.price)
    what = _asking.text("in words", lambda of: of.what)
    days = _asking.of(DAYS, "days until it is sold at that", lambda of: of.days)
    profit = _asking.money("what it leaves", lambda of: of.profit)


class PartOutTold(Record[PartOut]):
    """Taking it apart."""

    low = _parts.money("what it brings at the least", lambda of: of.low)
    high = _parts.money("at the most", lambda of: of.high)
    profit = _parts.money("what it leaves", lambda of: of.profit)
    stated = _parts.yes("the job says what it brings", lambda of: of.stated)


class BoxTold(Record[Box]):
    """The box by the rules of carriers."""

    inches = _box.of(
        Kind("list of numbers", plain_data),
        "length, width, height in in",
        lambda of: (of.length, of.width, of.height),
    )
    dimensional_lb = _box.whole("dimensional weight in lb", lambda of: of.dimensional_lb)
    length_and_girth_in = _box.whole("length and girth in in", lambda of: of.girth_length)
    extra_handling = _box.yes("extra handling is charged", lambda of: of.extra_handling)
    too_large = _box.yes("carriers do not take it", lambda of: of.too_large)


def is_sent(shop: Shop) -> bool:
    """Whether any way to sell sends an instrument."""
    return any(way.freight_by != "none" for way in shop.resale.ways.values())


class Standing(Struct, frozen=True):
    """An instrument under a set."""

    study: Study
    chosen: Sequence[str]


_standing = Teller[Standing]()


class StandingTold(Record[Standing]):
    """What holds the condition down, and the faults."""

    condition = _standing.words(
        "what holds its condition down, and what lifts it", lambda of: condition_words(of.study)
    )
    faults = _standing.rows(
        Fault, "what is wrong with the instrument", lambda of: faults_found(of.study, of.chosen)
    )


class Sale(Struct, frozen=True):
    """An instrument to be sold: plans, and the best of them by every way."""

    study: Study
    plans: Sequence[SalePlan]
    ways: Sequence[Proceeds]

    def best(self) -> SalePlan:
        """The plan that leaves most, sold by the way that leaves most."""
        return best_sale(self.plans, self.ways)


_sale = Teller[Sale]()


class SellAnswer(Record[Sale]):
    """What ``sell`` answers."""

    job = _sale.text("id of the job", lambda of: of.study.job.id)
    worth_it = _sale.yes("the best leaves the wanted pay", lambda of: of.best().proceeds.surplus >= 0)
    best = _sale.one(SalePlanTold, "the best plan, by its best way", Sale.best)
    plans = _sale.rows(SalePlanTold, "plans compared", lambda of: of.plans)
    ways = _sale.rows(ProceedsTold, "the best plan by every way", lambda of: of.ways)
    asking = _sale.rows(AskingTold, "prices to ask", lambda of: asking_prices(of.study, of.best().proceeds))
    part_out = _sale.one(PartOutTold, "taking it apart", lambda of: part_out(of.study))
    parcel = _sale.one(
        BoxTold,
        "the box; none where nothing is sent",
        lambda of: parcel_of(of.study) if is_sent(of.study.shop) else None,
    )
    standing = _sale.joined(StandingTold, lambda of: Standing(of.study, of.best().proceeds.chosen))


_odds = Teller[Odds]()
_move = Teller[CheckMove]()
_pay = Teller[DonorOffer]()


class OddsTold(Record[Odds]):
    """The odds of loss at a price."""

    paid = _odds.money("the price", lambda of: of.paid)
    loss = _odds.of(Kind("share of one", plain_data), "odds of a loss", lambda of: of.loss)
    below_pay = _odds.of(
        Kind("share of one", plain_data), "odds of less than the wanted pay", lambda of: of.below_pay
    )
    earned_per_hour = _odds.of(
        Kind("list of money", lambda of: [MONEY.data(one) for one in of]),
        "points of what an hour earns",
        lambda of: of.earned,
    )


class CheckBefore(Record[CheckMove]):
    """A check before buying, by what it moves."""

    check = _move.text("check, an id of donor_checks.csv", lambda of: of.check.id)
    what = _move.text("in words", lambda of: of.check.what)
    moves = _move.money("by what the offer moves on average", lambda of: of.moves)
    most_if_good = _move.money("most to pay if it is good", lambda of: of.after_good)
    most_if_bad = _move.money("if it is bad; none: walk away", lambda of: of.after_bad)
    walk_odds = _move.of(SHARE, "odds that one walks away", lambda of: of.walk_odds)
    fault_odds = _move.of(SHARE, "odds of a fault", lambda of: of.fault_odds)


class AtPay(Record[DonorOffer]):
    """The most to pay at a pay."""

    pay_per_hour = _pay.money("wanted pay", lambda of: of.pay)
    buy = _pay.yes("the asking price may be paid", lambda of: of.buy)
    most = _pay.money("what the sum alone leaves for it; below 0: a loss even for free", lambda of: of.most)
    stop = _pay.money("the most to pay: the lower of that and the rule of thumb", lambda of: of.stop)
    plan = _pay.one(ProceedsTold, "the plan that it rests on", lambda of: of.plan)


class DonorTold(Record[DonorOffer]):
    """The most to pay for a donor, and what it rests on."""

    buy = _pay.yes("the asking price may be paid", lambda of: of.buy)
    most = _pay.money("what the sum alone leaves for it; below 0: a loss even for free", lambda of: of.most)
    stop = _pay.money("the most to pay: the lower of that and the rule of thumb", lambda of: of.stop)
    limit = _pay.money("the rule of thumb; none: it has none", lambda of: of.limit)
    ask = _pay.money("asking price", lambda of: of.ask)
    odds_bad = _pay.of(SHARE, "odds of a bad one", lambda of: of.odds_bad)
    salvage = _pay.money("left of a bad one", lambda of: of.salvage)
    salvage_price = _pay.money("what a bad one is sold for", lambda of: of.salvage_price)
    salvage_stated = _pay.yes("the job says what a bad one brings", lambda of: of.salvage_stated)
    spent_if_bad = _pay.money("spent before a fault can show", lambda of: of.spent)
    lost_minutes = _pay.minutes("time that a bad one takes", lambda of: of.lost_minutes)
    pay_per_hour = _pay.money("wanted pay", lambda of: of.pay)
    pay_at_ask = _pay.money("pay at the asking price", lambda of: of.pay_at_ask)
    no_set_earns = _pay.text("said where none earns", lambda of: NONE_EARNS if of.loses_at_ask else None)
    plan = _pay.one(ProceedsTold, "the plan that it rests on", lambda of: of.plan)
    odds = _pay.one(OddsTold, "odds of loss", lambda of: of.odds)
    checks = _pay.rows(CheckBefore, "checks before buying", lambda of: of.checks)


class Donor(Struct, frozen=True):
    """A donor, and the same at another pay if that is asked for."""

    study: Study
    offer: DonorOffer
    other: DonorOffer | None


_donor = Teller[Donor]()


class OfferAnswer(Record[Donor]):
    """What ``offer`` answers."""

    job = _donor.text("id of the job", lambda of: of.study.job.id)
    at_other_pay = _donor.where_there(_donor.one(AtPay, "the same at --pay", lambda of: of.other))
    offer = _donor.joined(DonorTold, lambda of: of.offer)
    standing = _donor.joined(StandingTold, lambda of: Standing(of.study, of.offer.plan.chosen))


_listing = Teller[ListingOffer]()
_list = Teller[OfferList]()


class Listing(Record[ListingOffer]):
    """A listing, ranked."""

    row = _listing.whole("its row", lambda of: of.row, head="row")
    id = _listing.text("its id", lambda of: of.id)
    in_words = _listing.column("listing", lambda of: f"{of.id}: {of.what}" if of.what else of.id)
    buy = _listing.yes("the asking price may be paid", lambda of: of.buy)
    ask = _listing.of(AS_IN_DATA, "asking price", lambda of: of.ask, head="asked")
    most = _listing.money(
        "what the sum alone leaves for it; below 0: a loss even for free", lambda of: of.most
    )
    stop = _listing.of(
        Kind("money", money_text, lambda stop: money_text(stop) if stop > 0 else NO_PRICE, right=True),
        "the most to pay: the lower of that and the rule of thumb",
        lambda of: of.stop,
        head="most to pay",
    )
    left = _listing.money("stop less ask", lambda of: of.left)
    verdict = _listing.text("in words", lambda of: of.verdict, head="verdict")
    earned_per_hour = _listing.of(
        AS_IN_DATA, "to expect at the asking price", lambda of: of.earned, head="earns an hour"
    )
    sale_price = _listing.money("what it is sold for", lambda of: of.price)
    sells_for = _listing.column(
        "sells for",
        lambda of: f"{money_text(of.price)}{'*' if of.base_assumed else ''}{'+' if of.parted else ''}",
        FIGURE,
    )
    seen = _listing.text("how it was seen", lambda of: of.seen, head="seen")
    base_assumed = _listing.yes("the price is the middle of its class", lambda of: of.base_assumed)
    most_may_miss = _listing.money("by so much the best may be missed", lambda of: of.within)
    upgrades = _listing.words("the set", lambda of: of.chosen)
    part_out = _listing.yes("taken apart", lambda of: of.parted)


class ListAnswer(Record[OfferList]):
    """What ``offer --list`` answers; rows in error are told, not dropped."""

    rows = _list.whole("rows read", lambda of: of.rows)
    left_out = _list.whole("rows in error", lambda of: of.left_out)
    to_buy = _list.whole("how many may be bought at their price", lambda of: of.to_buy)
    offers = _list.rows(Listing, "the best first", lambda of: of.offers)
    skipped = _list.of(ISSUES, "what is wrong with the rest, and columns not read", lambda of: of.issues)

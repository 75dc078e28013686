"""What ``price``, ``change``, ``rate``, ``menu``, ``spares`` and ``invest`` answer."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct

from estimator.choose.kept import change_of
from estimator.choose.study import Choice, Study
from estimator.core.amounts import Cents
from estimator.core.money import amount, cents
from estimator.estimate.risk.spare_blanks import Spares
from estimator.estimate.tools.buy_rent_send import ToolWayCost
from estimator.model import Shop, Terms
from estimator.price.client.beyond_worth import Brings, brings_less
from estimator.price.client.given_price import GivenPrice
from estimator.price.client.hourly_rate import ShopRate
from estimator.price.client.menu import CORE, ENOUGH_LISTS, Band, MenuRow, median_ratio
from estimator.price.client.quote import ChangeOrder, Quote
from estimator.price.client.three_offers import CustomerOffer, Offers
from estimator.report.record import AS_IN_DATA, MONEY, TIME, WHOLE, Kind, Record, Teller, plain_data
from estimator.report.records.tools import ToolGot, Tools
from estimator.report.records.wish import Held, LimitsAndMeasures
from estimator.report.records.worth import BringsLess

FLOAT = Kind("number", float)
PER_CENT = Kind("per cent", lambda value: round(value, 2))
IN_UNITS = Kind("money", lambda value: f"{value:.2f}")
_rate = Teller[ShopRate]()


class RateAnswer(Record[ShopRate]):
    """What an hour must bring in."""

    total = _rate.of(IN_UNITS, "costs of a year", lambda of: of.total)
    billed_hours = _rate.of(FLOAT, "hours that are billed in a year", lambda of: of.billed)
    break_even = _rate.money("an hour must bring in", lambda of: of.break_even)
    overhead = _rate.money("below it every hour loses money", lambda of: of.overhead)
    with_margin = _rate.money("with the margin that is wanted", lambda of: of.with_margin)
    rounded = _rate.money("that, gone up to a whole step", lambda of: of.rounded)
    charged = _rate.money("charged today", lambda of: of.charged)
    charged_covers = _rate.yes("what is charged covers an hour", lambda of: of.charged_covers)
    charged_leaves_margin = _rate.yes("and leaves the margin", lambda of: of.charged_leaves_margin)


class QuoteOfShop(Struct, frozen=True):
    """A quote and the study that it was made of."""

    quote: Quote
    study: Study

    @property
    def terms(self) -> Terms:
        """The terms of the shop."""
        return self.study.shop.terms

    @property
    def brings_less(self) -> Brings | None:
        """What the instrument brings, where the price lies above it."""
        return brings_less(self.study.shop, self.study.job, self.quote.estimate.totals.to_pay)


_step = Teller[Quote]()
_quote = Teller[QuoteOfShop]()


class Steps(Record[Quote]):
    """How a price comes about."""

    billed_hours = _step.of(FLOAT, "hours billed", lambda of: of.steps.billed_min / 6000)
    charge_per_hour = _step.money("charge of an hour", lambda of: of.rate)
    labour = _step.money("labour", lambda of: of.steps.labour)
    warranty_reserve = _step.money("held for warranty", lambda of: of.steps.reserve + of.warranty)
    own_part_fitting = _step.money("for fitting the customer's own parts", lambda of: of.fitting)
    batch = _step.money("taken off for a batch", lambda of: -of.batch)
    consumables_fee = _step.money("fee for consumables", lambda of: of.steps.fee)
    parts = _step.money("parts with mark-up", lambda of: of.steps.parts)
    minimum_adds = _step.money("what the least charge adds", lambda of: of.steps.top_up)
    rush_adds = _step.money("what rush adds", lambda of: of.steps.rush)


class QuoteTold(Record[QuoteOfShop]):
    """A quote; ``floor`` and ``earned_per_hour`` are for the shop only."""

    upgrades = _quote.words("the set", lambda of: of.quote.chosen)
    parts_in_price = _quote.words("what is in the price besides the work", lambda of: of.quote.charged)
    steps = _quote.one(Steps, "how the price comes about", lambda of: of.quote)
    price = _quote.money("price before tax", lambda of: of.quote.price)
    tax = _quote.money("tax on it", lambda of: of.quote.tax)
    to_pay = _quote.money("price with tax", lambda of: of.quote.to_pay)
    credit = _quote.money("bench fee already paid", lambda of: of.quote.dues.credit)
    storage = _quote.money("for days stored", lambda of: of.quote.dues.storage)
    storage_tax = _quote.money("tax on that", lambda of: of.quote.dues.storage_tax)
    due = _quote.money("left to pay, the deposit with it", lambda of: of.quote.dues.due)
    deposit = _quote.money("asked before work begins", lambda of: of.quote.deposit)
    due_on_collection = _quote.money("left then", lambda of: of.quote.dues.on_collection)
    floor = _quote.money("below it the shop loses money; for the shop", lambda of: of.quote.floor)
    price_under_cost = _quote.money("by what the price lies under the cost", lambda of: of.quote.under_cost)
    instrument_brings_less = _quote.one(
        BringsLess,
        "what the instrument brings, where the price lies above it; for the shop",
        lambda of: of.brings_less,
    )
    earned_per_hour = _quote.money("what an hour pays the shop; for the shop", lambda of: of.quote.earned)
    surety = _quote.of(Kind("share of one", float), "at which it is held", lambda of: of.quote.surety)
    at_mean = _quote.yes("small and held at its mean", lambda of: of.quote.estimate.totals.at_mean)
    valid_days = _quote.whole("days the quote holds", lambda of: of.terms.quote_valid_days)
    warranty_days = _quote.whole("days of warranty", lambda of: of.terms.warranty_days)
    readjust_days = _quote.whole("days of free adjusting", lambda of: of.terms.readjust_days)
    storage_free_days = _quote.whole("days stored for nothing", lambda of: of.terms.storage_free_days)
    storage_per_day = _quote.money("a day after that", lambda of: cents(of.terms.storage_per_day))


class Quoted(Struct, frozen=True):
    """A choice with its quote."""

    choice: Choice
    quote: Quote

    def held(self) -> Held:
        """The set under the limits of the job."""
        study, estimate = self.choice.study, self.choice.estimate
        return Held(study, estimate.chosen, study.measure_of(estimate.totals))


_priced = Teller[Quoted]()


class PriceAnswer(Record[Quoted]):
    """What ``price`` answers."""

    job = _priced.text("id of the job", lambda of: of.choice.study.job.id)
    quote = _priced.joined(QuoteTold, lambda of: QuoteOfShop(of.quote, of.choice.study))
    tools = _priced.joined(Tools, lambda of: of.choice.tools)
    held = _priced.joined(LimitsAndMeasures, Quoted.held)


_short = Teller[tuple[str, int, int]]()
_offer = Teller[tuple[CustomerOffer, Study]]()
_offers = Teller[tuple[Offers, Study]]()
_not_made = Teller[tuple[str, str]]()
TENTHS = Kind("level", lambda tenths: tenths / 10)


class BelowWish(Record[tuple[str, int, int]]):
    """A wish that an offer does not meet."""

    attribute = _short.text("attribute, an id of attributes.csv", lambda of: of[0])
    reached = _short.of(TENTHS, "what it reaches", lambda of: of[1])
    wished = _short.of(TENTHS, "what is wished", lambda of: of[2])


class OfferTold(Record[tuple[CustomerOffer, Study]]):
    """An offer."""

    offer = _offer.text("its name", lambda of: of[0].name, head="offer")
    to_pay = _offer.column("to pay", lambda of: of[0].quote.to_pay, MONEY)
    minutes = _offer.column("hands-on", lambda of: of[0].choice.estimate.totals.expected, TIME)
    upgrades = _offer.column(
        "upgrades", lambda of: ", ".join(of[0].chosen) or "nothing: all that is wished is met already"
    )
    also = _offer.words("the offers that it is at once", lambda of: of[0].also)
    words = _offer.text("in words", lambda of: of[0].words)
    below_wish = _offer.rows(BelowWish, "wishes that it does not meet", lambda of: of[0].short)
    given_up = _offer.words("what it does not keep", lambda of: of[0].given_up)
    only_by_changing = _offer.words(
        "what changes for good, of changes.csv", lambda of: map(change_of, of[0].choice.answer.changed)
    )
    over_limits = _offer.words("limits that it exceeds", lambda of: of[0].over)
    quote = _offer.one(QuoteTold, "its price", lambda of: QuoteOfShop(of[0].quote, of[1]))


class OfferNotMade(Record[tuple[str, str]]):
    """An offer that is not made."""

    offer = _not_made.text("its name", lambda of: of[0])
    why = _not_made.text("why there is none", lambda of: of[1])


class OffersAnswer(Record[tuple[Offers, Study]]):
    """What ``price --offers`` answers."""

    job = _offers.text("id of the job", lambda of: of[1].job.id)
    offers = _offers.rows(OfferTold, "the cheapest first", lambda of: ((made, of[1]) for made in of[0].made))
    not_made = _offers.rows(OfferNotMade, "offers that are not made", lambda of: of[0].not_made)
    tools_got = _offers.rows(ToolGot, "tools that are got for all of them", lambda of: of[0].tools.got)


_given = Teller[tuple[Choice, GivenPrice]]()


class GivenAnswer(Record[tuple[Choice, GivenPrice]]):
    """What ``price --given`` answers."""

    job = _given.text("id of the job", lambda of: of[0].study.job.id)
    chosen = _given.words("the set", lambda of: of[0].estimate.chosen)
    given = _given.money("the price that was named, with tax", lambda of: of[1].given)
    least_without_work = _given.money("due without any work", lambda of: of[1].least)
    asked = _given.money("the shop's own price", lambda of: of[1].asked)
    instrument_brings_less = _given.one(
        BringsLess,
        "what the instrument brings, where the price that was named lies above it; for the shop",
        lambda of: brings_less(of[0].study.shop, of[0].study.job, of[1].given),
    )
    pays_for_minutes = _given.minutes("hands-on that it pays for", lambda of: of[1].paid_minutes)
    mean_minutes = _given.minutes("hands-on that is quoted, on average", lambda of: of[1].quoted_mean)
    surety = _given.of(PER_CENT, "of such jobs that stay within it", lambda of: of[1].surety)
    surety_with_hidden_faults = _given.of(
        PER_CENT, "the same with hidden faults", lambda of: of[1].with_faults
    )
    tools = _given.joined(Tools, lambda of: of[0].tools)


_order = Teller[tuple[Study, ChangeOrder]]()


class ChangeAnswer(Record[tuple[Study, ChangeOrder]]):
    """What ``change`` answers."""

    job = _order.text("id of the job", lambda of: of[0].job.id)
    added = _order.words("what comes in", lambda of: of[1].added)
    dropped = _order.words("what goes out", lambda of: of[1].dropped)
    price = _order.money("price before tax, more or less", lambda of: of[1].price)
    to_pay = _order.money("price with tax, more or less", lambda of: of[1].to_pay)
    deposit = _order.money("deposit, more or less", lambda of: of[1].deposit)
    minutes = _order.minutes("quoted hands-on, more or less", lambda of: of[1].minutes)
    quoted = _order.one(QuoteTold, "what was quoted", lambda of: QuoteOfShop(of[1].quoted, of[0]))
    new = _order.one(QuoteTold, "what is wanted now", lambda of: QuoteOfShop(of[1].new, of[0]))


_spares = Teller[Spares]()


class SparesAnswer(Record[Spares]):
    """What ``spares`` answers."""

    good = _spares.whole("good pieces needed", lambda of: of.good)
    buy = _spares.whole("pieces to buy", lambda of: of.pieces)
    spare = _spares.whole("of them spare", lambda of: of.spare)
    surety = _spares.of(Kind("share of one", float), "odds that they are enough", lambda of: of.surety)
    wanted = _spares.of(Kind("share of one", float), "odds that were asked for", lambda of: of.wanted)


_way = Teller[ToolWayCost]()
_invest = Teller[tuple[str, Sequence[ToolWayCost]]]()


class ToolWayTold(Record[ToolWayCost]):
    """A way to get a kind of job done."""

    way = _way.text("the way", lambda of: of.way.id)
    cash = _way.money("paid out", lambda of: of.cash)
    time = _way.money("what the bench time costs", lambda of: of.time)
    cost = _way.money("both", lambda of: of.cost)
    tied_up = _way.money("of the cash: not worn off by these jobs", lambda of: of.tied_up)
    per_job = _way.money("cost of a job", lambda of: of.per_job)
    cheaper_up_to_jobs = _way.whole("jobs up to which it costs less", lambda of: of.cheaper_to)
    payback_jobs = _way.whole("job from which on it costs no more", lambda of: of.payback)


class InvestAnswer(Record[tuple[str, Sequence[ToolWayCost]]]):
    """What ``invest`` answers."""

    tool = _invest.text("tool, an id of tools.csv", lambda of: of[0])
    ways = _invest.rows(ToolWayTold, "either grade, renting, sending out", lambda of: of[1])


_band = Teller[Band]()
_row = Teller[MenuRow]()


class MenuTold(Struct, frozen=True):
    """Jobs of the menu of a shop, and the price list for customers where it was ``written``."""

    rows: Sequence[MenuRow]
    shop: Shop
    written: Path | None = None


_menu = Teller[MenuTold]()


def quartiles_of(band: Band) -> tuple[Cents, Cents, Cents]:
    """A quarter, half and three quarters of the lists lie below these."""
    return band.low, band.middle, band.high


class Posted(Record[Band]):
    """What other shops post for a job."""

    lists = _band.whole("lists read", lambda of: of.lists)
    lists_taken = _band.whole("of them taken: those of the shop's own country, if any", lambda of: of.taken)
    quartiles = _band.of(
        Kind("list of money", lambda of: [MONEY.data(one) for one in of]),
        "a quarter, half and three quarters of them lie below",
        quartiles_of,
    )


NAMED = 3
"""Pieces besides the work that are named of each price."""


def difference(row: MenuRow) -> str:
    """The largest pieces of a price besides the work itself."""
    others = sorted(
        ((name, value) for name, value in row.pieces if name != CORE and value), key=lambda one: -one[1]
    )
    return ", ".join(f"{name} {_in_units(value)}" for name, value in others[:NAMED])


def _in_units(value: Cents) -> str:
    return f"{amount(value):.0f}"


class MenuJobTold(Record[MenuRow]):
    """A job of the menu."""

    job = _row.text("job, an id of menu_jobs.csv", lambda of: of.job.id, head="job")
    what = _row.text("in words", lambda of: of.job.what)
    upgrades = _row.words("upgrades that it is", lambda of: of.job.upgrades)
    beside = _row.words("upgrades beside which it is priced", lambda of: of.job.beside)
    minutes = _row.minutes("hands-on", lambda of: of.minutes, head="min")
    price_without_parts = _row.of(
        AS_IN_DATA, "price of the labour before tax", lambda of: of.price, head="price"
    )
    tax = _row.money("tax on it", lambda of: of.tax)
    extra = _row.words("what comes on top of it", lambda of: of.extra)
    depends_on_the_instrument = _row.yes(
        "it rests on what differs from instrument to instrument and the job does not say (a price list says: from)",
        lambda of: of.depends,
    )
    more_beside_a_set_up = _row.of(
        AS_IN_DATA, "what it adds to a set-up", lambda of: of.with_set_up, head="with set-up"
    )
    pieces = _row.of(
        Kind("money by name", lambda of: {name: MONEY.data(value) for name, value in of}),
        "what stands in the price",
        lambda of: of.pieces,
    )
    posted = _row.one(Posted, "what other shops post", lambda of: of.band)
    quartiles = _row.column(
        "posted",
        lambda of: "none" if of.band is None else "/".join(map(_in_units, quartiles_of(of.band))),
    )
    lists = _row.column("lists", lambda of: of.band and of.band.lists, WHOLE)
    ratio = _row.of(
        Kind("number as text", str, right=True),
        "price over the middle of what is posted",
        lambda of: of.ratio,
        head="x",
    )
    besides = _row.column("besides the work", difference)
    reason = _row.text("why it differs", lambda of: of.job.reason)


class MenuAnswer(Record[MenuTold]):
    """What ``menu`` answers."""

    currency = _menu.text("currency", lambda of: of.shop.terms.currency)
    jobs = _menu.rows(MenuJobTold, "the jobs", lambda of: of.rows)
    median_ratio = _menu.of(
        Kind("number as text", lambda of: f"{of:.2f}"),
        "the middle of the ratios",
        lambda of: median_ratio(of.rows),
    )
    median_over_jobs_with_lists = _menu.of(
        Kind("number", plain_data), "over jobs with so many lists or more", lambda of: ENOUGH_LISTS
    )
    written = _menu.text(
        "with --page: the file that was written", lambda of: str(of.written) if of.written else None
    )

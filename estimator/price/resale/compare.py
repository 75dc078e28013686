"""What a resale brings: the price with its working, the ways to sell, and the plans worth comparing.

Money in cents, minutes in hundredths, as everywhere. ``profit`` is what is left after fees, parts,
wear, rework and all time at the wanted pay (hands-on, desk, travel), before the price paid for the
instrument; ``surplus`` is after it. Earned an hour = wanted pay + surplus by the hour.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from estimator.choose.study import Choice, Study, make_choice, sold_by
from estimator.choose.verify.sale import sold
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import Origin, refusal
from estimator.core.money import cents, half_up
from estimator.estimate.sale_terms import box_of, clean_price, rule, tier_of, way_of
from estimator.estimate.uplift import pay_for
from estimator.model import Totals
from estimator.model.sale_problem import Sale

PARTED = "part-out"
"""The way to sell, and the plan, of an instrument that is taken apart and sold in lots."""


class Counted(Struct, frozen=True):
    """An uplift, its full value and what it counts after damping; cents."""

    id: str
    what: str
    full: Cents
    counts: Cents


class Proceeds(Struct, frozen=True):
    """The sale of a set by one way, with its working. Cents; minutes in hundredths.

    ``fees`` is all that the way keeps: the share of the price, and ``fee_fixed`` whatever the price.
    ``fixed`` is box, freight and fetching.
    """

    chosen: tuple[str, ...]
    way: str
    way_what: str
    base: Cents
    base_assumed: bool
    tier: str
    ceiling: Cents
    condition_now: str
    condition_sold: str
    standing: Cents
    uplifts: tuple[Counted, ...]
    losses: tuple[tuple[str, Cents], ...]
    removed: tuple[tuple[str, Cents, Hundredths], ...]
    price: Cents
    spread: Cents
    capped: bool
    fees: Cents
    fee_fixed: Cents
    fixed: Cents
    brought: Cents
    money_out: Cents
    hands_on: Hundredths
    minutes: Hundredths
    pay: Cents
    profit: Cents
    paid: Cents
    days: Decimal
    totals: Totals

    @property
    def whole(self) -> bool:
        """Whether the instrument is sold in one piece."""
        return self.way != PARTED

    @property
    def fees_by_share(self) -> Cents:
        """The fees that are a share of the price."""
        return self.fees - self.fee_fixed

    @property
    def surplus(self) -> Cents:
        """Profit less the price paid for the instrument."""
        return self.profit - self.paid

    @property
    def earned(self) -> Cents | None:
        """Cents earned an hour, all hours counted; None without time."""
        if self.minutes <= 0:
            return None
        return Cents(half_up(self.pay + Fraction(self.surplus * 6000, self.minutes)))

    @property
    def cash_left(self) -> Cents:
        """Money in less money out, time not counted."""
        return self.surplus + pay_for(self.minutes, self.pay)


def need_sale(study: Study) -> Sale:
    """The sale of a resale job; InputError for other kinds."""
    if study.problem.sale is None:
        raise refusal(
            Origin(study.job.file, None, "[job] kind"),
            "this job is not for resale",
            f"“{study.job.kind}”",
            'kind = "resale"',
            "set the kind, the price class (tier) and the clean price (base_clean)",
        )
    return study.problem.sale


def with_way(study: Study, way: str = "") -> Study:
    """The study with the sale by another way than the job's own: with the work of that way, and no other."""
    if not way or way == need_sale(study).way:
        return study
    return sold_by(study, way_of(study.shop, way).id)


def price_spread(study: Study, price: Cents) -> Cents:
    """Standard deviation of the sale price: smaller where three good local sales are known."""
    known, assumed = study.job.sale.sales_known, clean_price(study.shop, study.job)[1]
    sure = not assumed if known is None else known
    return Cents(
        half_up(Fraction(price) * Fraction(rule(study.shop, "spread-sure" if sure else "spread-unsure")))
    )


def proceeds(study: Study, chosen: Collection[str], way: str = "") -> Proceeds:
    """What the sale of a set brings, by a way to sell (left out: that of the job)."""
    ids = tuple(sorted(chosen))
    study = with_way(study, way)
    sale = need_sale(study)
    told = sold(study.problem, ids, sale)
    totals = study.costing.estimate(ids).totals
    selling = way_of(study.shop, sale.way)
    fee_fixed = cents(selling.fee_fixed)
    tier = tier_of(study.shop, study.job)
    return Proceeds(
        chosen=ids,
        way=sale.way,
        way_what=selling.what,
        base=sale.base,
        base_assumed=clean_price(study.shop, study.job)[1],
        tier=tier.id,
        ceiling=sale.ceiling,
        condition_now=sale.standing.condition,
        condition_sold=told.standing.condition,
        standing=told.standing.value,
        uplifts=tuple(Counted(u.id, u.what, u.value, worth) for u, worth in told.counted),
        losses=tuple((loss.what, loss.value) for loss in told.losses),
        removed=tuple((item.what, item.value, item.minutes) for item in told.removed),
        price=told.price,
        spread=price_spread(study, told.price),
        capped=told.uncapped > sale.ceiling,
        fees=told.price - told.left + fee_fixed,
        fee_fixed=fee_fixed,
        fixed=sale.fixed - fee_fixed,
        brought=told.brought,
        money_out=told.left - sale.fixed + told.brought - told.profit - pay_for(told.minutes, sale.pay),
        hands_on=totals.expected,
        minutes=told.minutes,
        pay=sale.pay,
        profit=told.profit,
        paid=sale.paid,
        days=tier.days * selling.days_factor,
        totals=totals,
    )


def ways_to_sell(study: Study, chosen: Collection[str]) -> tuple[Proceeds, ...]:
    """The same set sold by every way, the best profit first."""
    found = [proceeds(study, chosen, way) for way in study.shop.resale.ways]
    return tuple(sorted(found, key=lambda p: (-p.profit, p.way)))


class SalePlan(Struct, frozen=True):
    """A plan worth comparing: its name, a sentence, and what it brings; ``choice`` where it was optimised."""

    name: str
    words: str
    proceeds: Proceeds
    choice: Choice | None = None


def resale_plans(study: Study) -> tuple[SalePlan, ...]:
    """Clean and sell; most profit; most by the hour; a dealer today; taken apart. The rest by the way of the job.

    The first is always among them, whatever the optimiser says. A wish that no set meets leaves
    only those that need no choice.
    """
    from estimator.price.resale.part_out import parted

    need_sale(study)
    plans = [SalePlan("clean-and-sell", "do nothing but clean it and sell it", proceeds(study, ()))]
    for aim, words in (
        ("profit", "the work that leaves most money"),
        ("hourly", "the work that pays best by the hour"),
    ):
        choice = make_choice(study, aim)
        if choice.answer.none_earns:
            words = "no set earns; the one that loses least"
        if choice.found:
            plans.append(SalePlan(aim, words, proceeds(study, choice.answer.chosen), choice))
    quick = min(study.shop.resale.ways.values(), key=lambda way: way.days_factor, default=None)
    if quick is not None:
        plans.append(SalePlan("as-is", f"as it is: {quick.what}", proceeds(study, (), quick.id)))
    plans.append(SalePlan(PARTED, "taken apart and sold in lots", parted(study)))
    return tuple(plans)


class Box(Struct, frozen=True):
    """A box by the rules of carriers: sides in whole inches, dimensional weight in whole pounds."""

    length: int
    width: int
    height: int
    dimensional_lb: int
    girth_length: int
    extra_handling: bool
    too_large: bool


def parcel_of(study: Study) -> Box:
    """The parcel of the job's box: L x W x H / 139 rounded up; length + 2 x (width + height)."""
    box = box_of(study.shop, study.job)
    return parcel(
        (box.length_mm, box.width_mm, box.height_mm),
        rule(study.shop, "dimensional-divisor"),
        rule(study.shop, "long-side"),
        rule(study.shop, "length-and-girth"),
    )


def parcel(
    sides_mm: tuple[Decimal, Decimal, Decimal], divisor: Decimal, long_side: Decimal, girth_limit: Decimal
) -> Box:
    """A parcel from its sides in mm: each side to the nearest inch, weight up to the next pound."""
    length, width, height = sorted(
        (half_up(Fraction(side) / Fraction("25.4")) for side in sides_mm), reverse=True
    )
    weight = -(-Fraction(length * width * height) / Fraction(divisor)).__floor__()
    around = length + 2 * (width + height)
    return Box(length, width, height, weight, around, length > long_side, around > girth_limit)

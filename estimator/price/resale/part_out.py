"""Taking an instrument apart and selling it in lots: the usual range, the lots counted, what it takes.

Together the lots bring a share of the price of the whole in need of repair (or as it stands, where that is
less: what is missing or dead is not sold). Money in cents, minutes in hundredths.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.sale.build import grade_price, sourcing_minutes
from estimator.choose.study import Study
from estimator.core.amounts import Cents, Hundredths
from estimator.core.money import centiminutes, cents, half_up
from estimator.estimate.sale_terms import clean_price, rule, stated_salvage, tier_of
from estimator.estimate.uplift import pay_for
from estimator.fit.candidates import all_upgrades
from estimator.model import Shop
from estimator.model.pickups import pickup_at
from estimator.model.sale_problem import Sale
from estimator.price.resale.compare import PARTED, Proceeds, need_sale

REPAIR = "needs-repair"
PICKUPS = {
    "single": "p-single",
    "humbucker": "p-hum",
    "soapbar": "p-soap",
    "bass-split": "p-basspu",
    "bass-single": "p-basspu",
    "bass-humbucker": "p-basspu",
}
"""Class of part by what the intake calls a pickup; a slim one may be of several."""
BRIDGES = {
    "six-screw-trem": "p-trem6",
    "two-post-trem": "p-trem2",
    "locking-trem": "p-tremlock",
    "hardtail": "p-hardtail",
    "barrel-saddle-plate": "p-barrel",
    "post-and-tailpiece": "p-postbridge",
    "bass-plate": "p-bassbridge",
}
"""Class of part by what the intake calls a bridge; of other kinds no part of the tables is one."""
SWITCHES = {
    "blade-box": "p-blade",
    "blade-open": "p-blade",
    "toggle-short": "p-toggle",
    "toggle-tall": "p-toggle",
}
WIDTH = Fraction("2.56")
"""Spreads between the 10 and 90 % points, which the low and the high of the range are taken for."""


class Lot(Struct, frozen=True):
    """Removed parts sold together."""

    what: str
    value: Cents


class Parting(Struct, frozen=True):
    """What parting out brings and takes, before the minutes and money of getting the instrument here.

    ``minutes`` are those of taking it apart and of selling the lots.
    """

    low: Cents
    high: Cents
    minutes: Hundredths

    @property
    def middle(self) -> Cents:
        """What is counted on."""
        return Cents(half_up(Fraction(self.low + self.high, 2)))


class PartOut(Struct, frozen=True):
    """Taking an instrument apart: the usual range, the lots counted one by one, and what it takes.

    ``minutes`` hold finding and fetching the instrument, as those of every plan; ``profit`` is before its price.
    ``stated``: the job says what it brings, so the range is that figure alone and no lots are counted.
    """

    low: Cents
    high: Cents
    middle: Cents
    lots: tuple[Lot, ...]
    minutes: Hundredths
    days: Decimal
    profit: Cents
    stated: bool = False


def parting(shop: Shop, sale: Sale) -> Parting:
    """Parting out at the clean price and condition of a sale."""
    repair = shop.resale.ladder.get(REPAIR)
    whole = (
        sale.standing.value
        if repair is None
        else min(sale.standing.value, cents(Decimal(sale.base) / 100 * repair.factor))
    )
    low, high = (
        Cents(half_up(Fraction(whole) * Fraction(rule(shop, name))))
        for name in ("part-out-low", "part-out-high")
    )
    minutes = rule(shop, "part-out-hours") * 60 + rule(shop, "part-out-strip-min")
    return Parting(low, high, centiminutes(minutes))


def part_out(study: Study) -> PartOut:
    """Parting out against its hours at the wanted pay, finding and fetching it counted as in every plan.

    ``lots`` are the parts the instrument is likely to have, at their share of the new price of the
    grade its class was made with: of bridge, switch and pickups the class they are taken for, of other
    parts that could be of several classes the one that brings least; lots below the least worth listing are left
    out.
    """
    shop, job, sale = study.shop, study.job, need_sale(study)
    told, stated = parting(shop, sale), stated_salvage(job)
    if stated is not None:
        told = replace(told, low=stated, high=stated)
    minutes = told.minutes + sourcing_minutes(shop, job) + centiminutes(job.sale.travel_min)
    profit = told.middle - pay_for(minutes, sale.pay) - cents(job.sale.inbound_cost)
    lots = _lots(study) if stated is None else ()
    days = rule(shop, "part-out-days")
    return PartOut(told.low, told.high, told.middle, lots, minutes, days, profit, stated is not None)


def parted(study: Study) -> Proceeds:
    """Parting out as a plan beside those that sell the instrument whole; its price is the middle of the range."""
    out, sale = part_out(study), need_sale(study)
    none = study.costing.estimate(()).totals
    return Proceeds(
        chosen=(),
        way=PARTED,
        way_what="taken apart, sold in lots",
        base=sale.base,
        base_assumed=clean_price(study.shop, study.job)[1],
        tier=tier_of(study.shop, study.job).id,
        ceiling=sale.ceiling,
        condition_now=sale.standing.condition,
        condition_sold=sale.standing.condition,
        standing=sale.standing.value,
        uplifts=(),
        losses=(),
        removed=(),
        price=out.middle,
        spread=Cents(half_up((out.high - out.low) / WIDTH)),
        capped=False,
        fees=Cents(0),
        fee_fixed=Cents(0),
        fixed=cents(study.job.sale.inbound_cost),
        brought=Cents(0),
        money_out=Cents(0),
        hands_on=Hundredths(0),
        minutes=out.minutes,
        pay=sale.pay,
        profit=out.profit,
        paid=sale.paid,
        days=out.days,
        totals=replace(none, attended=Hundredths(0), reserve_min=Hundredths(0), sd=0.0),
    )


def _there(study: Study, slot: str, part_class: str) -> bool:
    """Whether a part of a class may be what is on the instrument.

    Bridge, switch and pickups are what everything else takes them for, looked at or not: two humbuckers of a
    template are no single coils. A pickup that reads 0 is dead, and nobody buys it.
    """
    readings = study.job.instrument
    if slot == "bridge":
        return BRIDGES.get(str(readings["br_type"].value)) == part_class
    if slot == "switch":
        return SWITCHES.get(str(readings["sw_type"].value)) == part_class
    place = pickup_at(slot)
    if not place:
        return True
    seen, ohms = readings.get(f"pu_{place}"), readings.get(f"dc_ohm_{place}")
    if ohms is not None and ohms.value == 0:
        return False
    return seen is None or PICKUPS.get(str(seen.value), part_class) == part_class


def _lots(study: Study) -> tuple[Lot, ...]:
    shop, grade = study.shop, tier_of(study.shop, study.job).grade
    best: dict[str, tuple[Cents, str]] = {}
    for upgrade in all_upgrades(shop, study.job):
        part_class = upgrade.row.part_class
        share = shop.resale.salvage.get(part_class)
        if share is None or not _there(study, upgrade.slot, part_class):
            continue
        value = cents(grade_price(shop, study.job, part_class, grade) * upgrade.part_quantity * share)
        known = best.get(upgrade.slot)
        if known is None or value < known[0]:
            best[upgrade.slot] = (value, shop.part_classes[part_class].what)
    least = cents(rule(shop, "removed-least"))
    lots = [Lot(what, value) for value, what in best.values() if value >= least]
    return tuple(sorted(lots, key=lambda lot: (-lot.value, lot.what)))

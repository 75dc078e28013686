"""What shop and job say about a sale: price class, clean price, condition, way to sell, box."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType

from msgspec.structs import replace

from estimator.core.amounts import Cents
from estimator.core.errors import Origin, as_accepted, refusal, refused_word
from estimator.core.money import cents
from estimator.estimate.baseline import level_now, levels_now
from estimator.model import (
    BaseWork,
    BoxClass,
    ConditionGrade,
    Fault,
    Job,
    Reading,
    ResaleTier,
    SellingWay,
    Shop,
)
from estimator.tables.faults import faults_of

ZERO = Decimal(0)


def rule(shop: Shop, name: str) -> Decimal:
    """A single number of ``trade_rules.csv``; InputError if the row is missing."""
    if name not in shop.resale.rules:
        raise refusal(
            "trade_rules.csv",
            "a number of the money side is missing",
            f"“{name}”",
            next_step="copy its row from the trade_rules.csv that comes with the program",
        )
    return shop.resale.rules[name].value


def stated_salvage(job: Job) -> Cents | None:
    """What the job says that the instrument still brings, bad or in parts, in cents; None where it does not."""
    value = job.sale.salvage
    return None if value is None else cents(value)


def field_text(job: Job, name: str) -> str:
    """An intake value as text, blank if there is none."""
    reading = job.instrument.get(name)
    return "" if reading is None else str(reading.value)


def tier_of(shop: Shop, job: Job) -> ResaleTier:
    """The price class of the instrument; InputError if the table lacks it."""
    name = field_text(job, "tier")
    if name not in shop.resale.tiers:
        raise refusal(
            Origin(job.file, None, "tier"),
            "no such price class in resale_tiers.csv",
            f"“{name}”",
            ", ".join(shop.resale.tiers),
            "state the class when new: A to E",
        )
    return shop.resale.tiers[name]


def clean_price(shop: Shop, job: Job) -> tuple[Decimal, bool]:
    """The local price, clean and working, and whether it is only the middle of its class."""
    reading = job.instrument.get("base_clean")
    if reading is not None and not reading.assumed and isinstance(reading.value, Decimal):
        return reading.value, False
    return tier_of(shop, job).base_middle, True


def ladder_needs(shop: Shop, condition: str) -> Mapping[str, Decimal]:
    """The least levels of a condition: its own and those of every worse one."""
    order = list(shop.resale.ladder)
    worse = set(order[order.index(condition) :])
    needs: dict[str, Decimal] = {}
    for row in shop.resale.levels:
        if row.condition in worse and row.needed is not None:
            needs[row.attribute] = max(needs.get(row.attribute, ZERO), row.needed)
    return MappingProxyType(needs)


def never_mended(shop: Shop, job: Job) -> tuple[tuple[Fault, Decimal], ...]:
    """Faults that no work mends and that a buyer pays less for (a smell), with the share of the price that is lost.

    The share is the middle of what their check takes off the offer; the most of it where the fault is as bad as
    can be (level 0 of its attribute).
    """
    found = []
    for fault in faults_of(shop.faults, job.instrument):
        check = shop.resale.checks.get(fault.check)
        if check is None or not check.share_high or fault.mended_by or fault.mended_by_work:
            continue
        share = (check.share_low + check.share_high) / 2 if fault.level else check.share_high
        found.append((fault, share))
    return tuple(found)


def conditions_of(shop: Shop, job: Job) -> tuple[tuple[ConditionGrade, Mapping[str, Decimal]], ...]:
    """The conditions, the best first, as this instrument can have them: what each is worth, and its least levels.

    A fault that no work mends (a smell) makes every condition worth less by its share, the gravest counted; an
    attribute that stands lower for it alone then holds no condition back, so that it is not counted twice.
    """
    lasting = never_mended(shop, job)
    kept = 1 - max((share for _, share in lasting), default=ZERO)
    without = (
        levels_now(replace(shop, faults=_without(shop.faults, [fault for fault, _ in lasting])), job)
        if lasting
        else {}
    )
    found = []
    for grade in shop.resale.ladder.values():
        needs = dict(ladder_needs(shop, grade.id))
        for fault, _ in lasting:
            need = needs.get(fault.attribute, ZERO)
            if fault.level < need <= without.get(fault.attribute, ZERO):
                needs[fault.attribute] = fault.level
        found.append((replace(grade, factor=grade.factor * kept), MappingProxyType(needs)))
    return tuple(found)


def _without(faults: Iterable[Fault], those: Collection[Fault]) -> tuple[Fault, ...]:
    return tuple(fault for fault in faults if fault not in those)


def as_found(shop: Shop, job: Job) -> Job:
    """The job with the levels that its stated condition lets one assume, where nothing was measured.

    An attribute that nobody looked at stands at what the condition assumes of it, else at its
    default, but not below what the condition itself needs.
    """
    condition = job.sale.condition
    if condition not in shop.resale.ladder:
        return job
    needs = ladder_needs(shop, condition)
    assumed = {
        row.attribute: row.assumed
        for row in shop.resale.levels
        if row.condition == condition and row.assumed is not None
    }
    found = dict(job.found_levels)
    for name in dict.fromkeys((*needs, *assumed)):
        level, is_assumed = level_now(shop, shop.attributes[name], job)
        if name in found or not is_assumed:
            continue
        told = assumed.get(name)
        found[name] = Reading(told if told is not None else max(level, needs.get(name, ZERO)), True)
    return replace(job, found_levels=MappingProxyType(found))


def way_of(shop: Shop, name: str) -> SellingWay:
    """A way to sell by id; InputError with a near miss."""
    name = as_accepted(name, shop.resale.ways)
    if name not in shop.resale.ways:
        known = shop.resale.ways
        raise refused_word("way", "no such way to sell", name, known, otherwise="")
    return shop.resale.ways[name]


def way_for(shop: Shop, job: Job) -> SellingWay:
    """The way that an instrument is sold by: the one that the job names, else the first of the table."""
    return way_of(shop, job.sale.way or next(iter(shop.resale.ways), "local"))


def usual_work(shop: Shop, job: Job) -> tuple[BaseWork, ...]:
    """The work that comes with every job of its kind; of a sale without what its way to sell does not have."""
    rows = shop.base_work.get(job.kind, ())
    drops = way_for(shop, job).drops if job.kind == "resale" and shop.resale.ways else ()
    return tuple(row for row in rows if row.quantity > 0 and row.task not in drops)


def box_of(shop: Shop, job: Job) -> BoxClass:
    """The box of the job (key ``box``), else the first that takes such an instrument."""
    family = job.family
    name = job.sale.box
    fitting = [box for box in shop.resale.boxes.values() if box.instruments in ("any", family)]
    found = [box for box in fitting if box.id == name] if name else fitting
    if not found:
        raise refusal(
            "box",
            "no such box for this instrument",
            f"“{name}”",
            ", ".join(b.id for b in fitting),
            "take one of these or leave it out",
        )
    return found[0]

"""When what is bought is in the shop: every order goes out on the first day of the plan.

Parcels are reckoned to come by noon. What no supplier sends (tools, instruments that are bought, packs of
any shop) is fetched after closing time and there the next morning.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from estimator.batch.build import BatchStudy, lead_days
from estimator.batch.records import JointAnswer, Purchase
from estimator.core.amounts import Elapsed
from estimator.schedule.calendar import Calendar

BoughtKey = tuple[str, str, str]
"""(part, job, upgrade), (pack, seller, consumable), (spare, seller, class), (tool or rent, "", tool) or (donor, "", job)."""
NONE_LATE: Mapping[BoughtKey, Elapsed] = {}
DAY, BY_NOON = Elapsed(1440), Elapsed(720)
"""A day, and the minute of it by which a parcel is there (from memory)."""


def bought_as(purchase: Purchase) -> BoughtKey:
    """The name of a purchase."""
    if purchase.kind == "part":
        return "part", purchase.job, purchase.upgrade
    if purchase.kind in ("pack", "spare"):  # they may come from several sellers, each in its own parcel
        return purchase.kind, purchase.seller, purchase.what
    return purchase.kind, "", purchase.what


def arrivals_of(
    study: BatchStudy, answer: JointAnswer, late: Mapping[BoughtKey, Elapsed] = NONE_LATE
) -> dict[BoughtKey, Elapsed]:
    """By purchase: the elapsed minute at which all of it is there; ``late`` goes before what the suppliers promise."""
    found: dict[BoughtKey, Elapsed] = {}
    for purchase in (*answer.purchases, *answer.spares):
        if purchase.is_paid:
            name = bought_as(purchase)
            found[name] = max(found.get(name, Elapsed(0)), arrival_of(study, purchase, late))
    return found


def arrival_of(
    study: BatchStudy, purchase: Purchase, late: Mapping[BoughtKey, Elapsed] = NONE_LATE
) -> Elapsed:
    """The elapsed minute at which one purchase is there."""
    if bought_as(purchase) in late:
        return late[bought_as(purchase)]
    if purchase.kind in ("part", "spare"):
        classes = {(p.job, p.upgrade): p.part_class for p in study.batch.parts}
        part_class = purchase.what if purchase.kind == "spare" else classes[purchase.job, purchase.upgrade]
        wait = lead_days(study.shop, study.file.pace, part_class, purchase.seller)
    else:
        wait = {seller.id: seller.lead_days for seller in study.batch.sellers}.get(purchase.seller, 0)
    return wait * DAY + BY_NOON if wait else Elapsed(0) if is_sent(purchase) else DAY


def is_sent(purchase: Purchase) -> bool:
    """Whether a supplier sends it."""
    return purchase.is_paid and bool(purchase.seller) and purchase.kind != "donor"


def parcels_of(
    study: BatchStudy, answer: JointAnswer, calendar: Calendar, late: Mapping[BoughtKey, Elapsed] = NONE_LATE
) -> dict[date, list[tuple[str, str]]]:
    """By day: (supplier, what comes) of all that is on its way; what is had at once is left out."""
    costings = {name: one.costing for name, one in study.studies.items()}
    parcels: dict[date, list[tuple[str, str]]] = {}
    for purchase in (*answer.purchases, *answer.spares):
        if not is_sent(purchase):
            continue
        minute = arrival_of(study, purchase, late)
        if not minute:
            continue
        if purchase.kind == "part":
            what = costings[purchase.job].parts[purchase.upgrade].what
        elif purchase.kind == "spare":
            what = f"{purchase.number} spare ({study.shop.part_classes[purchase.what].what})"
        else:
            what = study.shop.consumables[purchase.what].what
        entry = (purchase.seller, what)
        day = calendar.moment(minute).date()
        if entry not in parcels.setdefault(day, []):
            parcels[day].append(entry)
    return dict(sorted(parcels.items()))


def minute_of(calendar: Calendar, when: datetime) -> Elapsed:
    """The elapsed minute of a moment, not below zero."""
    return max(Elapsed(0), calendar.elapsed_of(when))

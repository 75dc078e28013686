"""Where an instrument stands before any work: levels in tenths, amounts in thousandths."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal

from estimator.core.amounts import Tenths, Thousandths
from estimator.model import Attribute, Job, Shop
from estimator.model.problem import LEVEL_SCALE
from estimator.tables.conditions import holds
from estimator.tables.faults import faults_of, shows

THOUSAND = 1000


def tenths(level: Decimal) -> Tenths:
    """A level in tenths."""
    return Tenths(int((level * LEVEL_SCALE).quantize(Decimal(1), ROUND_HALF_UP)))


def thousandths(value: Decimal) -> Thousandths:
    """An amount in thousandths of its unit."""
    return Thousandths(int((value * THOUSAND).quantize(Decimal(1), ROUND_HALF_UP)))


def level_limits(attribute: Attribute, bass: bool) -> tuple[Decimal, ...]:
    """The amounts at which levels 1 to 4 begin on this kind of instrument."""
    shift = attribute.bass_shift if bass else Decimal(0)
    return tuple(limit + shift for limit in attribute.limits)


def level_now(shop: Shop, attribute: Attribute, job: Job) -> tuple[Decimal, bool]:
    """Today's level of an attribute and whether it is assumed.

    As found on the bench if the job says so; else the lowest that a measurement or an observed word
    tells; else the default level of the attribute.
    """
    found = job.found_levels.get(attribute.id)
    if found is not None and isinstance(found.value, Decimal):
        return found.value, found.assumed
    told = [*_measured_levels(shop, attribute, job), *_signs(shop, attribute, job)]
    if not told:
        return attribute.default_level or Decimal(0), True
    # what was looked at goes before what is assumed: a default must not hide a measurement
    known = [level for level, assumed in told if not assumed]
    return (min(known), False) if known else (min(level for level, _ in told), True)


def levels_now(shop: Shop, job: Job) -> dict[str, Decimal]:
    """Today's levels as they can be used: below every fault found and what other attributes allow."""
    held: dict[str, Decimal] = {}
    for fault in faults_of(shop.faults, job.instrument):
        held[fault.attribute] = min(fault.level, held.get(fault.attribute, fault.level))
    found: dict[str, Decimal] = {}
    return {
        a.id: _usable(shop, job, a.id, held, found) for a in shop.attributes.values() if a.kind == "level"
    }


def _usable(
    shop: Shop, job: Job, name: str, held: Mapping[str, Decimal], found: dict[str, Decimal]
) -> Decimal:
    """The level of one attribute as it can be used, and in ``found`` those that it rests on."""
    if name not in found:
        level = level_now(shop, shop.attributes[name], job)[0]
        level = min(level, held.get(name, level))
        for limit in shop.attribute_limits:
            if limit.attribute != name or not holds(limit.when, job.instrument):
                continue
            other = _usable(shop, job, limit.other, held, found)
            if limit.plus is not None:
                level = max(Decimal(0), min(level, other + limit.plus))
            if limit.needs is not None and other < limit.needs:
                level = Decimal(0)
        found[name] = level
    return found[name]


def measured_today(shop: Shop, attribute: Attribute, job: Job) -> tuple[Decimal, ...]:
    """What was measured of an attribute that has a unit, the low side first; empty where nobody measured it.

    Only where it tells today's level: not where a fault, or something else of the instrument, holds that lower.
    """
    reading = (
        job.instrument.get(attribute.intake_field) if attribute.intake_field and attribute.unit else None
    )
    if reading is None or reading.assumed or not isinstance(reading.value, Decimal):
        return ()
    told = _measured_levels(shop, attribute, job)
    if not told or told[0][0] != levels_now(shop, job)[attribute.id]:
        return ()
    low_side = attribute.intake_field.removesuffix("_b")
    other = job.instrument.get(f"{low_side}_t") if low_side != attribute.intake_field else None
    if other is None or other.assumed or not isinstance(other.value, Decimal):
        return (reading.value,)
    return reading.value, other.value


def _measured_levels(shop: Shop, attribute: Attribute, job: Job) -> list[tuple[Decimal, bool]]:
    reading = job.instrument.get(attribute.intake_field) if attribute.intake_field else None
    if reading is None or not isinstance(reading.value, Decimal):
        return []
    limits = level_limits(attribute, job.is_bass)
    if not limits:
        return [(reading.value, reading.assumed)]
    level = 0
    for limit in limits:
        reached = reading.value >= limit if attribute.better == "more" else reading.value <= limit
        if not reached:
            break
        level += 1
    # what is past its best value on the other side (a nut cut too low) tells no level above its fault
    beyond = [
        fault.level
        for fault in shop.faults
        if fault.attribute == attribute.id
        and fault.field == attribute.intake_field
        and shows(fault, reading)
        and holds(fault.when, job.instrument)
    ]
    return [(min([Decimal(level), *beyond]), reading.assumed)]


def _signs(shop: Shop, attribute: Attribute, job: Job) -> list[tuple[Decimal, bool]]:
    told = []
    for sign in shop.attribute_signs:
        if sign.attribute != attribute.id:
            continue
        reading = job.instrument.get(sign.field)
        if reading is None:
            continue
        value = reading.value
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if value == sign.word:
            told.append((sign.level, reading.assumed))
    return told

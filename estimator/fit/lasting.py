"""What an upgrade changes for good on this instrument, and which of that the job asks for or opens."""

from __future__ import annotations

from collections.abc import Iterable

from estimator.fit.candidates import names
from estimator.model import Demand, Effect, Job, Shop, Verdict
from estimator.model.pickups import pickup_at
from estimator.tables.conditions import OF_PART, holds


def changes_of(shop: Shop, job: Job, verdict: Verdict) -> tuple[str, ...]:
    """What an upgrade changes for good: by its row, and by its own work and the work that its fit forces."""
    return changes_by(shop, job, verdict, verdict.demands)


def changes_by(shop: Shop, job: Job, verdict: Verdict, work: Iterable[Demand]) -> tuple[str, ...]:
    """What an upgrade changes for good by its row, and by some of its work."""
    found: set[str] = set()
    for change in verdict.upgrade.row.changes:
        if change.condition in OF_PART:
            part, place = verdict.upgrade.part, pickup_at(verdict.upgrade.slot)
            held = OF_PART[change.condition](job.instrument, part, place)
        else:
            held = holds(change.condition, job.instrument)
        if held:
            found.add(change.name)
    for demand in work:
        lasting = shop.lasting.work.get(demand.task)
        if lasting is not None and holds(lasting.when, job.instrument):
            found.update(lasting.changes)
    return tuple(change for change in shop.lasting.changes if change in found)


def opened_by_name(job: Job, verdict: Verdict) -> bool:
    """Whether the job speaks of this very upgrade: opens or requires it, or brings the part that it fits."""
    upgrade = verdict.upgrade
    if any(names(upgrade, entry) for entry in (*job.open, *job.required)):
        return True
    return upgrade.part is not None and upgrade.part.id in job.parts


def asked_by_wishes(
    shop: Shop, effects: Iterable[Effect], unmet: Iterable[str]
) -> frozenset[tuple[str, str]]:
    """(upgrade, change) for all that a wish asks for which the instrument does not meet yet (``unmet``).

    A wish asks for a change only of what raises its own attribute: a wish for another sound asks for other
    pickups, not for a new neck that sounds different too.
    """
    wanted = set(unmet)
    return frozenset(
        (upgrade, change)
        for effect in effects
        if effect.attribute in wanted and effect.kind != "cap" and effect.attribute in shop.lasting.asking
        for upgrade in effect.given_by
        for change in shop.lasting.asking[effect.attribute].changes
    )

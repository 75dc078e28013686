"""What of packs comes when, and what each piece of work takes of them; who gets which: ``schedule.supplies``."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from msgspec import Struct, field

from estimator.batch.arrivals import NONE_LATE, BoughtKey, arrival_of
from estimator.batch.build import BatchStudy
from estimator.batch.records import MILLIONTHS, JointAnswer
from estimator.core.amounts import Elapsed
from estimator.model import Estimate
from estimator.model.operation import OperationName
from estimator.schedule.build import bench_lines, sittings_of
from estimator.schedule.supplies import Supply


class SoFar(Struct, frozen=True):
    """Of a plan taken up again: what comes ``late`` and when, and when each operation begins as ``planned`` (see ``schedule.supplies``)."""

    late: Mapping[BoughtKey, Elapsed] = field(default_factory=dict)
    planned: Mapping[str, Elapsed] = field(default_factory=dict)


FROM_THE_START = SoFar()


def supplies_of(
    study: BatchStudy, answer: JointAnswer, late: Mapping[BoughtKey, Elapsed] = NONE_LATE
) -> dict[str, Supply]:
    """By consumable of which packs are bought: what there is of it from which minute on, stock first."""
    packs = {pack.consumable: pack for pack in study.batch.packs}
    found: dict[str, list[tuple[Elapsed, int]]] = {}
    for purchase in answer.purchases:
        if purchase.kind == "pack":
            pack = packs[purchase.what]
            supply = found.setdefault(purchase.what, [(Elapsed(0), pack.stock)])
            supply.append((arrival_of(study, purchase, late), purchase.number * pack.holds))
    return {what: sorted(supply) for what, supply in found.items()}


def demands_of(study: BatchStudy, estimates: Mapping[str, Estimate]) -> dict[str, dict[str, int]]:
    """By operation: the millionths of a unit that it takes of each consumable that the batch buys for its job.

    A job whose own cash is limited buys its strings itself, and takes none of what the batch has.
    """
    shared = {(use.job, use.consumable) for use in study.batch.uses}
    found: dict[str, dict[str, int]] = {}
    for job, estimate in estimates.items():
        for name, lines in sittings_of(study.shop, bench_lines(study.shop, estimate)):
            taken: dict[str, Decimal] = {}
            for line in lines:
                for use in line.consumables:
                    taken[use.id] = taken.get(use.id, Decimal(0)) + use.quantity
            found[str(OperationName(job, name))] = {
                what: int(quantity * MILLIONTHS)
                for what, quantity in taken.items()
                if quantity > 0 and (job, what) in shared
            }
    return found

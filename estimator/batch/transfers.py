"""Parts that come off one instrument and go to another: from the batch file to the choice and the schedule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING

from msgspec.structs import replace

from estimator.batch.records import BoughtPart, JointAnswer, MovedPart
from estimator.choose.study import Study
from estimator.core.amounts import Cents, Elapsed
from estimator.core.errors import InputError, Issue, note, shown, unknown_word
from estimator.estimate.costing import is_active
from estimator.estimate.uplift import pay_for
from estimator.fit.candidates import names
from estimator.input.batch.load import BatchFile
from estimator.input.batch.transfers import Move
from estimator.model.operation import operation_name
from estimator.model.sale_problem import Sale
from estimator.schedule.build import DESK
from estimator.schedule.records import Link, Operation

if TYPE_CHECKING:
    from estimator.batch.build import BatchStudy

FITTING_EARLIER = ("strip", "clean", DESK)
"""Groups of tasks that need no part yet."""


def moved_parts(
    file: BatchFile, studies: Mapping[str, Study], parts: Sequence[BoughtPart]
) -> tuple[tuple[MovedPart, ...], tuple[BoughtPart, ...]]:
    """What may be moved, and the parts with those that only come that way marked.

    InputError where a move names an upgrade that its job does not offer, or one that needs no part.
    """
    issues: list[Issue] = []
    moves: list[MovedPart] = []
    wanted = {(part.job, part.upgrade): part for part in parts}
    for move in file.moves:
        off = _named(studies[move.from_job], move.from_upgrade)
        to = _named(studies[move.to_job], move.to_upgrade)
        for job, name, found in (
            (move.from_job, move.from_upgrade, off),
            (move.to_job, move.to_upgrade, to),
        ):
            if not found:
                known = [v.upgrade.id for v in studies[job].verdicts]
                issues.append(
                    unknown_word(
                        move.origin,
                        f"no upgrade of this name is offered on {job}",
                        name,
                        known,
                        "an upgrade that fit lists for this job",
                        "look at the spelling",
                    )
                )
        identity = f"{move.what or 'part'} off {move.from_job} ({move.from_upgrade})"
        for upgrade in to:
            part = wanted.get((move.to_job, upgrade)) or _without_price(studies[move.to_job], upgrade, move)
            if part is None:
                note(
                    issues,
                    move.origin,
                    f"nothing has to be bought for {upgrade} of {move.to_job}",
                    shown(move.to_upgrade),
                    "an upgrade whose part costs money, or or_bought = false for one that only comes this way",
                    "name the upgrade that the part serves",
                )
                continue
            wanted[move.to_job, upgrade] = replace(part, on_sale=part.on_sale and move.or_bought)
            if off:
                forgone = _forgone(studies[move.from_job].problem.sale, off)
                moves.append(MovedPart(identity, move.from_job, off, move.to_job, upgrade, forgone))
    if issues:
        raise InputError(issues)
    return tuple(moves), tuple(wanted.values())


def _named(study: Study, name: str) -> tuple[str, ...]:
    return tuple(sorted(v.upgrade.id for v in study.verdicts if names(v.upgrade, name)))


def _without_price(study: Study, upgrade: str, move: Move) -> BoughtPart | None:
    """A part that costs nothing in the job file is no purchase; it counts where it has to come by a move."""
    part = study.verdict(upgrade).upgrade.part
    if part is None or move.or_bought:
        return None
    return BoughtPart(move.to_job, upgrade, part.id, part.part_class, Cents(0))


def _forgone(sale: Sale | None, off: tuple[str, ...]) -> Cents:
    """What the part's own sale would have brought, in cents, its minutes at the wanted pay taken off."""
    if sale is None:
        return Cents(0)
    brings = [
        item.value - pay_for(item.minutes, sale.pay)
        for item in sale.removed
        if not set(off).isdisjoint(item.given_by)
    ]
    return max(Cents(0), *brings, Cents(0))


def with_moves(
    study: BatchStudy, answer: JointAnswer, operations: Iterable[Operation]
) -> tuple[Operation, ...]:
    """The operations with links: a part comes off before anything is done with it elsewhere.

    It is off when the task that takes such parts off is done (``off_in`` of ``part_classes.csv``), else when all
    the work that frees it is. Two instruments that swap parts that come off as their replacement is fitted take both off
    as they are unstrung: each cannot wait for the other.
    """
    found = {operation.id: operation for operation in operations}
    moves = {(m.id, m.to_job, m.upgrade): m for m in study.batch.moved}
    for purchase in answer.purchases:
        if purchase.kind != "moved":
            continue
        move = moves[purchase.what, purchase.job, purchase.upgrade]
        part = study.studies[move.to_job].verdict(move.upgrade).upgrade.part
        assert part is not None
        part_class = study.shop.part_classes[part.part_class]
        taking = _operations(
            study, answer, found, move.from_job, set(move.off) & set(answer.chosen[move.from_job])
        )
        off = next((t for t in part_class.off_in if any(_task(o) == t for o in taking)), None)
        fitting = [o for o in taking if _group(study, o) not in FITTING_EARLIER]
        freed = [o for o in taking if _task(o) == off] or fitting
        unstrung = [o for o in taking if _group(study, o) == "strip"]
        needing = {
            o.id: o
            for o in _operations(study, answer, found, move.to_job, {move.upgrade})
            if _group(study, o) not in FITTING_EARLIER
        } | {o.id: o for o in found.values() if o.job == move.to_job and _task(o) in part_class.worked_in}
        for before in (freed, unstrung, taking):
            linked = found | {
                o.id: replace(
                    o, after=tuple(dict.fromkeys((*o.after, *(Link(b.id, Elapsed(0)) for b in before))))
                )
                for o in needing.values()
            }
            if before and not _circle(linked.values()):
                found = linked
                break
    return tuple(found.values())


def _circle(operations: Iterable[Operation]) -> bool:
    """Whether operations wait for each other."""
    sorter = TopologicalSorter({o.id: [link.before for link in o.after] for o in operations})
    try:
        sorter.prepare()
    except CycleError:
        return True
    return False


def _task(operation: Operation) -> str:
    return operation_name(operation.id).task


def _group(study: BatchStudy, operation: Operation) -> str:
    return study.shop.tasks[_task(operation)].group


def _operations(
    study: BatchStudy, answer: JointAnswer, found: Mapping[str, Operation], job: str, upgrades: set[str]
) -> list[Operation]:
    """The operations of a job whose task any of the upgrades asks for."""
    chosen = frozenset(answer.chosen[job])
    tasks = {
        task
        for (task, _), ranks in study.studies[job].costing.ranks.items()
        for rank in ranks
        if is_active(rank.triggers, chosen) and any(who in upgrades for who, _ in rank.wanted_by)
    }
    return [o for o in found.values() if o.job == job and _task(o) in tasks]

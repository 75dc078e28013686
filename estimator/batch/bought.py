"""From an engine's answer to what is bought: for all jobs together, and for one that ordered by itself."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from estimator.batch.decomposition.columns import IntegerMaster, SetColumn
from estimator.batch.model import JointProgramme
from estimator.batch.purchasing import Deal, JointModel
from estimator.batch.records import Batch, JobChoice, OwnOrder, Purchase
from estimator.batch.verify import JointSolution, by_itself, cash_of, freight_of
from estimator.choose.measure import Measure
from estimator.choose.solvers.backends import OPTIMAL
from estimator.choose.solvers.solve import SolveResult
from estimator.core.amounts import Cents
from estimator.core.errors import EngineError

JointResult = tuple[SolveResult, JointModel, dict[str, tuple[str, ...]], dict[str, Measure]]


def in_job_order(batch: Batch, deals: Sequence[Deal]) -> list[Deal]:
    """Deals with what is in stock given to the first jobs of the batch, where it is all one who gets it.

    Upgrades that take as many of one part change places: what is paid stays the same.
    """
    parts = {(part.job, part.upgrade): part for part in batch.parts if batch.in_stock(part)}
    place = {key: number for number, key in enumerate(parts)}
    alike: dict[tuple[str, str, int, str], list[int]] = {}
    for number, deal in enumerate(deals):
        part = parts.get((deal.job, deal.upgrade))
        if part is not None and deal.kind in ("part", "stock"):
            alike.setdefault((part.shelf, part.quantity, part.list_cents, part.part_class), []).append(number)
    told = list(deals)
    held = {job.id for job in batch.jobs if job.cash is not None}
    for numbers in alike.values():
        # a limit on a job's own cash may hang on who gets it
        free = [n for n in numbers if deals[n].job not in held]
        owners = sorted((deals[n] for n in free), key=lambda deal: place[deal.job, deal.upgrade])
        ways = sorted((deals[n] for n in free), key=lambda deal: -deal.pieces)
        for number, owner, way in zip(sorted(free), owners, ways, strict=True):
            told[number] = replace(way, job=owner.job, upgrade=owner.upgrade)
    return told


def solution_of(batch: Batch, asked: JointResult) -> JointSolution:
    """The sets and purchases in an engine's answer."""
    outcome, built, chosen, measures = asked
    assert outcome.values is not None
    values = outcome.values
    deals = in_job_order(batch, [d for d in built.deals if values[d.column]])
    found = []
    for d in deals:
        if d.pieces:
            found.append(Purchase("stock", d.what, "", d.pieces, Cents(0), d.job, d.upgrade))
        if d.kind != "stock":
            number = values[d.column]
            paid = number * d.cents
            found.append(Purchase(d.kind, d.what, d.seller, number, paid, d.job, d.upgrade, d.off_job))
    purchases = tuple(found)
    purchases = _bought_for_the_rent(batch, purchases)
    return JointSolution(chosen, measures, purchases, freight_of(batch, purchases))


def _bought_for_the_rent(batch: Batch, purchases: tuple[Purchase, ...]) -> tuple[Purchase, ...]:
    """A tool that costs no more than its rents is bought: at the same price it is there afterwards."""
    for tool in batch.tools:
        rents = [p for p in purchases if (p.kind, p.what) == ("rent", tool.tool)]
        if rents and sum((p.cents for p in rents), Cents(0)) == tool.cents:
            others = tuple(p for p in purchases if p not in rents)
            purchases = (*others, Purchase("tool", tool.tool, "", 1, tool.cents))
    return purchases


def own_orders(batch: Batch, held: JointSolution) -> dict[str, OwnOrder]:
    """What each job with a limit on its own cash would buy by itself, for the least cash.

    EngineError where that is not found.
    """
    return {
        job.id: _own_order(batch, job, held)
        for job in batch.jobs
        if job.cash is not None and job.id in held.chosen
    }


def _own_order(batch: Batch, job: JobChoice, held: JointSolution) -> OwnOrder:
    alone = by_itself(batch, job, held)
    decided = SetColumn(held.chosen[job.id], held.measures[job.id], Cents(0))
    joint: JointProgramme = IntegerMaster(alone, {job.id: [decided]}, None)
    asked = joint.ask(lambda built: joint.sums(built, "cash"), [])
    if asked[0].status != OPTIMAL or asked[0].values is None:
        raise EngineError(f"no order was found for {job.id} by itself")
    found = solution_of(alone, asked)
    return OwnOrder(found.purchases, found.freight, cash_of(alone, found))

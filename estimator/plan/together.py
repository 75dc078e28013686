"""The public way to a joint choice: solve aim after aim, add up what is bought, let plain arithmetic judge."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

from estimator.choose.engines import FEASIBLE, OPTIMAL
from estimator.choose.measure import Measure
from estimator.choose.objectives import AIMS, aims_of
from estimator.choose.problem import Problem
from estimator.choose.solve import Outcome
from estimator.errors import EngineError
from estimator.plan.joint import COUNT, Joint, Shared
from estimator.plan.joint_records import Batch, JointAnswer, Purchase
from estimator.recheck import recheck, totals_of

Held = tuple[Sequence[int], Shared, dict[str, tuple[str, ...]], dict[str, Measure]]


def choose_jointly(
    batch: Batch, aims: str = "cost,cash", engine: str | None = None, time_limit: float | None = None
) -> JointAnswer:
    """The best sets for all jobs together, for a chain of aims (those of one job, except ``hourly``).

    ``cost`` and ``profit`` hold the shared money too: freight, dearer or cheaper sellers, tools bought,
    and packs left over where the batch counts them as lost. EngineError if an answer does not pass
    the recheck of any job.
    """
    begun = time.perf_counter()
    deadline = None if time_limit is None else begun + time_limit
    joint = Joint(batch, engine, deadline)
    kept: list[tuple[str, int]] = []
    first: Outcome | None = None
    held: Held | None = None
    status = OPTIMAL
    for aim in (*aims_of(aims), COUNT):  # of equals, fewer upgrades
        outcome, shared, chosen, measures = joint.ask(aim, kept)
        first = first or outcome
        if outcome.values is None:
            if aim != COUNT:
                status = outcome.status if held is None else FEASIBLE
            break
        held = (outcome.values, shared, chosen, measures)
        if aim != COUNT:
            status = outcome.status if status == OPTIMAL else status
        assert outcome.objective is not None
        kept.append((aim, outcome.objective))
    assert first is not None
    return answer_of(
        batch, tuple(aims_of(aims)), status, first, held, joint.rounds, time.perf_counter() - begun
    )


def answer_of(
    batch: Batch,
    aims: tuple[str, ...],
    status: str,
    first: Outcome,
    held: Held | None,
    rounds: int,
    seconds: float,
) -> JointAnswer:
    """What was found as a record, judged by plain arithmetic; ``first`` tells objective and bound."""
    if held is None:
        return JointAnswer(status, aims, {}, {}, (), {}, None, first.bound, None, 0, 0, rounds, seconds)
    values, shared, chosen, measures = held
    purchases, freight = _bought(values, shared)
    for job in batch.jobs:
        confirm(job.id, job.problem, chosen[job.id], measures[job.id])
    cash = _cash(batch, purchases, freight, chosen, measures)
    if batch.cash is not None and cash > batch.cash:
        raise EngineError(f"the plan lays out {cash} cents of {batch.cash}")
    turned = -1 if AIMS[aims[0]].turned else 1
    objective = first.objective
    gap = None
    if objective is not None and first.bound is not None:
        gap = 0.0 if first.status == OPTIMAL else max(0.0, (objective - first.bound) / max(1, abs(objective)))
    return JointAnswer(
        status, aims, chosen, measures, purchases, freight,
        None if objective is None else turned * objective,
        None if first.bound is None else turned * first.bound,
        gap, cash, sum(m.expected for m in measures.values()), rounds, seconds,
    )  # fmt: skip


def confirm(job: str, problem: Problem, chosen: tuple[str, ...], told: Measure) -> None:
    """Plain arithmetic judges a job's set; EngineError with all that is wrong with it."""
    breaches = recheck(problem, chosen, told.price)
    plain = totals_of(problem, chosen)
    for what in ("cost", "cash", "price_parts", "consumables", "expected"):
        if getattr(plain, what) != getattr(told, what):
            breaches.append(f"{what} adds up to {getattr(plain, what)}, not to {getattr(told, what)}")
    if breaches:
        raise EngineError(f"the answer for {job} did not pass the recheck: " + "; ".join(breaches))


def _bought(values: Sequence[int], shared: Shared) -> tuple[tuple[Purchase, ...], dict[str, int]]:
    purchases = [
        Purchase(d.kind, d.what, d.seller, values[d.column], values[d.column] * d.cents, d.job, d.upgrade)
        for d in shared.deals
        if values[d.column]
    ]
    by_column = dict(enumerate(values))
    freight = {seller: cost.value(by_column) for seller, cost in shared.freight.items()}
    used = {purchase.seller for purchase in purchases}
    return tuple(purchases), {seller: cents for seller, cents in freight.items() if seller in used}


def _cash(
    batch: Batch,
    purchases: Sequence[Purchase],
    freight: Mapping[str, int],
    chosen: Mapping[str, tuple[str, ...]],
    measures: Mapping[str, Measure],
) -> int:
    """All that is laid out: purchases and freight, and each job's own cash without what is bought jointly."""
    total = sum(freight.values()) + sum(p.cents for p in purchases)
    for job in batch.jobs:
        own = set(job.own_packs)
        total += measures[job.id].cash
        for piece in job.problem.pieces:
            active = piece.triggers is None or any(t in chosen[job.id] for t in piece.triggers)
            if active and piece.id in own:
                total -= piece.cash
    return total - sum(p.list_cents for p in batch.parts if p.upgrade in chosen[p.job])

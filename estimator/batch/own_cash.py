"""A job's own limit on its cash, as a batch holds it: against what the job would lay out if it ordered by itself.

A promise to one customer never hangs on another's instrument: the limit counts the whole packs that the job opens,
the parcels that it would have sent and the tools that it would get, whoever shares them in the end.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from estimator.batch.records import Batch, JobChoice
from estimator.core.amounts import Cents
from estimator.model.problem import Rule


def with_own_cash(batch: Batch) -> Batch:
    """The batch that holds the limits of its jobs on their own cash, in the place of the jobs' problems.

    What is on the shelf is reckoned to the first such job, in the order of the batch, that may use it, so that
    no limit hangs on what another job takes.
    """
    shelf = {pack.consumable: pack.stock for pack in batch.packs}
    jobs = []
    for job in batch.jobs:
        limits = _limits(job)
        if not limits and job.cash is None:
            jobs.append(job)
            continue
        most = min(
            [rule.most for rule in limits if rule.most is not None] + ([] if job.cash is None else [job.cash])
        )
        rules = tuple(rule for rule in job.problem.rules if rule not in limits)
        mine = {use.consumable for use in batch.uses if use.job == job.id}
        there = {what: shelf.pop(what) for what in sorted(mine) if what in shelf}
        problem = replace(job.problem, rules=rules)
        jobs.append(replace(job, problem=problem, cash=Cents(most), shelf=there))
    return replace(batch, jobs=tuple(jobs))


def _limits(job: JobChoice) -> list[Rule]:
    return [rule for rule in job.problem.rules if rule.kind == "money" and rule.on == "cash"]


def only(batch: Batch, job: JobChoice) -> Batch:
    """One job of a batch with all that it needs, and no limits shared with others."""
    tools = (replace(t, needed_by=tuple(n for n in t.needed_by if n[0] == job.id)) for t in batch.tools)
    return replace(
        batch,
        jobs=(job,),
        parts=tuple(p for p in batch.parts if p.job == job.id),
        uses=tuple(u for u in batch.uses if u.job == job.id),
        tools=tuple(tools),
        moved=(),
        cash=None,
        minutes=None,
    )


def as_if_alone(batch: Batch, job: JobChoice, pieces: Mapping[str, int] | None = None) -> Batch:
    """One job as if it ordered by itself: with its part of the shelf, its parcels and its tools.

    ``pieces``: the parts that it has from the stock; left out: all that there are. What nobody sells keeps its
    list price. The price of an instrument that is to be bought is no part of its limit.
    """
    alone = only(batch, replace(job, cash=None, buy_for=None))
    used = {use.consumable for use in alone.uses}
    return replace(
        alone,
        parts=tuple(part for part in alone.parts if part.on_sale),
        packs=tuple(
            replace(pack, stock=job.shelf.get(pack.consumable, 0))
            for pack in batch.packs
            if pack.consumable in used
        ),
        tools=tuple(tool for tool in alone.tools if tool.needed_by),
        pieces=batch.pieces if pieces is None else pieces,
    )

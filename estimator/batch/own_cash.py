"""A job's own limit on its cash, as a batch holds it: its parts, and the whole packs that it opens as if it bought alone."""

from __future__ import annotations

from math import gcd

from msgspec.structs import replace

from estimator.batch.records import Batch, JobChoice, Pack, PackUse
from estimator.core.amounts import Cents
from estimator.model import Packs
from estimator.model.problem import Rule


def with_own_cash(batch: Batch) -> Batch:
    """The batch whose jobs hold their own limits on cash with the whole packs that each of them opens.

    What is on the shelf is reckoned to the first such job, in the order of the batch, that may use it, so that
    no limit hangs on what another job takes. Where parts are in stock, the batch holds the limit in the place
    of the job's problem: it settles who gets them.
    """
    packs = {pack.consumable: pack for pack in batch.packs}
    shelf = {pack.consumable: pack.stock for pack in batch.packs}
    jobs = []
    for job in batch.jobs:
        if not _limits(job) and job.cash is None:
            jobs.append(job)
            continue
        uses: dict[str, list[PackUse]] = {}
        for use in batch.uses:
            if use.job == job.id:
                uses.setdefault(use.consumable, []).append(use)
        opened = tuple(_opened(packs[what], uses[what], shelf.pop(what, 0)) for what in sorted(uses))
        problem = replace(job.problem, limit_packs=opened)
        jobs.append(_held_by_the_batch(replace(job, problem=problem), batch))
    return replace(batch, jobs=tuple(jobs))


def _limits(job: JobChoice) -> list[Rule]:
    return [rule for rule in job.problem.rules if rule.kind == "money" and rule.on == "cash"]


def _opened(pack: Pack, uses: list[PackUse], stock: int) -> Packs:
    """Packs of one job's uses alone, beyond the stock reckoned to it, at the list price as its parts are."""
    shared = gcd(pack.holds, stock, *(use.millionths for use in uses))
    scaled = tuple((use.triggers, use.millionths // shared) for use in uses)
    return Packs(pack.consumable, pack.list_cents, pack.holds // shared, stock // shared, scaled)


def _held_by_the_batch(job: JobChoice, batch: Batch) -> JobChoice:
    """A job's limit on its own cash is held by the batch where it depends on what the job gets of the parts in stock."""
    limits = _limits(job)
    if not limits or not any(part.job == job.id and batch.in_stock(part) for part in batch.parts):
        return job
    rules = tuple(rule for rule in job.problem.rules if rule not in limits)
    most = min(rule.most for rule in limits if rule.most is not None)
    return replace(job, problem=replace(job.problem, rules=rules), cash=Cents(most))

"""The public way to a joint choice: solve aim after aim, add up what is bought, let plain arithmetic judge."""

from __future__ import annotations

import time
from collections.abc import Sequence
from math import gcd

from msgspec.structs import replace

from estimator.batch.bought import JointResult, own_orders, solution_of
from estimator.batch.model import COUNT, TIME, JointProgramme, Target
from estimator.batch.purchasing import JointModel
from estimator.batch.records import Batch, JointAnswer
from estimator.batch.verify import (
    JointSolution,
    cash_of,
    confirm,
    cost_of,
    gain_of,
    hourly_of,
    money_left,
    pay_of,
    rounded,
)
from estimator.choose.milp.earning import usual_aim
from estimator.choose.milp.linear import Linear
from estimator.choose.milp.objectives import MINUTES_PER_HOUR, OBJECTIVES, objectives_of
from estimator.choose.solvers.backends import FEASIBLE, INFEASIBLE, OPTIMAL
from estimator.choose.solvers.solve import SolveResult
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import EngineError

HOURLY = "hourly"
TIES = 2500
"""Upgrades over all jobs up to which ties are broken by their number too."""
COUNTED = {"cost": cost_of, "cash": cash_of, "profit": money_left, HOURLY: hourly_of}
"""Aims that plain arithmetic counts once more, in cents."""
SumLimit = tuple[Target, int]
"""A sum and the most that it may come to."""


def choose_jointly(
    batch: Batch, aims: str | None = None, engine: str | None = None, time_limit: float | None = None
) -> JointAnswer:
    """The best sets for all jobs together, for a chain of aims (those of one job; left out: ``usual_aims``).

    ``cost``, ``profit`` and ``hourly`` hold the shared money too: freight, dearer or cheaper sellers,
    tools bought, and packs left over where the batch counts them as lost. Of equals the one with the
    least cash is taken, so that nothing is bought that no aim asks for; of those, on a bench's worth of
    jobs, the one with fewer upgrades. EngineError if an answer does not pass the recheck.
    """
    begun = time.perf_counter()
    deadline = None if time_limit is None else begun + time_limit
    joint = JointProgramme(batch, engine, deadline)
    names = objectives_of(usual_aims(batch) if aims is None else aims)
    joint.prepare(
        [*(name for name in names if name != HOURLY), *(("profit", TIME) if HOURLY in names else ())]
    )
    kept: list[SumLimit] = []
    losing: int | None = None
    first: SolveResult | None = None
    held: JointSolution | None = None
    status = OPTIMAL
    ties = [] if "cash" in names else ["cash"]
    if "cost" not in names and any(job.problem.ways for job in batch.jobs):
        ties.append("cost")  # the same sets can be worked another way, which no other aim may speak of
    if sum(len(job.problem.options) for job in batch.jobs) <= TIES:
        ties.append(COUNT)
    for stage, aim in enumerate((*names, *ties)):
        asked_for = stage < len(names)
        if aim == HOURLY:
            asked, hold, losing = most_per_hour(joint, kept)
        else:
            asked = joint.ask(sum_of(joint, aim), kept)
            hold = ((sum_of(joint, aim), asked[0].objective or 0),)
        outcome = asked[0]
        first = first or outcome
        if outcome.values is None:
            if asked_for:
                status = outcome.status if held is None else FEASIBLE
            break
        held = solution_of(batch, asked)
        if asked_for:
            status = outcome.status if status == OPTIMAL else status
        kept.extend(hold)
        if aim == HOURLY and outcome.status != OPTIMAL:
            break  # without the best ratio there is nothing to keep while others are made small
    assert first is not None
    if losing is not None and held is not None:
        first = _with_loss(batch, names, first, held, losing)
    seconds = time.perf_counter() - begun
    answer = answer_of(batch, tuple(names), status, first, held, joint.rounds, seconds)
    return replace(answer, none_earns=losing is not None and names[0] == HOURLY)


def least_by_themselves(batch: Batch, jobs: Sequence[str], time_limit: float) -> dict[str, Cents] | None:
    """The least cents in sum that some jobs would lay out by themselves, their own limits on cash not held, all else kept.

    By job that is done; None where nothing keeps all else, or nothing was found in time.
    """
    joint = JointProgramme(batch, deadline=time.perf_counter() + time_limit)
    joint.unlimited = set(jobs)

    def laid(built: JointModel) -> Linear:
        total = Linear()
        for job in jobs:
            total.add(built.of(job, joint.own[job].cash))
        return total

    joint.prepare(())
    outcome, built, chosen, _ = joint.ask(laid, [])
    if outcome.values is None:
        return None
    values = dict(enumerate(outcome.values))
    return {job: Cents(built.of(job, joint.own[job].cash).value(values)) for job in jobs if job in chosen}


def usual_aims(batch: Batch) -> str:
    """What a batch aims at where nothing else is asked: what its jobs do alone, then the least cash."""
    return usual_aim(any(job.problem.billed for job in batch.jobs)) + ",cash"


def _with_loss(
    batch: Batch, names: Sequence[str], first: SolveResult, held: JointSolution, losing: int
) -> SolveResult:
    """The least loss counted once more; of sets with equal losses the hours differ, so theirs are the last set's."""
    if (plain := gain_of(batch, held)) != losing:
        raise EngineError(f"the least loss adds up to {plain}, not to {losing}")
    if names[0] != HOURLY:
        return first
    turned = -hourly_of(batch, held)
    return replace(first, objective=turned, bound=turned)


def sum_of(joint: JointProgramme, aim: str) -> Target:
    """The sum of an aim over all jobs of a joint model."""
    return lambda built: joint.sums(built, aim)


def times(joint: JointProgramme, built: JointModel) -> Linear:
    """Hands-on time of all jobs and their sales, in hundredths of a minute."""
    total = Linear()
    for job in joint.programmes:
        total.add(built.of(job, joint.own_sum(job, TIME)))
    return total


def most_per_hour(
    joint: JointProgramme, kept: Sequence[SumLimit]
) -> tuple[JointResult, tuple[SumLimit, ...], int | None]:
    """The sets that leave the most money for each hour over all jobs, by Dinkelbach's iteration, exactly.

    W. Dinkelbach, "On nonlinear fractional programming", Management Science 13(7), 1967, 492-498. The
    money is what is left after all costs and the price of the instruments; the wanted pay of each job,
    which its costs hold, is given back, so that the figure is what an hour truly brings. The outcome's
    objective is cents an hour, turned round, rounded half up. Also returns the sums to be held while other
    aims follow. Sets without any time are left aside.

    Where every choice leaves a loss once all time is paid, the one with the least loss is the best, as for
    one instrument (``choose.milp.objectives``), and that loss is returned too (cents, below zero; zero where
    nothing is bought, if that is open). More hours would only thin a loss out.
    """
    timed: tuple[SumLimit, ...] = ((lambda built: times(joint, built).times(-1), -1),)
    gained = gain_sum(joint)
    asked = joint.ask(gained, (*kept, *timed))
    left = asked[0].objective
    if left is not None and left <= 0:
        return _best_ratio(joint, (*kept, *timed), asked)
    if asked[0].status not in (OPTIMAL, INFEASIBLE):  # another may earn, but the time is over
        return (asked if left is None else (_at(joint, asked), *asked[1:])), (), None
    if all(job.buy_for is not None for job in joint.batch.jobs):
        nothing = joint.ask(gained, kept)
        if nothing[0].objective is not None and (left is None or nothing[0].objective < left):
            asked, timed, left = nothing, (), nothing[0].objective
    if left is None:
        return asked, (), None
    told = _at(joint, asked) if asked[2] else replace(asked[0], objective=0)
    if asked[0].status != OPTIMAL:
        return (replace(told, status=FEASIBLE, bound=None), *asked[1:]), (), None
    told = replace(told, status=asked[0].status, bound=told.objective)
    return (told, *asked[1:]), (*timed, (gained, left)), -left


def gain_sum(joint: JointProgramme) -> Target:
    """Money left less the price of the instruments there, turned round: cents."""
    paid = sum(
        (
            job.problem.sale.paid
            for job in joint.batch.jobs
            if job.problem.sale is not None and job.buy_for is None
        ),
        Cents(0),
    )

    def gained(built: JointModel) -> Linear:
        total = joint.sums(built, "profit")
        total.constant += paid
        return total

    return gained


def pay_sum(joint: JointProgramme) -> tuple[Target, int]:
    """What is earned with the wanted pay above the least given back (6000ths of a cent), and that least pay."""
    pays = {job.id: pay_of(job) for job in joint.batch.jobs}
    least = min(pays.values())
    gained = gain_sum(joint)

    def earned(built: JointModel) -> Linear:
        total = gained(built).times(-MINUTES_PER_HOUR)
        for job in joint.batch.jobs:
            total.add(built.of(job.id, joint.own_sum(job.id, TIME)), pays[job.id] - least)
        return total

    return earned, least


def _at(joint: JointProgramme, asked: JointResult) -> SolveResult:
    """An outcome with what an hour brings by it (turned round) as its objective, nothing proven."""
    assert asked[0].values is not None
    earned, least = pay_sum(joint)
    values = dict(enumerate(asked[0].values))
    top, bottom = earned(asked[1]).value(values), times(joint, asked[1]).value(values)
    return replace(asked[0], objective=-rounded(top, bottom) - least, bound=None, status=FEASIBLE)


def _best_ratio(
    joint: JointProgramme, kept: Sequence[SumLimit], asked: JointResult
) -> tuple[JointResult, tuple[SumLimit, ...], None]:
    """The best ratio from a first choice on."""
    earned, _ = pay_sum(joint)
    while True:
        assert asked[0].values is not None
        values = dict(enumerate(asked[0].values))
        spent = times(joint, asked[1])
        top, bottom = earned(asked[1]).value(values), spent.value(values)
        told = _at(joint, asked)
        whole = spent.times(top).add(earned(asked[1]), -bottom)
        shared = gcd(whole.constant, *whole.terms.values()) or 1
        target = _shorter(joint, earned, top, bottom, shared)
        better = joint.ask(target, kept)
        if better[0].objective is None or better[0].objective >= 0:
            known = better[0].bound
            # an engine's bound of sums this large is known to a few units only, far below any coin
            slack = 0 if known is None else -known * shared * 1000
            if known is not None and slack <= bottom * max(1, asked[1].model.bounds(spent)[0]):
                told = replace(told, status=OPTIMAL, bound=told.objective)
            return (told, *asked[1:]), (*kept, (target, 0)), None
        asked = better


def _shorter(joint: JointProgramme, earned: Target, top: int, bottom: int, shared: int) -> Target:
    """top x (time) - bottom x (what is earned), divided through: zero at the ratio top / bottom."""

    def target(built: JointModel) -> Linear:
        total = times(joint, built).times(top).add(earned(built), -bottom)
        return Linear({c: v // shared for c, v in total.terms.items()}, total.constant // shared)

    return target


def answer_of(
    batch: Batch,
    aims: tuple[str, ...],
    status: str,
    first: SolveResult,
    held: JointSolution | None,
    rounds: int,
    seconds: float,
) -> JointAnswer:
    """What was found as a record, judged by plain arithmetic; ``first`` tells objective and bound."""
    maximised = -1 if OBJECTIVES[aims[0]].maximised else 1
    bound = None if first.bound is None else maximised * first.bound
    if held is None:
        return JointAnswer(
            status, aims, {}, {}, (), {}, None, bound, None, Cents(0), Hundredths(0), rounds, seconds
        )
    held = replace(held, own=own_orders(batch, held))
    confirm(batch, held)
    objective = None if first.objective is None else maximised * first.objective
    if aims[0] in COUNTED:
        plain = COUNTED[aims[0]](batch, held)
        worse = objective is not None and maximised * plain > maximised * objective
        if worse or (plain != objective and first.status == OPTIMAL):
            raise EngineError(f"{aims[0]} adds up to {plain}, not to {objective}")
        objective = plain
    gap = None
    if objective is not None and bound is not None:
        gap = 0.0 if first.status == OPTIMAL else abs(objective - bound) / max(1, abs(objective))
    return JointAnswer(
        status,
        aims,
        dict(held.chosen),
        dict(held.measures),
        held.purchases,
        dict(held.freight),
        objective,
        bound,
        gap,
        cash_of(batch, held),
        sum((m.expected for m in held.measures.values()), Hundredths(0)),
        rounds,
        seconds,
        tuple(job.id for job in batch.jobs if job.id not in held.chosen),
        own_orders=held.own,
    )

"""Which way a batch is chosen: in one exact programme or apart, and why a donor is not bought."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_CEILING

from msgspec.structs import replace

from estimator.batch.decomposition.column_generation import KNOWN_OBJECTIVES, choose_by_columns
from estimator.batch.own_cash import only
from estimator.batch.records import Batch, JobChoice, JointAnswer
from estimator.batch.solve_exact import HOURLY, choose_jointly, least_by_themselves, usual_aims
from estimator.choose.milp.earning import aims_in, problem_for
from estimator.choose.milp.objectives import OBJECTIVES
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.core.amounts import Cents
from estimator.core.errors import InputError, Issue, Origin, note
from estimator.core.text import money, time_text

WHOLE = 8000
"""Upgrades over all jobs that are still chosen in one exact programme (200 jobs of 40: 83 s when measured)."""
PATIENCE = 300.0
"""Seconds the exact programme is given, and as many the jobs taken apart, where no limit was named."""
EARNING = ("profit", HOURLY)
NONE_NAMED: Mapping[str, str] = {}


def choose_batch(
    batch: Batch,
    aims: str | None = None,
    time_limit: float | None = None,
    currency: str = "",
    where: str = "",
    files: Mapping[str, str] = NONE_NAMED,
) -> JointAnswer:
    """The choice for all jobs: exact where that is within reach, else apart with a proven gap.

    Jobs that are left out come with the reason. InputError (naming the batch file, ``where``, or the file of
    the job, of ``files``) for an aim that these jobs cannot have. ``aims`` left out: those of ``usual_aims``;
    beyond one programme what the customers pay cannot be made least, so there the cost is.
    """
    if aims is None:
        aims = usual_aims(batch) if is_small(batch) else "cost,cash"
    first = aims_in(aims)[0]
    _check(batch, first, where)
    jobs = (
        replace(j, problem=problem_for(j.problem, aims, files.get(j.id, where or j.id))) for j in batch.jobs
    )
    batch = replace(batch, jobs=tuple(jobs))
    limit = PATIENCE if time_limit is None else time_limit
    answer = None
    if first not in KNOWN_OBJECTIVES or is_small(batch):
        answer = choose_jointly(batch, aims, time_limit=limit)
    unproven = answer is None or (answer.status != INFEASIBLE and answer.gap != 0)
    if unproven and first in KNOWN_OBJECTIVES:
        answer = better_of(answer, choose_by_columns(batch, first, limit))
    assert answer is not None
    if answer.status == INFEASIBLE:
        ways = ways_out(batch, currency)
        return replace(answer, ways_out=ways, unmet=() if ways else unmet(batch))
    return replace(answer, why_not=why_not(batch, answer, aims, currency))


def better_of(one: JointAnswer | None, other: JointAnswer) -> JointAnswer:
    """The better of two answers to one question, with the better of their bounds."""
    if one is None or INFEASIBLE in (one.status, other.status):
        return other if one is None or other.status == INFEASIBLE else one
    maximised = -1 if OBJECTIVES[one.aims[0]].maximised else 1
    values = [it for it in (one, other) if it.objective is not None]
    best = min(values, key=lambda it: maximised * (it.objective or 0), default=other)
    bounds = [maximised * it.bound for it in (one, other) if it.bound is not None]
    if best.objective is None or not bounds:
        return best
    bound = maximised * max(bounds)
    if bound == best.objective:
        return replace(best, status=OPTIMAL, bound=bound, gap=0.0)
    return replace(best, bound=bound, gap=abs(best.objective - bound) / max(1, abs(best.objective)))


def is_small(batch: Batch) -> bool:
    """Whether one exact programme for all jobs is within reach."""
    return sum(len(job.problem.options) for job in batch.jobs) <= WHOLE


def _check(batch: Batch, aim: str, where: str) -> None:
    issues: list[Issue] = []
    unsold = [job.id for job in batch.jobs if job.problem.sale is None]
    if aim == HOURLY and unsold:
        note(
            issues,
            Origin(where, None, "--aim"),
            "the most for an hour can only be sought where every instrument is to be sold",
            f"not for sale: {', '.join(unsold)}",
            "jobs of kind resale, or the aim profit (others then count by their cost)",
            "take them out of the batch, or choose another aim",
        )
    if aim == "profit" and len(unsold) == len(batch.jobs):
        note(
            issues,
            Origin(where, None, "--aim"),
            "nothing in this batch is to be sold, so no money can be left",
            "no job of kind resale",
            "the aim cost, or jobs of kind resale",
            "choose another aim",
        )
    optional = [job.id for job in batch.jobs if job.buy_for is not None]
    if optional and aim not in EARNING:
        note(
            issues,
            Origin(where, None, "[[job]] optional"),
            "what an instrument may bring counts only where money is the aim",
            f"optional: {', '.join(optional)}; aim: {aim}",
            " or ".join(EARNING),
            "add --aim profit, or take “optional” out",
        )
    if issues:
        raise InputError(issues)


def why_not(batch: Batch, answer: JointAnswer, aims: str, currency: str) -> Mapping[str, str]:
    """For each job left out, what would have come of buying it: asked again with the job held in."""
    first = aims_in(aims)[0]
    return {
        job.id: _why_not(batch, answer, job, first, currency)
        for job in batch.jobs
        if job.id in answer.left_out
    }


def _why_not(batch: Batch, answer: JointAnswer, job: JobChoice, first: str, currency: str) -> str:
    """Why one job is left out: what all jobs bring with it, against what they bring without it.

    Never what it brings by itself, unless that is said: parcels, packs and tools may be paid by others already.
    """
    assert job.buy_for is not None
    alone = choose_jointly(with_job_bought(only(batch, job), job), "profit")
    price = money(job.buy_for, currency)
    if alone.objective is None:
        return f"at {price} it cannot be brought to where its wish wants it"
    left = Cents(alone.objective - job.buy_for)
    by_itself = f"by itself it would leave {money(left, currency)}"
    if left <= 0:
        by_itself = f"at {price} it would lose {money(-left, currency)} by itself, its own parcels paid"
    if not is_small(batch):
        return by_itself if left <= 0 else f"{by_itself}, but cash and hours bring more elsewhere"
    if left <= 0 and (lost := _lost(batch, answer, job, first)) is not None and lost > 0:
        return f"at {price} it would lose {money(lost, currency)} at best"
    held = choose_jointly(with_job_bought(batch, job), first, time_limit=PATIENCE)
    if held.objective is None or answer.objective is None:
        return f"{by_itself}, but cash and hours do not reach for it"
    less = Cents(answer.objective - held.objective + (job.buy_for if first == "profit" else 0))
    if less <= 0:
        spends = held.cash + job.buy_for - answer.cash
        more = f", and {money(spends, currency)} more would be laid out" if spends > 0 else ""
        an_hour = " an hour" if first == HOURLY else ""
        return f"{by_itself}, but with it no more{an_hour} would be left in all: a tie{more}"
    unit = "an hour less" if first == HOURLY else "less in all"
    return f"{by_itself}, but with it {money(less, currency)} {unit} would be left"


def _lost(batch: Batch, answer: JointAnswer, job: JobChoice, first: str) -> Cents | None:
    """The cents by which what is left over all jobs falls if the job is bought; None where it cannot be or is not proven."""
    held = choose_jointly(with_job_bought(batch, job), "profit", time_limit=PATIENCE)
    # a job left out of the best choice leaves the best without it; by the hour that is another question
    rest = answer
    if first != "profit" and len(batch.jobs) > 1:
        rest = choose_jointly(without(batch, job), "profit", time_limit=PATIENCE)
    best = 0 if first != "profit" and len(batch.jobs) == 1 else rest.objective
    if held.objective is None or best is None or held.status != OPTIMAL or rest.status != OPTIMAL:
        return None
    assert job.buy_for is not None
    return Cents(best - (held.objective - job.buy_for))


def ways_out(batch: Batch, currency: str) -> tuple[str, ...]:
    """The least that each limit of the batch would have to be, the others kept; nothing where that does not help."""
    found = []
    freed = {"cash": replace(batch, cash=None), "hours": replace(batch, minutes=None)}
    for aim, freer in freed.items():
        if freer == batch or not is_small(batch):
            continue
        least = choose_jointly(freer, aim, time_limit=PATIENCE)
        if least.objective is not None:
            words = money(least.cash, currency) if aim == "cash" else time_text(least.minutes, ROUND_CEILING)
            found.append(f"{aim} of the batch: at least {words}")
    return (*found, *_own_ways_out(batch, currency))


def _own_ways_out(batch: Batch, currency: str) -> list[str]:
    """The least that the jobs' own limits on cash would have to be: of one alone, or of all where one does not help."""
    holders = [job.id for job in batch.jobs if job.cash is not None]
    if not is_small(batch):
        return []
    found = []
    for name in holders:
        if (least := least_by_themselves(batch, [name], PATIENCE)) is not None:
            found.append(f"the own limit on cash of {name}: at least {money(least[name], currency)}")
    if found or len(holders) < 2:
        return found
    least = least_by_themselves(batch, holders, PATIENCE)
    if least is None:
        return []
    told = ", ".join(f"of {name} at least {money(cash, currency)}" for name, cash in least.items())
    return [f"the own limits on cash together: {told}"]


def unmet(batch: Batch) -> tuple[str, ...]:
    """The jobs whose own wish and limits cannot be kept with the crew, tools and stock of the batch, shared with no other."""
    return tuple(
        job.id
        for job in batch.jobs
        if job.buy_for is None
        and choose_jointly(only(batch, job), "cost", time_limit=PATIENCE).status == INFEASIBLE
    )


def with_job_bought(batch: Batch, job: JobChoice) -> Batch:
    """The batch with a job bought for sure: its price is off the cash, and off the pay of an hour."""
    assert job.buy_for is not None
    problem = job.problem
    if problem.sale is not None:
        problem = replace(problem, sale=replace(problem.sale, paid=job.buy_for))
    jobs = tuple(replace(j, problem=problem, buy_for=None) if j.id == job.id else j for j in batch.jobs)
    return replace(batch, jobs=jobs, cash=None if batch.cash is None else batch.cash - job.buy_for)


def without(batch: Batch, job: JobChoice) -> Batch:
    """The batch as if one of its jobs were not there, nor what would be moved from it or to it."""
    tools = (replace(t, needed_by=tuple(n for n in t.needed_by if n[0] != job.id)) for t in batch.tools)
    return replace(
        batch,
        jobs=tuple(j for j in batch.jobs if j.id != job.id),
        parts=tuple(p for p in batch.parts if p.job != job.id),
        uses=tuple(u for u in batch.uses if u.job != job.id),
        tools=tuple(tools),
        moved=tuple(m for m in batch.moved if job.id not in (m.from_job, m.to_job)),
    )

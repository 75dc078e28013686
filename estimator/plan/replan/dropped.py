"""Jobs of a kept plan that the batch has no more (a customer takes the instrument back): the plan without them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import TypeVar

from msgspec.structs import replace

from estimator.batch.arrivals import BoughtKey
from estimator.batch.build import BatchStudy
from estimator.batch.records import JointAnswer, Purchase
from estimator.batch.verify import JointSolution, cash_of
from estimator.core.amounts import Hundredths
from estimator.core.errors import InputError, Issue, Origin
from estimator.core.text import money
from estimator.model.operation import operation_name
from estimator.plan.replan.progress import StateFile
from estimator.plan.replan.saved_plan import KeptPlan

ONE_JOB = frozenset({"part", "rent", "tool", "donor"})
"""Kinds of purchase that are for one job, where they name it; packs are shared."""
Value = TypeVar("Value")


def without_dropped(state: StateFile, study: BatchStudy) -> tuple[StateFile, tuple[Issue, ...]]:
    """The state of a kept plan for the jobs that the batch still has, and what to see to for each that is gone.

    What was bought for such a job alone is taken out of the order list, packs stay: others use them, or the shelf.
    InputError where a part that another job waits for was to come off it.
    """
    kept = state.kept
    gone = tuple(job for job in kept.jobs if job not in study.studies)
    if not gone or not set(study.studies) <= set(kept.jobs):
        return state, ()
    stranded = [p for p in kept.purchases if p.off_job in gone and p.job not in gone]
    if stranded:
        raise InputError(
            Issue(
                Origin(kept.file),
                f"{p.upgrade} of {p.job} was to be fitted with a part off {p.off_job}, which the batch has no more",
                next_step=f"take its [[moved_part]] out and plan anew without --state, or leave {p.off_job} in the batch",
            )
            for p in stranded
        )
    told = tuple(_told(kept, job, study) for job in gone)
    rest = _kept_without(kept, gone)
    return (
        replace(
            state,
            kept=rest,
            done=_left(state.done, gone),
            running=_left(state.running, gone),
            not_done=tuple(name for name in state.not_done if not _is_of(name, gone)),
            late=_still_awaited(state.late, gone),
            recorded=tuple(one for one in state.recorded if one.job not in gone),
        ),
        told,
    )


def summed_again(answer: JointAnswer, study: BatchStudy) -> JointAnswer:
    """The choice with the cash and the minutes of the jobs that it still has."""
    minutes = sum((one.expected for one in answer.measures.values()), Hundredths(0))
    held = JointSolution(answer.chosen, answer.measures, answer.purchases, answer.freight)
    return replace(answer, cash=cash_of(study.batch, held), minutes=minutes)


def _kept_without(kept: KeptPlan, gone: Collection[str]) -> KeptPlan:
    purchases = tuple(p for p in kept.purchases if p.job not in gone)
    chosen = {job: ids for job, ids in kept.chosen.items() if job not in gone}
    # what was proven was proven of all the jobs together
    choice = {
        **kept.choice,
        "status": "feasible",
        "objective": None,
        "bound": None,
        "gap": None,
        "left_out": [job for job in kept.choice["left_out"] if job not in gone],
        "why_not": {job: why for job, why in kept.choice["why_not"].items() if job not in gone},
    }
    return replace(
        kept,
        jobs=tuple(job for job in kept.jobs if job not in gone),
        chosen=chosen,
        choice=choice,
        purchases=purchases,
        late=_still_awaited(kept.late, gone),
        done=_left(kept.done, gone),
        work=tuple(one for one in kept.work if not _is_of(one.operation, gone)),
        finished={job: when for job, when in kept.finished.items() if job not in gone},
        promised={job: day for job, day in kept.promised.items() if job not in gone},
        done_by=_left(kept.done_by, gone),
        running=_left(kept.running, gone),
        planned=_left(kept.planned, gone),
        methods={job: of for job, of in kept.methods.items() if job not in gone},
        proof=None,
    )


def _is_of(operation: str, gone: Collection[str]) -> bool:
    return operation_name(operation).job in gone


def _left(named: Mapping[str, Value], gone: Collection[str]) -> dict[str, Value]:
    return {name: value for name, value in named.items() if not _is_of(name, gone)}


def _still_awaited(late: Mapping[BoughtKey, datetime], gone: Collection[str]) -> dict[BoughtKey, datetime]:
    """What has not come, but for the parts of jobs that are gone."""
    return {bought: when for bought, when in late.items() if not (bought[0] == "part" and bought[1] in gone)}


def _told(kept: KeptPlan, job: str, study: BatchStudy) -> Issue:
    """That a job is gone from the batch, and what was bought for it alone."""
    own = [p for p in kept.purchases if p.job == job and p.is_paid and p.kind in ONE_JOB]
    currency = study.shop.terms.currency
    parts = ", ".join(_bought(p, currency) for p in own)
    return Issue(
        Origin(kept.file),
        f"{job} was planned and is not in the batch any more: it is taken out of the week",
        f"bought for it alone: {parts}" if parts else "nothing bought for it alone",
        "",
        f"put its [[job]] back if it is to be done; {'send back or keep what came for it, ' if parts else ''}"
        "packs on the order list stay as ordered",
        "warning",
    )


def _bought(purchase: Purchase, currency: str) -> str:
    seller = f" of {purchase.seller}" if purchase.seller else ""
    return f"{purchase.what}{seller}, {money(purchase.cents, currency)}"

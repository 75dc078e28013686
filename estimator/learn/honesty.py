"""How honest the estimates are: bias, spread, and how many jobs stayed within their 80 and 95 % points.

A job counts where nearly all of its quoted minutes have times beside them. Its points are worked out from the
quoted minutes of its tasks, the spreads of the table of tasks, ``shared_cause`` and ``skew``; rework and hidden
faults, which are rare and large, are not in them. Once with the minutes as quoted, once with the learned levels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from math import ceil, exp, fsum, log, sqrt
from types import MappingProxyType

from msgspec import Struct

from estimator.core.text import count
from estimator.estimate.three_point import factor_of, joint_sd, mean_of, sd_of
from estimator.learn.accept import Measured
from estimator.learn.evidence import InForce, evidence, works_of
from estimator.ledger.store import Ledger, Row
from estimator.model import Shop
from estimator.model import Task as ShopTask

NOTHING: Mapping[tuple[str, str], float] = MappingProxyType({})
POINTS = (80, 95)
#: the share of a job's quoted minutes that must have times beside them
COVERED = 0.9
#: this many jobs on the far side of a point are expected before its coverage says anything
EXPECTED_OUT = 4
#: with fewer jobs than this the bias of a task says nothing
EARLY_TASK = 5
#: jobs that the shared cause in use counts as, against the one seen (memory)
CAUSE_WEIGHT = 20
CAUSES = tuple(n / 100 for n in range(0, 91, 5))
TWO_PLACES = Decimal("0.01")
#: a shared cause nearer to the one in use than this is no change
LEAST_STEP = Decimal("0.05")


class Bias(Struct, frozen=True):
    """Taken over reckoned of a task or of whole jobs: the factor of the mean, the spread of the logarithm."""

    what: str
    jobs: int
    bias: float
    spread: float
    reckoned_spread: float | None
    early: bool


class Coverage(Struct, frozen=True):
    """How many of so many jobs stayed within the point that so many per cent of jobs should."""

    percent: int
    with_learned: bool
    jobs: int
    within: int

    @property
    def early(self) -> bool:
        """Whether too few jobs have been done to tell."""
        return self.jobs < jobs_needed(self.percent)


class Honesty(Struct, frozen=True):
    """The whole report; ``cause``: the shared cause under which the jobs fit their points, None: too early to tell."""

    whole: Bias | None
    tasks: tuple[Bias, ...]
    coverage: tuple[Coverage, ...]
    incomplete: int
    cause_now: Decimal
    cause: Decimal | None

    @property
    def settings(self) -> dict[str, Measured]:
        """The settings that own coverage corrects, with what each rests on."""
        if self.cause is None or abs(self.cause - self.cause_now) < LEAST_STEP:
            return {}
        return {
            "shared_cause": Measured(
                self.cause, f"own ledger: coverage of {count(self.coverage[0].jobs, 'job')}"
            )
        }


def jobs_needed(percent: int) -> int:
    """Jobs from which the coverage of a point can be told: some beyond it are to be expected by then."""
    return ceil(EXPECTED_OUT / (1 - percent / 100) - 1e-9)


class _Job(Struct, frozen=True):
    """Minutes of one job by task as reckoned, with and without what is learned, their spreads, and what it took."""

    quoted: tuple[float, ...]
    learned: tuple[float, ...]
    shares: tuple[float, ...]
    taken: float

    def point(self, percent: float, cause: float, skew: float, learned: bool) -> float:
        """The minutes within which so many per cent of such jobs stay."""
        minutes = self.learned if learned else self.quoted
        sd = joint_sd((m * share for m, share in zip(minutes, self.shares, strict=True)), cause)
        return fsum(minutes) + factor_of(percent, skew) * sd


def linear_spread(task: ShopTask) -> float:
    """The handbook's spread of one job's time of a task, as a share of its mean."""
    mean = mean_of(task.run_min_low, task.run_min_likely, task.run_min_high, task.reading)
    return float(sd_of(task.run_min_low, task.run_min_high, task.reading) / mean) if mean else 0.0


def honesty(
    ledger: Ledger,
    shop: Shop,
    factors: Mapping[str, float],
    explained: Mapping[tuple[str, str], float] = NOTHING,
) -> Honesty:
    """The report over all finished jobs; ``factors`` are the learned levels against the handbook.

    ``explained``, by job and task: what the difficulty factors say of the logarithm of its time.
    """
    works = works_of(shop)
    rows = [row for row in evidence(ledger) if row["way"] in works]
    planned = _planned(ledger)
    in_force = InForce(ledger)
    by_job: dict[str, list[Row]] = {}
    by_task: dict[str, list[float]] = {}
    for row in rows:
        by_job.setdefault(row["job"], []).append(row)
        by_task.setdefault(row["task"], []).append(row["taken_s"] / row["planned_s"])
    jobs: list[_Job] = []
    for name, mine in by_job.items():
        if sum(row["planned_s"] for row in mine) >= COVERED * planned[name]:
            jobs.append(_job(mine, works, factors, explained, in_force))
    skew, cause = float(shop.terms.skew), float(shop.terms.shared_cause)
    coverage = tuple(
        Coverage(
            percent, learned, len(jobs), sum(j.taken <= j.point(percent, cause, skew, learned) for j in jobs)
        )
        for learned in (False, True)
        for percent in POINTS
    )
    ratios = [job.taken / fsum(job.quoted) for job in jobs]
    spread = fsum(j.point(84.1345, cause, 0.0, False) / fsum(j.quoted) - 1 for j in jobs) / max(1, len(jobs))
    return Honesty(
        _bias("whole jobs", ratios, spread, jobs_needed(80)) if jobs else None,
        tuple(
            _bias(name, by_task[name], linear_spread(shop.tasks[name]), EARLY_TASK)
            for name in shop.tasks
            if name in by_task
        ),
        coverage,
        len(by_job) - len(jobs),
        shop.terms.shared_cause,
        _fitting_cause(jobs, cause, skew),
    )


def _planned(ledger: Ledger) -> dict[str, int]:
    return {
        row["job"]: row["seconds"]
        for row in ledger.rows(
            "SELECT job.id AS job, SUM(quote_task.seconds) AS seconds FROM job"
            " JOIN quote_task ON quote_task.quote = job.accepted_quote GROUP BY job.id"
        )
    }


def _job(
    rows: Sequence[Row],
    works: Mapping[str, ShopTask],
    factors: Mapping[str, float],
    explained: Mapping[tuple[str, str], float],
    in_force: InForce,
) -> _Job:
    quoted = tuple(row["planned_s"] / 60 for row in rows)
    more = (
        (factors[row["way"]] / in_force.at(row["way"], row["at"]) if row["way"] in factors else 1.0)
        * exp(explained.get((row["job"], row["task"]), 0.0))
        for row in rows
    )
    return _Job(
        quoted,
        tuple(minutes * factor for minutes, factor in zip(quoted, more, strict=True)),
        tuple(linear_spread(works[row["way"]]) for row in rows),
        fsum(row["taken_s"] for row in rows) / 60,
    )


def _bias(what: str, ratios: Sequence[float], reckoned: float, needed: int) -> Bias:
    logs = [log(ratio) for ratio in ratios]
    mean = fsum(logs) / len(logs)
    spread = sqrt(fsum((value - mean) ** 2 for value in logs) / (len(logs) - 1)) if len(logs) > 1 else 0.0
    return Bias(
        what,
        len(logs),
        exp(mean + spread * spread / 2),
        spread,
        sqrt(log(1 + reckoned * reckoned)),
        len(logs) < needed,
    )


def _fitting_cause(jobs: Sequence[_Job], cause: float, skew: float) -> Decimal | None:
    """The shared cause under which four of five jobs stay within their 80 % point, drawn towards the one in use."""
    if len(jobs) < jobs_needed(80):
        return None
    wanted = 0.8 * len(jobs)

    def miss(trial: float) -> tuple[float, float]:
        within = sum(job.taken <= job.point(80, trial, skew, True) for job in jobs)
        return abs(within - wanted), abs(trial - cause)

    seen = min(CAUSES, key=miss)
    weight = len(jobs) / (len(jobs) + CAUSE_WEIGHT)
    return Decimal(repr(weight * seen + (1 - weight) * cause)).quantize(TWO_PLACES, ROUND_HALF_UP)

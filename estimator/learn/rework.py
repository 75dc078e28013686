"""Odds that work goes wrong, from the times that did it again: beta-binomial, by task, in closed form.

The handbook's odds p count as a beta curve with its mean at p and the weight of two things gone wrong: as much as
2 / p chances, at least 20 (memory). With k things gone wrong in n own chances the odds are
(p x weight + k) / (weight + n). A chance is an occurrence, or a unit of what is counted (a hole, a screw); one that a
quote reckoned at twice the table's odds, for want of skill or for what was found, counts as two.

A shop that does not say what it did again has not worked without faults: only jobs begun since the first time
that was recorded as done again count, that job among them (which leans a little to the higher odds).
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from math import ceil, sqrt

from estimator.core.text import count
from estimator.estimate.rework import PER_UNIT
from estimator.learn.evidence import FINISHED
from estimator.learn.values import Priors, Value
from estimator.ledger.store import Ledger, Row
from estimator.model import Shop

#: things gone wrong, and chances at least, that the handbook's odds count as
EVENTS, LEAST_WEIGHT = 2.0, 20.0
#: so many things have to have gone wrong, or to have been expected to, before own odds are taken over (memory)
ENOUGH = 3
PART, FILE, COLUMN = "rework", "tasks.csv", "rework_pct"
TENTH, MOST = Decimal("0.1"), Decimal(100)


def weight_of(odds: float) -> float:
    """The chances that the handbook's odds count as."""
    return max(LEAST_WEIGHT, EVENTS / odds) if odds > 0 else LEAST_WEIGHT


def posterior(odds: float, weight: float, chances: float, wrong: int) -> tuple[float, float]:
    """Mean and spread of the beta curve after so many own chances, of which so many went wrong."""
    whole = weight + max(chances, wrong)
    mean = (odds * weight + wrong) / whole
    return mean, sqrt(mean * (1 - mean) / (whole + 1))


def evidence(ledger: Ledger) -> list[Row]:
    """Per finished job and task of which times were recorded: chances in hundredths (None: not kept), gone wrong."""
    marks = ", ".join("?" * len(FINISHED))
    return ledger.rows(
        "WITH done AS (SELECT job, task, MIN(COALESCE(began_at, at)) AS since,"
        "  SUM(redone AND seconds > 0) AS wrong FROM time_taken WHERE kind = 'hands' GROUP BY job, task),"
        " begun AS (SELECT job, MIN(since) AS since, SUM(wrong) AS wrong FROM done GROUP BY job)"
        " SELECT job.id AS job, done.task, done.wrong, quote_chance.hundredths FROM job"
        " JOIN begun ON begun.job = job.id JOIN done ON done.job = job.id"
        " JOIN quote_task ON quote_task.quote = job.accepted_quote AND quote_task.task = done.task"
        " LEFT JOIN quote_chance ON quote_chance.quote = job.accepted_quote AND quote_chance.task = done.task"
        f" WHERE job.state IN ({marks})"
        " AND begun.since >= (SELECT MIN(since) FROM begun WHERE wrong > 0)"
        " ORDER BY job.id, done.task",
        FINISHED,
    )


def rework(ledger: Ledger, shop: Shop) -> tuple[Value, ...]:
    """The odds of every task that the ledger speaks of."""
    chances: dict[str, float] = {}
    wrong: dict[str, int] = {}
    for row in evidence(ledger):
        task = shop.tasks.get(row["task"])
        if task is None or (row["hundredths"] is None and task.driver in PER_UNIT):
            continue  # how many holes an old quote counted is not known
        many = 1.0 if row["hundredths"] is None else row["hundredths"] / 100
        chances[task.id] = chances.get(task.id, 0.0) + many
        wrong[task.id] = wrong.get(task.id, 0) + min(row["wrong"], max(1, ceil(many)))
    priors = Priors(ledger)
    return tuple(
        _value(task, shop.tasks[task].rework_pct, chances[task], wrong[task], priors)
        for task in sorted(chances)
    )


def _value(task: str, now: Decimal, chances: float, wrong: int, priors: Priors) -> Value:
    prior = priors.of(FILE, task, COLUMN, now)
    odds = float(prior) / 100
    weight = weight_of(odds)
    mean, _ = posterior(odds, weight, chances, wrong)
    after = min(MOST, (Decimal(repr(mean)) * 100).quantize(TENTH, ROUND_HALF_UP))
    early = max(wrong, odds * chances) < ENOUGH
    words = f"{wrong} gone wrong of {count(round(chances), 'chance', 'chances')}"
    return Value(PART, FILE, task, COLUMN, prior, now, after, round(chances), words, early)

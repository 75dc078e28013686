"""What the ledger says of task times, job by job: what a task took by hand over what its accepted quote reckoned.

Before the job came back, if it did, and without what did again what had gone wrong. Each way to do a task counts
for itself; the usual one bears the name of the task.
"""

from __future__ import annotations

from math import log, sqrt

from estimator.estimate.three_point import mean_of, sd_of
from estimator.estimate.ways import JOINED, way_id
from estimator.ledger.states import DONE
from estimator.ledger.store import Ledger, Row
from estimator.model import Shop, Task
from estimator.tables.methods import done_by

#: the least spread of the logarithm of one job's time (memory)
LEAST_SPREAD = 0.1
WHOLE = 1_000_000
OTHER_WAYS = "LEFT JOIN quote_way ON quote_way.quote = quote_task.quote AND quote_way.task = quote_task.task"
FINISHED = (*DONE, "ready", "told", "listed", "returned")


def evidence(ledger: Ledger) -> list[Row]:
    """Per finished job and task: the ``way`` it was reckoned with (the task itself for the usual one), seconds
    reckoned and taken, the quote's moment; first jobs first.
    """
    marks = ", ".join(f":state{number}" for number in range(len(FINISHED)))
    return ledger.rows(
        "WITH back AS (SELECT job, MIN(at) AS at FROM step WHERE state = 'returned' GROUP BY job),"
        " taken AS (SELECT spell.job, spell.task, SUM(spell.seconds) AS seconds FROM time_taken AS spell"
        "  LEFT JOIN back ON back.job = spell.job WHERE spell.kind = 'hands' AND NOT spell.redone"
        "  AND (back.at IS NULL OR spell.at < back.at) GROUP BY spell.job, spell.task)"
        " SELECT job.id AS job, quote_task.task, COALESCE(quote_task.task || :joined || quote_way.method, quote_task.task)"
        " AS way, quote.number AS quote, quote_task.seconds AS planned_s, taken.seconds AS taken_s,"
        " quote.at FROM job JOIN quote ON quote.number = job.accepted_quote"
        " JOIN quote_task ON quote_task.quote = quote.number"
        f" {OTHER_WAYS}"
        " JOIN taken ON taken.job = job.id AND taken.task = quote_task.task"
        f" WHERE job.state IN ({marks}) AND quote_task.seconds > 0 AND taken.seconds > 0"
        " ORDER BY quote.at, job.id, quote_task.task",
        {"joined": JOINED, **{f"state{number}": state for number, state in enumerate(FINISHED)}},
    )


def works_of(shop: Shop) -> dict[str, Task]:
    """Every task as the shop usually does it, by its id, and every other way to do it, by the way's name."""
    found = dict((shop.as_usual or shop).tasks)
    for task, methods in shop.ways.methods.items():
        found |= {
            way_id(task, name): done_by(found[task], it) for name, it in methods.items() if not it.usual
        }
    return found


class InForce:
    """By what the times of each task or way were multiplied at a moment: what was taken over by then and not taken back."""

    def __init__(self, ledger: Ledger) -> None:
        self._by_task: dict[str, list[Row]] = {}
        for row in ledger.rows("SELECT task, millionths, at, taken_back_at FROM learned ORDER BY at, id"):
            self._by_task.setdefault(row["task"], []).append(row)

    def at(self, task: str, moment: str | None) -> float:
        """The factor of a task at a moment as the ledger keeps it; None: now."""
        for row in reversed(self._by_task.get(task, ())):
            begun = moment is None or row["at"] <= moment
            over = row["taken_back_at"] is not None and (moment is None or row["taken_back_at"] <= moment)
            if begun and not over:
                return float(row["millionths"]) / WHOLE
        return 1.0


def log_spread(task: Task) -> float:
    """The handbook's spread of one job's time of a task, of its logarithm."""
    readings = task.run_min_low, task.run_min_likely, task.run_min_high
    mean = mean_of(*readings, task.reading)
    if not mean:
        return LEAST_SPREAD
    share = float(sd_of(readings[0], readings[2], task.reading) / mean)
    return max(LEAST_SPREAD, sqrt(log(1 + share * share)))

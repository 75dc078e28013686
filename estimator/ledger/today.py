"""What there is to do at the bench now: the steps of every job under way, what of them is done, and what cures till when."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from msgspec import Struct

from estimator.core.amounts import Seconds
from estimator.ledger.clock import Moment, kept_moment
from estimator.ledger.records import Running
from estimator.ledger.states import UNDER_WAY
from estimator.ledger.store import Ledger, Row

OPEN, RUNS, PAUSED, DONE = "open", "runs", "paused", "done"


class BenchStep(Struct, frozen=True):
    """A step of a job under way: how it stands, planned by the accepted quote (None: not in it), taken by hand.

    ``times``: how many were recorded, for work of several sittings.
    """

    job: str
    what: str
    promised: str | None
    task: str
    planned_s: Seconds | None
    taken_s: Seconds
    times: int
    stands: str


class Cure(Struct, frozen=True):
    """Work that cures by itself till a moment; ``clocked``: its own clock runs, else it counts from when hands left it."""

    job: str
    task: str
    until: Moment
    clocked: bool


def steps(ledger: Ledger) -> list[BenchStep]:
    """The steps of all jobs under way: by day promised and job, each job's in the order of its accepted quote.

    Work that was begun beside the quote stands at the end of its job. A step is done when a time of it is recorded
    and no clock of it is on; what only did again what had gone wrong does not make it done.
    """
    marks = ", ".join("?" * len(UNDER_WAY))
    jobs = ledger.rows(
        f"SELECT id AS job, what, promised, state, accepted_quote FROM job WHERE state IN ({marks})"
        " ORDER BY COALESCE(promised, '9999'), id",
        UNDER_WAY,
    )
    return [step for job in jobs for step in _steps_of(ledger, job)]


def _steps_of(ledger: Ledger, job: Row) -> list[BenchStep]:
    planned = {
        str(row["task"]): row["seconds"]
        for row in ledger.rows(
            "SELECT task, seconds FROM quote_task WHERE quote = ? ORDER BY rowid", (job["accepted_quote"],)
        )
    }
    taken = {
        str(row["task"]): row
        for row in ledger.rows(
            "SELECT task, SUM(seconds) AS seconds, SUM(redone = 0) AS times FROM time_taken"
            " WHERE job = ? AND kind = 'hands' AND seconds > 0 GROUP BY task ORDER BY MIN(id)",
            (job["job"],),
        )
    }
    clocks = {
        str(row["task"]): PAUSED if row["since_at"] is None else RUNS
        for row in ledger.rows(
            "SELECT task, since_at FROM running WHERE job = ? AND kind = 'hands' ORDER BY id", (job["job"],)
        )
    }
    return [
        BenchStep(
            job["job"],
            job["what"],
            job["promised"],
            task,
            planned.get(task),
            taken[task]["seconds"] if task in taken else Seconds(0),
            taken[task]["times"] if task in taken else 0,
            clocks.get(task) or (DONE if task in taken and taken[task]["times"] else OPEN),
        )
        for task in dict.fromkeys((*planned, *taken, *clocks))
    ]


def cures(ledger: Ledger, waits: Mapping[str, int], now: Moment) -> list[Cure]:
    """What cures now on jobs under way, and till when; ``waits``: seconds by task that has to rest when it is done.

    By the clock of the cure where one was begun, else from the moment at which the last time of the task was
    recorded: that is when hands left it, or later.
    """
    marks = ", ".join("?" * len(UNDER_WAY))
    found = []
    clocked = set()
    for one in ledger.told(
        Running, "SELECT * FROM running WHERE kind = 'cure' AND since_at IS NOT NULL ORDER BY id"
    ):
        clocked.add((one.job, one.task))
        found.append(Cure(one.job, one.task, _later(one.began, waits.get(one.task, 0)), True))
    rows = ledger.rows(
        "SELECT time_taken.job, task, MAX(at) AS at, ahead_min, MAX(CASE WHEN time_taken.kind = 'cure' THEN at END) AS cured"
        f" FROM time_taken JOIN job ON job.id = time_taken.job WHERE job.state IN ({marks}) AND seconds > 0"
        " GROUP BY time_taken.job, task ORDER BY time_taken.job, task",
        UNDER_WAY,
    )
    for row in rows:
        until = _later(kept_moment(row["at"], row["ahead_min"]), waits.get(row["task"], 0))
        # a cure that was ended by hand is over
        if (row["job"], row["task"]) not in clocked and until > now and row["cured"] != row["at"]:
            found.append(Cure(row["job"], row["task"], until, False))
    return sorted(found, key=lambda one: (one.until, one.job, one.task))


def _later(since: Moment, seconds: int) -> Moment:
    return Moment(since.utc + timedelta(seconds=seconds), since.ahead_min)

"""What a choice or a plan reads of the ledger: the stock that is free, where the job or the batch names none, what is
declined, and how often work comes up."""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

from msgspec.structs import replace

from estimator.core.errors import Issue, warning
from estimator.input.batch.load import BatchFile
from estimator.input.batch.stock import kept_from_stock, things_called
from estimator.input.job.load import is_idle
from estimator.ledger.shelf import YEAR_DAYS
from estimator.ledger.stock import free_stock
from estimator.ledger.store import Ledger
from estimator.model import Job, Shop

EXAMPLE, EXAMPLES = "example:", "example_jobs"
NAMED = "names a stock of its own, which is taken; the ledger's is left aside"


def job_with_stock(ledger: Ledger, shop: Shop, job: Job) -> tuple[Job, tuple[Issue, ...]]:
    """The job with what it may take of the ledger's stock; a warning, and the job as it is, where it names its own."""
    if job.stock:
        return job, (warning(ledger.where, f"{job.id} {NAMED}"),)
    found = _counted(shop, {job.id: job}, free_stock(ledger, frozenset({job.id})))
    return replace(job, stock=MappingProxyType(found)), ()


def batch_with_stock(ledger: Ledger, shop: Shop, file: BatchFile) -> tuple[BatchFile, tuple[Issue, ...]]:
    """The batch with the ledger's stock for all its jobs together; likewise where it or a job of it names one."""
    jobs = {entry.id: entry.job for entry in file.jobs}
    if file.stock or any(job.stock for job in jobs.values()):
        return file, (warning(ledger.where, f"{file.id} {NAMED}"),)
    mine = frozenset({*jobs, *ledger_names(ledger, file).values()})
    found = _counted(shop, jobs, free_stock(ledger, mine))
    issues = kept_from_stock(shop, jobs, found, ledger.where)
    return replace(file, stock=MappingProxyType(found)), tuple(issues)


def jobs_of_a_year(ledger: Ledger, today: date) -> dict[str, int]:
    """By task, how many jobs had time at the bench recorded on it in the year up to today, by the shop's clock."""
    rows = ledger.rows(
        "SELECT task, COUNT(DISTINCT job) AS jobs FROM time_taken WHERE kind = 'hands' AND seconds > 0"
        " AND date(at, ahead_min || ' minutes') BETWEEN ? AND ? GROUP BY task ORDER BY task",
        ((today - timedelta(days=YEAR_DAYS - 1)).isoformat(), today.isoformat()),
    )
    return {row["task"]: row["jobs"] for row in rows}


def without_declined(ledger: Ledger, file: BatchFile) -> tuple[BatchFile, tuple[Issue, ...]]:
    """The batch without the jobs that the ledger holds as declined, and that each of them is left out.

    InputError where no job would be left.
    """
    declined = {str(row["id"]) for row in ledger.rows("SELECT id FROM job WHERE state = 'declined'")}
    gone = {job: name for job, name in ledger_names(ledger, file).items() if name in declined}
    if not gone:
        return file, ()
    if len(gone) == len(file.jobs):
        raise ledger.refusal(
            f"every job of {file.id} is declined",
            ", ".join(gone.values()),
            "a batch with a job that is to be done",
            "add a [[job]], or take one back in: estimator ledger move JOB asked",
        )
    told = tuple(
        warning(
            ledger.where,
            f"{job} is declined, and left out of the plan as if it stood no more in the batch file",
            next_step=f"take its [[job]] out of {file.file}; if it is to be done after all: estimator ledger move {name} asked",
        )
        for job, name in gone.items()
    )
    jobs = tuple(entry for entry in file.jobs if entry.id not in gone)
    moves = tuple(move for move in file.moves if not {move.from_job, move.to_job} & gone.keys())
    return replace(file, jobs=jobs, moves=moves), told


def ledger_names(ledger: Ledger, file: BatchFile) -> dict[str, str]:
    """By job of a batch, which has names of its own: its id in the ledger, the same or that booked from its file."""
    booked = {str(row["id"]): str(row["file"]) for row in ledger.rows("SELECT id, file FROM job ORDER BY id")}
    by_file = {name: job for job, name in booked.items() if name}
    found = {}
    for entry in file.jobs:
        path = Path(os.path.abspath(entry.job.file))
        # an example is booked by its name, a file of one's own by where it lies
        example = f"{EXAMPLE}{path.stem}" if path.parent.name == EXAMPLES else ""
        files = (str(path), str(path.resolve()), example)
        names = (entry.id if entry.id in booked else None, *(by_file.get(one) for one in files if one))
        name = next((one for one in names if one is not None), None)
        if name is not None:
            found[entry.id] = name
    return found


def _counted(shop: Shop, jobs: Mapping[str, Job], free: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """Of the stock, what takes something off the cash: parts that are one thing to all jobs, and what is bought for them."""
    return {
        item: many
        for item, many in free.items()
        if (item in shop.consumables and not is_idle(shop.consumables[item]))
        or len(things_called(shop, jobs, item)) == 1
    }

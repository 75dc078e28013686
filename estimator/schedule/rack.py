"""Rack places: so many instruments may be begun and not done at once; the others wait in their cases.

Jobs take the places in the order of their due dates: one that finds the rack full begins when the one
that has its place is done. That keeps the limit with plain links between operations. An instrument
that a part comes off goes before the one that the part is fitted to: the other way round both would wait.
"""

from __future__ import annotations

from msgspec.structs import replace

from estimator.core.amounts import Elapsed
from estimator.schedule.records import Link, SchedulingProblem

RACK = "rack-places"
"""The row of ``shop_stations.csv`` that says how many places there are."""
NEVER = Elapsed(1 << 40)


def with_rack(work: SchedulingProblem, places: int) -> SchedulingProblem:
    """The same work with at most so many jobs open at once; nothing changes where the places suffice."""
    jobs = list(dict.fromkeys(o.job for o in work.operations))
    if places < 1 or len(jobs) <= places:
        return replace(work, open_most=places)
    due = {d.job: d.at for d in work.dues if d.at is not None}
    turn = _givers_first(work, sorted(jobs, key=lambda job: (due.get(job, NEVER), jobs.index(job))))
    before = dict(zip(turn[places:], turn, strict=False))
    job_of = {o.id: o.job for o in work.operations}
    needed = {link.before for o in work.operations for link in o.after if job_of[link.before] == o.job}
    last: dict[str, list[Link]] = {}
    for operation in work.operations:
        if operation.cure or operation.id not in needed:
            last.setdefault(operation.job, []).append(Link(operation.id))
    operations = tuple(
        replace(o, after=(*o.after, *last[before[o.job]]))
        if o.job in before and all(job_of[link.before] != o.job for link in o.after)
        else o
        for o in work.operations
    )
    return replace(work, operations=operations, open_most=places)


def _givers_first(work: SchedulingProblem, turn: list[str]) -> list[str]:
    """The same order but that no job comes before one that it gets a part from."""
    job_of = {o.id: o.job for o in work.operations}
    gets: dict[str, set[str]] = {job: set() for job in turn}
    for operation in work.operations:
        gets[operation.job] |= {job_of[link.before] for link in operation.after} - {operation.job}
    ordered: list[str] = []
    while len(ordered) < len(turn):
        left = [job for job in turn if job not in ordered]
        ordered.append(next((job for job in left if gets[job] <= {*ordered}), left[0]))
    return ordered

"""Rack places: so many instruments may be begun and not done at once; the others wait in their cases.

Jobs take the places in the order of their due dates: one that finds the rack full begins when the one
that has its place is done. That keeps the limit with plain links between operations.
"""

from __future__ import annotations

from dataclasses import replace

from estimator.plan.operations import Link, Work

RACK = "rack-places"
"""The row of ``shop_stations.csv`` that says how many places there are."""
NEVER = 1 << 40


def with_rack(work: Work, places: int) -> Work:
    """The same work with at most so many jobs open at once; nothing changes where the places suffice."""
    jobs = list(dict.fromkeys(o.job for o in work.operations))
    if places < 1 or len(jobs) <= places:
        return replace(work, open_most=places)
    due = {d.job: d.at for d in work.dues if d.at is not None}
    turn = sorted(jobs, key=lambda job: (due.get(job, NEVER), jobs.index(job)))
    before = dict(zip(turn[places:], turn, strict=False))
    needed = {link.before for o in work.operations for link in o.after}
    last: dict[str, list[Link]] = {}
    for operation in work.operations:
        if operation.cure or operation.id not in needed:
            last.setdefault(operation.job, []).append(Link(operation.id))
    operations = tuple(
        replace(o, after=tuple(last[before[o.job]])) if o.job in before and not o.after else o
        for o in work.operations
    )
    return replace(work, operations=operations, open_most=places)

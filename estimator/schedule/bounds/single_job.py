"""What no schedule can beat because of one instrument: each job by itself, with all hands for it.

Every operation then takes the fewest minutes it ever can, so that a job in company is never done sooner.
"""

from __future__ import annotations

from msgspec.structs import replace

from estimator.core.amounts import Minutes
from estimator.schedule.bounds.chains import bounds_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.heuristics import best_dispatch
from estimator.schedule.records import NO_CHANGE_OVERS, Operation, SchedulingProblem, Search
from estimator.schedule.serial_sgs import figures_of

OBJECTIVES = ("makespan",)


def single_job_bound(
    work: SchedulingProblem, calendar: Calendar, known: Minutes, effort: float, until: float | None = None
) -> Minutes:
    """A minute by which not all jobs can be done, not less than ``known``; by CP-SAT, as ``improve_by_cp``."""
    from estimator.schedule.cp.solve import improve_by_cp

    asked = {
        _shape(part): part
        for part in (one_job(work, job) for job in dict.fromkeys(o.job for o in work.operations))
    }
    best = known
    for part in asked.values():
        bounds = bounds_of(part, calendar)
        _, rule = best_dispatch(part, calendar, OBJECTIVES)
        reached = figures_of(part, calendar, rule).makespan
        best = max(best, bounds["makespan"])
        if reached > best:  # else it cannot tell more
            search = Search(OBJECTIVES, effort=effort / len(asked))
            found = improve_by_cp(part, calendar, search, rule, reached, bounds, until)
            best = max(best, Minutes(found.bounds.get("makespan", 0)))
    return best


def one_job(work: SchedulingProblem, job: str) -> SchedulingProblem:
    """One job of a piece of work with nothing beside it, all of it at its quickest."""
    mine = {o.id for o in work.operations if o.job == job}
    operations = tuple(
        replace(
            o,
            after=tuple(link for link in o.after if link.before in mine),
            family="",
            kind="",
            setup=min(o.setup, o.again if o.family else o.setup),
            again=Minutes(0),
        )
        for o in work.operations
        if o.id in mine
    )
    return SchedulingProblem(operations, work.resources, (), NO_CHANGE_OVERS)


def _shape(work: SchedulingProblem) -> tuple[object, ...]:
    """What a job's work is but for its name: jobs of one shape take as long."""
    number = {o.id: place for place, o in enumerate(work.operations)}

    def bare(names: tuple[tuple[str, int], ...], job: str) -> tuple[tuple[str, int], ...]:
        return tuple((name.removeprefix(f"{job} "), amount) for name, amount in names)

    def links(operation: Operation) -> tuple[tuple[int, int | None], ...]:
        return tuple((number[link.before], link.lag) for link in operation.after)

    return tuple(
        (
            o.minutes,
            o.slower,
            o.setup,
            links(o),
            bare(o.needs, o.job),
            bare(o.holds, o.job),
            o.one_of,
            o.cure,
            o.earliest,
            o.splittable,
            o.air,
        )
        for o in work.operations
    )

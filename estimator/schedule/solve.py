"""The public way to a schedule: check the work, run the rules, let the engine improve and prove, check again."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

from estimator.core.errors import EngineError, InputError, Issue, Origin, near_miss
from estimator.core.text import Tell, hours, silent
from estimator.schedule.bounds.chains import bounds_of
from estimator.schedule.calendar import Calendar, always_open
from estimator.schedule.heuristics import best_rule, improve, key_of
from estimator.schedule.records import (
    NO_CHANGE_OVERS,
    Booking,
    ChangeOvers,
    Due,
    Figures,
    Operation,
    Schedule,
    Work,
)
from estimator.schedule.serial_sgs import figures_of, from_order, least_minutes, minutes_after
from estimator.schedule.verify import breaches_of

AIMS = {
    "lateness": "least weighted lateness, summed over the jobs",
    "maxlate": "the latest job as little late as can be",
    "makespan": "everything done as soon as can be",
    "completion": "least weighted sum of the times at which jobs are done",
    "minutes": "fewest attended minutes (set-ups and change-overs)",
}
USUAL_AIMS = ("lateness", "makespan", "minutes")
ENGINES = ("auto", "rule", "cpsat")
SMALL = 50
"""Up to so many operations the engine usually proves the optimum by itself."""
USUAL_EFFORT = 3.5
"""How much is looked at when nobody sets a time: counted work, so that every machine finds the same week."""
SEARCHED = 8_000
"""Operations placed by the search for one of effort; an eighth where the engine is asked besides."""
ALONE = 0.2
"""The share of the effort with which the engine is asked what each job by itself proves."""
LARGE = 400
"""Above so many operations ``auto`` leaves the engine aside: its model no longer pays."""


def schedule(
    operations: Sequence[Operation],
    resources: Mapping[str, int],
    calendar: Calendar | None = None,
    aims: Sequence[str] = USUAL_AIMS,
    dues: Sequence[Due] = (),
    change_overs: ChangeOvers = NO_CHANGE_OVERS,
    engine: str = "auto",
    limit: float | None = None,
    tries: int | None = None,
    start_from: Sequence[Booking] = (),
    effort: float = USUAL_EFFORT,
) -> Schedule:
    """A schedule of ``operations`` on ``resources`` (name: how many there are).

    ``aims`` one after another (see ``AIMS``). ``engine``: ``rule`` (pure Python, no proof beyond the
    plain bounds), ``cpsat`` (OR-Tools), ``auto`` (cpsat where the work is not too large). ``limit``: seconds by the clock; without
    it the search stops by counted work, ``effort``. ``tries``: schedules the search looks at (by size and ``limit``
    if None). ``start_from``: bookings known before.
    The same input gives the same schedule, unless a ``limit`` stopped the search (``method`` says so). InputError for work that cannot be scheduled at all.
    """
    work = Work(tuple(operations), dict(resources), tuple(dues), change_overs)
    return schedule_work(
        work, calendar or always_open(), aims, engine, limit, tries, start_from, effort=effort
    )


def schedule_work(
    work: Work,
    calendar: Calendar,
    aims: Sequence[str] = USUAL_AIMS,
    engine: str = "auto",
    limit: float | None = None,
    tries: int | None = None,
    start_from: Sequence[Booking] = (),
    tell: Tell = silent,
    effort: float = USUAL_EFFORT,
) -> Schedule:
    """A schedule of a piece of work, as ``schedule``; ``tell`` is told how far it is."""
    begun = time.perf_counter()
    until = None if limit is None else begun + limit
    effort = effort if limit is None else limit  # who waits longer wants more looked at
    operations = work.operations
    check_work(work, aims, engine)
    if not operations:
        nothing = Figures(0, 0, 0, 0, 0)
        return Schedule("optimal", tuple(aims), (), nothing, dict.fromkeys(aims, 0), "nothing", nothing)
    name, rule = best_rule(work, calendar, aims)
    ruled = figures_of(work, calendar, rule)
    known = [rule]
    if start_from:
        known.append(again(work, calendar, start_from))
    best = min(known, key=lambda b: key_of(figures_of(work, calendar, b), aims))
    method = f"priority rule “{name}”" if best is rule else "the plan before"
    tell(f"{method}: all done after {hours(figures_of(work, calendar, best).makespan)} of open time")
    bounds = bounds_of(work, calendar)
    large = len(operations) > LARGE
    use = engine == "cpsat" or (engine == "auto" and not large)
    # on little work the engine needs a start only; else the search finds what the engine does not
    placed = SEARCHED * effort / (8 if use and len(operations) <= SMALL else 1)
    number = int(placed / max(50, len(operations))) if tries is None else tries
    if not _reached(work, calendar, best, aims, bounds):
        found = improve(work, calendar, aims, best, number, tell=tell, until=until)
        if _key(work, calendar, found, aims) <= _key(work, calendar, best, aims):
            best, method = found, "search over the order of work"
    proven = _reached(work, calendar, best, aims, bounds)
    if use and not proven and "makespan" in aims:
        from estimator.schedule.bounds.single_job import alone_bound

        bounds["makespan"] = alone_bound(work, calendar, bounds["makespan"], ALONE * effort, until)
        proven = _reached(work, calendar, best, aims, bounds)
    if use and not proven:
        from estimator.schedule.cp.solve import polish

        horizon = horizon_of(work, calendar, best, aims)
        result = polish(work, calendar, aims, best, horizon, effort, bounds, tell, until)
        if result.bookings is not None:
            found = again(work, calendar, result.bookings)
            if _key(work, calendar, found, aims) < _key(work, calendar, best, aims):
                # what is left to win are ties: evenings without anything curing
                best, method = (
                    improve(work, calendar, aims, found, number // 4, tell=tell, until=until),
                    "CP-SAT",
                )
        figures = figures_of(work, calendar, best)
        proven = bool(result.proven) and all(result.proven.get(aim, False) for aim in aims)
        for aim, value in result.bounds.items():
            bounds[aim] = min(int(getattr(figures, aim)), max(bounds[aim], value))
        if work.first:  # the programme is looser than the bench then
            proven = _reached(work, calendar, best, aims, bounds)
    if not proven and until is not None and time.perf_counter() >= until:
        method += ", stopped by the time limit (another run may differ)"
    best = sorted(best, key=lambda b: (b.start, b.end, b.operation))
    breaches = breaches_of(work, calendar.opens, calendar.closes, best)
    if breaches:
        raise EngineError("the schedule did not pass the recheck: " + "; ".join(breaches))
    figures = figures_of(work, calendar, best)
    return Schedule(
        "optimal" if proven else "feasible", tuple(aims), tuple(best), figures,
        {aim: bounds[aim] for aim in aims}, method, ruled, time.perf_counter() - begun,
    )  # fmt: skip


def _key(work: Work, calendar: Calendar, bookings: Sequence[Booking], aims: Sequence[str]) -> tuple[int, ...]:
    return key_of(figures_of(work, calendar, bookings), aims)[: len(aims)]


def _reached(
    work: Work,
    calendar: Calendar,
    bookings: Sequence[Booking],
    aims: Sequence[str],
    bounds: Mapping[str, int],
) -> bool:
    figures = figures_of(work, calendar, bookings)
    return all(int(getattr(figures, aim)) <= bounds[aim] for aim in aims)


def again(work: Work, calendar: Calendar, bookings: Sequence[Booking]) -> list[Booking]:
    """The same order of work and the same people, everything moved to as early as it goes.

    By induction over the order nothing starts later than before, so no aim gets worse.
    """
    known = work.by_id()
    ordered = sorted(bookings, key=lambda b: (b.start, b.end))
    return from_order(
        work, calendar, [known[b.operation] for b in ordered], {b.operation: b.who for b in ordered}
    )


def horizon_of(work: Work, calendar: Calendar, best: Sequence[Booking], aims: Sequence[str]) -> int:
    """A working minute by which some best schedule is done, by the first aim."""
    figures = figures_of(work, calendar, best)
    if aims[0] == "makespan":
        return figures.makespan
    heads = max(calendar.working_at(o.earliest) for o in work.operations)
    waits = {max([o.cure, *(li.lag or 0 for li in o.after)]) for o in work.operations}
    most = {lag: _most_wait(calendar, lag) for lag in waits}
    serial = heads
    for operation in work.operations:
        serial += (
            minutes_after(work, None, operation)
            + max((more for _, more in operation.slower), default=0)
            + most[max([operation.cure, *(li.lag or 0 for li in operation.after)])]
        )
        if not operation.splittable and not calendar.always_open:
            serial += least_minutes(work, operation)
    known = [serial + sum(b - a for stretches in work.away.values() for a, b in stretches)]
    dues = {due.job: due for due in work.dues if due.at is not None and due.weight > 0}
    if aims[0] in ("lateness", "maxlate") and all(o.job in dues for o in work.operations):
        late = int(getattr(figures, aims[0]))
        known.append(
            max(
                calendar.working_at(due.at or 0) + (late // due.weight if aims[0] == "lateness" else late)
                for due in dues.values()
            )
        )
    return max(figures.makespan, min(min(known), calendar.passed[-1]))


def _most_wait(calendar: Calendar, lag: int) -> int:
    return (
        lag
        if calendar.always_open
        else min(lag, calendar.working_at(lag) + (calendar.closes[0] - calendar.opens[0]))
    )


def check_work(work: Work, aims: Sequence[str], engine: str) -> None:
    """InputError for unknown aims, engines, resources and links, amounts never there, and circles."""
    issues: list[Issue] = []
    for words, known, what in (((engine,), ENGINES, "--engine"), (aims, tuple(AIMS), "--aim")):
        for word in words:
            if word not in known:
                issues.append(
                    Issue(
                        Origin(what), "not known here", f"“{word}”", ", ".join(known), near_miss(word, known)
                    )
                )
    if not aims:
        issues.append(Issue(Origin("--aim"), "nothing to aim at", "", ", ".join(AIMS)))
    ids = {operation.id for operation in work.operations}
    if len(ids) < len(work.operations):
        issues.append(Issue(Origin("plan"), "two operations have one name", "", "names that differ"))
    for operation in work.operations:
        where = Origin(f"operation “{operation.id}”")
        for link in operation.after:
            if link.before not in ids:
                issues.append(
                    Issue(
                        where,
                        "waits for an operation that is not there",
                        f"“{link.before}”",
                        "",
                        near_miss(link.before, ids),
                    )
                )
        for name in operation.one_of:
            if name not in work.resources:
                issues.append(
                    Issue(where, "nobody of this name is in the shop", f"“{name}”", ", ".join(work.resources))
                )
        for name, amount in (*operation.needs, *operation.holds):
            there = work.resources.get(name, 0)
            if amount > there:
                issues.append(
                    Issue(where, f"needs more of “{name}” than there is", f"{amount}", f"at most {there}")
                )
    if not issues:
        issues.extend(_circle(work))
    if issues:
        raise InputError(issues)


def _circle(work: Work) -> list[Issue]:
    from estimator.schedule.serial_sgs import in_order

    ordered = {o.id for o in in_order(work.operations, {o.id: 0.0 for o in work.operations})}
    left = [o.id for o in work.operations if o.id not in ordered]
    if not left:
        return []
    return [
        Issue(
            Origin("task_order.csv"),
            "operations wait for each other in a circle",
            ", ".join(left[:6]),
            "an order in which every operation comes after those it needs",
            "take one of the rows between these out of the table",
        )
    ]

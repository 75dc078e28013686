"""The public way to a schedule: check the work, run the rules, let the engine improve and prove, check again."""

from __future__ import annotations

import time
from collections.abc import Sequence
from decimal import Decimal

from msgspec.structs import replace

from estimator.core.amounts import Elapsed, Minutes
from estimator.core.errors import EngineError, InputError, Issue, Origin, note, unknown_word
from estimator.core.text import hours
from estimator.schedule.bounds.chains import bounds_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.heuristics import Key, best_dispatch, finish_sooner, key_of, local_search, none_later
from estimator.schedule.records import (
    USUAL_SEARCH,
    Assignment,
    Figures,
    Operation,
    Schedule,
    SchedulingProblem,
    Search,
)
from estimator.schedule.serial_sgs import figures_of, least_minutes, minutes_after, serial_schedule
from estimator.schedule.verify import breaches_of

OBJECTIVES = {
    "tardiness": "least weighted lateness, summed over the jobs",
    "max_tardiness": "the latest job as little late as can be",
    "makespan": "everything done as soon as can be",
    "completion": "least weighted sum of the times at which jobs are done",
    "minutes": "fewest attended minutes (set-ups and change-overs)",
}
ENGINES = ("auto", "rule", "cpsat")
SMALL = 50
"""Up to so many operations the engine usually proves the optimum by itself."""
SEARCHED = 8_000
"""Operations placed by the search for one of effort; an eighth where the engine is asked besides."""
PULLED = 10_000
"""Operations placed for one of effort, all jobs together, so that no job is done later than it need be."""
ALONE = 0.2
"""The share of the effort with which the engine is asked what each job by itself proves."""
LARGE = 400
"""Above so many operations ``auto`` leaves the engine aside: its model no longer pays."""


def schedule_work(
    work: SchedulingProblem,
    calendar: Calendar,
    search: Search = USUAL_SEARCH,
    start_from: Sequence[Assignment] = (),
) -> Schedule:
    """A schedule of a piece of work.

    ``start_from``: assignments known before. The same input gives the same schedule, unless a limit by the
    clock stopped the search (``method`` says so). InputError for work that cannot be scheduled at all.
    """
    begun = time.perf_counter()
    check_work(work, search.objectives, search.engine)
    if not work.operations:
        nothing = Figures(*[Minutes(0)] * 5)
        bounds = dict.fromkeys(search.objectives, 0)
        return Schedule("optimal", search.objectives, (), nothing, bounds, "nothing", nothing)
    state = _Solving(work, calendar, search, None if search.limit is None else begun + search.limit)
    ruled = state.begin(start_from)
    state.search_locally()
    if state.asks_engine and not state.proven:
        state.bound_by_jobs()
    if state.asks_engine and not state.proven:
        state.ask_engine()
    state.finish_sooner()
    method = state.method
    if not state.proven and state.until is not None and time.perf_counter() >= state.until:
        method += ", stopped by the time limit (another run may differ)"
    best = sorted(state.best, key=lambda b: (b.start, b.end, b.operation))
    breaches = breaches_of(work, calendar.opens, calendar.closes, best)
    if breaches:
        raise EngineError("the schedule did not pass the recheck: " + "; ".join(breaches))
    return Schedule(
        "optimal" if state.proven else "feasible",
        search.objectives,
        tuple(best),
        figures_of(work, calendar, best),
        {name: state.bounds[name] for name in search.objectives},
        method,
        ruled,
        time.perf_counter() - begun,
    )


class _Solving:
    """A schedule on its way: the best so far, what found it, the lower bounds, and whether it is proven."""

    def __init__(
        self, work: SchedulingProblem, calendar: Calendar, search: Search, until: float | None
    ) -> None:
        self.work, self.calendar, self.search, self.until = work, calendar, search, until
        # who waits longer wants more looked at
        self.effort = search.effort if search.limit is None else search.limit
        large = len(work.operations) > LARGE
        self.asks_engine = search.engine == "cpsat" or (search.engine == "auto" and not large)
        self.bounds = bounds_of(work, calendar)
        self.best: list[Assignment] = []
        self.method = ""
        self.proven = False

    def begin(self, start_from: Sequence[Assignment]) -> Figures:
        """Start from the best priority rule, or from a plan before that is better; the rule's figures."""
        work, calendar, objectives = self.work, self.calendar, self.search.objectives
        name, rule = best_dispatch(work, calendar, objectives)
        self.best, self.method = rule, f"priority rule “{name}”"
        if start_from:
            before = left_shift(work, calendar, start_from)
            if self._all_figures(before) < self._all_figures(rule):
                self.best, self.method = before, "the plan before"
        done = hours(figures_of(work, calendar, self.best).makespan)
        self.search.tell(f"{self.method}: all done after {done} of open time")
        return figures_of(work, calendar, rule)

    def search_locally(self) -> None:
        """Other orders of work, as many as the effort allows."""
        if not self._reached():
            found = self._local_search(self.best, self._tries())
            if self._key(found) <= self._key(self.best):
                self.best, self.method = found, "search over the order of work"
        self.proven = self._reached()

    def bound_by_jobs(self) -> None:
        """Raise the lower bound on the make-span by what each job by itself takes."""
        if "makespan" in self.search.objectives:
            from estimator.schedule.bounds.single_job import single_job_bound

            self.bounds["makespan"] = single_job_bound(
                self.work, self.calendar, self.bounds["makespan"], ALONE * self.effort, self.until
            )
            self.proven = self._reached()

    def ask_engine(self) -> None:
        """Let CP-SAT improve the best and prove bounds."""
        from estimator.schedule.cp.solve import improve_by_cp

        work, calendar, objectives = self.work, self.calendar, self.search.objectives
        horizon = horizon_of(work, calendar, self.best, objectives)
        search = replace(self.search, effort=self.effort)
        result = improve_by_cp(work, calendar, search, self.best, horizon, self.bounds, self.until)
        if result.assignments is not None:
            found = left_shift(work, calendar, result.assignments)
            if self._key(found) < self._key(self.best):
                # what is left to win are ties: evenings without anything curing
                self.best, self.method = self._local_search(found, self._tries() // 4), "CP-SAT"
        figures = figures_of(work, calendar, self.best)
        self.proven = bool(result.proven) and all(result.proven.get(name, False) for name in objectives)
        for name, value in result.bounds.items():
            self.bounds[name] = Minutes(min(figures.of(name), max(self.bounds[name], value)))
        if work.first:  # the programme is looser than the bench then
            self.proven = self._reached()

    def finish_sooner(self) -> None:
        """Let no job lie for which there are free hands; what is proven is kept, and every aim but the minutes.

        Minutes that are not proven may rise where the search says how many a day is worth: nobody need let
        a finished instrument lie for a set-up that is saved.
        """
        before, objectives = figures_of(self.work, self.calendar, self.best), self.search.objectives
        if "completion" in objectives or not self._tries():
            return
        unproven = before.minutes > self.bounds.get("minutes", 0) and not self.proven
        given = self.search.day_sooner
        freely = given > 0 and objectives[0] != "minutes" and unproven
        kept = [name for name in objectives if name != "minutes" or not freely]
        if not freely and "minutes" not in kept:
            kept.append("minutes")
        self.best = finish_sooner(self.work, self.calendar, kept, self.best, self._tries(), self.until, given)
        self.best = none_later(self.work, self.calendar, kept, self.best, self._tries_by_job(), self.until)
        after = figures_of(self.work, self.calendar, self.best)
        more = after.minutes - before.minutes
        if more > 0:
            tenths = 10 * (before.completion - after.completion) // self.calendar.day_length
            self.method += (
                f" ({more} {'minute' if more == 1 else 'minutes'} more hands-on, "
                f"done {Decimal(tenths) / 10} open days sooner, all jobs together)"
            )

    def _tries(self) -> int:
        """Orders of work to look at: on little work the engine needs a start only."""
        if self.search.tries is not None:
            return self.search.tries
        number = len(self.work.operations)
        placed = SEARCHED * self.effort / (8 if self.asks_engine and number <= SMALL else 1)
        return int(placed / max(50, number))

    def _tries_by_job(self) -> int:
        """Orders of work to look at for each job that could be done sooner: few where there is much to place."""
        if self.search.tries is not None:
            return self.search.tries
        jobs = len({o.job for o in self.work.operations})
        return int(PULLED * self.effort / max(50, len(self.work.operations)) / max(1, jobs))

    def _local_search(self, start: Sequence[Assignment], tries: int) -> list[Assignment]:
        search = replace(self.search, tries=tries)
        return local_search(self.work, self.calendar, search, start, until=self.until)

    def _all_figures(self, assignments: Sequence[Assignment]) -> Key:
        return key_of(figures_of(self.work, self.calendar, assignments), self.search.objectives)

    def _key(self, assignments: Sequence[Assignment]) -> Key:
        return self._all_figures(assignments)[: len(self.search.objectives)]

    def _reached(self) -> bool:
        figures = figures_of(self.work, self.calendar, self.best)
        return all(figures.of(name) <= self.bounds[name] for name in self.search.objectives)


def left_shift(
    work: SchedulingProblem, calendar: Calendar, assignments: Sequence[Assignment]
) -> list[Assignment]:
    """The same order of work and the same people, everything moved to as early as it goes.

    By induction over the order nothing starts later than before, so no aim gets worse.
    """
    known = work.by_id()
    ordered = sorted(assignments, key=lambda b: (b.start, b.end))
    return serial_schedule(
        work, calendar, [known[b.operation] for b in ordered], {b.operation: b.who for b in ordered}
    )


def horizon_of(
    work: SchedulingProblem, calendar: Calendar, best: Sequence[Assignment], objectives: Sequence[str]
) -> Minutes:
    """A working minute by which some best schedule is done, by the first aim."""
    figures = figures_of(work, calendar, best)
    if objectives[0] == "makespan":
        return figures.makespan
    heads = max(calendar.working_at(o.earliest) for o in work.operations)
    waits = {_longest_wait(o) for o in work.operations}
    most = {lag: _most_wait(calendar, lag) for lag in waits}
    serial = heads
    for operation in work.operations:
        serial += (
            minutes_after(work, None, operation)
            + max((more for _, more in operation.slower), default=Minutes(0))
            + most[_longest_wait(operation)]
        )
        if not operation.splittable and not calendar.always_open:
            serial += least_minutes(operation)
    known = [sum((b - a for stretches in work.away.values() for a, b in stretches), serial)]
    dues = {due.job: (due.at, due.weight) for due in work.dues if due.at is not None and due.weight > 0}
    if objectives[0] in ("tardiness", "max_tardiness") and all(o.job in dues for o in work.operations):
        late = Minutes(figures.of(objectives[0]))
        known.append(
            max(
                calendar.working_at(at) + (Minutes(late // weight) if objectives[0] == "tardiness" else late)
                for at, weight in dues.values()
            )
        )
    return max(figures.makespan, min(min(known), calendar.passed[-1]))


def _longest_wait(operation: Operation) -> Elapsed:
    """The longest that an operation cures or waits for another."""
    return max([operation.cure, *(link.lag or Elapsed(0) for link in operation.after)])


def _most_wait(calendar: Calendar, lag: Elapsed) -> Minutes:
    """The most working minutes that pass in a wait, anywhere in the calendar."""
    if calendar.always_open:
        return Minutes(lag)
    first_day = Minutes(calendar.closes[0] - calendar.opens[0])
    return min(Minutes(lag), calendar.working_at(lag) + first_day)


def check_work(work: SchedulingProblem, objectives: Sequence[str], engine: str) -> None:
    """InputError for unknown aims, engines, resources and links, amounts never there, and circles."""
    issues: list[Issue] = []
    for words, known, what in (((engine,), ENGINES, "--engine"), (objectives, tuple(OBJECTIVES), "--aim")):
        for word in words:
            if word not in known:
                issues.append(unknown_word(Origin(what), "not known here", word, known))
    if not objectives:
        note(issues, Origin("--aim"), "nothing to aim at", "", ", ".join(OBJECTIVES))
    ids = {operation.id for operation in work.operations}
    if len(ids) < len(work.operations):
        note(issues, Origin("plan"), "two operations have one name", "", "names that differ")
    for operation in work.operations:
        where = Origin(f"operation “{operation.id}”")
        for link in operation.after:
            if link.before not in ids:
                issues.append(
                    unknown_word(where, "waits for an operation that is not there", link.before, ids, "")
                )
        for name in operation.one_of:
            if name not in work.resources:
                note(
                    issues,
                    where,
                    "nobody of this name is in the shop",
                    f"“{name}”",
                    ", ".join(work.resources),
                )
        for name, amount in (*operation.needs, *operation.holds):
            there = work.resources.get(name, 0)
            if amount > there:
                note(issues, where, f"needs more of “{name}” than there is", f"{amount}", f"at most {there}")
    if not issues:
        issues.extend(_circle(work))
    if issues:
        raise InputError(issues)


def _circle(work: SchedulingProblem) -> list[Issue]:
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

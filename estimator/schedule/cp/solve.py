"""The engine at work: CP-SAT improves a given schedule aim by aim and proves bounds."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from msgspec import Struct, field

from estimator.core.amounts import Minutes
from estimator.core.errors import EngineError
from estimator.core.stoppable import stoppable
from estimator.core.text import Tell
from estimator.schedule.calendar import Calendar
from estimator.schedule.cp.model import CpModel
from estimator.schedule.records import Assignment, Due, SchedulingProblem, Search
from estimator.schedule.serial_sgs import figures_of

WORKERS = 8
"""Strategies that take turns on one thread: the same answer on every machine, whatever its cores."""

UNITS = 0.7
"""Units of the engine's steady clock for one of ``effort`` (about a second on two shared cores)."""


class CpResult(Struct):
    """Bookings found (None: no better than the hint was found), and what was proven per aim."""

    assignments: list[Assignment] | None
    bounds: dict[str, int] = field(default_factory=dict)
    proven: dict[str, bool] = field(default_factory=dict)


def solve(
    programme: CpModel,
    search: Search,
    known: Mapping[str, tuple[int, int]],
    found: CpResult,
    until: float | None = None,
) -> None:
    """Make one aim after another as small as can be, keeping what was reached.

    ``search.effort`` is counted work and the same on every machine; ``until`` is a moment of the clock.
    ``known``: by aim, what the hint reaches and what cannot be beaten; equal ones are not asked again.
    """
    left, objectives = search.effort, search.objectives
    for number, name in enumerate(objectives):
        total = OBJECTIVES[name](programme)
        reached, bound = known[name]
        if found.assignments is None and reached <= bound:
            found.proven[name] = True
            programme.model.add(total <= reached)
            continue
        programme.model.add(total >= bound)
        programme.model.minimize(total)
        solver = programme.cp.CpSolver()
        share = left if number == len(objectives) - 1 else left * 0.6
        solver.parameters.num_workers = WORKERS
        solver.parameters.catch_sigint_signal = False  # Ctrl-C ends the command, not the search alone
        solver.parameters.interleave_search = True
        solver.parameters.random_seed = 0
        solver.parameters.max_deterministic_time = UNITS * share
        if until is not None:
            solver.parameters.max_time_in_seconds = max(0.01, until - time.perf_counter())
        watch = _watch(programme, name, search.tell)
        told = stoppable(partial(solver.solve, programme.model, watch), solver.stop_search)
        if told in (programme.cp.INFEASIBLE, programme.cp.MODEL_INVALID):
            raise EngineError(
                f"CP-SAT found no schedule at all for work that has one: {programme.model.validate()}"
            )
        left = max(0.1, left - solver.response_proto.deterministic_time / UNITS)
        if told not in (programme.cp.OPTIMAL, programme.cp.FEASIBLE):
            found.proven[name] = False
            return
        value = round(solver.objective_value)
        found.bounds[name] = max(found.bounds.get(name, 0), round(solver.best_objective_bound))
        found.proven[name] = told == programme.cp.OPTIMAL
        found.assignments = _bookings(programme, solver)
        _take_as_hint(programme, solver)
        programme.model.add(total <= value)


def _watch(programme: CpModel, objective: str, tell: Tell) -> Any:
    """Says at every better schedule how good it is and what bound is proven."""

    class Watch(programme.cp.CpSolverSolutionCallback):  # type: ignore[misc, name-defined]
        def on_solution_callback(self) -> None:
            value, bound = round(self.objective_value), round(self.best_objective_bound)
            tell(f"CP-SAT: {objective} {value} minutes, proven not below {bound}")

    return Watch()


def _bookings(programme: CpModel, solver: Any) -> list[Assignment]:
    assignments = []
    for operation in programme.work.operations:
        start, end = solver.value(programme.start[operation.id]), solver.value(programme.end[operation.id])
        who = operation.one_of[0] if len(operation.one_of) == 1 else ""
        for person in operation.one_of if len(operation.one_of) > 1 else ():
            if solver.value(programme.present[operation.id, person]):
                who = person
        free = programme.calendar.after_wait(end, operation.cure)
        assignments.append(Assignment(operation.id, start, end, free, who))
    return sorted(assignments, key=lambda b: (b.start, b.end))


def _take_as_hint(programme: CpModel, solver: Any) -> None:
    values = list(solver.response_proto.solution)
    programme.model.clear_hints()
    for index, value in enumerate(values):
        programme.model.add_hint(programme.model.get_int_var_from_proto_index(index), value)


def _dues(programme: CpModel) -> list[tuple[Due, Any]]:
    late = []
    for due in programme.work.dues:
        if due.at is None or not any(o.job == due.job for o in programme.work.operations):
            continue
        variable = programme.model.new_int_var(0, programme.horizon, f"late {due.job}")
        limit = programme.calendar.working_at(due.at)
        programme.model.add(variable >= programme.done(due.job) - limit)
        late.append((due, variable))
    return late


def _tardiness(programme: CpModel) -> Any:
    return sum(due.weight * variable for due, variable in _dues(programme))


def _max_tardiness(programme: CpModel) -> Any:
    variable = programme.model.new_int_var(0, programme.horizon, "max_tardiness")
    for _, late in _dues(programme):
        programme.model.add(variable >= late)
    return variable


def _makespan(programme: CpModel) -> Any:
    variable = programme.model.new_int_var(0, programme.horizon, "makespan")
    for operation in programme.work.operations:
        programme.model.add(variable >= programme.after_wait(operation.id, operation.cure))
    return variable


def _completion(programme: CpModel) -> Any:
    weights = {due.job: due.weight for due in programme.work.dues}
    jobs = dict.fromkeys(operation.job for operation in programme.work.operations)
    return sum(weights.get(job, 1) * programme.done(job) for job in jobs)


def _minutes(programme: CpModel) -> Any:
    return sum(programme.end[o.id] - programme.start[o.id] for o in programme.work.operations)


OBJECTIVES: Mapping[str, Callable[[CpModel], Any]] = {
    "tardiness": _tardiness,
    "max_tardiness": _max_tardiness,
    "makespan": _makespan,
    "completion": _completion,
    "minutes": _minutes,
}


def improve_by_cp(
    work: SchedulingProblem,
    calendar: Calendar,
    search: Search,
    first: Sequence[Assignment],
    horizon: Minutes,
    bounds: Mapping[str, int],
    until: float | None = None,
) -> CpResult:
    """The best schedule CP-SAT finds from ``first`` on by the effort of ``search``, counted by its steady clock.

    ``until``: a moment of ``time.perf_counter`` at which it stops all the same; then another run may differ.
    """
    found = CpResult(None)
    figures = figures_of(work, calendar, first)
    known = {objective: (figures.of(objective), bounds[objective]) for objective in search.objectives}
    programme = CpModel(work, calendar, horizon, first)
    solve(programme, search, known, found, until)
    return found

"""One job's choice from problem to answer: solve, break ties, check once more, explain."""

from __future__ import annotations

import time
from dataclasses import dataclass

from estimator.choose.explain import Conflict, WayOut, find_conflict, ways_out
from estimator.choose.measure import Measure, MeasureSet, PriceBound
from estimator.choose.objectives import stages_of
from estimator.choose.problem import Problem
from estimator.choose.programme import Found, Programme
from estimator.choose.solve import INFEASIBLE, OPTIMAL
from estimator.choose.ties import settle
from estimator.errors import EngineError
from estimator.recheck import recheck, totals_of


@dataclass(frozen=True, slots=True)
class Answer:
    """What a choice came to.

    ``status``: ``optimal`` (proven), ``feasible`` (stopped by time with a set that keeps every rule),
    ``infeasible`` (proven that no set does) or ``no-answer`` (stopped before either).
    ``objective`` and ``bound`` are of the first aim, in cents or hundredths of a minute; ``gap`` is
    (objective - bound) / objective, 0 when proven, None without both. ``unique`` tells whether the
    tie-break (fewer upgrades, fewer minutes, alphabet) is proven too. ``rounds`` counts the solves.
    """

    status: str
    aim: str
    engine: str
    chosen: tuple[str, ...]
    measure: Measure | None
    objective: int | None
    bound: int | None
    gap: float | None
    proven: bool
    unique: bool | None
    rounds: int
    seconds_build: float
    seconds_solve: float
    conflict: Conflict | None = None
    ways_out: tuple[WayOut, ...] = ()


def choose(
    problem: Problem,
    measure: MeasureSet,
    price_bound: PriceBound | None = None,
    aim: str = "cost",
    engine: str | None = None,
    time_limit: float | None = None,
    explain: bool = True,
) -> Answer:
    """The best upgrade set of a problem.

    ``measure`` gives the exact figures of a set, ``price_bound`` a floor under its price;
    ``time_limit`` in seconds covers everything, explanations included. Raises EngineError if an
    engine fails, if estimate and programme differ, or if an answer does not pass the recheck.
    """
    deadline = None if time_limit is None else time.perf_counter() + time_limit
    programme = Programme(problem, measure, price_bound, engine, deadline)
    found, unique = settle(programme, stages_of(aim, programme))
    confirm(programme, found)
    conflict: Conflict | None = None
    ways: tuple[WayOut, ...] = ()
    if found.status == INFEASIBLE and explain:
        conflict, ways = explain_why_not(programme)
    return Answer(
        status=found.status,
        aim=aim,
        engine=programme.engine,
        chosen=found.chosen or (),
        measure=found.measure,
        objective=found.objective,
        bound=found.bound,
        gap=gap_of(found),
        proven=found.status in (OPTIMAL, INFEASIBLE),
        unique=unique,
        rounds=programme.rounds,
        seconds_build=programme.seconds_build,
        seconds_solve=programme.seconds_solve,
        conflict=conflict,
        ways_out=ways,
    )


def gap_of(found: Found) -> float | None:
    """How far the bound lies from the objective, as a share of the objective."""
    if found.status == OPTIMAL:
        return 0.0
    if found.objective is None or found.bound is None:
        return None
    return max(0.0, (found.objective - found.bound) / max(1, abs(found.objective)))


def confirm(programme: Programme, found: Found) -> None:
    """Let plain arithmetic judge a found set; raises EngineError with all that is wrong with it."""
    if found.chosen is None or found.measure is None:
        return
    breaches = recheck(programme.problem, found.chosen, found.measure.price)
    plain, told = totals_of(programme.problem, found.chosen), found.measure
    for what in ("cost", "cash", "price_parts", "consumables", "expected"):
        if getattr(plain, what) != getattr(told, what):
            breaches.append(f"{what} adds up to {getattr(plain, what)}, not to {getattr(told, what)}")
    if breaches:
        raise EngineError("the answer did not pass the recheck: " + "; ".join(breaches))


def explain_why_not(programme: Programme) -> tuple[Conflict | None, tuple[WayOut, ...]]:
    """One conflict that cannot be made smaller, and every single change that would do."""
    conflict = find_conflict(programme)
    if conflict is None:
        return None, ()
    # a change outside the conflict leaves the conflict standing, so only its own rules can help
    ways = ways_out(programme, conflict.rules)
    for way in ways:
        rest = recheck(programme.problem, way.chosen, way.measure.price)
        if any(not b.startswith(way.rule.words) for b in rest):
            raise EngineError("a way out did not pass the recheck: " + "; ".join(rest))
    return conflict, ways

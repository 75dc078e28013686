"""One job's choice from problem to answer: solve, break ties, check once more, explain."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.infeasible.conflicts import (
    Compromise,
    fewest_changes,
    hidden_conflicts,
    independent_infeasible_sets,
    keep_limits_alone,
    keep_the_limits,
    keep_the_wish,
)
from estimator.choose.infeasible.giving_way import fewest_kept, giving_way
from estimator.choose.infeasible.ways_out import InfeasibleSet, WayOut, ways_out
from estimator.choose.kept import without
from estimator.choose.measure import Measure, MeasureSet, PriceBound
from estimator.choose.milp.earning import usual_aim
from estimator.choose.milp.linear import make_row
from estimator.choose.milp.model import AGREED, EVERYTHING, Programme, Solution
from estimator.choose.milp.objectives import OBJECTIVES, gain_and_time, objectives_of, pay_of, stages_of
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.tie_break import settle
from estimator.choose.verify.choice import recheck, score_reached, totals_of
from estimator.choose.verify.sale import sold
from estimator.core.amounts import Cents
from estimator.core.errors import EngineError, RefutedError
from estimator.model.problem import Income, Problem, Rule, Source

PATIENCE = 20.0
"""Seconds given to all the reasons why a wish cannot be met, where no other time is set."""
EARNING = ("profit", "hourly")
"""Aims for which it counts what comes in."""


class ChoiceResult(Struct, frozen=True):
    """What a choice came to.

    ``status``: ``optimal`` (proven), ``feasible`` (stopped by time with a set that keeps every rule),
    ``infeasible`` (proven that no set does) or ``no-answer`` (stopped before either).
    ``objective`` and ``bound`` are of the first aim, in its unit: cents, hundredths of a minute,
    thousandths of a point, cents per hour; ``gap`` is
    (objective - bound) / objective, 0 when proven, None without both. ``unique`` tells whether the
    tie-break (fewer upgrades, fewer minutes, alphabet) is proven too. ``rounds`` counts the solves.

    When infeasible: ``conflict`` is the first of ``conflicts`` (those that share no rule, then those of
    limits not named by them), ``ways_out`` the single changes by which those that a rule is in are
    settled, each with its set (while the rules of the others are set aside), ``whole_wish`` the set for
    the whole wish at the least excess over money and time, ``within_limits`` the nearest that can be had
    inside the limits with all that is required, ``within_bare`` (if there is none) the nearest with
    something required left out, ``together`` (where no single change lets the wish be met) the fewest
    changes that do. ``explained``: False if time ran out before all of this was looked for, ``not_settled``
    what of it.
    ``changed``: what would have stayed as it is (``choose.kept``), had anything else met the wish: as few
    as can be; the answer is that of the problem without these rules.
    ``none_earns``: by the hour no set leaves anything over its cost and the wanted pay, which is proven; the
    one told is the one that loses least. ``ways``: of the members chosen those that are ways to do the work
    (``estimate.ways``), where the answer has been told apart from them. ``engine_notes``: what one engine failed at, or said and another did not confirm.
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
    conflict: InfeasibleSet | None = None
    ways_out: tuple[WayOut, ...] = ()
    conflicts: tuple[InfeasibleSet, ...] = ()
    whole_wish: Compromise | None = None
    within_limits: Compromise | None = None
    within_bare: Compromise | None = None
    together: Compromise | None = None
    explained: bool = True
    none_earns: bool = False
    engine_notes: tuple[str, ...] = ()
    changed: tuple[Rule, ...] = ()
    not_settled: tuple[str, ...] = ()
    ways: tuple[str, ...] = ()


def choose(
    problem: Problem,
    measure: MeasureSet,
    price_bound: PriceBound | None = None,
    aim: str | None = None,
    engine: str | None = None,
    time_limit: float | None = None,
    explain: bool = True,
) -> ChoiceResult:
    """The best upgrade set of a problem; where there is none, the best with as little changed for good as can be.

    ``aim`` left out is that of ``usual_aim``.
    ``measure`` gives the exact figures of a set, ``price_bound`` a floor under its price;
    ``time_limit`` in seconds covers everything, explanations included. Raises EngineError if an
    engine fails, if estimate and programme differ, or if an answer does not pass the recheck.
    """
    aim = usual_aim(problem.billed) if aim is None else aim
    deadline = None if time_limit is None else time.perf_counter() + time_limit
    answer = _choose(problem, measure, price_bound, aim, engine, deadline, explain)
    if not answer.changed:
        return answer
    freed = without(problem, answer.changed)
    return replace(
        _choose(freed, measure, price_bound, aim, engine, deadline, explain), changed=answer.changed
    )


def _choose(
    problem: Problem,
    measure: MeasureSet,
    price_bound: PriceBound | None,
    aim: str,
    engine: str | None,
    deadline: float | None,
    explain: bool,
) -> ChoiceResult:
    """The best set of a problem as it stands; where there is none, ``changed`` is what would let there be one."""
    if problem.billed and objectives_of(aim)[0] in EARNING:
        least = _choose(problem, measure, price_bound, "price", engine, deadline, explain)
        if least.status != OPTIMAL or least.objective is None:
            return replace(least, aim=aim, objective=None, bound=None, gap=None)
        problem = paid(problem, Cents(least.objective))
    programme = Programme(problem, measure, price_bound, engine, deadline)
    maximised = -1 if OBJECTIVES[objectives_of(aim)[0]].maximised else 1
    scope = EVERYTHING
    if problem.least_score is not None:
        scope = scope.adding(make_row(programme.score(), problem.least_score, None, "score"))
    found, unique = settle(programme, stages_of(aim, programme), scope)
    confirm(programme, found)
    confirm_sale(programme, aim, found)
    losing = none_earns(programme, aim, found)
    found = _as_paid(programme, found) if losing else found
    changed = fewest_kept(programme, scope) if found.status == INFEASIBLE else ()
    stuck = found.status == INFEASIBLE and not changed
    why_not = explain_why_not(programme) if stuck and explain else Infeasibility()
    return ChoiceResult(
        status=found.status,
        aim=aim,
        engine=", ".join(programme.engines_used) or programme.engine or "none",
        chosen=found.chosen or (),
        measure=found.measure,
        objective=maximised * found.objective if found.objective is not None else None,
        bound=maximised * found.bound if found.bound is not None else None,
        gap=gap_of(found),
        proven=found.status in (OPTIMAL, INFEASIBLE),
        unique=unique,
        rounds=programme.rounds,
        seconds_build=programme.seconds_build,
        seconds_solve=programme.seconds_solve,
        conflict=why_not.conflicts[0] if why_not.conflicts else None,
        ways_out=why_not.ways_out,
        conflicts=why_not.conflicts,
        whole_wish=why_not.whole_wish,
        within_limits=why_not.within_limits,
        within_bare=why_not.within_bare,
        together=why_not.together,
        explained=why_not.complete,
        none_earns=losing,
        engine_notes=tuple(programme.notes),
        changed=changed,
        not_settled=why_not.not_settled,
    )


def paid(problem: Problem, price: Cents) -> Problem:
    """The problem of a customer who pays ``price``, the least for which the wish is met: it is the income.

    Nothing dearer is open, else every piece of work that earns a mark-up would be added to the bill,
    wished for or not. What is left to choose is which of the sets at this price leaves most.
    """
    held = Rule(Source.PAYMENT, "money", "the payment", most=price, on="price")
    return replace(
        problem,
        rules=(*problem.rules, held),
        incomes=(*problem.incomes, Income("payment", None, price)),
        billed=False,
    )


def none_earns(programme: Programme, aim: str, found: Solution) -> bool:
    """Whether the best set by the hour is one that loses least, for want of one that earns."""
    if objectives_of(aim)[0] != "hourly" or found.status != OPTIMAL:
        return False
    assert found.chosen is not None
    assert found.measure is not None
    return gain_and_time(programme, found.chosen, found.measure)[0] < 0


def _as_paid(programme: Programme, found: Solution) -> Solution:
    """A set that loses least with its own pay an hour: of sets with equal losses the hours differ."""
    assert found.chosen is not None
    assert found.measure is not None
    turned = -pay_of(programme, found.chosen, found.measure)
    return replace(found, objective=turned, bound=turned)


def gap_of(found: Solution) -> float | None:
    """How far the bound lies from the objective, as a share of the objective."""
    if found.status == OPTIMAL:
        return 0.0
    if found.objective is None or found.bound is None:
        return None
    return max(0.0, (found.objective - found.bound) / max(1, abs(found.objective)))


def confirm(programme: Programme, found: Solution) -> None:
    """Let plain arithmetic judge a found set; raises EngineError with all that is wrong with it."""
    if found.chosen is None or found.measure is None:
        return
    breaches = [one.words for one in recheck(programme.problem, found.chosen, found.measure.price)]
    plain, told = totals_of(programme.problem, found.chosen), found.measure
    for what in (*AGREED, "expected"):
        if getattr(plain, what) != getattr(told, what):
            breaches.append(f"{what} adds up to {getattr(plain, what)}, not to {getattr(told, what)}")
    least_score = programme.problem.least_score
    if least_score is not None and (score := score_reached(programme.problem, found.chosen)) < least_score:
        breaches.append(f"the score is {score}, not {least_score}")
    if breaches:
        raise RefutedError("the answer did not pass the recheck: " + "; ".join(breaches))


class Infeasibility(Struct, frozen=True):
    """Why a wish cannot be met: the conflicts, the changes that settle them, and the compromises."""

    conflicts: tuple[InfeasibleSet, ...] = ()
    ways_out: tuple[WayOut, ...] = ()
    whole_wish: Compromise | None = None
    within_limits: Compromise | None = None
    within_bare: Compromise | None = None
    together: Compromise | None = None
    complete: bool = True
    not_settled: tuple[str, ...] = ()


def confirm_sale(programme: Programme, aim: str, found: Solution) -> None:
    """Let plain arithmetic work the profit of a resale out again; raises EngineError if it differs."""
    if programme.problem.sale is None or found.status != OPTIMAL or objectives_of(aim)[0] != "profit":
        return
    told = sold(programme.problem, found.chosen or ()).profit
    if found.objective is not None and -found.objective != told:
        raise RefutedError(f"the profit adds up to {told}, not to {-found.objective}")


def explain_why_not(programme: Programme) -> Infeasibility:
    """Everything that helps when no set keeps every rule; each set told has passed the recheck.

    Ends with the programme's deadline, or else after ``PATIENCE``; what was not settled by then is named.
    """
    kept = programme.deadline
    end = time.perf_counter() + PATIENCE if kept is None else kept
    open_: list[str] = []

    @contextmanager
    def given(share: float, what: str) -> Iterator[None]:
        """A share of the time that is left for one question, so that those after it are asked too."""
        now = time.perf_counter()
        programme.deadline = now + share * max(0.0, end - now)
        programme.unsettled = False
        yield
        if programme.unsettled or time.perf_counter() >= programme.deadline:
            open_.append(what)

    try:
        with given(0.4, "what clashes"):
            conflicts = independent_infeasible_sets(programme, scope=giving_way(programme))
            named = bool(conflicts and conflicts[0].rules)
            if named:
                # a change outside a conflict leaves it standing, so only its own rules can mend it
                conflicts += hidden_conflicts(programme, conflicts)
        if not named:
            return Infeasibility(conflicts, complete=bool(conflicts) and not open_, not_settled=tuple(open_))
        with given(0.5, "the ways out"):
            ways = _mends(programme, conflicts)
        together = bare = None
        if not any(not way.aside for way in ways):
            with given(0.4, "the fewest changes that do together"):
                together = fewest_changes(programme)
        with given(0.5, "the whole wish at the least excess"):
            whole = keep_the_wish(programme)
        with given(0.8, "the nearest to the wish within the limits"):
            within = keep_the_limits(programme)
        if within is None and not programme.unsettled:
            with given(1.0, "the nearest without all that is required"):
                bare = keep_limits_alone(programme)
    finally:
        programme.deadline = kept
    return Infeasibility(conflicts, ways, whole, within, bare, together, not open_, tuple(open_))


def _mends(programme: Programme, conflicts: Sequence[InfeasibleSet]) -> tuple[WayOut, ...]:
    """The single changes that settle every conflict a rule is in, while the rules of the others are set aside."""
    told: list[WayOut] = []
    for rule in dict.fromkeys(rule for conflict in conflicts for rule in conflict.rules):
        mine = [conflict for conflict in conflicts if rule in conflict.rules]
        kept = {r.id for conflict in mine for r in conflict.rules}
        others = [conflict for conflict in conflicts if conflict not in mine]
        aside = tuple(dict.fromkeys(r for other in others for r in other.rules if r.id not in kept))
        settles = tuple(conflicts.index(conflict) + 1 for conflict in mine)
        for way in ways_out(programme, (rule,), EVERYTHING.dropping(*(r.id for r in aside))):
            excused = {r.id for r in (rule, *aside, *way.changed)}
            rest = recheck(programme.problem, way.chosen, way.measure.price)
            unforeseen = [one.words for one in rest if one.rule not in excused]
            if unforeseen:
                raise EngineError("a way out did not pass the recheck: " + "; ".join(unforeseen))
            told.append(replace(way, settles=settles, aside=aside))
    return tuple(told)

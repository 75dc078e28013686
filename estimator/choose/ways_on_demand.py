"""The best set with its ways, where ways are only weighed for the upgrades that a good set may hold.

All work is taken at the least of its ways first (``least_ways``): no set, done whatever ways, comes to less. The
best set by that, with what costs little beside it, are the upgrades in view; of them alone the best set with its
ways is found. Then it is asked for a set with something else in it that comes, at the least, to no more by all aims
and by number. If there is none, the set found is the best of all with its ways, and the one that the rule for ties
names; if there is one, its upgrades come into view too.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from contextlib import suppress

from msgspec import Struct

from estimator.choose.build import best_for, with_work_of
from estimator.choose.choose import ChoiceResult, choose
from estimator.choose.least_ways import LeastWays
from estimator.choose.measure import MeasureSet, PriceBound
from estimator.choose.milp.earning import aims_in
from estimator.choose.milp.linear import make_row, total_of
from estimator.choose.milp.model import EVERYTHING, Programme, Solution
from estimator.choose.milp.objectives import stages_of
from estimator.choose.of_use import without_others
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.solvers.solve import EXACT
from estimator.choose.verify.choice import score_reached
from estimator.estimate.costing import Costing
from estimator.estimate.ways import upgrades_in
from estimator.model.problem import Problem

FALLING = ("cost", "cash", "price", "hours", "score")
"""Aims that are figures of a set by which it is no worse for taking less of anything; by the hour it may be."""
CHEAP, CHEAP_BY_STEPS = 30, 12
"""What adds no more than one part in so many to the cost of a good set comes into view with it: measured, by aims.

A price goes up by steps, of which a set that costs more may be on the same.
"""


class WithWays(Struct, frozen=True):
    """A choice and the ways to do its work.

    ``frame`` is the choice without its priced work, of which ``least`` is what it takes at least. ``work_of`` prices
    the work of some upgrades (None: of all) with all ways that are open; ``measure_by`` measures sets by a costing,
    ``bound`` is a floor under their price.
    """

    frame: Problem
    least: LeastWays
    work_of: Callable[[Collection[str] | None], Costing]
    measure_by: Callable[[Costing], MeasureSet]
    bound: PriceBound

    def choose(
        self, aim: str, engine: str | None = None, time_limit: float | None = None, explain: bool = True
    ) -> tuple[ChoiceResult, Costing]:
        """The answer of ``choose.choose`` to the whole problem, and the costing whose ways its set is done."""
        aims = list(aims_in(aim))
        end = None if time_limit is None else time.perf_counter() + time_limit

        def asked(problem: Problem, costing: Costing, engine: str | None, explain: bool) -> Found:
            left = None if end is None else end - time.perf_counter()
            measure = self.measure_by(costing)
            mine = with_work_of(problem, costing)
            return choose(mine, measure, self.bound, aim, engine, left, explain), costing

        if not self.least.methods:
            return asked(self.frame, best_for(self.frame, self.least.costing, aims), engine, explain)

        def in_view(view: Collection[str]) -> Found:
            problem = without_others(self.frame, view)
            quick = _quick(engine, aims)
            return asked(problem, best_for(problem, self.work_of(view), aims), quick, False)

        found = None
        if self._falling(aims):
            least = self.least.costed
            if least is not None:
                problem = with_work_of(self.frame, least)
                quick = _quick(engine, aims)
                programme = Programme(problem, self.measure_by(least), self.bound, quick, end)
                with suppress(_UnsettledError):
                    found = self._by_view(Others(programme, aims), in_view, quick, end)
        # no set keeps all rules, or one has to be changed for it: that is told of the whole
        return found or asked(self.frame, best_for(self.frame, self.work_of(None), aims), engine, explain)

    def _falling(self, aims: Sequence[str]) -> bool:
        """Whether a set is no worse for taking less of anything; with a surety below the mean it may be for spread."""
        return set(aims) <= set(FALLING) and min(self.frame.z_minutes, self.frame.z_price) >= 0

    def _by_view(
        self,
        others: Others,
        in_view: Callable[[Collection[str]], Found],
        engine: str | None,
        end: float | None,
    ) -> Found | None:
        """The best set with its ways, if one is proven that changes nothing of what stays as it is."""
        view, more = frozenset[str](), others.as_good(None, None)
        while more is not None:
            view |= others.with_what_is_cheap(more)
            found = in_view(view)
            answer = found[0]
            if answer.changed or answer.status not in (OPTIMAL, INFEASIBLE):
                return None
            seen, more = view, others.as_good(view, answer if answer.status == OPTIMAL else None)
            if answer.status == INFEASIBLE:
                continue
            # what else comes up to it at the least is gathered first: with its ways it mostly falls short
            while more is not None:
                view |= others.with_what_is_cheap(more)
                more = others.as_good(view, answer)
            if view != seen:
                more = self._beside(view, others.names, engine, end).as_good(seen, answer)
            if more is None:
                return found
        return None

    def _beside(
        self, view: Collection[str], aims: Sequence[str], engine: str | None, end: float | None
    ) -> Others:
        """Asks for sets of those in view, done the ways that are open."""
        frame = without_others(self.frame, view)
        costing = best_for(frame, self.work_of(view), aims)
        problem = with_work_of(frame, costing)
        return Others(Programme(problem, self.measure_by(costing), self.bound, engine, end), aims)


class _UnsettledError(Exception):
    """Whether there is a set of some kind could not be told in the time."""


Found = tuple[ChoiceResult, Costing]


def _quick(engine: str | None, aims: Sequence[str]) -> str | None:
    """The engine named, or for a price the exact one: it goes up by steps, which is no question for floats."""
    return EXACT if engine is None and "price" in aims else engine


def _set_of(found: Solution) -> tuple[str, ...] | None:
    """The upgrades of what is proven; None where there are none to be had, _UnsettledError where nothing is proven."""
    if found.status not in (OPTIMAL, INFEASIBLE):
        raise _UnsettledError
    return None if found.chosen is None else upgrades_in(found.chosen)


class Others:
    """Asks a programme for sets with something in them that is not in view."""

    def __init__(self, programme: Programme, aims: Sequence[str]) -> None:
        self.programme, self.names = programme, aims
        stages = stages_of(",".join(aims), programme)
        self.aims = [(name, total) for name, total in zip(aims, stages, strict=True) if total is not None]

    def as_good(self, view: Collection[str] | None, answer: ChoiceResult | None) -> tuple[str, ...] | None:
        """A set with some upgrade that is not in ``view`` (None: any), no worse than ``answer``; None: there is none.

        Without an answer any set that keeps all rules, the best by the first aim as far as one question tells.
        """
        programme, scope = self.programme, EVERYTHING
        if view is not None:
            others = (name for name in programme.problem.options if name not in view)
            beside = total_of((programme.columns.option(name), 1) for name in others)
            scope = scope.adding(make_row(beside, 1, None, "beside"))
        if answer is None:
            return _set_of(programme.ask(self.aims[0][1], scope, lift=False))
        number = len(programme.problem.options) + 1
        for place, (name, total) in enumerate(self.aims, 1):
            mine = self._figure(name, answer)
            if place == len(self.aims):
                total = total.times(number).add(programme.count())
                mine = mine * number + len(upgrades_in(answer.chosen))
            found = programme.ask(total, scope, beyond=mine)
            chosen = _set_of(found)
            if chosen is None or found.objective is None or found.objective > mine:
                return None
            if found.objective < mine:
                break
            scope = scope.adding(make_row(total, None, mine, "as good"))
        return chosen

    def _figure(self, aim: str, answer: ChoiceResult) -> int:
        """What an answer has of the sum of an aim."""
        told = answer.measure
        assert told is not None
        if aim == "score":
            return -score_reached(self.programme.problem, answer.chosen)
        return {"cost": told.cost, "cash": told.cash, "price": told.price, "hours": told.minutes}[aim]

    def with_what_is_cheap(self, chosen: Collection[str]) -> frozenset[str]:
        """A set with each upgrade that adds little to it, or in the place of its rival, as far as that is soon told."""
        problem, held = self.programme.problem, frozenset(chosen)
        more: dict[str, int] = dict.fromkeys(problem.options, 0)
        less: dict[str, int] = dict.fromkeys(chosen, 0)
        total = 0
        for piece in problem.pieces:
            mine = held.intersection(piece.triggers or ())
            if mine or piece.triggers is None:
                total += piece.cost
                if len(mine) == 1:
                    less[next(iter(mine))] += piece.cost
                continue
            for name in piece.triggers:
                if name in more:
                    more[name] += piece.cost
        for _, of in problem.slots:
            saved = max((less[name] for name in of if name in held), default=0)
            for name in of:
                more[name] -= saved
        share = CHEAP_BY_STEPS if any(name == "price" for name, _ in self.aims) else CHEAP
        return held.union(name for name in problem.options if share * more[name] <= total)

"""The best set with its ways, where the ways of a task are only weighed once a good set asks for it.

All other tasks are priced at the least of their ways (``least_ways``): what is best so is no dearer than
the best set, done whatever ways. Its tasks are opened and it is asked again, until the best has none that is shut:
then it is the best set of all with its ways, and the one that the rule for ties names, for whatever ties with it
in full is no worse here.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence, Set

from msgspec import Struct

from estimator.choose.build import best_for, with_work_of
from estimator.choose.choose import ChoiceResult, choose
from estimator.choose.least_ways import LeastWays, tasks_asked, with_no_least
from estimator.choose.measure import Measure, MeasureSet, PriceBound
from estimator.choose.solvers.backends import OPTIMAL
from estimator.estimate.costing import Costing
from estimator.model.problem import Problem

FALLING = ("cost", "cash", "price", "hours", "score", "profit")
"""Aims by which a set is no worse for taking less of anything; by the hour less time may be worse."""


class _ShutError(Exception):
    """The first good set asks for tasks that are not opened yet."""

    def __init__(self, tasks: Set[str]) -> None:
        super().__init__(", ".join(sorted(tasks)))
        self.tasks = tasks


class WithWays(Struct, frozen=True):
    """A choice and the ways to do its work.

    ``frame`` is the choice without its priced work, which is that of ``costing``; ``measure_by`` measures sets by a
    costing, ``bound`` is a floor under their price.
    """

    frame: Problem
    costing: Costing
    measure_by: Callable[[Costing], MeasureSet]
    bound: PriceBound

    def choose(
        self, aim: str, engine: str | None = None, time_limit: float | None = None, explain: bool = True
    ) -> ChoiceResult:
        """The answer of ``choose.choose`` to the whole problem, which it goes back to where no set keeps all rules."""
        aims = [name.strip() for name in aim.split(",")]
        end = None if time_limit is None else time.perf_counter() + time_limit

        def asked(costing: Costing, measure: MeasureSet, explain: bool) -> ChoiceResult:
            left = None if end is None else end - time.perf_counter()
            return choose(with_work_of(self.frame, costing), measure, self.bound, aim, engine, left, explain)

        if self.costing.ways and self.costing.baskets is None and all(name in FALLING for name in aims):
            answer = self._on_demand(aims, asked)
            if answer is not None:
                return answer
        narrowed = best_for(self.frame, self.costing, aims)
        return asked(narrowed, self.measure_by(narrowed), explain)

    def _on_demand(
        self, aims: Sequence[str], asked: Callable[[Costing, MeasureSet, bool], ChoiceResult]
    ) -> ChoiceResult | None:
        """The best set with its ways, if one is proven that changes nothing of what stays as it is."""
        least = LeastWays(self.costing)
        opened = {*with_no_least(self.costing), *tasks_asked(self.costing, ())}
        while True:
            there = least.at_least(opened, best_for(self.frame, self.costing, aims, opened).ways)
            measure = _once_open(self.measure_by(there), self.costing, frozenset(opened))
            try:
                answer = asked(there, measure, False)
            except _ShutError as shut:
                opened |= shut.tasks
                continue
            if answer.status != OPTIMAL or answer.changed:
                return None
            more = set(tasks_asked(self.costing, answer.chosen)) - opened
            if not more:
                return answer
            opened |= more


def _once_open(measure: MeasureSet, costing: Costing, opened: Set[str]) -> MeasureSet:
    """A measure that stops at the first set that asks for shut tasks; after one that asks for none it goes on.

    The first good sets are near the best: what they ask for is opened at once, before anything is proven of them.
    """
    reached = False

    def measured(chosen: tuple[str, ...]) -> Measure:
        nonlocal reached
        if not reached and (shut := set(tasks_asked(costing, chosen)) - opened):
            raise _ShutError(shut)
        reached = True
        return measure(chosen)

    return measured

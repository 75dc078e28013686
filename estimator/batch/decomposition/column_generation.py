"""Many jobs: each solved by itself at prices for what all share, then the best mix of what was found.

Dantzig-Wolfe decomposition (G. B. Dantzig, P. Wolfe, "Decomposition principle for linear programs",
Operations Research 8(1), 1960): a linear programme over the sets found so far says what a cent of
cash, a minute, a pack and a tool are worth; at these prices the jobs fall apart, and what they bring
one by one are new sets. The sum of their optima less the priced limits is a proven lower bound
(M. L. Fisher, "The Lagrangian relaxation method for solving integer programming problems",
Management Science 27(1), 1981). A programme over the sets found, with packs, sellers, freight and
tools in full, takes the best mix that keeps every limit. The gap between the two is told.
"""

from __future__ import annotations

import random
import time
from collections.abc import Sequence
from fractions import Fraction

from msgspec.structs import replace

from estimator.batch.bought import JointResult, solution_of
from estimator.batch.decomposition.columns import IntegerMaster
from estimator.batch.decomposition.master import RestrictedMaster
from estimator.batch.decomposition.pricing import SCALE, Duals, JobClass, PricingProblems
from estimator.batch.records import Batch, JointAnswer
from estimator.batch.solve_exact import answer_of, sum_of
from estimator.choose.solvers.backends import FEASIBLE, INFEASIBLE, NO_ANSWER, OPTIMAL
from estimator.choose.solvers.solve import SolveResult
from estimator.core.errors import EngineError

KNOWN_OBJECTIVES = ("cost", "cash", "profit")
CLOSE = 1e-4
"""Prices are good enough when the bound is within this share of what the mix of sets comes to."""
GOOD = 1e-3
"""Gap at which no more sets are looked for."""
TIGHTER = (Fraction(0), Fraction(1, 2), Fraction(1), Fraction(2))
"""Shares held back for what the linear programme does not see, tried in turn until the gap is good."""
ROUNDS = 40
SAMPLE = 40
"""Kinds of jobs whose prices are found first where there are many."""
AROUND = (Fraction(4, 5), Fraction(1), Fraction(5, 4))
"""Shares of the sample's prices at which all jobs are asked first."""
OPEN_PACKS = (Fraction(1), Fraction(1, 2), Fraction(0))
"""Shares of the last prices for cash and minutes at which jobs are asked as if each pack stood open already, where
the gap is not good: the linear programme parts a pack among all that could use it, and one buys it whole."""
DEAR = (Duals(), Duals(cash=4 * SCALE), Duals(minutes=4 * SCALE))
"""Prices at which the first sets are found: none, and so dear that sets which keep tight limits come up."""
MIXING = 120.0
"""Seconds for the mix where no limit was given; else at least a quarter of the limit is kept for it."""


class ColumnGeneration:
    """The rounds of prices and sets over some kinds of jobs."""

    def __init__(
        self, pricing: PricingProblems, classes: Sequence[JobClass], share: Fraction, until: float | None
    ) -> None:
        self.pricing, self.classes, self.until = pricing, classes, until
        batch = pricing.batch
        self.cash = None if batch.cash is None else int(batch.cash * share)
        self.minutes = None if batch.minutes is None else int(batch.minutes * share)
        self.share = share
        self.bound: int | None = None
        self.impossible = False
        self.number = 0

    @property
    def late(self) -> bool:
        """Whether the time for rounds is up; a first bound is always found."""
        return self.until is not None and time.perf_counter() > self.until and self.bound is not None

    def price(self, duals: Duals) -> bool:
        """Ask every job at these prices; whether any set was new. Lifts the bound."""
        duals = self.pricing.within(duals)
        total, known = 0, sum(len(kind.set_columns) for kind in self.classes)
        for kind in self.classes:
            if self.late:
                return False
            value = self.pricing.ask(kind, duals)
            if value is None:
                self.impossible = True
                return False
            total += value * len(kind.jobs)
        self.number += 1
        least = -(-(total - int(self.pricing.shared(duals) * self.share)) // SCALE)
        self.bound = least if self.bound is None else max(self.bound, least)
        return sum(len(kind.set_columns) for kind in self.classes) > known

    def run(
        self, master: RestrictedMaster, first: Sequence[Duals] = (), tighter: Fraction = Fraction(0)
    ) -> Duals:
        """Rounds until prices and sets agree, no set is new, or the time is up; the last prices.

        ``tighter``: the share of freight and of a pack of each kind that is held back from the cash, and
        of a hundredth of the minutes, for what the linear programme does not see: whole packs, parcels,
        whole sets. The bound is that of the limits as they are.
        """
        cash = None if self.cash is None else self.cash - int(tighter * self.pricing.unseen)
        minutes = None if self.minutes is None else self.minutes - int(tighter * self.minutes / 100)
        last = self.number + ROUNDS
        duals = Duals()
        for duals in first:
            useless = (duals.cash and cash is None) or (duals.minutes and minutes is None)
            if not useless and not self.late and not self.impossible:
                self.price(duals)
        while not self.impossible and not self.late and self.number < last:
            value, duals = master.solve(self.classes, cash, minutes)
            if self.bound is not None and value - self.bound <= CLOSE * abs(value):
                break
            if not self.price(duals):
                break
        return duals


def choose_by_columns(batch: Batch, aim: str = "cost", time_limit: float | None = None) -> JointAnswer:
    """A good choice for many jobs with a proven gap; ``aim`` is ``cost``, ``cash`` or ``profit``.

    ``optimal`` only if the gap is zero. EngineError for other aims.
    """
    if aim not in KNOWN_OBJECTIVES:
        raise EngineError(f"many jobs at once are chosen for {', '.join(KNOWN_OBJECTIVES)}, not for “{aim}”")
    begun = time.perf_counter()
    until = None if time_limit is None else begun + 0.75 * time_limit
    pricing = PricingProblems(batch, aim)
    master = RestrictedMaster(pricing)
    first: Sequence[Duals] = DEAR
    classes = pricing.classes
    if len(classes) > 2 * SAMPLE:
        sample = random.Random(0).sample(classes, SAMPLE)
        share = Fraction(sum(len(kind.jobs) for kind in sample), len(batch.jobs))
        few = ColumnGeneration(pricing, sample, share, until)
        found = few.run(master, DEAR)
        if few.impossible:
            return _nothing(aim, INFEASIBLE, None, batch, begun)
        first = [found.times(around) for around in AROUND]
    rounds = ColumnGeneration(pricing, classes, Fraction(1), until)
    duals = rounds.run(master, first)
    if rounds.impossible:
        return _nothing(aim, INFEASIBLE, None, batch, begun)
    best: JointResult | None = None
    for tighter in TIGHTER:
        if tighter:
            known = sum(len(kind.set_columns) for kind in classes)
            duals = rounds.run(master, tighter=tighter)
            for share in OPEN_PACKS:
                rounds.price(replace(duals.times(share), packs={}))
            if rounds.late or sum(len(kind.set_columns) for kind in classes) == known:
                continue
        left = begun + time_limit if time_limit is not None else time.perf_counter() + MIXING
        integer_master = IntegerMaster(
            batch, {job: list(kind.set_columns.values()) for kind in classes for job in kind.jobs}, left
        )
        asked = integer_master.ask(sum_of(integer_master, aim), [])
        if best is None or (asked[0].values is not None and not _better(best[0], asked[0])):
            best = asked
        assert rounds.bound is not None
        value = best[0].objective
        if value is not None and value - rounds.bound <= GOOD * abs(value):
            break
    assert best is not None
    assert rounds.bound is not None
    outcome, bound = best[0], rounds.bound
    if outcome.objective is None:
        # no mix of the sets found keeps the limits; that proves nothing about other sets
        return _nothing(aim, NO_ANSWER, bound, batch, begun)
    if bound > outcome.objective:
        raise EngineError(f"the bound {bound} lies above the answer {outcome.objective}")
    status = OPTIMAL if outcome.objective == bound else FEASIBLE
    told = replace(outcome, bound=bound, status=status)
    seconds = time.perf_counter() - begun
    return answer_of(batch, (aim,), status, told, solution_of(batch, best), rounds.number, seconds)


def _better(one: SolveResult, other: SolveResult) -> bool:
    """Whether the first has a value at least as good as that of the other."""
    return one.objective is not None and (other.objective is None or one.objective <= other.objective)


def _nothing(aim: str, status: str, bound: int | None, batch: Batch, begun: float) -> JointAnswer:
    told = SolveResult(status, None, None, bound, 0.0, "none")
    return answer_of(batch, (aim,), status, told, None, 0, time.perf_counter() - begun)

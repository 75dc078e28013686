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
from dataclasses import replace
from fractions import Fraction

from estimator.batch.decomposition.columns import Mix
from estimator.batch.decomposition.master import Master
from estimator.batch.decomposition.pricing import SCALE, Kind, Prices, Relaxed
from estimator.batch.records import Batch, JointAnswer
from estimator.batch.solve_exact import Asked, answer_of, held_of, sum_of
from estimator.choose.solvers.backends import FEASIBLE, INFEASIBLE, NO_ANSWER, OPTIMAL
from estimator.choose.solvers.solve import Outcome
from estimator.core.errors import EngineError

KNOWN_AIMS = ("cost", "cash", "profit")
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
DEAR = (Prices(), Prices(cash=4 * SCALE), Prices(minutes=4 * SCALE))
"""Prices at which the first sets are found: none, and so dear that sets which keep tight limits come up."""
MIXING = 120.0
"""Seconds for the mix where no limit was given; else at least a quarter of the limit is kept for it."""


class Rounds:
    """The rounds of prices and sets over some kinds of jobs."""

    def __init__(self, relaxed: Relaxed, kinds: Sequence[Kind], share: Fraction, until: float | None) -> None:
        self.relaxed, self.kinds, self.until = relaxed, kinds, until
        batch = relaxed.batch
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

    def price(self, prices: Prices) -> bool:
        """Ask every job at these prices; whether any set was new. Lifts the bound."""
        prices = self.relaxed.within(prices)
        total, known = 0, sum(len(kind.candidates) for kind in self.kinds)
        for kind in self.kinds:
            if self.late:
                return False
            value = self.relaxed.ask(kind, prices)
            if value is None:
                self.impossible = True
                return False
            total += value * len(kind.jobs)
        self.number += 1
        least = -(-(total - int(self.relaxed.shared(prices) * self.share)) // SCALE)
        self.bound = least if self.bound is None else max(self.bound, least)
        return sum(len(kind.candidates) for kind in self.kinds) > known

    def run(self, master: Master, first: Sequence[Prices] = (), tighter: Fraction = Fraction(0)) -> Prices:
        """Rounds until prices and sets agree, no set is new, or the time is up; the last prices.

        ``tighter``: the share of freight and of a pack of each kind that is held back from the cash, and
        of a hundredth of the minutes, for what the linear programme does not see: whole packs, parcels,
        whole sets. The bound is that of the limits as they are.
        """
        cash = None if self.cash is None else self.cash - int(tighter * self.relaxed.unseen)
        minutes = None if self.minutes is None else self.minutes - int(tighter * self.minutes / 100)
        last = self.number + ROUNDS
        prices = Prices()
        for prices in first:
            useless = (prices.cash and cash is None) or (prices.minutes and minutes is None)
            if not useless and not self.late and not self.impossible:
                self.price(prices)
        while not self.impossible and not self.late and self.number < last:
            value, prices = master.solve(self.kinds, cash, minutes)
            if self.bound is not None and value - self.bound <= CLOSE * abs(value):
                break
            if not self.price(prices):
                break
        return prices


def choose_apart(batch: Batch, aim: str = "cost", time_limit: float | None = None) -> JointAnswer:
    """A good choice for many jobs with a proven gap; ``aim`` is ``cost``, ``cash`` or ``profit``.

    ``optimal`` only if the gap is nought. EngineError for other aims.
    """
    if aim not in KNOWN_AIMS:
        raise EngineError(f"many jobs at once are chosen for {', '.join(KNOWN_AIMS)}, not for “{aim}”")
    begun = time.perf_counter()
    until = None if time_limit is None else begun + 0.75 * time_limit
    relaxed = Relaxed(batch, aim)
    master = Master(relaxed)
    first: Sequence[Prices] = DEAR
    kinds = relaxed.kinds
    if len(kinds) > 2 * SAMPLE:
        sample = random.Random(0).sample(kinds, SAMPLE)
        share = Fraction(sum(len(kind.jobs) for kind in sample), len(batch.jobs))
        few = Rounds(relaxed, sample, share, until)
        found = few.run(master, DEAR)
        if few.impossible:
            return _nothing(aim, INFEASIBLE, None, batch, begun)
        first = [found.times(around) for around in AROUND]
    rounds = Rounds(relaxed, kinds, Fraction(1), until)
    rounds.run(master, first)
    if rounds.impossible:
        return _nothing(aim, INFEASIBLE, None, batch, begun)
    best: Asked | None = None
    for tighter in TIGHTER:
        if tighter:
            known = sum(len(kind.candidates) for kind in kinds)
            rounds.run(master, tighter=tighter)
            if rounds.late or sum(len(kind.candidates) for kind in kinds) == known:
                continue
        left = begun + time_limit if time_limit is not None else time.perf_counter() + MIXING
        mix = Mix(batch, {job: list(kind.candidates.values()) for kind in kinds for job in kind.jobs}, left)
        asked = mix.ask(sum_of(mix, aim), [])
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
    return answer_of(batch, (aim,), status, told, held_of(batch, best), rounds.number, seconds)


def _better(one: Outcome, other: Outcome) -> bool:
    """Whether the first has a value at least as good as that of the other."""
    return one.objective is not None and (other.objective is None or one.objective <= other.objective)


def _nothing(aim: str, status: str, bound: int | None, batch: Batch, begun: float) -> JointAnswer:
    told = Outcome(status, None, None, bound, 0.0, "none")
    return answer_of(batch, (aim,), status, told, None, 0, time.perf_counter() - begun)

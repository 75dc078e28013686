"""The best profit of one kind of instrument at many clean prices, with few solves.

Between the clean prices at which an uplift meets its most, what a set sells for before the ceiling is
the best of all orders of its uplifts: the largest of sums that are linear in the clean price, so
convex. The best profit over all sets is then convex too, and lies below the straight line between two
prices where it is known. A set that comes up to that line (to a few cents: money is rounded) is
proven best in between; where none does, the price in between is solved as well.

Where the ceiling cuts into the set found, another bound holds. What a set sells for, as a share of the
clean price, never rises with it (an uplift has a most, the rest are shares), and the ceiling is a fixed
share: so what a set falls short of the ceiling by never shrinks. The best profit at a higher clean
price is then at most that at a lower one and what the ceiling rises by. A known set that comes up to
that (to a few cents again) is proven best; else the price is solved, with the ceiling.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.milp.linear import make_row
from estimator.choose.milp.model import EVERYTHING, Programme
from estimator.choose.sale import rows as sale_rows
from estimator.choose.sale.build import SaleFrame, sale_frame
from estimator.choose.sale.dominance import can_be_pruned, pruned, without_refused
from estimator.choose.study import Study
from estimator.choose.verify.choice import recheck
from estimator.choose.verify.sale import Sold, sold
from estimator.core.amounts import Cents
from estimator.core.money import amount
from estimator.estimate.uplift import share_left
from estimator.model.problem import Problem
from estimator.model.sale_problem import Sale

ROUNDING = 5
"""Cents by which a line between two rounded figures may pass a third without meaning anything."""
SLACK = 50
"""Cents by which a set may lie below the best known one and still be looked at."""
NO_CEILING = Cents(10**9)


class Best(Struct, frozen=True):
    """The best set at a clean price and what it sells for; ``within`` cents of the proven bound."""

    chosen: tuple[str, ...]
    sold: Sold
    within: Cents


@dataclass
class Curve:
    """Best profits of one study over clean prices in cents; solves are counted and timed."""

    study: Study
    frame: SaleFrame = field(init=False)
    solves: int = 0
    seconds: float = 0.0
    _free: dict[Cents, tuple[tuple[str, ...], Cents]] = field(default_factory=dict)
    _known: dict[tuple[tuple[str, ...], Cents], Sold] = field(default_factory=dict)
    #: the problem of every price, without what is refused at any
    _open: Problem = field(init=False)

    def __post_init__(self) -> None:
        self.frame = sale_frame(self.study.shop, self.study.job, self.study.verdicts, self.study.costing)
        problem = self.study.problem
        self._open = without_refused(problem) if can_be_pruned(problem) else problem

    def sale(self, base: Cents, ceiling: bool = True) -> Sale:
        """The sale at a clean price in cents."""
        sale = self.frame.at(amount(base))
        return sale if ceiling else replace(sale, ceiling=NO_CEILING)

    def kinks(self) -> list[Cents]:
        """Clean prices in cents at which an uplift meets its most."""
        found = {
            Cents(int(Fraction(u.row.most) / Fraction(u.row.share) * 100))
            for u in self.frame.uplifts
            if u.part_value is None and u.row.most is not None and u.row.share > 0
        }
        return sorted(found)

    def solve(self, base: Cents, ceiling: bool) -> tuple[str, ...]:
        """The set of most profit at a clean price; what brings nothing is taken out again.

        What the sets found so far leave, less a little, is asked of it at least: that shortens the search.
        """
        problem = replace(self._open, sale=self.sale(base, ceiling))
        programme = Programme(pruned(problem), self.study.measure)
        programme.expects_many = True  # one programme of very many
        loss = sale_rows.profit(programme)
        known = [sold(self.study.problem, chosen, problem.sale).profit for chosen, _ in self._free.values()]
        scope = (
            EVERYTHING if not known else EVERYTHING.adding(make_row(loss, None, SLACK - max(known), "known"))
        )
        found = programme.ask(loss, scope)
        self.solves += 1
        self.seconds += programme.seconds_solve
        return self._trimmed(found.chosen or (), base, ceiling)

    def _trimmed(self, chosen: tuple[str, ...], base: Cents, ceiling: bool) -> tuple[str, ...]:
        sale = self.sale(base, ceiling)
        best = sold(self.study.problem, chosen, sale).profit
        for upgrade in chosen:
            fewer = tuple(u for u in chosen if u != upgrade)
            told = sold(self.study.problem, fewer, sale)
            if told.profit >= best and not recheck(self.study.problem, fewer, Cents(0)):
                chosen, best = fewer, told.profit
        return chosen

    def value(self, chosen: tuple[str, ...], base: Cents) -> Sold:
        """What a set sells for without the ceiling, worked out once."""
        key = (chosen, base)
        if key not in self._known:
            self._known[key] = sold(self.study.problem, chosen, self.sale(base, False))
        return self._known[key]

    def free(self, base: Cents) -> tuple[tuple[str, ...], int]:
        """The best set without the ceiling and its profit, solved once."""
        if base not in self._free:
            chosen = self.solve(base, False)
            self._free[base] = (chosen, self.value(chosen, base).profit)
        return self._free[base]

    def best(self, bases: Iterable[Cents]) -> dict[Cents, Best]:
        """The best set at every clean price asked for."""
        ordered, kinks = sorted(set(bases)), self.kinks()
        free: dict[Cents, Best] = {}
        groups: dict[int, list[Cents]] = {}
        for base in ordered:
            groups.setdefault(bisect_right(kinks, base), []).append(base)
        for group in groups.values():
            self._between(group, 0, len(group) - 1, free)
        return self._under_ceiling(free)

    def _between(self, group: list[Cents], low: int, high: int, answers: dict[Cents, Best]) -> None:
        """Answer all prices of a group from ``low`` to ``high``; the ends are solved, the rest proven."""
        for end in (low, high):
            if group[end] not in answers:
                chosen, _ = self.free(group[end])
                answers[group[end]] = Best(chosen, self.value(chosen, group[end]), Cents(0))
        if high - low < 2:
            return
        (set_low, value_low), (set_high, value_high) = self.free(group[low]), self.free(group[high])
        worst, place = Cents(0), None
        found: dict[Cents, Best] = {}
        for index in range(low + 1, high):
            base = group[index]
            line = (
                Fraction(value_high - value_low, group[high] - group[low]) * (base - group[low]) + value_low
            )
            chosen = max((set_low, set_high), key=lambda s: self.value(s, base).profit)
            gap = Cents(max(0, ceil(line - self.value(chosen, base).profit)))
            if gap > worst:
                worst, place = gap, index
            found[base] = Best(chosen, self.value(chosen, base), gap)
        if worst <= ROUNDING or place is None:
            answers.update(found)
            return
        self._between(group, low, place, answers)
        self._between(group, place, high, answers)

    def _under_ceiling(self, free: dict[Cents, Best]) -> dict[Cents, Best]:
        """The best sets with the ceiling from those without it, from the lowest clean price up."""
        answers: dict[Cents, Best] = {}
        known: dict[tuple[str, ...], None] = {}
        lower: tuple[Cents, Cents] | None = (
            None  # profit, and what the ceiling leaves, at a price solved below
        )
        for base in sorted(free):
            best, sale = free[base], self.sale(base)
            known[best.chosen] = None
            if best.sold.uncapped <= sale.ceiling:
                answers[base] = best
                continue
            left = share_left(sale.ceiling, sale.fee_basis_points)
            if lower is not None:
                most = min(best.sold.profit + best.within, lower[0] + left - lower[1])
                told = {chosen: sold(self.study.problem, chosen, sale) for chosen in known}
                chosen = max(known, key=lambda s: told[s].profit)
                gap = max(Cents(0), most - told[chosen].profit)
                if gap <= ROUNDING:
                    answers[base] = Best(chosen, told[chosen], gap)
                    continue
            chosen = self.solve(base, True)
            known[chosen] = None
            answers[base] = Best(chosen, sold(self.study.problem, chosen, sale), Cents(0))
            lower = answers[base].sold.profit, left
        return answers

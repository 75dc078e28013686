"""The best profit of one kind of instrument at many clean prices, with few solves.

Between the clean prices at which an uplift meets its most, what a set sells for before the ceiling is
the best of all orders of its uplifts: the largest of sums that are linear in the clean price, so
convex. The best profit over all sets is then convex too, and lies below the straight line between two
prices where it is known. A set that comes up to that line (to a few cents: money is rounded) is
proven best in between; where none does, the price in between is solved as well. Prices at which the
ceiling cuts into the set found are solved one by one, with the ceiling.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import ceil

from estimator.choose import sale_rows
from estimator.choose.programme import Programme
from estimator.choose.prune import pruned
from estimator.choose.sale import Sale
from estimator.choose.sale_building import SaleFrame, sale_frame
from estimator.estimate.money import amount
from estimator.pipeline import Study
from estimator.recheck import recheck
from estimator.recheck_sale import Sold, sold

ROUNDING = 5
"""Cents by which a line between two rounded figures may pass a third without meaning anything."""
NO_CEILING = 10**9


@dataclass(frozen=True, slots=True)
class Best:
    """The best set at a clean price and what it sells for; ``within`` cents of the proven bound."""

    chosen: tuple[str, ...]
    sold: Sold
    within: int


@dataclass
class Curve:
    """Best profits of one study over clean prices in cents; solves are counted and timed."""

    study: Study
    engine: str | None = None
    frame: SaleFrame = field(init=False)
    solves: int = 0
    seconds: float = 0.0
    _free: dict[int, tuple[tuple[str, ...], int]] = field(default_factory=dict)
    _known: dict[tuple[tuple[str, ...], int], Sold] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.frame = sale_frame(self.study.shop, self.study.job, self.study.verdicts, self.study.costing)

    def sale(self, base: int, ceiling: bool = True) -> Sale:
        """The sale at a clean price in cents."""
        sale = self.frame.at(amount(base))
        return sale if ceiling else replace(sale, ceiling=NO_CEILING)

    def kinks(self) -> list[int]:
        """Clean prices in cents at which an uplift meets its most."""
        found = {
            int(Fraction(u.row.most) / Fraction(u.row.share) * 100)
            for u in self.frame.uplifts
            if u.part_value is None and u.row.most is not None and u.row.share > 0
        }
        return sorted(found)

    def solve(self, base: int, ceiling: bool) -> tuple[str, ...]:
        """The set of most profit at a clean price; what brings nothing is taken out again."""
        problem = replace(self.study.problem, sale=self.sale(base, ceiling))
        programme = Programme(pruned(problem), self.study.measure, None, self.engine)
        found = programme.ask(sale_rows.profit(programme))
        self.solves += 1
        self.seconds += programme.seconds_solve
        return self._trimmed(found.chosen or (), base, ceiling)

    def _trimmed(self, chosen: tuple[str, ...], base: int, ceiling: bool) -> tuple[str, ...]:
        sale = self.sale(base, ceiling)
        best = sold(self.study.problem, chosen, sale).profit
        for upgrade in chosen:
            fewer = tuple(u for u in chosen if u != upgrade)
            told = sold(self.study.problem, fewer, sale)
            if told.profit >= best and not recheck(self.study.problem, fewer, 0):
                chosen, best = fewer, told.profit
        return chosen

    def value(self, chosen: tuple[str, ...], base: int) -> Sold:
        """What a set sells for without the ceiling, worked out once."""
        key = (chosen, base)
        if key not in self._known:
            self._known[key] = sold(self.study.problem, chosen, self.sale(base, False))
        return self._known[key]

    def free(self, base: int) -> tuple[tuple[str, ...], int]:
        """The best set without the ceiling and its profit, solved once."""
        if base not in self._free:
            chosen = self.solve(base, False)
            self._free[base] = (chosen, self.value(chosen, base).profit)
        return self._free[base]

    def best(self, bases: Iterable[int]) -> dict[int, Best]:
        """The best set at every clean price asked for."""
        ordered, kinks = sorted(set(bases)), self.kinks()
        answers: dict[int, Best] = {}
        groups: dict[int, list[int]] = {}
        for base in ordered:
            groups.setdefault(bisect_right(kinks, base), []).append(base)
        for group in groups.values():
            self._between(group, 0, len(group) - 1, answers)
        return answers

    def _between(self, group: list[int], low: int, high: int, answers: dict[int, Best]) -> None:
        """Answer all prices of a group from ``low`` to ``high``; the ends are solved, the rest proven."""
        for end in (low, high):
            if group[end] not in answers:
                chosen, _ = self.free(group[end])
                answers[group[end]] = self._with_ceiling(chosen, group[end], 0)
        if high - low < 2:
            return
        (set_low, value_low), (set_high, value_high) = self.free(group[low]), self.free(group[high])
        worst, place = 0, None
        found: dict[int, Best] = {}
        for index in range(low + 1, high):
            base = group[index]
            line = (
                Fraction(value_high - value_low, group[high] - group[low]) * (base - group[low]) + value_low
            )
            chosen = max((set_low, set_high), key=lambda s: self.value(s, base).profit)
            gap = max(0, ceil(line - self.value(chosen, base).profit))
            if gap > worst:
                worst, place = gap, index
            found[base] = Best(chosen, self.value(chosen, base), gap)
        if worst <= ROUNDING or place is None:
            for base, best in found.items():
                answers[base] = self._with_ceiling(best.chosen, base, best.within)
            return
        self._between(group, low, place, answers)
        self._between(group, place, high, answers)

    def _with_ceiling(self, chosen: tuple[str, ...], base: int, within: int) -> Best:
        told = sold(self.study.problem, chosen, self.sale(base))
        if told.uncapped <= self.sale(base).ceiling:
            return Best(chosen, told, within)
        chosen = self.solve(base, True)
        return Best(chosen, sold(self.study.problem, chosen, self.sale(base)), 0)

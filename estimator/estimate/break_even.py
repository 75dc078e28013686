"""From which quantity on another way to do a task costs less: the difference of what is fixed over that of each unit.

The textbook rule of process choice: with fixed costs F and costs V a unit, two ways cost the same at
(F2 - F1) / (V1 - V2). Fixed is the set-up, with what a finding adds and what going wrong costs whatever the
quantity; the rest goes by the unit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents
from estimator.estimate.costing import Costing, Rank, is_active
from estimator.estimate.labour import Setting, run_line, setup_line
from estimator.fit.ways import OfferedWay
from estimator.model import Demand, Estimate
from estimator.tables.methods import by_methods

FEW, MANY = Decimal(1000), Decimal(3000)
"""Quantities between which the cost of a unit is read off: so many that the rounding to the cent is lost in them."""


def break_even(fixed_1: Decimal, each_1: Decimal, fixed_2: Decimal, each_2: Decimal) -> Decimal | None:
    """The quantity at which two ways cost the same; None where one is cheaper (or both alike) at every quantity."""
    if each_1 == each_2:
        return None
    quantity = (fixed_2 - fixed_1) / (each_1 - each_2)
    return quantity if quantity > 0 else None


def saved_in(jobs: int, more: Cents) -> Cents:
    """What another way saves over so many jobs, each of which it costs so many cents ``more``: less than 0 saves."""
    return Cents(-more * jobs)


class WayCost(Struct, frozen=True):
    """What a way to do a task costs on one job, in cents: once, and for each unit."""

    way: OfferedWay
    fixed: Decimal
    each: Decimal

    def at(self, quantity: Decimal) -> Decimal:
        """Its cost at a quantity."""
        return self.fixed + self.each * quantity


class OtherWay(Struct, frozen=True):
    """Another way beside the one taken, by the cost to the shop.

    ``at``: the quantity from which (or, if not ``above``, up to which) it is the cheaper one; None: one of the
    two is cheaper at every quantity. ``more``: cents that it costs more on this job, for ``quantity`` in all.
    ``jobs_a_year``: of a way that would save and is kept out by missing tools alone, how many jobs of the shop's
    last year had the task; else None, and where nobody knows.
    """

    task: str
    driver: str
    quantity: Decimal
    taken: WayCost
    other: WayCost
    at: Decimal | None
    above: bool
    more: Cents
    jobs_a_year: int | None = None

    @property
    def saves_a_year(self) -> Cents | None:
        """Cents that it would save over the jobs of a year, each at the amount of this one; None as there."""
        return None if self.jobs_a_year is None else saved_in(self.jobs_a_year, self.more)


def way_cost(way: OfferedWay, demand: Demand, part_price: Decimal, setting: Setting) -> WayCost:
    """What a way costs, the run at one place with the set-up."""
    shop = by_methods(setting.shop, {way.task: way.method})
    there = replace(setting, shop=shop)
    task = shop.tasks[way.task]

    def run(quantity: Decimal) -> int:
        return run_line(task, replace(demand, quantity=quantity), there, part_price).money.cost

    few = run(FEW)
    each = (run(MANY) - few) / (MANY - FEW)
    return WayCost(way, setup_line(task, there).money.cost + few - each * FEW, each)


def other_ways_of(
    costing: Costing,
    estimate: Estimate,
    ways: Mapping[str, Sequence[OfferedWay]],
    jobs_a_year: Mapping[str, int] | None = None,
) -> tuple[OtherWay, ...]:
    """For every task of a set with more than one way: the others, and from which quantity each would be cheaper.

    Those that only a missing tool rules out are among them. ``jobs_a_year``: how many jobs of the shop's last year
    had each task (one that is not named: none); None: nobody knows.
    """
    told = []
    quantities: dict[str, Decimal] = {}
    for line in estimate.lines:
        quantities[line.task] = quantities.get(line.task, Decimal(0)) + line.quantity
    for task, quantity in quantities.items():
        mine = [way for way in ways.get(task, ()) if way.offered or way.lacks_tools_alone]
        method = costing.shop.tasks[task].method
        now = next((way for way in ways.get(task, ()) if way.method == method), None)
        if now is None or len(mine) < 2:
            continue
        place = next(line.place for line in estimate.lines if line.task == task)
        rank = _active(costing, task, place, estimate)
        taken = way_cost(now, rank.demand, rank.part_price, costing.setting)
        for way in mine:
            if way.method == method:
                continue
            other = way_cost(way, rank.demand, rank.part_price, costing.setting)
            at = break_even(taken.fixed, taken.each, other.fixed, other.each)
            more = (other.at(quantity) - taken.at(quantity)).quantize(Decimal(1), ROUND_HALF_UP)
            driver = costing.shop.tasks[task].driver
            above, had = other.each < taken.each, None
            if jobs_a_year is not None and way.lacks_tools_alone and more < 0:
                had = jobs_a_year.get(task, 0)
            told.append(OtherWay(task, driver, quantity, taken, other, at, above, Cents(int(more)), had))
    return tuple(told)


def _active(costing: Costing, task: str, place: str, estimate: Estimate) -> Rank:
    ranks = costing.ranks[task, place]
    return [rank for rank in ranks if is_active(rank.triggers, frozenset(estimate.chosen))][-1]

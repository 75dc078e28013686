"""What a choice can aim at: a register of aims, each a list of sums to be made small one after another."""

from __future__ import annotations

from collections.abc import Callable, Collection
from math import gcd

from msgspec import Struct

from estimator.choose.measure import Measure
from estimator.choose.milp.earning import aims_in
from estimator.choose.milp.linear import Linear, make_row
from estimator.choose.milp.model import EVERYTHING, Programme, Scope, Solution
from estimator.choose.sale import rows as sale_rows
from estimator.choose.solvers.backends import FEASIBLE, OPTIMAL
from estimator.choose.verify.choice import income_of
from estimator.choose.verify.sale import sold
from estimator.core.errors import EngineError


class Objective(Struct, frozen=True):
    """A sentence for people and the sum to be made as small as can be.

    ``figures``: those of the priced work (``CostPiece``, and ``packs``) that it turns on; a way to do a task
    that is worse in all of them is left out of the choice. What a price brings in is added for whoever bills.
    ``maximised``: the figure itself is wanted large, so the sum is its negative. No sum: a ratio.
    """

    sentence: str
    total: Callable[[Programme], Linear] | None
    figures: tuple[str, ...]
    maximised: bool = False


def cost(programme: Programme) -> Linear:
    """What the work costs the shop, in cents."""
    return programme.columns.total("cost")


def cash(programme: Programme) -> Linear:
    """Cash laid out, in cents."""
    return programme.columns.total("cash")


def hours(programme: Programme) -> Linear:
    """Hands-on time at the surety of the limit, in hundredths of a minute."""
    return programme.lazy.minutes(programme.problem.z_minutes)


def price(programme: Programme) -> Linear:
    """What the customer pays, in cents."""
    return programme.lazy.price()


def score(programme: Programme) -> Linear:
    """The score in thousandths of a point, turned round so that small is good."""
    return programme.score().times(-1)


def profit(programme: Programme) -> Linear:
    """What comes in less what it costs, in cents, turned round so that small is good."""
    if programme.problem.sale is not None:
        return sale_rows.profit(programme)
    return programme.columns.total("cost").add(programme.income(), -1)


MINUTES_PER_HOUR = 6000
"""Hundredths of a minute in an hour."""

PRICED = ("price_parts", "consumables", "price_work", "line_tax", "priced", "priced_sure")
"""Figures that a price follows from."""

OBJECTIVES: dict[str, Objective] = {
    "cost": Objective("least cost to the shop", cost, ("cost",)),
    "cash": Objective("least cash laid out", cash, ("cash", "packs")),
    "hours": Objective("least hands-on time", hours, ("sure",)),
    "score": Objective("most of the wish, by its weights", score, (), maximised=True),
    "profit": Objective("most money left", profit, ("cost",), maximised=True),
    "hourly": Objective("most money left for each hands-on hour", None, ("cost", "minutes"), maximised=True),
    "price": Objective("least price to the customer", price, PRICED),
}


def objectives_of(chain: str) -> list[str]:
    """The names in a chain such as ``cost,hours``; raises EngineError for an unknown aim."""
    names = [name for name in aims_in(chain) if name]
    unknown = [name for name in names if name not in OBJECTIVES]
    if unknown or not names:
        raise EngineError(f"unknown aim “{', '.join(unknown)}”; known are {', '.join(OBJECTIVES)}")
    return names


def stages_of(chain: str, programme: Programme) -> list[Linear | None]:
    """The sums of a chain of aims, in order; None stands for the ratio of ``hourly``."""
    totals = [OBJECTIVES[name].total for name in objectives_of(chain)]
    return [None if total is None else total(programme) for total in totals]


def time_spent(programme: Programme) -> Linear:
    """All time that counts by the hour, in hundredths of a minute: hands-on, and what a sale takes."""
    if programme.problem.sale is not None:
        return sale_rows.minutes(programme)
    return programme.columns.total("minutes")


def gain_and_time(programme: Programme, chosen: Collection[str], measured: Measure) -> tuple[int, int, int]:
    """Of a set: money left (cents), time (hundredths of a minute), and the pay an hour already taken off.

    On a resale the price paid for the instrument is taken off too: it is earned back by the hours.
    """
    sale = programme.problem.sale
    if sale is None:
        return income_of(programme.problem, chosen) - measured.cost, measured.expected, 0
    held = sold(programme.problem, chosen)
    return held.profit - held.paid, held.minutes, sale.pay


def pay_of(programme: Programme, chosen: Collection[str], measured: Measure) -> int:
    """What a set earns an hour, in cents rounded half up: ``hourly``."""
    return -_turned_pay(*gain_and_time(programme, chosen, measured))


def most_per_hour(programme: Programme, scope: Scope = EVERYTHING) -> tuple[Solution, Linear | None]:
    """The set with the most profit per hands-on minute (expected), by Dinkelbach's iteration.

    W. Dinkelbach, "On nonlinear fractional programming", Management Science 13(7), 1967, 492-498:
    maximise profit - r x minutes; at the set found take the new ratio r; it ends, exactly, when
    nothing is left to gain. All in whole numbers: the ratio is kept as profit / minutes of a set.
    Returns what was found (``objective``: cents per hour, turned round, rounded half up) and the sum
    that is zero at its best, for breaking ties. Sets without any hands-on time are left aside.

    Where every set leaves a loss there is nothing to share out by the hour: work that nobody needs would
    only thin the loss out. The set with the least loss is then the best (of a resale the price paid counts
    in the loss).
    """
    gained, spent, sale = profit(programme), time_spent(programme), programme.problem.sale
    paid = 0 if sale is None else sale.paid
    scope = scope.adding(make_row(spent, 1, None, "time"))
    found = programme.ask(gained, scope)
    if found.chosen is not None and found.measure is not None:
        gain, minutes, pay = gain_and_time(programme, found.chosen, found.measure)
        if gain < 0:
            hourly = _turned_pay(gain, minutes, pay)
            if found.status != OPTIMAL:  # another set may earn, but the time for finding it is over
                return Solution(FEASIBLE, found.chosen, found.measure, hourly), None
            gained.constant += gain + paid
            return Solution(OPTIMAL, found.chosen, found.measure, hourly, hourly), gained
    while found.chosen is not None and found.measure is not None:
        top, bottom, pay = gain_and_time(programme, found.chosen, found.measure)
        shared = gcd(top, bottom)
        hourly = _turned_pay(top, bottom, pay)
        left = gained.times(bottom // shared).add(spent, top // shared)
        left.constant += paid * (bottom // shared)
        better = programme.ask(left, scope)
        if better.objective is None or (better.status != OPTIMAL and better.bound is None):
            return Solution(FEASIBLE, found.chosen, found.measure, hourly), None
        if better.objective >= 0:
            if better.bound is None or not _negligible(-better.bound, bottom // shared, programme, spent):
                return Solution(FEASIBLE, found.chosen, found.measure, hourly), None
            return Solution(OPTIMAL, found.chosen, found.measure, hourly, hourly), left
        found = better
    return found, None


def _turned_pay(gain: int, minutes: int, pay: int) -> int:
    """Cents per hour, rounded half up and turned round so that small is good."""
    return -((2 * gain * MINUTES_PER_HOUR + minutes) // (2 * minutes)) - pay


def _negligible(gap: int, times: int, programme: Programme, spent: Linear) -> bool:
    """Whether a gap of the ratio's sum is worth less than a thousandth of a cent an hour.

    Figures of dear instruments run to thousands of millions, where an engine's bound is known to a
    few units only: such a unit is far below anything that can be paid.
    """
    least = max(1, programme.model.bounds(spent)[0])
    return gap <= 0 or 1000 * gap * MINUTES_PER_HOUR <= times * least

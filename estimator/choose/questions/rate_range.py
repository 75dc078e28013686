"""How far a labour rate can go with a set the cheapest of those within a limit on cost at a surety.

On average a set that beats the best is within every limit on cost that the best keeps. At a surety it
need not be: a cheaper set may spread more, and a rate moves both, so every set is held to the limit at
the rate in question.
"""

from __future__ import annotations

from estimator.choose.measure import PER_HOUR, Measure
from estimator.choose.milp.linear import Linear, make_row
from estimator.choose.milp.model import EVERYTHING, Programme, Scope
from estimator.choose.solvers.backends import OPTIMAL

MOST_ASIDE = 60
"""Sets that are looked at before the end of a range is left open."""


def cost_limits(programme: Programme) -> list[str]:
    """The ids of the limits on cost."""
    return [r.id for r in programme.problem.rules if r.kind == "money" and r.on == "cost"]


def last_within(programme: Programme, own: Measure, limit: int) -> int | None:
    """The last step of the rate at which a set keeps a limit on cost; None if it always does.

    At a surety the minutes beyond the mean move with the rate too, half up to the cent as in ``spread_cents``.
    """
    left, minutes = PER_HOUR * (limit - own.cost), own.expected
    if programme.problem.cost_spreads:
        left += PER_HOUR // 2 - 1 - programme.problem.hour_cents * (own.minutes - own.expected)
        minutes = own.minutes
    return left // minutes if minutes > 0 else None


def cost_at_step(programme: Programme, steps: int) -> Linear:
    """The cost, in parts of ``PER_HOUR`` of a cent, at a labour rate so many cents an hour higher."""
    return programme.columns.total("cost").times(PER_HOUR).add(programme.columns.total("minutes"), steps)


def cheapest_at_step(
    programme: Programme, own: Measure, steps: int, scope: Scope
) -> tuple[tuple[str, ...], Measure, int, int] | None:
    """The cheapest set at a step of the rate, its figures, and by how much it is dearer and quicker than one of
    ``own`` figures at the rate as it is: ``PER_HOUR`` parts of a cent, hundredths of a minute. None if time ran out.
    """
    found = programme.ask(cost_at_step(programme, steps), scope)
    if found.status != OPTIMAL or found.chosen is None or found.measure is None:
        return None
    other = found.measure
    return found.chosen, other, PER_HOUR * (other.cost - own.cost), own.expected - other.expected


def lowest_within(
    programme: Programme, chosen: tuple[str, ...], limit: int, steps: int
) -> tuple[int, tuple[str, ...]] | None:
    """The step, down to ``steps``, to which a set is the cheapest of those within a limit at the surety.

    A lower rate lets sets into the limit that were kept out: each counts from the step where it is in.
    """
    own = programme.measure(chosen)
    lazy, rate, half = programme.lazy, programme.problem.hour_cents, PER_HOUR // 2 - 1
    scope = EVERYTHING.dropping(*cost_limits(programme))
    beaten_by: tuple[str, ...] = ()
    while steps:
        held = cost_at_step(programme, steps).add(lazy.beyond(), rate + steps)
        inside = make_row(held, None, PER_HOUR * limit + half, "within at this rate")
        found = cheapest_at_step(programme, own, steps, scope.adding(inside))
        if found is None:
            return None
        other_set, other, dearer, quicker = found
        if dearer >= steps * quicker:
            return steps, beaten_by
        # the first step at which it is no longer cheaper, or no longer within
        level = None if quicker >= 0 else -(dearer // -quicker)
        last = last_within(programme, other, limit)
        ends = [end for end in (level, None if last is None else last + 1) if end is not None]
        if not ends or min(ends) > 0:
            return None  # the set was not the cheapest to begin with
        beaten_by, steps = programme.trimmed(other_set), min(ends)
    return 0, beaten_by


def highest_within(
    programme: Programme, chosen: tuple[str, ...], limit: int, steps: int
) -> tuple[int, tuple[str, ...]] | None:
    """The same upward, to ``steps`` at most, where the set itself reaches its limit.

    A higher rate shuts sets out: one that would be cheaper only from where it is out does not count.
    """
    own = programme.measure(chosen)
    scope = EVERYTHING
    beaten_by: tuple[str, ...] = ()
    for _ in range(MOST_ASIDE):
        if steps == 0:
            return 0, beaten_by
        found = cheapest_at_step(programme, own, steps, scope)
        if found is None:
            return None
        other_set, other, dearer, quicker = found
        if dearer >= steps * quicker:
            return steps, beaten_by
        if dearer < 0:
            return None  # the set was not the cheapest to begin with
        level, last = dearer // quicker, last_within(programme, other, limit)
        if last is None or last > level:
            beaten_by, steps = programme.trimmed(other_set), level
        else:
            scope = scope.adding(programme.no_good_cut(other_set))
    return None

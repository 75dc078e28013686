"""One answer where several are equally good: fewer upgrades, fewer minutes, less done in another way, alphabet."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.milp.linear import Linear, make_row, total_of
from estimator.choose.milp.model import EVERYTHING, Programme, Scope, Solution
from estimator.choose.milp.objectives import most_per_hour, time_spent
from estimator.choose.solvers.backends import FEASIBLE, INFEASIBLE, OPTIMAL

LETTERS = 16
"""Upgrades decided at once when the alphabet decides; their weights are powers of two."""


def settle(
    programme: Programme,
    stages: Sequence[Linear | None],
    scope: Scope = EVERYTHING,
) -> tuple[Solution, bool | None]:
    """Make the sums small one after another, then break ties.

    Returns what was found and whether the set is proven to be the one named by the rule for ties
    (None where nothing was proven optimal). ``objective`` and ``bound`` are those of the first sum.
    """
    first: Solution | None = None
    found = best = Solution(INFEASIBLE)
    for stage in stages:
        if stage is None:
            found, left = most_per_hour(programme, scope)
        else:
            found, left = programme.ask(stage, scope), stage
        if first is None:
            first = found
        if found.status != OPTIMAL or found.objective is None:
            # a chain that stopped after its first aim is a set that keeps every rule, but not the best
            status = found.status if found is first else FEASIBLE
            if found.chosen is None and first.chosen is not None:
                found = best
            return Solution(status, found.chosen, found.measure, first.objective, first.bound), None
        best = found
        assert left is not None
        most = 0 if stage is None else found.objective
        wider = scope
        scope = scope.adding(make_row(left, None, most, "stage"))
        if stage is None:
            spent = time_spent(programme)
            scope = scope.adding(make_row(spent, 1, None, "time"))
    assert first is not None
    last = stages[-1] if stages else None
    best, sure = break_ties(programme, found, scope, None if last is None else (last, wider))
    return Solution(OPTIMAL, best.chosen, best.measure, first.objective, first.bound), sure


def break_ties(
    programme: Programme,
    found: Solution,
    scope: Scope,
    last: tuple[Linear, Scope] | None = None,
) -> tuple[Solution, bool]:
    """The tie-breaking set among those that are in ``scope``; False if time ran out before it was proven.

    ``last``: the sum that was made small last, and the scope in which it was.
    """
    minutes = programme.columns.total("minutes")
    least, most = programme.model.bounds(minutes)
    apart = 1 + len(programme.problem.ways)
    weight = (most - least + 1) * apart
    other_ways = Linear(dict.fromkeys(programme.columns.ways.values(), 1))
    rank = total_of(((programme.count(), weight), (minutes, apart), (other_ways, 1)), -least * apart)

    def ranked(item: Solution) -> int:
        assert item.chosen is not None
        assert item.measure is not None
        upgrades = programme.counted(item.chosen)
        ways = len(item.chosen) - upgrades
        return upgrades * weight + (item.measure.expected - least) * apart + ways

    assert found.chosen is not None
    as_good = found.objective or 0
    best = found
    shut = scope
    latest = found
    while True:
        assert latest.chosen is not None
        shut = shut.adding(programme.ways_cut(latest.chosen))
        if last is not None and latest is not found:
            # asked what is next best rather than whether anything is as good: of two questions with one
            # answer the one that finds a set, for what an engine denies has to be confirmed by another
            stage, wider = last
            wider = wider.adding(programme.ways_cut(found.chosen)).adding(programme.ways_cut(latest.chosen))
            beside = programme.ask(stage, wider)
            if beside.status == OPTIMAL and beside.objective is not None and beside.objective > as_good:
                return best, True
            last = None
        latest = programme.ask(rank, shut)
        if latest.status == INFEASIBLE:
            return best, True
        if latest.status != OPTIMAL:
            return best, False
        if ranked(latest) > ranked(best):
            return best, True
        if ranked(latest) == ranked(best):
            level = scope.adding(make_row(rank, None, ranked(best), "rank"))
            return _first_in_alphabet(programme, best, level)
        best = latest


def _first_in_alphabet(
    programme: Programme,
    found: Solution,
    scope: Scope,
) -> tuple[Solution, bool]:
    """The set whose sorted ids come first; all sets that are in ``scope`` are equally large."""
    options = (*programme.problem.options, *programme.problem.ways_open)
    best = found
    for start in range(0, len(options), LETTERS):
        letters = options[start : start + LETTERS]
        weights = Linear(
            {programme.columns.members[o]: -(1 << (len(letters) - 1 - i)) for i, o in enumerate(letters)}
        )
        latest = programme.ask(weights, scope)
        if latest.status != OPTIMAL or latest.objective is None:
            return best, False
        best = latest
        scope = scope.adding(make_row(weights, None, latest.objective, "letters"))
    return best, True

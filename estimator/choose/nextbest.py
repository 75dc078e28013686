"""What comes close: the k best distinct sets, and how each differs from the best."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.choose.engines import INFEASIBLE, OPTIMAL
from estimator.choose.matrix import Linear, make_row
from estimator.choose.measure import Measure
from estimator.choose.programme import EVERYTHING, Found, Programme, Scope
from estimator.choose.ties import settle


@dataclass(frozen=True, slots=True)
class Alternative:
    """One of the best sets: its rank from 1, its aim's value, what it has more and less than the first."""

    rank: int
    chosen: tuple[str, ...]
    measure: Measure
    objective: int
    added: tuple[str, ...]
    dropped: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NextBest:
    """The best sets in order; ``complete``: as many as were asked for, or all there are, proven."""

    sets: tuple[Alternative, ...]
    complete: bool


def find_next_best(
    programme: Programme, aim: Linear, most: int, distance: int = 1, scope: Scope = EVERYTHING
) -> NextBest:
    """The ``most`` best sets by ``aim``; equals are ordered by upgrades, minutes and alphabet.

    With a ``distance`` above 1 every set differs from each better one in at least so many upgrades.
    """
    programme.expects_many = True
    if most <= 0:
        return NextBest((), True)
    if distance > 1:
        found, complete = _one_by_one(programme, aim, most, distance, scope, [])
    else:
        found, complete = _by_level(programme, aim, most, scope)
    first = set(found[0].chosen or ()) if found else set()
    told = []
    for rank, item in enumerate(found[:most], 1):
        assert item.chosen is not None
        assert item.measure is not None
        assert item.objective is not None
        more, less = set(item.chosen) - first, first - set(item.chosen)
        told.append(
            Alternative(
                rank, item.chosen, item.measure, item.objective, tuple(sorted(more)), tuple(sorted(less))
            )
        )
    return NextBest(tuple(told), complete)


def _rank(item: Found) -> tuple[int, int, int, tuple[str, ...]]:
    assert item.chosen is not None
    assert item.measure is not None
    assert item.objective is not None
    return item.objective, len(item.chosen), item.measure.expected, item.chosen


def _by_level(programme: Programme, aim: Linear, most: int, scope: Scope) -> tuple[list[Found], bool]:
    """One solve a set: a level of equals is complete, and can be ordered, when the next set is worse."""
    found: list[Found] = []
    crowded = most + 20
    while True:
        latest = programme.ask(aim, scope)
        if latest.status == INFEASIBLE:
            return sorted(found, key=_rank), True
        if latest.status != OPTIMAL or latest.objective is None or latest.chosen is None:
            return sorted(found, key=_rank)[:most], False
        if len(found) >= most and found[-1].objective != latest.objective:
            return sorted(found, key=_rank)[:most], True
        found.append(latest)
        scope = scope.adding(programme.not_again(latest.chosen))
        if len(found) > crowded:
            # very many equals: order them by asking for each in turn
            level = latest.objective
            better = [item for item in found if item.objective != level]
            scope = Scope(scope.without, scope.using, scope.extra[: len(scope.extra) - len(found)])
            return _one_by_one(programme, aim, most, 1, scope, sorted(better, key=_rank))


def _one_by_one(
    programme: Programme, aim: Linear, most: int, distance: int, scope: Scope, known: list[Found]
) -> tuple[list[Found], bool]:
    """Each set with its ties broken, then shut out together with all that lie too near."""
    found = list(known)
    for item in known:
        scope = scope.adding(programme.not_again(item.chosen or (), distance))
    while len(found) < most:
        latest, sure = settle(programme, [aim], scope)
        if latest.status == INFEASIBLE:
            return found, True
        if latest.status != OPTIMAL or not sure or latest.chosen is None:
            return found, False
        found.append(latest)
        scope = scope.adding(programme.not_again(latest.chosen, distance))
        if latest.objective is not None and distance == 1:
            scope = scope.adding(make_row(aim, latest.objective, None, "no better"))
    return found, True

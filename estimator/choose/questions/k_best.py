"""What comes close: the k best distinct sets, and how each differs from the best."""

from __future__ import annotations

from msgspec import Struct

from estimator.choose.measure import Measure
from estimator.choose.milp.linear import Linear, Row, make_row
from estimator.choose.milp.model import EVERYTHING, Programme, Solution
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.tie_break import settle
from estimator.estimate.ways import upgrades_in


class Alternative(Struct, frozen=True):
    """One of the best sets: its rank from 1, its aim's value, what it has more and less than the first."""

    rank: int
    chosen: tuple[str, ...]
    measure: Measure
    objective: int
    added: tuple[str, ...]
    dropped: tuple[str, ...]


class NextBest(Struct, frozen=True):
    """The best sets in order; ``complete``: as many as were asked for, or all there are, proven."""

    sets: tuple[Alternative, ...]
    complete: bool


def find_next_best(programme: Programme, aim: Linear, most: int, extras: bool = True) -> NextBest:
    """The ``most`` best sets by ``aim``; equals are ordered by upgrades, minutes and alphabet.

    Without ``extras`` no set is told that is one told before with something more at no cost (``aim`` is
    then the cost: a sum that no engine can make larger than it is, but for a dearer order).
    """
    programme.expects_many = True
    if most <= 0:
        return NextBest((), True)
    search = _Search(programme, aim, most, extras)
    found, complete = search.by_level()
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


def _rank(item: Solution) -> tuple[int, int, int, tuple[str, ...]]:
    assert item.chosen is not None
    assert item.measure is not None
    assert item.objective is not None
    upgrades = upgrades_in(item.chosen)
    return item.objective, len(upgrades), item.measure.expected, item.chosen


class _Search(Struct):
    """What is asked, and the rows by which sets that are known do not come again."""

    programme: Programme
    aim: Linear
    most: int
    extras: bool

    def by_level(self) -> tuple[list[Solution], bool]:
        """One solve a set: a level of equals is complete, and can be ordered, when the next set is worse."""
        found: list[Solution] = []
        crowded = self.most + 20
        scope = EVERYTHING
        ask = self.programme.ask if self.extras else self.programme.ask_fewest
        while True:
            latest = ask(self.aim, scope)
            if latest.status == INFEASIBLE:
                return sorted(found, key=_rank), True
            if latest.status != OPTIMAL or latest.objective is None or latest.chosen is None:
                return sorted(found, key=_rank)[: self.most], False
            if len(found) >= self.most and found[-1].objective != latest.objective:
                return sorted(found, key=_rank)[: self.most], True
            scope = scope.adding(*self.shut(latest))
            if self.is_padded(latest, found):
                continue
            found.append(latest)
            if len(found) > crowded:
                # very many equals: order them by asking for each in turn
                level = latest.objective
                better = [item for item in found if item.objective != level]
                return self.one_by_one(sorted(better, key=_rank))

    def one_by_one(self, known: list[Solution]) -> tuple[list[Solution], bool]:
        """Each set with its ties broken, then shut out."""
        found = list(known)
        scope = EVERYTHING
        for item in known:
            scope = scope.adding(*self.shut(item))
        while len(found) < self.most:
            latest, sure = settle(self.programme, [self.aim], scope)
            if latest.status == INFEASIBLE:
                return found, True
            if latest.status != OPTIMAL or not sure or latest.chosen is None:
                return found, False
            scope = scope.adding(*self.shut(latest))
            if not self.is_padded(latest, found):
                found.append(latest)
            if latest.objective is not None:
                scope = scope.adding(make_row(self.aim, latest.objective, None, "no better"))
        return found, True

    def shut(self, item: Solution) -> list[Row]:
        """Rows that keep a set from coming again, and with it those with more in them at no cost."""
        assert item.chosen is not None
        rows = [self.programme.no_good_cut(item.chosen)]
        if not self.extras and item.objective is not None:
            dearer = Linear({self.programme.model.column("e"): 1})
            x = self.programme.columns.x
            mine = [x[u] for u in item.chosen if u in x]
            without = Linear(dict.fromkeys(mine, -1), len(mine))
            rows.append(make_row(without.add(dearer), 1, None, "again"))
            # all that is cheaper is known by now
            rows.append(make_row(self.aim.copy().add(dearer, -1), item.objective, None, "again"))
        return rows

    def is_padded(self, item: Solution, found: list[Solution]) -> bool:
        """Whether a set is a known one with something more in it at no cost: by an order dearer than need be."""
        assert item.measure is not None
        return not self.extras and any(
            other.measure is not None
            and set(upgrades_in(other.chosen or ())) < set(upgrades_in(item.chosen or ()))
            and item.measure.cost <= other.measure.cost
            for other in found
        )

"""What work takes at least, whichever way it is done: a floor under every set, with one way a task.

Each demand on a task whose way is open is priced at the least of all its ways, figure by figure. No set, done
whatever ways, takes less than here of anything that an aim or a limit turns on. So a set that is best here, and
all of whose tasks are ``opened`` (priced as they are done), is best of all sets and ways; where some are not,
they are opened and it is asked again. The ways of work that no good set asks for are never weighed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Hundredths
from estimator.estimate.baseline import thousandths
from estimator.estimate.costing import Costing, OpenWay, Rank
from estimator.estimate.ways import Triggers
from estimator.model import Money, Shop, Use, WorkLine

NOTHING = Hundredths(0)
Setup = tuple[WorkLine, Triggers]
"""The set-up of a task and what it counts for."""


class LeastWays(Struct, frozen=True, dict=True):
    """The least that every task of a costing takes, and its costing with some tasks at that least.

    Not true of an order with freight: one pack more can make it cheaper.
    """

    costing: Costing

    @cached_property
    def _least(self) -> dict[str, tuple[Setup, dict[str, tuple[Rank, ...]]]]:
        """By task its set-up and by place its ranks, at the least of its ways."""
        costing = self.costing
        if costing.baskets is not None:
            raise ValueError("what an order comes to at least is not the sum of the least of its work")
        ways: dict[str, list[OpenWay]] = {}
        for way in costing.ways:
            ways.setdefault(way.task, []).append(way)
        places: dict[str, dict[str, tuple[Rank, ...]]] = {}
        for (task, place), ranks in costing.ranks.items():
            places.setdefault(task, {})[place] = ranks
        return {task: _least_of(task, places[task], of, costing) for task, of in ways.items()}

    def at_least(self, opened: Collection[str], ways: Sequence[OpenWay] | None = None) -> Costing:
        """The costing with ``opened`` tasks as they are done, their ways open, and the others at their least.

        ``ways``: those that are left of the ways of the costing. The lines of shut tasks are good for sums alone.
        """
        ranks, setups = dict(self.costing.ranks), dict(self.costing.setups)
        for task, (setup, places) in self._least.items():
            if task not in opened:
                setups[task] = setup
                ranks.update({(task, place): of for place, of in places.items()})
        left = self.costing.ways if ways is None else ways
        return replace(
            self.costing,
            ranks=ranks,
            setups=setups,
            ways=tuple(way for way in left if way.task in opened),
        )


def _least_of(
    task: str, places: Mapping[str, tuple[Rank, ...]], ways: Sequence[OpenWay], costing: Costing
) -> tuple[Setup, dict[str, tuple[Rank, ...]]]:
    line, triggers = costing.setups[task]
    done = [(line, places), *((way.setup, way.ranks) for way in ways)]
    alone = len(places) == 1 and task not in costing.setup_terms
    ranks = {
        place: _least_ranks([(setup if alone else None, of[place]) for setup, of in done], costing)
        for place in places
    }
    if alone:
        # set-up and work are always done together, so what is least is the least of both
        return (replace(line, setup=NOTHING, allowance=NOTHING, money=Money()), triggers), ranks
    return (_least([setup for setup, _ in done], costing), triggers), ranks


def tasks_asked(costing: Costing, chosen: Collection[str]) -> Iterator[str]:
    """The tasks that can be done in more ways than one and that a set asks for."""
    for way in costing.ways:
        if way.asked_by is None or not way.asked_by.isdisjoint(chosen):
            yield way.task


def with_no_least(costing: Costing) -> set[str]:
    """The tasks of which a larger demand by one way may be a smaller one by another, and take off another mass."""
    found = set()
    for way in costing.ways:
        for place, ranks in way.ranks.items():
            masses = {rank.line.mass_g for rank in (*ranks, *costing.ranks[way.task, place])}
            orders = [
                [{who for who, _ in rank.wanted_by} for rank in of]
                for of in (ranks, costing.ranks[way.task, place])
            ]
            if len(masses) > 1 and orders[0] != orders[1]:
                found.add(way.task)
    return found


def _least_ranks(
    by_way: Sequence[tuple[WorkLine | None, Sequence[Rank]]], costing: Costing
) -> tuple[Rank, ...]:
    """The ranks of a place, in the order of the first way, at the least that any way takes for such a demand.

    By another way the order may be another: what is done is then the work of one who asks for no more than here,
    and by that way for no less than whoever is of this rank.
    """
    first = by_way[0][1]
    places = [_lowest(ranks) for _, ranks in by_way]
    found, below = [], set[str]()
    for rank in first:
        here = {who for who, _ in rank.wanted_by}
        below |= here
        if rank.needless:
            found.append(rank)
            continue
        lines = []
        for (setup, ranks), place in zip(by_way, places, strict=True):
            lowest = min(place[who] for who in here)
            lines += [
                (setup, other.line)
                for other in ranks[lowest:]
                if not other.needless and any(who in below for who, _ in other.wanted_by)
            ]
        found.append(
            replace(rank, line=_least([line for _, line in lines], costing, [setup for setup, _ in lines]))
        )
    return tuple(found)


def _lowest(ranks: Sequence[Rank]) -> Mapping[str, int]:
    """By who asks for something the number of the lowest rank he is of."""
    found: dict[str, int] = {}
    for number, rank in enumerate(ranks):
        for who, _ in rank.wanted_by:
            found.setdefault(who, number)
    return found


def _least(lines: Sequence[WorkLine], costing: Costing, setups: Sequence[WorkLine | None] = ()) -> WorkLine:
    """A line with the least of several in every figure that is added up, each with its set-up where it has one."""
    pairs = list(zip(lines, setups or [None] * len(lines), strict=True))
    first, narrow = lines[0], min(lines, key=lambda line: line.rework_sd)
    times = [
        (
            line.minutes + line.rework + (NOTHING if setup is None else setup.setup),
            line.allowance + (NOTHING if setup is None else setup.allowance),
        )
        for line, setup in pairs
    ]
    spent = [line.money if setup is None else line.money + setup.money for line, setup in pairs]
    used = min(money.consumables for money in spent)
    return replace(
        first,
        setup=min(line.setup for line in lines),
        minutes=min(minutes for minutes, _ in times) - narrow.rework,
        rework=narrow.rework,
        rework_odds=narrow.rework_odds,
        rework_trials=narrow.rework_trials,
        allowance=min(allowance for _, allowance in times),
        sd=min(line.sd for line in lines),
        money=Money(
            consumables=used,
            labour=min(money.cost for money in spent) - used,
            price_parts=min(money.price_parts for money in spent),
            cash=min(money.cash for money in spent),
            price_work=min(money.price_work for money in spent),
            line_tax=min(money.line_tax for money in spent),
        ),
        consumables=_least_uses(lines, costing.shop, costing.setting.stocked),
    )


def _least_uses(lines: Sequence[WorkLine], shop: Shop, pieces: Collection[str]) -> tuple[Use, ...]:
    """The least that all of the lines take of what is bought by the pack or beyond a stock."""
    uses: dict[str, Use] = {}
    taken: list[dict[str, int]] = []
    for line in lines:
        mine: dict[str, int] = {}
        for use in line.consumables:
            if shop.consumables[use.id].by_the_pack or use.id in pieces:
                mine[use.id] = mine.get(use.id, 0) + thousandths(use.quantity)
                uses[use.id] = use
        taken.append(mine)
    least = {name: min(of.get(name, 0) for of in taken) for name in uses}
    return tuple(
        replace(uses[name], quantity=Decimal(number).scaleb(-3)) for name, number in least.items() if number
    )

"""Every further question of a choice in one record: next best, why, why not, ranges, frontier."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from estimator.choose.frontier import Frontier, find_frontier
from estimator.choose.leftout import LeftOut, why_left_out
from estimator.choose.measure import Measure
from estimator.choose.nextbest import NextBest, find_next_best
from estimator.choose.objectives import AIMS
from estimator.choose.programme import Programme
from estimator.choose.ranges import SettingRange, part_ranges, rate_range
from estimator.choose.why import Chosen, Range, limit_ranges, why_chosen
from estimator.estimate.alternatives import GradeChoice

NEAREST = 8
"""Upgrades left out that are told, the nearest first, where not all are wanted."""
PATIENCE = 2.0
"""Seconds given to the ranges of rates and prices; what is not settled by then is not told."""
PATIENCE_HOURS = 30.0
"""Seconds given to a frontier of three figures, which can have very many points."""


@dataclass(frozen=True, slots=True)
class Prices:
    """What ranges need: the labour rate in cents an hour, each chosen part's price, and what a set measures
    with another price of one of them."""

    rate: int
    parts: Mapping[str, int]
    figures: Callable[[str, int], Measure]


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which questions are asked. ``every``: all upgrades left out, not only the nearest."""

    next_best: int = 0
    why: bool = False
    frontier: bool = False
    with_hours: bool = False
    every: bool = False

    def __bool__(self) -> bool:
        return bool(self.next_best or self.why or self.frontier)


@dataclass(frozen=True, slots=True)
class Depth:
    """Answers beyond the best set; what was not asked for is None or empty."""

    next_best: NextBest | None = None
    chosen: tuple[Chosen, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    ranges: tuple[Range, ...] = ()
    settings: tuple[SettingRange, ...] = ()
    frontier: Frontier | None = None
    tools: tuple[GradeChoice, ...] = field(default=())


def look_deeper(
    programme: Programme, chosen: tuple[str, ...], wanted: Wanted, prices: Prices | None = None
) -> Depth:
    """Ask the questions wanted. ``chosen`` is the set of least cost that the answers are held against."""
    best = programme.measure(chosen).cost
    cost = AIMS["cost"].total
    assert cost is not None
    next_best = (
        find_next_best(programme, cost(programme), wanted.next_best, extras=False)
        if wanted.next_best
        else None
    )
    why = why_chosen(programme, chosen, best) if wanted.why else ()
    left_out: tuple[LeftOut, ...] = ()
    if wanted.why:
        per_minute = prices.rate / 60 if prices else None
        nearest = None if wanted.every else NEAREST
        left_out = why_left_out(programme, chosen, best, per_minute, reasons=False, nearest=nearest)
    return Depth(
        next_best,
        why,
        left_out,
        limit_ranges(programme, chosen, best) if wanted.why else (),
        _settings(programme, chosen, why, prices) if wanted.why and prices else (),
        _frontier(programme, wanted) if wanted.frontier and programme.problem.weights else None,
    )


def _settings(
    programme: Programme, chosen: tuple[str, ...], why: tuple[Chosen, ...], prices: Prices
) -> tuple[SettingRange, ...]:
    """The labour rate and the parts' prices, as far as time allows."""
    kept = programme.deadline
    mine = time.perf_counter() + PATIENCE
    programme.deadline = mine if kept is None else min(kept, mine)
    try:
        rate = rate_range(programme, chosen, prices.rate)
        parts = part_ranges(programme, chosen, why, prices.parts, prices.figures)
    finally:
        programme.deadline = kept
    return parts if rate is None else (rate, *parts)


def _frontier(programme: Programme, wanted: Wanted) -> Frontier:
    if not wanted.with_hours:
        return find_frontier(programme)
    kept = programme.deadline
    mine = time.perf_counter() + PATIENCE_HOURS
    programme.deadline = mine if kept is None else min(kept, mine)
    try:
        return find_frontier(programme, hours=True)
    finally:
        programme.deadline = kept

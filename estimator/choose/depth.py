"""Every further question of a choice in one record: next best, why, why not, ranges, frontier."""

from __future__ import annotations

from dataclasses import dataclass

from estimator.choose.frontier import Frontier, find_frontier
from estimator.choose.nextbest import NextBest, find_next_best
from estimator.choose.objectives import AIMS
from estimator.choose.programme import Programme
from estimator.choose.why import Chosen, LeftOut, Range, limit_ranges, why_chosen, why_left_out


@dataclass(frozen=True, slots=True)
class Depth:
    """Answers beyond the best set; what was not asked for is None or empty."""

    next_best: NextBest | None = None
    chosen: tuple[Chosen, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    ranges: tuple[Range, ...] = ()
    frontier: Frontier | None = None


def look_deeper(
    programme: Programme,
    chosen: tuple[str, ...],
    cents_per_minute: float,
    next_best: int = 0,
    why: bool = False,
    frontier: bool = False,
) -> Depth:
    """Ask the questions wanted. ``chosen`` is the set of least cost that the answers are held against."""
    best = programme.measure(chosen).cost
    cost = AIMS["cost"].total
    assert cost is not None
    return Depth(
        find_next_best(programme, cost(programme), next_best) if next_best else None,
        why_chosen(programme, chosen, best) if why else (),
        why_left_out(programme, chosen, best, cents_per_minute, reasons=False) if why else (),
        limit_ranges(programme, chosen, best) if why else (),
        find_frontier(programme) if frontier and programme.problem.weights else None,
    )

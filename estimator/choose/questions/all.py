"""Every further question of a choice in one record: next best, why, why not, ranges, frontier."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.infeasible.conflicts import InfeasibleSets, minimal_infeasible_sets
from estimator.choose.infeasible.giving_way import giving_way
from estimator.choose.measure import Measure
from estimator.choose.milp.model import Programme
from estimator.choose.questions.k_best import NextBest, find_next_best
from estimator.choose.questions.pareto import ParetoFront, pareto_front
from estimator.choose.questions.sensitivity import Repricing, SettingRange, part_ranges, rate_range
from estimator.choose.questions.why import Range, WhyChosen, limit_ranges, why_chosen
from estimator.choose.questions.why_not import LeftOut, why_left_out
from estimator.core.amounts import Cents
from estimator.estimate.break_even import OtherWay
from estimator.estimate.tools.grades import GradeChoice

NEAREST = 8
"""Upgrades left out that are told, the nearest first, where not all are wanted."""
PATIENCE = 12.0
"""Seconds given to each kind of question; what is not settled by then is not told."""
PATIENCE_FRONTIER = 30.0
"""Seconds given to a frontier, which can have very many points."""


class PriceSettings(Struct, frozen=True):
    """What ranges need: the labour rate in cents an hour and the job priced anew at another one, each
    chosen part's price, and what the set measures with another price of one of them."""

    rate: Cents
    parts: Mapping[str, Cents]
    figures: Callable[[str, Cents], Measure]
    anew: Repricing | None = None


class Wanted(Struct, frozen=True):
    """Which questions are asked. ``every``: all upgrades left out, not only the nearest.

    ``jobs_a_year``: how many jobs of the shop's last year had each task; None: no ledger is read.
    """

    next_best: int = 0
    why: bool = False
    frontier: bool = False
    with_hours: bool = False
    every: bool = False
    jobs_a_year: Mapping[str, int] | None = None

    def __bool__(self) -> bool:
        return bool(self.next_best or self.why or self.frontier)


class PostOptimality(Struct, frozen=True):
    """Answers beyond the best set; what was not asked for is None or empty.

    ``about``: the set of least cost that they are about. ``late``: time ran out on the way. ``clashes``:
    of a wish that cannot be met. ``engine_notes``: as in the answer. ``ways``: of each task that can be done in
    more than one, the ways beside the one taken.
    """

    next_best: NextBest | None = None
    chosen: tuple[WhyChosen, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    ranges: tuple[Range, ...] = ()
    settings: tuple[SettingRange, ...] = ()
    frontier: ParetoFront | None = None
    tools: tuple[GradeChoice, ...] = ()
    about: tuple[str, ...] = ()
    late: bool = False
    clashes: InfeasibleSets | None = None
    engine_notes: tuple[str, ...] = ()
    ways: tuple[OtherWay, ...] = ()


def analyse_optimum(
    programme: Programme, chosen: tuple[str, ...], wanted: Wanted, prices: PriceSettings | None = None
) -> PostOptimality:
    """Ask the questions wanted. ``chosen`` is the set of least cost that the answers are held against.

    Ends with the programme's deadline, or else after as long as each kind of question is given here.
    """
    best = programme.measure(chosen).cost
    total = programme.columns.total("cost")
    depth = PostOptimality(about=chosen)
    if wanted.next_best:
        with _given(programme, PATIENCE):
            depth = replace(depth, next_best=find_next_best(programme, total, wanted.next_best, extras=False))
    if wanted.why:
        nearest = None if wanted.every else NEAREST
        with _given(programme, PATIENCE):
            depth = replace(
                depth,
                chosen=why_chosen(programme, chosen, best),
                left_out=why_left_out(
                    programme,
                    chosen,
                    best,
                    prices.rate / 60 if prices else None,
                    nearest=nearest,
                ),
                ranges=limit_ranges(programme, chosen, best),
            )
            depth = replace(depth, late=_is_late(programme))
        if prices:
            with _given(programme, PATIENCE):
                depth = replace(depth, settings=_settings(programme, chosen, depth.chosen, prices))
                depth = replace(depth, late=depth.late or _is_late(programme))
    if wanted.frontier and programme.problem.weights:
        with _given(programme, PATIENCE_FRONTIER):
            depth = replace(depth, frontier=pareto_front(programme, hours=wanted.with_hours))
    return replace(depth, engine_notes=tuple(programme.notes))


def clashes_of(programme: Programme) -> InfeasibleSets:
    """Every smallest group of demands that cannot hold together, as far as time allows."""
    with _given(programme, PATIENCE):
        return minimal_infeasible_sets(programme, scope=giving_way(programme))


def _settings(
    programme: Programme, chosen: tuple[str, ...], why: tuple[WhyChosen, ...], prices: PriceSettings
) -> tuple[SettingRange, ...]:
    """The labour rate and the parts' prices.

    Where freight falls away from a sum on, a dearer part can make the whole cheaper: then there is no
    range of a part's price to tell.
    """
    rate = rate_range(programme, chosen, prices.rate, prices.anew)
    parts: tuple[SettingRange, ...] = ()
    if programme.problem.baskets is None:
        parts = part_ranges(programme, chosen, why, prices.parts, prices.figures)
    return parts if rate is None else (rate, *parts)


@contextmanager
def _given(programme: Programme, seconds: float) -> Iterator[None]:
    """So much time, but no more than the programme has."""
    kept = programme.deadline
    mine = time.perf_counter() + seconds
    programme.deadline = mine if kept is None else min(kept, mine)
    try:
        yield
    finally:
        programme.deadline = kept


def _is_late(programme: Programme) -> bool:
    return programme.deadline is not None and time.perf_counter() >= programme.deadline

"""Many jobs: each solved by itself at several prices for cash and time, then the best mix of what was found.

Lagrangian relaxation (M. L. Fisher, "The Lagrangian relaxation method for solving integer programming
problems", Management Science 27(1), 1981): with a price on cash and on minutes instead of the shared
limits the jobs fall apart, and the sum of their optima less the priced limits is a proven lower bound.
The sets found on the way are candidates; a small programme over candidates, packs, sellers and tools
takes the best mix that keeps every limit. The gap between the two is told.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from estimator.choose.engines import FEASIBLE, INFEASIBLE, OPTIMAL
from estimator.choose.matrix import STRUCTURE, Linear, Model, Row, total_of
from estimator.choose.measure import Measure
from estimator.choose.programme import Programme
from estimator.choose.solve import Outcome
from estimator.choose.variables import ALWAYS, NEVER
from estimator.errors import EngineError
from estimator.plan.joint import COUNT, Joint
from estimator.plan.joint_records import Batch, JobChoice, JointAnswer
from estimator.plan.together import answer_of

SCALE = 64
"""Prices are whole 64ths."""
PRICES = (0, 8, 16, 32, 64, 128, 256)
"""Prices tried for a cent of cash, and for a hundredth of a minute."""
KNOWN_AIMS = ("cost", "cash")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A set that keeps all rules of its job, measured exactly."""

    chosen: tuple[str, ...]
    measure: Measure


class Chosen:
    """Stands in for a job's programme: one column per candidate set, exactly one of them taken."""

    def __init__(self, job: JobChoice, candidates: Sequence[Candidate]) -> None:
        self.problem = job.problem
        self.candidates = candidates
        self.model = Model()
        self.columns = self
        self.ids = [self.model.column("c") for _ in candidates]
        self.model.add(Linear(dict.fromkeys(self.ids, 1)), 1, 1, STRUCTURE)

    def rows(self) -> list[Row]:
        """One candidate is taken."""
        return list(self.model.rows)

    def any_of(self, upgrades: Sequence[str]) -> Linear:
        """1 when the candidate taken holds any of the upgrades."""
        held = {
            c: 1 for c, it in zip(self.ids, self.candidates, strict=True) if set(it.chosen) & set(upgrades)
        }
        return Linear(held) if held else NEVER

    def option(self, upgrade: str) -> Linear:
        """1 when the candidate taken holds the upgrade."""
        return self.any_of((upgrade,))

    def piece(self, piece: Any) -> Linear:
        """1 when the piece is there."""
        return ALWAYS if piece.triggers is None else self.any_of(piece.triggers)

    def total(self, what: str) -> Linear:
        """A figure of the candidate taken."""
        name = "expected" if what == "minutes" else what
        return Linear(
            {c: int(getattr(it.measure, name)) for c, it in zip(self.ids, self.candidates, strict=True)}
        )

    def count(self) -> Linear:
        """The number of upgrades of the candidate taken."""
        return Linear({c: len(it.chosen) for c, it in zip(self.ids, self.candidates, strict=True)})


class Mix(Joint):
    """The joint model over candidates instead of programmes."""

    def __init__(
        self, batch: Batch, candidates: Mapping[str, Sequence[Candidate]], deadline: float | None
    ) -> None:
        self.batch, self.engine, self.deadline = batch, None, deadline
        self.programmes = {job.id: Chosen(job, candidates[job.id]) for job in batch.jobs}
        self.rounds = 0
        self.lay_uses()

    def own_sum(self, job: str, aim: str) -> Linear:
        """What one job brings to an aim."""
        if aim == "cash":
            return self.job_cash(job)
        chosen: Chosen = self.programmes[job]
        return chosen.count() if aim == COUNT else chosen.total(aim)

    def judge(
        self, values: Sequence[int], offsets: Mapping[str, int]
    ) -> tuple[dict[str, tuple[str, ...]], dict[str, Measure], bool]:
        """The candidates taken; they were measured before, so nothing is left to lift."""
        taken: dict[str, Candidate] = {}
        for job, chosen in self.programmes.items():
            taken[job] = next(
                it for c, it in zip(chosen.ids, chosen.candidates, strict=True) if values[c + offsets[job]]
            )
        return {j: it.chosen for j, it in taken.items()}, {j: it.measure for j, it in taken.items()}, False


def choose_apart(batch: Batch, aim: str = "cost", time_limit: float | None = None) -> JointAnswer:
    """A good choice for many jobs with a proven gap; ``aim`` is ``cost`` or ``cash``.

    ``optimal`` only if the gap is nought. EngineError for other aims.
    """
    if aim not in KNOWN_AIMS:
        raise EngineError(f"many jobs at once are chosen for {' or '.join(KNOWN_AIMS)}, not for “{aim}”")
    begun = time.perf_counter()
    deadline = None if time_limit is None else begun + time_limit
    programmes = {job.id: Programme(job.problem, job.measure, job.bound) for job in batch.jobs}
    found: dict[str, dict[tuple[str, ...], Measure]] = {job.id: {} for job in batch.jobs}
    known: dict[Any, tuple[int, tuple[str, ...], Measure] | None] = {}
    kinds = _kinds(batch)
    bound: int | None = None
    for cash, minutes in _prices(batch, aim):
        if deadline is not None and bound is not None and time.perf_counter() > deadline:
            break
        total = 0
        for job in batch.jobs:
            best = _alone(batch, job, kinds[job.id], programmes[job.id], aim, cash, minutes, known)
            if best is None:
                return _nothing(batch, aim, INFEASIBLE, None, begun)
            value, chosen, measure = best
            total += value
            found[job.id].setdefault(chosen, measure)
        total -= cash * (batch.cash or 0) + minutes * (batch.minutes or 0)
        least = -(-total // SCALE) - _stock_worth(batch)
        bound = least if bound is None else max(bound, least)
    candidates = {
        job: [Candidate(chosen, measure) for chosen, measure in sets.items()] for job, sets in found.items()
    }
    mix = Mix(batch, candidates, None)
    outcome, shared, chosen_sets, measures = mix.ask(aim, [])
    assert bound is not None
    if outcome.values is None:
        # no mix of the sets found keeps the limits; that proves nothing about other sets
        return _nothing(batch, aim, "no-answer", bound, begun)
    assert outcome.objective is not None
    status = OPTIMAL if outcome.objective <= bound else FEASIBLE
    told = replace(outcome, bound=min(bound, outcome.objective), status=status)
    held = (outcome.values, shared, chosen_sets, measures)
    return answer_of(batch, (aim,), status, told, held, mix.rounds, time.perf_counter() - begun)


def _nothing(batch: Batch, aim: str, status: str, bound: int | None, begun: float) -> JointAnswer:
    told = Outcome(status, None, None, bound, 0.0, "none")
    return answer_of(batch, (aim,), status, told, None, 0, time.perf_counter() - begun)


def _stock_worth(batch: Batch) -> int:
    """The most that stock can take off the cost where leftovers count as lost (roundings included)."""
    if not batch.lost:
        return 0
    return sum(-(-pack.stock * pack.list_cents // pack.holds) for pack in batch.packs) + len(batch.uses)


def _prices(batch: Batch, aim: str) -> list[tuple[int, int]]:
    """Pairs of prices in 64ths: none first; cash is not priced where it is the aim or has no limit."""
    cash = PRICES if batch.cash is not None and aim != "cash" else (0,)
    minutes = PRICES if batch.minutes is not None else (0,)
    return [(c, m) for c in cash for m in minutes]


def _parts(batch: Batch, job: JobChoice) -> tuple[tuple[str, int, int], ...]:
    """Parts of a job: upgrade, list price, price at the cheapest seller."""
    mine = [p for p in batch.parts if p.job == job.id]
    prices = [[s.price(p.part_class, p.list_cents) for s in batch.sellers] for p in mine]
    return tuple(
        (p.upgrade, p.list_cents, min([price for price in asked if price is not None], default=p.list_cents))
        for p, asked in zip(mine, prices, strict=True)
    )


def _kinds(batch: Batch) -> dict[str, int]:
    """Jobs that are the same choice share a number, so that each choice is solved once."""
    numbers: dict[Any, int] = {}
    kinds = {}
    for job in batch.jobs:
        priced = any(rule.on == "price" for rule in job.problem.rules)  # then the price function counts too
        alike = job.id if priced or job.problem.sale is not None else job.problem
        kinds[job.id] = numbers.setdefault((alike, _parts(batch, job), job.own_packs), len(numbers))
    return kinds


def _alone(
    batch: Batch,
    job: JobChoice,
    kind: Any,
    programme: Programme,
    aim: str,
    cash: int,
    minutes: int,
    known: dict[Any, Any],
) -> tuple[int, tuple[str, ...], Measure] | None:
    """The least priced sum of one job (scaled) with its set; the same problem is solved once.

    Freight, packs and tools are left out (they are never negative); parts count at the cheapest seller.
    """
    key = (kind, cash, minutes)
    if key not in known:
        parts = _parts(batch, job)
        columns = programme.columns
        laid = columns.total("cash")
        for piece in job.problem.pieces:
            if piece.id in job.own_packs and piece.cash:
                laid.add(columns.piece(piece), -piece.cash)
        saved = total_of((columns.option(upgrade), least - listed) for upgrade, listed, least in parts)
        own = laid.copy() if aim == "cash" else columns.total("cost")
        total = own.add(saved).times(SCALE).add(laid.add(saved), cash).add(columns.total("minutes"), minutes)
        answer = programme.ask(total)
        if answer.status == INFEASIBLE:
            known[key] = None
        elif answer.chosen is None or answer.measure is None or answer.bound is None:
            raise EngineError(f"no set was found for {job.id} alone")
        else:
            known[key] = (answer.bound, answer.chosen, answer.measure)
    kept: tuple[int, tuple[str, ...], Measure] | None = known[key]
    return kept

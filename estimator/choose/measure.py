"""What an upgrade set measures, as told by the estimate, and the lower bound on its price.

The programme is linear; the price (whole quarter hours, a fee with a floor and a cap) and the
minutes at a surety (a root) are not. Every set an engine proposes is therefore measured exactly
by a function given from outside, and refused if the exact figure breaks a rule.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.estimate.freight import cheapest_order, wanted_of
from estimator.estimate.packs import packs_bought
from estimator.estimate.three_point import FAULT_VARIANCE
from estimator.model.problem import CostPiece, Problem, Summed


class Measure(Struct, frozen=True):
    """Exact figures of one upgrade set: whole cents, hundredths of a minute.

    ``minutes`` is held at the surety of the minutes limit, ``expected`` is the mean. The price
    never falls when one of ``figures`` rises, but for what a least charge adds. ``cost_spread``: what
    the surety of the limits adds to the cost, see ``spread_cents``. ``price_minutes`` are those quoted: of a
    small quote its mean (``price_mean``), of a large one what its surety asks for.
    """

    cost: Cents
    cash: Cents
    price: Cents
    minutes: Hundredths
    price_minutes: Hundredths
    price_parts: Cents
    consumables: Cents
    expected: Hundredths
    price_work: Cents = Cents(0)
    line_tax: Cents = Cents(0)
    cost_spread: Cents = Cents(0)
    price_mean: Hundredths = Hundredths(0)

    def held(self, on: str) -> Cents:
        """The figure that a limit on cost, cash or price is held against, in cents."""
        return {"cost": self.cost + self.cost_spread, "cash": self.cash, "price": self.price}[on]

    @property
    def figures(self) -> tuple[Hundredths, Cents, Cents, Cents, Cents]:
        """What the price follows from, in the order of ``PRICED_BY``."""
        return self.price_minutes, self.price_parts, self.consumables, self.price_work, self.line_tax


MeasureSet = Callable[[tuple[str, ...]], Measure]
PriceFunction = Callable[[Hundredths, Cents, Cents, Cents, Cents], Cents]
PRICED_BY: tuple[Summed, ...] = ("minutes", "price_parts", "consumables", "price_work", "line_tax")


class PriceBound(Struct, frozen=True):
    """A price is at least ``constant`` + ``per_minute`` x minutes + ``per_part`` x parts + ``per_work`` x work, in cents.

    ``work`` is what is charged besides the hours; without a slope of its own it has that of parts. The price is
    never below ``least``. ``per_part`` and ``per_work`` are also what a further cent adds at least, but for
    ``roundings`` cents in all (None: one where a slope is no whole number). ``price`` tells the price from the figures ``PRICED_BY`` without
    the least charge, if it can be given: it makes the cuts sharper, and must never fall. ``by_line``:
    the invoice is taxed line by line, so that each cent of ``line_tax`` is a cent of the price. ``fee_from``: what
    is used up beyond so many cents is charged like work, where any minutes are (None: it may not be charged).
    """

    least: Cents = Cents(0)
    constant: Cents = Cents(0)
    per_minute: float = 0.0
    per_part: float = 0.0
    price: PriceFunction | None = None
    by_line: bool = True
    per_work: float | None = None
    roundings: int | None = None
    fee_from: int | None = None

    @property
    def of_work(self) -> float:
        """What a cent of work charged besides the hours adds at least."""
        return self.per_part if self.per_work is None else self.per_work


PER_HOUR = 6000
"""Hundredths of a minute in an hour."""


def spread_cents(beyond: Hundredths, hour_cents: Cents) -> Cents:
    """Cents that hundredths of a minute beyond the mean come to at the hourly cost, half up."""
    return Cents((2 * beyond * hour_cents + PER_HOUR) // (2 * PER_HOUR))


def active_pieces(
    problem: Problem, chosen: Sequence[str], pieces: Sequence[CostPiece] | None = None
) -> list[CostPiece]:
    """The pieces (the problem's own, if no others are given) that a set brings, in their order."""
    held = set(chosen)
    of = problem.pieces if pieces is None else pieces
    return [p for p in of if p.triggers is None or not held.isdisjoint(p.triggers)]


TIMES, REWORK, FAULTS = "times", "rework", "faults"
Spreads = dict[tuple[str, str], float]
"""Minutes by what spreads (``TIMES`` and ``REWORK`` of a line, ``FAULTS`` of the job) and by line."""


def spreads_of(piece: CostPiece) -> Spreads:
    """What a piece adds to the spreads of a job; the root of ``FAULT_VARIANCE`` is in its faults."""
    found: Spreads = {}
    if piece.sd:
        found[TIMES, piece.line] = piece.sd
    if piece.rework_sd:
        found[REWORK, piece.line] = piece.rework_sd
    if piece.faults:
        found[FAULTS, ""] = math.sqrt(FAULT_VARIANCE) * piece.faults / 100.0
    return found


def widest(pieces: Sequence[CostPiece]) -> float:
    """Minutes that the joint spread of any of the pieces is never above."""
    return math.fsum(abs(value) for piece in pieces for value in spreads_of(piece).values())


def spreads_together(pieces: Sequence[CostPiece]) -> Spreads:
    """Spreads in minutes, each summed over the pieces."""
    lines: Spreads = {}
    for piece in pieces:
        for key, value in spreads_of(piece).items():
            lines[key] = lines.get(key, 0.0) + value
    return lines


def joint_spread(spreads: Spreads, shared_cause: float) -> float:
    """The root of (1 - c) x sum of squares + c x square of the sum for times, which share a cause to degree c,
    with the squares of all else on top."""
    squares = math.fsum(v * v for (what, _), v in spreads.items() if what == TIMES)
    others = math.fsum(v * v for (what, _), v in spreads.items() if what != TIMES)
    total = math.fsum(v for (what, _), v in spreads.items() if what == TIMES)
    return math.sqrt(max(0.0, (1.0 - shared_cause) * squares + shared_cause * total * total + others))


def slopes(at: Spreads, keys: Iterable[tuple[str, str]], shared_cause: float) -> Spreads:
    """How steeply the joint spread rises with each of ``keys`` where the spreads are ``at``."""
    joint = joint_spread(at, shared_cause)
    total = math.fsum(value for (what, _), value in at.items() if what == TIMES)

    def slope(key: tuple[str, str]) -> float:
        own = at.get(key, 0.0)
        return (1 - shared_cause) * own + shared_cause * total if key[0] == TIMES else own

    return {key: slope(key) / joint for key in keys}


def without_packs(problem: Problem, measure: MeasureSet) -> tuple[Problem, MeasureSet]:
    """A choice and its measure where packs and freight are counted elsewhere (for several jobs together)."""

    def less(chosen: tuple[str, ...]) -> Measure:
        measured = measure(chosen)
        cash, in_cost = paid_for_packs(problem, chosen)
        extra = order_extra(problem, chosen)
        return replace(
            measured,
            cost=measured.cost - in_cost - extra,
            cash=measured.cash - cash - extra,
            consumables=measured.consumables - in_cost,
        )

    return replace(problem, packs=(), baskets=None), less


def paid_for_packs(problem: Problem, chosen: Sequence[str]) -> tuple[Cents, Cents]:
    """Cents paid for packs of a set, and those of them that count in cost."""
    paid = [(packs, packs_bought(packs, chosen) * packs.cents) for packs in problem.packs]
    in_cost = sum((cents for packs, cents in paid if packs.in_cost), Cents(0))
    return sum((cents for _, cents in paid), Cents(0)), in_cost


def order_extra(problem: Problem, chosen: Sequence[str]) -> Cents:
    """Freight, and what the suppliers ask above or below the list, for a set: by the cheapest order."""
    if problem.baskets is None:
        return Cents(0)
    return cheapest_order(problem.baskets, wanted_of(problem.baskets, problem.packs, chosen)).extra

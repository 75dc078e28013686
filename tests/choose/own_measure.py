"""The measure of sets of problems made for tests: their own pieces and packs, added up."""

from __future__ import annotations

import math

from estimator.choose.measure import (
    Measure,
    MeasureSet,
    PriceFunction,
    active_pieces,
    joint_spread,
    order_extra,
    paid_for_packs,
    spread_cents,
    spreads_together,
)
from estimator.model.problem import Problem


def round_half_up(value: float) -> int:
    """The nearest whole number, halves upward."""
    return math.floor(value + 0.5)


def measure_of(problem: Problem, price: PriceFunction | None = None) -> MeasureSet:
    """The measure of sets by the problem's own pieces and packs; without a price function the price is the parts."""

    def measure(chosen: tuple[str, ...]) -> Measure:
        pieces = active_pieces(problem, chosen)
        expected = sum(p.minutes for p in pieces)
        spread = joint_spread(spreads_together(pieces), problem.shared_cause)
        quoted = active_pieces(problem, chosen, problem.priced_pieces)
        price_mean = sum(p.minutes for p in quoted)
        price_spread = joint_spread(spreads_together(quoted), problem.shared_cause)
        at_surety = round_half_up(price_mean + problem.z_price * 100 * price_spread)
        price_minutes = at_surety
        if price_mean < problem.large_from:
            price_minutes = price_mean
        elif problem.large_from:
            price_minutes = min(at_surety, 2 * price_mean - problem.large_from)
        parts, work = sum(p.price_parts for p in pieces), sum(p.price_work for p in pieces)
        tax = sum(p.line_tax for p in pieces)
        paid, in_cost = paid_for_packs(problem, chosen)
        extra = order_extra(problem, chosen)
        consumables = sum(p.consumables for p in pieces) + in_cost
        minutes = round_half_up(expected + problem.z_minutes * 100 * spread)
        return Measure(
            cost=sum(p.cost for p in pieces) + in_cost + extra,
            cash=sum(p.cash for p in pieces) + paid + extra,
            price=parts if price is None else price(price_minutes, parts, consumables, work, tax),
            minutes=minutes,
            price_minutes=price_minutes,
            price_parts=parts,
            consumables=consumables,
            expected=expected,
            price_work=work,
            line_tax=tax,
            cost_spread=spread_cents(minutes - expected, problem.hour_cents),
            price_mean=price_mean,
        )

    return measure

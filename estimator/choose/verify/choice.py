"""Plain arithmetic over a problem and a chosen set: every rule and every total once more.

Shares no code with the programme; every answer passes through it before it is told to anyone.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from datetime import date, timedelta
from decimal import ROUND_CEILING
from fractions import Fraction
from typing import Any

from msgspec import Struct

from estimator.core.amounts import Cents, Hundredths, TenthGrams, Tenths, Thousandths
from estimator.core.units import scaled
from estimator.estimate.freight import cheapest_order, wanted_of
from estimator.model import Packs
from estimator.model.problem import Amounts, Giver, Problem, Rule, Scale

WHOLE_FROM = 100_000
"""From so many thousandths on an amount is told whole."""


class PlainTotals(Struct, frozen=True):
    """Sums over the active pieces: cents, hundredths of a minute, tenths of a gram."""

    cost: Cents
    cash: Cents
    price_parts: Cents
    consumables: Cents
    expected: Hundredths
    mass: TenthGrams
    spread: float
    price_work: Cents
    line_tax: Cents


def asked_for(problem: Problem, chosen: Collection[str]) -> tuple[str, ...]:
    """A set without the ways to do work that nothing in it asks for."""
    idle = [
        way
        for choice in problem.ways
        if choice.asked_by is not None and not any(upgrade in chosen for upgrade in choice.asked_by)
        for way in choice.ways
    ]
    return tuple(name for name in chosen if name not in idle)


def totals_of(problem: Problem, chosen: Collection[str]) -> PlainTotals:
    """What a set adds up to, its packs and freight included. ``spread`` is the joint standard deviation in minutes."""
    chosen = frozenset(asked_for(problem, chosen))
    cost = cash = parts = used = work = tax = Cents(0)
    minutes, faults, mass = Hundredths(0), Hundredths(0), TenthGrams(0)
    by_line: dict[str, list[float]] = {}
    mended: dict[str, list[float]] = {}
    for piece in problem.pieces:
        if piece.triggers is not None and chosen.isdisjoint(piece.triggers):
            continue
        cost += piece.cost
        cash += piece.cash
        parts += piece.price_parts
        used += piece.consumables
        minutes += piece.minutes
        mass += piece.mass
        work += piece.price_work
        tax += piece.line_tax
        by_line.setdefault(piece.line, []).append(piece.sd)
        mended.setdefault(piece.line, []).append(piece.rework_sd)
        faults += piece.faults
    for packs in problem.packs:
        paid = _packs(packs, chosen) * packs.cents
        cash += paid
        if packs.in_cost:
            cost += paid
            used += paid
    beyond = _beyond(problem, chosen)
    cost += beyond
    cash += beyond
    spreads = [math.fsum(values) for values in by_line.values()]
    alone = math.fsum(s * s for s in spreads)
    joint = math.fsum(spreads) ** 2
    struck = math.fsum(math.fsum(values) ** 2 for values in mended.values())
    # hidden faults are there in one job of two and then of exponential size: three squares of their mean
    variance = (
        (1 - problem.shared_cause) * alone + problem.shared_cause * joint + struck + 3 * (faults / 100) ** 2
    )
    return PlainTotals(cost, cash, parts, used, minutes, mass, math.sqrt(max(variance, 0.0)), work, tax)


def minutes_at(totals: PlainTotals, z: float) -> float:
    """Hundredths of a minute at the normal factor ``z``, not rounded."""
    return totals.expected + z * 100 * totals.spread


def cost_at(problem: Problem, totals: PlainTotals) -> Cents:
    """Cents of cost at the surety of the limits: every minute beyond the mean at what an hour costs."""
    # whole hundredths as for the minutes; where they lie a hair from a half, the lower is taken
    beyond = math.floor(minutes_at(totals, problem.z_minutes) + 0.499) - totals.expected
    return totals.cost + Cents(math.floor(Fraction(beyond * problem.hour_cents, 6000) + Fraction(1, 2)))


def _day(rule: Rule, days: int) -> str:
    return (date.fromisoformat(rule.on) + timedelta(days=days)).isoformat()


def day_done(problem: Problem, chosen: Collection[str]) -> int:
    """Days after it came in by which a set can be done at the soonest: its work fits and its cures are over."""
    clock = problem.clock
    if clock is None:
        return 0
    chosen = asked_for(problem, chosen)
    spent = sum(
        (
            piece.minutes
            for piece in problem.pieces
            if piece.id not in clock.desk
            and (piece.triggers is None or any(t in chosen for t in piece.triggers))
        ),
        Hundredths(0),
    )
    fits = sum(1 for room in clock.room if room < spent)
    return max([fits, *(day for upgrade, day in clock.least if upgrade in chosen)])


def levels_reached(problem: Problem, chosen: Collection[str]) -> dict[str, Tenths]:
    """The level in tenths at which every level attribute stands, in the problem's order."""
    scales = {scale.attribute: scale for scale in problem.scales}
    known: dict[str, Tenths] = {}
    chosen = frozenset(chosen)
    return {name: _level(scales, name, chosen, known, ()) for name in scales}


def amounts_reached(
    problem: Problem, chosen: Collection[str], totals: PlainTotals | None = None
) -> dict[str, Thousandths]:
    """Every numeric attribute in thousandths, in the problem's order; ``totals``: of the set, where they are known."""
    mass = (totals or totals_of(problem, chosen)).mass
    return {
        item.attribute: _summed(item.changes, chosen, item.base)
        + Thousandths(100 * mass if item.with_mass else 0)
        for item in problem.amounts
    }


def score_reached(problem: Problem, chosen: Collection[str]) -> int:
    """The score in thousandths of a point: each attribute's share rounded half up, then added."""
    levels = levels_reached(problem, chosen)
    amounts = amounts_reached(problem, chosen)
    score = 0
    for item in problem.weights:
        level = levels.get(item.attribute)
        if level is None:
            met = 0
            for limit in item.limits:
                amount = amounts[item.attribute]
                if amount < limit if item.better == "more" else amount > limit:
                    break
                met += 1
            level = Tenths(10 * met)
        score += (2 * item.weight * min(level, item.wanted) + item.wanted) // (2 * item.wanted)
    return score


def income_of(problem: Problem, chosen: Collection[str]) -> Cents:
    """Cents that come in."""
    return sum(
        (
            item.cents
            for item in problem.incomes
            if item.triggers is None or any(t in chosen for t in item.triggers)
        ),
        Cents(0),
    )


class Breach(Struct, frozen=True):
    """What a set breaks: the words of it, and the id of the rule; no rule where things cannot be together."""

    words: str
    rule: str = ""


def recheck(problem: Problem, chosen: Collection[str], price: Cents | None = None) -> list[Breach]:
    """Everything a set breaks; an empty list if it may stand.

    ``price`` in cents is needed where a budget is on the price.
    """
    held = set(chosen)
    breaches = [Breach(words) for words in clashes(problem, held)]
    totals = totals_of(problem, held)
    levels = levels_reached(problem, held)
    amounts = amounts_reached(problem, held, totals)
    for rule in problem.rules:
        broken = _broken(problem, rule, held, totals, levels, amounts, price)
        if broken:
            breaches.append(Breach(f"{rule.words}: {broken}", rule.id))
    return breaches


def clashes(problem: Problem, chosen: Collection[str]) -> list[str]:
    """What in a set cannot be together whatever is wished: unknown, two in a slot, needs, exclusions."""
    held = set(chosen)
    breaches = [
        f"{item} is not open to choice" for item in sorted(held - {*problem.options, *problem.ways_open})
    ]
    for choice in problem.ways:
        taken = sorted(held & set(choice.ways))
        if len(taken) > 1:
            breaches.append(f"{choice.task} is done one way, not by {' and '.join(taken)}")
    for name, group in problem.slots:
        inside = sorted(held & set(group))
        if len(inside) > 1:
            breaches.append(f"{' and '.join(inside)} both sit in the slot {name}")
    for upgrade, helpers in problem.prerequisites:
        if upgrade in held and held.isdisjoint(helpers):
            breaches.append(f"{upgrade} needs one of {', '.join(helpers) or 'nothing that is open'}")
    for one, other in problem.conflicts:
        if one in held and other in held:
            breaches.append(f"{one} and {other} cannot stand together")
    return breaches


def _packs(packs: Packs, chosen: Collection[str]) -> int:
    """Packs opened one after another until what is used beyond the stock is covered."""
    held = packs.stock
    used = sum(number for who, number in packs.uses if who is None or any(u in chosen for u in who))
    opened = 0
    while held < used:
        held += packs.size
        opened += 1
    return opened


def _beyond(problem: Problem, chosen: Collection[str]) -> Cents:
    """What the order comes to beyond the goods' own cents, line by line and parcel by parcel.

    That no other order is cheaper is for the programme to prove; here the order must hold everything
    that is needed, once, at a price the supplier asks, with the freight that its parcels bear.
    """
    baskets = problem.baskets
    if baskets is None:
        return Cents(0)
    needed: dict[str, int] = {}
    for good in baskets.goods:
        if good.consumable:
            packs = next(item for item in problem.packs if item.consumable == good.consumable)
            needed[good.what] = _packs(packs, chosen)
        else:
            needed[good.what] = 1 if any(upgrade in chosen for upgrade in good.triggers) else 0
    total = Cents(0)
    sums: dict[str, Cents] = {}
    for line in cheapest_order(baskets, wanted_of(baskets, problem.packs, chosen)).lines:
        asked = next(asked for supplier, asked in line.good.offers if supplier == line.supplier)
        needed[line.good.what] -= line.number
        total += line.number * (asked - line.good.cents)
        sums[line.supplier] = sums.get(line.supplier, Cents(0)) + line.number * asked
    if any(needed.values()):
        raise ValueError(f"the order is wrong by {needed}")
    for parcel in baskets.parcels:
        basket = sums.get(parcel.supplier)
        if basket is not None and (parcel.free_from is None or basket < parcel.free_from):
            total += parcel.freight
    return total


def gives(giver: Giver[Any], chosen: Collection[str]) -> bool:
    """Whether a set has what gives this, and what has to be there with it."""
    held = chosen if isinstance(chosen, frozenset) else frozenset(chosen)
    if held.isdisjoint(giver.given_by):
        return False
    return not giver.together_with or not held.isdisjoint(giver.together_with)


def _summed(givers: Iterable[Giver[Amounts]], chosen: Collection[str], total: Amounts) -> Amounts:
    """Active values added to ``total``, those of one source once (the largest)."""
    chosen = frozenset(chosen)
    by_source: dict[str, Amounts] = {}
    for giver in givers:
        if not gives(giver, chosen):
            continue
        if not giver.source:
            total += giver.value
        elif giver.source not in by_source or by_source[giver.source] < giver.value:
            by_source[giver.source] = giver.value
    return sum(by_source.values(), total)


def _level(
    scales: dict[str, Scale],
    name: str,
    chosen: frozenset[str],
    known: dict[str, Tenths],
    path: tuple[str, ...],
) -> Tenths:
    if name in known:
        return known[name]
    if name in path:
        raise ValueError(f"attributes limit each other in a ring: {' -> '.join((*path, name))}")
    scale = scales[name]
    level = max([scale.base, *(to.value for to in scale.tos if gives(to, chosen))])
    level = _summed(scale.adds, chosen, level)
    level = min([level, *(cap.value for cap in scale.caps if gives(cap, chosen))])
    level = min([level, *(h.value for h in scale.holds if chosen.isdisjoint(h.lifted_by))])
    level = max(Tenths(0), min(Tenths(40), level))
    for other, plus in scale.limits:
        level = min(level, _level(scales, other, chosen, known, (*path, name)) + plus)
    for other, needed in scale.needs:
        if _level(scales, other, chosen, known, (*path, name)) < needed:
            level = Tenths(0)
    known[name] = max(Tenths(0), level)
    return known[name]


def _broken(
    problem: Problem,
    rule: Rule,
    held: set[str],
    totals: PlainTotals,
    levels: dict[str, Tenths],
    amounts: dict[str, Thousandths],
    price: Cents | None,
) -> str:
    """What a rule misses, or an empty text."""
    if rule.kind == "level":
        got = levels[rule.attribute]
        return (
            "" if got >= (rule.least or 0) else f"reaches {scaled(got, 10)} of {scaled(rule.least or 0, 10)}"
        )
    if rule.kind == "amount":
        amount = amounts[rule.attribute]
        low = rule.least is not None and amount < rule.least
        high = rule.most is not None and amount > rule.most
        unit = f" {rule.unit}" if rule.unit else ""
        if abs(amount) >= WHOLE_FROM:
            # nobody weighs to the milligram: whole, and never back onto the limit
            amount = Thousandths(-(-amount // 1000) * 1000 if high else amount // 1000 * 1000)
        return f"comes to {scaled(amount, 1000)}{unit}" if low or high else ""
    if rule.kind == "required":
        return "is missing" if held.isdisjoint(rule.upgrades) else ""
    if rule.kind == "refused":
        return "" if held.isdisjoint(rule.upgrades) else "is in all the same"
    if rule.most is None:
        return ""
    if rule.kind == "due":
        day = day_done(problem, held)
        return "" if day <= rule.most else f"done on {_day(rule, day)} at the soonest"
    if rule.kind == "minutes":
        spent = minutes_at(totals, problem.z_minutes)
        # the limit is held to a whole hundredth of a minute; half of one is rounding
        within = spent <= rule.most + 0.501
        return "" if within else f"takes {rule.told(math.ceil(spent), ROUND_CEILING)} of {rule.limit}"
    if rule.kind == "money":
        if rule.on == "price" and price is None:
            return "the price was not told"
        spent_money = {"cost": cost_at(problem, totals), "cash": totals.cash, "price": price}[rule.on]
        assert spent_money is not None
        within = spent_money <= rule.most
        return "" if within else f"comes to {rule.told(spent_money)} of {rule.limit}"
    return f"is of an unknown kind “{rule.kind}”"

"""From where to where a rate or a part's price can go with the set still the cheapest; all re-solved.

Costs are straight lines in such a setting, but for the rounding of each line to the cent. Where a set
is beaten at one end, the two lines tell where it draws level with the set that beats it; there the
question is asked again, until nothing beats it. The ends of a labour rate so found are then tried with
the job priced anew, and moved until they are true to the cent.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.measure import Measure
from estimator.choose.milp.linear import Linear, Row, make_row, total_of
from estimator.choose.milp.model import EVERYTHING, Programme, Scope
from estimator.choose.questions.rate_range import (
    cheapest_at_step,
    cost_limits,
    highest_within,
    last_within,
    lowest_within,
)
from estimator.choose.questions.why import WhyChosen, stays_between
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.core.amounts import Cents
from estimator.model.problem import CostPiece

FURTHER = 20
"""Cents by which an end may lie outside of what the straight lines tell."""
FARTHEST = 5
"""A labour rate is followed up to so many times what it is."""
ROUNDINGS = 4
"""Cents by which the difference of two priced lines may lie beside where it lies at both ends of a range of rates:
labour and reserve of either are rounded to within half a cent, there and at the end."""
DEAREST = 100
"""A part's price is followed up to so many times what it is."""


class SettingRange(Struct, frozen=True):
    """A setting in cents: what it is, and from where to where the set stays the cheapest.

    ``upgrade``: the one whose part's price it is; empty for the labour rate (an hour). ``low`` None:
    not settled; ``high`` None: as far as was looked. ``below`` and ``then``: the sets that are cheapest
    under ``low`` and over ``high`` (empty: a limit is reached). ``exact``: true to the cent.
    """

    upgrade: str
    now: Cents
    low: Cents | None
    high: Cents | None
    below: tuple[str, ...] = ()
    then: tuple[str, ...] = ()
    exact: bool = True


class Repricing(Struct, frozen=True):
    """A job priced anew at another labour rate (cents an hour): its programme, and what a set costs.

    ``least``: the lowest rate there can be.
    """

    programme: Callable[[int], Programme]
    cost: Callable[[int, tuple[str, ...]], int]
    least: int = 0


def rate_range(
    programme: Programme, chosen: tuple[str, ...], rate: Cents, anew: Repricing | None = None
) -> SettingRange | None:
    """Labour rates (cents an hour) at which ``chosen`` stays cheapest; None if time ran out.

    All hands-on minutes, the reserve among them, cost the rate. Exact at both ends if the job can be
    priced ``anew``; in between, sets that differ by a cent may change places.
    """
    limits = [r.most for r in programme.problem.rules if r.kind == "money" and r.on == "cost"]
    limit = min((most for most in limits if most is not None), default=None)
    own = programme.measure(chosen)
    bottom, top = anew.least if anew else 0, FARTHEST * rate
    within = None if limit is None else last_within(programme, own, limit)
    farthest = top - rate if within is None else min(top - rate, within)
    if limit is not None and programme.problem.cost_spreads:
        down = lowest_within(programme, chosen, limit, bottom - rate)
        up = highest_within(programme, chosen, limit, farthest)
    else:
        # a set that beats this one is within a limit that this one keeps, so limits on cost need not be held
        scope = EVERYTHING.dropping(*cost_limits(programme))
        down = _farthest(programme, chosen, scope, bottom - rate)
        up = _farthest(programme, chosen, scope, farthest)
    if down is None or up is None:
        return None
    steps, then = up
    low, below, high, exact = rate + down[0], down[1], rate + steps, False
    if anew is not None:
        first = _settled(anew, chosen, (rate, low, bottom), below, limit is not None)
        last = _settled(anew, chosen, (rate, high, top), then, limit is not None)
        if first is not None and last is not None:
            (low, below), (high, then), exact = first, last, True
    return SettingRange("", rate, Cents(low), None if high >= top else Cents(high), below, then, exact)


def _settled(
    anew: Repricing,
    chosen: tuple[str, ...],
    rates: tuple[int, int, int],
    beaten_by: tuple[str, ...],
    limited: bool = False,
) -> tuple[int, tuple[str, ...]] | None:
    """The last rate, from the one that is toward the last thinkable, at which a set is cheapest, and the
    set that beats it then. ``rates``: as it is, where the end was reckoned to be, the last thinkable.
    ``limited``: a limit on cost moves with the rate, so both sets have to be within it to count."""

    def stands(middle: int, other: tuple[str, ...]) -> bool:
        if not limited:
            return anew.cost(middle, chosen) <= anew.cost(middle, other)
        there = anew.programme(middle)
        if there.breaches(chosen):
            return False
        return anew.cost(middle, chosen) <= anew.cost(middle, other) or bool(there.breaches(other))

    now, end, last = rates
    outward = 1 if last > now else -1
    while end != now:
        other = _beaten(anew, chosen, end)
        if other is None:
            return None
        if other == chosen:
            break
        beaten_by = other
        good, bad = now, end
        while abs(bad - good) > 1:
            middle = (good + bad) // 2
            if stands(middle, other):
                good = middle
            else:
                bad = middle
        end = good
    ends = range(end + outward, last + outward, outward)[:FURTHER]
    # the set that is beaten further on is mostly beaten by the one it was nearly beaten by before
    rival_from = None if limited or not beaten_by else first_dearer(anew, chosen, beaten_by, ends)
    if rival_from is not None and rival_from > 1:
        level = (end, *ends[:rival_from])  # at the first of them all is priced already
        if shown_to_stand(anew, chosen, beaten_by, level):
            end, ends = level[-1], ends[rival_from:]
    for further in ends:
        other = _beaten(anew, chosen, further)
        if other is None:
            return None
        if other != chosen:
            return end, other
        end = further
    return end, () if end == last else beaten_by


def first_dearer(
    anew: Repricing, chosen: tuple[str, ...], other: tuple[str, ...], rates: Sequence[int]
) -> int:
    """How many rates there are before the first at which a set is dearer than another."""
    dearer = (number for number, rate in enumerate(rates) if anew.cost(rate, chosen) > anew.cost(rate, other))
    return next(dearer, len(rates))


def shown_to_stand(
    anew: Repricing, chosen: tuple[str, ...], other: tuple[str, ...], rates: Sequence[int]
) -> bool:
    """Whether it is shown at once that a set is the cheapest at each of some rates at which ``other`` is no cheaper.

    Each piece of work is put at the least that it costs at any of them, or, where it is work of the set itself, at the
    most: if no set comes to less so, none does at one of the rates. Sets that are like ``other`` where the two differ
    are held against that one. False where it cannot be shown so.
    """
    first, last = anew.programme(rates[0]), anew.programme(rates[-1])
    pairs = list(zip(first.problem.pieces, last.problem.pieces, strict=False))
    alike = len(first.problem.pieces) == len(last.problem.pieces) and all(
        one == replace(other_one, cost=one.cost) for one, other_one in pairs
    )
    if not alike or first.breaches(chosen) or first.breaches(other):
        return False
    apart = set(chosen) ^ set(other)
    as_other = total_of(
        (
            first.columns.option(name)
            if name in other
            else Linear(constant=1).add(first.columns.option(name), -1),
            1,
        )
        for name in sorted(apart)
    )
    halves = (
        (chosen, make_row(as_other, None, len(apart) - 1, "as the one")),
        (other, make_row(as_other, len(apart), None, "as the other")),
    )
    return all(_none_below(first, pairs, members, row) for members, row in halves)


def _none_below(
    programme: Programme, pairs: Sequence[tuple[CostPiece, CostPiece]], members: tuple[str, ...], row: Row
) -> bool:
    """Whether no set that a row lets in costs less than one set at any rate between two.

    ``pairs``: the pieces of work at the one, at which the programme stands, and at the other.
    """
    total, held = programme.columns.total("cost"), set(members)
    own = int(programme.measure(members).cost)
    for piece, then in pairs:
        # a rounded line rises with the rate; what is the difference of two may swing by their four roundings
        swing = ROUNDINGS if piece.is_difference else 0
        mine = piece.triggers is None or not held.isdisjoint(piece.triggers)
        most, least = max(piece.cost, then.cost), min(piece.cost, then.cost)
        at = Cents(most + swing if mine else least - swing)
        total.add(programme.columns.piece(piece), at - piece.cost)
        own += at - piece.cost if mine else 0
    found = programme.ask(total, EVERYTHING.adding(row))
    if found.status == INFEASIBLE:
        return True
    return found.status == OPTIMAL and found.objective is not None and found.objective >= own


def _beaten(anew: Repricing, chosen: tuple[str, ...], rate: int) -> tuple[str, ...] | None:
    """The cheapest set at a rate; ``chosen`` if it is one of them; None if time ran out."""
    programme = anew.programme(rate)
    found = programme.ask(programme.columns.total("cost"))
    if found.status == INFEASIBLE:
        return ()
    if found.status != OPTIMAL or found.chosen is None:
        return None
    if programme.measure(chosen).cost == found.objective and not programme.breaches(chosen):
        return chosen
    return programme.trimmed(found.chosen)


def _farthest(
    programme: Programme, chosen: tuple[str, ...], scope: Scope, steps: int
) -> tuple[int, tuple[str, ...]] | None:
    """The step, on the way to ``steps``, up to which a set is cheapest, and the set that beats it then."""
    own = programme.measure(chosen)
    beaten_by: tuple[str, ...] = ()
    while steps:
        found = cheapest_at_step(programme, own, steps, scope)
        if found is None:
            return None
        other_set, _, dearer, quicker = found
        if dearer >= steps * quicker:
            return steps, beaten_by
        beaten_by = programme.trimmed(other_set)
        if dearer < 0:
            return None  # the set was not the cheapest to begin with
        # level at steps x quicker = dearer, rounded toward the rate as it is
        steps = dearer // quicker if steps > 0 else -(dearer // -quicker)
    return 0, beaten_by


def part_ranges(
    programme: Programme,
    chosen: tuple[str, ...],
    why: tuple[WhyChosen, ...],
    prices: Mapping[str, Cents],
    figures: Callable[[str, Cents], Measure],
) -> tuple[SettingRange, ...]:
    """For each upgrade of the set with a bought part: prices (cents) at which the set stays cheapest.

    ``prices``: what each part costs; ``figures`` measures the set with another price of one part. Up
    to where the cheapest set without it draws level, or a limit on money is reached. Down to nothing,
    unless a set with it that is cheaper is kept out by a limit on money: then ``low`` is not settled.
    """
    told = []
    best = programme.measure(chosen).cost
    limits = [r for r in programme.problem.rules if r.kind == "money"]
    for item in why:
        late = programme.deadline is not None and time.perf_counter() > programme.deadline
        if item.upgrade not in prices or not item.proven or late:
            continue
        now = prices[item.upgrade]
        most = None if item.saving is None else best + item.saving

        def same(price: int, upgrade: str = item.upgrade, most: int | None = most) -> bool:
            measured = figures(upgrade, Cents(price))
            within = all(r.most is None or measured.held(r.on) <= r.most for r in limits)
            return within and (most is None or measured.cost <= most)

        top = max(100, DEAREST * now)
        _, high = stays_between(same, now, now, top)
        low = Cents(0) if _none_cheaper(programme, item.upgrade, best) else None
        then = (
            item.without or ()
            if most is not None and high < top and figures(item.upgrade, Cents(high + 1)).cost > most
            else ()
        )
        told.append(SettingRange(item.upgrade, now, low, Cents(high) if high < top else None, (), then))
    return tuple(told)


def _none_cheaper(programme: Programme, upgrade: str, best: int) -> bool:
    """Whether no set with an upgrade costs less, even if limits on money let it in."""
    spread = programme.problem.cost_spreads
    limits = [r.id for r in programme.problem.rules if r.kind == "money" and (spread or r.on != "cost")]
    if not limits:
        return True
    rows = (
        make_row(programme.columns.option(upgrade), 1, None, "put in"),
        make_row(programme.columns.total("cost"), None, best - 1, "cheaper"),
    )
    scope = EVERYTHING.dropping(*limits).adding(*rows)
    return programme.ask(programme.columns.total("cost"), scope).status == INFEASIBLE

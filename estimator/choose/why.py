"""Why this set: what each upgrade in it truly costs, what each one left out would need to get in.

Every figure is a re-solve. A part's own price enters the cost of every set that holds it in the
same way, so a set without it stays best until the price has risen (or fallen) by the difference of
the two optima: that makes the ranges exact, not an estimate from slopes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from estimator.choose.constraints import money_of
from estimator.choose.engines import INFEASIBLE, OPTIMAL
from estimator.choose.explain import find_conflict
from estimator.choose.matrix import Linear, make_row
from estimator.choose.measure import Measure
from estimator.choose.problem import Rule
from estimator.choose.programme import EVERYTHING, Found, Programme, Scope
from estimator.recheck import recheck


@dataclass(frozen=True, slots=True)
class Chosen:
    """An upgrade in the set.

    ``cost`` and ``minutes``: by how much the set as it stands grows with it (forced work included,
    shared work only where nothing else brings it). ``without``: the cheapest set that does without
    it, None if the wish cannot be met then, and ``needed_for`` the rules that fail. ``saving``:
    what that set would cost more (so it stays in until its price rises by as much). ``proven`` is
    False if time ran out: then nothing is known of sets without it.
    """

    upgrade: str
    cost: int
    minutes: int
    without: tuple[str, ...] | None
    saving: int | None
    needed_for: tuple[Rule, ...]
    proven: bool


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An upgrade not in the set.

    ``dearer``: what the cheapest set with it costs more; it would enter if its own price fell by
    more than that, and would then push out ``pushes_out`` and bring in ``brings_in`` besides.
    ``kept_out_by``: rules that no set with it can keep (then the other figures are None or empty).
    Upgrades of which nothing could be proven in time are not told at all.
    """

    upgrade: str
    dearer: int | None
    price_to_enter: int | None
    minutes_to_enter: int | None
    pushes_out: tuple[str, ...]
    brings_in: tuple[str, ...]
    kept_out_by: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class Range:
    """Limits within which the choice stays the same; None: without end on that side."""

    rule: Rule
    low: int
    high: int | None
    then: tuple[str, ...]


def why_chosen(programme: Programme, chosen: tuple[str, ...], best: int) -> tuple[Chosen, ...]:
    """For each upgrade of the best set (cost ``best`` cents) what it costs and what dropping it means."""
    programme.expects_many = True
    whole = programme.measure(chosen)
    told = []
    for upgrade in chosen:
        rest = tuple(u for u in chosen if u != upgrade)
        bare = programme.measure(rest)
        shut = EVERYTHING.adding(make_row(programme.columns.option(upgrade), None, 0, "shut out"))
        found = programme.ask(programme.columns.total("cost"), shut)
        conflict = None
        if found.status == INFEASIBLE:
            # what is refused is seldom to blame and often long: named only where nothing else is
            refused = [rule.id for rule in programme.problem.rules if rule.kind == "refused"]
            conflict = find_conflict(programme, shut, _broken_by(programme, rest), refused)
            if conflict is not None and not conflict.rules and refused:
                conflict = find_conflict(programme, shut)
        told.append(
            Chosen(
                upgrade,
                whole.cost - bare.cost,
                whole.expected - bare.expected,
                found.chosen if found.status == OPTIMAL else None,
                found.objective - best if found.status == OPTIMAL and found.objective is not None else None,
                conflict.rules if conflict else (),
                found.status in (OPTIMAL, INFEASIBLE),
            )
        )
    return tuple(told)


def _broken_by(programme: Programme, chosen: tuple[str, ...]) -> list[str]:
    """Ids of the rules that a set breaks, and of all limits: likely to be enough for a conflict."""
    texts = recheck(programme.problem, chosen, programme.measure(chosen).price)
    return [
        rule.id
        for rule in programme.problem.rules
        if rule.kind in ("money", "minutes") or any(text.startswith(f"{rule.words}: ") for text in texts)
    ]


def why_left_out(
    programme: Programme,
    chosen: tuple[str, ...],
    best: int,
    cents_per_minute: float | None = None,
    upgrades: tuple[str, ...] | None = None,
    reasons: bool = True,
    nearest: int | None = None,
) -> tuple[LeftOut, ...]:
    """For each upgrade not in the best set what would let it in.

    ``price_to_enter`` is the cost of its own part below which it enters, None if even a gift would
    not; ``minutes_to_enter`` (hundredths) how many minutes less of its own work would do, given
    what a minute costs. Without ``reasons`` the rules that keep an upgrade out are not looked for, and
    those refused or not fitting are not asked. ``nearest``: stop when so many that can be had are known.
    """
    programme.expects_many = True
    own = _own_parts(programme)
    shut = {u for rule in programme.problem.rules if rule.kind == "refused" for u in rule.upgrade.split()}
    asked = [
        u for u in upgrades or programme.problem.options if u not in chosen and (reasons or u not in shut)
    ]
    entries, complete = _entries(programme, asked, nearest)
    told = []
    for upgrade in asked:
        found = entries.get(upgrade)
        if found is None and not complete:
            continue
        if found is None:
            conflict = None
            if reasons:
                put_in = make_row(programme.columns.option(upgrade), 1, None, "put in")
                conflict = find_conflict(programme, EVERYTHING.adding(put_in))
            told.append(LeftOut(upgrade, None, None, None, (), (), conflict.rules if conflict else ()))
            continue
        assert found.objective is not None
        assert found.chosen is not None
        dearer = found.objective - best
        price = own.get(upgrade, 0) - dearer
        minutes = -int(-(dearer * 100) // cents_per_minute) if cents_per_minute else None
        told.append(
            LeftOut(
                upgrade,
                dearer,
                price if price >= 0 else None,
                minutes,
                tuple(u for u in chosen if u not in found.chosen),
                tuple(u for u in found.chosen if u not in chosen and u != upgrade),
                (),
            )
        )
    return tuple(told)


def _entries(
    programme: Programme, upgrades: list[str], nearest: int | None = None
) -> tuple[dict[str, Found], bool]:
    """For each upgrade the cheapest set that holds it; those that no set can hold are not there.

    Also whether all was proven; if not, nothing can be said of those that are not there.

    Asks for the cheapest set with any of those still open: it is the cheapest for each of them that
    it holds. When there is none left, none of the rest can be had, by one proof for all of them.
    """
    entries: dict[str, Found] = {}
    left = dict.fromkeys(upgrades)
    while left:
        if nearest is not None and len(entries) >= nearest:
            return entries, False
        some = Linear({programme.columns.x[u]: 1 for u in left})
        found = programme.ask(
            programme.columns.total("cost"), EVERYTHING.adding(make_row(some, 1, None, "put in"))
        )
        if found.status != OPTIMAL or found.chosen is None:
            return entries, found.status == INFEASIBLE
        for upgrade in found.chosen:
            if upgrade in left:
                entries[upgrade] = found
                del left[upgrade]
    return entries, True


def _own_parts(programme: Programme) -> dict[str, int]:
    """What is spent on an upgrade alone and belongs to no work: its parts, in cents."""
    own: dict[str, int] = {}
    for piece in programme.problem.pieces:
        if piece.minutes or piece.line or piece.cost <= 0 or piece.triggers is None:
            continue
        if len(piece.triggers) == 1:
            own[piece.triggers[0]] = own.get(piece.triggers[0], 0) + piece.cost
    return own


def limit_ranges(programme: Programme, chosen: tuple[str, ...], best: int) -> tuple[Range, ...]:
    """For each budget and time limit: from where to where the cheapest set stays the same.

    Down to what the set itself takes; up to where a cheaper set comes within reach (``then``).
    """
    ranges = []
    measured = programme.measure(chosen)
    cheaper = make_row(programme.columns.total("cost"), None, best - 1, "cheaper")
    for rule in programme.problem.rules:
        figure, low = _figure(programme, rule, measured)
        if figure is None:
            continue
        found = programme.ask(figure, Scope(without=frozenset((rule.id,))).adding(cheaper))
        if found.status == OPTIMAL and found.objective is not None and found.chosen is not None:
            ranges.append(Range(rule, low, found.objective - 1, found.chosen))
        elif found.status == INFEASIBLE:
            ranges.append(Range(rule, low, None, ()))
    return tuple(ranges)


def _figure(programme: Programme, rule: Rule, measured: Measure) -> tuple[Linear | None, int]:
    if rule.kind == "money":
        return money_of(programme.builder, rule.on), int(getattr(measured, rule.on))
    if rule.kind == "minutes":
        return programme.lazy.minutes(programme.problem.z_minutes), measured.minutes
    return None, 0


def stays_between(same: Callable[[int], bool], now: int, low: int, high: int) -> tuple[int, int]:
    """From where to where, within ``low`` and ``high``, a setting can go with the choice the same.

    ``same`` re-solves at a whole setting (a labour rate in cents, say) and tells whether the set is
    still the one at ``now``. Costs are straight lines in such a setting, so the settings at which a
    set is best have no hole, and halving finds both ends exactly.
    """
    down, up = now, now
    bottom, top = low, now
    while bottom < top:
        middle = (bottom + top) // 2
        if same(middle):
            top = middle
        else:
            bottom = middle + 1
    down = top
    bottom, top = now, high
    while bottom < top:
        middle = (bottom + top + 1) // 2
        if same(middle):
            bottom = middle
        else:
            top = middle - 1
    up = bottom
    return down, up


def missing(programme: Programme, chosen: tuple[str, ...], upgrade: str) -> list[str]:
    """What fails, in words, when an upgrade is simply taken out of the set."""
    rest = tuple(u for u in chosen if u != upgrade)
    return recheck(programme.problem, rest, programme.measure(rest).price)

"""All the reasons at once: every minimal conflict, the ways out of several together, the best within."""

from __future__ import annotations

import time
from dataclasses import dataclass
from itertools import combinations

from estimator.choose.engines import OPTIMAL
from estimator.choose.explain import UNBENDING, Conflict, find_conflict
from estimator.choose.matrix import Linear, make_row
from estimator.choose.measure import Measure
from estimator.choose.objectives import cost
from estimator.choose.problem import Rule, Weight
from estimator.choose.programme import EVERYTHING, Programme, Scope
from estimator.choose.score import score_of
from estimator.errors import EngineError
from estimator.recheck import recheck

SHARE = 1000
"""A level wish that is met counts so much when the wishes are neared; parts of it in proportion."""
LIMITS = ("money", "minutes")
WISHES = ("level", "amount", "required")
BENDING = (*WISHES, "refused")


@dataclass(frozen=True, slots=True)
class Conflicts:
    """Minimal conflicts in the order found; ``complete``: there is no other one."""

    sets: tuple[Conflict, ...]
    complete: bool

    @property
    def independent(self) -> tuple[Conflict, ...]:
        """Conflicts that share no rule with an earlier one: each must be mended by a change of its own."""
        taken: set[str] = set()
        told = []
        for conflict in self.sets:
            ids = {rule.id for rule in conflict.rules}
            if not ids & taken:
                told.append(conflict)
                taken |= ids
        return tuple(told)


@dataclass(frozen=True, slots=True)
class Compromise:
    """A set that keeps what can be kept: rules given up, in words what they come to, and the figures."""

    given_up: tuple[Rule, ...]
    words: tuple[str, ...]
    chosen: tuple[str, ...]
    measure: Measure


def find_conflicts(programme: Programme, most: int = 12, scope: Scope = EVERYTHING) -> Conflicts:
    """Every minimal conflict among the user's rules, up to ``most``.

    A tree of what to leave out: below a conflict there is one branch for each of its rules, left
    out; a branch ends where the rest can be kept. R. Reiter, "A theory of diagnosis from first
    principles", Artificial Intelligence 32(1), 1987, 57-95.
    """
    found = list(independent_conflicts(programme, most, scope))
    if found and not found[0].rules:
        return Conflicts((found[0],), True)
    waiting: list[frozenset[str]] = [frozenset()]
    seen: set[frozenset[str]] = set()
    while waiting:
        left_out = waiting.pop(0)
        if left_out in seen:
            continue
        seen.add(left_out)
        if programme.deadline is not None and time.perf_counter() > programme.deadline:
            return Conflicts(tuple(found), False)
        conflict = next((c for c in found if left_out.isdisjoint(r.id for r in c.rules)), None)
        if conflict is None:
            conflict = find_conflict(programme, scope.dropping(*left_out))
            if conflict is None:
                continue
            if len(found) >= most:
                return Conflicts(tuple(found), False)
            found.append(conflict)
        waiting.extend(left_out | {rule.id} for rule in conflict.rules)
    return Conflicts(tuple(found), True)


def independent_conflicts(
    programme: Programme, most: int = 12, scope: Scope = EVERYTHING
) -> tuple[Conflict, ...]:
    """Conflicts that share no rule: each is found among the rules of none before it."""
    found: list[Conflict] = []
    while len(found) < most:
        conflict = find_conflict(programme, scope)
        if conflict is None:
            break
        found.append(conflict)
        if not conflict.rules:
            break
        scope = scope.dropping(*(rule.id for rule in conflict.rules))
    return tuple(found)


def keep_the_wish(programme: Programme) -> Compromise | None:
    """The cheapest set that meets the whole wish when money and time are no object; None if none does."""
    limits = [rule.id for rule in programme.problem.rules if rule.kind in LIMITS]
    found = programme.ask_fewest(cost(programme), EVERYTHING.dropping(*limits))
    if found.status != OPTIMAL or found.chosen is None or found.measure is None:
        return None
    return _compromise(programme, found.chosen, found.measure, LIMITS)


def keep_the_limits(programme: Programme) -> Compromise | None:
    """The best that can be had inside what was given.

    Money, time, refusals and what does not fit are kept; wishes are levels, amounts and what is
    required. First as few wishes as possible are given up, then the levels asked for are neared as
    far as can be (each wish counts the same, in shares of its level), then the cost is least.
    """
    return _nearest(programme, WISHES, EVERYTHING)


def fewest_changes(programme: Programme) -> Compromise | None:
    """The fewest demands that, given up or exceeded together, let all others stand.

    Limits, wishes and refusals count alike; of equals the one that exceeds fewer limits. Then levels
    are neared and the cost is least, as in ``keep_the_limits``.
    """
    limits = [rule.id for rule in programme.problem.rules if rule.kind in LIMITS]
    best: tuple[int, Scope] | None = None
    for number in range(len(limits) + 1):
        for exceeded in combinations(limits, number):
            scope = EVERYTHING.dropping(*exceeded)
            soft, missed = _softened(programme, BENDING, scope)
            if best is not None:
                soft = soft.adding(make_row(missed, None, best[0] - number - 1, "fewer"))
            found = programme.ask(missed, soft)
            if found.status == OPTIMAL and found.objective is not None:
                best = (found.objective + number, scope)
    return None if best is None else _nearest(programme, BENDING, best[1])


def _softened(programme: Programme, kinds: tuple[str, ...], scope: Scope) -> tuple[Scope, Linear]:
    """A scope in which rules of some kinds may be given up, and how many of them are."""
    missed = Linear()
    for rule in _bending(programme, kinds):
        tag, given_up = _soft(programme, rule)
        scope = scope.dropping(rule.id).demanding(tag)
        missed.add(given_up)
    return scope, missed


def _bending(programme: Programme, kinds: tuple[str, ...]) -> list[Rule]:
    rules = programme.problem.rules
    return [rule for rule in rules if rule.kind in kinds and not rule.id.startswith(UNBENDING)]


def _nearest(programme: Programme, kinds: tuple[str, ...], scope: Scope) -> Compromise | None:
    """As few rules of ``kinds`` given up as can be, then levels neared, then the least cost."""
    exceeded = tuple(rule.kind for rule in programme.problem.rules if rule.id in scope.without)
    scope, missed = _softened(programme, kinds, scope)
    first = programme.ask(missed, scope)
    if first.status != OPTIMAL or first.objective is None:
        return None
    scope = scope.adding(make_row(missed, None, first.objective, "fewest"))
    levels = [rule for rule in _bending(programme, kinds) if rule.kind == "level"]
    weights = [Weight(rule.attribute, SHARE, rule.least or 0) for rule in levels]
    nearness = score_of(programme.columns, programme.levels, weights).times(-1)
    near = programme.ask(nearness, scope)
    if near.status != OPTIMAL or near.objective is None:
        return None
    found = programme.ask_fewest(
        cost(programme), scope.adding(make_row(nearness, None, near.objective, "nearest"))
    )
    if found.status != OPTIMAL or found.chosen is None or found.measure is None:
        return None
    return _compromise(programme, found.chosen, found.measure, (*kinds, *exceeded))


def _soft(programme: Programme, rule: Rule) -> tuple[str, Linear]:
    """Spare rows by which a wish is kept unless a literal says it is given up."""
    tag = f"soft|{rule.id}"
    model = programme.model
    if tag in programme.soft:
        return tag, programme.soft[tag]
    programme.spare[tag] = None
    given_up = Linear({model.column("g"): 1})
    programme.soft[tag] = given_up
    kept = given_up.times(-1)
    kept.constant = 1
    if rule.kind == "level":
        programme.levels.require(rule.attribute, rule.least or 0, tag, kept)
        return tag, given_up
    total, least, most = programme.wished(rule)
    low, high = model.bounds(total)
    if least is not None and low < least:
        model.add(total.copy().add(given_up, least - low), least, None, tag)
    if most is not None and high > most:
        model.add(total.copy().add(given_up, most - high), None, most, tag)
    return tag, given_up


def _compromise(
    programme: Programme, chosen: tuple[str, ...], measured: Measure, kinds: tuple[str, ...]
) -> Compromise:
    """A set with what it misses, by plain arithmetic; nothing but rules of ``kinds`` may be missed."""
    words = recheck(programme.problem, chosen, measured.price)
    given_up = tuple(
        rule for rule in programme.problem.rules if any(text.startswith(f"{rule.words}: ") for text in words)
    )
    unforeseen = [
        t for t in words if not any(t.startswith(f"{r.words}: ") for r in given_up if r.kind in kinds)
    ]
    if unforeseen:
        raise EngineError("a compromise did not pass the recheck: " + "; ".join(unforeseen))
    return Compromise(given_up, tuple(words), chosen, measured)

"""All the reasons at once: every minimal conflict, the ways out of several together, the best within."""

from __future__ import annotations

import time
from collections.abc import Sequence
from decimal import ROUND_CEILING
from itertools import combinations

from msgspec import Struct

from estimator.choose.infeasible.giving_way import (
    changed_by,
    giving_way,
    held_least,
    least_given_way,
    soft_rule,
)
from estimator.choose.infeasible.ways_out import (
    UNBENDING,
    InfeasibleSet,
    RuleChange,
    change_to,
    minimal_infeasible_set,
)
from estimator.choose.kept import is_kept, only_by_changing
from estimator.choose.measure import Measure
from estimator.choose.milp.linear import Linear, make_row, total_of
from estimator.choose.milp.model import EVERYTHING, Missing, Programme, Scope
from estimator.choose.milp.objectives import cost
from estimator.choose.milp.score import score_of
from estimator.choose.solvers.backends import OPTIMAL
from estimator.choose.verify.choice import Breach, recheck
from estimator.core.amounts import Tenths
from estimator.core.errors import EngineError
from estimator.model.problem import LIMITS, SPENT, Problem, Rule, Source, Weight

SHARE = 1000
"""A level wish that is met counts so much when the wishes are neared; parts of it in proportion."""
WISHES = ("level", "amount")
BENDING = (*WISHES, "required", "refused")
SAID = (Source.KEEPS, Source.REFUSED)
"""Where rules come from by which the customer keeps something, or keeps an upgrade out."""


class InfeasibleSets(Struct, frozen=True):
    """Minimal conflicts in the order found; ``complete``: there is no other one."""

    sets: tuple[InfeasibleSet, ...]
    complete: bool


class Compromise(Struct, frozen=True):
    """A set that keeps what can be kept: rules given up, in words what they come to, and the figures.

    ``changes``: what of them would have to be changed to let the set stand. ``changed``: what would have
    stayed as it is and gives way (``choose.kept``): as little as can be; ``words`` say it last.
    """

    given_up: tuple[Rule, ...]
    words: tuple[str, ...]
    changes: tuple[RuleChange, ...]
    chosen: tuple[str, ...]
    measure: Measure
    changed: tuple[Rule, ...] = ()


def misses(problem: Problem, chosen: tuple[str, ...], measured: Measure) -> tuple[Breach, ...]:
    """What a set misses, each rule in its own words.

    The recheck lets a hair of rounding pass; money and time are told as they were measured, so that the
    figure is the one to which a limit would have to be raised.
    """
    told = recheck(problem, chosen, measured.price)
    by_rule = {one.rule: one for one in told}
    found = []
    for rule in problem.rules:
        if rule.most is None or rule.kind not in SPENT:
            found += [by_rule[rule.id]] if rule.id in by_rule else []
            continue
        spent = measured.held(rule.on) if rule.kind == "money" else measured.minutes
        if spent > rule.most:
            verb = "comes to" if rule.kind == "money" else "takes"
            words = f"{rule.words}: {verb} {rule.told(spent, ROUND_CEILING)} of {rule.limit}"
            found.append(Breach(words, rule.id))
    return (*found, *(one for one in told if not one.rule))


def minimal_infeasible_sets(
    programme: Programme, most: int = 12, scope: Scope = EVERYTHING
) -> InfeasibleSets:
    """Every minimal conflict among the user's rules, up to ``most``.

    A tree of what to leave out: below a conflict there is one branch for each of its rules, left
    out; a branch ends where the rest can be kept. R. Reiter, "A theory of diagnosis from first
    principles", Artificial Intelligence 32(1), 1987, 57-95.
    """
    found = list(independent_infeasible_sets(programme, most, scope))
    if found and not found[0].rules:
        return InfeasibleSets((found[0],), True)
    waiting: list[frozenset[str]] = [frozenset()]
    seen: set[frozenset[str]] = set()
    while waiting:
        left_out = waiting.pop(0)
        if left_out in seen:
            continue
        seen.add(left_out)
        if programme.deadline is not None and time.perf_counter() > programme.deadline:
            return InfeasibleSets(tuple(found), False)
        conflict = next((c for c in found if left_out.isdisjoint(r.id for r in c.rules)), None)
        if conflict is None:
            conflict = minimal_infeasible_set(programme, scope.dropping(*left_out))
            if conflict is None:
                continue
            if len(found) >= most:
                return InfeasibleSets(tuple(found), False)
            found.append(conflict)
        waiting.extend(left_out | {rule.id} for rule in conflict.rules)
    return InfeasibleSets(tuple(found), True)


def independent_infeasible_sets(
    programme: Programme, most: int = 12, scope: Scope = EVERYTHING
) -> tuple[InfeasibleSet, ...]:
    """Conflicts that share no rule: each is found among the rules of none before it."""
    found: list[InfeasibleSet] = []
    while len(found) < most:
        conflict = minimal_infeasible_set(programme, scope)
        if conflict is None:
            break
        found.append(conflict)
        if not conflict.rules:
            break
        scope = scope.dropping(*(rule.id for rule in conflict.rules))
    return tuple(found)


def hidden_conflicts(programme: Programme, told: Sequence[InfeasibleSet]) -> tuple[InfeasibleSet, ...]:
    """For each limit that no conflict names yet, one between it and the wishes, if there is one.

    Without it a day that cannot be kept would go unnamed where a wish in its way clashes with money too.
    The same for what the customer keeps or refuses: no money in the world would help there.
    """
    open_ = giving_way(programme)
    said = [rule.id for rule in programme.problem.rules if rule.source in SAID]
    limits = [rule for rule in programme.problem.rules if rule.kind in LIMITS]
    named = {rule.id for conflict in told for rule in conflict.rules}
    found: list[InfeasibleSet] = []
    for limit in limits:
        if limit.id in named:
            continue
        conflict = minimal_infeasible_set(
            programme, open_.dropping(*said, *(r.id for r in limits if r is not limit))
        )
        if conflict is not None and limit not in conflict.rules:
            break  # the wishes clash by themselves, so beside them no limit is to blame
        if conflict is not None:
            found.append(conflict)
    if not any(rule.source in SAID for conflict in (*told, *found) for rule in conflict.rules):
        conflict = minimal_infeasible_set(programme, open_.dropping(*(rule.id for rule in limits)))
        if conflict is not None and any(rule.source in SAID for rule in conflict.rules):
            found.append(conflict)
    return tuple(found)


def keep_the_wish(programme: Programme) -> Compromise | None:
    """The set that meets the whole wish at the least excess over money and time; None if none does.

    Each excess counts in thousandths of its limit, rounded up, and they are added up; of equals the
    first limit is exceeded least, then the next, then as little gives way of what stays as it is as can
    be, then the cost is least. With one limit that is the least excess to the cent.
    """
    limits = [rule for rule in programme.problem.rules if rule.kind in LIMITS and rule.most is not None]
    scope = giving_way(programme).dropping(*(rule.id for rule in limits))
    near = _nearer(programme, [_missing(programme, rule) for rule in limits], Linear(), scope)
    near = None if near is None else least_given_way(programme, near)
    return None if near is None else _cheapest(programme, near, LIMITS)


def keep_the_limits(programme: Programme) -> Compromise | None:
    """The nearest that can be had inside what was given.

    Money, time, what is required or refused and what does not fit are kept; wishes are levels and
    amounts. First as few of them as possible are given up, then they are neared as far as can be:
    what is short of a level, or beside an amount, counts in thousandths of what was asked for, each
    rounded up for an amount. Of equals the first amount is missed least, then the next, then the
    cost is least. None if no set keeps the rest.
    """
    return _nearest(programme, WISHES, giving_way(programme))


def keep_limits_alone(programme: Programme) -> Compromise | None:
    """The same where what is required may be left out too: for when it cannot be had within the limits."""
    return _nearest(programme, (*WISHES, "required"), giving_way(programme))


def fewest_changes(programme: Programme) -> Compromise | None:
    """The fewest demands that, given up or exceeded together, let all others stand.

    Limits, wishes and refusals count alike; of equals the one that exceeds fewer limits, then the
    one that leaves out less of what is required. Then wishes are neared and the cost is least, as in
    ``keep_the_limits``.
    """
    limits = [rule.id for rule in programme.problem.rules if rule.kind in LIMITS]
    best: tuple[int, Scope] | None = None
    for number in range(len(limits) + 1):
        for exceeded in combinations(limits, number):
            scope = giving_way(programme).dropping(*exceeded)
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
        tag, given_up = soft_rule(programme, rule)
        scope = scope.dropping(rule.id).demanding(tag)
        missed.add(given_up)
    return scope, missed


def _bending(programme: Programme, kinds: tuple[str, ...]) -> list[Rule]:
    rules = programme.problem.rules
    return [r for r in rules if r.kind in kinds and r.source not in UNBENDING and not is_kept(r)]


def _nearest(programme: Programme, kinds: tuple[str, ...], scope: Scope) -> Compromise | None:
    """As few rules of ``kinds`` given up as can be, then as little of what stays as it is, then wishes neared,
    then the least cost."""
    exceeded = [r for r in programme.problem.rules if r.id in scope.without and not is_kept(r)]
    bending = _bending(programme, kinds)
    scope, missed = _softened(programme, kinds, scope)
    held = held_least(programme, missed, scope)
    if held is not None and "required" in kinds:
        left_out = total_of((soft_rule(programme, rule)[1], 1) for rule in bending if rule.kind == "required")
        held = held_least(programme, left_out, held)
    held = None if held is None else least_given_way(programme, held)
    if held is None:
        return None
    levels = [rule for rule in bending if rule.kind == "level"]
    weights = [Weight(rule.attribute, SHARE, Tenths(rule.least or 0)) for rule in levels]
    short = score_of(programme.columns, programme.levels, weights).times(-1)
    beside = [_missing(programme, rule) for rule in (*bending, *exceeded) if rule.kind in (*LIMITS, "amount")]
    near = _nearer(programme, beside, short, held)
    return None if near is None else _cheapest(programme, near, (*kinds, *(rule.kind for rule in exceeded)))


def _missing(programme: Programme, rule: Rule) -> Missing:
    """Columns that hold at least what a rule on an amount, money or minutes misses; built once.

    A thousandth of the limit is rounded to whole units, so that the rows keep small numbers.
    """
    tag = f"missing|{rule.id}"
    model = programme.model
    if tag not in programme.missing:
        programme.spare[tag] = None
        figure, tags = (programme.wished(rule)[0], ()) if rule.kind == "amount" else programme.limited(rule)
        low, high = model.bounds(figure)
        sides = []
        if rule.least is not None and low < rule.least:
            sides.append((figure.copy(), rule.least, rule.least - low))
        if rule.most is not None and high > rule.most:
            sides.append((figure.times(-1), -rule.most, high - rule.most))
        exact, shares = Linear(), Linear()
        for total, least, farthest in sides:
            lacks = Linear({model.column("m", 0, farthest): 1})
            model.add(total.add(lacks), least, None, tag)
            unit = share_unit(least)
            parts = Linear({model.column("h", 0, -(-farthest // unit)): 1})
            model.add(parts.times(unit).add(lacks, -1), 0, None, tag)
            exact.add(lacks)
            shares.add(parts)
        programme.missing[tag] = Missing(exact, shares, (tag, *tags))
    return programme.missing[tag]


def share_unit(limit: int) -> int:
    """A thousandth of a limit in whole units (cents, hundredths of a minute, thousandths of an amount)."""
    return max(1, (abs(limit) + SHARE // 2) // SHARE)


def _nearer(programme: Programme, beside: Sequence[Missing], short: Linear, scope: Scope) -> Scope | None:
    """A scope in which what is missed is held to the least: all shares together, then each exactly."""
    scope = scope.demanding(*(tag for item in beside for tag in item.tags))
    shares = total_of([(short, 1), *((item.shares, 1) for item in beside)])
    # of one figure alone the least is the least in shares too
    wanted = [item.exact for item in beside]
    if short.terms or len(beside) != 1:
        wanted = [shares, *wanted]
    held: Scope | None = scope
    for figure in wanted:
        held = None if held is None else held_least(programme, figure, held)
    return held


def _cheapest(programme: Programme, scope: Scope, kinds: tuple[str, ...]) -> Compromise | None:
    """The cheapest set of a scope as a compromise that may miss rules of ``kinds``."""
    found = programme.ask_fewest(cost(programme), scope)
    if found.status != OPTIMAL or found.chosen is None or found.measure is None:
        return None
    return _compromise(programme, found.chosen, found.measure, kinds)


def _compromise(
    programme: Programme, chosen: tuple[str, ...], measured: Measure, kinds: tuple[str, ...]
) -> Compromise:
    """A set with what it misses, by plain arithmetic; nothing but rules of ``kinds`` may be missed."""
    changed = changed_by(programme, chosen)
    given_way = {rule.id for rule in changed}
    missed = [one for one in misses(programme.problem, chosen, measured) if one.rule not in given_way]
    words = tuple(one.words for one in missed)
    checked = recheck(programme.problem, chosen, measured.price)
    broken = {one.rule for one in missed}
    given_up = tuple(rule for rule in programme.problem.rules if rule.id in broken)
    excused = given_way | {rule.id for rule in given_up if rule.kind in kinds}
    unforeseen = [one.words for one in checked if one.rule not in excused]
    if unforeseen:
        raise EngineError("a compromise did not pass the recheck: " + "; ".join(unforeseen))
    changes = tuple(change_to(programme.problem, rule, chosen, measured) for rule in given_up)
    words = (*words, only_by_changing(changed)) if changed else words
    return Compromise(given_up, words, changes, chosen, measured, changed)

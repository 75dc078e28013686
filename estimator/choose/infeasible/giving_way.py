"""What stays as it is gives way where nothing else helps, as in the choice itself: as little of it as can be."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from estimator.choose.kept import is_kept
from estimator.choose.milp.linear import Linear, make_row, total_of
from estimator.choose.milp.model import EVERYTHING, Programme, Scope
from estimator.choose.solvers.backends import OPTIMAL
from estimator.model.problem import Rule


def giving_way(programme: Programme, scope: Scope = EVERYTHING) -> Scope:
    """A scope in which whatever stays as it is gives way: what cannot be met in it cannot be met at all."""
    return scope.dropping(*(rule.id for rule in kept_of(programme)))


def kept_of(programme: Programme) -> list[Rule]:
    """The rules by which something stays as it is, in the order of the table."""
    return [rule for rule in programme.problem.rules if is_kept(rule)]


def least_given_way(programme: Programme, scope: Scope) -> Scope | None:
    """The scope with as little given way as can be; None if nothing was found or proven."""
    soft, given_up = _softened_kept(programme, scope)
    return held_least(programme, given_up, soft)


def less_given_way(programme: Programme, scope: Scope, changed: Collection[Rule]) -> Scope:
    """The scope in which less gives way than what was ``changed``: fewer, or what the table gives up sooner."""
    soft, given_up = _softened_kept(programme, scope)
    kept = kept_of(programme)
    most = sum(_weight(kept, rank) for rank, rule in enumerate(kept) if rule in changed) - 1
    return soft.adding(make_row(given_up, None, most, "less"))


def fewest_kept(programme: Programme, scope: Scope = EVERYTHING) -> tuple[Rule, ...]:
    """The fewest of what stays as it is (``choose.kept``) that, given up, let all other rules stand.

    Of equally few those that the table gives up sooner. Nothing where none of them helps, or none was proven.
    """
    soft, given_up = _softened_kept(programme, scope)
    if not given_up.terms:
        return ()
    found = programme.ask(given_up, soft)
    if found.status != OPTIMAL or found.chosen is None:
        return ()
    return changed_by(programme, found.chosen)


def changed_by(programme: Programme, chosen: Collection[str]) -> tuple[Rule, ...]:
    """What would have stayed as it is and is changed by a set."""
    mine = set(chosen)
    return tuple(rule for rule in kept_of(programme) if mine.intersection(rule.upgrades))


def _softened_kept(programme: Programme, scope: Scope) -> tuple[Scope, Linear]:
    """A scope in which each may give way, and what that counts: one more for more than any order among them."""
    kept = kept_of(programme)
    given_up: list[tuple[Linear, int]] = []
    for rank, rule in enumerate(kept):
        tag, literal = soft_rule(programme, rule)
        scope = scope.dropping(rule.id).demanding(tag)
        given_up.append((literal, _weight(kept, rank)))
    return scope, total_of(given_up)


def _weight(kept: Sequence[Rule], rank: int) -> int:
    return (1 << len(kept)) + (1 << rank)


def held_least(programme: Programme, figure: Linear, scope: Scope) -> Scope | None:
    """The scope with a figure held to the least it can come to; None if nothing was found or proven."""
    if not figure.terms:
        return scope
    found = programme.ask(figure, scope)
    if found.status != OPTIMAL or found.objective is None:
        return None
    return scope.adding(make_row(figure, None, found.objective, "least"))


def soft_rule(programme: Programme, rule: Rule) -> tuple[str, Linear]:
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

"""Why a wish cannot be met, and the ways out: in the user's own rules, each re-solved and true."""

from __future__ import annotations

import time
from collections.abc import Collection, Sequence
from decimal import ROUND_CEILING

from msgspec import Struct

from estimator.choose.infeasible.due import day_of_return
from estimator.choose.infeasible.giving_way import changed_by, giving_way, least_given_way, less_given_way
from estimator.choose.kept import is_kept, only_by_changing
from estimator.choose.measure import Measure
from estimator.choose.milp.constraints import amount_of
from estimator.choose.milp.linear import Linear, make_row
from estimator.choose.milp.model import EVERYTHING, Programme, Scope
from estimator.choose.milp.objectives import cost
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.verify.choice import amounts_reached, day_done, levels_reached
from estimator.core.units import scaled
from estimator.model.problem import LIMITS, Problem, Rule, Source


class InfeasibleSet(Struct, frozen=True):
    """Rules that cannot hold together, while any of them left out would let the others stand.

    ``proven`` is False when time ran out before every rule had been tried. No rules: the rules of
    the trade alone cannot be kept (an empty wish could not be met either).
    """

    rules: tuple[Rule, ...]
    proven: bool = True


class RuleChange(Struct, frozen=True):
    """What becomes of one rule: ``raise`` a limit or ``lower`` a wish to ``to``, or ``drop`` it.

    ``to``: cents, hundredths of a minute, days, tenths of a level or thousandths, as in the rule.
    """

    rule: Rule
    kind: str
    to: int | None
    words: str


class WayOut(RuleChange, frozen=True):
    """One change by which a conflict is settled, all other rules kept.

    ``chosen`` is the cheapest set that then meets everything, ``measure`` its figures. ``settles``:
    which of the conflicts, from 1 on. ``aside``: rules of the other conflicts, that were set aside;
    none where there are no others, and then the change alone lets the wish be met. ``changed``: what would
    have stayed as it is and gives way (``choose.kept``), as little as can be; the choice finds it likewise.
    """

    chosen: tuple[str, ...]
    measure: Measure
    settles: tuple[int, ...] = (1,)
    aside: tuple[Rule, ...] = ()
    changed: tuple[Rule, ...] = ()


NOTHING = Linear()
MOST_WAYS = 24
"""So many ways out are told at most."""
UNBENDING = (Source.UNFIT,)
"""Rules that come from here tell facts, not wishes: they may be part of a conflict, never a way out."""


def minimal_infeasible_set(
    programme: Programme,
    scope: Scope = EVERYTHING,
    suspects: Collection[str] = (),
    standing: Collection[str] = (),
) -> InfeasibleSet | None:
    """One irreducible conflict by deletion: drop a rule, and leave it dropped if the rest still clash.

    None if the rules in force can be kept. ``suspects``: ids of rules that may well be enough for a
    conflict; if they are, the others are left out at once. ``standing``: ids of rules that are kept
    and not named; the conflict is then one beside them.
    """
    if _can_stand(programme, scope) is not False:
        return None
    # rules are tried from the last to the first, so that what was asked first is named first;
    # what was refused is often long and seldom to blame, so it is tried as a whole before one by one
    in_force = [
        rule
        for rule in reversed(programme.problem.rules)
        if rule.id not in scope.without and rule.id not in standing
    ]
    others = [rule.id for rule in in_force if rule.id not in suspects]
    if suspects and others and _can_stand(programme, scope.dropping(*others)) is False:
        scope = scope.dropping(*others)
    refusals = [rule.id for rule in in_force if rule.kind == "refused"]
    if len(set(refusals) - scope.without) > 1 and _can_stand(programme, scope.dropping(*refusals)) is False:
        scope = scope.dropping(*refusals)
    core: list[Rule] = []
    proven = True
    for rule in in_force:
        if rule.id in scope.without:
            continue
        stands = _can_stand(programme, scope.dropping(rule.id))
        if stands is False:
            scope = scope.dropping(rule.id)
        else:
            core.append(rule)
            proven = proven and stands is True
    return InfeasibleSet(tuple(reversed(core)), proven)


def _can_stand(programme: Programme, scope: Scope) -> bool | None:
    """Whether all that is in force can be kept; None if time ran out."""
    found = programme.ask(_lean(programme, scope), scope)
    return True if found.chosen is not None else False if found.status == INFEASIBLE else None


def _lean(programme: Programme, scope: Scope) -> Linear:
    """A target that leads to a set within the limits: price or minutes where they are held by cuts."""
    held = programme.lazy.held()
    for rule in programme.problem.rules:
        if rule.id in scope.without:
            continue
        if rule.kind == "money" and rule.on == "price":
            return programme.lazy.price()
        if rule.kind == "money" and rule.on == "cost" and programme.problem.z_minutes in held:
            return programme.limited(rule)[0]
        if rule.kind == "minutes" and programme.problem.z_minutes in held:
            return programme.lazy.minutes(programme.problem.z_minutes)
    return NOTHING


def ways_out(
    programme: Programme, rules: Sequence[Rule] | None = None, scope: Scope = EVERYTHING
) -> tuple[WayOut, ...]:
    """For each rule (default: all) the least change that would do with every other rule kept.

    A rule whose change alone does not help is left out. Each way carries the cheapest set it allows. Where
    something that stays as it is gives way for it, the least change by which less does comes next, and so on.
    """
    open_ = giving_way(programme, scope)
    ways = []
    for rule in programme.problem.rules if rules is None else rules:
        if programme.deadline is not None and time.perf_counter() > programme.deadline:
            break
        way = None if is_kept(rule) else way_out(programme, rule, open_)
        while way is not None:
            ways.append(way)
            if not way.changed or way.kind == "drop" or len(ways) >= MOST_WAYS:
                break
            way = way_out(programme, rule, less_given_way(programme, open_, way.changed))
    return tuple(ways)


def way_out(programme: Programme, rule: Rule, scope: Scope = EVERYTHING) -> WayOut | None:
    """The least change of one rule that lets all others stand; None if there is none (or no time)."""
    if rule.source in UNBENDING:
        return None
    scope = scope.dropping(rule.id)
    if rule.kind in LIMITS:
        return _raise_limit(programme, rule, scope)
    if rule.kind == "level":
        return _lower_level(programme, rule, scope)
    if rule.kind == "amount":
        return _ease_amount(programme, rule, scope)
    return _with_cheapest(programme, rule, "drop", None, scope)


def _raise_limit(programme: Programme, rule: Rule, scope: Scope) -> WayOut | None:
    """The least budget or time, or the first day, that would do."""
    figure, tags = programme.limited(rule)
    scope = scope.demanding(*tags)
    found = programme.ask(figure, scope)
    if found.status != OPTIMAL or found.objective is None:
        return None
    eased = make_row(figure, None, found.objective, "eased")
    return _with_cheapest(programme, rule, "raise", found.objective, scope.adding(eased))


def _lower_level(programme: Programme, rule: Rule, scope: Scope) -> WayOut | None:
    """The highest level that can be had: halving, with the level a found set reaches as a stepping stone."""
    best = programme.ask(_lean(programme, scope), scope)
    if best.chosen is None:
        return None
    low = int(levels_reached(programme.problem, best.chosen)[rule.attribute])
    high = (rule.least or 0) - 1
    while low < high:
        middle = (low + high + 1) // 2
        demanded = scope.demanding(level_tag(programme, rule.attribute, middle))
        found = programme.ask(_lean(programme, demanded), demanded)
        if found.chosen is not None:
            low = max(middle, levels_reached(programme.problem, found.chosen)[rule.attribute])
        elif found.status == INFEASIBLE:
            high = middle - 1
        else:
            return None
    low = min(low, (rule.least or 0) - 1)
    if low <= 0:
        return _with_cheapest(programme, rule, "drop", None, scope)
    demanded = scope.demanding(level_tag(programme, rule.attribute, low))
    return _with_cheapest(programme, rule, "lower", low, demanded)


def level_tag(programme: Programme, attribute: str, wanted: int) -> str:
    """The tag of rows by which an attribute reaches a level; built once, in force only when asked for."""
    tag = f"level|{attribute}|{wanted}"
    if tag not in programme.spare:
        programme.spare[tag] = None
        programme.levels.require(attribute, wanted, tag)
    return tag


def _ease_amount(programme: Programme, rule: Rule, scope: Scope) -> WayOut | None:
    """The nearest amount that can be had on the side that cannot be kept."""
    total = amount_of(programme.columns, rule.attribute)
    for kind, figure in (("lower", total.times(-1)), ("raise", total)):
        changed, kept = (rule.least, rule.most) if kind == "lower" else (rule.most, rule.least)
        if changed is None:
            continue
        held = scope
        if kept is not None:
            least, most = (None, kept) if kind == "lower" else (kept, None)
            held = scope.adding(make_row(total, least, most, "kept"))
        found = programme.ask(figure, held)
        if found.status == OPTIMAL and found.objective is not None:
            to = -found.objective if kind == "lower" else found.objective
            eased = make_row(figure, None, found.objective, "eased")
            return _with_cheapest(programme, rule, kind, to, held.adding(eased))
    return None


def _with_cheapest(
    programme: Programme, rule: Rule, kind: str, to: int | None, scope: Scope
) -> WayOut | None:
    """The way out together with the cheapest set it allows."""
    least = least_given_way(programme, scope) if giving_way(programme, scope) == scope else scope
    if least is None:
        return None
    found = programme.ask_fewest(cost(programme), least)
    if found.chosen is None or found.measure is None:
        return None
    changed = changed_by(programme, found.chosen)
    words = _words(rule, kind, to) + (f", and {only_by_changing(changed)}" if changed else "")
    return WayOut(rule, kind, _as_asked(rule, to), words, found.chosen, found.measure, changed=changed)


def change_to(problem: Problem, rule: Rule, chosen: tuple[str, ...], measured: Measure) -> RuleChange:
    """The change of a rule that a set misses by which the set would keep it, and no more than that."""
    kind, to = "drop", None  # type: str, int | None
    if rule.kind == "level" and (reached := levels_reached(problem, chosen)[rule.attribute]) > 0:
        kind, to = "lower", reached
    elif rule.kind == "amount":
        to = amounts_reached(problem, chosen)[rule.attribute]
        kind = "lower" if rule.least is not None and to < rule.least else "raise"
    elif rule.kind == "money":
        kind, to = "raise", measured.held(rule.on)
    elif rule.kind == "minutes":
        kind, to = "raise", measured.minutes
    elif rule.kind == "due":
        kind, to = "raise", day_done(problem, chosen)
    return RuleChange(rule, kind, _as_asked(rule, to), _words(rule, kind, to))


def _as_asked(rule: Rule, to: int | None) -> int | None:
    """To what a limit has to be raised as it was asked, the tools that take some of it counted in."""
    return None if to is None else to + rule.tools


def _words(rule: Rule, kind: str, to: int | None) -> str:
    """The change in plain words, the user's own first.

    Times and amounts are rounded to whole minutes and units, to the side on which the set still keeps them.
    """
    if rule.kind == "refused":
        return f"allow it after all (now: {rule.words})"
    if kind == "drop" or to is None:
        return f"do without this: {rule.words}"
    unit = f" {rule.unit}" if rule.unit else ""
    if rule.source == Source.WORTH:
        return f"spend {rule.told(to)} on it all the same (now: {rule.words})"
    if rule.kind == "money":
        return f"raise the limit to {rule.told(to)} (now: {rule.words})"
    if rule.kind == "minutes":
        return f"allow {rule.told(to, ROUND_CEILING)} (now: {rule.words})"
    if rule.kind == "due":
        return f"promise it for {day_of_return(rule, to)} at the earliest (now: {rule.words})"
    if rule.kind == "level":
        return f"be content with level {scaled(to, 10)} (now: {rule.words})"
    if abs(to) >= 100_000:
        to = -(-to // 1000) * 1000 if kind == "raise" else to // 1000 * 1000
    return f"{'allow up to' if kind == 'raise' else 'be content with'} {scaled(to, 1000)}{unit} (now: {rule.words})"

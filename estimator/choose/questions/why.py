"""Why this set: what each upgrade in it truly costs, and within which limits the set stays the best.

Every figure is a re-solve. A part's own price enters the cost of every set that holds it in the
same way, so a set without it stays best until the price has risen (or fallen) by the difference of
the two optima: that makes the ranges exact, not an estimate from slopes.
"""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct

from estimator.choose.infeasible.ways_out import minimal_infeasible_set
from estimator.choose.measure import Measure
from estimator.choose.milp.constraints import money_of
from estimator.choose.milp.linear import Linear, make_row
from estimator.choose.milp.model import EVERYTHING, Programme, Scope
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.verify.choice import recheck
from estimator.core.amounts import Cents, Hundredths
from estimator.model.problem import SPENT, Rule


class WhyChosen(Struct, frozen=True):
    """An upgrade in the set.

    ``cost`` and ``minutes``: by how much the set as it stands grows with it (forced work included,
    shared work only where nothing else brings it). ``without``: the cheapest set that does without
    it, None if the wish cannot be met then, and ``needed_for`` the rules that fail; if that is one
    limit, ``least`` is what doing without would take of it (cents, hundredths of a minute). ``saving``:
    what that set would cost more (so it stays in until its price rises by as much). ``proven`` is
    False if time ran out: then nothing is known of sets without it.
    """

    upgrade: str
    cost: Cents
    minutes: Hundredths
    without: tuple[str, ...] | None
    saving: Cents | None
    needed_for: tuple[Rule, ...]
    proven: bool
    least: int | None = None


class Range(Struct, frozen=True):
    """Limits within which the choice stays the same; None: without end on that side."""

    rule: Rule
    low: int
    high: int | None
    then: tuple[str, ...]


def why_chosen(programme: Programme, chosen: tuple[str, ...], best: int) -> tuple[WhyChosen, ...]:
    """For each upgrade of the best set (cost ``best`` cents) what it costs and what dropping it means."""
    programme.expects_many = True
    whole = programme.measure(chosen)
    told = []
    for upgrade in chosen:
        rest = tuple(u for u in chosen if u != upgrade)
        bare = programme.measure(rest)
        shut = EVERYTHING.adding(make_row(programme.columns.option(upgrade), None, 0, "shut out"))
        found = programme.ask_fewest(programme.columns.total("cost"), shut)
        rules, least = _needed_for(programme, shut, rest) if found.status == INFEASIBLE else ((), None)
        told.append(
            WhyChosen(
                upgrade,
                whole.cost - bare.cost,
                whole.expected - bare.expected,
                found.chosen if found.status == OPTIMAL else None,
                Cents(found.objective - best)
                if found.status == OPTIMAL and found.objective is not None
                else None,
                rules,
                found.status in (OPTIMAL, INFEASIBLE),
                least,
            )
        )
    return tuple(told)


def _needed_for(
    programme: Programme, scope: Scope, rest: tuple[str, ...]
) -> tuple[tuple[Rule, ...], int | None]:
    """The rules that cannot be kept in a scope; of a limit alone also the least that would do."""
    limits = [rule for rule in programme.problem.rules if rule.kind in SPENT]
    eased = scope.dropping(*(rule.id for rule in limits))
    if limits and programme.ask(programme.columns.total("cost"), eased).chosen is not None:
        for rule in limits:
            figure, _ = _figure(programme, rule, programme.measure(rest))
            assert figure is not None
            found = programme.ask(figure, scope.dropping(rule.id))
            if found.status == OPTIMAL:
                return (rule,), found.objective
        return tuple(limits), None
    # what is refused is seldom to blame and often long: named only where nothing else is
    refused = [rule.id for rule in programme.problem.rules if rule.kind == "refused"]
    conflict = minimal_infeasible_set(programme, eased, _broken_by(programme, rest), refused)
    if conflict is not None and not conflict.rules and refused:
        conflict = minimal_infeasible_set(programme, eased)
    return (conflict.rules if conflict else ()), None


def _broken_by(programme: Programme, chosen: tuple[str, ...]) -> list[str]:
    """Ids of the rules that a set breaks: likely to be enough for a conflict."""
    found = recheck(programme.problem, chosen, programme.measure(chosen).price)
    return [one.rule for one in found if one.rule]


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
        found = programme.ask_fewest(figure, Scope(without=frozenset((rule.id,))).adding(cheaper))
        if found.status == OPTIMAL and found.objective is not None and found.chosen is not None:
            ranges.append(Range(rule, low, found.objective - 1, found.chosen))
        elif found.status == INFEASIBLE:
            ranges.append(Range(rule, low, None, ()))
    return tuple(ranges)


def _figure(programme: Programme, rule: Rule, measured: Measure) -> tuple[Linear | None, int]:
    if rule.kind == "money":
        return money_of(programme.builder, rule.on), measured.held(rule.on)
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

"""The rules of a choice: one function each, registered with a sentence for people.

Rules of the user carry their own id as the tag of their rows, so that a conflict can be told in
the user's words; the rules of the trade (slots, prerequisites, conflicts) are tagged ``structure``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from msgspec import Struct

from estimator.choose.milp.lazy_cuts import LazyCuts
from estimator.choose.milp.levels import Levels
from estimator.choose.milp.linear import STRUCTURE, Linear, total_of
from estimator.choose.milp.variables import ALWAYS, Columns
from estimator.core.errors import EngineError
from estimator.model.problem import Clock, Rule

MASS_TO_THOUSANDTHS = 100
"""Masses of pieces are tenths of a gram; amounts are thousandths of their unit."""


class Builder(Struct):
    """What a rule may add to: the columns, the levels, and the figures held by cuts."""

    columns: Columns
    levels: Levels
    lazy: LazyCuts


class RuleKind(Struct, frozen=True):
    """A kind of rule: its sentence for people and the function that adds its rows."""

    sentence: str
    build: Callable[[Builder, Rule], None]


class StructureKind(Struct, frozen=True):
    """A rule of the trade: its sentence and the function that adds its rows."""

    sentence: str
    build: Callable[[Builder], None]


def slot(build: Builder) -> None:
    """At most one upgrade in a slot."""
    for _, upgrades in build.columns.problem.slots:
        together = total_of((build.columns.option(u), 1) for u in dict.fromkeys(upgrades))
        build.columns.model.add(together, None, 1, STRUCTURE)


def prerequisite(build: Builder) -> None:
    """An upgrade needs one of its prerequisites."""
    for upgrade, any_of in build.columns.problem.prerequisites:
        helped = total_of((build.columns.option(u), 1) for u in dict.fromkeys(any_of))
        build.columns.model.add(helped.add(build.columns.option(upgrade), -1), 0, None, STRUCTURE)


def conflict(build: Builder) -> None:
    """Upgrades that cannot stand together: a row for all of a slot against all of another, where each bars each."""
    problem = build.columns.problem
    for ones, others in barred(problem.slots, problem.conflicts):
        together = total_of((build.columns.option(name), 1) for name in (*ones, *others))
        build.columns.model.add(together, None, 1, STRUCTURE)


def barred(
    slots: Iterable[tuple[str, tuple[str, ...]]], pairs: Iterable[tuple[str, str]]
) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Pairs that cannot stand together as groups: at most one of both groups may.

    Of a group at most one can be chosen anyhow (they share a slot), so a group says what its pairs say and no more;
    thousands of parts of one slot against those of another are one row and not millions.
    """
    at = {name: slot for slot, group in slots for name in group}
    of_one: dict[tuple[str, str], dict[str, None]] = {}
    for one, other in pairs:
        of_one.setdefault((one, at.get(other, f"={other}")), {})[other] = None
    ones: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for (one, _), others in of_one.items():
        ones.setdefault((at.get(one, f"={one}"), tuple(others)), []).append(one)
    return [(tuple(group), others) for (_, others), group in ones.items()]


def way(build: Builder) -> None:
    """At most one way to do a task is taken instead of the one reckoned with, and only where it is asked for."""
    for choice in build.columns.problem.ways:
        taken = total_of((build.columns.option(name), 1) for name in choice.ways)
        asked = ALWAYS if choice.asked_by is None else build.columns.any_of(choice.asked_by)
        build.columns.model.add(taken.add(asked, -1), None, 0, STRUCTURE)


def packs(build: Builder) -> None:
    """What is used beyond the stock is bought in whole packs."""
    for item in build.columns.problem.packs:
        build.columns.packs(item)


def freight(build: Builder) -> None:
    """Each good comes from one of its suppliers; freight is due once a parcel, up to a sum."""
    build.columns.freight()


def level(build: Builder, rule: Rule) -> None:
    """An attribute reaches a level."""
    build.levels.require(rule.attribute, rule.least or 0, rule.id, ALWAYS)


def amount(build: Builder, rule: Rule) -> None:
    """A number stays between limits."""
    build.columns.model.add(amount_of(build.columns, rule.attribute), rule.least, rule.most, rule.id)


def money(build: Builder, rule: Rule) -> None:
    """Cash, cost or price stays within the budget."""
    build.columns.model.add(money_of(build, rule.on), None, rule.most, rule.id)


def minutes(build: Builder, rule: Rule) -> None:
    """Hands-on minutes, at the surety asked for, stay within the limit."""
    build.columns.model.add(build.lazy.minutes(build.columns.problem.z_minutes), None, rule.most, rule.id)


def due(build: Builder, rule: Rule) -> None:
    """The work at the bench fits before the day, and no upgrade's own cures end after it."""
    clock = build.columns.problem.clock
    if clock is None or rule.most is None:
        raise EngineError("a day to be held needs a clock")
    late = total_of((build.columns.option(upgrade), 1) for upgrade, day in clock.least if day > rule.most)
    build.columns.model.add(late, None, 0, rule.id)
    build.columns.model.add(bench_minutes(build.columns, clock), None, clock.room[rule.most], rule.id)


def _named(build: Builder, rule: Rule) -> Linear:
    """How many of the upgrades that a rule names are in."""
    return total_of((build.columns.option(u), 1) for u in rule.upgrades)


def required(build: Builder, rule: Rule) -> None:
    """An upgrade (or one of several) must be in."""
    build.columns.model.add(_named(build, rule), 1, None, rule.id)


def refused(build: Builder, rule: Rule) -> None:
    """An upgrade (or several) must not be in."""
    build.columns.model.add(_named(build, rule), None, 0, rule.id)


STRUCTURES: dict[str, StructureKind] = {
    "slot": StructureKind("At most one upgrade sits in a slot.", slot),
    "prerequisite": StructureKind("An upgrade needs at least one of its prerequisites.", prerequisite),
    "conflict": StructureKind("Upgrades that exclude each other are not chosen together.", conflict),
    "way": StructureKind("A task is done one way.", way),
    "packs": StructureKind("What is used beyond the stock is bought in whole packs.", packs),
    "freight": StructureKind("Every supplier's parcel bears its freight once, up to a sum.", freight),
}

RULES: dict[str, RuleKind] = {
    "level": RuleKind("An attribute reaches at least the level asked for.", level),
    "amount": RuleKind("A measured amount stays within its limits.", amount),
    "money": RuleKind("Cash laid out, cost or price stays within the budget.", money),
    "minutes": RuleKind("Hands-on time, at the surety asked for, stays within the limit.", minutes),
    "due": RuleKind("The work fits before the day it is wanted back, and its cures are over.", due),
    "required": RuleKind("An upgrade that was asked for is in.", required),
    "refused": RuleKind("An upgrade that was refused is out.", refused),
}


def amount_of(columns: Columns, attribute: str) -> Linear:
    """A numeric attribute in thousandths, as a sum of columns."""
    for item in columns.problem.amounts:
        if item.attribute == attribute:
            total = columns.effects(item.changes)
            total.constant += item.base
            return total.add(columns.total("mass"), MASS_TO_THOUSANDTHS) if item.with_mass else total
    raise EngineError(f"the choice knows no numeric attribute “{attribute}”")


def bench_minutes(columns: Columns, clock: Clock) -> Linear:
    """Expected hundredths of a minute at the bench, as a sum of columns."""
    pieces = (p for p in columns.problem.pieces if p.minutes and p.id not in clock.desk)
    return total_of((columns.piece(piece), piece.minutes) for piece in pieces)


def money_of(build: Builder, on: str) -> Linear:
    """What a limit on cost (at the surety of the limits), cash or price is held against, in cents."""
    if on == "cost":
        return build.columns.total("cost").add(build.lazy.cost_spread())
    if on == "cash":
        return build.columns.total("cash")
    if on == "price":
        return build.lazy.price()
    raise EngineError(f"a budget can be on cash, cost or price, not on “{on}”")


def build_rules(build: Builder) -> None:
    """Add every rule of the trade and of the user."""
    for structure in STRUCTURES.values():
        structure.build(build)
    for rule in build.columns.problem.rules:
        if rule.kind not in RULES:
            raise EngineError(f"unknown kind of rule “{rule.kind}”")
        RULES[rule.kind].build(build, rule)

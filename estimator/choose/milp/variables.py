"""The columns: one per upgrade, and those that say "any of these" or "both of these" exactly.

Work that is asked for (z) and done a way (w) is said by a column y of its own, and "z or w" is z + w - y. For all
ways of a task y is at most its w, the sum of them at most z, and z less the sum at most what is left to the way
reckoned with. That is whole wherever z and w are, takes fewer rows than each "or" by itself, and no two ways can
save in parts what only one of them can save.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Collection, Sequence
from copy import copy
from operator import attrgetter
from typing import Any

from estimator.choose.measure import Spreads, spreads_of
from estimator.choose.milp.freight import parcel_cost
from estimator.choose.milp.linear import IMPLIED, STRUCTURE, Linear, Model, total_of
from estimator.model import Baskets, Packs
from estimator.model.problem import CostPiece, Giver, Problem, Summed

NEVER = Linear()
ALWAYS = Linear(constant=1)


WIDE = 3
"""Columns from which a group that others hold is said by its own column."""


def _is_constant(literal: Linear) -> bool:
    return not literal.terms


class Columns:
    """Makes columns on demand and remembers them. A literal is a sum that is 0 or 1."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.model = Model()
        self.x = {option: self.model.column("x") for option in problem.options}
        self.ways = {way: self.model.column("w") for way in problem.ways_open}
        #: everything that may be a member of a set
        self.members = {**self.x, **self.ways}
        self._any: dict[tuple[int, ...], Linear] = {}
        self._any_of: dict[tuple[str, ...], Linear] = {}
        self._wide: list[tuple[int, int, frozenset[int]]] = []  # the widest first
        self._task_of = {way: choice for choice in problem.ways for way in choice.ways}
        self._done_by: dict[tuple[str, ...], dict[str, Linear]] = {}
        self._both: dict[tuple[int, int], Linear] = {}
        self._sums: dict[Summed, Linear] = {}
        self._packs: dict[str, Linear] = {}
        self._freight: Linear | None = None
        self._named = {piece.triggers for piece in problem.pieces if piece.triggers}
        for group in sorted(self._named, key=lambda who: (len(who), who)):
            self.any_of(group)

    def option(self, upgrade: str) -> Linear:
        """The literal of an upgrade (or of a way to do a task); one that is not open can never be chosen."""
        return Linear({self.members[upgrade]: 1}) if upgrade in self.members else NEVER

    def any_of(self, upgrades: Sequence[str]) -> Linear:
        """1 exactly when one or more of the upgrades (or ways) are chosen.

        With a way among upgrades it is built on the column of the upgrades, which other rows use too: fewer
        rows, and as tight as "both" of the two can be.
        """
        named = tuple(upgrades)
        if named not in self._any_of:
            self._any_of[named] = self._made_any_of(named)
        return self._any_of[named]

    def _made_any_of(self, upgrades: tuple[str, ...]) -> Linear:
        ways = [name for name in upgrades if name in self.ways]
        if not ways or len(upgrades) == len(ways):
            return self._any_column({self.members[name] for name in upgrades if name in self.members})
        asking = tuple(name for name in upgrades if name not in self.ways)
        others = self.any_of(asking)
        choice = self._task_of[ways[0]]
        work = choice.asked_by is None or set(asking) <= set(choice.asked_by)
        if len(ways) == 1 and work and not _is_constant(others):
            taken = self.option(ways[0])
            return others.copy().add(taken).add(self._done(asking, others, ways[0]), -1)
        return self.any_literal([others, *(self.option(way) for way in ways)])

    def _done(self, asking: tuple[str, ...], asked: Linear, way: str) -> Linear:
        """1 exactly when the literal ``asked`` of some who ask for work is 1 and the work is done a way."""
        choice = self._task_of[way]
        known = self._done_by.setdefault(asking, {})
        if way not in known:
            others = (name for name in choice.ways if tuple(sorted((*asking, name))) in self._named)
            left = asked.copy()
            other = ALWAYS.copy() if choice.asked_by is None else self.any_of(choice.asked_by).copy()
            for name in dict.fromkeys((way, *(name for name in others if name not in known))):
                known[name] = Linear({self.model.column("y", kind=IMPLIED): 1})
                self.model.add(known[name].copy().add(self.option(name), -1), None, 0, STRUCTURE)
                left.add(known[name], -1)
                other.add(self.option(name), -1)
            self.model.add(left, 0, None, STRUCTURE)
            self.model.add(left.copy().add(other, -1), None, 0, STRUCTURE)
        return known[way]

    def any_literal(self, literals: Sequence[Linear]) -> Linear:
        """1 exactly when one or more of the literals are 1."""
        if any(_is_constant(item) and item.constant for item in literals):
            return ALWAYS
        return self._any_column({column for item in literals for column in item.terms})

    def _any_column(self, among: Collection[int]) -> Linear:
        """1 exactly when one or more of some columns of 0 or 1 are 1."""
        columns = tuple(sorted(among))
        if not columns:
            return NEVER
        if len(columns) == 1:
            return Linear({columns[0]: 1})
        if columns not in self._any:
            made = self.model.column("z", kind=IMPLIED)
            parts = self._in_parts(columns)
            for column in parts:
                self.model.add(Linear({made: 1, column: -1}), 0, None, STRUCTURE)
            all_of_them = Linear(dict.fromkeys(parts, 1)).add(Linear({made: -1}))
            self.model.add(all_of_them, 0, None, STRUCTURE)
            self._any[columns] = Linear({made: 1})
            if len(columns) >= WIDE:
                insort(self._wide, (-len(columns), made, frozenset(columns)))
        return self._any[columns]

    def _in_parts(self, columns: tuple[int, ...]) -> tuple[int, ...]:
        """Columns with the widest groups among them that have a column of their own replaced by that one.

        Who asks for so much or more of some work asks for less of it too: said one upon another, such groups
        take far fewer rows, and are as tight.
        """
        left, found = frozenset(columns), list[int]()
        if len(columns) > WIDE:
            for _, made, group in self._wide:
                if group <= left:
                    left -= group
                    found.append(made)
        return (*sorted(left), *found)

    def both(self, one: Linear, other: Linear) -> Linear:
        """1 exactly when both literals are 1."""
        for first, second in ((one, other), (other, one)):
            if _is_constant(first):
                return second if first.constant else NEVER
        (a,), (b,) = one.terms, other.terms
        if a == b:
            return one
        key = (min(a, b), max(a, b))
        if key not in self._both:
            made = self.model.column("y", kind=IMPLIED)
            self.model.add(Linear({made: -1, a: 1}), 0, None, STRUCTURE)
            self.model.add(Linear({made: -1, b: 1}), 0, None, STRUCTURE)
            self.model.add(Linear({made: -1, a: 1, b: 1}), None, 1, STRUCTURE)
            self._both[key] = Linear({made: 1})
        return self._both[key]

    def giver(self, giver: Giver[Any]) -> Linear:
        """1 exactly when the effect is active."""
        given = self.any_of(giver.given_by)
        return self.both(given, self.any_of(giver.together_with)) if giver.together_with else given

    def effects(self, givers: Sequence[Giver[Any]]) -> Linear:
        """The sum of active effects, those of one source counted once (the largest of them)."""
        total = Linear()
        sources: dict[str, list[Giver[Any]]] = {}
        for giver in givers:
            if giver.source:
                sources.setdefault(giver.source, []).append(giver)
            else:
                total.add(self.giver(giver), giver.value)
        for group in sources.values():
            total.add(self._largest(group))
        return total

    def _largest(self, group: Sequence[Giver[Any]]) -> Linear:
        """The largest value among the active ones of a group, 0 when none is active."""
        total = Linear()
        before: list[Linear] = []
        reached = NEVER
        for value in sorted({g.value for g in group}, reverse=True):
            before = before + [self.giver(g) for g in group if g.value == value]
            now = self.any_literal(before)
            total.add(now, value).add(reached, -value)
            reached = now
        return total

    def piece(self, piece: CostPiece) -> Linear:
        """The literal of a piece being there."""
        return ALWAYS if piece.triggers is None else self.any_of(piece.triggers)

    def total(self, what: Summed) -> Linear:
        """The sum of a figure of the pieces (``cost``, ``cash``, ``minutes``, ``mass`` ...)."""
        if what not in self._sums:
            figure = attrgetter(what)
            total = Linear()
            for piece in self.problem.pieces:
                if value := int(figure(piece)):
                    total.add(self.piece(piece), value)
            for packs in self.problem.packs:
                if what == "cash" or (packs.in_cost and what in ("cost", "consumables")):
                    total.add(self.packs(packs), packs.cents)
            if what in ("cost", "cash"):
                total.add(self.freight())
            self._sums[what] = total
        return self._sums[what].copy()

    def at_other_costs(self, problem: Problem) -> Columns:
        """The same columns and rows for a problem whose pieces differ in their cost alone."""
        made = copy(self)
        made.problem = problem
        made._sums = {what: total for what, total in self._sums.items() if what != "cost"}
        return made

    def freight(self) -> Linear:
        """What the order comes to beyond the goods' own cents; never less than that of the cheapest order."""
        if self._freight is None:
            baskets = self.problem.baskets
            self._freight = Linear() if baskets is None else self._order(baskets)
        return self._freight.copy()

    def _order(self, baskets: Baskets) -> Linear:
        """A column for each good at each supplier that has it, and for each parcel sent, and sent free."""
        by_name = {item.consumable: item for item in self.problem.packs}
        total = Linear()
        bought: dict[str, list[tuple[Linear, int, int]]] = {}
        for good in baskets.goods:
            wanted = self.packs(by_name[good.consumable]) if good.consumable else self.any_of(good.triggers)
            most = self.model.bounds(wanted)[1]
            if most < 1:
                continue
            placed = wanted.copy()
            for number, (supplier, asked) in enumerate(good.offers, 1):
                # the last supplier gets what the others do not
                last = number == len(good.offers)
                here = placed if last else Linear({self.model.column("d", 0, most): 1})
                if last and number > 1:
                    self.model.add(here, 0, None, STRUCTURE)
                elif not last:
                    placed = placed.add(here, -1)
                bought.setdefault(supplier, []).append((here, most, asked))
                total.add(here, asked - good.cents)
        for parcel in baskets.parcels:
            if parcel.freight and parcel.supplier in bought:
                things = bought[parcel.supplier]
                total.add(parcel_cost(self.model, things, parcel.freight, parcel.free_from))
        return total

    def packs(self, packs: Packs) -> Linear:
        """The number of packs bought, exactly: what is used beyond the stock, in packs, rounded up.

        Held from both sides, so that it is true whatever is aimed at. With something in stock a further
        column says whether anything is bought at all.
        """
        if packs.consumable not in self._packs:
            self._packs[packs.consumable] = self._pack_number(packs)
        return self._packs[packs.consumable]

    def _pack_number(self, packs: Packs) -> Linear:
        uses = [(ALWAYS if who is None else self.any_of(who), quantity) for who, quantity in packs.uses]
        used = total_of(uses)
        most = -(-(self.model.bounds(used)[1] - packs.stock) // packs.size)
        if most <= 0:
            return NEVER
        fresh = packs.stock == 0 and all(quantity > 0 for _, quantity in uses)
        who = dict.fromkeys(upgrade for triggers, _ in packs.uses for upgrade in triggers or ())
        always = any(triggers is None for triggers, _ in packs.uses)
        first = NEVER if not fresh else ALWAYS if always else self.any_of(tuple(sorted(who)))
        if most == 1 and fresh:
            return first
        number = Linear({self.model.column("n", 0, most): 1})
        # size x number is what is used beyond the stock, or up to a pack less one unit more
        over = number.times(packs.size).add(used, -1)
        self.model.add(over, -packs.stock, None, STRUCTURE)
        if packs.stock == 0:
            self.model.add(over, None, packs.size - 1, STRUCTURE)
            if fresh:
                self.model.add(number.copy().add(first, -1), 0, None, STRUCTURE)
            return number
        some = Linear({self.model.column("b"): 1})
        self.model.add(number.copy().add(some, -most), None, 0, STRUCTURE)
        self.model.add(over.add(some, packs.stock), None, packs.size - 1, STRUCTURE)
        return number

    def tangent(self, z: float, gradient: Spreads, scale: int, pieces: Sequence[CostPiece]) -> Linear:
        """A lower bound on ``scale`` x minutes at ``z``: spread replaced by its tangent.

        ``gradient`` is the slope of the joint spread by each spread. Every coefficient is rounded down, so
        that the bound stays one. For a negative z the plain sum of spreads is taken off instead.
        """
        total = Linear()
        constant = 0.0
        for piece in pieces:
            spreads = spreads_of(piece)
            if not piece.minutes and not spreads:
                continue
            steep = (gradient.get(key, 0.0) * own if z > 0 else abs(own) for key, own in spreads.items())
            slope = math.fsum(steep)
            value = scale * (piece.minutes + z * 100.0 * slope)
            literal = self.piece(piece)
            if _is_constant(literal):
                constant += value * literal.constant
            else:
                total.add(literal, math.floor(value))
        total.constant = math.floor(constant)
        return total

"""Upgrades that a best set may hold: what does nothing for the wish and only costs is in none.

Of any set that keeps all rules, what is of no use can be taken out all at once: the rules are kept as before, no figure
is larger, and there are fewer upgrades. So by aims that are figures of the work, and then by number, a best set is among
what is of use; where that can keep no rule, nothing can. All of it is told from the whole numbers of the problem.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from operator import attrgetter
from typing import get_args

from msgspec.structs import replace

from estimator.choose.measure import PER_HOUR, spreads_of
from estimator.model.problem import CostPiece, Problem, Scale, Summed

FIGURES: tuple[Summed, ...] = tuple(name for name in get_args(Summed) if name != "mass")
"""The figures by which a set is the worse for more of them; of mass a wish may ask for more or less."""
_figures = attrgetter(*FIGURES)


def among_useful(problem: Problem) -> Problem:
    """The choice among what is of use alone, to be asked for sets that are best by figures and then by number.

    The problem itself where freight is counted, where a surety is below the mean (there less work may be worse), where
    a score has to be reached, and where work may be done in more ways, which are members of their own.
    """
    scored = problem.least_score is not None
    if problem.baskets is not None or problem.ways or scored or min(problem.z_minutes, problem.z_price) < 0:
        return problem
    return without_others(problem, of_use(problem))


def without_others(problem: Problem, view: Collection[str]) -> Problem:
    """The choice among some of its upgrades alone, the work that none of these asks for left out."""

    def asked_by(piece: CostPiece) -> tuple[str, ...]:
        return tuple(name for name in piece.triggers or () if name in view)

    pieces = (
        piece if piece.triggers is None else replace(piece, triggers=asked_by(piece))
        for piece in problem.pieces
    )
    return replace(
        problem,
        options=tuple(name for name in problem.options if name in view),
        slots=tuple((slot, tuple(name for name in of if name in view)) for slot, of in problem.slots),
        prerequisites=tuple(of for of in problem.prerequisites if of[0] in view),
        conflicts=tuple(pair for pair in problem.conflicts if pair[0] in view and pair[1] in view),
        pieces=tuple(piece for piece in pieces if piece.triggers is None or piece.triggers),
    )


def of_use(problem: Problem) -> frozenset[str]:
    """The upgrades that no rule shuts out and that do something for the wish or may save something."""
    open_to_choice = frozenset(problem.options) - problem.shut
    useful = {*_wished(problem), *_saving(problem, open_to_choice)}
    return with_helpers(problem, useful & open_to_choice, open_to_choice)


def with_helpers(
    problem: Problem, useful: Collection[str], open_to_choice: Collection[str]
) -> frozenset[str]:
    """Some upgrades with all that are open to choice of what they need, and of what these need."""
    found = set(useful)
    latest = set(useful)
    while latest:
        needed = {helper for name, of in problem.prerequisites if name in latest for helper in of}
        latest = needed.intersection(open_to_choice) - found
        found |= latest
    return frozenset(found)


def _wished(problem: Problem) -> Iterator[str]:
    """What is required, and what bears on an attribute that is wished for or on one that holds such a one down.

    A cap only lowers a level, and every level rises with those that it rests on: what caps is of no use by that.
    """
    scales = {scale.attribute: scale for scale in problem.scales}
    for rule in problem.rules:
        if rule.kind == "required":
            yield from rule.upgrades
    told = _resting(scales, (rule.attribute for rule in problem.rules if rule.attribute))
    for name in told & scales.keys():
        for giver in (*scales[name].tos, *scales[name].adds):
            yield from (*giver.given_by, *giver.together_with)
        for hold in scales[name].holds:
            yield from hold.lifted_by
    for amount in problem.amounts:
        if amount.attribute in told:
            for change in amount.changes:
                yield from (*change.given_by, *change.together_with)
            if amount.with_mass:
                yield from _who(piece for piece in problem.pieces if piece.mass)


def _resting(scales: dict[str, Scale], wished: Iterable[str]) -> frozenset[str]:
    """The attributes that are wished for, with all that their levels rest on."""
    found = set[str]()
    pending = list(wished)
    while pending:
        name = pending.pop()
        if name not in found:
            found.add(name)
            if name in scales:
                pending += [other for other, _ in (*scales[name].limits, *scales[name].needs)]
    return frozenset(found)


def _who(pieces: Iterable[CostPiece]) -> Iterator[str]:
    for piece in pieces:
        yield from piece.triggers or ()


def _saving(problem: Problem, open_to_choice: Collection[str]) -> Iterator[str]:
    """What may take off more of some figure, by other work that it makes less, than it surely adds to it."""
    desk = frozenset[str]() if problem.clock is None else problem.clock.desk
    slot_of = {name: slot for slot, of in problem.slots for name in of}
    figures = _Surely(open_to_choice, slot_of, len(FIGURES) + 2)
    spread = dict.fromkeys(open_to_choice, 0.0)
    for piece in problem.pieces:
        if piece.triggers:
            figures.add(piece.triggers, _sums(piece, desk))
        less = -sum(value for value in spreads_of(piece).values() if value < 0)
        if less:
            for name in spread.keys() & set(piece.triggers or ()):
                spread[name] += less
    for name, sums in figures.added.items():
        if min(sums) < 0 or (spread[name] and not _outweighs(problem, sums, spread[name])):
            yield name
    for packs in problem.packs:
        if all(quantity >= 0 for _, quantity in packs.uses):
            continue
        used = _Surely(open_to_choice, slot_of, 1)
        for who, quantity in packs.uses:
            used.add(who, (quantity,))
        yield from (name for name, (more,) in used.added.items() if more < 0)


class _Surely:
    """By upgrade what it adds to some sums whatever else is chosen: no less than that goes when it is taken out.

    Of what several bring it counts what would be saved, and what no upgrade of another slot brings too.
    """

    def __init__(self, upgrades: Collection[str], slot_of: Mapping[str, str], count: int) -> None:
        self.added = {name: [0] * count for name in upgrades}
        self._slot_of = slot_of

    def add(self, triggers: Sequence[str] | None, values: Sequence[int]) -> None:
        """Some values that count when any of ``triggers`` is chosen (None: always)."""
        who = [name for name in triggers or () if name in self.added]
        if not who:
            return
        alone = len({self._slot_of.get(name, name) for name in who}) == 1
        if not alone and min(values) >= 0:
            return
        for number, value in enumerate(values):
            if value < 0 or (alone and value):
                for name in who:
                    self.added[name][number] += value


def _sums(piece: CostPiece, desk: Collection[str]) -> Sequence[int]:
    bench = 0 if piece.id in desk else int(piece.minutes)
    return (
        *_figures(piece),
        int(piece.minutes - piece.faults),
        bench,
    )


def _outweighs(problem: Problem, sums: Sequence[int], less: float) -> bool:
    """Whether minutes and cost that an upgrade surely adds come to more than the spread that it takes off at a surety.

    The joint spread is a norm: it rises by no more than the sum of what is put back.
    """
    beyond = int(100 * max(problem.z_minutes, problem.z_price) * less) + 2
    cost, minutes = sums[FIGURES.index("cost")], sums[FIGURES.index("minutes")]
    without_faults = sums[len(FIGURES)]
    return (
        min(minutes, without_faults) >= beyond
        and cost * PER_HOUR >= beyond * problem.hour_cents + 2 * PER_HOUR
    )

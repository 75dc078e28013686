"""Fewer options for the aim ``profit`` of a sale: those that need not be in a best set are left out.

Three steps, each exact for the best profit (not for the rule for ties):

1. *Useless*: adds no uplift, sells no removed part, raises no level that a better condition or a wish
   rests on, helps nothing that stays, is named by no rule.
2. *Too dear*: what it costs by itself is at least all it could ever bring.
3. *Outdone*: another option of the same slot costs no more, brings no work that it does not bring,
   and does all that it does.

A piece that makes something cheaper counts as something its options bring. Nothing is left out where
wishes are held on amounts, money (other than cost, which no step raises), time or the score, or whole
packs and freight count in the cost.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Set

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.of_use import with_helpers
from estimator.core.amounts import Cents, Tenths
from estimator.estimate.uplift import pay_for
from estimator.model.problem import Amounts, CostPiece, Giver, Problem, Scale
from estimator.model.sale_problem import Sale

HELD = ("level", "required", "refused")
"""Kinds of rules that are still kept when options are left out."""

Marks = dict[str, set[tuple[object, ...]]]
"""What speaks for the options, or against them, by option."""


class Traits(Struct, frozen=True):
    """What an option costs by itself (cents), the shared pieces it needs, its good and bad sides."""

    alone: Cents
    shared: Set[str]
    slots: frozenset[str]
    good: Set[tuple[object, ...]]
    bad: Set[tuple[object, ...]]


def can_be_pruned(problem: Problem) -> bool:
    """Whether options may be left out of a problem, so far as its rules and packs go."""
    if (
        problem.least_score is not None
        or problem.baskets is not None
        or problem.ways
        or any(packs.in_cost for packs in problem.packs)
    ):
        return False
    return all(rule.kind in HELD or (rule.kind, rule.on) == ("money", "cost") for rule in problem.rules)


def without_refused(problem: Problem) -> Problem:
    """The problem without what its rules refuse; what they say is held by that."""
    if all(rule.kind != "refused" for rule in problem.rules):
        return problem
    shut = problem.shut
    return _only(problem, tuple(option for option in problem.options if option not in shut))


def pruned(problem: Problem) -> Problem:
    """The problem with fewer options and the same best profit."""
    sale = problem.sale
    if sale is None or not can_be_pruned(problem):
        return problem
    problem = without_refused(problem)
    traits = _traits(problem, sale)
    required = {u for rule in problem.rules if rule.kind == "required" for u in rule.upgrades}
    brings = _brings(problem, sale, {option: t.alone for option, t in traits.items()})
    useful = {o for o in problem.options if o in required or brings.get(o, 0) > traits[o].alone}
    kept = with_helpers(problem, useful, problem.options)
    rivals: dict[frozenset[str], list[str]] = {}
    for option in kept - required:
        rivals.setdefault(traits[option].slots, []).append(option)
    outdone = {
        option
        for slots, group in rivals.items()
        if slots
        for option in group
        if any(_outdoes(traits, other, option) for other in group if other != option)
    }
    return _only(problem, tuple(option for option in problem.options if option in kept - outdone))


def _alone(problem: Problem) -> dict[str, Cents]:
    costs = dict.fromkeys(problem.options, Cents(0))
    for piece in problem.pieces:
        if piece.triggers is not None and len(piece.triggers) == 1 and piece.triggers[0] in costs:
            costs[piece.triggers[0]] += piece.cost
    return costs


def _needs(problem: Problem, sale: Sale) -> dict[str, Tenths]:
    """The highest level asked of an attribute by conditions and wishes, and by what rests on it."""
    scales = {scale.attribute: scale for scale in problem.scales}
    needs: dict[str, Tenths] = {}
    ahead = [need for grade in sale.better if grade.value > sale.standing.value for need in grade.needs]
    ahead += [(rule.attribute, Tenths(rule.least or 0)) for rule in problem.rules if rule.kind == "level"]
    while ahead:
        name, least = ahead.pop()
        if least <= needs.get(name, Tenths(0)) or name not in scales:
            continue
        needs[name] = least
        ahead += [(other, least - plus) for other, plus in scales[name].limits]
        ahead += list(scales[name].needs)
    return needs


def _at_risk(scale: Scale, need: int) -> bool:
    """Whether a level may have to be raised: it is too low, or something could hold or push it down."""
    return (
        scale.base < need
        or any(c.value < need for c in scale.caps)
        or any(fault.value < need for fault in scale.holds)
        or any(a.value < 0 for a in scale.adds)
    )


def _brings(problem: Problem, sale: Sale, alone: dict[str, Cents]) -> dict[str, Cents]:
    """The most that an option could add to the price and by removed parts, in cents."""
    brings = dict.fromkeys(problem.options, Cents(0))
    for uplift in sale.uplifts:
        # the other clauses may pay for themselves, so each option may count on the whole uplift
        for option in {option for clause in uplift.clauses for option in clause}:
            if option in brings:
                brings[option] += uplift.value
    for item in sale.removed:
        for option in item.given_by:
            if option in brings:
                brings[option] += max(Cents(0), item.value - pay_for(item.minutes, sale.pay))
    for piece in problem.pieces:
        if piece.cost < 0 and piece.triggers is not None and len(piece.triggers) > 1:
            for option in piece.triggers:
                if option in brings:
                    brings[option] -= piece.cost
    gain = max((grade.value for grade in sale.better), default=Cents(0)) - sale.standing.value
    needs = _needs(problem, sale)
    wished = {rule.attribute for rule in problem.rules if rule.kind == "level"}
    raising: set[str] = set()
    for scale in problem.scales:
        need = needs.get(scale.attribute, 0)
        if need and _at_risk(scale, need):
            for giver in _helpful(scale):
                raising.update((*giver.given_by, *giver.together_with))
    for option in raising & set(brings):
        # a level that a wish asks for is worth any money
        brings[option] += sale.ceiling + sum(alone.values(), Cents(1)) if wished else max(Cents(0), gain)
    return brings


def _helpful(scale: Scale) -> Iterable[Giver[Tenths]]:
    yield from (to for to in scale.tos if to.value > scale.base)
    yield from (add for add in scale.adds if add.value > 0 or _softens(scale, add))
    yield from (Giver(fault.value, fault.lifted_by) for fault in scale.holds)


def _softens(scale: Scale, add: Giver[Tenths]) -> bool:
    """Whether an effect stands in for a worse one of the same source, of which only the largest counts."""
    return bool(add.source) and any(a.source == add.source and a.value < add.value for a in scale.adds)


def _traits(problem: Problem, sale: Sale) -> dict[str, Traits]:
    needs, sides = _needs(problem, sale), _Sides(problem)
    sides.of_pieces()
    sides.of_rules_between()
    sides.of_sale(sale)
    for scale in problem.scales:
        need = needs.get(scale.attribute, 0)
        if need and _at_risk(scale, need):
            sides.of_levels(scale, need)
            sides.of_additions(scale)
            sides.of_caps(scale, need)
            sides.of_faults(scale, need)
    return sides.traits(_alone(problem))


class _Sides:
    """What speaks for and against each option, gathered over the problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.shared: dict[str, set[str]] = {option: set() for option in problem.options}
        self.slots: dict[str, set[str]] = {option: set() for option in problem.options}
        self.good: Marks = {option: set() for option in problem.options}
        self.bad: Marks = {option: set() for option in problem.options}

    def of_pieces(self) -> None:
        """Work that several options bring: what it costs, or what it makes cheaper."""
        for piece in self.problem.pieces:
            if piece.triggers is None or len(piece.triggers) < 2:
                continue
            if piece.cost < 0:
                _mark(self.good, piece.triggers, "cheaper", piece.id)
                continue
            for option in piece.triggers:
                if option in self.shared:
                    self.shared[option].add(piece.id)

    def of_rules_between(self) -> None:
        """Slots, and what an option needs, helps, or cannot stand beside."""
        for name, ids in self.problem.slots:
            for option in ids:
                self.slots[option].add(name)
        for upgrade, any_of in self.problem.prerequisites:
            _mark(self.bad, (upgrade,), "needs", any_of)
            _mark(self.good, any_of, "helps", upgrade, any_of)
        for one, other in self.problem.conflicts:
            _mark(self.bad, (one,), "not beside", other)
            _mark(self.bad, (other,), "not beside", one)

    def of_sale(self, sale: Sale) -> None:
        """What it adds to the price, what of it can be sold by itself, what it takes off the price."""
        for uplift in sale.uplifts:
            for number, clause in enumerate(uplift.clauses):
                _mark(self.good, clause, "uplift", uplift.id, number)
        for item in sale.removed:
            _mark(self.good, item.given_by, "removed", item.id)
        for loss in sale.losses:
            _mark(self.bad, loss.given_by, "loss", loss.id)

    def of_levels(self, scale: Scale, need: int) -> None:
        """A level that is given: one mark for each level up to it, so that more holds less."""
        lifted = any(scale.adds)
        for to in scale.tos:
            # without anything on top a level above the highest need is worth no more than that need
            top = to.value if lifted else min(to.value, need)
            steps = sorted(
                {min(t.value, need) if not lifted else t.value for t in scale.tos if t.value <= top} | {top}
            )
            for step in steps:
                _mark(self.good, to.given_by, "to", scale.attribute, step, to.together_with)
                _mark(self.good, to.together_with, "to with", scale.attribute, step, to.given_by)

    def of_additions(self, scale: Scale) -> None:
        """What is added to a level or taken from it; what softens something worse is both."""
        for add in scale.adds:
            sides = [self.good] if add.value > 0 else [self.bad]
            if add.value <= 0 and _softens(scale, add):
                sides.append(self.good)
            told = (scale.attribute, add.value, add.source)
            for where in sides:
                _mark(where, add.given_by, "add", *told, add.together_with)
                _mark(where, add.together_with, "add with", *told, add.given_by)

    def of_caps(self, scale: Scale, need: int) -> None:
        """What holds a level below what is asked of it."""
        for cap in scale.caps:
            if cap.value < need:
                _mark(self.bad, (*cap.given_by, *cap.together_with), "cap", scale.attribute, cap.value)

    def of_faults(self, scale: Scale, need: int) -> None:
        """What mends a fault that holds a level below what is asked of it."""
        for number, fault in enumerate(scale.holds):
            if fault.value < need:
                _mark(self.good, fault.lifted_by, "mends", scale.attribute, number)

    def traits(self, alone: dict[str, Cents]) -> dict[str, Traits]:
        """The traits of every option, with what each costs by itself."""
        return {
            o: Traits(alone[o], self.shared[o], frozenset(self.slots[o]), self.good[o], self.bad[o])
            for o in self.problem.options
        }


def _mark(where: Marks, ids: Iterable[str], *trait: object) -> None:
    for option in ids:
        if option in where:
            where[option].add(trait)


def _outdoes(traits: dict[str, Traits], one: str, other: str) -> bool:
    """Whether ``one`` can stand in for ``other`` of its slots at no loss; of two that are even, the first by name stays."""
    a, b = traits[one], traits[other]
    if not (a.alone <= b.alone and a.shared <= b.shared):
        return False
    if not (a.good >= b.good and a.bad <= b.bad):
        return False
    even = a.alone == b.alone and a.shared == b.shared and a.good == b.good and a.bad == b.bad
    return not even or one < other


def _only(problem: Problem, kept: tuple[str, ...]) -> Problem:
    """The problem with fewer options; what only others bring is left out."""
    held = set(kept)

    def among(ids: tuple[str, ...]) -> tuple[str, ...]:
        return ids if held.issuperset(ids) else tuple(i for i in ids if i in held)

    def givers(some: tuple[Giver[Amounts], ...]) -> Iterator[Giver[Amounts]]:
        for giver in some:
            given_by, with_it = among(giver.given_by), among(giver.together_with)
            if not given_by or (giver.together_with and not with_it):
                continue
            whole = given_by is giver.given_by and with_it is giver.together_with
            yield giver if whole else replace(giver, given_by=given_by, together_with=with_it)

    def pieces() -> Iterator[CostPiece]:
        for piece in problem.pieces:
            triggers = None if piece.triggers is None else among(piece.triggers)
            if triggers is None or triggers:
                yield piece if triggers is piece.triggers else replace(piece, triggers=triggers)

    return replace(
        problem,
        options=kept,
        slots=tuple((name, among(ids)) for name, ids in problem.slots if len(among(ids)) > 1),
        prerequisites=tuple((u, among(any_of)) for u, any_of in problem.prerequisites if u in held),
        conflicts=tuple(pair for pair in problem.conflicts if held.issuperset(pair)),
        pieces=tuple(pieces()),
        packs=tuple(
            replace(
                item,
                uses=tuple(
                    (who, quantity) if who is None else (among(who), quantity) for who, quantity in item.uses
                ),
            )
            for item in problem.packs
        ),
        scales=tuple(
            replace(
                s,
                tos=tuple(givers(s.tos)),
                adds=tuple(givers(s.adds)),
                caps=tuple(givers(s.caps)),
                holds=tuple(replace(fault, lifted_by=among(fault.lifted_by)) for fault in s.holds),
            )
            for s in problem.scales
        ),
        rules=tuple(rule for rule in problem.rules if rule.kind != "refused"),
    )

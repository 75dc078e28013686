"""A quick look for a better set by the plain arithmetic of the rows: it can refute, it proves nothing.

Greedy from nothing until every wish is met, then drops, additions and swaps, as long as they help; the
same from the answer itself. No programme, no solver: what is wrong in those cannot mislead it. Where a
figure could turn on a last rounding, it is held against the searched set.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from estimator.choose.verify.levels import Spec, tenths
from estimator.choose.verify.rows import Rows, RowTotals
from estimator.core.amounts import Cents, Hundredths
from estimator.model import Conditional, Requirement
from estimator.model.problem import Rule, Weight
from estimator.tables.conditions import PART_CONDITIONS

SEARCHED = ("cost", "cash", "hours", "price", "score")
"""Aims for which a better set is looked for."""
MOST = 4000
"""Sets looked at from one start before the search is content."""
LACKING = 100
"""What a thing that is missing weighs in the greedy, in tenths of a level."""
DEEPEST = 3
"""Needs of needs that are followed."""
NIL = Decimal(0)
GRAIN = Decimal("0.05")
"""Grams by which a weight of so many pieces may be rounded, each."""

Set = frozenset[str]
Keeps = Callable[[Set], bool]


@dataclass
class PlainSearch:
    """What may be chosen of a job, by its own words and those of the tables.

    ``wishes``: whether the wishes are demanded. ``weights``: what counts for ``score``. ``besides``: whatever
    else a set has to keep, by the rules that are ``foreign`` to the job.
    """

    rows: Rows
    spec: Spec
    aim: str
    wishes: bool = True
    weights: tuple[Weight, ...] = ()
    besides: Keeps = lambda _: True
    foreign: tuple[Rule, ...] = ()
    looked_at: int = 0

    def __post_init__(self) -> None:
        job, verdicts = self.rows.job, self.rows.verdicts
        self.by_name: dict[str, list[str]] = {}
        for name, verdict in verdicts.items():
            for word in dict.fromkeys((name, verdict.upgrade.row.id)):
                self.by_name.setdefault(word, []).append(name)
        barred = {name for entry in job.refused for name in self.by_name.get(entry, ())}
        self.open = {
            name for name, v in verdicts.items() if v.outcome != "does-not-fit" and name not in barred
        }
        self.slots: dict[str, set[str]] = {}
        for name in self.open:
            self.slots.setdefault(verdicts[name].upgrade.slot, set()).add(name)
        self.apart: dict[str, set[str]] = {}
        for name, verdict in verdicts.items():
            for word in verdict.upgrade.excludes:
                for other in self.by_name.get(word, ()):
                    if other != name:
                        self.apart.setdefault(name, set()).add(other)
                        self.apart.setdefault(other, set()).add(name)
        self.needs = {name: self._needs(name) for name in self.open}
        wished = job.requirements if self.wishes else ()
        self.asked = [(wish.attribute, self._asked_of(wish)) for wish in wished]
        self.soonest_told = sorted(self.asked, key=lambda wish: not isinstance(wish[1], int))
        asked = [wish.attribute for wish in wished]
        self.counted = self._closure([*asked, *(weight.attribute for weight in self.weights)])
        self.touches: dict[str, set[str]] = {}
        self.useful = tuple(sorted(self._useful()))
        self._alone: dict[str, int] = {}
        self._ended: dict[str, set[Set]] = {}

    def _asked_of(self, wish: Requirement) -> int | Requirement:
        """The tenths of a level that are asked for, or the wish itself where it is for an amount."""
        if wish.attribute not in self.spec.by_level:
            return wish
        return tenths(wish.level if wish.level is not None else wish.least or NIL)

    def _needs(self, name: str) -> tuple[Set, ...]:
        upgrade = self.rows.verdicts[name].upgrade
        every = [self._meeting(asked) for asked in upgrade.needs_all]
        if upgrade.needs_any:
            every.append(frozenset(i for asked in upgrade.needs_any for i in self._meeting(asked)))
        return tuple(every)

    def _meeting(self, asked: Conditional) -> Set:
        ids = self.by_name.get(asked.name, ())
        if asked.condition:
            fits = PART_CONDITIONS[asked.condition]
            ids = [i for i in ids if fits(self.rows.verdicts[i].upgrade.part)]
        return frozenset(ids) & self.open

    def _closure(self, names: Iterable[str]) -> tuple[str, ...]:
        found = dict.fromkeys(names)
        while True:
            limits = self.rows.shop.attribute_limits
            more = {row.other for row in limits if row.attribute in found} - set(found)
            if not more:
                return tuple(found)
            found |= dict.fromkeys(sorted(more))

    def _useful(self) -> set[str]:
        """The upgrades that touch what counts, those required, and what these need."""
        rows, counted = self.rows, set(self.counted)
        by_task: dict[str, set[str]] = {}
        for task, effects in rows.shop.task_effects.items():
            by_task[task] = {effect.attribute for effect in effects} & counted
        by_mass = {name for name in counted if rows.shop.attributes[name].adds == "mass"}
        useful = {name for entry in rows.job.required for name in self.by_name.get(entry, ())} & self.open
        for name in self.open:
            verdict = rows.verdicts[name]
            effects = rows.shop.upgrade_effects.get(verdict.upgrade.row.id, ())
            touched = {effect.attribute for effect in effects}
            touched |= {effect[0] for finding in verdict.findings for effect in finding.effects}
            touched &= counted
            for demand in verdict.demands:
                touched |= by_task.get(demand.task, set())
            touched |= self.spec.mended(name) & counted
            if by_mass and rows.mass((name,)) < rows.mass(()):
                touched |= by_mass
            if touched:
                self.touches[name] = touched
                useful.add(name)
        latest = useful
        while latest:
            latest = {i for name in latest for need in self.needs[name] for i in need} - useful
            useful = useful | latest
        return useful

    # ------------------------------------------------------------------ what a set is worth
    def value(self, chosen: Set) -> int:
        """The figure of the aim: the less the better."""
        self.looked_at += 1
        if self.aim == "cost":
            return self.rows.cost(chosen)
        if self.aim == "score":
            return -self.score(chosen)
        totals = self.rows.totals(chosen)
        if self.aim == "cash":
            return totals.cash
        if self.aim == "hours":
            return totals.minutes_at(self.rows.job.budget.surety) + 1
        return self._price(totals)

    def _price(self, totals: RowTotals) -> Cents:
        return self.rows.to_pay(totals, self.rows.quoted(totals) + Hundredths(1))

    def score(self, chosen: Set) -> int:
        """Thousandths of a point: of each weight the share of what is wanted that is reached."""
        points = 0
        for weight in self.weights:
            if weight.attribute in self.spec.by_level:
                level = self.spec.reached(weight.attribute, chosen)
            else:
                amount = self.spec.amount(weight.attribute, chosen) * 1000
                more = weight.better == "more"
                passed = [amount >= limit if more else amount <= limit for limit in weight.limits]
                level = 10 * (passed.index(False) if False in passed else len(passed))
            exact = Decimal(weight.weight) * min(level, weight.wanted) / weight.wanted
            points += int(exact.quantize(Decimal(1), ROUND_HALF_UP))
        return points

    def lacking(self, chosen: Set) -> Iterator[tuple[str, int]]:
        """What a set misses of what is required and wished: a name, and how far in tenths of a level."""
        for entry in self.rows.job.required:
            if chosen.isdisjoint(self.by_name.get(entry, ())):
                yield entry, LACKING
        for attribute, level in self.asked:
            short = self._short(attribute, level, chosen)
            if short > 0:
                yield attribute, short

    def _short(self, attribute: str, asked: int | Requirement, chosen: Set) -> int:
        """By how much a set misses a level asked for, or what is asked of an amount."""
        if isinstance(asked, int):
            return asked - self.spec.reached(attribute, chosen)
        crumbs = GRAIN * 2 * (len(self.rows.largest(chosen)) + 2 * len(chosen) + 1)
        amount = self.spec.amount(attribute, chosen)
        under = NIL if asked.least is None else asked.least + crumbs - amount
        over = NIL if asked.most is None else amount + crumbs - asked.most
        return math.ceil(max(under, over))

    def missing(self, chosen: Set) -> int:
        """All that is lacking, added up."""
        return sum(short for _, short in self.lacking(chosen))

    def meets(self, chosen: Set) -> bool:
        """Whether nothing is lacking; an amount, which is longest in telling, is asked last."""
        return not any(
            chosen.isdisjoint(self.by_name.get(entry, ())) for entry in self.rows.job.required
        ) and not any(self._short(*wish, chosen) > 0 for wish in self.soonest_told)

    def stands(self, chosen: Set) -> bool:
        """Whether a set can be together: everything open, one to a slot, what it needs there, nothing apart."""
        slots = [self.rows.verdicts[name].upgrade.slot for name in chosen]
        return (
            chosen <= self.open
            and len(set(slots)) == len(slots)
            and not any(chosen.isdisjoint(need) for name in chosen for need in self.needs[name])
            and all(chosen.isdisjoint(self.apart.get(name, ())) for name in chosen)
        )

    def excess(self, chosen: Set) -> int:
        """Cents and hundredths of a minute by which a set breaks the limits; zero when it keeps them."""
        budget = self.rows.job.budget
        if budget.money is None and budget.minutes is None:
            return 0
        totals, over = self.rows.totals(chosen), 0
        minutes = totals.minutes_at(budget.surety) + 1
        if budget.money is not None:
            spent = totals.cash
            if budget.on == "price":
                spent = self._price(totals)
            if budget.on == "cost":
                # each minute that the surety asks for beyond the mean costs what a minute costs
                beyond = Decimal(max(0, minutes - totals.expected)) / 100
                hour = (self.rows.wage + self.rows.overhead) * 100
                spent = totals.cost + Cents(math.ceil(beyond * hour / 60))
            over += max(0, spent - int(budget.money * 100))
        if budget.minutes is not None:
            over += max(0, minutes - int(budget.minutes * 100))
        return over

    def keeps(self, chosen: Set) -> bool:
        """Whether a set can be and keeps everything that is asked."""
        return self.stands(chosen) and self.meets(chosen) and not self.excess(chosen) and self.besides(chosen)

    # ------------------------------------------------------------------ moves
    def with_one(self, chosen: Set, name: str, depth: int = 0) -> Set:
        """A set with an upgrade in the place of what it cannot stand with, and the cheapest of what it needs."""
        there = self._beside(chosen, name) | {name}
        for need in self.needs[name]:
            if need and depth < DEEPEST and there.isdisjoint(need):
                there = self.with_one(there, min(need, key=lambda i: (self._cost_alone(i), i)), depth + 1)
        return there

    def _beside(self, chosen: Set, name: str) -> Set:
        """What of a set may stay when an upgrade comes in."""
        upgrade = self.rows.verdicts[name].upgrade
        return chosen - self.slots[upgrade.slot] - self.apart.get(name, set())

    def _cost_alone(self, name: str) -> int:
        if name not in self._alone:
            self._alone[name] = self.rows.cost((name,))
        return self._alone[name]

    def greedy(self, own: bool) -> Set:
        """From nothing, thing by thing that is lacking, the upgrade that brings most for its money.

        ``own``: by what it brings to that thing, else by what it brings to all that is lacking.
        """
        chosen: Set = frozenset()
        while lacking := dict(self.lacking(chosen)):
            for entry in lacking:
                wider = self._most_for_money(chosen, entry, lacking, own)
                if wider is not None:
                    chosen = wider
                    break
            else:
                break
        return chosen

    def _most_for_money(self, chosen: Set, entry: str, lacking: Mapping[str, int], own: bool) -> Set | None:
        """The set with one upgrade more for ``entry``; None if nothing helps."""
        known = entry in self.rows.shop.attributes
        closure = set(self._closure((entry,))) if known else set()
        named, spent, missing = self.by_name.get(entry, ()), self.rows.cost(chosen), sum(lacking.values())
        best: tuple[float, list[str], Set] | None = None
        for name in self.useful:
            if name in chosen or (name not in named and closure.isdisjoint(self.touches.get(name, ()))):
                continue
            wider = self.with_one(chosen, name)
            left = dict(self.lacking(wider))
            gained = missing - sum(left.values())
            if gained > 0:
                gained = lacking[entry] - left.get(entry, 0) if own else gained
                worth = (-gained / max(1, self.rows.cost(wider) - spent), sorted(wider), wider)
                best = worth if best is None or worth < best else best
        return None if best is None else best[2]

    def improved(self, chosen: Set, value: Callable[[Set], int], keeps: Keeps) -> Set:
        """The set that drops, additions and swaps lead to, the best of each round, while ``value`` falls.

        ``keeps``: what each has to keep, all that is wished for with it.
        """
        now, self.looked_at = value(chosen), 0
        ended = self._ended.setdefault(value.__name__, set())
        by_cost = not self.rows.packs_in_cost and (
            value == self.rows.cost or (value == self.value and self.aim == "cost")
        )
        while chosen not in ended and self.looked_at < MOST:
            best: Set | None = None
            for move, cents in self._moves(chosen, by_cost):
                if cents is None and not self._wished(move):  # sooner told than what it comes to
                    self.looked_at += 1
                    continue
                told = value(move) if cents is None else cents
                if told < now and keeps(move):
                    best, now = move, told
            if best is None:
                ended.add(chosen)
                break
            chosen = best
        return chosen

    def _moves(self, chosen: Set, by_cost: bool) -> Iterator[tuple[Set, int | None]]:
        """The sets one drop, addition or swap away; ``by_cost``: with their cost, where that is told sooner."""
        rows, held = self.rows, sorted(chosen)
        for gone in held:
            yield chosen - {gone}, None
        for base in (chosen, *(chosen - {gone} for gone in held)):
            runs = rows.largest(base)
            tasks = {task for task, _ in runs}
            cents = rows.cost(base)
            short = [name for name, _ in self.lacking(base) if name in self.spec.by_level]
            for name in self.useful:
                if name in chosen:
                    continue
                plain = all(not base.isdisjoint(need) for need in self.needs[name])
                plain = plain and self._beside(base, name) == base
                if plain and not self.spec.bears_on(name).issuperset(short):
                    self.looked_at += 1  # it leaves a wish as short as it is
                elif by_cost and plain and rows.apart(name, base):
                    self.looked_at += 1
                    yield base | {name}, cents + rows.further(runs, tasks, name)
                else:
                    yield self.with_one(base, name), None

    # ------------------------------------------------------------------ answers
    def _built(self, thorough: bool) -> list[Set]:
        """Sets built from nothing that meet the wishes; those within the limits, if any are.

        ``thorough``: in both ways of building, and a set beyond the limits is led into them where moves can.
        """
        found = []
        for own in (True, False) if thorough else (True,):
            chosen = self.greedy(own)
            if not self.meets(chosen) or not self.stands(chosen):
                continue
            chosen = self.improved(chosen, self.rows.cost, self._wished)
            if thorough and self.excess(chosen):
                chosen = self.improved(chosen, self.excess, self._wished)
            if self.keeps(chosen):
                found.append(chosen)
        return found

    def _wished(self, chosen: Set) -> bool:
        return self.stands(chosen) and self.meets(chosen)

    def any_set(self) -> Set | None:
        """A set that keeps everything, if the search comes across one."""
        return next(iter(self._built(thorough=True)), None)

    def better_than(self, chosen: Collection[str], objective: int) -> tuple[Set, int] | None:
        """A set that keeps everything and has a lower figure than ``objective``, with its figure."""
        starts = [frozenset(chosen)]
        if self.aim != "score":
            starts += self._built(thorough=False)
        if self.aim == "cost":
            # what no move makes cheaper without limits, none does within them
            self._ended.setdefault(self.value.__name__, set()).update(starts[1:])
        for start in dict.fromkeys(starts):
            found = self.improved(start, self.value, self.keeps)
            told = self.value(found)
            if told < objective and self.keeps(found):
                return found, told
        return None

"""A choice as a programme that can be asked again and again: built once, cuts kept from ask to ask."""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping, Sequence
from copy import copy
from operator import attrgetter, ne

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.measure import Measure, MeasureSet, PriceBound
from estimator.choose.milp.constraints import Builder, amount_of, bench_minutes, build_rules, money_of
from estimator.choose.milp.lazy_cuts import PRICE, LazyCuts
from estimator.choose.milp.levels import Levels
from estimator.choose.milp.linear import CUT, STRUCTURE, Linear, Row, make_row, total_of
from estimator.choose.milp.score import score_of
from estimator.choose.milp.variables import ALWAYS, Columns
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.solvers.solve import LARGE, SolveResult, engine_for_many, solve_model
from estimator.choose.verify.choice import Breach, asked_for, recheck, score_reached
from estimator.core.errors import EngineError, RefutedError
from estimator.model.problem import CostPiece, Problem, Rule, Summed

MANY = 8
"""Solves after which another engine, slower to load and quicker to ask, is worth loading."""
DAY_DONE = "day-done"
"""Tag of the rows that hold up the day by which a set can be done."""
_BUT_COST = attrgetter(*(name for name in CostPiece.__struct_fields__ if name != "cost"))
AGREED: tuple[Summed, ...] = ("cost", "cash", "price_parts", "consumables", "price_work", "line_tax")


class Solution(Struct, frozen=True):
    """The answer to one question: ``status`` as the engine means it, checked exactly where it holds a set."""

    status: str
    chosen: tuple[str, ...] | None = None
    measure: Measure | None = None
    objective: int | None = None
    bound: int | None = None


class Scope(Struct, frozen=True):
    """What is in force for one question besides the rules of the trade and of the user.

    ``without``: ids of user rules left out; ``using``: tags of spare rows that count this time;
    ``extra``: further rows.
    """

    without: frozenset[str] = frozenset()
    using: frozenset[str] = frozenset()
    extra: tuple[Row, ...] = ()

    def dropping(self, *ids: str) -> Scope:
        """The same without some more rules."""
        return replace(self, without=self.without | set(ids))

    def adding(self, *rows: Row) -> Scope:
        """The same with some more rows."""
        return replace(self, extra=(*self.extra, *rows))

    def demanding(self, *tags: str) -> Scope:
        """The same with some spare rows in force."""
        return replace(self, using=self.using | set(tags))


EVERYTHING = Scope()


class Missing(Struct, frozen=True):
    """By how much a figure lies beside its limits: in its own unit, and in thousandths of the limit.

    ``tags``: of the spare rows that hold both up.
    """

    exact: Linear
    shares: Linear
    tags: tuple[str, ...]


def _past(outcome: SolveResult, figure: int) -> bool:
    return outcome.objective is not None and outcome.objective > figure


class Programme:
    """The columns, rows and cuts of one problem, and the exact check of every set proposed."""

    def __init__(
        self,
        problem: Problem,
        measure: MeasureSet,
        bound: PriceBound | None = None,
        engine: str | None = None,
        deadline: float | None = None,
    ) -> None:
        start = time.perf_counter()
        self.problem = problem
        self.engine = engine
        self.engines_used: dict[str, None] = {}
        self.notes: dict[str, None] = {}  # what was handed from engine to engine, and why
        self.deadline = deadline  # a time of time.perf_counter at which every question ends
        self._measure = measure
        self._score: Linear | None = None
        self._measured: dict[tuple[str, ...], Measure] = {}
        self.columns = Columns(problem)
        self.model = self.columns.model
        self.levels = Levels(self.columns)
        self.lazy = LazyCuts(self.columns, bound or PriceBound())
        self.builder = Builder(self.columns, self.levels, self.lazy)
        for what in (*AGREED, "minutes"):
            self.columns.total(what)
        build_rules(self.builder)
        self.spare: dict[str, None] = {}  # tags of rows that are in force only when asked for
        self.soft: dict[str, Linear] = {}  # by tag, the literal that a wish is given up
        self.missing: dict[str, Missing] = {}  # by tag, what a rule misses
        self.rules = {rule.id: rule for rule in problem.rules}
        if len(self.rules) < len(problem.rules) or {STRUCTURE, CUT} & set(self.rules):
            raise EngineError("the ids of the rules of a choice must differ from each other")
        self._day: Linear | None = None
        self.unsettled = False  # set when a question ended without a proven answer
        self.expects_many = False  # set by those who are about to ask very often
        self.seconds_build = time.perf_counter() - start
        self.seconds_solve = 0.0
        self.rounds = 0

    def measure(self, chosen: tuple[str, ...]) -> Measure:
        """The exact figures of a set, asked for once."""
        if chosen not in self._measured:
            self._measured[chosen] = self._measure(chosen)
        return self._measured[chosen]

    def at_other_costs(self, problem: Problem, measure: MeasureSet) -> Programme | None:
        """The programme of a problem whose pieces differ in their cost alone, on the columns, rows and cuts of this one.

        None where it differs in more, or where a limit is on the cost. ``measure``: as the sets of that problem come out.
        """
        if any(rule.kind == "money" and rule.on == "cost" for rule in problem.rules):
            return None
        mine, others = self.problem.pieces, problem.pieces
        if len(mine) != len(others) or any(map(ne, map(_BUT_COST, mine), map(_BUT_COST, others))):
            return None
        if replace(problem, pieces=mine, hour_cents=self.problem.hour_cents) != self.problem:
            return None
        made = copy(self)
        made.problem, made._measure, made._measured = problem, measure, {}
        made.columns = self.columns.at_other_costs(problem)
        return made

    def count(self) -> Linear:
        """The number of upgrades."""
        return Linear(dict.fromkeys(self.columns.x.values(), 1))

    def counted(self, chosen: Collection[str]) -> int:
        """The number of upgrades of a set: the ways to do its work are none."""
        return sum(1 for name in chosen if name in self.columns.x)

    def score(self) -> Linear:
        """The score in thousandths of a point, exact wherever it is wanted large; built when first asked."""
        if self._score is None:
            self._score = score_of(self.columns, self.levels, self.problem.weights)
        return self._score.copy()

    def wished(self, rule: Rule) -> tuple[Linear, int | None, int | None]:
        """The sum an ``amount``, ``required`` or ``refused`` rule speaks of, and its ends."""
        if rule.kind == "amount":
            return amount_of(self.columns, rule.attribute), rule.least, rule.most
        named = total_of((self.columns.option(u), 1) for u in rule.upgrades)
        return (named, 1, None) if rule.kind == "required" else (named, None, 0)

    def limited(self, rule: Rule) -> tuple[Linear, tuple[str, ...]]:
        """The figure that a limit (``money``, ``minutes``, ``due``) is on, and the tags of rows that hold it up."""
        if rule.kind == "money":
            return money_of(self.builder, rule.on), ()
        if rule.kind == "minutes":
            return self.lazy.minutes(self.problem.z_minutes), ()
        if rule.kind == "due":
            return self._day_done(), (DAY_DONE,)
        raise EngineError(f"the choice knows no limit of the kind “{rule.kind}”")

    def _day_done(self) -> Linear:
        """The day by which a set can be done, held from below by spare rows; built when first asked."""
        if self._day is None:
            clock, model = self.problem.clock, self.model
            if clock is None:
                raise EngineError("a day to be held needs a clock")
            self.spare[DAY_DONE] = None
            self._day = Linear({model.column("d", 0, len(clock.room)): 1})
            for upgrade, day in clock.least:
                model.add(self._day.copy().add(self.columns.option(upgrade), -day), 0, None, DAY_DONE)
            spent = bench_minutes(self.columns, clock)
            most = model.bounds(spent)[1]
            for day, room in enumerate(clock.room, start=1):
                if room >= most or (day < len(clock.room) and clock.room[day] == room):
                    continue  # on days without hours nothing more fits
                late = Linear({model.column("l"): 1})
                model.add(spent.copy().add(late, room - most), None, room, DAY_DONE)
                model.add(self._day.copy().add(late, -day), 0, None, DAY_DONE)
        return self._day.copy()

    def income(self) -> Linear:
        """Cents that come in."""
        items = self.problem.incomes
        return total_of(
            (ALWAYS if i.triggers is None else self.columns.any_of(i.triggers), i.cents) for i in items
        )

    def no_good_cut(self, chosen: Collection[str]) -> Row:
        """A row that shuts out a set; the same upgrades done another way are no other set."""
        return self._differs_in(self.columns.x, chosen)

    def ways_cut(self, chosen: Collection[str]) -> Row:
        """A row that shuts out a set, done the ways it is done."""
        return self._differs_in(self.columns.members, chosen)

    def _differs_in(self, members: Mapping[str, int], chosen: Collection[str]) -> Row:
        differs = total_of(
            (Linear({c: -1}, 1) if name in chosen else Linear({c: 1}), 1) for name, c in members.items()
        )
        return make_row(differs, 1, None, "again")

    def in_force(self, tag: str, scope: Scope) -> bool:
        """Whether rows with this tag count."""
        return tag not in scope.without and (tag not in self.spare or tag in scope.using)

    def rows(self, scope: Scope = EVERYTHING) -> list[Row]:
        """The rows in force."""
        held = [row for row in self.model.rows if self.in_force(row.tag, scope)]
        return held + [row for row in scope.extra if row.columns]

    def ask(
        self, objective: Linear, scope: Scope = EVERYTHING, lift: bool = True, beyond: int | None = None
    ) -> Solution:
        """The set with the least ``objective`` that keeps what is in force.

        Solves, measures the set exactly, adds cuts and solves again until the set stands (not so if it is not to be
        ``lift``ed: then it is one that may be had), or until what is proven is ``beyond`` all that is of interest.
        """
        if any(self.in_force(tag, scope) for tag in self.model.impossible):
            return Solution(INFEASIBLE)
        if any(not row.columns and not row.holds({}) for row in scope.extra):
            return Solution(INFEASIBLE)
        while True:
            rows = self.rows(scope)
            left = None if self.deadline is None else self.deadline - time.perf_counter()
            outcome = solve_model(self.model, rows, objective, self._engine(), left)
            self.seconds_solve += outcome.seconds
            self.rounds += 1
            self.engines_used[outcome.engine] = None
            self.notes.update(dict.fromkeys(outcome.notes))
            self.unsettled = self.unsettled or outcome.status not in (OPTIMAL, INFEASIBLE)
            if outcome.values is None:
                return Solution(outcome.status, bound=outcome.bound)
            chosen = self._chosen(outcome)
            if not lift or (outcome.status == OPTIMAL and beyond is not None and _past(outcome, beyond)):
                return Solution(outcome.status, chosen, None, outcome.objective, outcome.bound)
            measured = self.measure(chosen)
            self._agree(chosen, measured, outcome)
            if PRICE in self.lazy.held():
                # a set is not lifted where its price is thought to be higher than it is
                self.lazy.check_bound(measured)
            if not self._lift(chosen, measured, outcome, objective, rows):
                return Solution(outcome.status, chosen, measured, outcome.objective, outcome.bound)

    def ask_fewest(self, objective: Linear, scope: Scope = EVERYTHING) -> Solution:
        """The same; of sets that are equally good one with the fewest upgrades.

        An upgrade that brings nothing and costs nothing, its work being in the set already, stays out.
        """
        most = len(self.problem.options)
        found = self.ask(objective.times(most + 1).add(self.count()), scope)
        bound = None if found.bound is None else -(-(found.bound - most) // (most + 1))
        if found.objective is None or found.chosen is None:
            return replace(found, bound=bound)
        value = (found.objective - self.counted(found.chosen)) // (most + 1)
        return replace(found, objective=value, bound=value if found.status == OPTIMAL else bound)

    def trimmed(self, chosen: tuple[str, ...]) -> tuple[str, ...]:
        """A set without the upgrades that can be taken out of it one by one and change nothing that counts:
        no cost, no minutes, no score, no rule."""

        def worth(ids: tuple[str, ...]) -> tuple[int, int, int]:
            measured = self.measure(ids)
            return measured.cost, measured.minutes, score_reached(self.problem, ids)

        kept, broken = worth(chosen), self.breaches(chosen)
        for upgrade in chosen:
            less = asked_for(self.problem, [u for u in chosen if u != upgrade])
            if worth(less) == kept and self.breaches(less) == broken:
                chosen = less
        return chosen

    def breaches(self, chosen: tuple[str, ...]) -> list[Breach]:
        """What a set breaks, by plain arithmetic."""
        return recheck(self.problem, chosen, self.measure(chosen).price)

    def _engine(self) -> str | None:
        """The engine named; else, for many questions and for hard ones, the one for many."""
        options = len(self.problem.options)
        # a price goes up by steps: which way to do what work brings it below one is no question for floats
        by_steps = bool(self.problem.ways) and PRICE in self.lazy.held()
        hard = self.problem.baskets is not None or options >= LARGE or by_steps
        if self.engine is None and (hard or self.expects_many or self.rounds >= MANY):
            return engine_for_many(options)
        return self.engine

    def _chosen(self, outcome: SolveResult) -> tuple[str, ...]:
        assert outcome.values is not None
        values = outcome.values
        return tuple(sorted(name for name, column in self.columns.members.items() if values[column]))

    def _agree(self, chosen: tuple[str, ...], measured: Measure, outcome: SolveResult) -> None:
        """The estimate and the programme must speak of the same cents and minutes."""
        assert outcome.values is not None
        values = dict(enumerate(outcome.values))
        figures = [(what, getattr(measured, what), what) for what in AGREED]
        for what, told, column in [*figures, ("expected", measured.expected, "minutes")]:
            summed = self.columns.total(column).value(values)
            # an engine may order dearer than need be where that costs it nothing: within a limit, say
            dearer = self.problem.baskets is not None and what in ("cost", "cash") and summed > told
            if told != summed and not dearer:
                raise RefutedError(
                    f"the estimate and the programme differ on {what}: {told} against {summed} "
                    f"for {', '.join(chosen) or 'no upgrade'}"
                )

    def _lift(
        self,
        chosen: tuple[str, ...],
        measured: Measure,
        outcome: SolveResult,
        objective: Linear,
        rows: Sequence[Row],
    ) -> bool:
        """Add cuts where a figure held from below is too low to be true; whether any were added."""
        assert outcome.values is not None
        lifted = False
        for what, column in self.lazy.held().items():
            told = self.lazy.told(what, measured)
            if told is None:
                continue
            most = self._most(column, objective, rows)
            limit = outcome.values[column] if most is None else most
            # the cents follow the minutes, so they are looked at when those are right
            if told > limit and not (lifted and what == "cost_spread"):
                lifted = True
                self.lazy.lift(what, chosen, measured)
        return lifted

    def learn_price(self, chosen: tuple[str, ...]) -> None:
        """Hold the price up by what a set measures that is known before anything is asked: fewer rounds find it out."""
        if PRICE in self.lazy.held():
            measured = self.measure(chosen)
            self.lazy.check_bound(measured)
            self.lazy.lift(PRICE, chosen, measured)

    def limit_on(self, column: int) -> int | None:
        """The limit on a column that no aim speaks of; None if a row weighs it against other figures."""
        return self._most(column, Linear(), self.rows())

    def _most(self, column: int, objective: Linear, rows: Sequence[Row]) -> int | None:
        """The limit on a column that stands alone; None if it is weighed against other figures."""
        if objective.terms.get(column):
            return None
        most = self.model.upper[column]
        for row in rows:
            if row.tag == CUT or column not in row.columns:
                continue
            if row.columns != (column,) or row.upper is None:
                return None
            most = min(most, row.upper)
        return most

"""A choice made again and again of one job with a reading or two otherwise: the set, and what it costs.

What is worked out of one such job serves the next. Nothing but set and cost is asked for, so the answers are those
of the programme, rechecked in plain arithmetic, without the estimate line by line.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.build import best_for, with_work_of
from estimator.choose.choose import confirm
from estimator.choose.kept import is_kept, without
from estimator.choose.measure import Measure, MeasureSet
from estimator.choose.milp.linear import Linear, make_row, total_of
from estimator.choose.milp.model import EVERYTHING, Programme, Solution
from estimator.choose.milp.objectives import objectives_of, stages_of
from estimator.choose.of_use import among_useful, without_others
from estimator.choose.solvers.backends import INFEASIBLE, NO_ANSWER, OPTIMAL
from estimator.choose.solvers.solve import engine_for_many
from estimator.choose.study import Choice, Known, Study, answer_of, price_bound, study_of_open
from estimator.choose.tie_break import break_ties
from estimator.core.amounts import Cents
from estimator.core.errors import InputError
from estimator.estimate.costing import Costing, is_active
from estimator.estimate.ways import upgrades_in, way_id
from estimator.model import Job
from estimator.model.problem import Problem

FIGURES = frozenset(("price", "cost", "cash"))
"""Aims that are a figure of a set as it is measured."""
LARGEST = 2**61
"""One sum of several aims is asked for where it stays below: what is infeasible is believed in whole numbers of 64 bits."""


class Again(Struct, frozen=True):
    """The choice made again: its status (``ChoiceResult``), the upgrades of the set, and its cost; None without a set."""

    status: str
    chosen: tuple[str, ...]
    cost: Cents | None


class Best(Struct, frozen=True):
    """The best set among the upgrades in view, and the problem of these with the ways to do their work.

    ``chosen``, its ways among it, and ``measure`` are None where none keeps all rules.
    """

    view: frozenset[str]
    problem: Problem | None
    chosen: tuple[str, ...] | None = None
    measure: Measure | None = None

    @property
    def again(self) -> Again:
        """The same as it is told."""
        if self.chosen is None or self.measure is None:
            return Again(INFEASIBLE, (), None)
        return Again(OPTIMAL, upgrades_in(self.chosen), self.measure.cost)


NONE = Best(frozenset(), None)
"""Nothing was looked at."""


class _Answered(Struct, frozen=True):
    """An answer with all that it follows from: the work at its least, and what is in view with its ways."""

    least: Problem
    view: frozenset[str]
    mine: Problem | None
    again: Again


class _Floor(Struct, frozen=True, dict=True):
    """A choice with all work at the least of its ways (``work``), under which no set can go; ``measure`` is of that."""

    study: Study
    work: Problem
    measure: MeasureSet
    engine: str | None

    def programme(self, problem: Problem) -> Programme:
        """The programme of a problem with the same work."""
        return _programme(self.study, problem, self.measure, self.engine)

    @cached_property
    def impossible(self) -> bool:
        """Whether no set keeps all rules, even if all gives way that stays as it is because nobody spoke of it."""
        free = without(self.work, [rule for rule in self.work.rules if is_kept(rule)])
        least = free if _may_fall(self.study) else among_useful(free)
        return self.programme(least).ask(Linear()).status == INFEASIBLE


class ChosenAgain:
    """The best sets, by the aim of a choice, of jobs that differ from its own in readings alone.

    The set as it was, with what costs little beside it, is mostly all that has to be looked at with its ways: that
    nothing else comes up to the best of these is told of all work at the least of its ways (``ways_on_demand``), and
    of what is of use alone (``of_use``).
    """

    def __init__(self, choice: Choice, known: Known) -> None:
        self._opened = choice.open_study
        self._aim = choice.answer.aim
        self._chosen = choice.answer.chosen if choice.found else None
        self._tasks = choice.study.shop.tasks
        self._known = known
        self._view = frozenset(self._chosen or ())
        self._answers: list[_Answered] = []

    def on(self, job: Job) -> Again | None:
        """The choice for a job; None where something required is not offered then."""
        try:
            study = study_of_open(self._opened, job, self._known)
        except InputError:
            return None
        # values between which nothing turns make one problem; what its rules are called bears on no set
        rules = tuple(replace(rule, words="") for rule in study.frame.rules)
        study = replace(study, frame=replace(study.frame, rules=rules))
        engine = engine_for_many(len(study.frame.options))
        answer = None
        if FIGURES.issuperset(objectives_of(self._aim)) and study.frame.least_score is None:
            answer = self._by_view(study, engine) or self._by_all(study, engine)
        if answer is not None:
            return answer
        told = answer_of(study, self._aim, engine, explain=False)
        cost = None if told.measure is None else told.measure.cost
        return Again(told.status, upgrades_in(told.chosen), cost)

    def _by_all(self, study: Study, engine: str | None) -> Again | None:
        """The answer by one sum where all upgrades are in view."""
        best = self._best_of(study, frozenset(study.frame.options), engine)
        if best is None or best.chosen is not None:
            return None if best is None else best.again
        if any(map(is_kept, study.frame.rules)):
            free = without(study.problem, [rule for rule in study.frame.rules if is_kept(rule)])
            if _programme(study, free, study.measure, engine).ask(Linear()).status != INFEASIBLE:
                return None
        return best.again

    def _by_view(self, study: Study, engine: str | None) -> Again | None:
        """The answer by one sum, of all aims and of the number of upgrades, with few upgrades in view; else None."""
        if study.frame.sale is not None:
            return None
        costing = study.least.costed
        if costing is None:
            return None
        names = objectives_of(self._aim)
        work = with_work_of(study.frame, costing)
        least = work if _may_fall(study) else among_useful(work)
        for known in self._answers:
            if known.least == least and _with_ways(study, known.view, names)[0] == known.mine:
                return known.again
        floor = _Floor(study, work, study.priced_as(costing).measure, engine)
        best = self._seen(floor, least)
        if best is None:
            return None
        self._view |= best.view
        if best.chosen is not None:  # that there is none rests on what may give way too
            self._answers.append(_Answered(least, best.view, best.problem, best.again))
        return best.again

    def _seen(self, floor: _Floor, least: Problem) -> Best | None:
        """The best set, found among the upgrades that had to be looked at with their ways; None where it is not proven.

        These are at first those of the set as it was, with what had to be looked at before; without it any set is
        asked for.
        """
        best: Best | None = NONE
        if self._chosen is not None and set(self._chosen).issubset(least.options):
            best = self._best_of(floor.study, self._view.intersection(least.options), floor.engine)
        if best is None:
            return None
        # where there was no set, or that one breaks a rule, there mostly is none
        doubted = best.problem is not None or self._chosen is None
        if doubted and best.chosen is None and floor.impossible:
            return best
        programme = floor.programme(least)
        while best is not None:
            found = _beside(programme, self._aim, best)
            if found.status == INFEASIBLE:
                return best if best.chosen is not None or floor.impossible else None
            if found.status != OPTIMAL or found.chosen is None:
                return None
            best = self._best_of(floor.study, best.view.union(found.chosen), floor.engine)
        return None

    def _best_of(self, study: Study, view: frozenset[str], engine: str | None) -> Best | None:
        """The best of some upgrades with their ways; None where one sum does not tell it.

        First whether any set comes up to the one as it was, where that keeps everything: what is strictly the best
        has no ties.
        """
        problem, costing = _with_ways(study, view, objectives_of(self._aim))
        programme = _programme(study, problem, study.priced_as(costing).measure, engine)
        kept, scope = self._kept(programme, costing), EVERYTHING
        mine = Best(view, problem, kept, None if kept is None else programme.measure(kept))
        figure, reached = _in_one_sum(programme, self._aim, mine)
        if max(map(abs, programme.model.bounds(figure))) >= LARGEST:
            return None
        if kept is not None:
            programme.learn_price(kept)
            as_good = make_row(figure, None, reached, "as good")
            scope = EVERYTHING.adding(as_good, programme.ways_cut(kept))
        found = programme.ask(figure, scope)
        if found.status == INFEASIBLE:
            return mine
        if found.status != OPTIMAL or found.objective is None:
            return None
        ties = EVERYTHING.adding(make_row(figure, None, found.objective, "as good"))
        best, sure = break_ties(programme, found, ties)
        if not sure or best.chosen is None or best.measure is None:
            return None
        confirm(programme, best)
        return replace(mine, chosen=best.chosen, measure=best.measure)

    def _kept(self, programme: Programme, costing: Costing) -> tuple[str, ...] | None:
        """The set as it was, done the ways it was, where all of it is still open and it keeps everything."""
        members = self._members_in(costing)
        if members is None or not set(members) <= set(programme.columns.members):
            return None
        return None if programme.breaches(members) else members

    def _members_in(self, costing: Costing) -> tuple[str, ...] | None:
        """The set with the ways it is done, as they are named beside those that a costing reckons with; None without a set."""
        if self._chosen is None:
            return None
        named = [
            way_id(task, self._tasks[task].method)
            for task in costing.in_more_ways
            if is_active(costing.setups[task][1], frozenset(self._chosen))
            and self._tasks[task].method != costing.shop.tasks[task].method
        ]
        return tuple(sorted((*self._chosen, *named)))


def _programme(study: Study, problem: Problem, measure: MeasureSet, engine: str | None) -> Programme:
    """The programme of a problem of a study."""
    return Programme(problem, measure, price_bound(study), engine)


def _with_ways(study: Study, view: Collection[str], aims: Sequence[str]) -> tuple[Problem, Costing]:
    """The choice among some upgrades alone with all ways to do their work that are open, and that work as priced."""
    costing = study.work_of(tuple(verdict for verdict in study.verdicts if verdict.upgrade.id in view))
    frame = without_others(study.frame, view)
    return with_work_of(frame, best_for(frame, costing, aims)), costing


def _may_fall(study: Study) -> bool:
    """Whether a price with its tax may fall as work is added: what comes up to the least charge is taxed as labour."""
    terms = study.shop.terms
    return bool(terms.minimum_charge and terms.tax_labour)


def _beside(programme: Programme, aim: str, best: Best) -> Solution:
    """A set with something that is not in view which, at the least of all ways, is no worse than the best of that.

    Where nothing was looked at, any set.
    """
    figure, reached = _in_one_sum(programme, aim, best)
    if max(map(abs, programme.model.bounds(figure))) >= LARGEST:
        return Solution(NO_ANSWER)
    scope = EVERYTHING
    if best.problem is not None:
        outside = (name for name in programme.problem.options if name not in best.view)
        beside = total_of((programme.columns.option(name), 1) for name in outside)
        scope = scope.adding(make_row(beside, 1, None, "beside"))
    if best.chosen is not None:
        scope = scope.adding(make_row(figure, None, reached, "as good"))
    return programme.ask(figure, scope)


def _in_one_sum(programme: Programme, aim: str, best: Best) -> tuple[Linear, int]:
    """The aims in their order and then the number of upgrades as one sum, and what a set comes to in it.

    A unit of what comes first outweighs all that comes after it.
    """
    stages: list[tuple[Linear | None, int]] = []
    for total, name in zip(stages_of(aim, programme), objectives_of(aim), strict=True):
        stages.append((total, 0 if best.measure is None else getattr(best.measure, name)))
    number = 0 if best.chosen is None else len(upgrades_in(best.chosen))
    stages.append((programme.count(), number))
    figure, reached = Linear(), 0
    for total, mine in stages:
        assert total is not None
        low, high = programme.model.bounds(total)
        figure, reached = figure.times(high - low + 1).add(total), reached * (high - low + 1) + mine
    return figure, reached

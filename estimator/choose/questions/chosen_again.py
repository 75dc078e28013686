"""A choice made again and again of one job with a reading or two otherwise: the set, and what it costs.

What is worked out of one such job serves the next. Nothing but set and cost is asked for, so the answers are those
of the programme, rechecked in plain arithmetic, without the estimate line by line.
"""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.build import with_ways_for
from estimator.choose.choose import confirm
from estimator.choose.infeasible.giving_way import giving_way, kept_of
from estimator.choose.milp.linear import Linear, make_row
from estimator.choose.milp.model import EVERYTHING, Programme
from estimator.choose.milp.objectives import objectives_of, stages_of
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.solvers.solve import engine_for_many
from estimator.choose.study import Choice, Known, Study, answer_of, price_bound, study_job
from estimator.choose.tie_break import break_ties
from estimator.core.amounts import Cents
from estimator.core.errors import InputError
from estimator.estimate.costing import is_active
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


class ChosenAgain:
    """The best sets, by the aim of a choice, of jobs that differ from its own in readings alone."""

    def __init__(self, choice: Choice, known: Known) -> None:
        self._opened = choice.open_study
        self._aim = choice.answer.aim
        self._chosen = choice.answer.chosen if choice.found else None
        self._tasks = choice.study.shop.tasks
        self._known = known
        self._answers: list[tuple[Problem, Again]] = []

    def on(self, job: Job) -> Again | None:
        """The choice for a job; None where something required is not offered then."""
        opened = self._opened
        try:
            study = study_job(opened.shop, job, ways_open=opened.in_more_ways, known=self._known)
        except InputError:
            return None
        # values between which nothing turns make one problem; what its rules are called bears on no set
        problem = replace(study.problem, rules=tuple(replace(rule, words="") for rule in study.problem.rules))
        for asked, answer in self._answers:
            if asked == problem:
                return answer
        answer = self._asked(study)
        self._answers.append((problem, answer))
        return answer

    def _asked(self, study: Study) -> Again:
        engine = engine_for_many(len(study.problem.options))
        answer = self._at_once(study, engine)
        if answer is not None:
            return answer
        told = answer_of(study, self._aim, engine, explain=False)
        cost = None if told.measure is None else told.measure.cost
        return Again(told.status, upgrades_in(told.chosen), cost)

    def _at_once(self, study: Study, engine: str | None) -> Again | None:
        """The answer of one programme in which all aims, and then the number of upgrades, are one sum.

        First whether any set comes up to the one as it was, where that keeps everything: what is strictly the best
        has no ties. None where it cannot be told so.
        """
        names = objectives_of(self._aim)
        if not FIGURES.issuperset(names) or study.problem.least_score is not None:
            return None
        programme = Programme(
            with_ways_for(study.problem, study.costing, names), study.measure, price_bound(study), engine
        )
        kept, scope = self._kept(programme, study), EVERYTHING
        figure, reached = _in_one_sum(programme, self._aim, kept)
        if max(map(abs, programme.model.bounds(figure))) >= LARGEST:
            return None
        if kept is not None:
            programme.learn_price(kept)
            as_good = make_row(figure, None, reached, "as good")
            scope = EVERYTHING.adding(as_good, programme.ways_cut(kept))
        found = programme.ask(figure, scope)
        if found.status == INFEASIBLE:
            if kept is not None:
                return Again(OPTIMAL, upgrades_in(kept), programme.measure(kept).cost)
            return _impossible(programme)
        if found.status != OPTIMAL or found.objective is None:
            return None
        ties = EVERYTHING.adding(make_row(figure, None, found.objective, "as good"))
        best, sure = break_ties(programme, found, ties)
        if not sure or best.chosen is None or best.measure is None:
            return None
        confirm(programme, best)
        return Again(OPTIMAL, upgrades_in(best.chosen), best.measure.cost)

    def _kept(self, programme: Programme, study: Study) -> tuple[str, ...] | None:
        """The set as it was, done the ways it was, where all of it is still open and it keeps everything."""
        members = self._members_in(study)
        if members is None or not set(members) <= set(programme.columns.members):
            return None
        return None if programme.breaches(members) else members

    def _members_in(self, study: Study) -> tuple[str, ...] | None:
        """The set with the ways it is done, as they are named beside those that a study reckons with; None without a set."""
        if self._chosen is None:
            return None
        costing = study.costing
        named = [
            way_id(task, self._tasks[task].method)
            for task in costing.in_more_ways
            if is_active(costing.setups[task][1], frozenset(self._chosen))
            and self._tasks[task].method != costing.shop.tasks[task].method
        ]
        return tuple(sorted((*self._chosen, *named)))


def _in_one_sum(programme: Programme, aim: str, chosen: tuple[str, ...] | None) -> tuple[Linear, int]:
    """The aims in their order and then the number of upgrades as one sum, and what a set comes to in it.

    A unit of what comes first outweighs all that comes after it.
    """
    stages: list[tuple[Linear | None, int]] = []
    for total, name in zip(stages_of(aim, programme), objectives_of(aim), strict=True):
        stages.append((total, 0 if chosen is None else getattr(programme.measure(chosen), name)))
    stages.append((programme.count(), 0 if chosen is None else programme.counted(chosen)))
    figure, reached = Linear(), 0
    for total, mine in stages:
        assert total is not None
        low, high = programme.model.bounds(total)
        figure, reached = figure.times(high - low + 1).add(total), reached * (high - low + 1) + mine
    return figure, reached


def _impossible(programme: Programme) -> Again | None:
    """The answer where no set keeps everything, if none does either when all that stays as it is gives way."""
    if kept_of(programme) and programme.ask(Linear(), giving_way(programme)).status != INFEASIBLE:
        return None
    return Again(INFEASIBLE, (), None)

"""A choice made again and again of one job with a reading or two otherwise: the set, and what it costs.

What is worked out of one such job serves the next. Nothing but set and cost is asked for, so the answers are those
of the programme, rechecked in plain arithmetic, without the estimate line by line.
"""

from __future__ import annotations

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.build import with_ways_for
from estimator.choose.milp.linear import Linear, make_row
from estimator.choose.milp.model import EVERYTHING, Programme
from estimator.choose.milp.objectives import objectives_of, stages_of
from estimator.choose.solvers.backends import INFEASIBLE, OPTIMAL
from estimator.choose.solvers.solve import engine_for_many
from estimator.choose.study import Choice, Known, Study, answer_of, price_bound, study_job
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
        held = self._still_best(study, engine)
        if held is not None:
            return held
        told = answer_of(study, self._aim, engine, explain=False)
        cost = None if told.measure is None else told.measure.cost
        return Again(told.status, upgrades_in(told.chosen), cost)

    def _still_best(self, study: Study, engine: str | None) -> Again | None:
        """The set as it was, where it keeps everything and no other comes up to it by aims and number; else None.

        One question in place of one for each aim and for ties: what is strictly the best has none.
        """
        names = objectives_of(self._aim)
        members = self._members_in(study)
        if members is None or not FIGURES.issuperset(names):
            return None
        problem = with_ways_for(study.problem, study.costing, names)
        if not set(members) <= {*problem.options, *problem.ways_open}:
            return None
        programme = Programme(problem, study.measure, price_bound(study), engine)
        if programme.breaches(members):
            return None
        measured = programme.measure(members)
        stages = [
            (total, getattr(measured, name))
            for total, name in zip(stages_of(self._aim, programme), names, strict=True)
        ]
        figure, reached = Linear(), 0
        for total, mine in (*stages, (programme.count(), programme.counted(members))):
            assert total is not None
            low, high = programme.model.bounds(total)
            # in one sum: a unit of what comes first outweighs all that comes after it
            figure, reached = figure.times(high - low + 1).add(total), reached * (high - low + 1) + mine
        if max(map(abs, programme.model.bounds(figure))) >= LARGEST:
            return None
        others = EVERYTHING.adding(make_row(figure, None, reached, "as good"), programme.ways_cut(members))
        if programme.ask(figure, others).status != INFEASIBLE:
            return None
        return Again(OPTIMAL, upgrades_in(members), measured.cost)

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

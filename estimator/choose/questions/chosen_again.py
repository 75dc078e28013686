"""A choice made again and again of one job with a reading or two otherwise: the set, and what it costs.

What is worked out of one such job serves the next. Nothing but set and cost is asked for, so the answers are those
of the programme, rechecked in plain arithmetic, without the estimate line by line.
"""

from __future__ import annotations

from estimator.choose.solvers.solve import engine_for_many
from estimator.choose.study import Choice, Known, Study, answer_of, study_job
from estimator.core.amounts import Cents
from estimator.core.errors import InputError
from estimator.core.records import dataclass, replace
from estimator.estimate.ways import upgrades_in
from estimator.model import Job
from estimator.model.problem import Problem


@dataclass(frozen=True, slots=True)
class Again:
    """The choice made again: its status (``ChoiceResult``), the upgrades of the set, and its cost; None without a set."""

    status: str
    chosen: tuple[str, ...]
    cost: Cents | None


class ChosenAgain:
    """The best sets, by the aim of a choice, of jobs that differ from its own in readings alone."""

    def __init__(self, choice: Choice, known: Known) -> None:
        self._opened = choice.open_study
        self._aim = choice.answer.aim
        self._known = known
        self._answers: list[tuple[Problem, Again]] = []

    def on(self, job: Job) -> Again | None:
        """The choice for a job; None where something required is not offered then."""
        opened = self._opened
        try:
            study = study_job(opened.shop, job, ways_open=bool(opened.costing.ways), known=self._known)
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
        told = answer_of(study, self._aim, engine, explain=False)
        cost = None if told.measure is None else told.measure.cost
        return Again(told.status, upgrades_in(told.chosen), cost)

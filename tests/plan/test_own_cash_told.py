"""What a job's own limit on cash does not hold in a batch is told, on the screen and as data."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from msgspec.structs import replace

from estimator.plan.plan import Plan
from estimator.report.record import as_data
from estimator.report.records.plan import PlanTold
from estimator.report.words.plan import NOT_IN_OWN_CASH, plan_words
from estimator.report.words.plan_brief import plan_in_short
from tests.plan.bench import plan


def limited(jobs: Sequence[str]) -> Plan:
    """The plan of an example as it is told where some of its jobs have a limit on their cash, the others on cost."""
    found = plan("batch-three")
    studies = dict(found.study.studies)
    for name in found.answer.chosen:
        job = studies[name].job
        budget = replace(job.budget, money=Decimal(900), on="cash" if name in jobs else "cost")
        studies[name] = replace(studies[name], job=replace(job, budget=budget))
    return replace(found, study=replace(found.study, studies=studies))


def test_it_is_told_of_the_jobs_with_such_a_limit_and_of_no_others() -> None:
    first, *others = plan("batch-three").answer.chosen
    assert others
    for told in ([], [first], [first, *others]):
        found = limited(told)
        for words in ("\n".join(plan_in_short(found)), plan_words(found)):
            said = " ".join(words.split())
            assert (f"own limit on cash of {', '.join(told)}: parts" in said) == bool(told)
            assert (", ".join(NOT_IN_OWN_CASH) in said) == bool(told)
        data = as_data(PlanTold(found))["jobs"]
        assert isinstance(data, list)
        assert [one["job"] for one in data if one["own_cash_limit_leaves_out"]] == told

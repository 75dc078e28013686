"""A set looked at alone keeps and misses the limits that it keeps and misses among everything that may be done."""

from __future__ import annotations

import random
from datetime import date, timedelta
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.choose.infeasible.conflicts import misses
from estimator.choose.study import Known, Study, make_estimate, study_job, study_of_set
from estimator.core.errors import InputError
from estimator.fit.otherwise import could_be
from estimator.model import Budget, Job
from estimator.model.problem import LIMITS
from tests.drawn_jobs import example, the_shop
from tests.fit.measured import measured_as


def missed(study: Study, chosen: tuple[str, ...]) -> list[str]:
    rules = tuple(rule for rule in study.problem.rules if rule.kind in LIMITS)
    return [one.words for one in misses(replace(study.problem, rules=rules), chosen, study.measure(chosen))]


def limited(job: Job, chance: random.Random, cents: int, minutes: int) -> Job:
    """The job with limits drawn about what a set comes to."""
    budget = Budget(
        money=Decimal(int(cents * chance.uniform(0.8, 1.2))) / 100,
        minutes=chance.choice([None, Decimal(int(minutes * chance.uniform(0.8, 1.2))) / 100]),
        on=chance.choice(["cost", "cash", "price"]),
        surety=chance.choice([None, Decimal(80)]),
        worth=chance.choice([None, Decimal(int(cents * chance.uniform(0.8, 1.2))) / 100]),
    )
    back = date(2026, 10, 5) + timedelta(days=chance.randint(1, 12))
    return replace(job, budget=budget, received="2026-10-05", wanted_by=back.isoformat())


@pytest.mark.parametrize("name", ["tight-commission", "school-guitar", "short-scale-bass"])
def test_a_set_alone_misses_what_it_misses_among_all(name: str) -> None:
    chance, shop, known = random.Random(name), the_shop(), Known()
    whole = study_job(shop, replace(example(name), kind="commission"))
    open_fields = [
        n for n, r in whole.job.instrument.items() if r.assumed and could_be(shop.intake[n], whole.job)
    ]
    told: list[int] = []
    while len(told) < 8:
        one_a_slot = {v.upgrade.slot or v.upgrade.id: v.upgrade.id for v in whole.verdicts}
        chosen = tuple(sorted(chance.sample(sorted(one_a_slot.values()), 4)))
        try:
            totals = make_estimate(whole, chosen).totals
        except InputError:
            continue  # not to be done together, or not at all
        field = chance.choice([n for n in open_fields if n != "kind"])
        job = limited(whole.job, chance, totals.cost, totals.expected)
        study = study_job(shop, job, known=known)
        seen = measured_as(shop, job, field, chance.choice(could_be(shop.intake[field], job)))
        among = study_job(study.shop, seen, known=known)
        if not set(chosen) <= {v.upgrade.id for v in among.verdicts}:
            continue
        alone = study_of_set(study, seen, chosen, known)
        assert alone.measure(chosen) == among.measure(chosen), (field, chosen)
        assert missed(alone, chosen) == missed(among, chosen), (field, chosen)
        told.append(len(missed(among, chosen)))
    assert 0 in told or max(told) > min(told)
    assert max(told) > 0

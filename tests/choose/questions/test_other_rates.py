"""A job at another labour rate, on what is worked out already, is the job priced at that rate from the beginning."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.choose.build import build_problem, with_work_of
from estimator.choose.milp.model import EVERYTHING, Programme
from estimator.choose.questions.ask import programme_of, repricing_of
from estimator.choose.questions.sensitivity import first_dearer, shown_to_stand
from estimator.choose.study import price_bound, study_job
from estimator.core.errors import InputError
from estimator.core.money import cents
from estimator.estimate.build import make_costing, make_setting
from estimator.model.problem import Source
from tests.drawn_jobs import drawn


@pytest.mark.parametrize("seeds", [range(4), pytest.param(range(4, 30), marks=pytest.mark.slow)])
def test_another_rate_is_that_of_a_job_priced_anew(seeds: range) -> None:
    told: list[bool] = []
    for number in seeds:
        chance = random.Random(number)
        shop, job = drawn(number)
        if job.budget.on == "cost":  # then nothing is shared, and all is made anew
            job = replace(job, budget=replace(job.budget, on="price"))
        try:
            study = study_job(shop, job)
        except InputError:
            continue
        programme = programme_of(study)
        programme.ask(programme.columns.total("cost"))
        for _ in range(3):
            pay = Decimal(chance.randint(0, 20000)) / 100
            there = replace(shop, terms=replace(shop.terms, wage_per_hour=pay))
            paid = replace(study.job, sale=replace(study.job.sale, own_pay_per_hour=pay))
            setting = replace(make_setting(there, paid), lines=study.costing.setting.lines)
            costing = make_costing(there, paid, study.verdicts, setting=setting)
            anew = make_costing(there, paid, study.verdicts)
            assert costing.atoms == anew.atoms, number
            problem = with_work_of(study.problem, costing)
            whole = build_problem(there, paid, study.verdicts, anew)
            others = ("rules", "clock", "sale")  # what is held besides is not made of the work alone
            assert problem == replace(whole, **{name: getattr(problem, name) for name in others}), number
            shared = programme.at_other_costs(problem, study.priced_as(costing).measure)
            if any(rule.kind == "money" and rule.on == "cost" for rule in problem.rules):
                assert shared is None
                continue
            told.append(shared is not None)
            if shared is None:  # work of equal minutes is ranked by its cost, and so otherwise at some rates
                continue
            measured = replace(study.priced_as(anew), shop=there, job=paid, frame=problem)
            fresh = Programme(problem, measured.measure, price_bound(measured))
            one, other = (p.ask(p.columns.total("cost")) for p in (shared, fresh))
            assert (one.status, one.objective) == (other.status, other.objective), (number, pay)
            if one.chosen is not None:
                assert fresh.measure(one.chosen).cost == one.objective
                assert not fresh.breaches(one.chosen)
    assert sum(told) > len(told) / 2


def test_a_limit_on_cost_and_other_work_make_another_programme() -> None:
    study = study_job(*drawn(2))
    programme = programme_of(study)
    problem = programme.problem
    assert programme.at_other_costs(problem, study.measure) is not None
    piece = problem.pieces[0]
    for other in (
        replace(problem, pieces=(replace(piece, minutes=piece.minutes + 1), *problem.pieces[1:])),
        replace(problem, pieces=problem.pieces[1:]),
        replace(problem, rules=problem.rules[1:]),
        replace(
            problem,
            rules=(
                *problem.rules,
                replace(problem.rules[0], source=Source.WORTH, kind="money", on="cost", most=1),
            ),
        ),
    ):
        assert programme.at_other_costs(other, study.measure) is None


@pytest.mark.parametrize("seeds", [range(6), pytest.param(range(6, 40), marks=pytest.mark.slow)])
def test_a_set_shown_to_stand_at_many_rates_at_once_stands_at_each(seeds: range) -> None:
    shown: list[bool] = []
    for number in seeds:
        chance = random.Random(number)
        shop, job = drawn(number)
        if job.budget.on == "cost":
            job = replace(job, budget=replace(job.budget, on="price"))
        try:
            study = study_job(shop, job)
        except InputError:
            continue
        programme = programme_of(study)
        total, setting = programme.columns.total("cost"), study.costing.setting
        anew = repricing_of(study, programme, None)
        rate = int(cents(setting.wage + setting.overhead))
        for _ in range(3):
            first = max(anew.least, rate + chance.randint(-2000, 2000))
            rates = range(first, first + chance.randint(2, 8))
            there = anew.programme(first)
            best = there.ask(total)
            if best.chosen is None:
                break
            beside = there.ask(total, EVERYTHING.adding(there.no_good_cut(best.chosen)))
            if beside.chosen is None or first_dearer(anew, best.chosen, beside.chosen, rates) < len(rates):
                continue
            stands = shown_to_stand(anew, best.chosen, beside.chosen, rates)
            shown.append(stands)
            for each in rates if stands else ():
                priced = anew.programme(each)
                assert priced.ask(priced.columns.total("cost")).objective == anew.cost(each, best.chosen), (
                    number,
                    each,
                )
    assert {True} <= set(shown)

"""Medium benches: one exact programme against jobs taken apart, on our own shop's tables; same value or within the gap told."""

from __future__ import annotations

from fractions import Fraction

import pytest
from msgspec.structs import replace

from estimator.batch.build import study_batch
from estimator.batch.choose import better_of, choose_batch
from estimator.batch.decomposition.column_generation import ColumnGeneration, choose_by_columns
from estimator.batch.decomposition.master import RestrictedMaster
from estimator.batch.decomposition.pricing import Duals, PricingProblems
from estimator.batch.records import Batch, JobChoice, JointAnswer, Pack, PackUse, Seller
from estimator.batch.solve_exact import choose_jointly
from estimator.choose.measure import PriceBound
from estimator.model.problem import Problem
from tests.benchmarks.instruments import different, resold
from tests.choose.own_measure import measure_of
from tests.plan.bench import shop


def tightened(batch: Batch, aim: str) -> Batch:
    """The batch with cash and hours half way between what the aim wants and what least cash takes."""
    free, least = choose_by_columns(batch, aim), choose_by_columns(batch, "cash")
    assert free.objective is not None
    assert least.objective is not None
    return replace(
        batch, cash=(free.cash + least.cash) // 2, minutes=(free.minutes + least.minutes) // 2 + 1000
    )


@pytest.mark.slow
@pytest.mark.parametrize(("number", "seed", "lost"), [(8, 1, False), (12, 2, False), (12, 3, True)])
def test_apart_comes_within_its_gap_of_the_whole(number: int, seed: int, lost: bool) -> None:
    batch = replace(study_batch(shop(), different(shop(), number, seed)).batch, lost=lost)
    batch = tightened(batch, "cost")
    whole, apart = choose_jointly(batch, "cost", engine="highs"), choose_by_columns(batch, "cost")
    assert whole.status == "optimal"
    assert whole.objective is not None
    assert apart.objective is not None
    assert apart.bound is not None
    assert apart.bound <= whole.objective <= apart.objective
    assert apart.objective <= whole.objective * 1.002
    assert apart.gap is not None
    assert apart.gap < (0.06 if lost else 0.02)
    assert apart.cash <= (batch.cash or 0)


def told(status: str, objective: int | None, bound: int | None, aim: str = "cost") -> JointAnswer:
    return JointAnswer(status, (aim,), {}, {}, (), {}, objective, bound, None, 0, 0, 1, 0.0)


def test_of_two_unproven_answers_the_better_with_the_better_bound() -> None:
    best = better_of(told("feasible", 1000, 900), told("feasible", 1010, 990))
    assert (best.objective, best.bound, best.gap, best.status) == (1000, 990, 0.01, "feasible")
    best = better_of(told("no-answer", None, 1010), told("feasible", 1010, 990))
    assert (best.objective, best.bound, best.gap, best.status) == (1010, 1010, 0.0, "optimal")
    best = better_of(told("feasible", 500, 600, "profit"), told("feasible", 550, 700, "profit"))
    assert (best.objective, best.bound) == (550, 600)
    assert better_of(told("no-answer", None, None), told("infeasible", None, None)).status == "infeasible"


@pytest.mark.slow
def test_without_time_for_the_whole_the_jobs_are_taken_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    from estimator.batch import choose as choosing

    batch = tightened(study_batch(shop(), different(shop(), 8, 1)).batch, "cost")
    monkeypatch.setattr(choosing, "WHOLE", 100)
    answer = choose_batch(batch, "cost,cash", currency="USD")
    assert answer.objective is not None
    assert answer.gap is not None
    assert 0 < answer.gap < 0.02
    hurried = choose_batch(batch, "cost,cash", time_limit=0.001)
    assert hurried.status == "no-answer"
    assert hurried.bound is not None
    assert hurried.bound <= answer.objective


def test_a_limit_far_below_what_packs_come_to_has_an_answer_in_the_linear_programme() -> None:
    """A job that takes two packs and a half, with less than no cash: what is short must find room."""
    problem = Problem(("paint",), (), (), (), (), (), (), (), 0.0, 0.0, 0.0)
    job = JobChoice("j", problem, measure_of(problem), PriceBound())
    batch = Batch(
        (job,),
        (),
        (PackUse("j", "paint", None, 5_000_000),),
        (Pack("paint", 700, 2_000_000),),
        (),
        (Seller("near", 0, None, {"*": 1000, "consumables": 1000}),),
        cash=0,
    )
    pricing = PricingProblems(batch, "cost")
    rounds = ColumnGeneration(pricing, pricing.classes, Fraction(1), None)
    rounds.price(Duals())
    for cash in (0, -700, -7_000):
        value, duals = RestrictedMaster(pricing).solve(pricing.classes, cash, None)
        assert value > 0
        assert duals.cash > 0


@pytest.mark.slow
def test_donors_apart_come_within_their_gap_of_the_whole() -> None:
    """A dozen: with a handful, whole packs weigh more than the linear programme sees (up to a tenth was lost)."""
    batch = study_batch(shop(), resold(shop(), 12, 5)).batch
    batch = replace(batch, cash=72_000, minutes=180_000)
    # of all engines the one in whole numbers proves it soonest
    whole, apart = choose_jointly(batch, "profit", engine="cpsat"), choose_by_columns(batch, "profit")
    assert whole.status == "optimal"
    assert whole.objective is not None
    assert apart.objective is not None
    assert apart.bound is not None
    assert 0 < len(whole.left_out) < 12
    assert apart.bound >= whole.objective >= apart.objective
    assert apart.objective >= whole.objective * 0.98

"""The choice made again with a reading otherwise is the choice that is made of that job from the beginning."""

from __future__ import annotations

import random
from decimal import Decimal
from typing import Any

import pytest

from estimator.choose.choose import ChoiceResult
from estimator.choose.questions import chosen_again
from estimator.choose.questions.chosen_again import ChosenAgain
from estimator.choose.study import Choice, Known, Study, answer_of, given_up_for, make_choice, study_job
from estimator.core.errors import InputError
from estimator.fit.otherwise import Otherwise
from estimator.model import Job
from tests.drawn_jobs import NAMES, drawn, example, the_shop


def trials(choice: Choice, chance: random.Random, most: int) -> list[Job]:
    """The job with fields otherwise that turn something, drawn."""
    otherwise = Otherwise(choice.study.shop, choice.study.job)
    found: list[Job] = []
    for field in chance.sample(otherwise.assumed, min(4 * most, len(otherwise.assumed))):
        if len(found) >= most:
            break
        if field == "kind" or not otherwise.rows_reading(field):
            continue
        values = otherwise.values(field)
        found += [
            otherwise.changed(field, value)
            for value in chance.sample(values, min(2, len(values)))
            if otherwise.turns(field, value)
        ]
    return found


@pytest.fixture
def long_way(monkeypatch: pytest.MonkeyPatch) -> list[Study]:
    """The studies of which all was asked, one aim after another."""
    asked: list[Study] = []

    def told(study: Study, *others: Any, **named: Any) -> ChoiceResult:
        asked.append(study)
        return answer_of(study, *others, **named)

    monkeypatch.setattr(chosen_again, "answer_of", told)
    return asked


def held(choice: Choice, chance: random.Random, most: int) -> list[bool]:
    """Whether the set stayed, of every trial; each answer held against the one made from the beginning."""
    asked, opened, told = ChosenAgain(choice, Known()), choice.open_study, []
    for job in trials(choice, chance, most):
        again = asked.on(job)
        try:
            study = study_job(opened.shop, job, ways_open=bool(opened.costing.ways))
        except InputError:
            assert again is None
            continue
        anew = make_choice(study, choice.answer.aim, explain=False)
        assert again is not None
        assert again.status == anew.answer.status
        assert again.chosen == anew.answer.chosen
        assert again.cost == (anew.estimate.totals.cost if anew.found else None)
        told.append(again.chosen == choice.answer.chosen)
    return told


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=[pytest.mark.slow] if name == "school-guitar" else []) for name in NAMES],
)
def test_examples_are_chosen_again_as_from_the_beginning(name: str) -> None:
    study = study_job(the_shop(), example(name), ways_open=True)
    assert held(make_choice(study, explain=False), random.Random(name), 3)


@pytest.mark.slow
def test_drawn_jobs_are_chosen_again_as_from_the_beginning(long_way: list[Study]) -> None:
    told: list[bool] = []
    with_a_set: list[bool] = []
    of_those = 0
    for seed in range(24):
        shop, job = drawn(seed)
        try:
            choice = make_choice(study_job(shop, job, ways_open=True), explain=False)
        except InputError:
            continue
        before = len(long_way)
        stayed = held(choice, random.Random(seed), 5)
        told += stayed
        if choice.found:
            with_a_set += stayed
            of_those += sum(not given_up_for(study) for study in long_way[before:])
    assert len(told) > 60
    assert {True, False} == set(with_a_set)
    # by price and cost one sum tells it, but where what nobody spoke of has to give way
    assert of_those == 0


def test_sets_that_stay_the_best_and_others_are_told_without_asking_all_anew(long_way: list[Study]) -> None:
    study = study_job(the_shop(), example("tight-commission"), ways_open=True)
    choice = make_choice(study, explain=False)
    asked, otherwise = ChosenAgain(choice, Known()), Otherwise(choice.study.shop, choice.study.job)
    # a scratch of frets that nobody levels changes a price that nobody pays; a nut that does not fit changes the set
    stays = asked.on(otherwise.changed("high_fret_n", Decimal(0)))
    assert stays is not None
    assert (stays.chosen, long_way) == (choice.answer.chosen, [])
    other = asked.on(otherwise.changed("nut_spread", Decimal(33)))
    assert other is not None
    assert other.chosen != choice.answer.chosen
    assert long_way == []


def test_by_aims_that_make_no_one_sum_all_is_asked_anew(long_way: list[Study]) -> None:
    study = study_job(the_shop(), example("short-scale-bass"), ways_open=True)
    choice = make_choice(study, "hours", explain=False)
    asked, otherwise = ChosenAgain(choice, Known()), Otherwise(choice.study.shop, choice.study.job)
    job = otherwise.changed("nut_spread", Decimal(33))
    again = asked.on(job)
    assert again is not None
    assert len(long_way) == 1
    anew = make_choice(study_job(study.shop, job, ways_open=True), "hours", explain=False)
    assert (again.status, again.chosen) == (anew.answer.status, anew.answer.chosen)

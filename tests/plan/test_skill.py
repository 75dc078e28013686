"""Time, rework and money follow who does the work."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from estimator.batch.build import study_batch
from estimator.choose.study import study_job
from estimator.input.batch.load import load_batch
from estimator.input.job.load import load_job
from estimator.plan.plan import Plan, plan_batch
from estimator.plan.what_if import what_if
from estimator.report.words.plan import plan_words
from estimator.schedule.records import Search
from estimator.schedule.verify import breaches_of
from tests.plan.bench import EXAMPLES, shop

SET = ["level-crown-polish", "set-up", "clean-controls"]


def planned(folder: Path, *skills: int, more: str = "") -> Plan:
    people = "".join(
        f'[[person]]\nid = "p{number}"\nskill = {skill}\n' for number, skill in enumerate(skills)
    )
    names = ", ".join(f'"{name}"' for name in SET)
    path = folder / f"crew-{'-'.join(map(str, skills))}.toml"
    path.write_text(
        f'[batch]\nid = "crew"\nstart = 2026-10-05\n{people}'
        f'[[job]]\nid = "a"\nfile = "{EXAMPLES}/school-guitar.toml"\nupgrades = [{names}]\n{more}'
    )
    made = plan_batch(
        study_batch(shop(), load_batch(path, shop())), "cost,cash", search=Search(engine="rule", tries=20)
    )
    assert isinstance(made, Plan)
    assert breaches_of(made.work, made.calendar.opens, made.calendar.closes, made.schedule.assignments) == []
    return made


@pytest.mark.slow
@pytest.mark.parametrize("skill", [1, 2, 3, 4, 5])
def test_one_person_of_a_skill_is_the_job_at_that_skill(tmp_path: Path, skill: int) -> None:
    plan = planned(tmp_path, skill)
    text = (EXAMPLES / "school-guitar.toml").read_text()
    own = tmp_path / "own.toml"
    own.write_text(text + ("" if "[terms]" in text else "\n[terms]\n") + f"skill = {skill}\n")
    totals = study_job(shop(), load_job(own, shop())).costing.estimate(SET).totals
    assert plan.estimates["a"].totals == totals
    assert plan.answer.measures["a"].cost == totals.cost
    assert plan.answer.measures["a"].expected == totals.expected


@pytest.mark.slow
def test_more_skill_takes_less_time_money_and_rework(tmp_path: Path) -> None:
    plans = [planned(tmp_path, skill) for skill in (1, 2, 3, 4, 5)]
    for slow, quick in pairwise(plans):
        assert slow.estimates["a"].totals.expected >= quick.estimates["a"].totals.expected
        assert slow.answer.measures["a"].cost >= quick.answer.measures["a"].cost
        assert slow.schedule.figures.minutes >= quick.schedule.figures.minutes
        assert slow.promised["a"] >= quick.promised["a"]
    first, last = plans[0], plans[-1]
    assert first.schedule.figures.minutes > last.schedule.figures.minutes
    assert first.answer.measures["a"].cost > last.answer.measures["a"].cost
    assert sum(line.rework for line in first.estimates["a"].lines) > sum(
        line.rework for line in last.estimates["a"].lines
    )


@pytest.mark.slow
def test_in_a_crew_each_takes_the_time_of_their_own_skill(tmp_path: Path) -> None:
    """Whoever gets a task, it takes what it takes in a plan for somebody of that skill alone, but for a minute's rounding."""
    crew = planned(tmp_path, 2, 4)
    alone = {"p0": planned(tmp_path, 2), "p1": planned(tmp_path, 4)}
    run = {who: {o.id: o.minutes for o in plan.work.operations} for who, plan in alone.items()}
    for operation in crew.work.operations:
        for who in operation.one_of:
            own = operation.minutes + dict(operation.slower).get(who, 0)
            assert abs(own - run[who][operation.id]) <= 1, (operation.id, who)
    slow, quick = (plan.answer.measures["a"].cost for plan in alone.values())
    assert "everybody at their own pace" in " ".join(plan_words(crew).split())
    assert "their own pace" not in plan_words(alone["p0"])
    assert quick <= crew.answer.measures["a"].cost <= slow


@pytest.mark.slow
def test_a_helper_of_little_skill_relieves_less_than_a_full_hand(tmp_path: Path) -> None:
    plan = planned(tmp_path, 4)
    cases = {
        case.words.partition(" with")[0]: case for case in what_if(plan, Search(engine="rule", tries=20))
    }
    helper, hand = cases["a helper of skill 2"], cases["a second hand of skill 4"]
    assert helper.figures.makespan >= hand.figures.makespan

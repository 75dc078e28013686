"""A job that is finished but for a little does not lie while hands are free; the aims before are kept."""

from __future__ import annotations

import random

import pytest

from estimator.plan.reasons import could_be_begun
from estimator.schedule.calendar import always_open
from estimator.schedule.heuristics import A_DAY, dispatch, finish_sooner
from estimator.schedule.records import Assignment, ChangeOvers, Link, Operation, SchedulingProblem, Search
from estimator.schedule.serial_sgs import figures_of
from estimator.schedule.solve import left_shift, schedule_work
from estimator.schedule.verify import breaches_of

AIMS = ("tardiness", "makespan")
LYING = SchedulingProblem(
    (
        Operation("a:fit", "a", 20, needs=(("bob", 1),), one_of=("bob",), kind="fit"),
        Operation("a:test", "a", 10, (Link("a:fit"),), (("bob", 1),), ("bob",), kind="test"),
        Operation("b:spray", "b", 30, needs=(("ann", 1),), one_of=("ann",), cure=6000, kind="spray"),
        Operation("b:test", "b", 10, (Link("b:spray"),), (("bob", 1),), ("bob",), kind="test"),
    ),
    {"ann": 1, "bob": 1},
    change_overs=ChangeOvers({}, 5),
)
ORDER = ("a:fit", "b:spray", "b:test", "a:test")


def late_order(work: SchedulingProblem) -> list[Assignment]:
    rough = [Assignment(name, n, n, n, "") for n, name in enumerate(ORDER)]
    return left_shift(work, always_open(), rough)


def test_what_a_job_has_left_is_done_while_hands_are_free() -> None:
    calendar = always_open()
    before = late_order(LYING)
    at = {b.operation: b for b in before}
    assert at["a:test"].start > 6000
    assert could_be_begun(LYING, calendar, at, "bob", at["a:fit"].end, at["b:test"].start) == "a:test"
    after = finish_sooner(LYING, calendar, AIMS, before, 100)
    assert {b.operation: b for b in after}["a:test"].start == at["a:fit"].end
    assert figures_of(LYING, calendar, after).makespan <= figures_of(LYING, calendar, before).makespan
    now = {b.operation: b for b in after}
    assert could_be_begun(LYING, calendar, now, "bob", now["a:test"].end, now["b:test"].start) == ""


def test_a_proven_plan_is_finished_as_soon_as_its_aims_let_it() -> None:
    found = schedule_work(LYING, always_open(), Search(engine="rule", tries=50))
    assert {b.operation: b for b in found.assignments}["a:test"].end < 60


@pytest.mark.parametrize("seed", range(40))
def test_no_kept_aim_gets_worse_and_the_sum_falls(seed: int) -> None:
    chance = random.Random(seed)
    operations = []
    for job in "abc":
        for number in range(4):
            who = chance.choice((("ann",), ("bob",), ("ann", "bob")))
            links = (Link(f"{job}:{number - 1}"),) if number else ()
            cure = chance.choice((0, 0, 600, 3000))
            operations.append(
                Operation(
                    f"{job}:{number}", job, chance.randint(5, 90), links, one_of=who,
                    cure=cure, kind=chance.choice("xyz"),
                )
            )  # fmt: skip
    work = SchedulingProblem(tuple(operations), {"ann": 1, "bob": 1}, change_overs=ChangeOvers({}, 6))
    calendar = always_open()
    before = dispatch(work, calendar, chance.choice(("chain", "like")))
    aims = chance.choice((AIMS, (*AIMS, "minutes")))
    after = finish_sooner(work, calendar, aims, before, 200)
    assert after == finish_sooner(work, calendar, aims, before, 200)
    assert breaches_of(work, calendar.opens, calendar.closes, after) == []
    old, new = (figures_of(work, calendar, b) for b in (before, after))
    assert all(getattr(new, aim) <= getattr(old, aim) for aim in aims)
    worth = [f.completion + A_DAY * (f.minutes + f.idle_evenings) for f in (old, new)]
    assert worth[1] <= worth[0]

"""A job that is finished but for a little does not lie while hands are free; the aims before are kept."""

from __future__ import annotations

import random
import re

import pytest
from msgspec.structs import replace

from estimator.plan.plan import searched
from estimator.plan.reasons import could_be_begun
from estimator.schedule.calendar import always_open
from estimator.schedule.heuristics import dispatch, finish_sooner, none_later, worth_of
from estimator.schedule.records import (
    Assignment,
    ChangeOvers,
    Due,
    Link,
    Operation,
    SchedulingProblem,
    Search,
)
from estimator.schedule.serial_sgs import done_by_job, figures_of
from estimator.schedule.solve import left_shift, schedule_work
from estimator.schedule.verify import breaches_of
from tests.plan.bench import batch, plan

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


def drawn(seed: int) -> SchedulingProblem:
    chance = random.Random(seed)
    operations = []
    for job in "abc":
        for number in range(4):
            who = chance.choice((("ann",), ("bob",), ("ann", "bob")))
            links = (Link(f"{job}:{number - 1}"),) if number else ()
            cure = chance.choice((0, 0, 600, 3000))
            operations.append(
                Operation(
                    f"{job}:{number}",
                    job,
                    chance.randint(5, 90),
                    links,
                    one_of=who,
                    cure=cure,
                    kind=chance.choice("xyz"),
                )
            )
    return SchedulingProblem(tuple(operations), {"ann": 1, "bob": 1}, change_overs=ChangeOvers({}, 6))


@pytest.mark.parametrize("seed", range(40))
def test_no_kept_aim_gets_worse_and_the_sum_falls(seed: int) -> None:
    chance = random.Random(seed)
    work = drawn(seed)
    calendar = always_open()
    before = dispatch(work, calendar, chance.choice(("chain", "like")))
    aims = chance.choice((AIMS, (*AIMS, "minutes")))
    after = finish_sooner(work, calendar, aims, before, 200)
    assert after == finish_sooner(work, calendar, aims, before, 200)
    assert breaches_of(work, calendar.opens, calendar.closes, after) == []
    old, new = (figures_of(work, calendar, b) for b in (before, after))
    assert all(getattr(new, aim) <= getattr(old, aim) for aim in aims)
    worth = [worth_of(f, calendar.day_length, 1) for f in (old, new)]
    assert worth[1] <= worth[0]


@pytest.mark.parametrize("seed", range(60))
def test_minutes_are_given_only_as_the_setting_says_and_said_where_they_are(seed: int) -> None:
    """By its own count: never a minute more with none to give; else each is paid for by its part of a day, and told."""
    work, calendar = drawn(seed), always_open()
    start = dispatch(work, calendar, ("chain", "like")[seed % 2])
    old = figures_of(work, calendar, start)
    for day_sooner in (0, 1, 20):
        kept = AIMS if day_sooner else (*AIMS, "minutes")
        after = figures_of(work, calendar, finish_sooner(work, calendar, kept, start, 200, None, day_sooner))
        more = after.minutes - old.minutes
        assert more <= 0 or day_sooner
        if more > 0:
            sooner = old.completion - after.completion + 1440 * (old.idle_evenings - after.idle_evenings)
            assert day_sooner * sooner >= 1440 * more


def test_a_plan_that_aims_at_money_or_hours_gives_no_minutes() -> None:
    study = batch("batch-three")
    answer = plan("batch-three").answer
    assert searched(study, replace(answer, aims=("cash", "cost")), Search()).day_sooner == 1
    for aim in ("cost", "hours", "profit", "hourly"):
        assert searched(study, replace(answer, aims=(aim, "cash")), Search(day_sooner=7)).day_sooner == 0


@pytest.mark.slow
def test_what_is_given_is_told() -> None:
    told = [
        found.method
        for seed in range(40)
        for found in [
            schedule_work(drawn(seed), always_open(), Search(engine="rule", tries=60, day_sooner=60))
        ]
        if "more hands-on" in found.method
    ]
    assert told
    assert all(
        re.search(r"\(\d+ minutes? more hands-on, done \d+(\.\d)? open days sooner", words) for words in told
    )
    none = [
        schedule_work(drawn(seed), always_open(), Search(engine="rule", tries=60)).method
        for seed in range(40)
    ]
    assert not [words for words in none if "more hands-on" in words]


@pytest.mark.parametrize("seed", range(40))
def test_no_job_is_done_later_than_it_need_be(seed: int) -> None:
    """Drawn weeks: pulling each job forward in turn never costs another job, an aim, a minute or an evening."""
    work, calendar = drawn(seed), always_open()
    before = dispatch(work, calendar, random.Random(seed).choice(("chain", "like")))
    after = none_later(work, calendar, AIMS, before, 60)
    assert after == none_later(work, calendar, AIMS, before, 60)
    assert breaches_of(work, calendar.opens, calendar.closes, after) == []
    old, new = done_by_job(work, before), done_by_job(work, after)
    assert all(new[job] <= old[job] for job in old)
    was, now = figures_of(work, calendar, before), figures_of(work, calendar, after)
    for name in (*AIMS, "minutes", "idle_evenings"):
        assert getattr(now, name) <= getattr(was, name)


def test_days_are_won_beside_a_job_that_waits_long() -> None:
    """One of three jobs is due and waits for its parcel: in drawn weeks the others are often done sooner for nothing."""
    won = 0
    for seed in range(30):
        work, calendar = drawn(seed), always_open()
        waits = (replace(o, earliest=4000) if o.job == "b" else o for o in work.operations)
        work = replace(work, operations=tuple(waits))
        before = dispatch(replace(work, dues=(Due("b", 0, 1),)), calendar, "due")
        old = done_by_job(work, before)
        new = done_by_job(work, none_later(work, calendar, AIMS, before, 200))
        won += sum(new.values()) < sum(old.values())
    assert won >= 3


def test_a_job_is_not_kept_back_for_a_change_over_that_can_be_saved_otherwise() -> None:
    """The strings of the first job wait for those of the second only as long as that saves a change-over."""

    def one(name: str, minutes: int, kind: str, *after: str) -> Operation:
        job = name.partition(":")[0]
        links = tuple(map(Link, after))
        earliest = 5000 if job == "b" else 0
        return Operation(name, job, minutes, links, (("ann", 1),), ("ann",), kind=kind, earliest=earliest)

    work = SchedulingProblem(
        (
            one("a:fit", 20, "fit"),
            one("a:string", 10, "string", "a:fit"),
            one("b:test", 10, "test"),
            one("b:fit", 30, "fit"),
            one("b:pot", 30, "test", "b:test"),
            one("b:string", 10, "string", "b:fit", "b:pot"),
        ),
        {"ann": 1},
        change_overs=ChangeOvers({}, 5),
    )
    calendar = always_open()
    names = ("a:fit", "b:test", "b:fit", "b:pot", "b:string", "a:string")
    before = left_shift(work, calendar, [Assignment(name, n, n, n, "ann") for n, name in enumerate(names)])
    assert done_by_job(work, before)["a"] > 5000
    single = finish_sooner(work, calendar, (*AIMS, "minutes"), before, 300)
    assert done_by_job(work, single)["a"] > 5000  # one move by itself costs a change-over
    after = none_later(work, calendar, (*AIMS, "minutes"), before, 300)
    assert done_by_job(work, after)["a"] < 100
    assert done_by_job(work, after)["b"] <= done_by_job(work, before)["b"]
    assert figures_of(work, calendar, after).minutes <= figures_of(work, calendar, before).minutes

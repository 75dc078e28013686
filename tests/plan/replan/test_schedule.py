"""Replanning from today's state: done stays done, waits go on, and what need not change does not."""

from __future__ import annotations

from datetime import date, datetime, time

import pytest

from estimator.core.errors import InputError
from estimator.plan.replan.schedule import State, replan
from estimator.report.words.replan import replan_lines
from estimator.schedule.calendar import shop_calendar
from estimator.schedule.records import Assignment, Due, Link, Operation, SchedulingProblem, Search
from tests.plan.bench import plan
from tests.schedule.plain_work import schedule

HOURS = {day: ((time(9), time(12)), (time(13), time(15, 15))) for day in range(5)}
CALENDAR = shop_calendar(date(2026, 9, 7), HOURS, days=60)


def test_nothing_new_means_nothing_moves() -> None:
    found = plan("batch-three")
    now = found.calendar.moment(0)
    again = replan(
        found.work,
        found.calendar,
        found.schedule.assignments,
        State(now),
        search=Search(engine="rule", tries=10),
    )
    assert again.kept_order
    assert again.moved == ()
    assert [b.operation for b in again.schedule.assignments] == [
        b.operation for b in found.schedule.assignments
    ]
    assert "stands as it was" in replan_lines(again)[0]


def test_a_late_part_moves_its_own_work_and_the_rest_stays() -> None:
    found = plan("batch-three")
    late = "commission:fit-pickup-four-wire"
    state = State(found.calendar.moment(0), not_before={late: datetime(2026, 10, 15, 9)})
    again = replan(
        found.work, found.calendar, found.schedule.assignments, state, search=Search(engine="rule", tries=10)
    )
    starts = {
        b.operation: found.calendar.moment(found.calendar.elapsed_at_start(b.start))
        for b in again.schedule.assignments
    }
    assert starts[late] >= datetime(2026, 10, 15, 9)
    assert late in again.moved
    assert all(name.startswith("commission:") for name in again.moved)


def test_done_work_leaves_its_cure_behind() -> None:
    operations = (
        Operation("j:glue", "j", 30, one_of=("me",), cure=1440),
        Operation("j:drill", "j", 30, (Link("j:glue"),), one_of=("me",)),
        Operation("k:spray", "k", 20, one_of=("me",), cure=180, air="wet"),
        Operation("l:sand", "l", 20, one_of=("me",), air="dusty"),
    )
    before = schedule(
        operations, {"me": 1}, CALENDAR, Search(objectives=("makespan",), engine="rule", tries=0)
    )
    work = SchedulingProblem(operations, {"me": 1})
    state = State(
        datetime(2026, 9, 7, 10), {"j:glue": datetime(2026, 9, 7, 9, 30), "k:spray": datetime(2026, 9, 7, 10)}
    )
    again = replan(
        work, CALENDAR, before.assignments, state, Search(objectives=("makespan",), engine="rule", tries=0)
    )
    starts = {
        b.operation: CALENDAR.moment(CALENDAR.elapsed_at_start(b.start)) for b in again.schedule.assignments
    }
    assert starts.keys() == {"j:drill", "l:sand"}
    assert starts["j:drill"] >= datetime(2026, 9, 8, 9, 30)
    assert starts["l:sand"] >= datetime(2026, 9, 7, 13)


def test_running_work_goes_first_with_the_minutes_left() -> None:
    operations = tuple(
        Operation(f"{n}:work", n, 60, one_of=("me",), setup=10, again=10, family=n) for n in "abc"
    )
    before = [Assignment(f"{n}:work", 70 * k, 70 * k + 70, 70 * k + 70, "me") for k, n in enumerate("abc")]
    state = State(datetime(2026, 9, 7, 10), running={"b:work": 25}, done={"a:work": None})
    again = replan(
        SchedulingProblem(operations, {"me": 1}),
        CALENDAR,
        before,
        state,
        Search(objectives=("makespan",), engine="rule", tries=0),
    )
    first = again.schedule.assignments[0]
    assert (first.operation, first.end - first.start) == ("b:work", 25)
    assert CALENDAR.moment(CALENDAR.elapsed_at_start(first.start)) == datetime(2026, 9, 7, 10)


def test_the_order_changes_when_that_saves_enough_lateness() -> None:
    operations = (
        Operation("slow:work", "slow", 300, one_of=("me",)),
        Operation("quick:work", "quick", 30, one_of=("me",), earliest=0),
    )
    dues = (Due("slow", 20 * 1440, 1), Due("quick", 12 * 60, 5))
    before = [Assignment("slow:work", 0, 300, 300, "me"), Assignment("quick:work", 300, 330, 330, "me")]
    again = replan(
        SchedulingProblem(operations, {"me": 1}, dues),
        CALENDAR,
        before,
        State(datetime(2026, 9, 7, 9)),
        search=Search(engine="rule", tries=20),
    )
    assert not again.kept_order
    assert again.schedule.assignments[0].operation == "quick:work"
    assert again.tardiness_if_kept == 5 * 150
    assert again.schedule.figures.tardiness == 0
    assert "is changed" in replan_lines(again)[0]


def test_impossible_states_are_refused_in_words() -> None:
    found = plan("batch-three")
    now = found.calendar.moment(0)
    with pytest.raises(InputError, match="no such operation"):
        replan(found.work, found.calendar, found.schedule.assignments, State(now, {"bass:levl-frets": None}))
    with pytest.raises(InputError, match="is begun before"):
        replan(found.work, found.calendar, found.schedule.assignments, State(now, {"bass:crown-frets": None}))

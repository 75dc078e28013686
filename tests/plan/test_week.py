"""The week as a worker reads it: every open minute is told once, with what cures, what comes and why one waits."""

from __future__ import annotations

import itertools
from datetime import date, datetime, time, timedelta

import pytest

from estimator.core.errors import InputError
from estimator.model.planning import Person
from estimator.plan.day_list import day_list
from estimator.plan.reasons import Reason, reason_of
from estimator.plan.week import Curing, curing_words, week_of, windows_of
from estimator.report.words.plan import day_lines
from estimator.schedule.records import Assignment, Link, Operation, SchedulingProblem
from estimator.schedule.resources import resources_of
from tests.plan.bench import evenings, plan, shop


@pytest.mark.slow
@pytest.mark.parametrize("name", ["batch-three", "batch-school"])
def test_every_open_minute_is_told_once_as_work_or_as_free(name: str) -> None:
    found = plan(name)
    days = week_of(found)
    windows = windows_of(found, datetime.combine(found.study.file.start, time()), days[-1].day)
    assert [one.day for one in days] == list(windows)
    assert sum(one.minutes for one in days) == found.schedule.figures.minutes
    for one in days[:-1]:
        told = sorted((e.begins, e.ends) for e in one.entries)
        if one.quiet:
            assert told == []
            continue
        assert all(a[1] <= b[0] for a, b in itertools.pairwise(told))
        assert sum((b - a for a, b in told), timedelta()) == sum(
            (b - a for a, b in windows[one.day]), timedelta()
        )
    assert days[-1].entries[-1].kind == "work"  # nobody is told to be free when all is done
    assert {o for one in days for e in one.entries for o in e.operations} == {
        b.operation for b in found.schedule.assignments
    }


def test_the_evening_says_what_the_schedule_counts() -> None:
    found = plan("batch-three")
    nights = evenings(found.work, found.calendar, found.schedule.assignments)
    for one in week_of(found)[:-1]:
        if not one.quiet:
            assert {c.operation for c in one.overnight} == set(nights[one.day]), one.day


def test_orders_go_out_on_the_first_day_and_parcels_come_before_their_work() -> None:
    found = plan("batch-three")
    days = {one.day: one for one in week_of(found)}
    first = days[found.study.file.start]
    assert all(b.seller in first.errands[0] for b in found.orders.baskets)
    for basket in found.orders.baskets:
        for line in basket.lines:
            assert line.need_by is not None
            told = [
                d for d, one in days.items() if any(line.words.partition(" (")[0] in e for e in one.errands)
            ]
            assert told, line.words
            assert min(told) <= line.need_by, line.words


def test_minutes_of_an_entry_add_up_and_broken_work_is_begun_and_finished() -> None:
    lines = [
        line
        for found in (plan("batch-three"), plan("batch-school"))
        for line in day_list(found.work, found.calendar, found.schedule.assignments)
    ]
    for line in lines:
        numbers = [
            int(word.rstrip(","))
            for word in line.words.replace(" min", "").split()
            if word.rstrip(",").isdigit()
        ]
        if len(line.operations) > 1 and "(coat" not in line.words:
            assert sum(numbers) == (line.ends - line.begins).total_seconds() / 60, line.words
    begun = [line for line in lines if "begin " in line.words]
    finished = [line for line in lines if "finish " in line.words.replace("finish glue nut", "")]
    assert len(begun) == len(finished) >= 1


def test_lines_are_short_enough_for_paper() -> None:
    for name in ("batch-three", "batch-school"):
        assert max(map(len, day_lines(plan(name)))) <= 100


def test_reasons_of_a_start() -> None:
    glue = Operation("a:glue", "a", 30, one_of=("me",), cure=60)
    drill = Operation("a:drill", "a", 30, (Link("a:glue"),), one_of=("me",))
    part = Operation("b:fit", "b", 30, one_of=("me",), earliest=5000)
    rout = Operation("c:rout", "c", 30, one_of=("you",), needs=(("router", 1),), air="dusty")
    buff = Operation("d:buff", "d", 30, one_of=("me",), needs=(("router", 1),))
    work = SchedulingProblem((glue, drill, part, rout, buff), {"me": 1, "you": 1, "router": 1})
    from estimator.schedule.calendar import always_open

    assigned = {
        "a:glue": Assignment("a:glue", 0, 30, 90, "me"),
        "a:drill": Assignment("a:drill", 90, 120, 120, "me"),
        "b:fit": Assignment("b:fit", 5000, 5030, 5030, "me"),
        "c:rout": Assignment("c:rout", 200, 230, 230, "you"),
        "d:buff": Assignment("d:buff", 230, 260, 260, "me"),
    }
    why = {name: reason_of(work, always_open(), assigned, b) for name, b in assigned.items()}
    assert why["a:drill"] == Reason("wait", "a:glue")
    assert why["b:fit"].kind == "there"
    assert why["d:buff"] == Reason("place", "c:rout")
    busy = assigned | {"d:buff": Assignment("d:buff", 120, 150, 150, "me")}
    assert reason_of(work, always_open(), busy, busy["d:buff"]) == Reason("hands", "a:drill")


def test_what_cures_is_told_once_a_task_with_its_last_end() -> None:
    curing = (
        Curing("a:oil-coat#02@body", datetime(2026, 10, 5, 12), "leave that part alone"),
        Curing("b:oil-coat#02@body", datetime(2026, 10, 6, 8), "leave that part alone"),
    )
    assert curing_words(curing, date(2026, 10, 5)) == (
        "oil coat (coat 2) of a, b till Tue 6 Oct 08:00 (leave that part alone)"
    )


def test_a_person_called_like_a_station_is_refused() -> None:
    with pytest.raises(InputError, match="has the name of a station"):
        resources_of(shop(), [Person("clamps", 3)])
    assert resources_of(shop(), [Person("bench", 3)])["bench"] == 1

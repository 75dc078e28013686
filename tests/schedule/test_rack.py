"""Rack places: no more instruments open at once than there are, by links that every way of planning keeps."""

from __future__ import annotations

from datetime import datetime

import pytest
from msgspec.structs import replace

from estimator.plan.plan import work_of
from estimator.schedule.calendar import always_open
from estimator.schedule.rack import with_rack
from estimator.schedule.records import Assignment, Due, Link, Operation, SchedulingProblem, Search
from estimator.schedule.serial_sgs import serial_schedule
from estimator.schedule.solve import schedule_work
from estimator.schedule.verify import breaches_of
from tests.plan.bench import plan

FOREVER = ([0], [1 << 40])


def four_jobs() -> SchedulingProblem:
    operations = []
    for name in "abcd":
        operations += [
            Operation(f"{name}:glue", name, 10, one_of=("me",), cure=300),
            Operation(f"{name}:fit", name, 10, (Link(f"{name}:glue"),), one_of=("me",)),
        ]
    return SchedulingProblem(tuple(operations), {"me": 1}, (Due("d", 100), Due("c", 900)))


def test_an_instrument_waits_for_the_one_that_has_its_place() -> None:
    work = with_rack(four_jobs(), 2)
    # due dates first (d, c), then the order of the batch: a takes the place of d, b that of c
    known = work.by_id()
    assert {li.before for li in known["a:glue"].after} == {"d:glue", "d:fit"}
    assert {li.before for li in known["b:glue"].after} == {"c:glue", "c:fit"}
    assert known["d:glue"].after == ()
    found = schedule_work(work, always_open(), search=Search(engine="rule"))
    starts = {b.operation: b.start for b in found.assignments}
    assert starts["a:glue"] >= starts["d:fit"] + 10
    assert breaches_of(work, *FOREVER, found.assignments) == []


def test_the_checker_counts_open_instruments_by_itself() -> None:
    free = four_jobs()
    assignments = serial_schedule(free, always_open(), free.operations)
    # in this order one instrument is done before the next begins
    assert breaches_of(replace(free, open_most=1), *FOREVER, assignments) == []
    side = [Assignment(f"{n}:glue", 10 * k, 10 * k + 10, 10 * k + 310, "me") for k, n in enumerate("abcd")]
    side += [
        Assignment(f"{n}:fit", 400 + 10 * k, 410 + 10 * k, 410 + 10 * k, "me") for k, n in enumerate("abcd")
    ]
    assert breaches_of(free, *FOREVER, side) == []
    assert breaches_of(replace(free, open_most=3), *FOREVER, side) == [
        "4 jobs are open at minute 30, there are 3 rack places"
    ]


def test_as_many_places_as_instruments_change_nothing() -> None:
    assert with_rack(four_jobs(), 4).operations == four_jobs().operations


@pytest.mark.parametrize("places", [1, 2])
def test_a_batch_on_a_small_rack(places: int) -> None:
    found = plan("batch-three")
    study = replace(found.study, file=replace(found.study.file, stations={"rack-places": places}))
    work, _ = work_of(study, found.answer, found.calendar)
    narrow = schedule_work(work, found.calendar, search=Search(engine="rule", tries=5))
    assert work.open_most == places
    assert narrow.figures.makespan > found.schedule.figures.makespan
    last = found.calendar.moment(found.calendar.elapsed_at_end(narrow.figures.makespan))
    assert last > datetime(2026, 10, 13, 12)

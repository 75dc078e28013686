"""What no schedule can beat: ends that are disproved, and jobs by themselves."""

from __future__ import annotations

import random
from datetime import date, time

from estimator.schedule.bounds.chains import bounds_of
from estimator.schedule.bounds.destructive import keeps, latest_ends
from estimator.schedule.bounds.single_job import one_job, single_job_bound
from estimator.schedule.calendar import Calendar, always_open, shop_calendar
from estimator.schedule.records import Link, Operation, SchedulingProblem, Search
from estimator.schedule.serial_sgs import in_order
from estimator.schedule.solve import schedule_work

ME = ("me",)


def two_hours_a_day() -> Calendar:
    return shop_calendar(date(2026, 10, 5), {day: ((time(9), time(11)),) for day in range(7)}, days=30)


def test_deadlines_are_kept_or_not_by_hand() -> None:
    assert keeps([(0, 5, 5), (0, 5, 10)], 1)
    assert not keeps([(0, 5, 5), (0, 6, 10)], 1)
    assert keeps([(0, 10, 12), (3, 2, 5)], 1)  # the long one is broken off for the urgent one
    assert not keeps([(0, 10, 11), (3, 2, 5)], 1)
    assert keeps([(0, 10, 11), (3, 2, 5)], 2)


def test_deadlines_against_plain_stepping_through_every_minute() -> None:
    """One minute after the other, each given to the work that is due first (the only rule that matters)."""
    chance = random.Random(5)
    seen = set()
    for _ in range(300):
        items = []
        for _ in range(4):
            release, minutes = chance.randint(0, 8), chance.randint(1, 5)
            items.append((release, minutes, release + minutes + chance.randint(0, 9)))
        left = [minutes for _, minutes, _ in items]
        late = False
        for now in range(60):
            here = [k for k in range(4) if left[k] and items[k][0] <= now]
            if here:
                first = min(here, key=lambda k: items[k][2])
                left[first] -= 1
                late |= left[first] == 0 and now + 1 > items[first][2]
        assert keeps(items, 1) is not late
        seen.add(late)
    assert seen == {True, False}


def test_latest_ends_go_back_over_nights() -> None:
    calendar = two_hours_a_day()
    work = SchedulingProblem(
        (
            Operation("check", "j", 30, one_of=ME, splittable=False),
            Operation("recheck", "j", 10, (Link("check", 18 * 60),), one_of=ME),
        ),
        {"me": 1},
    )
    order = in_order(work.operations, {"check": 0.0, "recheck": 0.0})[::-1]
    # done by 130 working minutes is 09:10 on the second day, so the check ends by closing time of the first
    assert latest_ends(calendar, order, 130) == {"check": 120, "recheck": 130}
    assert latest_ends(calendar, order, 249) == {"check": 120, "recheck": 249}
    # from 250 on it may be checked until 15:10 the day before, which is until closing time
    assert latest_ends(calendar, order, 250) == {"check": 240, "recheck": 250}


def test_a_wait_over_night_counts_in_the_bound() -> None:
    calendar = two_hours_a_day()
    operations = [Operation(f"w{k}", f"w{k}", 50, one_of=ME) for k in range(2)]
    for job in "ab":
        operations += [
            Operation(f"{job}:check", job, 30, one_of=ME),
            Operation(f"{job}:recheck", job, 10, (Link(f"{job}:check", 18 * 60),), one_of=ME),
        ]
    work = SchedulingProblem(tuple(operations), {"me": 1})
    # 180 minutes of work in all; checks are begun with, and the rechecks come when 120 minutes are gone
    assert bounds_of(work, calendar)["makespan"] == 180
    late = SchedulingProblem((*operations[:2], *(replace_earliest(o) for o in operations[2:])), {"me": 1})
    # what is needed for the checks comes at 10:30 of the first day: one of them is done on the second
    found = schedule_work(late, calendar, Search(objectives=("makespan",), engine="rule"))
    assert bounds_of(late, calendar)["makespan"] == found.figures.makespan == 250
    assert found.status == "optimal"


def replace_earliest(o: Operation) -> Operation:
    return Operation(o.id, o.job, o.minutes, o.after, one_of=o.one_of, earliest=10 * 60 + 30)


def test_one_job_by_itself_proves_what_chains_and_hands_do_not() -> None:
    """Two pieces of work on one place, each holding it while it cures: chains and hands see 20 minutes only."""
    place = (("rack", 1),)
    work = SchedulingProblem(
        (
            Operation("glue", "j", 10, one_of=ME, holds=place, cure=100),
            Operation("paint", "j", 10, one_of=ME, holds=place, cure=100),
        ),
        {"me": 1, "rack": 1},
    )
    assert bounds_of(work, always_open())["makespan"] == 120
    assert single_job_bound(work, always_open(), 120, 5.0) == 220
    told = schedule_work(work, always_open(), Search(objectives=("makespan",), engine="cpsat"))
    assert (told.status, told.figures.makespan, told.bounds["makespan"]) == ("optimal", 220, 220)


def test_a_job_by_itself_is_at_its_quickest() -> None:
    work = SchedulingProblem(
        (
            Operation("a:sand", "a", 5, one_of=ME, setup=9, again=2, family="sand", kind="dusty"),
            Operation("b:sand", "b", 5, (Link("a:sand"),), one_of=ME, setup=9, again=2, family="sand"),
        ),
        {"me": 1},
    )
    part = one_job(work, "b")
    assert [(o.id, o.setup, o.after, o.kind) for o in part.operations] == [("b:sand", 2, (), "")]

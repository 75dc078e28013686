"""Operations put in place one after another, by hand: who gets a tie, what a vice holds, what it all comes to."""

from __future__ import annotations

from msgspec.structs import replace

from estimator.schedule.calendar import always_open
from estimator.schedule.records import Assignment, Due, Figures, Link, Operation, SchedulingProblem
from estimator.schedule.serial_sgs import figures_of, in_order, least_minutes, serial_schedule
from estimator.schedule.solve import OBJECTIVES

HANDS = ("me", "you")


def test_a_tie_goes_to_the_first_named_and_else_to_who_is_done_first() -> None:
    one, two = Operation("one", "a", 10, one_of=HANDS), Operation("two", "b", 10, one_of=("you", "me"))
    work = SchedulingProblem((one, two), {"me": 1, "you": 1})
    assert [a.who for a in serial_schedule(work, always_open(), [one])] == ["me"]
    assert [a.who for a in serial_schedule(work, always_open(), [two])] == ["you"]
    slow = replace(one, slower=(("me", 1),))
    (found,) = serial_schedule(work, always_open(), [slow])
    assert (found.who, found.end) == ("you", 10)


def test_two_places_take_two_and_the_third_waits_for_the_first_that_is_free() -> None:
    clamps = (("clamp", 1),)
    work = SchedulingProblem(
        (
            Operation("a", "a", 10, holds=clamps, cure=40),
            Operation("b", "b", 30, needs=clamps),
            Operation("c", "c", 10, needs=clamps),
            Operation("d", "d", 10, needs=(("clamp", 2),)),
        ),
        {"clamp": 2},
    )
    found = {a.operation: a.start for a in serial_schedule(work, always_open(), work.operations)}
    assert found == {"a": 0, "b": 0, "c": 30, "d": 50}


def test_what_is_free_until_later_work_begins_is_used_before_it() -> None:
    """A clamp that is full from minute 100 on stands free for what is done by then, and not for a minute more."""
    full = Operation("full", "a", 50, needs=(("clamp", 2),), earliest=100)
    before, too_long = (Operation(str(m), str(m), m, needs=(("clamp", 1),)) for m in (100, 101))
    for operation, start in ((before, 0), (too_long, 150)):
        work = SchedulingProblem((full, operation), {"clamp": 2})
        assert serial_schedule(work, always_open(), work.operations)[-1].start == start


def test_order_keeps_what_comes_before_then_rank_then_the_list() -> None:
    first, second = Operation("first", "a", 1), Operation("second", "a", 1, (Link("first"),))
    third, fourth = Operation("third", "b", 1), Operation("fourth", "b", 1)
    rank = {"first": 5.0, "second": 0.0, "third": 2.0, "fourth": 2.0}
    assert [o.id for o in in_order((second, third, fourth, first), rank)] == [
        "third",
        "fourth",
        "first",
        "second",
    ]


def test_the_fewest_minutes_count_a_set_up_that_stands_only_for_its_family() -> None:
    assert least_minutes(Operation("x", "a", 10, setup=5, again=2, family="f")) == 12
    assert least_minutes(Operation("x", "a", 10, setup=5, again=2)) == 15


def test_figures_by_hand() -> None:
    """Job a is done at 60 (cure and all), 10 after it is due, at weight 3; b at 25, in time; c is not promised."""
    work = SchedulingProblem(
        tuple(Operation(name, name, 10) for name in "abc"),
        {},
        (Due("a", 50, 3), Due("b", 25, 2)),
    )
    bookings = [Assignment("a", 0, 10, 60), Assignment("b", 15, 25, 25), Assignment("c", 30, 40, 45)]
    assert figures_of(work, always_open(), bookings) == Figures(
        tardiness=30, max_tardiness=10, makespan=60, completion=3 * 60 + 2 * 25 + 45, minutes=30
    )


def test_work_may_end_as_its_hands_go_away_and_waits_for_the_later_of_two() -> None:
    ten, more = (Operation(str(m), "a", m, one_of=("me",)) for m in (10, 11))
    work = SchedulingProblem((ten, more), {"me": 1}, away={"me": ((10, 20),)})
    assert [serial_schedule(work, always_open(), [o])[0].start for o in (ten, more)] == [0, 20]
    late, soon = Operation("late", "a", 30), Operation("soon", "a", 10)
    last = Operation("last", "a", 5, (Link("late", 0), Link("soon", 0)))
    both = SchedulingProblem((late, soon, last), {})
    assert serial_schedule(both, always_open(), both.operations)[-1].start == 30


def test_every_aim_tells_its_own_figure() -> None:
    told = Figures(tardiness=1, max_tardiness=2, makespan=3, completion=4, minutes=5, idle_evenings=6)
    assert [told.of(aim) for aim in OBJECTIVES] == [1, 2, 3, 4, 5]
    assert told.of("idle_evenings") == 6

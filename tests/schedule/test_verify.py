"""The check of every schedule, rule by rule: what just keeps a rule passes, a minute less is told.

Open from 0 to 100, from 1000 to 1100 and from 2000 to 2050 elapsed minutes; bookings are in working minutes.
"""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from estimator.schedule.records import Assignment, ChangeOvers, Link, Operation, SchedulingProblem
from estimator.schedule.verify import OpeningHours, breaches_of

OPENS, CLOSES = (0, 1000, 2000), (100, 1100, 2050)
ME = ("me",)
Place = tuple[int, int, int]
"""Start, end, and the minute at which the cure is over."""
CHANGES = ChangeOvers({("a", "b"): 7, ("a", "c"): 20, ("b", "a"): 1}, other=4)


def told(operations: tuple[Operation, ...], places: tuple[Place, ...], **work: Any) -> list[str]:
    """Breaches of bookings in the hands of the first who may have them."""
    bookings = [
        Assignment(one.id, *place, one.one_of[0] if one.one_of else "")
        for one, place in zip(operations, places, strict=True)
    ]
    return breaches_of(SchedulingProblem(operations, **{"resources": {}, **work}), OPENS, CLOSES, bookings)


def op(name: str, minutes: int = 10, **more: Any) -> Operation:
    return Operation(name, more.pop("job", name), minutes, **more)


def alone(minutes: int, **more: Any) -> tuple[Operation, ...]:
    return (op("x", minutes, **more),)


VICE = {"resources": {"vice": 1}}
CASES: dict[str, tuple[tuple[Operation, ...], tuple[Place, ...], tuple[Place, ...], str, dict[str, Any]]] = {
    "not before it is there": (
        alone(10, earliest=1000),
        ((100, 110, 110),),
        ((99, 110, 110),),
        "“x” starts at 99, before 1000",
        {},
    ),
    "a cure in the day": (
        alone(10, cure=50),
        ((0, 10, 60),),
        ((0, 10, 59),),
        "the cure of “x” is cut short",
        {},
    ),
    "a cure over night": (
        alone(10, cure=50),
        ((80, 90, 100),),
        ((80, 90, 99),),
        "the cure of “x” is cut short",
        {},
    ),
    "in one go": (
        alone(60, splittable=False),
        ((40, 100, 100),),
        ((41, 101, 101),),
        "“x” is broken off at closing time",
        {},
    ),
    "in one go, a whole day": (
        alone(100, splittable=False),
        ((0, 100, 100),),
        ((1, 101, 101),),
        "“x” is broken off at closing time",
        {},
    ),
    "after what comes before": (
        (op("x"), op("y", after=(Link("x", 0),))),
        ((0, 10, 10), (10, 20, 20)),
        ((0, 10, 10), (9, 20, 20)),
        "“y” starts before “x” is done",
        {},
    ),
    "after its cure": (
        (op("x", cure=30), op("y", after=(Link("x"),))),
        ((0, 10, 40), (40, 50, 50)),
        ((0, 10, 40), (39, 50, 50)),
        "“y” starts before the wait after “x” is over",
        {},
    ),
    "after a wait of its own": (
        (op("x", cure=30), op("y", after=(Link("x", 20),))),
        ((0, 10, 40), (30, 40, 40)),
        ((0, 10, 40), (29, 40, 40)),
        "“y” starts before the wait after “x” is over",
        {},
    ),
    "after a wait over night": (
        (op("x"), op("y", after=(Link("x", 900),))),
        ((90, 100, 100), (100, 110, 110)),
        ((91, 101, 101), (101, 111, 111)),
        "“y” starts before the wait after “x” is over",
        {},
    ),
    "one thing at a time": (
        (op("x", one_of=ME), op("y", one_of=ME)),
        ((0, 10, 10), (10, 20, 20)),
        ((0, 10, 10), (9, 20, 20)),
        "me does “x” and “y” at once",
        {},
    ),
    "before going away": (
        alone(10, one_of=ME),
        ((10, 20, 20),),
        ((11, 21, 21),),
        "me does “x” while away",
        {"away": {"me": ((20, 30),)}},
    ),
    "after being away": (
        alone(10, one_of=ME),
        ((30, 40, 40),),
        ((29, 39, 39),),
        "me does “x” while away",
        {"away": {"me": ((20, 30),)}},
    ),
    "set up first": (
        alone(10, one_of=ME, setup=5),
        ((0, 15, 15),),
        ((0, 14, 14),),
        "“x” gets 14 of 15 minutes",
        {},
    ),
    "set up again, less": (
        (op("x", one_of=ME, setup=5, again=2, family="f"), op("y", one_of=ME, setup=5, again=2, family="f")),
        ((0, 15, 15), (15, 27, 27)),
        ((0, 15, 15), (15, 26, 26)),
        "“y” gets 11 of 12 minutes",
        {},
    ),
    "set up anew for another family": (
        (op("x", one_of=ME, setup=5, again=2, family="f"), op("y", one_of=ME, setup=5, again=2, family="g")),
        ((0, 15, 15), (15, 30, 30)),
        ((0, 15, 15), (15, 27, 27)),
        "“y” gets 12 of 15 minutes",
        {},
    ),
    "work of no family is set up anew": (
        (op("x", one_of=ME, setup=5, again=2), op("y", one_of=ME, setup=5, again=2)),
        ((0, 15, 15), (15, 30, 30)),
        ((0, 15, 15), (15, 27, 27)),
        "“y” gets 12 of 15 minutes",
        {},
    ),
    "what stands from before": (
        alone(10, one_of=ME, setup=5, again=2, family="f"),
        ((0, 12, 12),),
        ((0, 11, 11),),
        "“x” gets 11 of 12 minutes",
        {"first": {"me": op("z", family="f")}},
    ),
    "a slower hand": (
        alone(10, one_of=ME, slower=(("me", 3), ("you", 9))),
        ((0, 13, 13),),
        ((0, 12, 12),),
        "“x” gets 12 of 13 minutes",
        {},
    ),
    "in nobody's hands": (alone(10, setup=5), ((5, 20, 20),), ((5, 19, 19),), "“x” gets too few minutes", {}),
    "the first work pays the worst change": (
        alone(10, one_of=ME, kind="b"),
        ((0, 17, 17),),
        ((0, 16, 16),),
        "“x” gets 16 of 17 minutes",
        {"change_overs": CHANGES},
    ),
    "at least any other change": (
        alone(10, one_of=ME, kind="a"),
        ((0, 14, 14),),
        ((0, 13, 13),),
        "“x” gets 13 of 14 minutes",
        {"change_overs": CHANGES},
    ),
    "a change that is known": (
        alone(10, one_of=ME, kind="c"),
        ((0, 30, 30),),
        ((0, 29, 29),),
        "“x” gets 29 of 30 minutes",
        {"change_overs": CHANGES, "first": {"me": op("z", kind="a")}},
    ),
    "any other change": (
        alone(10, one_of=ME, kind="c"),
        ((0, 14, 14),),
        ((0, 13, 13),),
        "“x” gets 13 of 14 minutes",
        {"change_overs": CHANGES, "first": {"me": op("z", kind="b")}},
    ),
    "no change": (
        alone(10, one_of=ME, kind="c"),
        ((0, 10, 10),),
        ((0, 9, 9),),
        "“x” gets 9 of 10 minutes",
        {"change_overs": CHANGES, "first": {"me": op("z", kind="c")}},
    ),
    "a vice for one": (
        (op("x", needs=(("vice", 1),)), op("y", needs=(("vice", 1),))),
        ((0, 10, 10), (10, 20, 20)),
        ((0, 10, 10), (9, 20, 20)),
        "2 of “vice” are taken at minute 9, there are 1",
        VICE,
    ),
    "a vice held for a cure": (
        (op("x", holds=(("vice", 1),), cure=30), op("y", needs=(("vice", 1),))),
        ((0, 10, 40), (40, 50, 50)),
        ((0, 10, 40), (39, 50, 50)),
        "2 of “vice” are taken at minute 39, there are 1",
        VICE,
    ),
    "dust after wet": (
        (op("x", air="wet", cure=50), op("y", air="dusty")),
        ((0, 10, 60), (60, 70, 70)),
        ((0, 10, 60), (59, 70, 70)),
        "“y” raises dust while “x” is wet",
        {},
    ),
    "wet after dust": (
        (op("x", air="wet", cure=50), op("y", air="dusty")),
        ((10, 20, 70), (0, 10, 10)),
        ((9, 20, 70), (0, 10, 10)),
        "“y” raises dust while “x” is wet",
        {},
    ),
    "one place in the rack": (
        (op("x", cure=50), op("y")),
        ((0, 10, 60), (60, 70, 70)),
        ((0, 10, 60), (59, 70, 70)),
        "2 jobs are open at minute 59, there are 1 rack places",
        {"open_most": 1},
    ),
    "a place until the last work": (
        (op("x", job="one"), op("y", job="one"), op("z")),
        ((0, 10, 10), (50, 60, 60), (60, 70, 70)),
        ((0, 10, 10), (50, 60, 60), (20, 30, 30)),
        "2 jobs are open at minute 20, there are 1 rack places",
        {"open_most": 1},
    ),
    "a place from the first work, wherever it is listed": (
        (op("y", job="one"), op("x", job="one"), op("z")),
        ((50, 60, 60), (0, 10, 10), (60, 70, 70)),
        ((50, 60, 60), (0, 10, 10), (20, 30, 30)),
        "2 jobs are open at minute 20, there are 1 rack places",
        {"open_most": 1},
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_rule_is_kept_to_the_minute(name: str) -> None:
    operations, kept, broken, words, work = CASES[name]
    assert told(operations, kept, **work) == []
    assert told(operations, broken, **work) == [words]


def test_work_longer_than_a_day_and_marks_without_minutes_pass() -> None:
    assert told(alone(101, splittable=False), ((50, 151, 151),)) == []
    assert told(alone(0, splittable=False, earliest=50), ((0, 0, 0),)) == []
    assert told((op("x", 0, needs=(("vice", 1),)),), ((0, 0, 0),)) == []  # takes nothing, for no time


def test_what_is_not_there_cannot_be_taken() -> None:
    assert told(alone(10, needs=(("lathe", 1),)), ((5, 15, 15),)) == [
        "1 of “lathe” are taken at minute 5, there are 0"
    ]


def test_the_wrong_list_of_work_is_told_before_anything_else() -> None:
    work = SchedulingProblem((op("x", one_of=ME), op("y")), {})
    mine = Assignment("x", 0, 10, 10, "me")
    assert breaches_of(work, OPENS, CLOSES, [mine, mine]) == ["“x” is planned twice", "“y” is not planned"]
    strange = [mine, Assignment("y", 0, 10, 10), Assignment("z", 0, 10, 10)]
    assert breaches_of(work, OPENS, CLOSES, strange) == ["“z” is planned but nobody asked for it"]
    wrong_hands = [replace(mine, who="you"), Assignment("y", 0, 10, 10)]
    assert breaches_of(work, OPENS, CLOSES, wrong_hands) == ["“x” is given to “you”"]


def test_working_minutes_on_the_clock() -> None:
    """What begins at closing time begins in the morning; what ends then ends that evening."""
    clock = OpeningHours(OPENS, CLOSES)
    minutes = (0, 99, 100, 101, 199, 200, 201, 250, 255)
    assert [clock.begins(m) for m in minutes] == [0, 99, 1000, 1001, 1099, 2000, 2001, 2050, 2055]
    assert [clock.ends(m) for m in minutes] == [0, 99, 100, 1001, 1099, 1100, 2001, 2050, 2055]

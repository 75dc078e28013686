"""Dust keeps away from what is wet: the first place that is found for work, and what is told of a breach."""

from __future__ import annotations

import random

from estimator.schedule.calendar import always_open
from estimator.schedule.heuristics import best_dispatch
from estimator.schedule.records import Assignment, Link, Operation, SchedulingProblem
from estimator.schedule.serial_sgs import ResourceProfile
from estimator.schedule.verify import breaches_of

CURE, WAIT = 100, 70
COAT = Operation("coat", "one", 10, one_of=("me", "you"), cure=CURE, air="wet")
SAND = Operation("sand", "two", 20, one_of=("me", "you"), cure=WAIT, air="dusty")
HANDS = {"me": 1, "you": 1}


def placed(*operations: Operation) -> dict[str, Assignment]:
    bench = ResourceProfile(SchedulingProblem(operations, HANDS), always_open())
    for operation in operations:
        bench.add(operation, bench.find(operation))
    return bench.placed


def test_dust_waits_until_what_is_wet_has_cured() -> None:
    """The two pairs of hands are free at once; it is the coat, and its cure, that is in the way."""
    found = placed(COAT, SAND)
    assert (found["coat"].start, found["coat"].free) == (0, 10 + CURE)
    assert found["sand"].start == 10 + CURE


def test_a_coat_waits_for_the_dust_alone_and_not_for_what_cures_after_it() -> None:
    """What was sanded may still wait for something of its own (a filler that sets): dust it raises no more."""
    found = placed(SAND, COAT)
    assert (found["sand"].end, found["sand"].free) == (20, 20 + WAIT)
    assert found["coat"].start == 20


def test_a_coat_is_not_begun_whose_cure_would_meet_dust() -> None:
    late = Operation("sand", "two", 20, one_of=("me", "you"), earliest=50, air="dusty")
    assert placed(late, COAT)["coat"].start == 70


def test_drawn_work_is_placed_without_dust_on_wet_finish() -> None:
    met = 0
    for seed in range(60):
        draw = random.Random(seed)
        operations: list[Operation] = []
        for job in range(3):
            for step in range(draw.randint(1, 3)):
                before = (Link(operations[-1].id),) if step else ()
                operations.append(
                    Operation(
                        f"{job}.{step}",
                        str(job),
                        draw.randint(5, 40),
                        before,
                        one_of=("me", "you"),
                        cure=draw.choice((0, 0, 60, 150)),
                        air=draw.choice(("", "wet", "dusty")),
                    )
                )
        work = SchedulingProblem(tuple(operations), HANDS)
        _, assignments = best_dispatch(work, always_open(), ("makespan",))
        assert breaches_of(work, [0], [1 << 40], assignments) == [], seed
        airs = {operation.air for operation in operations}
        met += {"wet", "dusty"} <= airs
    assert met > 30

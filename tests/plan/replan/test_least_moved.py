"""What need not change does not: of the orders that are no worse, one in which the least moves."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta

import pytest
from msgspec.structs import replace

from estimator.plan.replan.schedule import State, replan
from estimator.schedule.calendar import shop_calendar
from estimator.schedule.records import Assignment, Due, Link, Operation, SchedulingProblem, Search
from estimator.schedule.serial_sgs import figures_of, serial_schedule
from estimator.schedule.solve import schedule_work
from estimator.schedule.verify import breaches_of

HOURS = {day: ((time(9), time(14)),) for day in range(5)}
START = date(2026, 9, 7)
CALENDAR = shop_calendar(START, HOURS, days=90)
AIMS = ("tardiness", "makespan", "minutes")
SEARCH = Search(AIMS, "rule", tries=20)
DRAWN = 250


def draw(chance: random.Random) -> SchedulingProblem:
    """Two or three jobs at a bench of one or two, with cures, a due day each."""
    hands = ("me", "you")[: chance.choice((1, 1, 2))]
    operations = []
    for job in ("a", "b", "c")[: chance.choice((2, 3))]:
        for number in range(chance.choice((1, 2, 3)) if job != "c" else 1):
            who = chance.choice([(h,) for h in hands] + [hands])
            operations.append(
                Operation(
                    f"{job}:{number}",
                    job,
                    chance.randint(20, 200),
                    (Link(f"{job}:{number - 1}"),) if number else (),
                    one_of=who,
                    cure=chance.choice((0, 0, 0, 300, 1500)),
                    kind=chance.choice("xy"),
                )
            )
    dues = tuple(Due(job, chance.randint(3, 9) * 1440) for job in sorted({o.job for o in operations}))
    return SchedulingProblem(tuple(operations), dict.fromkeys(hands, 1), dues)


def orders(operations: Sequence[Operation]) -> Iterator[list[Operation]]:
    """Every order in which each comes after those it needs."""
    if not operations:
        yield []
    names = {o.id for o in operations}
    for one in operations:
        if not any(link.before in names for link in one.after):
            for rest in orders([o for o in operations if o is not one]):
                yield [one, *rest]


def shift(before: dict[str, Assignment], after: Sequence[Assignment]) -> tuple[int, int, int]:
    """Operations on another day, operations at another minute, minutes in all."""
    days = moved = minutes = 0
    for b in after:
        old = before[b.operation].start
        days += CALENDAR.elapsed_at_start(old) // 1440 != CALENDAR.elapsed_at_start(b.start) // 1440
        moved += old != b.start
        minutes += abs(old - b.start)
    return days, moved, minutes


def aims(work: SchedulingProblem, found: Sequence[Assignment]) -> tuple[int, ...]:
    figures = figures_of(work, CALENDAR, found)
    return figures.tardiness, figures.makespan, figures.minutes


@pytest.mark.slow
def test_of_the_orders_that_are_no_worse_the_least_moves() -> None:
    """A part comes late: every order of the work is gone through, with the same hands, nothing sooner than planned."""
    chance, moved, less, same = random.Random(3), 0, 0, 0
    for _ in range(DRAWN):
        work = draw(chance)
        plan = schedule_work(work, CALENDAR, SEARCH).assignments
        before = {b.operation: b for b in plan}
        late = chance.choice(work.operations)
        comes = datetime.combine(START, time(9)) + timedelta(
            minutes=CALENDAR.elapsed_at_start(before[late.id].start)
            - 540
            + chance.choice((30, 120, 400, 1500, 4000))
        )
        state = State(datetime.combine(START, time(9)), not_before={late.id: comes})
        again = replan(work, CALENDAR, plan, state, SEARCH)
        assert breaches_of(again.work, CALENDAR.opens, CALENDAR.closes, again.schedule.assignments) == []
        if not again.kept_order:
            continue  # enough lateness was won for what moves more
        held = replace(
            again.work,
            operations=tuple(
                replace(o, earliest=max(o.earliest, CALENDAR.elapsed_at_start(before[o.id].start)))
                for o in again.work.operations
            ),
        )
        people = {b.operation: b.who for b in plan}
        found = again.schedule.assignments
        limits = aims(held, found)
        ways = [serial_schedule(held, CALENDAR, order, people) for order in orders(held.operations)]
        least = min(
            shift(before, w) for w in ways if all(a <= b for a, b in zip(aims(held, w), limits, strict=True))
        )
        mine = shift(before, found)
        moved += mine[1] > 0
        same += mine == least
        less += mine > least
    assert moved >= 150
    assert less == 0, (less, same)

"""Small benches by enumeration of every order of work: the engine finds and proves the same optimum."""

from __future__ import annotations

import itertools
import random
from datetime import date, time

import pytest
from msgspec.structs import replace

from estimator.core.errors import InputError
from estimator.schedule.bounds.chains import bounds_of, crowd_bounds
from estimator.schedule.calendar import Calendar, always_open, shop_calendar
from estimator.schedule.records import (
    Assignment,
    ChangeOvers,
    Due,
    Link,
    Operation,
    Schedule,
    SchedulingProblem,
    Search,
)
from estimator.schedule.serial_sgs import figures_of, serial_schedule
from estimator.schedule.solve import schedule_work
from estimator.schedule.verify import breaches_of
from tests.schedule.plain_work import schedule

HOURS = {day: ((time(9), time(12)), (time(13), time(15, 15))) for day in range(5)}
CHANGES = ChangeOvers({("dusty", "solder"): 12, ("dusty", "finish"): 12}, 5)
SHOP = {"me": 1, "helper": 1, "drill": 1, "clamps": 4}


def calendar() -> Calendar:
    return shop_calendar(date(2026, 9, 7), HOURS, (date(2026, 9, 9),), days=60)


def random_bench(seed: int, people: tuple[str, ...]) -> tuple[SchedulingProblem, tuple[Operation, ...]]:
    """Two or three instruments with six operations in all, on one bench."""
    chance = random.Random(seed)
    operations: list[Operation] = []
    for number in range(6):
        job = f"job {number % chance.choice((2, 3))}"
        before = [o.id for o in operations if o.job == job]
        kind = chance.choice(("dusty", "solder", "finish", "plain"))
        operations.append(
            Operation(
                id=f"op {number}",
                job=job,
                minutes=chance.randint(10, 90),
                after=(Link(before[-1], chance.choice((None, None, 720))),)
                if before and chance.random() < 0.7
                else (),
                needs=(("drill", 1),) if chance.random() < 0.3 else (),
                holds=(("clamps", 3),) if chance.random() < 0.3 else (),
                one_of=people,
                cure=chance.choice((0, 0, 60, 300, 1440)),
                earliest=chance.choice((0, 0, 0, 2000)),
                splittable=chance.random() < 0.6,
                setup=20,
                again=5,
                family=chance.choice(("a", "b")),
                kind=kind,
                air={"dusty": "dusty", "finish": "wet"}.get(kind, ""),
            )
        )
    dues = tuple(Due(f"job {n}", chance.choice((700, 2300, 4000)), chance.randint(1, 3)) for n in range(3))
    return SchedulingProblem(tuple(operations), SHOP, dues, CHANGES), tuple(operations)


def best_by_enumeration(work: SchedulingProblem, aims: tuple[str, ...]) -> tuple[int, ...]:
    """The least figures over all orders that respect precedence."""
    found = []
    for order in itertools.permutations(work.operations):
        if _keeps_order(order):
            figures = figures_of(work, calendar(), serial_schedule(work, calendar(), order))
            found.append(tuple(getattr(figures, aim) for aim in aims))
    return min(found)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3, 4, 6, 7])
def test_the_engine_finds_what_enumeration_finds(seed: int) -> None:
    work, operations = random_bench(seed, ("me",))
    aims = ("tardiness", "makespan", "minutes")
    found = schedule(
        operations,
        SHOP,
        calendar(),
        Search(objectives=aims, engine="cpsat", effort=6.0, tries=5),
        work.dues,
        CHANGES,
    )
    assert found.status == "optimal"
    assert tuple(getattr(found.figures, aim) for aim in aims) == best_by_enumeration(work, aims)


@pytest.mark.parametrize("seed", range(3))
def test_a_helper_never_makes_it_later_and_bounds_hold(seed: int) -> None:
    work, operations = random_bench(seed, ("me",))
    two = tuple(replace(o, one_of=("me", "helper")) for o in operations)
    alone = schedule(
        operations,
        SHOP,
        calendar(),
        Search(objectives=("makespan",), effort=3.0, tries=50),
        work.dues,
        CHANGES,
    )
    helped = schedule(
        two, SHOP, calendar(), Search(objectives=("makespan",), effort=3.0, tries=50), work.dues, CHANGES
    )
    assert helped.bounds["makespan"] <= helped.figures.makespan
    if helped.status == "optimal":
        assert helped.figures.makespan <= alone.figures.makespan


def test_the_search_alone_keeps_every_rule_and_is_the_same_twice() -> None:
    work, operations = random_bench(3, ("me", "helper"))
    one = schedule(
        operations,
        SHOP,
        calendar(),
        dues=work.dues,
        change_overs=CHANGES,
        search=Search(engine="rule", tries=60),
    )
    two = schedule(
        operations,
        SHOP,
        calendar(),
        dues=work.dues,
        change_overs=CHANGES,
        search=Search(engine="rule", tries=60),
    )
    assert one.assignments == two.assignments
    assert one.bounds["makespan"] <= one.figures.makespan


def test_every_kind_of_breach_is_seen() -> None:
    cal = calendar()
    operations = (
        Operation("glue", "g1", 30, one_of=("me",), cure=120, splittable=False, holds=(("clamps", 4),)),
        Operation("sand", "g2", 30, one_of=("me",), air="dusty", setup=10, family="sand", kind="dusty"),
        Operation("spray", "g3", 20, one_of=("helper",), air="wet", cure=60),
        Operation("drill", "g1", 10, (Link("glue"),), (("drill", 1),), ("me",)),
        Operation("hold", "g2", 10, one_of=("helper",), holds=(("clamps", 4),)),
        Operation("late part", "g3", 5, one_of=("me",), earliest=1000),
        Operation("plane", "g4", 5, (Link("sand", 300),), one_of=("helper",)),
    )
    work = SchedulingProblem(operations, SHOP, (), CHANGES)
    good = {
        b.operation: b
        for b in schedule(
            operations, SHOP, cal, Search(objectives=("makespan",), engine="rule", tries=0), (), CHANGES
        ).assignments
    }

    def told(**moved: int) -> str:
        changed = []
        for name, assignment in good.items():
            start = moved.get(name.replace(" ", "_"), assignment.start)
            minutes = assignment.end - assignment.start
            end = start + minutes
            cure = next(o.cure for o in operations if o.id == name)
            changed.append(Assignment(name, start, end, cal.after_wait(end, cure), assignment.who))
        return "; ".join(breaches_of(work, cal.opens, cal.closes, changed))

    assert told() == ""
    assert "broken off" in told(glue=170)
    assert "before the wait after “glue” is over" in told(drill=good["glue"].end + 5)
    assert "at once" in told(drill=good["sand"].start)
    assert "raises dust" in told(spray=good["sand"].start)
    assert "of “clamps” are taken" in told(hold=good["glue"].start)
    assert "before 1000" in told(late_part=0)
    assert "the wait after “sand”" in told(plane=good["sand"].end + 10)
    everything = [*good.values()]
    assert "is not planned" in breaches_of(work, cal.opens, cal.closes, everything[1:])[0]
    assert "planned twice" in breaches_of(work, cal.opens, cal.closes, [*everything, everything[0]])[0]
    short = replace(good["sand"], end=good["sand"].end - 1, free=good["sand"].free - 1)
    rest = [b for b in everything if b.operation != "sand"]
    assert any("minutes" in b for b in breaches_of(work, cal.opens, cal.closes, [*rest, short]))
    early = replace(good["glue"], free=good["glue"].end)
    rest = [b for b in everything if b.operation != "glue"]
    assert any("cut short" in b for b in breaches_of(work, cal.opens, cal.closes, [*rest, early]))


@pytest.mark.parametrize(
    ("operations", "told"),
    [
        ((Operation("a", "j", 5, (Link("b"),)), Operation("b", "j", 5, (Link("a"),))), "circle"),
        ((Operation("a", "j", 5, (Link("x"),)),), "not there"),
        ((Operation("a", "j", 5, one_of=("nobody",)),), "nobody of this name"),
        ((Operation("a", "j", 5, needs=(("drill", 2),)),), "more of “drill” than there is"),
        ((Operation("a", "j", 5), Operation("a", "j", 5)), "two operations have one name"),
    ],
)
def test_work_that_cannot_be_scheduled_is_refused_in_words(
    operations: tuple[Operation, ...], told: str
) -> None:
    with pytest.raises(InputError, match=told):
        schedule(operations, SHOP)


@pytest.mark.parametrize("seed", [11, 12, 14])
def test_two_people_by_enumeration_of_orders_and_hands(seed: int) -> None:
    work, operations = random_bench(seed, ("me", "helper"))
    four = tuple(
        replace(o, after=tuple(li for li in o.after if li.before in {p.id for p in operations[:4]}))
        for o in operations[:4]
    )
    small = SchedulingProblem(four, SHOP, work.dues, CHANGES)
    aims = ("makespan", "minutes")
    best = min(
        tuple(
            getattr(figures_of(small, calendar(), serial_schedule(small, calendar(), order, who)), aim)
            for aim in aims
        )
        for order in itertools.permutations(four)
        if _keeps_order(order)
        for hands in itertools.product(("me", "helper"), repeat=4)
        for who in [dict(zip([o.id for o in order], hands, strict=True))]
    )
    found = schedule(
        four,
        SHOP,
        calendar(),
        Search(objectives=aims, engine="cpsat", effort=6.0, tries=2),
        work.dues,
        CHANGES,
    )
    assert found.status == "optimal"
    assert tuple(getattr(found.figures, aim) for aim in aims) == best


def _keeps_order(order: tuple[Operation, ...]) -> bool:
    seen: set[str] = set()
    for operation in order:
        if any(link.before not in seen for link in operation.after):
            return False
        seen.add(operation.id)
    return True


@pytest.mark.parametrize("seed", [1, 3, 6, 7])
def test_what_stands_set_up_already_is_counted_and_bounds_still_hold(seed: int) -> None:
    work, operations = random_bench(seed, ("me",))
    work = replace(work, first={"me": replace(operations[0], id="before")})
    aims = ("tardiness", "makespan", "minutes")
    found = schedule_work(work, calendar(), Search(objectives=aims, engine="cpsat", effort=10.0, tries=40))
    assert breaches_of(work, calendar().opens, calendar().closes, found.assignments) == []
    best = best_by_enumeration(work, aims)
    reached = tuple(getattr(found.figures, aim) for aim in aims)
    assert reached >= best
    assert found.bounds["tardiness"] <= best[0]
    assert found.status != "optimal" or reached == best  # nothing is called proven that is not
    assert all(found.bounds[aim] <= getattr(found.figures, aim) for aim in aims)
    cold = schedule_work(
        replace(work, first={}), calendar(), Search(objectives=("minutes",), engine="rule", tries=40)
    )
    warm = schedule_work(work, calendar(), Search(objectives=("minutes",), engine="rule", tries=40))
    assert warm.figures.minutes < cold.figures.minutes
    # the plain bounds know of it too: no order of this work beats them
    plain = bounds_of(work, calendar())
    least = [
        figures_of(work, calendar(), serial_schedule(work, calendar(), order))
        for order in itertools.permutations(operations)
        if _keeps_order(order)
    ]
    assert plain["minutes"] <= min(f.minutes for f in least)
    assert plain["makespan"] <= min(f.makespan for f in least)


@pytest.mark.parametrize("seed", range(1, 9))
def test_plain_bounds_are_never_above_the_best_of_all_orders(seed: int) -> None:
    work, operations = random_bench(seed, ("me",))
    dues = tuple(replace(due, at=(due.at or 0) // 4) for due in work.dues)  # so that hands are too few
    work = replace(work, dues=dues)
    found = [
        figures_of(work, calendar(), serial_schedule(work, calendar(), order))
        for order in itertools.permutations(operations)
        if _keeps_order(order)
    ]
    plain = bounds_of(work, calendar())
    for aim in ("tardiness", "max_tardiness", "makespan", "minutes"):
        assert plain[aim] <= min(int(getattr(figures, aim)) for figures in found), aim


def test_few_hands_make_jobs_late_whatever_the_order() -> None:
    # three jobs of 100 minutes, all due at minute 150: the last is done at 300, 150 late; by hand
    operations = tuple(Operation(n, n, 100, one_of=("me",)) for n in "abc")
    dues = tuple(Due(n, 150, weight) for n, weight in (("a", 3), ("b", 2), ("c", 4)))
    work = SchedulingProblem(operations, {"me": 1}, dues)
    assert crowd_bounds(work, always_open()) == (2 * 150, 150)
    assert crowd_bounds(replace(work, dues=()), always_open()) == (0, 0)


@pytest.mark.parametrize("engine", ["rule", "cpsat"])
def test_the_clock_does_not_change_a_week_unless_a_time_limit_is_set(
    monkeypatch: pytest.MonkeyPatch, engine: str
) -> None:
    work, _ = random_bench(5, ("me", "helper"))

    def planned(seconds_a_look: float, limit: float | None) -> Schedule:
        ticks = itertools.count()
        monkeypatch.setattr("time.perf_counter", lambda: next(ticks) * seconds_a_look)
        return schedule_work(work, calendar(), search=Search(engine=engine, limit=limit, effort=1.0))

    quick, slow = planned(0.0, None), planned(1000.0, None)
    assert (quick.assignments, quick.method, quick.bounds) == (slow.assignments, slow.method, slow.bounds)
    assert "time limit" not in quick.method
    stopped = planned(1000.0, 5.0)
    assert stopped.status == "optimal" or "stopped by the time limit" in stopped.method


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_two_people_of_unlike_skill_by_enumeration_of_orders_and_hands(seed: int) -> None:
    work, operations = random_bench(seed, ("me", "helper"))
    chance = random.Random(seed)
    few = tuple(
        replace(o, slower=((chance.choice(("me", "helper")), chance.choice((0, 15, 40))),))
        for o in operations[:4]
    )
    work = replace(work, operations=few)
    aims = ("tardiness", "makespan", "minutes")
    found = schedule_work(work, calendar(), Search(objectives=aims, engine="cpsat", effort=6.0, tries=20))
    assert breaches_of(work, calendar().opens, calendar().closes, found.assignments) == []
    best = min(
        tuple(
            getattr(figures_of(work, calendar(), serial_schedule(work, calendar(), order, who)), aim)
            for aim in aims
        )
        for order in itertools.permutations(few)
        if _keeps_order(order)
        for hands in itertools.product(("me", "helper"), repeat=len(few))
        for who in [dict(zip((o.id for o in few), hands, strict=True))]
    )
    assert tuple(getattr(found.figures, aim) for aim in aims) <= best
    assert found.status == "optimal"
    assert {b.who for b in found.assignments} <= {"me", "helper"}

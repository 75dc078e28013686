"""Published scheduling cases: what the public function finds equals the published optimum."""

from __future__ import annotations

import itertools
import os

import pytest

from estimator.schedule.records import Assignment, Due, Link, Operation, SchedulingProblem, Search
from estimator.schedule.verify import breaches_of
from tests.published import schedules as cases
from tests.schedule.plain_work import schedule

NEVER = [1 << 40]


@pytest.mark.parametrize(("name", "data", "optimum"), [("ft06", cases.FT06, 55), ("la01", cases.LA01, 666)])
def test_job_shops_reach_their_published_optimum(name: str, data: str, optimum: int) -> None:
    found = schedule(*cases.job_shop(data), search=Search(objectives=("makespan",), engine="cpsat"))
    assert found.figures.makespan == optimum
    assert found.status == "optimal"
    assert found.bounds["makespan"] == optimum


@pytest.mark.skipif("SLOW_TESTS" not in os.environ, reason="half a minute; set SLOW_TESTS=1 to run it")
def test_ft10_reaches_its_published_optimum() -> None:
    found = schedule(
        *cases.job_shop(cases.FT10), search=Search(objectives=("makespan",), engine="cpsat", effort=300.0)
    )
    assert (found.figures.makespan, found.status) == (930, "optimal")


def test_the_printed_timetable_of_ft06_passes_the_checker_and_ends_at_55() -> None:
    operations, machines = cases.job_shop(cases.FT06)
    starts = [start for row in cases.FT06_STARTS for start in row]
    assignments = [
        Assignment(o.id, start, start + o.minutes, start + o.minutes)
        for o, start in zip(operations, starts, strict=True)
    ]
    assert breaches_of(SchedulingProblem(tuple(operations), machines), [0], NEVER, assignments) == []
    assert max(b.end for b in assignments) == 55


def test_the_bound_of_la01_is_the_load_of_its_fullest_machine() -> None:
    # published beside the data: machine 4 alone is loaded 666, which is the optimum
    found = schedule(
        *cases.job_shop(cases.LA01), search=Search(objectives=("makespan",), engine="rule", tries=0)
    )
    assert found.bounds["makespan"] == 666


@pytest.mark.parametrize(("capacity", "rows", "optimum"), [((5, 5, 3), cases.PAT2, 7), ((5,), cases.PAT7, 8)])
def test_projects_reach_their_published_optimum(
    capacity: tuple[int, ...], rows: tuple[tuple[int, tuple[int, ...], tuple[int, ...]], ...], optimum: int
) -> None:
    found = schedule(*cases.project(capacity, rows), search=Search(objectives=("makespan",), engine="cpsat"))
    assert (found.figures.makespan, found.status) == (optimum, "optimal")


def test_a_project_of_thirty_activities_reaches_its_published_optimum() -> None:
    # optimum 43 from the library's list; its file prints the path bound 38 as MPM-Time
    operations, resources = cases.project((12, 13, 4, 12), cases.activities(cases.J301_1))
    assert len(operations) == 32
    found = schedule(operations, resources, search=Search(objectives=("makespan",), engine="cpsat"))
    assert (found.figures.makespan, found.status) == (43, "optimal")
    plain = schedule(operations, resources, search=Search(objectives=("makespan",), engine="rule", tries=0))
    assert 38 <= plain.bounds["makespan"] <= 43 <= plain.figures.makespan


def test_carliers_seven_jobs_take_50_where_the_longest_tail_first_takes_53() -> None:
    # J. Carlier, EJOR 11, 1982, 42-47; data from memory, both figures come out
    operations, bench = cases.one_machine(
        (10, 13, 11, 20, 30, 0, 30), (5, 6, 7, 4, 3, 6, 2), (7, 26, 24, 21, 8, 17, 0)
    )
    ruled = schedule(operations, bench, search=Search(objectives=("makespan",), engine="rule", tries=0))
    assert ruled.figures.makespan == 53
    found = schedule(operations, bench, search=Search(objectives=("makespan",), engine="rule", tries=500))
    assert found.figures.makespan == 50
    # enumeration of all orders: nothing is shorter
    best = min(
        _one_machine_makespan([operations[n] for n in order]) for order in itertools.permutations(range(7))
    )
    assert best == 50


def _one_machine_makespan(order: list[Operation]) -> int:
    now = done = 0
    for operation in order:
        now = max(now, operation.earliest) + operation.minutes
        done = max(done, now + operation.cure)
    return done


def test_without_arrivals_the_longest_cure_goes_first() -> None:
    # Jackson's rule turned round (Pinedo, Scheduling; memory): 1470, by enumeration
    found = schedule(
        *cases.one_machine((0, 0, 0, 0), (30, 45, 20, 60), (1440, 30, 240, 0)),
        search=Search(objectives=("makespan",), engine="rule"),
    )
    assert (found.figures.makespan, found.status) == (1470, "optimal")
    assert found.assignments[0].operation == "1"


@pytest.mark.parametrize(
    ("jobs", "optimum", "serial"),
    [
        (((30, 60, 20), (20, 90, 10), (40, 30, 30)), 160, 330),
        (((30, 1440, 45), (20, 30, 15), (60, 240, 30), (25, 0, 10)), 1515, 1945),
    ],
)
def test_bench_cure_bench(jobs: tuple[tuple[int, int, int], ...], optimum: int, serial: int) -> None:
    # own figures, by enumeration of all orders
    found = schedule(*cases.bench_cure_bench(jobs), search=Search(objectives=("makespan",)))
    assert found.figures.makespan == optimum
    assert sum(map(sum, jobs)) == serial
    load = sum(first + second for first, _, second in jobs)
    assert max(load, max(map(sum, jobs))) <= found.figures.makespan <= serial
    assert found.status == "optimal"


@pytest.mark.parametrize(
    ("times", "optimum"),
    [(((5, 8), (3, 9), (8, 7), (7, 2), (4, 6)), 35), (((5, 2), (9, 3), (8, 7), (5, 4), (9, 6)), 38)],
)
def test_johnsons_two_machines(times: tuple[tuple[int, int], ...], optimum: int) -> None:
    # S. M. Johnson 1954; data from a public exercise page, optimum by Johnson's rule and enumeration
    operations = []
    for number, (first, second) in enumerate(times):
        operations.append(Operation(f"{number}a", str(number), first, needs=(("first", 1),)))
        operations.append(
            Operation(f"{number}b", str(number), second, (Link(f"{number}a"),), needs=(("second", 1),))
        )
    found = schedule(
        operations,
        {"first": 1, "second": 1},
        search=Search(objectives=("makespan",), engine="rule", tries=800),
    )
    assert found.figures.makespan == optimum


@pytest.mark.parametrize(
    ("aim", "optimum"), [("makespan", 31), ("completion", 103), ("tardiness", 18), ("max_tardiness", 9)]
)
def test_release_and_due_dates_on_one_machine(aim: str, optimum: int) -> None:
    # Gueret, Prins and Sevaux, Applications of Optimization with Xpress-MP, "sequencing jobs on a
    # bottleneck machine"; makespan, mean completion and total tardiness agree with the book from memory
    release, minutes = (2, 5, 4, 0, 0, 8, 9), (5, 6, 8, 4, 2, 4, 2)
    dues = tuple(Due(str(n), at) for n, at in enumerate((10, 21, 15, 10, 5, 15, 22), 1))
    operations, bench = cases.one_machine(release, minutes, (0,) * 7)
    found = schedule(operations, bench, dues=dues, search=Search(objectives=(aim,), engine="cpsat"))
    assert (getattr(found.figures, aim), found.status) == (optimum, "optimal")


def test_smiths_rule() -> None:
    # W. E. Smith 1956: shortest time per weight first; own figures, 52 is the least of 24 orders
    operations, bench = cases.one_machine((0,) * 4, (3, 1, 2, 4), (0,) * 4)
    dues = tuple(Due(str(n), None, weight) for n, weight in enumerate((2, 1, 4, 3), 1))
    found = schedule(operations, bench, dues=dues, search=Search(objectives=("completion",), engine="cpsat"))
    assert (found.figures.completion, found.status) == (52, "optimal")
    assert [b.operation for b in found.assignments] == ["3", "2", "4", "1"]

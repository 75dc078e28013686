"""Planning: the engine against its bare self, growth of schedule and joint choice, and the gain of a plan.

Floor of the job shops: the same instance written straight for CP-SAT, with the same workers and seed.
Floor of the joint choice: the engine alone on the same whole programme, handed over once. The instruments
are our own shop's (``instruments.py``), all different, with some forty upgrades open on each.
Run from the top of the project (about twenty minutes; ``choice`` after it: the joint choice alone)::

    python -m tests.benchmarks.bench_plan
"""

from __future__ import annotations

import resource
import sys
import time
from datetime import date

from msgspec.structs import replace

from estimator import load_shop
from estimator.batch.build import study_batch
from estimator.batch.choose import choose_batch
from estimator.batch.decomposition.column_generation import choose_by_columns
from estimator.batch.model import JointProgramme
from estimator.batch.records import Batch
from estimator.batch.solve_exact import choose_jointly
from estimator.choose.solvers.backends import pulp_problem
from estimator.input.batch.load import BatchFile, BatchJob, load_batch
from estimator.input.job.load import load_job
from estimator.model import Shop
from estimator.model.planning import Person
from estimator.plan.plan import Plan, measure_gain, plan_batch, plan_chosen, work_of
from estimator.schedule.calendar import Calendar
from estimator.schedule.cp.model import CpModel
from estimator.schedule.cp.solve import OBJECTIVES, WORKERS
from estimator.schedule.records import Operation, Schedule, SchedulingProblem, Search
from estimator.schedule.resources import calendar_of
from estimator.schedule.solve import schedule_work
from tests.benchmarks.instruments import different, resold
from tests.plan.bench import EXAMPLES
from tests.published import schedules as cases
from tests.schedule.plain_work import schedule

JOBS = ("school-guitar", "short-scale-bass", "tight-commission")


def bare_job_shop(operations: list[Operation]) -> int:
    """The instance straight in CP-SAT."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    horizon = sum(o.minutes for o in operations)
    starts, machines = {}, {}
    span = model.new_int_var(0, horizon, "")
    for o in operations:
        starts[o.id] = model.new_int_var(0, horizon, "")
        end = starts[o.id] + o.minutes
        machines.setdefault(o.needs[0][0], []).append(
            model.new_fixed_size_interval_var(starts[o.id], o.minutes, "")
        )
        model.add(span >= end)
    minutes = {o.id: o.minutes for o in operations}
    for o in operations:
        for link in o.after:
            model.add(starts[o.id] >= starts[link.before] + minutes[link.before])
    for intervals in machines.values():
        model.add_no_overlap(intervals)
    model.minimize(span)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 8
    solver.parameters.interleave_search = True
    solver.parameters.random_seed = 0
    solver.solve(model)
    return round(solver.objective_value)


def job_shops() -> None:
    """Published instances with their optimum."""
    print("\njob shop | published | ours | bare CP-SAT s | whole function s | ratio")
    for name, data, optimum in (("ft06", cases.FT06, 55), ("la01", cases.LA01, 666)):
        operations, machines = cases.job_shop(data)
        begun = time.perf_counter()
        assert bare_job_shop(operations) == optimum
        bare = time.perf_counter() - begun
        begun = time.perf_counter()
        found = schedule(operations, machines, search=Search(objectives=("makespan",), engine="cpsat"))
        ours = time.perf_counter() - begun
        print(f"{name} | {optimum} | {found.figures.makespan} | {bare:.2f} | {ours:.2f} | {ours / bare:.2f}")


def batch_of(shop: Shop, number: int) -> BatchFile:
    """So many instruments: the example jobs in turn, all wanted in time."""
    jobs = []
    for n in range(number):
        job = replace(load_job(EXAMPLES / f"{JOBS[n % len(JOBS)]}.toml", shop), id=f"job-{n:03d}")
        jobs.append(BatchJob(job.id, job, date(2026, 12, 18), 1, None))
    file = load_batch(EXAMPLES / "batches" / "batch-three.toml", shop)
    return replace(file, id=f"of-{number}", jobs=tuple(jobs))


def memory() -> float:
    """Most memory this process has held, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def growth(shop: Shop, sizes: tuple[int, ...] = (3, 8, 10, 30)) -> None:
    """Joint choice and schedule as the bench fills up."""
    print(
        "\ninstruments | choice s | gap | operations | rule s | makespan | bound | gap | search s | gap | MB"
    )
    for number in sizes:
        study = study_batch(shop, batch_of(shop, number))
        begun = time.perf_counter()
        answer = choose_batch(study.batch, "cost", 120.0)
        chosen = time.perf_counter() - begun
        if not answer.chosen:
            print(f"{number} | {chosen:.1f} | no answer in time")
            continue
        plan = plan_chosen(study, answer, search=Search(engine="rule", tries=0))
        work, _ = work_of(study, answer, plan.calendar)
        rule = plan.schedule
        search = schedule_work(work, plan.calendar, search=Search(engine="rule"))
        print(
            f"{number} | {chosen:.1f} | {answer.gap:.4f} | {len(work.operations)} | {rule.seconds:.2f} | "
            f"{rule.figures.makespan} | {rule.bounds['makespan']} | {rule.gap('makespan'):.3f} | "
            f"{search.seconds:.1f} | {search.gap('makespan'):.3f} | {memory():.0f}"
        )


def floors(shop: Shop, sizes: tuple[int, ...] = (3, 10, 30), limit: float = 15.0) -> None:
    """The week against what is below it: priority rules alone, and CP-SAT alone on the same model.

    CP-SAT alone gets the model without any schedule to start from, one aim (makespan) and the same time.
    """
    print(
        f"\ninstruments | operations | best rule | search s | makespan | gap | with CP-SAT s | makespan | gap | "
        f"CP-SAT alone s ({limit:.0f} asked) | makespan | bound"
    )
    for number in sizes:
        study = study_batch(shop, batch_of(shop, number))
        answer = choose_batch(study.batch, "cost", 60.0)
        calendar = calendar_of(shop, study.file.start, study.file.days_off)
        work, _ = work_of(study, answer, calendar)
        rule = schedule_work(work, calendar, search=Search(engine="rule", tries=0))
        search = schedule_work(work, calendar, search=Search(engine="rule", effort=limit))
        whole = schedule_work(work, calendar, search=Search(engine="cpsat", effort=limit))
        seconds, makespan, bound = bare_week(work, calendar, rule, limit)
        print(
            f"{number} | {len(work.operations)} | {rule.figures.makespan} | {search.seconds:.1f} | "
            f"{search.figures.makespan} | {search.gap('makespan'):.3f} | {whole.seconds:.1f} | "
            f"{whole.figures.makespan} | {whole.gap('makespan'):.3f} | {seconds:.1f} | {makespan} | {bound}",
            flush=True,
        )


def bare_week(
    work: SchedulingProblem, calendar: Calendar, rule: Schedule, limit: float
) -> tuple[float, int | None, int]:
    """Seconds, makespan (None: no schedule found) and bound of CP-SAT alone on the model of the week."""
    begun = time.perf_counter()
    programme = CpModel(work, calendar, rule.figures.makespan, rule.assignments)
    programme.model.clear_hints()
    programme.model.minimize(OBJECTIVES["makespan"](programme))
    solver = programme.cp.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.interleave_search = True
    solver.parameters.random_seed = 0
    solver.parameters.max_time_in_seconds = limit
    told = solver.solve(programme.model)
    found = told in (programme.cp.OPTIMAL, programme.cp.FEASIBLE)
    value = round(solver.objective_value) if found else None
    return time.perf_counter() - begun, value, round(solver.best_objective_bound)


def bare_choice(batch: Batch, limit: float) -> tuple[float, int, int, str]:
    """The engine alone on the whole programme: seconds, columns, rows, what it came to."""
    import pulp

    joint = JointProgramme(batch, "highs")
    joint.prepare(["cost"])
    built = joint.build_model()
    rows = [row for row in (*built.model.rows, *joint.limits(built)) if row.columns]
    objective = joint.sums(built, "cost")
    problem, _ = pulp_problem(built.model, rows, objective)
    begun = time.perf_counter()
    problem.solve(pulp.HiGHS(msg=False, gapRel=0.0, threads=1, timeLimit=limit, random_seed=0))
    done = problem.sol_status == pulp.LpSolutionOptimal
    said = f"{pulp.value(problem.objective) + objective.constant:.0f}" if done else "none"
    return time.perf_counter() - begun, len(built.model.names), len(rows), said


def many(shop: Shop, sizes: tuple[int, ...] = (10, 50, 200, 1000), whole_up_to: int = 200) -> None:
    """Choice for many different instruments with tight cash and hours: whole, apart, the engine alone."""
    print(
        "\ninstruments | columns | rows | engine alone s | whole s | ratio | apart s | ratio | gap told | "
        "off the optimum | rounds | MB"
    )
    for number in sizes:
        batch = study_batch(shop, different(shop, number)).batch
        free, least = choose_by_columns(batch, "cost"), choose_by_columns(batch, "cash")
        tight = replace(
            batch, cash=(free.cash + least.cash) // 2, minutes=(free.minutes + least.minutes) // 2 + 1000
        )
        before = memory()
        apart = choose_by_columns(tight, "cost", 900.0)
        after = memory()
        gap = "none" if apart.gap is None else f"{apart.gap:.5f}"
        if number > whole_up_to:
            print(
                f"{number} | | | | | | {apart.seconds:.1f} | | {gap} | | {apart.rounds} | "
                f"{after:.0f} ({before:.0f} before)",
                flush=True,
            )
            continue
        bare, columns, rows, said = bare_choice(tight, 900.0)
        whole = choose_jointly(tight, "cost", time_limit=900.0)
        off = "unknown"
        if whole.status == "optimal" and whole.objective and apart.objective:
            off = f"{(apart.objective - whole.objective) / whole.objective:.5f}"
            assert said == str(whole.objective), (said, whole.objective)
        print(
            f"{number} | {columns} | {rows} | {bare:.1f} | {whole.seconds:.1f} | {whole.seconds / bare:.2f} | "
            f"{apart.seconds:.1f} | {apart.seconds / bare:.2f} | {gap} | {off} | {apart.rounds} | {memory():.0f}",
            flush=True,
        )


def donors(shop: Shop, sizes: tuple[int, ...] = (10, 30, 100)) -> None:
    """Which of so many donors to buy: the most money left and the most for an hour, with shared cash and hours."""
    print("\ndonors | aim | way | seconds | status | gap | bought | MB")
    for number in sizes:
        batch = study_batch(shop, resold(shop, number, 4)).batch
        batch = replace(batch, cash=6_000 * number, minutes=15_000 * number)
        for aim in ("profit", "hourly"):
            whole = choose_jointly(batch, aim, time_limit=120.0)
            print(
                f"{number} | {aim} | whole | {whole.seconds:.1f} | {whole.status} | {whole.gap} | "
                f"{len(whole.chosen)} | {memory():.0f}",
                flush=True,
            )
        apart = choose_by_columns(batch, "profit", 300.0)
        print(
            f"{number} | profit | apart | {apart.seconds:.1f} | {apart.status} | {apart.gap} | "
            f"{len(apart.chosen)} | {memory():.0f}",
            flush=True,
        )


def gains(shop: Shop) -> None:
    """Planned together against one by one, and what another pair of hands would bring."""
    print("\nbatch | money | hands-on | days | makespan | rule alone | with a helper")
    for name in ("batch-three", "batch-school"):
        study = study_batch(shop, load_batch(EXAMPLES / "batches" / f"{name}.toml", shop))
        plan = plan_batch(study, search=Search(engine="rule"))
        assert isinstance(plan, Plan)
        gain = measure_gain(plan)
        hands = (Person("bench", 4), Person("helper", 4))
        helped = plan_chosen(study, plan.answer, people=hands, search=Search(engine="rule", tries=100))
        money, minutes, days = gain.ratios
        print(
            f"{name} | {money:.3f} | {minutes:.3f} | {days:.3f} | {gain.makespan} | {gain.rule_makespan} | "
            f"{helped.schedule.figures.makespan}"
        )


if __name__ == "__main__":
    if sys.argv[1:] != ["choice"]:
        job_shops()
        gains(load_shop())
        growth(load_shop())
        floors(load_shop())
    donors(load_shop())
    many(load_shop())

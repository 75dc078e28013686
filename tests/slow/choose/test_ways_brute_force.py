"""The choice of set and ways together against every set done every way, on small drawn jobs, for every aim.

Each way of doing all the work is a shop of its own here, with one way a task: nothing of how the programme
weighs ways against each other is used.
"""

from __future__ import annotations

import itertools
import os
import random
from collections.abc import Iterator, Mapping
from decimal import Decimal
from types import MappingProxyType

import pytest
from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.build import build_problem
from estimator.choose.least_ways import LeastWays, with_no_least
from estimator.choose.milp.earning import problem_for
from estimator.choose.study import Choice, Study, make_choice, study_job
from estimator.choose.verify.choice import recheck, score_reached
from estimator.choose.verify.sale import sold
from estimator.core.errors import InputError
from estimator.estimate.build import make_costing, make_setting
from estimator.estimate.sale_terms import as_found
from estimator.fit.candidates import offered
from estimator.fit.judge import judge_all
from estimator.model import Budget, Job, MethodTables, Shop, Task, TaskMethod, Verdict
from estimator.model.problem import Problem
from estimator.tables.methods import by_methods, done_usually, other_ways
from tests.drawn_jobs import drawn

CASES = int(os.environ.get("ESTIMATOR_CASES", "120"))
AIMS = ("cost", "cash", "hours", "price", "score", "profit", "hourly", "price,cost", "cost,hours")


def drawn_ways(shop: Shop, tasks: list[str], chance: random.Random) -> Shop:
    """The shop with two or three ways to do each of some tasks: times, skill, risk and what is used up at random."""
    methods: dict[str, Mapping[str, TaskMethod]] = {}
    consumables: dict[tuple[str, str], tuple[tuple[str, Decimal, str], ...]] = {}
    tools: dict[tuple[str, str], tuple[tuple[str, Decimal], ...]] = {}
    packed = [name for name, item in shop.consumables.items() if item.by_the_pack]
    for task in tasks:
        row, mine = shop.tasks[task], {"usual": TaskMethod(task, "usual", "the usual way", True)}
        for name in ("second", "third")[: chance.randint(1, 2)]:
            mine[name] = _drawn_way(row, name, chance)
            key = task, name
            used = [(n, q, f) for n, q, f in shop.task_consumables.get(task, ()) if chance.random() < 0.4]
            consumables[key] = tuple((n, q * chance.choice((0, 2)), f) for n, q, f in used)
            if packed and chance.random() < 0.5:
                new = chance.choice(packed)
                consumables[key] = (*consumables[key], (new, Decimal(chance.randint(1, 9)) / 4, "any"))
            worn = chance.choice(sorted(shop.tools))
            tools[key] = ((worn, Decimal(chance.randint(0, 3))),)
        methods[task] = MappingProxyType(mine)
    ways = MethodTables(methods, consumables, tools)
    plain = {name: replace(task, method="", way="") for name, task in shop.tasks.items()}
    return replace(shop, ways=ways, tasks={name: done_usually(task, ways) for name, task in plain.items()})


def _drawn_way(row: Task, name: str, chance: random.Random) -> TaskMethod:
    def moved(value: Decimal, *factors: str) -> Decimal:
        return value * Decimal(chance.choice(factors))

    faster = chance.choice(("0.5", "0.8", "1", "1.3", "2"))
    return TaskMethod(
        row.id,
        name,
        f"the {name} way",
        False,
        setup_min=moved(row.setup_min, "0", "0.3", "1", "2", "4"),
        repeat_share=Decimal(chance.choice(("0", "0.3", "1"))),
        run_min_low=row.run_min_low * Decimal(faster),
        run_min_likely=row.run_min_likely * Decimal(faster),
        run_min_high=row.run_min_high * Decimal(faster) * chance.choice((1, 1, 2)),
        level=chance.choice((None, 1, 3, 5)),
        rework_pct=chance.choice((None, Decimal(0), Decimal(12))),
        rework_kind=chance.choice(("", "", "d", "s", "x")),
        factors=() if chance.random() < 0.7 else tuple(chance.sample(("AC", "CD", "SZ"), 1)),
    )


class Case(Struct, frozen=True):
    """A drawn job, small enough to look at every set done every way."""

    study: Study
    aim: str
    tasks: tuple[str, ...]


def verdicts_of(shop: Shop, job: Job) -> tuple[Verdict, ...]:
    """What ``study_job`` judges, without the pricing."""
    job = as_found(shop, job) if job.kind == "resale" else job
    return judge_all(shop, job, offered(shop, job))


def case_of(seed: int) -> Case | None:
    """The case of a seed; None where the draw has no work with more than one way."""
    chance = random.Random(seed)
    shop, job = drawn(seed)
    job = replace(job, open=(), wanted_by="")
    fitting = [
        v
        for v in verdicts_of(replace(shop, ways=MethodTables()), job)
        if v.outcome != "does-not-fit" and v.demands
    ]
    if not fitting:
        return None
    start = chance.choice(fitting)
    tasks = {d.task for d in start.demands}
    kin = [v for v in fitting if v is not start and tasks & {d.task for d in v.demands}]
    some = [start, *chance.sample(kin, min(len(kin), 2)), *chance.sample(fitting, min(len(fitting), 1))]
    ids = tuple(dict.fromkeys(v.upgrade.id for v in some))
    demanded = sorted({d.task for v in some for d in v.demands if shop.tasks[d.task].billed})
    chosen = chance.sample(demanded, min(len(demanded), chance.randint(1, 3)))
    if not chosen:
        return None
    shop = drawn_ways(shop, chosen, chance)
    free = Budget(on=job.budget.on, surety=job.budget.surety)
    job = replace(job, open=ids, required=(), refused=(), budget=free)
    buying = chance.choice(("share", "share", "whole"))
    there = {v.upgrade.id for v in verdicts_of(shop, job)}
    ids = tuple(name for name in ids if name in there)
    study = study_job(shop, job, buying, ways_open=True)
    aim = chance.choice(AIMS if study.problem.weights else [name for name in AIMS if name != "score"])
    if chance.random() < 0.85:
        # few upgrades seldom meet a wish: mostly one of them is required instead
        wishes = job.requirements if aim == "score" else ()
        job = replace(job, required=(chance.choice(ids),), requirements=wishes)
    if chance.random() < 0.6:
        job = replace(job, budget=_limit(study, ids, free, chance))
    return Case(study_job(shop, job, buying, ways_open=True), aim, tuple(chosen))


def _limit(study: Study, ids: tuple[str, ...], free: Budget, chance: random.Random) -> Budget:
    """A limit on money, time or both about where a set, done as reckoned with, lies."""
    some = tuple(sorted(chance.sample(ids, chance.randint(1, len(ids)))))
    measured = study.measure(some)

    def about(figure: int) -> Decimal:
        return Decimal(max(figure, 100)) * chance.randint(80, 120) / 10000

    on = chance.choice(("cost", "cash", "price"))
    money = about(measured.held(on)).quantize(Decimal("0.01"))
    minutes = about(measured.minutes)
    kind = chance.choice(("money", "minutes", "both"))
    surety = chance.choice((free.surety, Decimal(80)))
    return replace(
        free,
        on=on,
        surety=surety,
        money=None if kind == "minutes" else money,
        minutes=None if kind == "money" else minutes,
    )


def every_way(case: Case) -> Iterator[tuple[dict[str, str], Study]]:
    """The study of the job with its work done each way, one way a task."""
    study = case.study
    base = study.shop.as_usual or study.shop
    names = [tuple(base.ways.methods[task]) for task in case.tasks]
    buying = "whole" if study.costing.setting.whole_packs else "share"
    for combination in itertools.product(*names):
        methods = dict(zip(case.tasks, combination, strict=True))
        shop = by_methods(base, methods)
        costing = make_costing(shop, study.job, study.verdicts, setting=make_setting(shop, study.job, buying))
        problem = build_problem(shop, study.job, study.verdicts, costing)
        problem = replace(problem, sale=study.problem.sale, rules=study.problem.rules)
        yield methods, Study(shop, study.job, study.verdicts, costing, problem)


class Done(Struct, frozen=True):
    """A set done certain ways, and what it comes to."""

    problem: Problem
    chosen: tuple[str, ...]
    methods: dict[str, str]
    figures: dict[str, int]


def all_done(case: Case, wishes: bool) -> list[Done]:
    """Every set done every way that keeps all rules."""
    found = []
    for methods, study in every_way(case):
        problem = study.problem if wishes else problem_for(study.problem, "score", "")
        for number in range(len(problem.options) + 1):
            for chosen in itertools.combinations(problem.options, number):
                measured = study.measure(chosen)
                if recheck(problem, chosen, measured.price):
                    continue
                figures = {
                    "cost": measured.cost,
                    "cash": measured.cash,
                    "price": measured.price,
                    "hours": measured.minutes,
                    "expected": measured.expected,
                    "score": -score_reached(problem, chosen),
                }
                found.append(Done(problem, chosen, methods, figures))
    return found


def wanted_of(done: list[Done], aim: str, billed: bool) -> int | None:
    """The figure of the first aim that the best of all sets and ways reaches; None where there is none."""
    if not done:
        return None
    first = aim.partition(",")[0]
    if first in ("cost", "cash", "price", "hours"):
        return min(item.figures[first] for item in done)
    if first == "score":
        return max(-item.figures["score"] for item in done)
    income = 0
    if billed:
        income = min(item.figures["price"] for item in done)
        done = [item for item in done if item.figures["price"] <= income]
    gains = []
    for item in done:
        if item.problem.sale is not None:
            held = sold(item.problem, item.chosen)
            gains.append((held.profit, held.profit - held.paid, held.minutes, item.problem.sale.pay))
        else:
            left = income - item.figures["cost"]
            gains.append((left, left, item.figures["expected"], 0))
    if first == "profit":
        return max(profit for profit, _, _, _ in gains)
    timed = [(gain, minutes, pay) for _, gain, minutes, pay in gains if minutes > 0]
    if not timed:
        return None
    if max(gain for gain, _, _ in timed) < 0:
        return None  # of sets with equal losses any may be told
    return max((2 * g * 6000 + m) // (2 * m) + pay for g, m, pay in timed)


def wrong_in(seed: int, case: Case) -> str:
    """What is wrong with the answer to the job of a seed; blank if nothing."""
    choice: Choice = make_choice(case.study, case.aim, explain=False)
    case = replace(case, study=replace(case.study, frame=choice.open_study.frame))
    done = all_done(case, case.aim.partition(",")[0] != "score")
    wanted = wanted_of(done, case.aim, case.study.problem.billed)
    status = choice.answer.status
    if (status == "infeasible") != (not done):
        return f"{seed} {case.aim}: {status}, {len(done)} sets and ways keep everything"
    if not done or wanted is None:
        return ""
    if status != "optimal" or choice.answer.objective != wanted:
        return f"{seed} {case.aim}: {status} {choice.answer.objective}, best is {wanted}"
    taken = dict.fromkeys(case.tasks, "usual") | {
        task: method for task, method in other_ways(choice.study.shop).items() if task in case.tasks
    }
    mine = [i for i in done if i.chosen == choice.answer.chosen and i.methods == taken]
    if len(mine) != 1:
        return f"{seed} {case.aim}: the set told with its ways {taken} does not keep everything"
    told = choice.answer.measure
    assert told is not None
    figures = {"cost": told.cost, "cash": told.cash, "price": told.price, "expected": told.expected}
    differing = {name: value for name, value in figures.items() if mine[0].figures[name] != value}
    return f"{seed} {case.aim}: told {differing} of what {mine[0].figures} is" if differing else ""


SUMMED = ("cash", "price", "minutes", "price_minutes", "price_parts", "consumables", "expected")
BESIDES = ("cost", "price_work", "line_tax", "price_mean")


def below_the_least(seed: int, case: Case, chance: random.Random) -> str | None:
    """A figure of a set done some ways that lies below the least of its work; blank if none, None if no way is open.

    First each task that may be is at its least, then about half of them.
    """
    if case.study.costing.baskets is not None or not case.study.costing.ways:
        return None
    costing = case.study.costing
    must, least = with_no_least(costing), LeastWays(costing)
    some = {way.task for way in costing.ways if chance.random() < 0.5}
    for opened in (must, must | some):
        floor = replace(case.study, costing=least.at_least(opened))
        for methods, study in every_way(case):
            if not all(_is_open(case.study, task, way, opened) for task, way in methods.items()):
                continue
            taken = [way.id for way in floor.costing.ways if methods[way.task] == way.method]
            for number in range(len(study.frame.options) + 1):
                for chosen in itertools.combinations(study.frame.options, number):
                    told, true = floor.measure((*chosen, *taken)), study.measure(chosen)
                    less = [name for name in (*SUMMED, *BESIDES) if getattr(true, name) < getattr(told, name)]
                    if less or true.held("cost") < told.held("cost"):
                        return f"{seed} {chosen} {methods}: {less} below the least"
    return ""


def _is_open(study: Study, task: str, method: str, opened: set[str]) -> bool:
    """Whether a way may be taken, and a set of the study that has the task opened can say so."""
    offered = [way.method for way in study.ways[task] if way.offered]
    held = [way.method for way in study.costing.ways if way.task == task]
    return method in offered and (
        task not in opened or method in (study.costing.shop.tasks[task].method, *held)
    )


@pytest.mark.slow
def test_every_set_done_every_way_finds_nothing_better_and_nothing_below_the_least_of_its_work() -> None:
    """Both of each drawn job, which takes longer to be drawn than to be answered."""
    chance, better, below = random.Random(1), [], []
    for seed in range(CASES):
        try:
            case = case_of(seed)
        except InputError:  # on the drawn instrument the upgrades are not offered by themselves
            continue
        if case is None:
            continue
        better.append(wrong_in(seed, case))
        said = below_the_least(seed, case, chance)
        if said is not None:
            below.append(said)
    assert [said for said in (*better, *below) if said] == []
    assert len(better) > 0.8 * CASES
    assert len(below) > 0.3 * CASES

"""Where the work of a batch would be cheaper done another way: its set-up is shared by the instruments.

Work of one kind on several instruments is set up once and again for its ``repeat_share``; a heavier way may be
worth its set-up for all of them together though it is for none alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from estimator.batch.build import BatchStudy
from estimator.choose.study import Study
from estimator.estimate.costing import is_active
from estimator.estimate.labour import Setting, run_line, setup_line
from estimator.fit.ways import OfferedWay
from estimator.model import Estimate, Shop
from estimator.tables.methods import by_methods


@dataclass(frozen=True, slots=True)
class BatchWay:
    """A task of several jobs that would be cheaper done another way: cents for all of them, set up once.

    ``alone``: whether it would be cheaper for some of the jobs by itself, too.
    """

    task: str
    driver: str
    jobs: tuple[str, ...]
    quantity: Decimal
    now: OfferedWay
    other: OfferedWay
    saves: int
    alone: bool


def cheaper_ways(study: BatchStudy, estimates: Mapping[str, Estimate]) -> tuple[BatchWay, ...]:
    """For each task that jobs of a batch share, done one way: the way that would save most over all of them."""
    by_task: dict[tuple[str, str], list[str]] = {}
    for job, estimate in estimates.items():
        one = study.studies[job]
        for task in dict.fromkeys(line.task for line in estimate.lines):
            if len(one.ways.get(task, ())) > 1 and task not in one.job.methods:
                by_task.setdefault((task, one.shop.tasks[task].method), []).append(job)
    found = []
    for (task, method), jobs in by_task.items():
        ways = [study.studies[job].ways[task] for job in jobs]
        offered = set.intersection(*({way.method for way in of if way.offered} for of in ways))
        costs = {name: _cost(study, estimates, task, name, jobs) for name in sorted(offered | {method})}
        best = min(costs, key=lambda name: (sum(costs[name]), name != method, name))
        saves = sum(costs[method], Decimal(0)) - sum(costs[best], Decimal(0))
        if best == method or saves < 1:
            continue
        names = {way.method: way for way in ways[0]}
        lone = [
            _cost(study, estimates, task, best, [job]) < _cost(study, estimates, task, method, [job])
            for job in jobs
        ]
        quantity = sum(
            (line.quantity for job in jobs for line in estimates[job].lines if line.task == task), Decimal(0)
        )
        driver = study.shop.tasks[task].driver
        found.append(
            BatchWay(
                task, driver, tuple(jobs), quantity, names[method], names[best],
                int(saves.quantize(Decimal(1), ROUND_HALF_UP)), any(lone),
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda way: (-way.saves, way.task)))


def _cost(
    study: BatchStudy, estimates: Mapping[str, Estimate], task: str, method: str, jobs: list[str]
) -> tuple[Decimal, ...]:
    """Cents of a task done one way, by job: the first bears the set-up, each further one what of it is repeated."""
    costs = []
    for number, job in enumerate(jobs):
        one = study.studies[job]
        shop = by_methods(one.shop, {task: method})
        row, setting = shop.tasks[task], one.costing.setting
        share = row.repeat_share if number else Decimal(1)
        cents = setup_line(row, _at(setting, shop), share).money.cost
        for place in dict.fromkeys(line.place for line in estimates[job].lines if line.task == task):
            cents += _run(one, task, place, method, estimates[job])
        costs.append(Decimal(cents))
    return tuple(costs)


def _at(setting: Setting, shop: Shop) -> Setting:
    return replace(setting, shop=shop)


def _run(one: Study, task: str, place: str, method: str, estimate: Estimate) -> int:
    ranks = one.costing.ranks[task, place]
    rank = [rank for rank in ranks if is_active(rank.triggers, frozenset(estimate.chosen))][-1]
    shop = by_methods(one.shop, {task: method})
    return run_line(shop.tasks[task], rank.demand, _at(one.costing.setting, shop), rank.part_price).money.cost

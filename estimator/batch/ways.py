"""The ways to do the work of a batch: chosen with the sets, and once more where a set-up is shared by several.

Each job's estimate, price and limits are reckoned as if it were set up by itself. At the bench, work of one kind
on several instruments is set up once and again for its ``repeat_share``; a heavier way may be worth its set-up
for all of them together though it is for none alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from itertools import combinations

from msgspec import Struct
from msgspec.structs import replace

from estimator.batch.bought import own_orders
from estimator.batch.build import BatchStudy, done_by_ways, held_to, with_named_sets
from estimator.batch.records import BatchWay, JointAnswer
from estimator.batch.solve_exact import choose_jointly
from estimator.batch.verify import JointSolution, breaches_of, confirm, cost_of
from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.core.errors import RefutedError
from estimator.estimate.costing import is_active
from estimator.estimate.labour import Setting, run_line, setup_line
from estimator.estimate.ways import methods_in, upgrades_in
from estimator.model import Estimate, Shop
from estimator.tables.methods import by_methods, worn_by

PAID = ("cost", "price", "profit", "hourly")
"""Aims of a choice that a cheaper way serves whatever else it does."""
PATIENCE = 60.0
"""Seconds the order is given that a shared way takes, the sets being held."""
FIGURES = ("cost", "cash", "price", "price_parts", "consumables", "expected", "price_work", "line_tax")


def ways_taken(study: BatchStudy, answer: JointAnswer) -> tuple[BatchStudy, JointAnswer]:
    """The batch with its work done the ways that were chosen with the sets, and the answer without them.

    RefutedError where a set measures otherwise with its ways taken for good than it did among others.
    """
    if not study.ways_open:
        return study, answer
    closed = done_by_ways(study, {job: methods_in(members) for job, members in answer.chosen.items()})
    chosen = {job: upgrades_in(members) for job, members in answer.chosen.items()}
    measures = {job.id: job.measure(chosen[job.id]) for job in closed.batch.jobs if job.id in chosen}
    for job, told in answer.measures.items():
        for name in FIGURES:
            if getattr(told, name) != getattr(measures[job], name):
                raise RefutedError(
                    f"the set of {job} comes to another {name} when its work is done the ways chosen: "
                    f"{getattr(measures[job], name)}, not {getattr(told, name)}; nothing of it can be relied on. "
                    "next: run “estimator check”; if it finds nothing, this is a fault in the program itself"
                )
    held = JointSolution(chosen, measures, answer.purchases, answer.freight)
    held = replace(held, own=own_orders(with_named_sets(closed), held))
    confirm(with_named_sets(closed), held)
    return closed, replace(answer, chosen=chosen, measures=measures, own_orders=held.own)


class WayFigures(Struct, frozen=True):
    """What a task comes to on one job, done one way, in cents: set up for itself, set up again, and its run."""

    full: Cents
    again: Cents
    run: Cents


Figures = Mapping[str, Mapping[str, WayFigures]]
"""By job and method."""


def once_for_all(figures: Figures, taken: Mapping[str, str]) -> Cents:
    """Cents of a task over several jobs, each done its way: each way is set up once, and again for each further job.

    The first set-up counts as on the instrument where it takes most, so that it is all one which comes first.
    """
    total = sum(
        (figures[job][method].again + figures[job][method].run for job, method in taken.items()), Cents(0)
    )
    for method in set(taken.values()):
        total += max(of[method].full - of[method].again for of in figures.values() if method in of)
    return total


def best_shared(figures: Figures, now: Mapping[str, str]) -> dict[str, str]:
    """By job the way to do a task that makes it cheapest for all of them; as it is ``now`` where none is cheaper.

    Once it is settled which ways are set up at all, each job takes the one that is cheapest on it: with the few
    ways of a task all such choices are gone through, which is exact.
    """
    methods = sorted({method for of in figures.values() for method in of})
    best = dict(now)
    for number in range(1, len(methods) + 1):
        for up in combinations(methods, number):
            if any(set(up).isdisjoint(of) for of in figures.values()):
                continue
            taken = {
                job: min(
                    (method for method in up if method in of),
                    key=lambda method, of=of, job=job: (  # type: ignore[misc]
                        of[method].again + of[method].run,
                        method != now[job],
                        method,
                    ),
                )
                for job, of in figures.items()
            }
            if once_for_all(figures, taken) < once_for_all(figures, best):
                best = taken
    return best


def with_shared_set_ups(
    opened: BatchStudy, study: BatchStudy, answer: JointAnswer
) -> tuple[BatchStudy, JointAnswer]:
    """The batch with other ways taken where a shared set-up makes them cheaper for all jobs together.

    ``opened``: with all ways open. The sets stay. A way is taken where the cost of the batch falls by it, set-ups
    shared and all purchases counted, and every limit is kept even by instruments that are set up for themselves;
    all of them at once, or else one task after the other, the one that saves most first.
    """
    if not study.ways_open or answer.aims[0] not in PAID or len(answer.chosen) < 2:
        return study, answer
    changes = _changes(study, answer)
    if changes and (tried := _tried(opened, study, answer, changes)) is not None:
        return tried
    for change in changes if len(changes) > 1 else ():
        study, answer = _tried(opened, study, answer, [change]) or (study, answer)
    return study, answer


class _Change(Struct, frozen=True):
    """A task that would be cheaper done otherwise: by job the way, and cents saved."""

    task: str
    figures: Figures
    now: Mapping[str, str]
    taken: Mapping[str, str]

    @property
    def saves(self) -> Cents:
        return once_for_all(self.figures, self.now) - once_for_all(self.figures, self.taken)


def _changes(study: BatchStudy, answer: JointAnswer) -> list[_Change]:
    """Tasks of several jobs that are cheaper done otherwise, the one that saves most first."""
    found = []
    for task, figures in shared_figures(study, answer).items():
        now = {job: study.studies[job].shop.tasks[task].method for job in figures}
        taken = best_shared(figures, now)
        if len(figures) > 1 and taken != now:
            found.append(_Change(task, figures, now, taken))
    return sorted(found, key=lambda change: (-change.saves, change.task))


def _tried(
    opened: BatchStudy, study: BatchStudy, answer: JointAnswer, changes: Sequence[_Change]
) -> tuple[BatchStudy, JointAnswer] | None:
    """The batch with some tasks done otherwise; None where that breaks a limit or saves nothing in all."""
    methods = {
        name: {task: one.shop.tasks[task].method for task in one.shop.ways.methods}
        for name, one in study.studies.items()
    }
    for change in changes:
        for job, method in change.taken.items():
            methods[job][change.task] = method
    other = done_by_ways(opened, methods)
    found = choose_jointly(held_to(other.batch, answer.chosen), ",".join(answer.aims), time_limit=PATIENCE)
    if dict(found.chosen) != dict(answer.chosen):
        return None
    held = JointSolution(found.chosen, found.measures, found.purchases, found.freight)
    held = replace(held, own=own_orders(with_named_sets(other), held))
    if breaches_of(with_named_sets(other), held):
        return None
    before = JointSolution(answer.chosen, answer.measures, answer.purchases, answer.freight)
    was = cost_of(study.batch, before) - _saved_by_sharing(study, answer)
    told = replace(
        answer,
        measures=found.measures,
        purchases=found.purchases,
        freight=found.freight,
        cash=found.cash,
        minutes=found.minutes,
        own_orders=held.own,
    )
    if cost_of(other.batch, held) - _saved_by_sharing(other, told) >= was:
        return None
    ways = tuple(way for change in changes for way in _told(study, answer, change))
    return replace(other, shared=(*study.shared, *ways)), told


def _saved_by_sharing(study: BatchStudy, answer: JointAnswer) -> int:
    """Cents of set-ups of work with more than one way that are not needed, as several jobs share them."""
    saved = 0
    for task, figures in shared_figures(study, answer).items():
        now = {job: study.studies[job].shop.tasks[task].method for job in figures}
        alone = sum(
            (figures[job][method].full + figures[job][method].run for job, method in now.items()), Cents(0)
        )
        saved += alone - once_for_all(figures, now)
    return saved


def shared_figures(study: BatchStudy, answer: JointAnswer) -> dict[str, Figures]:
    """By task with more than one way, for each job that does it: its figures for each way that it may take.

    A way that a job names is the only one there; ways for which a tool has to be got are left to the choice.
    """
    found: dict[str, dict[str, dict[str, WayFigures]]] = {}
    for job, chosen in answer.chosen.items():
        one = study.studies[job]
        estimate = one.costing.estimate(chosen)
        for task in dict.fromkeys(line.task for line in estimate.lines):
            if len(one.ways.get(task, ())) > 1:
                found.setdefault(task, {})[job] = {
                    method: _figures(one, estimate, task, method) for method in _may_take(one, task)
                }
    return found  # type: ignore[return-value]


def _may_take(one: Study, task: str) -> Iterator[str]:
    for way in one.ways[task]:
        lacks = {tool for tool, _ in worn_by(one.shop, task, way.method)} & set(one.job.to_get)
        if way.method == one.shop.tasks[task].method or (
            way.offered and task not in one.job.methods and not lacks
        ):
            yield way.method


def _figures(one: Study, estimate: Estimate, task: str, method: str) -> WayFigures:
    shop = by_methods(one.shop, {task: method})
    row, setting = shop.tasks[task], _at(one.costing.setting, shop)
    places = dict.fromkeys(line.place for line in estimate.lines if line.task == task)
    return WayFigures(
        setup_line(row, setting).money.cost,
        setup_line(row, setting, row.repeat_share).money.cost,
        sum((_run(one, task, place, method, estimate) for place in places), Cents(0)),
    )


def _told(study: BatchStudy, answer: JointAnswer, change: _Change) -> Iterator[BatchWay]:
    """What is told of a task done otherwise, by the ways between which its jobs change."""
    pairs: dict[tuple[str, str], list[str]] = {}
    for job, method in change.taken.items():
        if method != change.now[job]:
            pairs.setdefault((change.now[job], method), []).append(job)
    saves = change.saves
    for number, ((now, method), jobs) in enumerate(pairs.items()):
        ways = {way.method: way for way in study.studies[jobs[0]].ways[change.task]}
        lone = [
            change.figures[job][method].full + change.figures[job][method].run
            < change.figures[job][now].full + change.figures[job][now].run
            for job in jobs
        ]
        quantity = sum(
            (
                line.quantity
                for job in jobs
                for line in study.studies[job].costing.estimate(answer.chosen[job]).lines
                if line.task == change.task
            ),
            Decimal(0),
        )
        driver = study.shop.tasks[change.task].driver
        # what the ways save together is told once
        yield BatchWay(
            change.task,
            driver,
            tuple(jobs),
            quantity,
            ways[now],
            ways[method],
            saves if number == 0 else Cents(0),
            any(lone),
        )


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
                task,
                driver,
                tuple(jobs),
                quantity,
                names[method],
                names[best],
                Cents(int(saves.quantize(Decimal(1), ROUND_HALF_UP))),
                any(lone),
            )
        )
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


def _run(one: Study, task: str, place: str, method: str, estimate: Estimate) -> Cents:
    ranks = one.costing.ranks[task, place]
    rank = [rank for rank in ranks if is_active(rank.triggers, frozenset(estimate.chosen))][-1]
    shop = by_methods(one.shop, {task: method})
    row, demand = shop.tasks[task], rank.demand
    if demand.setup_share:  # a further sitting of the same work, set up again as its way is
        demand = replace(demand, setup_share=row.repeat_share)
    return run_line(row, demand, _at(one.costing.setting, shop), rank.part_price).money.cost

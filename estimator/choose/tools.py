"""Tools that are not there: worked around, rented or bought in the same choice as the set and its ways.

For each group of tools that might be got the job is chosen as if they were there and the others were not, what
they take to have off its limit on money; the best of these is the best of all, as what a group takes is a fixed sum.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import combinations

from estimator.choose.milp.objectives import objectives_of
from estimator.choose.study import Choice, Study, make_choice, study_job
from estimator.choose.verify.choice import score_reached
from estimator.core.text import money
from estimator.estimate.sale_terms import usual_work
from estimator.estimate.tools.to_get import Got, cheapest_to_get
from estimator.model import Job, Shop
from estimator.model.problem import Rule
from estimator.tables.methods import worn_by

WEIGHED = ("cost", "cash", "price", "hours", "score", "profit")
"""Aims by which what a tool takes can be weighed against what it brings."""
ZERO = Decimal(0)
MOST = 4
"""So many missing tools that could change the work are weighed in every combination; of more, one at a time."""


@dataclass(frozen=True, slots=True)
class WithTools:
    """The choice, what is got for it, and ``around``: the cents of the best set that gets nothing (None: there is none).

    ``more``: cents that it costs more, by tool not got, than with that tool there for nothing: from how many jobs
    like this one it pays. The sums of the choice do not hold what is got.
    """

    choice: Choice
    got: tuple[Got, ...] = ()
    around: int | None = None
    more: tuple[tuple[Got, int], ...] = ()

    @property
    def cents(self) -> int:
        """What is got takes in all."""
        return sum(one.cents for one in self.got)


def choose_with_tools(
    study: Study, aim: str, engine: str | None = None, time_limit: float | None = None, buying: str = "share"
) -> WithTools:
    """The best choice over all tools of ``without_tools`` that are got or not, to the cent.

    Work that cannot be done any way without a tool that is not got is refused. By the hour, and where something
    was not proven in the time, nothing is got that is not there. On a price what is got counts in full.
    """
    missing = _that_matter(study)
    plain = make_choice(study, aim, engine, time_limit)
    names = objectives_of(aim)
    if not missing:
        return WithTools(plain)
    if any(name not in WEIGHED for name in names):
        return _nothing_got(study, plain, aim, engine, time_limit, buying)
    groups = _groups(missing)
    tried: list[tuple[tuple[int, ...], int, Choice, tuple[Got, ...]]] = []
    for group in groups:
        got = cheapest_to_get(study.shop, group)
        there = _as_if_there(study, group, sum(one.cents for one in got), buying)
        if there is None:
            continue
        choice = make_choice(there, aim, engine, time_limit, explain=False)
        if choice.answer.status not in ("optimal", "infeasible"):
            return _nothing_got(study, plain, aim, engine, time_limit, buying)
        if choice.found:
            tried.append((_worth(choice, names, sum(one.cents for one in got)), len(tried), choice, got))
    if not tried:
        return _none(study, groups, aim, engine, time_limit, buying)
    _, _, best, got = min(tried, key=lambda item: item[:2])
    nothing = next((choice for _, _, choice, had in tried if not had), None)
    around = None if nothing is None else nothing.estimate.totals.cost
    more = tuple(
        (had[0], best.estimate.totals.cost - choice.estimate.totals.cost)
        for _, _, choice, had in tried
        if not got and len(had) == 1 and choice.estimate.totals.cost < best.estimate.totals.cost
    )
    if not got and nothing is not None and nothing.answer.chosen == plain.answer.chosen:
        best = plain
    return WithTools(best, got, around, more)


def _nothing_got(
    study: Study, plain: Choice, aim: str, engine: str | None, time_limit: float | None, buying: str
) -> WithTools:
    """The choice without work that cannot be done any way as things are; ``plain`` where that leaves out nothing."""
    there = _as_if_there(study, (), 0, buying)
    if there is None or there.job.refused == study.job.refused:
        return WithTools(plain)
    return WithTools(make_choice(there, aim, engine, time_limit))


def _none(
    study: Study,
    groups: Iterable[tuple[str, ...]],
    aim: str,
    engine: str | None,
    time_limit: float | None,
    buying: str,
) -> WithTools:
    """Why nothing keeps the wish and the limits, whatever is got: told of the tools that would do for the least money.

    Where no money would do it, of the fewest tools that the job is thinkable with. Where what they take is beyond
    the limit already, nothing of it is left for the work.
    """
    names = objectives_of(aim)
    told: list[tuple[bool, tuple[int, ...], int, Study, tuple[Got, ...]]] = []
    for number, group in enumerate(groups):
        got = cheapest_to_get(study.shop, group)
        price = sum(one.cents for one in got)
        there = _as_if_there(study, group, price, buying, beyond=True)
        if there is None:
            continue
        unlimited = replace(study, job=replace(study.job, budget=replace(study.job.budget, money=None)))
        free = _as_if_there(unlimited, group, price, buying)
        found = None if free is None else make_choice(free, aim, engine, time_limit, explain=False)
        worth = _worth(found, names, price) if found is not None and found.found else ()
        told.append((not worth, worth, number, there, got))
    _, _, _, there, got = min(told, key=lambda item: item[:3])
    return WithTools(make_choice(there, aim, engine, time_limit), got)


def _groups(missing: tuple[str, ...]) -> list[tuple[str, ...]]:
    """The groups of tools that are weighed, nothing first."""
    numbers: Iterable[int] = range(len(missing) + 1) if len(missing) <= MOST else (0, 1)
    return [some for number in numbers for some in combinations(missing, number)]


def _worth(choice: Choice, names: Iterable[str], more: int) -> tuple[int, ...]:
    """What a choice comes to by each aim with what is got, the cost last; less is better."""
    answer, told = choice.answer, choice.answer.measure
    assert told is not None
    study = choice.study
    worth = {
        "cost": told.cost + more,
        "cash": told.cash + more,
        # a price that falls by less than what the shop lays out for it would be paid by the shop
        "price": told.price + more,
        "hours": told.minutes,
        "score": -score_reached(study.problem, answer.chosen),
        "profit": more - (answer.objective or 0),
    }
    return (*(worth[name] for name in names), told.cost + more)


def _as_if_there(
    study: Study, group: Collection[str], price: int, buying: str, beyond: bool = False
) -> Study | None:
    """The study of the job with some tools there, and paid; None where work that comes with every job needs another.

    None too where they take more than the limit on money, unless it is asked for ``beyond`` that limit.
    """
    job, shop = study.job, study.shop.as_usual or study.shop
    lacking = tuple(tool for tool in job.without_tools if tool not in group)
    shut = _not_to_be_done(shop, job, lacking)
    if any(row.task in shut for row in usual_work(shop, job)):
        return None
    refused = sorted(v.upgrade.id for v in study.verdicts if any(demand.task in shut for demand in v.demands))
    budget = job.budget
    if budget.money is not None:
        left = budget.money - Decimal(price) / 100
        if left < 0 and not beyond:
            return None
        budget = replace(budget, money=max(left, ZERO))
    more = [name for name in refused if name not in job.refused]
    job = replace(job, without_tools=lacking, refused=(*job.refused, *more), budget=budget)
    setting = study.costing.setting
    there = study_job(shop, job, buying, setting.crew, study.alone, ways_open=True)
    names = ", ".join(shop.tools[tool].what for tool in lacking)
    rules = tuple(
        replace(rule, words=f"{rule.upgrade} cannot be done without a tool that is not there ({names})")
        if rule.kind == "refused" and rule.upgrade in more
        else _less(rule, price, shop.terms.currency)
        for rule in there.problem.rules
    )
    return replace(there, problem=replace(there.problem, rules=rules))


def _less(rule: Rule, price: int, currency: str) -> Rule:
    """A limit on money with what of it the tools take, in words."""
    if rule.kind != "money" or not price:
        return rule
    return replace(rule, words=f"{rule.words} (once {money(price, currency)} are taken off for tools to get)")


def _not_to_be_done(shop: Shop, job: Job, lacking: Collection[str]) -> set[str]:
    """The tasks that cannot be done any way on this instrument without some tools."""
    if not lacking:
        return set()
    shut = set()
    for task in shop.tasks:
        named = job.methods.get(task)
        ways = [named] if named else list(shop.ways.methods.get(task, {"": None}))
        worn = [worn_by(shop, task, way) if way else shop.task_tools.get(task, ()) for way in ways]
        if all(any(tool in lacking for tool, _ in tools) for tools in worn):
            shut.add(task)
    return shut


def _that_matter(study: Study) -> tuple[str, ...]:
    """The missing tools that some work of the job could use."""
    asked = {row.task for row in usual_work(study.shop, study.job)}
    asked |= {demand.task for verdict in study.verdicts for demand in verdict.demands}
    shop = study.shop.as_usual or study.shop
    used = {tool for task in asked for tool, _ in shop.task_tools.get(task, ())}
    used |= {
        tool
        for task in asked
        for way in shop.ways.methods.get(task, ())
        for tool, _ in worn_by(shop, task, way)
    }
    return tuple(tool for tool in dict.fromkeys(study.job.without_tools) if tool in used)

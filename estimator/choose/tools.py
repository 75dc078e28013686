"""Tools that are not there: worked around, rented or bought in the same choice as the set and its ways.

For each group of tools that might be got the job is chosen as if they were there and the others were not, what
they take to have off its limit on money; the best of these is the best of all, as what a group takes is a fixed sum.
Every command that chooses for one job asks here, so that all of them give one answer.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import combinations

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.milp.earning import check_aim, usual_aim
from estimator.choose.milp.objectives import objectives_of
from estimator.choose.study import (
    Choice,
    Study,
    best_ways,
    make_choice,
    make_choice_of,
    make_estimate,
    settled_beside,
    study_job,
    within_limits,
)
from estimator.choose.verify.choice import score_reached
from estimator.core.amounts import Cents
from estimator.core.text import money
from estimator.estimate.sale_terms import usual_work
from estimator.estimate.tools.to_get import Got, ToolsGot, cheapest_to_get
from estimator.fit.candidates import names as is_named
from estimator.model import Budget, Estimate, Job, Shop
from estimator.model.problem import Problem, Rule
from estimator.tables.methods import worn_by

WEIGHED = ("cost", "cash", "price", "hours", "score", "profit")
"""Aims by which what a tool takes can be weighed against what it brings."""
ZERO = Decimal(0)
MOST = 4
"""So many missing tools that could be done without are weighed in every combination; of more, one at a time, and all."""


class _Tried(Struct, frozen=True):
    """A choice with some tools got, and what it comes to with them by each aim: less is better."""

    worth: tuple[int, ...]
    choice: Choice
    got: tuple[Got, ...]

    @property
    def cost(self) -> Cents:
        return self.choice.estimate.totals.cost


def choose_with_tools(
    study: Study,
    aim: str | None = None,
    engine: str | None = None,
    time_limit: float | None = None,
    explain: bool = True,
) -> Choice:
    """The best choice over all tools of ``without_tools`` that are got or not, to the cent; the rest as ``make_choice``.

    Work that cannot be done any way without a tool that is not got is refused. By the hour, and where something
    was not proven in the time, nothing is got that is not there. On a price what is got counts in full. What the
    set does not ask for is done the ways reckoned with of all that are open, whatever was looked at on the way.
    """
    aim = usual_aim(study.frame.billed) if aim is None else aim
    check_aim(aim)
    choice = _chosen(study, aim, engine, time_limit, explain)
    return replace(choice, study=settled_beside(choice))


def _chosen(study: Study, aim: str, engine: str | None, time_limit: float | None, explain: bool) -> Choice:
    missing = _that_matter(study)
    names = objectives_of(aim)
    if not missing or any(name not in WEIGHED for name in names):
        return _nothing_got(study, aim, engine, time_limit, explain)
    tried: list[_Tried] = []
    for group in _groups(study, missing):
        got = cheapest_to_get(study.shop, group)
        there = _as_if_there(study, group, _sum(got))
        if there is None:
            continue
        # why there is no set is asked once it is known which tools it is told of
        choice = make_choice(there, aim, engine, time_limit, explain=False)
        if choice.answer.status not in ("optimal", "infeasible"):
            return _nothing_got(study, aim, engine, time_limit, explain)
        if choice.found:
            tried.append(_Tried(_worth(choice, names, _sum(got)), choice, got))
    return _best_of(tried) if tried else _none(study, missing, aim, engine, time_limit, explain)


def as_things_are(study: Study, aim: str) -> Study:
    """The study with its work done the ways of the best set for an aim, and no tool got that is not there.

    Work that cannot be done any way without one is refused.
    """
    there = _as_if_there(study, (), Cents(0)) if study.job.without_tools else study
    return best_ways(there or study, aim)


def make_named_or_best(study: Study, named: Collection[str]) -> Choice:
    """The set that the user named, or the best one where none is named, by the usual aim of the job."""
    return make_named(study, named) if named else choose_with_tools(study)


def make_named(study: Study, named: Collection[str]) -> Choice:
    """The set that the user named, if only of what comes with every job.

    For it too the missing tools are worked around or got, whichever costs the shop least.
    """
    make_estimate(study, named)  # what cannot be done together is told first
    tried = []
    # what is required beside the set, or open to it, is not done and needs no tool
    bare = replace(
        study,
        job=replace(study.job, required=()),
        verdicts=tuple(verdict for verdict in study.verdicts if verdict.upgrade.id in named),
    )
    for group in _groups(bare, _that_matter(bare)):
        got = cheapest_to_get(study.shop, group)
        there = _as_if_there(study, group, _sum(got), beyond=True)
        if there is not None and (set(there.job.refused) - set(study.job.refused)).isdisjoint(named):
            choice = make_choice_of(there, named)
            tried.append(_Tried((choice.estimate.totals.cost + _sum(got),), choice, got))
    return _best_of(tried)


def settled_with_tools(study: Study, named: Collection[str]) -> Choice | None:
    """The choice whose ways and tools all offers for a job share; None where neither is open."""
    if not study.in_more_ways and not _that_matter(study):
        return None
    return make_named(study, named) if named else choose_with_tools(study, explain=False)


def beside_limits(choice: Choice, budget: Budget) -> Choice:
    """The same answer beside other limits on money and hands-on time, what its tools take off them."""
    price = choice.tools.cents
    left = _less_of(budget, price)

    def under(study: Study) -> Study:
        asked, held = within_limits(study, budget), within_limits(study, left)
        told = _with_limits_told(held.frame, asked.frame, price, study.shop.terms.currency)
        return replace(held, frame=told)

    opened = None if choice.opened is None else under(choice.opened)
    return replace(choice, study=under(choice.study), opened=opened)


def used_of(tools: ToolsGot, estimate: Estimate) -> ToolsGot:
    """What is got of the tools that the work of another set wears too."""
    worn = {use.id for line in (*estimate.lines, *estimate.desk) for use in line.tools}
    return ToolsGot(tuple(one for one in tools.got if not worn.isdisjoint(one.tools)))


def _best_of(tried: Sequence[_Tried]) -> Choice:
    """The best of what was tried, the first of equals, with what is got for it."""
    best = min(tried, key=lambda one: one.worth)
    nothing = next((one for one in tried if not one.got), None)
    more = tuple(
        (one.got[0], best.cost - one.cost)
        for one in tried
        if not best.got and len(one.got) == 1 and one.cost < best.cost
    )
    around = None if nothing is None else nothing.cost
    return replace(best.choice, tools=ToolsGot(best.got, around, more, bool(best.got) and nothing is None))


def _nothing_got(
    study: Study, aim: str, engine: str | None, time_limit: float | None, explain: bool
) -> Choice:
    """The choice without work that cannot be done any way as things are; as it is where that leaves out nothing."""
    there = _as_if_there(study, (), Cents(0)) if study.job.without_tools else study
    return make_choice(there or study, aim, engine, time_limit, explain)


def _none(
    study: Study,
    missing: tuple[str, ...],
    aim: str,
    engine: str | None,
    time_limit: float | None,
    explain: bool,
) -> Choice:
    """Why nothing keeps the wish and the limits, whatever is got: told of the tools that would do for the least money.

    Where no money would do it, of the fewest tools that the job is thinkable with. Where what they take is beyond
    the limit already, nothing of it is left for the work.
    """
    names = objectives_of(aim)
    unlimited = replace(study, job=replace(study.job, budget=replace(study.job.budget, money=None)))
    told: list[tuple[bool, tuple[int, ...], Study, tuple[Got, ...]]] = []
    for group in _groups(study, missing):
        got = cheapest_to_get(study.shop, group)
        there = _as_if_there(study, group, _sum(got), beyond=True)
        if there is None:
            continue
        free = _as_if_there(unlimited, group, _sum(got), anew=True)
        found = None if free is None else make_choice(free, aim, engine, time_limit, explain=False)
        worth = _worth(found, names, _sum(got)) if found is not None and found.found else ()
        told.append((not worth, worth, there, got))
    _, _, there, got = min(told, key=lambda item: item[:2])
    choice = make_choice(there, aim, engine, time_limit, explain)
    return replace(choice, tools=ToolsGot(got))


def _sum(got: Iterable[Got]) -> Cents:
    return sum((one.cents for one in got), Cents(0))


def _groups(study: Study, missing: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """The groups of tools that are weighed, the fewest first and all of them last.

    In each are those without which work that comes with every job, or is required, cannot be done any way.
    """
    must = tuple(tool for tool in missing if _cannot_do_without(study, tool))
    rest = tuple(tool for tool in missing if tool not in must)
    numbers: Iterable[int] = range(len(rest) + 1) if len(rest) <= MOST else (0, 1, len(rest))
    return ((*must, *some) for number in numbers for some in combinations(rest, number))


def _cannot_do_without(study: Study, tool: str) -> bool:
    shop, job = study.shop.as_usual or study.shop, study.job
    shut = _not_to_be_done(shop, job, (tool,))
    if any(row.task in shut for row in usual_work(shop, job)):
        return True
    for entry in job.required:
        meant = [verdict for verdict in study.verdicts if is_named(verdict.upgrade, entry)]
        if meant and all(any(demand.task in shut for demand in verdict.demands) for verdict in meant):
            return True
    return False


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
    study: Study, group: Collection[str], price: Cents, beyond: bool = False, anew: bool = False
) -> Study | None:
    """The study of the job with some tools there, and paid; None where work that comes with every job needs another.

    None too where they take more than the limit on money, unless it is asked for ``beyond`` that limit. Where
    nothing changes by it the study stays as it is, unless it is to be made ``anew``.
    """
    job, shop = study.job, study.shop.as_usual or study.shop
    lacking = tuple(tool for tool in job.without_tools if tool not in group)
    shut = _not_to_be_done(shop, job, lacking)
    if any(row.task in shut for row in usual_work(shop, job)):
        return None
    refused = sorted(v.upgrade.id for v in study.verdicts if any(demand.task in shut for demand in v.demands))
    if job.budget.money is not None and job.budget.money * 100 < price and not beyond:
        return None
    more = [name for name in refused if name not in job.refused]
    if not group and not more and not anew:
        return study
    budget = _less_of(job.budget, price)
    job = replace(job, without_tools=lacking, refused=(*job.refused, *more), budget=budget)
    there = study_job(shop, job, study.buying, study.costing.setting.crew, study.alone, ways_open=True)
    names = ", ".join(shop.tools[tool].what for tool in lacking)
    rules = tuple(
        replace(rule, words=f"{rule.upgrades[0]} cannot be done without a tool that is not there ({names})")
        if rule.kind == "refused" and len(rule.upgrades) == 1 and rule.upgrades[0] in more
        else rule
        for rule in there.frame.rules
    )
    frame = replace(there.frame, rules=rules)
    return replace(there, frame=_with_limits_told(frame, study.frame, price, shop.terms.currency))


def _less_of(budget: Budget, price: Cents) -> Budget:
    """The budget with what tools take off its limit on money."""
    if budget.money is None:
        return budget
    return replace(budget, money=max(budget.money - Decimal(price) / 100, ZERO))


FOR_TOOLS = re.compile(r" \(of it [^()]* for tools to get\)")
"""What of a limit on money goes to tools, in the words of the limit."""


def without_tools_told(words: str) -> str:
    """Words about limits without what of them goes to tools, which is no business of a customer."""
    return FOR_TOOLS.sub("", words)


def _with_limits_told(problem: Problem, asked: Problem, price: Cents, currency: str) -> Problem:
    """The limit on money in the words in which it is ``asked``, with what of it the tools take."""
    before = {rule.id: rule for rule in asked.rules}

    def told(rule: Rule) -> Rule:
        if not rule.is_money_asked or not price:
            return rule
        limit = before[rule.id]
        words = f"{limit.words} (of it {money(price, currency)} for tools to get)"
        return replace(rule, words=words, tools=price, asked=limit.most)

    return replace(problem, rules=tuple(told(rule) for rule in problem.rules))


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

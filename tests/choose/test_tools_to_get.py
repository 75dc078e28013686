"""Tools that are not there in the choice of one job: worked around, rented or bought, whichever is less."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations

import pytest
from msgspec.structs import replace

from estimator.choose.study import Choice, make_choice, study_job
from estimator.choose.tools import choose_with_tools
from estimator.estimate.sale_terms import usual_work
from estimator.estimate.tools.to_get import Got, cheapest_to_get
from estimator.model import Budget, Job, Shop
from estimator.report.words.tools import tool_lines
from estimator.tables.methods import worn_by
from tests.drawn_jobs import example, the_shop

ROTARY = "t-rotary"


def priced(money: str) -> Shop:
    """The shop in which a rotary tool costs so much."""
    shop = the_shop()
    tool = replace(shop.tools[ROTARY], inexpensive_price=Decimal(money), premium_price=Decimal(money))
    return replace(shop, tools={**shop.tools, ROTARY: tool})


def polishing(budget: Budget | None = None) -> Job:
    job = example("school-guitar")
    return replace(
        job,
        open=("polish-frets",),
        required=("polish-frets",),
        refused=(),
        requirements=(),
        wanted_by="",
        budget=budget or Budget(),
        without_tools=(ROTARY,),
    )


def chosen(shop: Shop, job: Job, aim: str = "cost") -> Choice:
    return choose_with_tools(study_job(shop, job, ways_open=True), aim)


def there(job: Job, *tools: str, shop: Shop | None = None) -> int:
    job = replace(job, without_tools=tuple(tool for tool in job.without_tools if tool not in tools))
    found = choose_with_tools(study_job(shop or the_shop(), job, ways_open=True), "cost")
    return found.estimate.totals.cost


def test_each_tool_is_bought_or_comes_with_what_is_rented() -> None:
    shop = the_shop()
    # the router alone at its price, with the template by one rent: the middle of 30 and 30
    both = cheapest_to_get(shop, ("t-router", "t-template"))
    assert both == (Got("router and template", ("t-router", "t-template"), "day", 3000),)
    # a press that costs less than its rent (15 to 25) is bought
    press = replace(shop.tools["t-drill-press"], inexpensive_price=Decimal(19), premium_price=Decimal(19))
    cheap = replace(shop, tools={**shop.tools, "t-drill-press": press})
    assert [(g.rented, g.cents) for g in cheapest_to_get(cheap, ("t-drill-press",))] == [("", 1900)]
    assert [(g.rented, g.cents) for g in cheapest_to_get(shop, ("t-drill-press",))] == [("half day", 2000)]
    assert cheapest_to_get(shop, ()) == ()


def test_a_dearer_grade_tells_what_the_other_one_costs() -> None:
    """The shop reckons with the premium grade: a bench may start with the inexpensive one all the same."""
    (got,) = cheapest_to_get(shop_of_grade("premium"), ("t-crown-file",))
    assert (got.cents, got.inexpensive) == (15_200, 4_950)
    (got,) = cheapest_to_get(shop_of_grade("inexpensive"), ("t-crown-file",))
    assert (got.cents, got.inexpensive) == (4_950, None)


def shop_of_grade(grade: str) -> Shop:
    shop = the_shop()
    return replace(
        shop, tools={**shop.tools, "t-crown-file": replace(shop.tools["t-crown-file"], default_grade=grade)}
    )


@pytest.mark.slow
def test_a_tool_is_got_where_it_costs_less_than_working_around_it() -> None:
    around = there(polishing())
    outcomes = set()
    for price in range(480, 620, 14):
        shop = priced(str(Decimal(price) / 100))
        # its wear on the job goes by its price too
        with_it = there(polishing(), ROTARY, shop=shop)
        saves = around - with_it
        found = chosen(shop, polishing())
        outcomes.add(bool(found.tools.got))
        assert bool(found.tools.got) == (price < saves)
        told = " ".join(tool_lines(found))
        if found.tools.got:
            assert found.estimate.totals.cost + found.tools.cents == with_it + price
            assert (found.tools.around, found.tools.cents) == (around, price)
            assert "To get, not in these sums: small rotary tool with burrs, bought" in told
        else:
            assert found.estimate.totals.cost == around
            # what it would save, and from how many such jobs on it pays
            assert found.tools.more == ((Got("small rotary tool with burrs", (ROTARY,), "", price), saves),)
            assert f"it pays from {-(-price // saves)} such jobs on" in told
    assert outcomes == {True, False}


@pytest.mark.slow
def test_what_is_got_is_held_against_the_limit_and_the_price() -> None:
    cheap = priced("1")
    around, with_it = there(polishing()), there(polishing(), ROTARY, shop=cheap)
    # the limit reaches for the work with the tool, but not for the tool too
    short = polishing(Budget(money=Decimal(with_it + 99) / 100, on="cost"))
    found = chosen(cheap, short)
    assert not found.found
    reached = chosen(cheap, polishing(Budget(money=Decimal(with_it + 100) / 100, on="cost")))
    assert (reached.tools.cents, reached.tools.around) == (100, None)
    assert "Without that nothing keeps the wish" in " ".join(tool_lines(reached))
    # a price lower by less than the shop lays out is none
    assert around > with_it
    assert chosen(priced("400"), polishing(), "price,cost").tools.got == ()


@pytest.mark.slow
def test_work_that_cannot_be_done_without_a_tool_needs_it() -> None:
    shop = the_shop()
    job = polishing()
    study = study_job(shop, replace(job, without_tools=()), ways_open=True)
    (verdict,) = [v for v in study.verdicts if v.upgrade.id == "polish-frets"]
    alone = [
        d.task for d in verdict.demands if d.task not in shop.ways.methods and shop.task_tools.get(d.task)
    ]
    tool = next(tool for task in alone for tool, _ in shop.task_tools[task])
    found = chosen(shop, replace(job, without_tools=(tool,)))
    assert [one.tools for one in found.tools.got] == [(tool,)]
    assert found.tools.around is None


def test_of_many_missing_tools_no_more_are_got_than_pay() -> None:
    """Three to put the strings on again, which nothing does without, and two of which every choice is tried here."""
    shop, job = the_shop(), polishing()
    must, others = ("t-neck-rest", "t-tuner", "t-winder"), (ROTARY, "t-buff-kit")
    lacking = replace(job, without_tools=(*must, *others))
    found = chosen(shop, lacking)
    least = []
    for number in range(len(others) + 1):
        for some in combinations(others, number):
            price = sum(one.cents for one in cheapest_to_get(shop, (*must, *some)))
            there = replace(job, without_tools=tuple(tool for tool in others if tool not in some))
            if _can_be_done(shop, there):
                best = make_choice(study_job(shop, there, ways_open=True), "cost", explain=False)
                least.append(best.estimate.totals.cost + price)
    assert found.estimate.totals.cost + found.tools.cents == min(least)
    assert {tool for one in found.tools.got for tool in one.tools} == set(must)
    assert found.tools.needed


def _can_be_done(shop: Shop, job: Job) -> bool:
    """Whether no work of the job needs a missing tool, in whatever way it is done."""
    study = study_job(shop, job, ways_open=True)
    tasks = {row.task for row in usual_work(shop, job)}
    tasks |= {demand.task for verdict in study.verdicts for demand in verdict.demands}
    for task in tasks:
        ways = [
            {tool for tool, _ in worn_by(shop, task, way)} for way in shop.ways.methods.get(task, ())
        ] or [{tool for tool, _ in shop.task_tools.get(task, ())}]
        if all(worn & set(job.without_tools) for worn in ways):
            return False
    return True


@pytest.mark.slow
def test_a_set_that_needs_a_tool_beyond_the_limit_is_not_told() -> None:
    """Nut files take 60.00; 525.00 do not reach for them and the set, and nothing goes without them."""
    job = replace(example("tight-commission"), without_tools=("t-nut-files",))
    found = chosen(the_shop(), job, "price,cost")
    assert not found.found
    assert found.answer.status == "infeasible"
    assert [one.cents for one in found.tools.got] == [6000]
    (limit,) = [rule.words for rule in found.study.problem.rules if rule.kind == "money"]
    assert limit == "price at most 525.00 USD (of it 60.00 USD for tools to get)"
    # a limit raised as is told reaches for the work and the tool, and a cent less does not
    assert found.answer.whole_wish is not None
    (way,) = [change for change in found.answer.whole_wish.changes if change.rule.kind == "money"]
    assert way.to is not None
    assert way.words == f"raise the limit to {way.to / 100:.2f} USD (now: {limit})"
    assert found.answer.whole_wish.words == (f"{limit}: comes to {way.to / 100:.2f} USD of 525.00 USD",)
    for cents, reaches in ((way.to, True), (way.to - 1, False)):
        raised = replace(job, budget=replace(job.budget, money=Decimal(cents) / 100))
        assert chosen(the_shop(), raised, "price,cost").found == reaches
    assert tool_lines(found) == [
        "To get, not in these sums: gauged nut file set, bought, 60.00 USD.",
        "Told as if that were got, and paid out of the limit.",
    ]
    enough = replace(job, budget=replace(job.budget, money=Decimal(600)))
    assert [one.cents for one in chosen(the_shop(), enough, "price,cost").tools.got] == [6000]


@pytest.mark.slow
def test_by_the_hour_nothing_is_chosen_that_cannot_be_done() -> None:
    shop, job = the_shop(), example("resale-flip")
    best = chosen(shop, job, "hourly")
    always = _tools_of(shop, [row.task for row in usual_work(shop, job)])
    needed = _tools_of(best.study.shop, [line.task for line in best.estimate.lines]) - always
    assert needed
    for tool in sorted(needed)[:3]:
        told = chosen(shop, replace(job, without_tools=(tool,)), "hourly")
        if told.found:
            assert tool not in _tools_of(told.study.shop, [line.task for line in told.estimate.lines]), tool


def _tools_of(shop: Shop, tasks: list[str]) -> set[str]:
    return {tool for task in tasks for tool, _ in shop.task_tools.get(task, ())}

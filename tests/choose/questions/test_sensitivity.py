"""Ranges of the labour rate and of part prices, against the plain search and against a job priced anew."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.milp.model import Programme
from estimator.choose.questions.all import Wanted
from estimator.choose.questions.ask import deeper, tool_grades
from estimator.choose.questions.sensitivity import FARTHEST, part_ranges, rate_range
from estimator.choose.questions.why import why_chosen
from estimator.choose.study import make_choice, study_job
from estimator.cli.common import job_path
from estimator.input.job.load import load_job
from estimator.model.problem import Rule
from estimator.tables.load import load_shop
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, allowed, best, stepped_price, with_packs

some = settings(max_examples=150, deadline=None, derandomize=True)
RATE = 3000


@pytest.mark.slow
@some
@given(with_packs(most_options=5))
def test_the_set_is_cheapest_at_every_rate_told_and_at_none_beyond(problem) -> None:
    """Cost at another rate = cost + minutes x difference; limits on cost (on average) move with it."""
    problem = replace(problem, hour_cents=0)
    first = best(allowed(problem), "cost")
    assume(first is not None)
    told = rate_range(Programme(problem, measure_of(problem, stepped_price), STEPPED), first.chosen, RATE)
    assert told is not None
    limits = [r.most for r in problem.rules if r.on == "cost"]
    free = allowed(replace(problem, rules=tuple(r for r in problem.rules if r.on != "cost")))

    def stays(rate: int) -> bool:
        def at(it) -> Decimal:
            return it.cost + Decimal(rate - RATE) * it.expected / 6000

        standing = [at(it) for it in free if all(at(it) <= most for most in limits)]
        return all(at(first) <= most for most in limits) and at(first) == min(standing)

    top = RATE * FARTHEST
    high = top if told.high is None else told.high
    assert told.low <= RATE <= high
    assert all(stays(rate) for rate in {told.low, (told.low + RATE) // 2, (RATE + high) // 2, high})
    assert told.low == 0 or not stays(told.low - 1)
    assert told.high is None or not stays(told.high + 1)


@pytest.mark.slow
@some
@given(with_packs(most_options=5), st.sampled_from((0.84, 1.28, 1.64)), st.integers(0, 40), st.randoms())
def test_a_rate_range_holds_the_limit_on_cost_at_the_surety(problem, z, left, pick) -> None:
    """At every rate told the set is the cheapest of those within the limit, a cent an hour beyond it is not."""
    problem = replace(problem, hour_cents=RATE, z_minutes=z)
    others = tuple(r for r in problem.rules if r.kind not in ("money", "minutes"))
    free = allowed(replace(problem, rules=others))
    assume(free)
    # a limit that some set just keeps, so that it shuts others out
    most = pick.choice(free).sure_cost + left
    problem = replace(problem, rules=(*others, Rule("money", "money", "cost", most=most, on="cost")))
    first = best(allowed(problem), "cost")
    assume(first is not None)
    told = rate_range(Programme(problem, measure_of(problem, stepped_price), STEPPED), first.chosen, RATE)
    assert told is not None

    def stays(rate: int) -> bool:
        def at(it) -> Fraction:
            return it.cost + Fraction((rate - RATE) * it.expected, 6000)

        def within(it) -> bool:
            return (
                math.floor(at(it) + Fraction(rate * (it.minutes - it.expected), 6000) + Fraction(1, 2))
                <= most
            )

        return within(first) and at(first) == min(at(it) for it in free if within(it))

    top = RATE * FARTHEST
    high = top if told.high is None else told.high
    assert told.low <= RATE <= high
    event(f"low {'0' if not told.low else 'inside'}, high {'open' if told.high is None else 'inside'}")
    rates = {told.low, told.low + 1, (told.low + RATE) // 2, (RATE + high) // 2, high - 1, high}
    rates |= {pick.randint(told.low, high) for _ in range(8)}
    assert all(stays(rate) for rate in rates if told.low <= rate <= high)
    assert told.low == 0 or not stays(told.low - 1)
    assert told.high is None or not stays(told.high + 1)


@pytest.mark.slow
@some
@given(with_packs(most_options=5))
def test_the_set_is_cheapest_at_every_part_price_told_and_at_none_above(problem) -> None:
    first = best(allowed(problem), "cost")
    assume(first is not None)

    def priced(upgrade: str, price: int):
        def changed(p):
            if p.id != f"part {upgrade}":
                return p
            return replace(p, cost=price, cash=price, price_parts=price * 3 // 2)

        return replace(problem, pieces=tuple(changed(p) for p in problem.pieces))

    def figures(upgrade: str, price: int):
        return measure_of(priced(upgrade, price), stepped_price)(first.chosen)

    def stays(upgrade: str, price: int) -> bool:
        costs = {it.chosen: it.cost for it in allowed(priced(upgrade, price))}
        return first.chosen in costs and costs[first.chosen] == min(costs.values())

    programme = Programme(problem, measure_of(problem, stepped_price), STEPPED)
    prices = {p.id.removeprefix("part "): p.cost for p in problem.pieces if p.id.startswith("part ")}
    why = why_chosen(programme, first.chosen, first.cost)
    ranges = part_ranges(programme, first.chosen, why, prices, figures)
    assert [told.upgrade for told in ranges] == list(first.chosen)
    for told in ranges:
        if told.high is not None:
            assert stays(told.upgrade, told.high)
            assert not stays(told.upgrade, told.high + 1)
        else:
            assert stays(told.upgrade, 10 * told.now + 100)
        if told.low is not None:
            assert all(stays(told.upgrade, price) for price in (0, told.now // 2))


@pytest.fixture(scope="module")
def shop():
    return load_shop(None)


@pytest.fixture(scope="module")
def choice(shop):
    return make_choice(study_job(shop, load_job(job_path("example:short-scale-bass"), shop)))


@pytest.mark.slow
def test_a_part_priced_anew_turns_the_choice_where_it_was_told(shop, choice) -> None:
    settings_told = deeper(choice, Wanted(why=True)).settings
    told = next(s for s in settings_told if s.upgrade and s.high is not None)
    part = choice.study.costing.parts[told.upgrade].part
    assert told.then
    for cents, stays in ((told.high, True), (told.high + 1, False)):
        priced = replace(
            shop, parts={**shop.parts, part: replace(shop.parts[part], price=Decimal(cents) / 100)}
        )
        study = study_job(priced, choice.study.job)
        own = study.costing.estimate(choice.answer.chosen).totals.cost
        assert (make_choice(study).answer.objective == own) == stays


def cheapest_at(shop, job, cents: int, chosen: tuple[str, ...]) -> bool:
    """Whether a set is the cheapest (or as cheap) when the shop's own pay is another one."""
    study, least = best_at(shop, job, cents)
    return least == study.costing.estimate(chosen).totals.cost


def best_at(shop, job, cents: int):
    """The job priced at another own pay, and the least cost of its wish there (None: it cannot be met)."""
    priced = replace(shop, terms=replace(shop.terms, own_pay_per_hour=Decimal(cents) / 100))
    study = study_job(priced, job)
    return study, make_choice(study, explain=False).answer.objective


@pytest.mark.slow
@pytest.mark.parametrize("name", ["short-scale-bass", "resale-flip", "wide-open"])
def test_a_rate_range_is_true_to_the_cent_when_the_job_is_priced_anew(shop, name) -> None:
    """Both ends, and a cent beyond each: the whole job is priced and chosen again at those rates."""
    job = load_job(job_path(f"example:{'short-scale-bass' if name == 'wide-open' else name}"), shop)
    job = replace(job, budget=replace(job.budget, money=None, minutes=None))
    if name == "wide-open":
        job = replace(job, requirements=job.requirements[:1], kind="own")
    choice = make_choice(study_job(shop, job))
    told = deeper(choice, Wanted(why=True)).settings[0]
    chosen = deeper(choice, Wanted(why=True)).about
    assert (told.upgrade, told.now, told.exact) == ("", 3500, True)
    top = FARTHEST * told.now if told.high is None else told.high
    assert cheapest_at(shop, job, told.low, chosen)
    assert cheapest_at(shop, job, top, chosen)
    if told.low > 0:
        assert not cheapest_at(shop, job, told.low - 1, chosen)
        assert told.below
    if told.high is not None:
        assert not cheapest_at(shop, job, told.high + 1, chosen)
        # the set that takes over, unless beyond it none keeps what the sale will ever bring
        assert bool(told.then) == (best_at(shop, job, told.high + 1)[1] is not None)


def test_tool_grades_told_are_cheaper_by_plain_arithmetic(shop, choice) -> None:
    chosen = choice.answer.chosen
    told = tool_grades(choice.study, chosen)
    assert told
    lines = choice.estimate.lines
    for grade in told:
        tool = shop.tools[grade.tool]
        units = sum((u.quantity for line in lines for u in line.tools if u.id == tool.id), Decimal(0))
        cheap = units * tool.inexpensive_price / tool.inexpensive_life
        dear = units * tool.premium_price / tool.premium_life
        assert grade.charged == tool.default_grade != grade.cheapest.grade.name
        if not grade.payback.saved_minutes:
            assert abs(grade.payback.saved - (cheap - dear)) < Decimal("1e-9")
            assert (cheap > dear) == (grade.charged == "inexpensive")

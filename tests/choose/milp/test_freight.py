"""Where to buy, freight included: by hand, on a job of the shop, and engines on medium problems."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.study import make_choice, study_job
from estimator.choose.verify.choice import totals_of
from estimator.estimate.freight import cheapest_order
from estimator.model import Baskets, Good, ParcelFreight
from estimator.model.problem import CostPiece, Problem, Rule
from tests.choose.own_measure import measure_of
from tests.slow.choose.instances import ordered, typical

PICKUP = Good("pickup", 6000, (("house", 6000), ("specialist", 5700)), ("pickup",))
NUT = Good("nut", 1200, (("house", 1200), ("specialist", 1140)), ("nut",))
JACK = Good("jack", 300, (("house", 300),), ("jack",))
PARCELS = (ParcelFreight("house", 900, 7500), ParcelFreight("specialist", 1200))


def order(*goods: Good):
    return cheapest_order(Baskets((PICKUP, NUT, JACK), PARCELS), [(good, 1) for good in goods])


def test_one_parcel_rather_than_two() -> None:
    """3.00 saved on the pickup at the specialist does not pay a second parcel of 12.00."""
    told = order(PICKUP, JACK)
    assert [(line.good.what, line.supplier) for line in told.lines] == [
        ("pickup", "house"),
        ("jack", "house"),
    ]
    assert told.freight == (("house", 900),)
    assert told.extra == 900


def test_freight_falls_away_from_a_sum_on() -> None:
    """60.00 + 12.00 + 3.00 are 75.00 at the house: no freight, though each is cheaper elsewhere."""
    told = order(PICKUP, NUT, JACK)
    assert {line.supplier for line in told.lines} == {"house"}
    assert (told.freight, told.extra) == ((), 0)


def test_the_cheaper_supplier_where_its_parcel_pays() -> None:
    dear = replace(PICKUP, cents=30_000, offers=(("house", 30_000), ("specialist", 28_500)))
    told = cheapest_order(Baskets((dear,), PARCELS), [(dear, 1)])
    assert told.lines[0].supplier == "specialist"
    assert told.extra == 1200 - 1500


def test_nothing_wanted_costs_nothing() -> None:
    assert order().extra == 0
    assert order().lines == ()


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 5, 7])
def test_engines_agree_with_packs_and_freight(seed: int) -> None:
    problem = ordered(typical(40, seed), seed)
    one, other = (choose(problem, measure_of(problem), engine=e, explain=False) for e in ("highs", "cpsat"))
    assert (one.status, one.chosen, one.objective) == (other.status, other.chosen, other.objective)


def test_on_a_job_of_the_shop() -> None:
    """The order of the chosen set holds its parts and packs, and its money is in cost and cash."""
    from estimator.cli.common import job_path
    from estimator.input.job.load import load_job
    from estimator.tables.load import load_shop

    shop = load_shop(None)
    job = load_job(job_path("example:tight-commission"), shop)
    job = replace(job, budget=replace(job.budget, money=None, minutes=None))
    study = study_job(shop, job, "whole")
    choice = make_choice(study)
    chosen = choice.estimate.chosen
    told = study.costing.order_for(chosen)
    parts = {u for u in chosen if u in study.costing.parts}
    assert {line.good.what for line in told.lines} == parts | set(study.costing.packs_for(chosen))
    spent = sum(line.cents for line in told.lines) + sum(cents for _, cents in told.freight)
    listed = sum(line.number * line.good.cents for line in told.lines)
    money = choice.estimate.totals.money
    assert money.freight == spent - listed > 0
    without = replace(shop, planning=replace(shop.planning, suppliers={}))
    bare = study_job(without, job, "whole").costing.estimate(chosen).totals.money
    assert (money.cost - bare.cost, money.cash - bare.cash) == (money.freight, money.freight)


def needed(goods: tuple[Good, ...], *parcels: ParcelFreight) -> Problem:
    """A choice in which every one of the goods is required."""
    names = tuple(it.what for it in goods)
    parts = tuple(
        CostPiece(f"part:{it.what}", it.triggers, it.cents, it.cents, 0, 0, 0, 0.0, "", 0) for it in goods
    )
    rules = tuple(Rule(name, "required", name, upgrades=(name,)) for name in names)
    baskets = Baskets(goods, parcels)
    return Problem(names, (), (), (), parts, (), (), rules, 0.0, 0.0, 0.0, baskets=baskets)


@pytest.mark.parametrize("engine", ["highs", "cpsat"])
@pytest.mark.parametrize(("free_from", "freight"), [(None, 900), (7199, 0), (7200, 0), (7201, 900)])
def test_an_order_of_exactly_the_sum_goes_free(engine: str, free_from: int | None, freight: int) -> None:
    """60.00 + 12.00 at one house: freight below the sum, none from it on; choice and recheck say the same."""
    goods = tuple(replace(it, offers=(("house", it.cents),)) for it in (PICKUP, NUT))
    problem = needed(goods, ParcelFreight("house", 900, free_from))
    assert choose(problem, measure_of(problem), engine=engine, explain=False).objective == 7200 + freight
    assert totals_of(problem, ("pickup", "nut")).cost == 7200 + freight


@pytest.mark.parametrize("engine", ["highs", "cpsat"])
@pytest.mark.parametrize(("free_from", "cost"), [(7200, 7200), (7201, 1200 + 900 + 5700)])
def test_a_dearer_part_that_just_fills_the_parcel_is_bought(engine: str, free_from: int, cost: int) -> None:
    """The pickup is 3.00 cheaper elsewhere, post free; bought at the house it takes 9.00 of freight away."""
    goods = (
        replace(PICKUP, offers=(("house", 6000), ("other", 5700))),
        replace(NUT, offers=(("house", 1200),)),
    )
    problem = needed(goods, ParcelFreight("house", 900, free_from), ParcelFreight("other", 0))
    assert choose(problem, measure_of(problem), engine=engine, explain=False).objective == cost
    assert totals_of(problem, ("pickup", "nut")).cost == cost

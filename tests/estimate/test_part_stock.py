"""Pieces of a part in stock are shared by all upgrades that take the part: each of them serves once.

What a set costs in cash is reckoned here from the estimate of the same job without any stock, less the
pieces that are there: no code of the counting under test is used.
"""

from __future__ import annotations

import random
from decimal import Decimal
from itertools import combinations
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator import load_job, make_choice, make_estimate, study_job
from estimator.choose.study import Study
from estimator.choose.verify.choice import recheck, totals_of
from estimator.core.money import cents
from estimator.model import Job, Shop
from estimator.price.client.quote import ordered_parts, quote_for
from tests.choose.strategies import plain
from tests.shops import default_shop

PLACES = ("neck", "middle", "bridge")
SHOP = default_shop()
EACH = cents(SHOP.parts["single-standard"].price)


def job_with(folder: Path, upgrades: str, stock: str, rest: str = "", kind: str = "own") -> Job:
    path = folder / "job.toml"
    path.write_text(
        f'[job]\nid = "stocked"\nkind = "{kind}"\n[instrument]\nkind = "guitar-solid"\npu_neck = "single"\n'
        f'pu_middle = "single"\npu_bridge = "single"\n[upgrades]\n{upgrades}\n[stock]\n{stock}\n{rest}'
    )
    return load_job(path, SHOP)


def required(pickups: int) -> str:
    names = ", ".join(f'"{place}-pickup-single-standard"' for place in PLACES[:pickups])
    return f"required = [{names}]"


@pytest.mark.slow
@pytest.mark.parametrize("buying", ["share", "whole"])
@pytest.mark.parametrize("pickups", [1, 2, 3])
@pytest.mark.parametrize("there", ["0", "1", "1.5", "2", "5"])
def test_every_pickup_beyond_the_stock_is_paid(tmp_path: Path, pickups: int, there: str, buying: str) -> None:
    chosen = [f"{place}-pickup-single-standard" for place in PLACES[:pickups]]
    study, all_there = (
        study_job(SHOP, job_with(tmp_path, required(pickups), f"single-standard = {stock}"), buying)
        for stock in (there, "3")
    )
    one, other = (make_estimate(it, chosen).totals.money for it in (study, all_there))
    assert one.cash - one.freight - (other.cash - other.freight) == EACH * max(0, pickups - int(float(there)))
    assert one.parts == other.parts
    told = totals_of(study.problem, chosen)
    assert (told.cash, told.cost) == (one.cash, one.cost)
    choice = make_choice(study, aim="cash")
    assert choice.answer.status == "optimal"
    assert choice.answer.measure is not None
    assert choice.answer.measure.cash == choice.estimate.totals.money.cash <= one.cash


@pytest.mark.slow
@pytest.mark.parametrize(("pickups", "cash"), [(1, 1900), (2, 6900), (3, 11900)])
def test_one_piece_under_a_cash_limit(tmp_path: Path, pickups: int, cash: int) -> None:
    """19.00 of strings and the like; the one pickup in stock saves 50.00 once, not at every place."""
    budget = '[budget]\nmoney = 40\non = "cash"\n'
    free = make_choice(study_job(SHOP, job_with(tmp_path, required(pickups), "single-standard = 1")))
    assert free.estimate.totals.money.cash == cash
    held = make_choice(study_job(SHOP, job_with(tmp_path, required(pickups), "single-standard = 1", budget)))
    assert held.answer.status == ("optimal" if cash <= 4000 else "infeasible")


def test_what_must_be_ordered_for_a_quote(tmp_path: Path) -> None:
    chosen = [f"{place}-pickup-single-standard" for place in PLACES]

    def dues(stock: str) -> tuple[int, int]:
        study = study_job(SHOP, job_with(tmp_path, "", stock, kind="commission"))
        return ordered_parts(study, make_estimate(study, chosen)), quote_for(study, chosen).deposit

    none, one, all_three = dues(""), dues("single-standard = 1"), dues("single-standard = 3")
    assert all_three[0] == 0
    assert one[0] * 3 == none[0] * 2 > 0
    assert none[1] - one[1] == one[1] - dues("single-standard = 2")[1] == none[0] // 3


ROWS = {
    "neck-pickup-single": "single",
    "middle-pickup-single": "single",
    "bridge-pickup-single": "single",
    "neck-pickup-stack": "stack",
    "bridge-pickup-stack": "stack",
    "string-trees": "tree",
    "new-pots": "pot",
}
GRADES = ("economy", "standard", "premium")


def drawn(chance: random.Random, folder: Path) -> tuple[Job, dict[str, int], Job]:
    """A small job with some parts in stock, those parts, and the same job with nothing in stock.

    Rows of upgrades that must be done, each in two or three grades; more of the same grades are open.
    """
    must = chance.sample(list(ROWS), chance.randint(2, 4))
    places = {row.partition("-pickup")[0]: row for row in must}
    must = sorted(places.values())
    grades = {kind: chance.sample(GRADES, 2) for kind in ("single", "stack", "tree", "pot")}
    named = [f"{row}-{grade}" for row in must for grade in grades[ROWS[row]]]
    more = chance.choice([row for row in ROWS if row not in must])
    named.append(f"{more}-{grades[ROWS[more]][0]}")
    lists = f"open = {named}\nrequired = {must}".replace("'", '"')
    stock = {
        f"{kind}-{grade}": chance.randint(0, 3)
        for kind, some in grades.items()
        for grade in some
        if chance.random() < 0.7
    }
    text = "\n".join(f"{part} = {number}" for part, number in stock.items())
    return job_with(folder, lists, text), stock, job_with(folder, lists, "")


def cash_by_hand(bare: Study, chosen: tuple[str, ...], stock: dict[str, int]) -> int:
    """Cash of a set without freight: that of the job with nothing in stock, less every piece that is there."""
    estimate = make_estimate(bare, chosen)
    needed: dict[str, int] = {}
    for line in estimate.parts:
        needed[line.part] = needed.get(line.part, 0) + int(line.quantity)
    saved = sum(min(number, stock.get(part, 0)) * price(SHOP, part) for part, number in needed.items())
    return estimate.totals.money.cash - estimate.totals.money.freight - saved


def price(shop: Shop, part: str) -> int:
    return cents(shop.parts[part].price)


@pytest.mark.slow
@pytest.mark.parametrize("buying", ["share", "whole"])
@pytest.mark.parametrize("seed", range(12))
def test_small_jobs_with_parts_in_stock_equal_brute_force(tmp_path: Path, seed: int, buying: str) -> None:
    chance = random.Random(seed)
    job, stock, without = drawn(chance, tmp_path)
    study, bare = (study_job(SHOP, it, buying) for it in (job, without))
    every = [
        chosen
        for number in range(len(study.problem.options) + 1)
        for chosen in combinations(sorted(study.problem.options), number)
        if not recheck(study.problem, chosen, 0)
    ]
    cash, cost = {}, {}
    for chosen in every:
        money = make_estimate(study, chosen).totals.money
        told, searched = totals_of(study.problem, chosen), plain(study.problem, chosen)
        assert money.cash - money.freight == cash_by_hand(bare, chosen, stock)
        assert (told.cash, told.cost) == (searched.cash, searched.cost) == (money.cash, money.cost)
        cash[chosen], cost[chosen] = money.cash, money.cost
    answer = make_choice(study, aim="cash").answer
    assert answer.measure is not None
    assert answer.measure.cash == min(cash.values())
    # the limit lies a cent under the cash of the set that is cheapest in cost
    chosen = min(cost, key=lambda it: (cost[it], cash[it]))
    limit = cash[chosen] - 1
    within = [it for it in every if cash[it] <= limit]
    budget = replace(job.budget, money=Decimal(limit) / 100, on="cash")
    found = make_choice(study_job(SHOP, replace(job, budget=budget), buying), explain=False).answer
    assert found.status == ("optimal" if within else "infeasible")
    if within:
        assert found.measure is not None
        assert found.measure.cost == min(cost[it] for it in within)
        assert found.measure.cash <= limit

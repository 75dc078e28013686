"""Strings in stock: what is sold like a part by the piece is bought only beyond the stock, and once.

What a set lays out is reckoned here from the estimate of the same job with nothing in stock, less the
strings of its work lines, plus whole sets beyond the stock: no code of the counting under test is used.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Mapping
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from itertools import combinations
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator import load_job, make_choice, make_estimate, study_job
from estimator.choose.study import Study
from estimator.choose.verify.choice import recheck, totals_of
from estimator.choose.verify.rows import Rows
from estimator.core.money import cents
from estimator.model import Job, Shop
from estimator.report.record import as_data
from estimator.report.records.work import Part, parts_of
from tests.choose.strategies import plain
from tests.shops import default_shop

SHOP = default_shop()
STRINGS = "c-strings-guitar"
A_SET = 700
BUSHING = "c-tuner-bushing"


def job_with(folder: Path, stock: str = "", upgrades: str = "", holes: str = "") -> Job:
    path = folder / "job.toml"
    path.write_text(
        f'[job]\nid = "stocked"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n{holes}'
        f"[upgrades]\n{upgrades}\n[stock]\n{stock}\n"
    )
    return load_job(path, SHOP)


@pytest.mark.slow
@pytest.mark.parametrize("buying", ["share", "whole"])
@pytest.mark.parametrize(("there", "saved"), [("0.5", 0), ("1", A_SET), ("1.5", A_SET), ("10", A_SET)])
def test_a_set_in_stock_is_not_paid_and_is_charged_all_the_same(
    tmp_path: Path, there: str, saved: int, buying: str
) -> None:
    job = job_with(tmp_path, f"{STRINGS} = {there}")
    assert job.issues == ()
    study, bare = (study_job(SHOP, it, buying) for it in (job, job_with(tmp_path)))
    one, other = (make_estimate(it, ["set-up"]).totals for it in (study, bare))
    assert other.money.cash - other.money.freight - (one.money.cash - one.money.freight) == saved
    assert (one.money.parts, one.money.price_parts) == (other.money.parts, other.money.price_parts)
    assert one.price == other.price


def own_shop(each: str) -> Shop:
    """The shop with guitar strings that cost so much a set."""
    strings = replace(SHOP.consumables[STRINGS], price=Decimal(each) * 10)
    return replace(SHOP, consumables={**SHOP.consumables, STRINGS: strings})


def cash_by_hand(bare: Study, chosen: Collection[str], stock: Mapping[str, Decimal]) -> int:
    """Cash without freight: with nothing in stock, less what the lines charge for it, and whole ones beyond the stock."""
    estimate = make_estimate(bare, chosen)
    cash = estimate.totals.money.cash - estimate.totals.money.freight
    for name, there in stock.items():
        if there < 1:
            continue
        uses = [use for line in estimate.lines for use in line.consumables if use.id == name]
        item = bare.shop.consumables[name]
        cash -= sum(cents(use.cost) for use in uses)
        needed = (
            sum((use.quantity.quantize(Decimal("0.001"), ROUND_HALF_UP) for use in uses), Decimal(0)) - there
        )
        number = max(0, int(needed.to_integral_value(ROUND_CEILING)))
        cash += number * cents(item.price / item.units_per_pack)
    return cash


TAKERS = (
    "set-up",
    "new-strings",
    "new-tuners-economy",
    "new-tuners-standard",
    "clean-controls",
    "adjust-nut",
)


def drawn(chance: random.Random, folder: Path) -> tuple[Job, Job, Shop, dict[str, Decimal]]:
    """A small job that takes strings and bushings, with a stock of them, without, its shop, and the stock."""
    shop = own_shop(chance.choice(("7.00", "6.665", "12.34")))
    lists = f"open = {chance.sample(TAKERS, chance.randint(3, 5))}".replace("'", '"')
    must = chance.choice(("", 'required = ["new-strings"]', 'required = ["set-up"]'))
    lists += f"\n{must}" if must and must[13:-2] in lists else ""
    stock = {
        STRINGS: Decimal(chance.choice(("0.5", "1", "1", "1.5", "2"))),
        BUSHING: Decimal(chance.choice(("0", "1", "4", "6", "9"))),
    }
    text = "\n".join(f"{name} = {number}" for name, number in stock.items())
    holes = chance.choice(("", "tuner_hole_d = 11\n", "tuner_hole_d = 11\n"))
    job, bare = (job_with(folder, it, lists, holes=holes) for it in (text, ""))
    return job, bare, shop, stock


@pytest.mark.slow
@pytest.mark.parametrize("buying", ["share", "whole"])
@pytest.mark.parametrize("seed", range(8))
def test_small_jobs_with_strings_in_stock_equal_brute_force(tmp_path: Path, seed: int, buying: str) -> None:
    chance = random.Random(seed)
    job, without, shop, stock = drawn(chance, tmp_path)
    study, bare = (study_job(shop, it, buying) for it in (job, without))
    rows = Rows(shop, study.job, {v.upgrade.id: v for v in study.verdicts}, packs_in_cost=buying == "whole")
    every = [
        chosen
        for number in range(len(study.problem.options) + 1)
        for chosen in combinations(sorted(study.problem.options), number)
        if not recheck(study.problem, chosen, 0)
    ]
    assert len(every) > 2
    cash, cost = {}, {}
    for chosen in every:
        money = make_estimate(study, chosen).totals.money
        told, searched = totals_of(study.problem, chosen), plain(study.problem, chosen)
        assert money.cash - money.freight == cash_by_hand(bare, chosen, stock)
        assert (told.cash, told.cost) == (searched.cash, searched.cost) == (money.cash, money.cost)
        assert rows.totals(chosen).cash == money.cash - money.freight
        # freight is due for the same things: what is there never makes a set dearer
        assert money.freight == make_estimate(bare, chosen).totals.money.freight
        cash[chosen], cost[chosen] = money.cash, money.cost
    answer = make_choice(study, aim="cash", explain=False).answer
    assert answer.measure is not None
    assert answer.measure.cash == min(cash.values())
    # the limit lies a cent under the cash of a set drawn
    limit = max(0, cash[chance.choice(every)] - 1)
    within = [it for it in every if cash[it] <= limit]
    budget = replace(job.budget, money=Decimal(limit) / 100, on="cash")
    found = make_choice(study_job(shop, replace(job, budget=budget), buying), explain=False).answer
    assert found.status == ("optimal" if within else "infeasible")
    if within:
        assert found.measure is not None
        assert found.measure.cost == min(cost[it] for it in within)
        assert found.measure.cash <= limit


def test_strings_in_stock_are_marked(tmp_path: Path) -> None:
    def told(stock: str) -> dict[str, object]:
        study = study_job(SHOP, job_with(tmp_path, stock))
        parts = parts_of(study, make_estimate(study, ["set-up"]))
        return next(as_data(Part(it)) for it in parts if it.line.part == STRINGS)

    assert told("")["from_stock"] == 0
    assert told(f"{STRINGS} = 3")["from_stock"] == 1
    assert told(f"{STRINGS} = 3")["cost"] == told("")["cost"] == "7.00"

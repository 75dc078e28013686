"""The work of selling is that of the way to sell: what it leaves out is in no figure of the job.

The generator holds every way and limit against sums over the printed lines of work, written out here.
"""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import pytest
from msgspec.structs import replace

from estimator import study_job
from estimator.choose.study import Study, make_choice, make_choice_of
from estimator.choose.verify.choice import recheck
from estimator.model import Job, Shop
from estimator.price.donor.offer import make_offer
from estimator.price.resale.compare import Proceeds, proceeds, resale_plans, ways_to_sell
from tests.price.jobs import SOUND, resale_job
from tests.shops import default_shop

SENT = {"pack-instrument", "ship-parcel"}
#: few enough to look at every set, one of them met by a wish
FEW = ("new-jack-economy", "clean-controls", "polish-body", "set-up", "new-knobs-standard")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def dead_jack(shop: Shop, way: str = "", limit: str = 'money = 20\non = "cash"') -> Job:
    more = f"""papers = true\njack_state = "dead"\ncorrosion = "clean"
[wish.require]
output-jack = 3
[budget]
{limit}"""
    named = f'way = "{way}"' if way else ""
    return resale_job(shop, "C", 500, 60, more=more, open_=("new-jack",), resale=named)


def tasks_of(study: Study, chosen: tuple[str, ...] = ()) -> set[str]:
    return {line.task for line in study.costing.estimate(chosen).lines}


@pytest.mark.parametrize("way", ["local", "consignment", ""])
def test_no_limit_counts_a_parcel_that_is_not_sent(shop: Shop, way: str) -> None:
    """Without a way named it is the first of the table: sold here, nothing is packed."""
    study = study_job(shop, dead_jack(shop, way))
    choice = make_choice(study, "cost")
    assert choice.answer.status == "optimal"
    assert choice.answer.chosen == ("new-jack-economy",)
    assert choice.answer.measure is not None
    assert choice.answer.measure.cash == 250
    assert not SENT & tasks_of(study)
    best = {plan.name: plan.proceeds for plan in resale_plans(study)}["profit"]
    assert best.chosen == ("new-jack-economy",)
    assert make_offer(study).plan.chosen == ("new-jack-economy",)


def test_a_parcel_that_is_sent_counts_in_the_limits(shop: Shop) -> None:
    choice = make_choice(study_job(shop, dead_jack(shop, "auction")), "cost")
    assert choice.answer.status == "infeasible"


def left_by_the_lines(study: Study, p: Proceeds) -> int:
    """Cents left, from the price, what is printed of the sale, and the printed lines of work and parts."""
    told = study.costing.estimate(p.chosen)
    work = sum(line.money.cost for line in told.lines) + sum(part.cost for part in told.parts)
    hours = p.minutes - sum(line.minutes + line.setup + line.rework + line.allowance for line in told.lines)
    removed = sum(minutes for _, _, minutes in p.removed)
    own = [hours - removed, *(minutes for _, _, minutes in p.removed)]
    time = sum((2 * minutes * p.pay + 6000) // 12000 for minutes in own)
    return p.price - p.fees - p.fixed + p.brought - work - time


def test_every_way_is_compared_with_its_own_work(shop: Shop) -> None:
    """Each line of the comparison is what the same job says that names this way, and adds up from its lines."""
    for own in ("", "auction"):
        study = study_job(shop, dead_jack(shop, own, "money = 900"))
        for p in ways_to_sell(study, ("new-jack-economy",)):
            there = study_job(shop, dead_jack(shop, p.way, "money = 900"))
            assert p == proceeds(there, p.chosen)
            assert p.profit == left_by_the_lines(there, p)
            assert set(shop.resale.ways[p.way].drops) & tasks_of(there, p.chosen) == set()
            assert (tasks_of(there, p.chosen) >= SENT) == (p.way in ("marketplace", "auction"))


def drawn(shop: Shop, rng: random.Random) -> Job:
    way = rng.choice(("", *shop.resale.ways))
    limit = rng.choice(
        (
            "",
            f'money = {rng.randint(0, 60)}\non = "cash"',
            f'money = {rng.randint(60, 260)}\non = "cost"',
            f"hours = {rng.randint(90, 420) / 100}",
        )
    )
    more = SOUND + (f"[budget]\n{limit}" if limit else "")
    resale = "\n".join((f'way = "{way}"' if way else "", f"travel_min = {rng.choice((0, 35))}"))
    tier, base = rng.choice((("B", 190), ("C", 420), ("D", 800)))
    return resale_job(
        shop, tier, base, rng.randint(0, 300), more=more, resale=resale, open_=tuple(rng.sample(FEW, 3))
    )


def kept(study: Study, job: Job, chosen: tuple[str, ...]) -> bool:
    """Whether a set keeps the limit of the job by the sums of its own lines."""
    told, budget = study.costing.estimate(chosen), job.budget
    if budget.minutes is not None:
        spent = sum(line.minutes + line.setup + line.rework + line.allowance for line in told.lines)
        return spent <= int(budget.minutes * 100)
    if budget.money is None:
        return True
    spent = sum(line.money.cost for line in told.lines) + sum(part.cost for part in told.parts)
    return (told.totals.money.cash if budget.on == "cash" else spent) <= int(budget.money * 100)


@pytest.mark.slow
def test_ways_and_limits_against_every_set(shop: Shop) -> None:
    rng = random.Random(41)
    held = denied = 0
    for number in range(14):
        job = drawn(shop, rng)
        study = study_job(shop, job)
        aim = rng.choice(("cost", "profit", "hourly", "cash"))
        options = study.problem.options
        free = replace(study.problem, rules=tuple(r for r in study.problem.rules if r.kind == "refused"))
        sets = [
            chosen
            for n in range(len(options) + 1)
            for chosen in itertools.combinations(options, n)
            if not recheck(free, chosen, 0) and kept(study, job, chosen)
        ]
        way = shop.resale.ways[job.sale.way or next(iter(shop.resale.ways))]
        for chosen in rng.sample(sets, min(2, len(sets))):
            assert set(way.drops).isdisjoint(tasks_of(study, chosen)), number
            assert proceeds(study, chosen).profit == left_by_the_lines(study, proceeds(study, chosen))
            make_choice_of(study, chosen)  # held against the rows of the tables
        answer = make_choice(study, aim, explain=False).answer
        if not sets:
            denied += 1
            assert answer.status == "infeasible", number
            continue
        held += 1
        assert answer.status == "optimal", number
        assert answer.chosen in sets, number
        assert figure(study, aim, answer.chosen) == min(figure(study, aim, c) for c in sets), number
    assert held >= 6
    assert denied >= 1


def figure(study: Study, aim: str, chosen: tuple[str, ...]) -> object:
    """What the aim makes small: by the hour the money lost where no hour can be paid for is the tests' beside."""
    told = study.costing.estimate(chosen)
    if aim == "cash":
        return told.totals.money.cash
    if aim == "cost":
        return sum(line.money.cost for line in told.lines) + sum(part.cost for part in told.parts)
    p = proceeds(study, chosen)
    if aim == "profit":
        return -left_by_the_lines(study, p)
    return by_the_hour(left_by_the_lines(study, p) - p.paid, p.minutes)


def by_the_hour(gain: int, minutes: int) -> tuple[int, object]:
    """By the hour where something is gained; below that by the money lost, after all that gains."""
    return (0, -Fraction(gain, minutes)) if gain >= 0 else (1, -gain)

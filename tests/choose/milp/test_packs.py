"""Whole packs: by hand, on jobs of the shop, and laws. Brute force over them is in ``test_exact``."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.sale.dominance import pruned
from estimator.choose.study import make_choice, study_job
from estimator.choose.verify.choice import totals_of
from estimator.estimate.packs import packs_bought
from estimator.model import Packs
from tests.choose.examples import piece, two_bridges
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, stepped_price, subsets, with_packs

some = settings(max_examples=60, deadline=None, derandomize=True)


def test_packs_by_hand() -> None:
    """Filler in packs of 100: 60 for a, 50 more for b, 30 less when c does it another way."""
    packs = Packs("filler", 1200, 100, 0, ((("a",), 60), (("b",), 50), (("c",), -30)))
    counts = {s: packs_bought(packs, s) for n in range(4) for s in combinations("abc", n) if s != ("c",)}
    assert counts == {
        (): 0,
        ("a",): 1,
        ("b",): 1,
        ("a", "b"): 2,
        ("a", "c"): 1,
        ("b", "c"): 1,
        ("a", "b", "c"): 1,
    }
    stocked = replace(packs, stock=60)
    assert [packs_bought(stocked, s) for s in ("a", "b", "ab")] == [0, 0, 1]


def test_a_second_pack_turns_the_choice() -> None:
    """By share the tremolo's filler is 40 cents dearer and it wins; whole, it opens a pack of 12.00."""
    problem = replace(
        two_bridges(),
        rules=(replace(two_bridges().rules[0], least=30),),
        pieces=(*two_bridges().pieces, piece("dearer", ("bridge",), 1500)),
    )
    fill = Packs("filler", 1200, 100, 0, ((("tremolo",), 10),), True)
    assert choose(problem, measure_of(problem)).chosen == ("block", "tremolo")
    whole = replace(problem, packs=(fill,))
    assert choose(whole, measure_of(whole)).chosen == ("bridge",)
    covered = replace(problem, packs=(replace(fill, stock=10),))
    assert choose(covered, measure_of(covered)).chosen == ("block", "tremolo")


@pytest.mark.slow
@some
@given(with_packs(), st.integers(0, 30))
def test_more_stock_is_never_dearer(problem, more) -> None:
    ampler = replace(problem, packs=tuple(replace(p, stock=p.stock + more) for p in problem.packs))
    one, two = (
        choose(p, measure_of(p, stepped_price), STEPPED, aim="cash", explain=False) for p in (problem, ampler)
    )
    if one.status == "optimal":
        assert two.status == "optimal"
        assert two.objective <= one.objective


@pytest.mark.slow
@some
@given(with_packs())
def test_recheck_and_estimate_count_the_same_packs(problem) -> None:
    measure = measure_of(problem)
    for it in subsets(problem):
        told, plain = measure(it.chosen), totals_of(problem, it.chosen)
        assert (told.cost, told.cash, told.consumables) == (plain.cost, plain.cash, plain.consumables)
        assert (it.cost, it.cash) == (plain.cost, plain.cash)


@pytest.fixture(scope="module")
def shop():
    from estimator.tables.load import load_shop

    return load_shop(None)


@pytest.fixture(scope="module")
def job(shop):
    """The shielded guitar of the examples, without its budget."""
    from estimator.cli.common import job_path
    from estimator.input.job.load import load_job

    job = load_job(job_path("example:tight-commission"), shop)
    return replace(job, budget=replace(job.budget, money=None, minutes=None))


@pytest.mark.slow
def test_on_a_job_of_the_shop_estimate_and_programme_agree(shop, job) -> None:
    share, whole = (make_choice(study_job(shop, job, buying), "cost") for buying in ("share", "whole"))
    assert share.answer.status == whole.answer.status == "optimal"
    bought = whole.study.costing.packs_for(whole.estimate.chosen)
    paid = sum(p.cents * bought.get(p.consumable, 0) for p in whole.study.costing.packs)
    assert bought
    money = whole.estimate.totals.money
    assert whole.answer.objective == money.cost
    assert (
        sum(
            getattr(money, h)
            for h in ("parts", "consumables", "tools", "labour", "overhead", "reserve", "freight")
        )
        == money.cost
    )
    # the set chosen by share, bought whole, is no cheaper than the one chosen whole; and whole is dearer
    named = whole.study.costing.estimate(share.estimate.chosen).totals
    assert money.cost <= named.cost
    assert share.estimate.totals.cost < money.cost
    # cash does not depend on how the packs count in cost, but for the freight
    alike = share.study.costing.estimate(whole.estimate.chosen).totals.money
    assert alike.cash == money.cash - money.freight
    by_use = sum(
        (use.cost for line in whole.estimate.lines for use in line.consumables if use.id in bought),
        Decimal(0),
    )
    # whole packs stand in the place of the shares: the difference is what is left over in them
    assert abs(money.consumables - alike.consumables - (paid - by_use * 100)) <= len(whole.estimate.lines)


@pytest.mark.slow
def test_stock_takes_packs_off_the_cost(shop, job) -> None:
    study = study_job(shop, job, "whole")
    chosen = make_choice(study).estimate.chosen
    names = study.costing.packs_for(chosen)
    stocked = replace(job, stock={**job.stock, **dict.fromkeys(names, Decimal(10_000))})
    rich = study_job(shop, stocked, "whole").costing.estimate(chosen).totals.money
    poor = study.costing.estimate(chosen).totals.money
    paid = sum(p.cents * names.get(p.consumable, 0) for p in study.costing.packs)
    assert paid > 0
    saved = paid + poor.freight - rich.freight
    assert (poor.cost - rich.cost, poor.cash - rich.cash) == (saved, saved)


def test_nothing_is_pruned_where_packs_count_in_cost(shop) -> None:
    from estimator.cli.common import job_path
    from estimator.input.job.load import load_job

    job = load_job(job_path("example:resale-flip"), shop)
    job = replace(job, budget=replace(job.budget, money=None, minutes=None))
    share, whole = (study_job(shop, job, buying).problem for buying in ("share", "whole"))
    assert len(pruned(share).options) < len(share.options)
    assert pruned(whole) == whole

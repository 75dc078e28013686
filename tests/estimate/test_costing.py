"""The estimate of any set, even one that could not be done: totals are the sums of its lines, whatever is chosen and in whatever order."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import load_job, make_estimate, study_job
from estimator.choose.study import Study
from estimator.core.errors import InputError
from estimator.model import MONEY_FIELDS, Money
from tests.shops import default_shop

EXAMPLES = Path(__file__).parent.parent.parent / "example_jobs"


@cache
def study(name: str) -> Study:
    shop = default_shop()
    return study_job(shop, load_job(EXAMPLES / f"{name}.toml", shop))


def some_sets(name: str) -> st.SearchStrategy[list[str]]:
    ids = [v.upgrade.id for v in study(name).verdicts]
    return st.lists(st.sampled_from(ids), max_size=12, unique=True)


@settings(max_examples=60, deadline=None)
@given(chosen=some_sets("tight-commission"))
def test_money_is_the_sum_of_lines_and_parts(chosen: list[str]) -> None:
    priced = study("tight-commission").costing.estimate(chosen)
    money = Money()
    for line in priced.lines:
        money = money + line.money
    for part in priced.parts:
        money = money + Money(parts=part.cost, price_parts=part.price)
    for name in MONEY_FIELDS:
        if name != "cash":
            assert getattr(priced.totals.money, name) == getattr(money, name), name


@settings(max_examples=60, deadline=None)
@given(chosen=some_sets("resale-flip"))
def test_minutes_are_the_sum_of_lines(chosen: list[str]) -> None:
    totals = study("resale-flip").costing.estimate(chosen).totals
    lines = study("resale-flip").costing.estimate(chosen).lines
    assert totals.attended == sum(line.minutes + line.setup for line in lines)
    assert totals.reserve_min == sum(line.rework + line.allowance for line in lines)
    assert totals.unattended == sum(line.wait for line in lines)
    assert totals.expected <= totals.p80


@settings(max_examples=40, deadline=None)
@given(chosen=some_sets("short-scale-bass"), data=st.data())
def test_the_order_of_a_set_does_not_matter(chosen: list[str], data: st.DataObject) -> None:
    shuffled = data.draw(st.permutations(chosen))
    costing = study("short-scale-bass").costing
    assert costing.estimate(chosen) == costing.estimate(shuffled)


@settings(max_examples=40, deadline=None)
@given(chosen=some_sets("tight-commission"))
def test_work_at_a_place_is_done_once_for_the_largest_demand(chosen: list[str]) -> None:
    """A set's line never takes less than any of its upgrades would need there alone, unless it is needless."""
    lifts = [
        row
        for v in study("tight-commission").verdicts
        if v.upgrade.id in chosen
        for row in v.upgrade.needless
    ]
    whole = {
        (line.task, line.place): line.minutes
        for line in study("tight-commission").costing.estimate(chosen).lines
    }
    for one in chosen:
        for line in study("tight-commission").costing.estimate([one]).lines:
            if not any(row.covers(line.task, line.place) for row in lifts):
                assert whole[line.task, line.place] >= line.minutes
    assert len(whole) == len(study("tight-commission").costing.estimate(chosen).lines)


def test_shared_work_makes_two_cheaper_than_their_sum() -> None:
    of = study("tight-commission")
    nothing = make_estimate(of, []).totals.cost
    nut = make_estimate(of, ["ready-cut-nut-slippery-nut"]).totals.cost - nothing
    setup = make_estimate(of, ["set-up"]).totals.cost - nothing
    both = make_estimate(of, ["ready-cut-nut-slippery-nut", "set-up"]).totals.cost - nothing
    assert max(nut, setup) < both < nut + setup


def test_client_desk_work_is_shown_but_not_billed() -> None:
    priced = make_estimate(study("tight-commission"), [])
    assert {line.task for line in priced.lines} == {"quick-look"}
    assert "client-intake" in {line.task for line in priced.desk}
    assert priced.totals.desk == sum(line.minutes + line.setup for line in priced.desk)


def test_desk_work_counts_on_own_instruments() -> None:
    priced = make_estimate(study("resale-flip"), [])
    assert "list-and-answer-buyers" in {line.task for line in priced.lines}
    assert priced.totals.desk == 0


def test_unknown_upgrades_are_named() -> None:
    with pytest.raises(InputError, match="set-upp"):
        make_estimate(study("resale-flip"), ["set-upp"])

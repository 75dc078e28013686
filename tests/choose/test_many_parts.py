"""A shop with very many parts of its own: what bars each other grows with the parts and not with their square, and
what is told of faults is what each upgrade costs by itself."""

from __future__ import annotations

import random
from itertools import chain, combinations, product
from types import MappingProxyType

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.faults import faults_found
from estimator.choose.milp.constraints import barred
from estimator.choose.study import Study, study_job
from estimator.choose.verify.choice import clashes, totals_of
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.tables.toml.text import parse_toml
from tests.shops import default_shop as the_shop

TEXT = """[job]
id = "one"
kind = "resale"
[instrument]
template = "{template}"
tier = "C"
base_clean = 400
{faults}
"""
FAULTS = 'nut_state = "cracked"\njack_state = "dead"\ntuner_play = 60\nsaddle_state = "stuck-screws"\npot_state = "dead"'


def with_more_parts(times: int) -> Shop:
    """The default shop with every part so many times, each at a price of its own."""
    shop, draw = the_shop(), random.Random(times)
    parts = dict(shop.parts)
    for number, part in product(range(1, times), shop.parts.values()):
        name = f"{part.id}-{number}"
        price = part.price + draw.randint(1, 9)
        parts[name] = replace(part, id=name, variant=f"{part.variant}-{number}", price=price)
    return replace(shop, parts=MappingProxyType(parts))


def study_of(times: int, template: str) -> Study:
    shop = with_more_parts(times)
    text = TEXT.format(template=template, faults=FAULTS)
    return study_job(shop, job_from(parse_toml(text.encode(), "one.toml"), shop))


@pytest.mark.parametrize("template", ["guitar-6-two-post", "guitar-6-hardtail", "bass-4-split"])
def test_what_a_mend_costs_is_what_the_whole_problem_says(template: str) -> None:
    study = study_of(3, template)
    problem = study.problem
    found = faults_found(study)
    assert {fault.id for fault in found} >= {"cracked-nut", "dead-jack", "wide-tuner-play"}
    nothing = totals_of(problem, ()).cost
    seen = 0
    for fault in found:
        costs = []
        for upgrade in fault.mends:
            assert study.verdict(upgrade).upgrade.id == upgrade
            if any(owner == upgrade for owner, _ in problem.prerequisites):
                continue
            assert clashes(problem, (upgrade,)) == []
            costs.append(totals_of(problem, (upgrade,)).cost - nothing)
        if costs and fault.mends[0] not in {owner for owner, _ in problem.prerequisites}:
            assert fault.cost == costs[0]
            seen += len(costs)
    assert seen > 20


def test_rows_of_what_bars_each_other_grow_with_the_parts_alone() -> None:
    found = {}
    for times in (1, 4):
        problem = study_of(times, "guitar-6-two-post").problem
        pairs, groups = problem.conflicts, barred(problem.slots, problem.conflicts)
        said = {frozenset(pair) for one, other in groups for pair in product(one, other)}
        assert said == {frozenset(pair) for pair in pairs}
        found[times] = len(pairs), len(groups)
    assert found[4][0] > 8 * found[1][0]
    assert found[4][1] <= 4 * found[1][1]


@st.composite
def slots_and_pairs(draw: st.DrawFn) -> tuple[dict[str, tuple[str, ...]], list[tuple[str, str]]]:
    names = [f"u{number}" for number in range(draw(st.integers(2, 8)))]
    at = {name: draw(st.sampled_from(["a", "b", "c", ""])) for name in names}
    slots = {slot: tuple(n for n in names if at[n] == slot) for slot in "abc"}
    pairs = draw(st.lists(st.sampled_from(list(combinations(names, 2))), max_size=14, unique=True))
    turned = [pair[::-1] if draw(st.booleans()) else pair for pair in pairs]
    return {slot: group for slot, group in slots.items() if len(group) > 1}, turned


@given(slots_and_pairs())
def test_groups_bar_what_their_pairs_bar_and_nothing_else(
    drawn: tuple[dict[str, tuple[str, ...]], list[tuple[str, str]]],
) -> None:
    """Every set that keeps to the slots, by brute force."""
    slots, pairs = drawn
    groups = barred(slots.items(), pairs)
    assert all(len({*ones, *others}) == len(ones) + len(others) for ones, others in groups)
    names = sorted({*chain.from_iterable(slots.values()), *chain.from_iterable(pairs)})
    for size in range(len(names) + 1):
        for chosen in map(set, combinations(names, size)):
            if any(len(chosen & set(group)) > 1 for group in slots.values()):
                continue
            allowed = not any(one in chosen and other in chosen for one, other in pairs)
            assert allowed == all(len(chosen & {*ones, *others}) <= 1 for ones, others in groups)

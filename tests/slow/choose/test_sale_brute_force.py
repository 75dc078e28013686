"""Profit and profit by the hour against the plain search over all subsets, to the cent.

The search works the sale out by itself, from the words of ``choose/sale.py`` and the price formula:
min(ceiling, standing + sum of uplifts, largest first, each damped - losses), less fees, less cost.
"""

from __future__ import annotations

import os
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.sale.dominance import pruned
from estimator.choose.verify.sale import sold
from estimator.model.problem import Problem
from estimator.model.sale_problem import Loss, Removed, Sale, Standing, Uplift
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, Plain, allowed, plain, stepped_price, with_packs

CASES = int(os.environ.get("ESTIMATOR_CASES", "120"))
slow = settings(
    max_examples=CASES,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
ONE = Decimal(1)


def half_up(value: Decimal) -> int:
    return int(value.quantize(ONE, ROUND_HALF_UP))


def money_of(problem: Problem, it: Plain) -> tuple[int, int, dict[str, object]]:
    """(profit, minutes, what happened) of one subset, written out once more."""
    sale, on = problem.sale, set(it.chosen)
    assert sale is not None
    standing = sale.standing.value
    for grade in sale.better:
        if all(it.levels[a] >= need for a, need in grade.needs):
            standing = max(standing, grade.value)
    groups: dict[str, int] = {}
    for uplift in sale.uplifts:
        if all(on & set(clause) for clause in uplift.clauses):
            groups[uplift.group] = max(groups.get(uplift.group, 0), uplift.value)
    total = standing
    for rank, value in enumerate(sorted(groups.values(), reverse=True)):
        for _ in range(rank):
            value = half_up(value * sale.damping)
        total += value
    losses: dict[str, int] = {}
    for loss in sale.losses:
        if on & set(loss.given_by):
            losses[loss.group] = max(losses.get(loss.group, 0), loss.value)
    total -= sum(losses.values())
    price = max(0, min(sale.ceiling, total))
    left = half_up(Decimal(price) * (10_000 - sale.fee_basis_points) / 10_000)
    profit = left - sale.fixed - it.cost
    # half up on a whole number of minutes x pay, upward also below zero
    profit -= (2 * sale.extra_minutes * sale.pay + 6000) // 12000
    minutes = it.expected + sale.extra_minutes
    for item in sale.removed:
        if on & set(item.given_by):
            profit += item.value - (2 * item.minutes * sale.pay + 6000) // 12000
            minutes += item.minutes
    told = {
        "capped": total > sale.ceiling,
        "uplifts": len(groups),
        "zero": total < 0,
        "losses": bool(losses),
    }
    return profit, minutes, told


@st.composite
def resale_problems(draw, most_options: int = 7) -> Problem:
    problem = draw(with_packs(most_options))
    few = st.lists(st.sampled_from(problem.options), min_size=1, max_size=2, unique=True).map(tuple)
    base = draw(st.sampled_from((3_000, 9_000, 17_550, 32_000)))
    uplifts = tuple(
        Uplift(
            f"u{i}",
            draw(st.sampled_from("abcdef")),
            f"thing {i}",
            draw(st.sampled_from((0, 1, 333, 700, 1234, 1750, 2600, 4100, 5005))),
            tuple(draw(st.lists(few, min_size=1, max_size=2))),
        )
        for i in range(draw(st.integers(0, 7)))
    )
    names = [s.attribute for s in problem.scales]
    better = tuple(
        Standing(
            f"grade {i}",
            base * share // 100,
            tuple((name, draw(st.sampled_from((10, 20, 30)))) for name in names if draw(st.booleans())),
        )
        for i, share in enumerate((106, 100, 85))
        if draw(st.booleans())
    )
    losses = tuple(
        Loss(
            f"l{i}", draw(st.sampled_from("xy")), "less", draw(st.sampled_from((200, 900, 6_000))), draw(few)
        )
        for i in range(draw(st.integers(0, 2)))
    )
    removed = tuple(
        Removed(
            f"r{i}",
            "old part",
            draw(st.sampled_from((0, 1_500, 2_222))),
            draw(st.sampled_from((0, 2_000))),
            draw(few),
        )
        for i in range(draw(st.integers(0, 2)))
    )
    sale = Sale(
        "local",
        base,
        base * draw(st.sampled_from((100, 105, 115, 130))) // 100,
        Standing("as it is", base * draw(st.sampled_from((20, 55, 72, 100))) // 100),
        better,
        uplifts,
        losses,
        removed,
        draw(st.sampled_from((Decimal("0.7"), Decimal("0.5"), Decimal("0.95")))),
        draw(st.sampled_from((0, 819, 1350, 4500))),
        draw(st.sampled_from((0, 49, 7_500))),
        draw(st.sampled_from((4_500, 9_137))),
        draw(st.sampled_from((3_500, 0, 1_234))),
        draw(st.sampled_from((0, 6_000))),
    )
    return replace(problem, sale=sale)


def tie_key(it: Plain) -> tuple[object, ...]:
    return (len(it.chosen), it.expected, it.chosen)


@pytest.mark.slow
@slow
@given(resale_problems())
def test_profit_equals_search_over_all_subsets(problem):
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED, aim="profit", explain=False)
    sets = allowed(problem)
    if not sets:
        assert answer.status == "infeasible"
        return
    best = max(money_of(problem, it)[0] for it in sets)
    wanted = min((it for it in sets if money_of(problem, it)[0] == best), key=tie_key)
    told = money_of(problem, wanted)[2]
    event(f"ceiling bites: {told['capped']}")
    event(f"uplifts: {told['uplifts']}")
    assert answer.status == "optimal"
    assert answer.chosen == wanted.chosen
    assert sold(problem, answer.chosen).profit == best == answer.objective


@pytest.mark.slow
@slow
@given(resale_problems(6))
def test_hourly_equals_search_over_all_subsets(problem):
    answer = choose(problem, measure_of(problem, stepped_price), STEPPED, aim="hourly", explain=False)
    sets = allowed(problem)
    if not sets:
        assert answer.status == "infeasible"
        return

    def rate(it: Plain) -> Fraction:
        profit, minutes, _ = money_of(problem, it)
        return Fraction(profit - problem.sale.paid, minutes)

    # where no set earns, the one that loses least, however few its hours
    losing = max(rate(it) for it in sets) < 0

    def worth(it: Plain) -> Fraction:
        return Fraction(money_of(problem, it)[0]) if losing else rate(it)

    most = max(worth(it) for it in sets)
    wanted = min((it for it in sets if worth(it) == most), key=tie_key)
    best = rate(wanted)
    event(f"none earns: {losing}")
    event(f"ceiling bites: {money_of(problem, wanted)[2]['capped']}")
    assert answer.status == "optimal"
    assert answer.chosen == wanted.chosen
    assert sold(problem, answer.chosen).rate == best
    assert answer.none_earns == losing
    # told as cents earned an hour: the wanted pay and what is left over it
    assert abs(answer.objective - (problem.sale.pay + best * 6000)) <= Fraction(1, 2)


@pytest.mark.slow
@slow
@given(resale_problems(), st.data())
def test_plain_arithmetic_of_a_sale(problem, data):
    chosen = tuple(sorted(data.draw(st.sets(st.sampled_from(problem.options)))))
    it = plain(problem, chosen)
    held = sold(problem, chosen)
    assert (held.profit, held.minutes) == money_of(problem, it)[:2]


@pytest.mark.slow
@settings(max_examples=20, deadline=None, derandomize=True)
@pytest.mark.parametrize("engine", ["cbc", "cpsat"])
@given(problem=resale_problems(6))
def test_other_engines_agree_on_profit(engine, problem):
    measure = measure_of(problem, stepped_price)
    one = choose(problem, measure, STEPPED, aim="profit", engine="highs", explain=False)
    other = choose(problem, measure, STEPPED, aim="profit", engine=engine, explain=False)
    assert (one.status, one.chosen, one.objective) == (other.status, other.chosen, other.objective)


@pytest.mark.slow
@slow
@given(resale_problems())
def test_pruning_keeps_the_best_profit(problem):
    kept = tuple(r for r in problem.rules if r.kind in ("level", "required", "refused") or r.on == "cost")
    problem = replace(problem, rules=kept)
    fewer = pruned(problem)
    event(f"left out: {len(problem.options) - len(fewer.options)}")
    before = [money_of(problem, it)[0] for it in allowed(problem)]
    after = [money_of(fewer, it)[0] for it in allowed(fewer)]
    assert max(before, default=None) == max(after, default=None)

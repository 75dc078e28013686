"""Laws that hold whatever the numbers: rates, spares, investments, sale prices."""

from __future__ import annotations

import itertools
from decimal import Decimal
from fractions import Fraction
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.core.errors import InputError
from estimator.estimate.risk.spare_blanks import pieces_for
from estimator.estimate.tools.buy_rent_send import ToolWay, cash_of, cheaper_to, compare_ways, payback
from estimator.estimate.uplift import damped, ranked
from estimator.price.client.hourly_rate import build_rate, hourly

D = Decimal
DAMPING = D("0.7")
seen = settings(max_examples=150, deadline=None, derandomize=True)
shares = st.integers(1, 99).map(lambda n: D(n) / 100)


@seen
@given(st.integers(1, 200_000), shares, shares)
def test_fewer_billed_hours_never_a_lower_rate(total: int, one: Decimal, other: Decimal) -> None:
    few, many = sorted((one, other))
    rate = (
        build_rate({"draw": D(total)}, D(46), D(40), few),
        build_rate({"draw": D(total)}, D(46), D(40), many),
    )
    assert rate[0].break_even >= rate[1].break_even
    assert rate[0].rounded >= rate[1].rounded
    assert hourly(D(total), rate[0].billed) >= hourly(D(total), rate[1].billed)
    assert rate[0].rounded >= rate[0].break_even - 1


def test_no_hours_no_rate() -> None:
    with pytest.raises(InputError, match="no hour is billed"):
        hourly(D(1000), D(0))


@seen
def surety_of(pieces: int, good: int, bad: Fraction) -> Fraction:
    """P(Binomial(pieces, 1 - bad) >= good), exactly."""
    ends = (comb(pieces, k) * (1 - bad) ** k * bad ** (pieces - k) for k in range(good, pieces + 1))
    return sum(ends, Fraction(0))


@given(
    st.integers(0, 12),
    st.integers(0, 70).map(lambda n: Fraction(n, 100)),
    st.integers(1, 99).map(lambda n: Fraction(n, 100)),
)
def test_pieces_are_enough_and_one_less_is_not(good: int, failure: Fraction, wanted: Fraction) -> None:
    spares = pieces_for(good, failure, wanted)
    assert surety_of(spares.pieces, good, failure) == spares.surety >= min(wanted, Fraction(1))
    if spares.pieces > good:
        assert surety_of(spares.pieces - 1, good, failure) < wanted
    assert [r.pieces for r in spares.rows] == list(range(good, spares.pieces + 1))


@pytest.mark.slow
@seen
@given(
    st.lists(st.integers(0, 30_000), max_size=6), st.sampled_from((D("0.7"), D("0.5"), D("0.9"), D(1), D(0)))
)
def test_largest_first_is_the_best_of_all_orders(values: list[int], damping: Decimal) -> None:
    best = max(
        sum(ranked(v, len(order), damping)[k] for k, v in enumerate(order))
        for order in itertools.permutations(values)
    )
    assert sum(counts for _, counts in damped(values, damping)) == best


@seen
@given(st.lists(st.integers(0, 30_000), max_size=7))
def test_stepwise_rounding_stays_within_two_cents_of_the_power(values: list[int]) -> None:
    for rank, (value, counts) in enumerate(damped(values, DAMPING)):
        assert abs(counts - value * Fraction(7, 10) ** rank) <= Fraction(5, 3)


ways = st.builds(
    ToolWay,
    st.just("w"),
    st.just("w"),
    st.integers(0, 50_000),
    st.one_of(st.none(), st.integers(1, 60).map(Fraction)),
    st.integers(0, 9_000),
    st.integers(0, 30_000),
)


@seen
@given(ways, ways, st.integers(0, 7_500))
def test_payback_and_the_jobs_up_to_which_it_is_cheaper(one: ToolWay, other: ToolWay, rate: int) -> None:
    """From the job of payback on it never costs more; up to the other job it always costs less."""
    most = 40 if one.life is None or not one.price else min(40, max(1, one.life.__floor__()))
    more = [cash_of(one, n, rate) - cash_of(other, n, rate) for n in range(1, most + 1)]
    held = [n for n in range(1, most + 1) if all(m <= 0 for m in more[n - 1 :])]
    assert payback(one, other, rate, 40) == (held[0] if held else None)
    less = [n for n in range(1, most + 1) if all(m < 0 for m in more[:n])]
    assert cheaper_to(one, other, rate, 40) == (less[-1] if less else 0)


@pytest.mark.slow
@seen
@given(st.lists(ways, min_size=1, max_size=4), st.integers(1, 30), st.integers(0, 7_500))
def test_ways_come_cheapest_first(some: list[ToolWay], jobs: int, rate: int) -> None:
    costs = compare_ways(some, jobs, rate)
    assert len(costs) == len(some)
    assert [c.cost for c in costs] == sorted(c.cost for c in costs)
    for c in costs:
        assert c.cost - (c.cash + c.time) in {-1, 0, 1}  # one rounding against two
        assert 0 <= c.tied_up <= c.tools * c.way.price <= c.cash
        assert not (c.cheaper_to and c.payback)
        if c.way is not some[0] and jobs <= c.cheaper_to:
            assert cash_of(c.way, jobs, rate) < cash_of(some[0], jobs, rate)

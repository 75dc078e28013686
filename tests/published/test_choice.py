"""Published optima through the public function, each in the form of "cheapest set that meets every line"."""

from __future__ import annotations

import pytest

from estimator.choose.choose import choose
from estimator.model.problem import Amount, Giver, Problem, Rule
from tests.choose.examples import piece
from tests.choose.own_measure import measure_of
from tests.slow.choose.instances import cover

# 0-1 knapsacks collected by J. Burkardt, Florida State University (labels from memory): capacity,
# weights, profits, optimum. The cover form leaves out what the knapsack does not hold.
KNAPSACKS = {
    "P01": (
        165,
        [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
        [92, 57, 49, 68, 60, 43, 67, 84, 87, 72],
        309,
    ),
    "P02": (26, [12, 7, 11, 8, 9], [24, 13, 23, 15, 16], 51),
    "P03": (190, [56, 59, 80, 64, 75, 17], [50, 50, 64, 46, 50, 5], 150),
    "P04": (50, [31, 10, 20, 19, 4, 3, 6], [70, 20, 39, 37, 7, 5, 10], 107),
    "P06": (170, [41, 50, 49, 59, 55, 57, 60], [442, 525, 511, 593, 546, 564, 617], 1735),
    "P07": (
        750,
        [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
        [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
        1458,
    ),
}

# Steiner triple systems as covers: D. R. Fulkerson, G. L. Nemhauser, L. E. Trotter, "Two computationally
# difficult set covering problems that arise in computing the 1-width of incidence matrices of Steiner
# triple systems", Mathematical Programming Study 2, 1974, 72-81: the one of order 9 needs 5.
STEINER_9 = "234 135 126 567 468 459 189 279 378 147 258 369"


@pytest.mark.parametrize("name", KNAPSACKS)
def test_knapsacks(name):
    capacity, weights, profits, optimum = KNAPSACKS[name]
    problem = cover(profits, [weights], [capacity])
    answer = choose(problem, measure_of(problem))
    assert answer.status == "optimal"
    assert answer.objective == sum(profits) - optimum


@pytest.mark.parametrize("engine", ["highs", "cbc", "cpsat"])
def test_steiner_triples_of_order_9(engine):
    names = tuple(f"u{n}" for n in range(1, 10))
    triples = STEINER_9.split()
    problem = Problem(
        names,
        (),
        (),
        (),
        tuple(piece(n, (n,), 1) for n in names),
        (),
        tuple(Amount(t, 0, tuple(Giver(1, (f"u{d}",)) for d in t), False) for t in triples),
        tuple(Rule(t, "amount", f"one of {t}", t, 1) for t in triples),
        0.0,
        0.0,
        0.0,
    )
    answer = choose(problem, measure_of(problem), engine=engine)
    assert (answer.status, answer.objective) == ("optimal", 5)


def test_budget_need_not_be_spent():
    """The knapsack P06 holds 169 of 170: no rule may force the rest to be used."""
    capacity, weights, profits, _ = KNAPSACKS["P06"]
    problem = cover(profits, [weights], [capacity])
    left_out = choose(problem, measure_of(problem)).chosen
    held = [w for n, w in enumerate(weights, 1) if f"i{n:03d}" not in left_out]
    assert sum(held) == 169

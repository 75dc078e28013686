"""Among equally good sets: fewer upgrades, then fewer minutes, then the alphabet."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.model.problem import Giver, Problem, Rule, Scale, Source
from tests.choose.examples import piece
from tests.choose.own_measure import measure_of

NAMES = tuple(f"u{n:02d}" for n in range(40))


def equals(minutes=lambda name: 100, cost=lambda name: 500, wanted: int = 30) -> Problem:
    """Forty upgrades that each add a level of one; three are needed."""
    return Problem(
        NAMES,
        (),
        (),
        (),
        tuple(piece(n, (n,), cost(n), minutes(n)) for n in NAMES),
        (Scale("a", 0, (), tuple(Giver(10, (n,)) for n in NAMES), ()),),
        (),
        (Rule(Source.WISH, "level", "a at least level 3", "a", wanted, of="a"),),
        0.0,
        0.0,
        0.0,
    )


@pytest.mark.parametrize("engine", ["highs", "cbc", "cpsat"])
def test_the_alphabet_decides_last(engine):
    problem = equals()
    answer = choose(problem, measure_of(problem), engine=engine)
    assert answer.chosen == ("u00", "u01", "u02")
    assert answer.unique is True


def test_fewer_minutes_before_the_alphabet():
    problem = equals(minutes=lambda name: 100 if name in ("u07", "u21", "u39", "u38") else 101)
    answer = choose(problem, measure_of(problem))
    assert answer.chosen == ("u07", "u21", "u38")


def test_fewer_upgrades_before_fewer_minutes():
    problem = equals()
    strong = replace(problem.scales[0], tos=(Giver(30, ("u39",)),))
    dear = tuple(replace(p, cost=1500, minutes=90_000) if p.id == "u39" else p for p in problem.pieces)
    answer = choose(
        replace(problem, scales=(strong,), pieces=dear), measure_of(replace(problem, pieces=dear))
    )
    assert answer.objective == 1500
    assert answer.chosen == ("u39",)


def test_an_upgrade_that_costs_nothing_and_does_nothing_is_left_out():
    problem = equals(cost=lambda name: 0, minutes=lambda name: 0)
    answer = choose(problem, measure_of(problem))
    assert (answer.objective, answer.chosen) == (0, ("u00", "u01", "u02"))


def test_a_single_best_set_takes_two_solves():
    problem = equals(cost=lambda name: 500 + int(name[1:]))
    answer = choose(problem, measure_of(problem))
    assert (answer.chosen, answer.unique, answer.rounds) == (("u00", "u01", "u02"), True, 2)

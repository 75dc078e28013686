"""The gate of every answer, each of its checks on its own: plain arithmetic over a record typed by hand."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from estimator.choose.infeasible.ways_out import change_to
from estimator.choose.verify.choice import amounts_reached, clashes, levels_reached, recheck
from estimator.core.amounts import Cents
from estimator.model.problem import Amount, CostPiece, Giver, Problem, Rule, Scale, Source
from tests.choose.own_measure import measure_of


def piece(name: str, cost: int, minutes: int = 0, mass: int = 0) -> CostPiece:
    return CostPiece(f"part:{name}", (name,), cost, cost, cost, 0, minutes, 0.0, "", mass)


SOUND = Problem(
    options=("a", "b", "c", "d"),
    slots=(("one-place", ("a", "b")),),
    prerequisites=(("c", ("a", "b")),),
    conflicts=(("a", "d"),),
    pieces=(piece("a", 100, 60), piece("b", 200), piece("c", 50, mass=30), piece("d", 10)),
    scales=(Scale("shine", 10, (Giver(30, ("a",)),), (Giver(10, ("c",)),), ()),),
    amounts=(Amount("weight", 1000, (Giver(-500, ("b",)),), True),),
    rules=(),
    z_minutes=0.0,
    z_price=0.0,
    shared_cause=0.2,
)


@pytest.mark.parametrize(
    ("chosen", "said"),
    [
        (("a", "b"), "slot one-place"),
        (("c",), "needs one of a, b"),
        (("a", "d"), "cannot stand together"),
        (("z",), "not open to choice"),
    ],
)
def test_what_cannot_be_together_is_found(chosen: tuple[str, ...], said: str) -> None:
    (breach,) = clashes(SOUND, chosen)
    assert said in breach
    assert breach in [one.words for one in recheck(SOUND, chosen)]


def test_what_can_be_together_passes() -> None:
    for chosen in ((), ("a",), ("b",), ("d",), ("a", "c"), ("b", "c", "d")):
        assert recheck(SOUND, chosen) == []


@pytest.mark.parametrize(
    ("rule", "keeps", "breaks"),
    [
        (Rule("r", "level", "shine 3", "shine", least=30), ("a",), ("b",)),
        (Rule("r", "amount", "weight", "weight", most=600), ("b",), ("a",)),
        (Rule("r", "money", "cost", most=100, on="cost"), ("a",), ("b",)),
        (Rule("r", "money", "cash", most=100, on="cash"), ("a",), ("b",)),
        (Rule("r", "money", "price", most=150, on="price"), ("a",), ("b",)),
        (Rule("r", "minutes", "time", most=59), ("b",), ("a",)),
        (Rule("r", "required", "a in", upgrades=("a",)), ("a",), ("b",)),
        (Rule("r", "refused", "a out", upgrades=("a",)), ("b",), ("a",)),
    ],
)
def test_every_kind_of_rule_is_held(rule: Rule, keeps: tuple[str, ...], breaks: tuple[str, ...]) -> None:
    problem = replace(SOUND, rules=(rule,))
    price = {("a",): 100, ("b",): 200}
    assert recheck(problem, keeps, price[keeps]) == []
    assert [one.rule for one in recheck(problem, breaks, price[breaks])] == ["r"]


@pytest.mark.parametrize(("asked", "left"), [(150, 90), (40, 0)])
def test_a_limit_of_which_tools_take_some_is_told_as_it_was_asked(asked: int, left: int) -> None:
    """Of what tools take more than all of, nothing is left, and what was asked is told all the same."""
    rule = Rule(Source.BUDGET, "money", "cost", most=left, on="cost", tools=Cents(60), asked=asked)
    (breach,) = recheck(replace(SOUND, rules=(rule,)), ("b",))
    assert breach.words == f"cost: comes to 2.60 of {asked / 100:.2f}"
    change = change_to(SOUND, rule, ("b",), measure_of(SOUND)(("b",)))
    assert (change.to, change.words) == (260, "raise the limit to 2.60 (now: cost)")


def test_levels_and_amounts_by_hand() -> None:
    assert levels_reached(SOUND, ("a", "c")) == {"shine": 40}
    assert levels_reached(SOUND, ("c",)) == {"shine": 20}
    # 1.0 - 0.5, and 3.0 g of the piece: tenths of a gram in, thousandths out
    assert amounts_reached(SOUND, ("b", "c")) == {"weight": 1000 - 500 + 3000}

"""What is used up beyond the most of a fee is in the lower bound on the price: few questions, the same answer."""

from __future__ import annotations

from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.measure import PriceBound
from estimator.model.problem import Problem, Rule, Source
from tests.choose.examples import piece
from tests.choose.own_measure import measure_of
from tests.choose.strategies import RATE

NAMES = tuple(f"u{number}" for number in range(16))
#: sixteen kinds of the same work: each takes longer than the one before, and uses up less
LIKE = Problem(
    options=NAMES,
    slots=(("finish", NAMES),),
    prerequisites=(),
    conflicts=(),
    pieces=tuple(
        piece(name, (name,), 1000, 3010 + 20 * number, consumables=9000 - 300 * number)
        for number, name in enumerate(NAMES)
    ),
    scales=(),
    amounts=(),
    rules=(Rule(Source.REQUIRED, "required", "a finish is required", upgrades=tuple(NAMES), of="finish"),),
    z_minutes=0.0,
    z_price=0.0,
    shared_cause=0.2,
)


def small_quote(minutes: int, parts: int, consumables: int, work: int = 0, line_tax: int = 0) -> int:
    """Minutes to the hundredth, and what is used up beyond 25.00."""
    return minutes * RATE // 100 + max(0, consumables - 2500) + parts + work + line_tax


BOUND = PriceBound(constant=-1, per_minute=RATE, per_part=1.0, price=small_quote)


def test_fewer_questions_and_the_same_answer() -> None:
    found = [
        choose(LIKE, measure_of(LIKE, small_quote), bound, aim="price", explain=False)
        for bound in (BOUND, replace(BOUND, fee_from=2500))
    ]
    prices = {name: measure_of(LIKE, small_quote)((name,)).price for name in NAMES}
    assert [answer.objective for answer in found] == [min(prices.values())] * 2
    assert found[0].chosen == found[1].chosen
    assert found[1].rounds * 2 < found[0].rounds, [answer.rounds for answer in found]

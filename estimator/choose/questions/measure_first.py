"""What to measure first of a chosen set, at a glance: chance that the assumption is wrong x what that moves.

The set is held and priced anew with each value; whether another set would then be the best is what
``measure_next`` looks into, which takes many seconds more.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from msgspec import Struct

from estimator.choose.study import Study
from estimator.core.amounts import Cents
from estimator.estimate.risk.look_ahead import assumed_bars
from estimator.tables.likely import chance_wrong

LEAST = 50
"""Cents of worth below which a value says too little to be measured first (memory)."""


class First(Struct, frozen=True):
    """A value to measure: what it is, how, and by how many cents the cost of the set moves if it is otherwise.

    ``chance``: the odds that it is, as a fraction; ``worth``, their product in cents, is what the list is ordered by.
    """

    field: str
    what: str
    how: str
    moves: Cents
    chance: Decimal

    @property
    def worth(self) -> Decimal:
        """What it is worth to measure it, in cents."""
        return self.chance * self.moves


MOST = 3
"""Values that are told at the most."""


def measure_first(study: Study, chosen: Collection[str]) -> tuple[First, ...]:
    """The ``MOST`` values worth most, the most first; none where nothing that is assumed moves the cost."""
    cost = study.costing.estimate(chosen).totals.cost
    found = []
    for bar in assumed_bars(study.costing, chosen):
        spec = study.shop.intake[bar.name]
        moves = max(abs(bar.low_cents - cost), abs(bar.high_cents - cost))
        first = First(bar.name, spec.what, spec.how, moves, chance_wrong(spec))
        if first.worth >= LEAST:
            found.append(first)
    return tuple(sorted(found, key=lambda one: (-one.worth, one.field))[:MOST])

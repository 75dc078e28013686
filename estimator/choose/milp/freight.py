"""The freight of one parcel as rows of a programme: the same for one job's order and for a batch's."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.milp.linear import STRUCTURE, Linear, Model, total_of


def parcel_cost(
    model: Model, bought: Sequence[tuple[Linear, int, int]], freight: int, free_from: int | None
) -> Linear:
    """Freight in cents: due when anything is in the parcel, none from a sum on (None: never).

    ``bought``: how many of a thing are in it, the most that can be, and the cents for one.
    """
    sent = Linear({model.column("o"): 1})
    for here, most, _ in bought:
        model.add(sent.times(most).add(here, -1), 0, None, STRUCTURE)
    cost = sent.times(freight)
    basket = total_of((here, asked) for here, _, asked in bought)
    if free_from is not None and model.bounds(basket)[1] >= free_from:
        free = Linear({model.column("g"): 1})
        model.add(sent.copy().add(free, -1), 0, None, STRUCTURE)
        model.add(basket.add(free, -free_from), 0, None, STRUCTURE)
        cost.add(free, -freight)
    return cost

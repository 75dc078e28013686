"""The score of an upgrade set as a sum of columns: one literal for each step of each attribute.

A literal may be 1 only if the attribute stands that high, so the sum is exact wherever it is
wanted large: as an aim, or with a lower limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd

from estimator.choose.milp.constraints import amount_of
from estimator.choose.milp.levels import Levels
from estimator.choose.milp.linear import STRUCTURE, Linear
from estimator.choose.milp.variables import Columns
from estimator.model.problem import Problem, Scale, Weight


def points(item: Weight, level: int) -> int:
    """Thousandths of a point for a level in tenths: weight x min(1, level / wanted), half up."""
    return (2 * item.weight * min(level, item.wanted) + item.wanted) // (2 * item.wanted)


def score_of(columns: Columns, levels: Levels, weights: Sequence[Weight]) -> Linear:
    """The score in thousandths of a point, held from above."""
    total = Linear()
    scales = {scale.attribute for scale in columns.problem.scales}
    for item in weights:
        if not item.weight or item.wanted <= 0:
            continue
        level_steps = item.attribute in scales
        steps = _steps(columns.problem, item) if level_steps else range(10, 10 * len(item.limits) + 1, 10)
        before, earlier = 0, None
        for step in steps:
            gain = points(item, step) - points(item, before)
            if not gain:
                continue
            literal = Linear({columns.model.column("r"): 1})
            if earlier is not None:
                columns.model.add(literal.copy().add(earlier, -1), None, 0, STRUCTURE)
            if level_steps:
                levels.require(item.attribute, step, STRUCTURE, literal)
            else:
                _amount_reached(columns, item, step // 10, literal)
            total.add(literal, gain)
            before, earlier = step, literal
    return total


def _steps(problem: Problem, item: Weight) -> list[int]:
    """Every level up to the wanted one at which the attribute can stand, in tenths, going up."""
    scales = {scale.attribute: scale for scale in problem.scales}
    grain = _grain(scales, item.attribute)
    return [*range(grain, item.wanted, grain), item.wanted] if grain else [item.wanted]


def _grain(scales: dict[str, Scale], attribute: str) -> int:
    """What all levels of an attribute are multiples of; 40 always is one of them."""
    scale = scales[attribute]
    grain = gcd(40, scale.base, *(g.value for g in (*scale.tos, *scale.adds, *scale.caps)))
    grain = gcd(grain, *(fault.value for fault in scale.holds))
    for other, plus in scale.limits:
        grain = gcd(grain, plus, _grain(scales, other))
    return grain


def _amount_reached(columns: Columns, item: Weight, step: int, literal: Linear) -> None:
    """The amount meets the limit of a step when the literal is 1."""
    total = amount_of(columns, item.attribute)
    limit = item.limits[step - 1]
    if item.better == "less":
        total, limit = total.times(-1), -limit
    least = columns.model.bounds(total)[0]
    if least < limit:
        columns.model.add(total.add(literal, least - limit), least, None, STRUCTURE)

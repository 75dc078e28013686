"""The cheapest way through sanding grits from one surface to another.

Sizes are average grain diameters in micrometres, by grade, from ``grits.csv``. Two systems, not to be
mixed: P grades (FEPA, ISO 6344) and CAMI / ANSI grades. They agree up to about 220 and part above it:
CAMI 400 is about P800.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from estimator.model import Shop

Sizes = Mapping[int, float]


def sizes_of(shop: Shop, system: str = "p") -> dict[int, float]:
    """Micrometres by grade of one system, ``p`` or ``cami``; KeyError for another."""
    return {grade: float(size) for grade, size in shop.craft.grits[system].items()}


def nearest_grade(micrometres: float, sizes: Sizes) -> int:
    """The grade whose grain size is nearest, by ratio."""
    return min(sizes, key=lambda g: (max(sizes[g] / micrometres, micrometres / sizes[g]), g))


@dataclass(frozen=True, slots=True)
class Sanding:
    """What a step of sanding costs.

    A grit has to cut away what the coarser one left, and cuts the slower the finer it is, so a step
    takes ``minutes_per_cm2`` x (size before / size now)^``power`` on each cm2 and uses up abrasive in
    the same proportion: a jump twice as wide takes four times as long. ``change_minutes``: new sheet,
    wiping, looking. That skipping grits costs more than it saves is common practice; the figures of
    the law are for demonstration.
    """

    minutes_per_cm2: float = 0.005
    power: float = 2.0
    change_minutes: float = 1.0
    sheet_money_per_cm2: float = 0.0004


@dataclass(frozen=True, slots=True)
class GritPath:
    """Grits in the order of use with minutes and money of the whole way."""

    grits: tuple[int, ...]
    minutes: float
    cost: float


def step_minutes(before: float, now: float, area_cm2: float, sanding: Sanding) -> float:
    """Minutes from a surface left by grain ``before`` to one left by ``now`` (both um)."""
    work = float((before / now) ** sanding.power)
    return sanding.change_minutes + area_cm2 * sanding.minutes_per_cm2 * work


def step_cost(before: float, now: float, area_cm2: float, sanding: Sanding, rate_per_hour: float) -> float:
    """Labour and abrasive of one step, in money."""
    abrasive = area_cm2 * sanding.sheet_money_per_cm2 * float((before / now) ** sanding.power)
    return step_minutes(before, now, area_cm2, sanding) * rate_per_hour / 60.0 + abrasive


def cheapest_sequence(
    start: int,
    end: int,
    area_cm2: float,
    rate_per_hour: float,
    sizes: Sizes,
    sanding: Sanding | None = None,
) -> GritPath:
    """The cheapest grits from a surface left by ``start`` to one left by ``end``: a shortest path.

    The grades are taken from coarse to fine, so each needs to be looked at once. ValueError where a
    grade is unknown or ``end`` is coarser than ``start``.
    """
    for grit in (start, end):
        if grit not in sizes:
            raise ValueError(f"no grade {grit}; known are {', '.join(map(str, sizes))}")
    if end < start:
        raise ValueError(f"grade {end} is coarser than {start}: sanding goes from coarse to fine")
    law = sanding or Sanding()
    grades = [g for g in sorted(sizes) if start <= g <= end]
    best: dict[int, tuple[float, tuple[int, ...]]] = {start: (0.0, ())}
    for now in grades[1:]:
        best[now] = min(
            (
                cost + step_cost(sizes[before], sizes[now], area_cm2, law, rate_per_hour),
                (*path, now),
            )
            for before, (cost, path) in best.items()
        )
    cost, path = best[end]
    return GritPath(path, path_minutes(start, path, area_cm2, sizes, law), cost)


def path_minutes(start: int, path: Sequence[int], area_cm2: float, sizes: Sizes, sanding: Sanding) -> float:
    """Minutes of a given way through the grits."""
    steps = zip((start, *path), path, strict=False)
    return sum(step_minutes(sizes[before], sizes[now], area_cm2, sanding) for before, now in steps)

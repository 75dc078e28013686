"""Tool-life law where speed is a choice: Taylor's V T^n = C, and what it makes a piece cost.

V cutting speed, T life in minutes at that speed, n and C constants of tool and work (F. W. Taylor,
"On the Art of Cutting Metals", 1907; memory). Speeds in any one unit; money in any one unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi


@dataclass(frozen=True, slots=True)
class Taylor:
    """V T^n = C: exponent ``n`` (0 < n < 1 as a rule) and constant ``c`` in the unit of speed."""

    n: float
    c: float

    def life(self, speed: float) -> float:
        """Minutes of life at a speed: (C / V)^(1 / n)."""
        if speed <= 0:
            raise ValueError("a tool that does not move has no life to speak of: speed above nought")
        return float((self.c / speed) ** (1.0 / self.n))

    def speed(self, life: float) -> float:
        """The speed that gives so many minutes of life: C / T^n."""
        if life <= 0:
            raise ValueError("a tool life lies above nought")
        return float(self.c / life**self.n)


def life_ratio(n: float, speed_ratio: float) -> float:
    """By what factor life changes when speed changes by ``speed_ratio``; C cancels out."""
    return float(speed_ratio ** (-1.0 / n))


def fit_taylor(first: tuple[float, float], second: tuple[float, float]) -> Taylor:
    """The law through two (speed, life) points: n = ln(V1 / V2) / ln(T2 / T1).

    ValueError where the points have the same life or the slower one does not last longer.
    """
    (v1, t1), (v2, t2) = first, second
    if t1 == t2 or v1 == v2 or (v1 - v2) * (t1 - t2) > 0:
        raise ValueError("two points of a tool life: the slower speed must last longer")
    n = log(v1 / v2) / log(t2 / t1)
    return Taylor(n, v1 * t1**n)


def cheapest_life(n: float, change_minutes: float, edge_cost: float, cost_per_minute: float) -> float:
    """Minutes of life at which a piece costs least: (1 / n - 1)(t_c + C_edge / C_minute).

    Change of the tool in minutes, cost of an edge, cost of a bench minute in the same money.
    """
    return (1.0 / n - 1.0) * (change_minutes + edge_cost / cost_per_minute)


@dataclass(frozen=True, slots=True)
class Turning:
    """One cut along a round piece and what the bench and the edge cost.

    ``diameter`` and ``length`` mm, ``feed`` mm per turn, times in minutes, money in one unit.
    """

    diameter: float
    length: float
    feed: float
    handling_minutes: float
    change_minutes: float
    cost_per_minute: float
    edge_cost: float

    def cutting_minutes(self, speed: float) -> float:
        """pi D L / (1000 v f), speed in m/min."""
        return pi * self.diameter * self.length / (1000.0 * speed * self.feed)

    def piece_cost(self, law: Taylor, speed: float) -> float:
        """Bench time of handling and cutting, and the piece's share of changes and edges."""
        cut = self.cutting_minutes(speed)
        edges = cut / law.life(speed)
        bench = self.cost_per_minute * (self.handling_minutes + cut + edges * self.change_minutes)
        return bench + edges * self.edge_cost

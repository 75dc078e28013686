"""Monte Carlo of a list of work: the whole distribution of its minutes and of its cost.

Times: each line is drawn from the curve of its own reading (``draws``). What the lines share (a bad
day, a worse instrument than thought) is one normal draw per trial that enters every line: line i gets
z_i = sqrt(c) common + sqrt(1 - c) own, so that any two lines are correlated by the shop's
``shared_cause`` c (exactly for symmetric readings, a few thousandths less for skewed ones). Set-up
has no spread.

Rework: each chance of going wrong strikes or not, with the line's odds, and costs its minutes and
material when it does. Hidden faults: the allowance, a mean, is drawn as a fault that is there in one
job of two (memory) and is then of exponential size. Without ``events`` both stand at their means,
which is what the closed form assumes.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, sqrt
from typing import TYPE_CHECKING

from msgspec import Struct

from estimator.core.amounts import Cents, Hundredths
from estimator.estimate.risk.distributions import Z90, Spread, beta_points, spread_of
from estimator.estimate.three_point import HIDDEN_FAULT_CHANCE
from estimator.model import Shop, WorkLine

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

DRAWS = 100_000
SEED = 20_250_101
POINTS = (10.0, 50.0, 80.0, 90.0, 95.0)
#: trials worked on at a time: a block of sixty lines stays in the processor's cache
BLOCK = 2048


class Quantile(Struct, frozen=True):
    """A point of a distribution: ``percent`` of trials stay at or below ``value``; its standard error."""

    percent: float
    value: float
    error: float


class Distribution(Struct, frozen=True):
    """Mean, spread and points of simulated values with the standard errors of mean and points."""

    mean: float
    mean_error: float
    sd: float
    points: tuple[Quantile, ...]

    def at(self, percent: float) -> float:
        """The value of one of the points; KeyError if it was not asked for."""
        for point in self.points:
            if point.percent == percent:
                return point.value
        raise KeyError(percent)


class Simulation(Struct, frozen=True):
    """Distributions of hands-on minutes and of cost (in cents) over so many trials."""

    draws: int
    seed: int
    minutes: Distribution
    cost: Distribution


def simulate_work(
    lines: Sequence[WorkLine],
    shop: Shop,
    rate_per_hour: float,
    fixed_cents: Cents = Cents(0),
    *,
    draws: int = DRAWS,
    seed: int = SEED,
    events: bool = True,
) -> Simulation:
    """Simulate work lines; cost = fixed cents + minutes at the hourly rate + material of rework.

    ``rate_per_hour`` is what an hour costs (wage and overhead), ``fixed_cents`` everything that does
    not depend on time: parts and wear. Set-up lines (no run) may be among the lines.
    """
    if draws < 100:
        raise ValueError("a simulation needs at least 100 trials")
    minutes, material = draw_minutes(lines, float(shop.terms.shared_cause), draws, seed, events)
    cost = fixed_cents + minutes * (rate_per_hour * 100.0 / 60.0) + material * 100.0
    return Simulation(draws, seed, describe(minutes), describe(cost))


def draw_minutes(
    lines: Sequence[WorkLine], shared_cause: float, draws: int, seed: int, events: bool
) -> tuple[Floats, Floats]:
    """Hands-on minutes and material of rework (money) of each trial; arrays of length ``draws``."""
    import numpy as np

    rng = np.random.Generator(np.random.SFC64(seed))
    total = draw_times([spread_of(line) for line in lines], shared_cause, draws, rng)
    material = np.zeros(draws)
    if not events:
        total += sum((line.rework + line.allowance for line in lines), Hundredths(0)) / 100.0
        material += float(sum(line.rework_material for line in lines))
        return total, material
    for line in lines:
        chances = line.rework_trials * float(line.rework_odds)
        if chances <= 0 or not (line.rework or line.rework_material):
            continue
        hits = strikes(float(line.rework_odds), line.rework_trials, draws, rng)
        total += hits * (line.rework / 100.0 / chances)
        if line.rework_material:
            material += hits * (float(line.rework_material) / chances)
    allowance = sum((line.allowance for line in lines), Hundredths(0)) / 100.0
    if allowance > 0:
        faulty = strikes(HIDDEN_FAULT_CHANCE, 1, draws, rng)
        total += faulty * rng.exponential(allowance / HIDDEN_FAULT_CHANCE, draws)
    return total, material


def draw_times(
    spreads: Sequence[Spread], shared_cause: float, draws: int, rng: np.random.Generator
) -> Floats:
    """Sum of the lines' minutes in each trial, without rework and hidden faults; length ``draws``."""
    import numpy as np

    fixed = sum(s.fixed for s in spreads)
    moving = [s for s in spreads if s.high > s.low]
    fixed += sum(s.mean for s in spreads if s.high <= s.low)
    total = np.full(draws, fixed)
    if not moving:
        return total
    split = [s for s in moving if s.reading != "pert"]
    down = np.array([s.widening * (s.likely - s.low) / Z90 for s in split])
    up = np.array([s.widening * (s.high - s.likely) / Z90 for s in split])
    centre = np.array([s.mean + s.widening * (s.likely - s.mean) for s in split])
    # a time is never below zero: where the lower side would cross it, z stops short
    least = -centre / np.maximum(down, 1e-300)
    order = [*split, *(s for s in moving if s.reading == "pert")]
    own, common = sqrt(1.0 - shared_cause), sqrt(shared_cause)
    total += centre.sum()
    for start in range(0, draws, BLOCK):
        size = min(BLOCK, draws - start)
        z = rng.standard_normal((size, len(order)))
        z *= own
        z += common * rng.standard_normal((size, 1))
        if split:
            half = np.maximum(z[:, : len(split)], least)
            total[start : start + size] += half @ down
            np.maximum(half, 0.0, out=half)
            total[start : start + size] += half @ (up - down)
        for column, s in enumerate(order[len(split) :], len(split)):
            curve = beta_points(s.low, s.likely, s.high, z[:, column])
            total[start : start + size] += np.maximum(0.0, s.mean + s.widening * (curve - s.mean))
    return total


def strikes(odds: float, trials: int, draws: int, rng: np.random.Generator) -> Floats:
    """How often something with ``odds`` strikes in ``trials`` chances, for each of ``draws`` jobs.

    Counts the gaps between strikes (geometric) along all chances laid end to end, so that rare events
    cost next to nothing; the counts are exactly binomial.
    """
    import numpy as np

    if odds >= 1.0:
        return np.full(draws, float(trials))
    chances = draws * trials
    found: list[NDArray[np.int64]] = []
    position = -1
    while position < chances:
        expected = (chances - position) * odds
        gaps = rng.geometric(odds, ceil(expected + 6.0 * sqrt(expected) + 10.0))
        places = position + np.cumsum(gaps)
        found.append(places)
        position = int(places[-1])
    hits = np.concatenate(found)
    counts = np.bincount(hits[hits < chances] // trials, minlength=draws)
    return counts.astype(float)


def describe(values: Floats, points: Sequence[float] = POINTS) -> Distribution:
    """Mean, spread, points, and standard errors; the error of a point by the ranks on either side of it.

    With n trials the rank of the p-point has the binomial spread sqrt(n p (1 - p)); half the distance
    between the values one such step below and above is its standard error (order statistics).
    """
    import numpy as np

    n = len(values)
    shares = [percent / 100.0 for percent in points]
    steps = [sqrt(share * (1.0 - share) / n) for share in shares]
    wanted = [share + way * step for share, step in zip(shares, steps, strict=True) for way in (-1, 0, 1)]
    found = np.quantile(values, np.clip(wanted, 0.0, 1.0)).reshape(-1, 3).tolist()
    described = tuple(
        Quantile(percent, value, (above - below) / 2.0)
        for percent, (below, value, above) in zip(points, found, strict=True)
    )
    sd = float(values.std(ddof=1))
    return Distribution(float(values.mean()), sd / sqrt(n), sd, described)

"""Curves behind three readings, and their points: what the simulation draws from.

``10-50-90`` readings: the curve passes one job in ten below low, one in two below the usual time and
one in ten above high. Between and beyond, it is normal on either side of the usual time with a scale
of its own (a normal curve split at its median), so slow surprises are longer than quick ones. Its
mean, 0.311 low + 0.377 usual + 0.311 high, and its spread lie within about a per cent of the closed
form's 0.3 / 0.4 / 0.3 and (high - low) / 2.56.

``pert`` readings: a beta curve from low to high with shapes 1 + 4 (m - a) / (b - a) and
1 + 4 (b - m) / (b - a) (Malcolm, Roseboom, Clark and Fazar 1959 and the later "beta-PERT"; memory).
Its mean is (a + 4 m + b) / 6 exactly; its variance is (mean - a)(b - mean) / 7, not ((b - a) / 6)^2.
"""

from __future__ import annotations

from statistics import NormalDist
from typing import TYPE_CHECKING

from msgspec import Struct

from estimator.model import WorkLine

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

#: normal distance of the 90 % point
Z90 = NormalDist().inv_cdf(0.9)


class Spread(Struct, frozen=True):
    """The curve of one line's run, minutes: three readings, how they are meant, mean and widening.

    ``fixed`` minutes come on top without spread (set-up, a further sitting). The curve is stretched
    ``widening`` times about its mean for values that were assumed.
    """

    low: float
    likely: float
    high: float
    reading: str
    mean: float
    fixed: float
    widening: float = 1.0


def spread_of(line: WorkLine) -> Spread:
    """The curve of a work line; the line's low, likely and high hold its set-up, which has no spread."""
    setup = line.setup / 100.0
    mean = line.minutes / 100.0
    low, likely, high = (float(x) - setup for x in (line.low, line.likely, line.high))
    if line.minutes == 0:
        low = likely = high = 0.0
    return Spread(low, likely, high, line.reading, mean, setup, float(line.widening))


def beta_points(low: float, likely: float, high: float, z: Floats) -> Floats:
    """Points of the beta-PERT curve at the normal distances ``z`` (any shape, same shape out).

    The curve's cumulated density is worked out on a fine grid and read backwards: good to about
    1e-4 of the range.
    """
    import numpy as np

    if high <= low:
        return np.full_like(z, likely)
    alpha = 1.0 + 4.0 * (likely - low) / (high - low)
    beta = 1.0 + 4.0 * (high - likely) / (high - low)
    edges = np.linspace(0.0, 1.0, 4097)
    middles = (edges[1:] + edges[:-1]) / 2.0
    density = middles ** (alpha - 1.0) * (1.0 - middles) ** (beta - 1.0)
    cumulated = np.concatenate(([0.0], np.cumsum(density)))
    cumulated /= cumulated[-1]
    grid = np.linspace(-6.0, 6.0, 1025)
    shares = np.array([NormalDist().cdf(float(point)) for point in grid])
    quantiles = np.interp(shares, cumulated, edges)
    drawn: Floats = np.interp(z, grid, quantiles)
    return low + (high - low) * drawn

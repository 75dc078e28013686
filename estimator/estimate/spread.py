"""Three readings to mean and spread; adding up spreads with a shared cause; points of surety."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from math import fsum, sqrt
from statistics import NormalDist

#: distance between the 10 % and 90 % points of a normal curve, in standard deviations, to two places
TEN_TO_NINETY = Decimal("2.56")


def mean_of(low: Decimal, likely: Decimal, high: Decimal, reading: str) -> Decimal:
    """Mean of a three-point time, in the unit of its readings.

    ``10-50-90``: low and high are passed by one job in ten on either side; mean by the 30-40-30
    rule (Swanson's rule, common practice). ``pert``: low and high are the ends of a beta curve;
    mean (a + 4m + b) / 6 (Malcolm, Roseboom, Clark and Fazar, Operations Research 7(5), 1959; memory).
    """
    if reading == "pert":
        return (low + 4 * likely + high) / 6
    return Decimal("0.3") * low + Decimal("0.4") * likely + Decimal("0.3") * high


def sd_of(low: Decimal, high: Decimal, reading: str) -> Decimal:
    """Standard deviation of a three-point time: (high - low) / 2.56, or / 6 for ``pert``."""
    return (high - low) / (Decimal(6) if reading == "pert" else TEN_TO_NINETY)


def joint_sd(sds: Iterable[float], shared_cause: float) -> float:
    """Spread of a sum whose parts share a cause: any two are correlated by ``shared_cause``.

    sd^2 = sum sd_i^2 + c * sum over pairs 2 sd_i sd_j = (1 - c) * sum sd_i^2 + c * (sum sd_i)^2.
    """
    values = list(sds)
    squares = fsum(value * value for value in values)
    total = fsum(values)
    return sqrt(max(0.0, (1.0 - shared_cause) * squares + shared_cause * total * total))


def z_of(surety: Decimal | None) -> float:
    """The normal factor of a surety in per cent, to two places like the printed table (80 -> 0.84)."""
    if surety is None:
        return 0.0
    return round(NormalDist().inv_cdf(float(surety) / 100.0), 2)

"""Three readings to mean and spread; adding up the spreads of a job; points of surety."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from math import fsum, sqrt
from statistics import NormalDist

from estimator.model import WorkLine

#: distance between the 10 % and 90 % points of a normal curve, in standard deviations, to two places
TEN_TO_NINETY = Decimal("2.56")
#: one used instrument in two hides something (memory)
HIDDEN_FAULT_CHANCE = 0.5
#: variance of hidden faults in squares of the minutes held for them: there with the chance above, and then
#: of exponential size
FAULT_VARIANCE = 2.0 / HIDDEN_FAULT_CHANCE - 1.0


OUTER, INNER = Decimal("0.3"), Decimal("0.4")


def mean_of(low: Decimal, likely: Decimal, high: Decimal, reading: str) -> Decimal:
    """Mean of a three-point time, in the unit of its readings.

    ``10-50-90``: low and high are passed by one job in ten on either side; mean by the 30-40-30
    rule (Swanson's rule, common practice). ``pert``: low and high are the ends of a beta curve;
    mean (a + 4m + b) / 6 (Malcolm, Roseboom, Clark and Fazar, Operations Research 7(5), 1959; memory).
    """
    if reading == "pert":
        return (low + 4 * likely + high) / 6
    return OUTER * low + INNER * likely + OUTER * high


def sd_of(low: Decimal, high: Decimal, reading: str) -> Decimal:
    """Standard deviation of a three-point time: (high - low) / 2.56, or / 6 for ``pert``."""
    return (high - low) / (Decimal(6) if reading == "pert" else TEN_TO_NINETY)


def joint_sd(
    sds: Iterable[float], shared_cause: float, rework: Iterable[float] = (), faults: float = 0.0
) -> float:
    """Spread of a job: times that share a cause, rework that strikes or not, hidden faults; all in minutes.

    Any two times are correlated by ``shared_cause``: sd^2 = (1 - c) * sum sd_i^2 + c * (sum sd_i)^2.
    What goes wrong on one line (``rework``, a spread each) says nothing of another: its squares come on
    top. So does ``FAULT_VARIANCE`` x the square of ``faults``, the minutes held for hidden ones.
    """
    values = list(sds)
    squares = fsum(value * value for value in values)
    total = fsum(values)
    events = fsum(value * value for value in rework) + FAULT_VARIANCE * faults * faults
    return sqrt(max(0.0, (1.0 - shared_cause) * squares + shared_cause * total * total + events))


def spread_of_lines(lines: Sequence[WorkLine], shared_cause: float) -> float:
    """``joint_sd`` of work lines."""
    faults = fsum(line.allowance for line in lines) / 100.0
    return joint_sd((line.sd for line in lines), shared_cause, (line.rework_sd for line in lines), faults)


def factor_of(percent: float, skew: float) -> float:
    """How many spreads beyond the mean ``percent`` of such jobs stay within.

    A normal factor z, moved for a curve that leans to the slow side: z + (z^2 - 1) / 6 x skew (the first
    term of Cornish and Fisher's expansion, 1937; memory).
    """
    z = NormalDist().inv_cdf(percent / 100.0)
    return z + (z * z - 1.0) / 6.0 * skew


def percent_of(factor: float, skew: float) -> float:
    """The reverse of ``factor_of``: per cent of such jobs that stay within so many spreads of the mean."""
    if skew:
        # the root that lies near the factor; below the lowest point that the expansion has there is nothing
        under = 9.0 + skew * (skew + 6.0 * factor)
        factor = (sqrt(under) - 3.0) / skew if under > 0 else -3.0 / skew
    return 100.0 * NormalDist().cdf(factor)


def z_of(surety: Decimal | None, skew: Decimal) -> float:
    """The factor of a surety in per cent, to two places as a worker would write it down; none: the mean.

    Nothing is held below the mean, so a surety of little more than a half is held at it.
    """
    if surety is None:
        return 0.0
    return max(0.0, round(factor_of(float(surety), float(skew)), 2))

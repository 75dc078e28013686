"""Closed forms of what the simulation draws, to hold it to account."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, sqrt

from estimator.estimate.risk.distributions import Z90, Spread, spread_of
from estimator.estimate.risk.moments import ClosedForm, expected_minutes
from estimator.estimate.three_point import FAULT_VARIANCE, joint_sd
from estimator.model import Shop, WorkLine

#: mean of the upper half of a normal curve around its middle, times a half: 1 / sqrt(2 pi)
HALF_NORMAL = 1.0 / sqrt(2.0 * 3.141592653589793)


def split_normal_moments(low: float, likely: float, high: float) -> tuple[float, float]:
    """Mean and spread of the split normal curve through 10, 50 and 90 % points."""
    down, up = (likely - low) / Z90, (high - likely) / Z90
    mean = likely + (up - down) * HALF_NORMAL
    return mean, sqrt(max(0.0, (down * down + up * up) / 2.0 - (mean - likely) ** 2))


def beta_moments(low: float, likely: float, high: float) -> tuple[float, float]:
    """Mean and spread of the beta-PERT curve on [low, high] with its top at ``likely``."""
    mean = (low + 4.0 * likely + high) / 6.0
    return mean, sqrt(max(0.0, (mean - low) * (high - mean) / 7.0))


def moments(spread: Spread) -> tuple[float, float]:
    """Mean and standard deviation of what is drawn, minutes, set-up included; see the module's text.

    The part of a curve below zero, which is drawn as zero, is left out of account here.
    """
    curve = beta_moments if spread.reading == "pert" else split_normal_moments
    mean, sd = curve(spread.low, spread.likely, spread.high)
    return spread.fixed + spread.mean + spread.widening * (mean - spread.mean), spread.widening * sd


def closed_form_of_times(lines: Sequence[WorkLine], shop: Shop) -> ClosedForm:
    """Mean and spread with rework and hidden faults at their means, as the simulation draws without events."""
    sd = joint_sd((line.sd for line in lines), float(shop.terms.shared_cause))
    return ClosedForm(expected_minutes(lines), sd)


def closed_form_of_curves(lines: Sequence[WorkLine], shop: Shop, *, events: bool) -> ClosedForm:
    """Mean and spread of exactly what the simulation draws, for holding it to account.

    With ``events`` the variance of rework and of hidden faults comes on top, as in ``spread.joint_sd``.
    """
    curves = [moments(spread_of(line)) for line in lines]
    reserve = fsum(line.rework + line.allowance for line in lines) / 100.0
    variance = joint_sd((sd for _, sd in curves), float(shop.terms.shared_cause)) ** 2
    if events:
        variance += fsum(line.rework_sd**2 for line in lines)
        allowance = fsum(line.allowance for line in lines) / 100.0
        variance += FAULT_VARIANCE * allowance * allowance
    return ClosedForm(fsum(mean for mean, _ in curves) + reserve, sqrt(variance))

"""The closed form of a list of work: mean, spread and points without drawing anything.

Mean = runs + set-ups + expected rework + hidden-fault allowance; spread of the times by the shared-cause
formula, with the variance of rework and hidden faults on top; points as of a curve that leans to the slow
side by the shop's ``skew``. This is what a quote uses; the simulation checks it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, sqrt

from estimator.estimate.risk.distributions import moments, spread_of
from estimator.estimate.three_point import FAULT_VARIANCE, factor_of, joint_sd, percent_of, spread_of_lines
from estimator.model import Shop, WorkLine


@dataclass(frozen=True, slots=True)
class ClosedForm:
    """Mean and spread of hands-on minutes, and their lean to the slow side (0: a normal curve)."""

    mean: float
    sd: float
    skew: float = 0.0

    def at(self, percent: float) -> float:
        """The minutes that ``percent`` of such jobs stay within; the factor is not rounded."""
        return self.mean + factor_of(percent, self.skew) * self.sd

    def surety(self, minutes: float) -> float:
        """Per cent of such jobs that stay within so many minutes."""
        if self.sd == 0:
            return 100.0 if minutes >= self.mean else 0.0
        return percent_of((minutes - self.mean) / self.sd, self.skew)


def expected_minutes(lines: Sequence[WorkLine]) -> float:
    """Mean hands-on minutes of all lines, rework and hidden faults included."""
    return fsum(line.setup + line.minutes + line.rework + line.allowance for line in lines) / 100.0


def closed_form(lines: Sequence[WorkLine], shop: Shop) -> ClosedForm:
    """Mean, spread and lean as the quote takes them."""
    terms = shop.terms
    spread = spread_of_lines(lines, float(terms.shared_cause))
    return ClosedForm(expected_minutes(lines), spread, float(terms.skew))


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

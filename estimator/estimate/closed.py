"""The closed form of a list of work: mean, spread and points without drawing anything.

Mean = runs + set-ups + expected rework + hidden-fault allowance; spread by the shared-cause formula;
points as of a normal curve, which a sum of many lines comes near to. This is what a quote uses; the
simulation checks it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, sqrt
from statistics import NormalDist

from estimator.estimate.draws import moments, spread_of
from estimator.estimate.simulate import HIDDEN_FAULT_CHANCE
from estimator.estimate.spread import joint_sd
from estimator.model import Shop, WorkLine


@dataclass(frozen=True, slots=True)
class ClosedForm:
    """Mean and spread of hands-on minutes, taken as normal."""

    mean: float
    sd: float

    def at(self, percent: float) -> float:
        """The minutes that ``percent`` of such jobs stay within; exact normal factor, not the table's."""
        return self.mean + NormalDist().inv_cdf(percent / 100.0) * self.sd

    def surety(self, minutes: float) -> float:
        """Per cent of such jobs that stay within so many minutes."""
        if self.sd == 0:
            return 100.0 if minutes >= self.mean else 0.0
        return 100.0 * NormalDist(self.mean, self.sd).cdf(minutes)


def expected_minutes(lines: Sequence[WorkLine]) -> float:
    """Mean hands-on minutes of all lines, rework and hidden faults included."""
    return fsum(line.setup + line.minutes + line.rework + line.allowance for line in lines) / 100.0


def closed_form(lines: Sequence[WorkLine], shop: Shop) -> ClosedForm:
    """Mean and spread as the quote takes them: spread of the times alone."""
    return ClosedForm(
        expected_minutes(lines), joint_sd((line.sd for line in lines), float(shop.terms.shared_cause))
    )


def closed_form_of_curves(lines: Sequence[WorkLine], shop: Shop, *, events: bool) -> ClosedForm:
    """Mean and spread of exactly what the simulation draws, for holding it to account.

    With ``events`` the variance of rework (trials x p (1 - p) x size^2) and of hidden faults (a chance
    h of an exponential size of mean A / h: A^2 (2 / h - 1)) comes on top.
    """
    curves = [moments(spread_of(line)) for line in lines]
    reserve = fsum(line.rework + line.allowance for line in lines) / 100.0
    variance = joint_sd((sd for _, sd in curves), float(shop.terms.shared_cause)) ** 2
    if events:
        for line in lines:
            odds, trials = float(line.rework_odds), line.rework_trials
            if odds > 0 and trials:
                size = line.rework / 100.0 / (odds * trials)
                variance += trials * odds * (1.0 - odds) * size * size
        allowance = fsum(line.allowance for line in lines) / 100.0
        variance += allowance * allowance * (2.0 / HIDDEN_FAULT_CHANCE - 1.0)
    return ClosedForm(fsum(mean for mean, _ in curves) + reserve, sqrt(variance))

"""The closed form of a list of work: mean, spread and points without drawing anything.

Mean = runs + set-ups + expected rework + hidden-fault allowance; spread of the times by the shared-cause
formula, with the variance of rework and hidden faults on top; points as of a curve that leans to the slow
side by the shop's ``skew``. This is what a quote uses; the simulation checks it.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum

from msgspec import Struct

from estimator.estimate.three_point import factor_of, percent_of, spread_of_lines
from estimator.model import Shop, WorkLine


class ClosedForm(Struct, frozen=True):
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

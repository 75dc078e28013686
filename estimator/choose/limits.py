"""What a set comes to under each limit of a job, for whoever tells it: text, data and page."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from estimator.choose.measure import Measure
from estimator.choose.verify.choice import day_done
from estimator.model.problem import LIMITS, Problem, Rule


class LimitHeld(Struct, frozen=True):
    """A limit with its most and what the set comes to: cents, hundredths of a minute, or days after it came in."""

    rule: Rule
    most: int
    comes_to: int

    @property
    def left(self) -> int:
        """What is left of it; below nothing where the set goes beyond it."""
        return self.most - self.comes_to


def limits_held(problem: Problem, chosen: Sequence[str], measured: Measure) -> tuple[LimitHeld, ...]:
    """Every limit of a job in its order; money and minutes are held at the surety that the limits ask for."""
    return tuple(
        LimitHeld(rule, rule.most, _comes_to(problem, rule, chosen, measured))
        for rule in problem.rules
        if rule.kind in LIMITS and rule.most is not None
    )


def _comes_to(problem: Problem, rule: Rule, chosen: Sequence[str], measured: Measure) -> int:
    if rule.kind == "due":
        return day_done(problem, chosen)
    return measured.held(rule.on) if rule.kind == "money" else measured.minutes

"""The odds of loss on a donor, by simulation: price, hours, hidden faults, a bad donor.

Each draw: the donor is bad with its odds; then what is left is salvage less what was spent and the hours lost. Else the
price is drawn (lognormal with the mean of the plan and the spread of local prices), the hands-on
minutes (lognormal with the spread of times and rework) and the minutes of hidden faults (there as often
as the simulation of work has them, then exponential, with the share held for them as their mean). Seeded, so the same question has the same answer.
"""

from __future__ import annotations

import math
from fractions import Fraction

from msgspec import Struct

from estimator.choose.study import Study
from estimator.core.amounts import Cents, Hundredths
from estimator.estimate.three_point import FAULT_VARIANCE, HIDDEN_FAULT_CHANCE
from estimator.price.resale.compare import Proceeds

SEED = 20_240_501
DRAWS = 20_000


class Risk(Struct, frozen=True):
    """What a simulation is about: the plan, the odds of a bad donor, the price paid (cents).

    ``salvage`` is what a bad donor brings less the money spent to get it here, ``lost_minutes`` the time.
    """

    plan: Proceeds
    odds_bad: Fraction
    salvage: Cents
    lost_minutes: Hundredths
    paid: Cents


class Odds(Struct, frozen=True):
    """Shares of the draws. ``loss``: less money comes in than goes out, time not counted;
    ``below_pay``: less than the wanted pay an hour. ``surplus`` are the 10, 50 and 90 % points of money
    left after time at the wanted pay, in cents; ``earned`` the same of cents an hour.
    """

    paid: Cents
    draws: int
    loss: float
    below_pay: float
    surplus: tuple[Cents, Cents, Cents]
    earned: tuple[Cents, Cents, Cents]


def simulate(study: Study, risk: Risk) -> Odds:
    """The odds of ``risk`` by ``DRAWS`` draws."""
    import numpy as np

    plan = risk.plan
    random = np.random.default_rng(SEED)
    bad = random.random(DRAWS) < float(risk.odds_bad)
    price = _lognormal(random.standard_normal(DRAWS), float(plan.price), float(plan.spread))
    totals = plan.totals
    hidden_mean = float(study.costing.setting.hidden_faults) * totals.attended
    known = max(1.0, plan.hands_on - hidden_mean)
    # hidden faults are drawn for themselves, so their part of the joint spread is taken out
    spread = math.sqrt(max(0.0, (totals.sd * 100.0) ** 2 - FAULT_VARIANCE * hidden_mean**2))
    hands_on = _lognormal(random.standard_normal(DRAWS), known, spread)
    faulty = random.random(DRAWS) < HIDDEN_FAULT_CHANCE
    hidden = np.where(faulty, random.exponential(hidden_mean / HIDDEN_FAULT_CHANCE, DRAWS), 0.0)
    rest = float(plan.minutes - plan.hands_on)
    kept = (plan.price - plan.fees_by_share) / plan.price if plan.price else 0.0
    cash = price * kept - plan.fee_fixed - plan.fixed + plan.brought - plan.money_out - risk.paid
    minutes = np.maximum(1.0, hands_on + hidden + rest)
    cash = np.where(bad, float(risk.salvage - risk.paid), cash)
    minutes = np.where(bad, float(max(1, risk.lost_minutes)), minutes)
    surplus = cash - minutes * plan.pay / 6000.0
    earned = cash * 6000.0 / minutes
    points = (10, 50, 90)
    return Odds(
        risk.paid,
        DRAWS,
        float(np.mean(cash < 0)),
        float(np.mean(surplus < 0)),
        tuple(round(float(v)) for v in np.percentile(surplus, points)),  # type: ignore[arg-type]
        tuple(round(float(v)) for v in np.percentile(earned, points)),  # type: ignore[arg-type]
    )


def _lognormal(normal, mean: float, sd: float):  # type: ignore[no-untyped-def]
    """Draws with a mean and a spread, never below zero, from standard normal draws."""
    import numpy as np

    if mean <= 0:
        return np.zeros_like(normal)
    wide = math.log1p((sd / mean) ** 2)
    return np.exp(math.log(mean) - wide / 2 + math.sqrt(wide) * normal)

"""How many to buy: blanks for k good ones, odds and ends of uncertain demand, order quantities.

The counts are exact (fractions, never floats), so that odds that hit the wanted surety exactly are
not missed by a rounding of the binary number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from estimator.errors import InputError, Issue, Origin

MOST = 100_000
"""No search goes beyond this many pieces."""
NINETY = Decimal("0.9")


@dataclass(frozen=True, slots=True)
class SpareRow:
    """One count of pieces and the odds that at least k of them turn out good."""

    pieces: int
    surety: Fraction


@dataclass(frozen=True, slots=True)
class Spares:
    """Pieces to start with for ``good`` good ones; ``rows`` are the counts looked at, up to the answer."""

    good: int
    failure: Fraction
    wanted: Fraction
    pieces: int
    rows: tuple[SpareRow, ...]

    @property
    def spare(self) -> int:
        """Pieces beyond those needed."""
        return self.pieces - self.good

    @property
    def surety(self) -> Fraction:
        """The odds that the pieces are enough."""
        return self.rows[-1].surety

    @property
    def plain_division(self) -> Fraction:
        """Good ones divided by the yield: what a rule of thumb would start with; it is enough too seldom."""
        return Fraction(self.good) / (1 - self.failure)


def _share(value: Decimal | Fraction, what: str, closed: bool) -> Fraction:
    exact = Fraction(value)
    if not 0 <= exact <= 1 or (exact == 1 and not closed):
        accepted = "from 0 to 1" if closed else "from 0 to below 1"
        raise InputError(
            Issue(
                Origin(),
                f"{what} is a share of one",
                f"{float(exact):g}",
                accepted,
                "write 8 per cent as 0.08",
            )
        )
    return exact


def pieces_for(good: int, failure: Decimal | Fraction, surety: Decimal | Fraction = NINETY) -> Spares:
    """The smallest n with P(Binomial(n, 1 - failure) >= good) >= surety, exactly.

    n pieces are enough with the odds that at most n - good of them fail: the sum over j of
    C(good + j - 1, j) x yield^good x failure^j (negative binomial: the j-th failure comes before the
    last good one). InputError for odds outside 0 to 1, or a surety of one where any piece may fail.
    """
    bad, wanted = _share(failure, "the odds of failure", False), _share(surety, "a surety", True)
    if good < 0:
        raise InputError(Issue(Origin(), "good pieces wanted below nought", str(good), "0 or more"))
    if good == 0 or bad == 0:
        return Spares(good, bad, wanted, good, (SpareRow(good, Fraction(1)),))
    if wanted == 1:
        raise InputError(
            Issue(
                Origin(),
                "no number of pieces is sure when each may fail",
                "a surety of 1",
                "below 1, such as 0.9",
            )
        )
    term = (1 - bad) ** good
    total, rows = term, [SpareRow(good, term)]
    while total < wanted:
        failures = len(rows)
        term = term * bad * (good + failures - 1) / failures
        total += term
        rows.append(SpareRow(good + failures, total))
        if failures > MOST:
            raise InputError(
                Issue(Origin(), "more than 100,000 pieces would be needed", "", "smaller odds of failure")
            )
    return Spares(good, bad, wanted, good + len(rows) - 1, tuple(rows))


def surety_of(pieces: int, good: int, failure: Decimal | Fraction) -> Fraction:
    """P(Binomial(pieces, 1 - failure) >= good), exactly."""
    bad = _share(failure, "the odds of failure", True)
    return sum(
        (math.comb(pieces, k) * (1 - bad) ** k * bad ** (pieces - k) for k in range(good, pieces + 1)),
        Fraction(0),
    )


@dataclass(frozen=True, slots=True)
class Stock:
    """A stock level for one season of uncertain demand, with the odds it rests on."""

    level: int
    critical_ratio: Fraction
    below: float
    reached: float
    expected_cost: float


def newsvendor(mean: float, left_over: Fraction, short: Fraction) -> Stock:
    """Pieces to stock for a Poisson demand: the smallest S with P(demand <= S) >= short / (short + left_over).

    ``left_over`` and ``short`` are the money lost on each piece too many and each piece too few
    (Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd ed., 2019).
    """
    if mean <= 0 or left_over <= 0 or short <= 0:
        raise InputError(
            Issue(
                Origin(),
                "demand and both costs must be above nought",
                f"{mean:g}, {left_over}, {short}",
                "above 0",
            )
        )
    ratio = short / (short + left_over)
    odds = math.exp(-mean)
    below, reached, level = 0.0, odds, 0
    while reached < float(ratio) and level < MOST:
        level += 1
        odds *= mean / level
        below, reached = reached, reached + odds
    return Stock(level, ratio, below, reached, stock_cost(level, mean, left_over, short))


def stock_cost(level: int, mean: float, left_over: Fraction, short: Fraction) -> float:
    """Expected cost of a stock level under Poisson demand: left over above, short below."""
    odds, over = math.exp(-mean), 0.0
    for demand in range(level):
        over += (level - demand) * odds
        odds *= mean / (demand + 1)
    under = mean - level + over
    return float(left_over) * over + float(short) * under


def newsvendor_normal(mean: float, sd: float, left_over: float, short: float) -> tuple[float, float]:
    """Stock level and its expected cost for a normal demand: mean + sd x z of the critical ratio."""
    from statistics import NormalDist

    normal = NormalDist()
    level = mean + sd * normal.inv_cdf(short / (short + left_over))
    return level, stock_cost_normal(level, mean, sd, left_over, short)


def stock_cost_normal(level: float, mean: float, sd: float, left_over: float, short: float) -> float:
    """Expected cost of a level under normal demand, by the loss function of the normal curve."""
    from statistics import NormalDist

    normal = NormalDist()
    z = (level - mean) / sd
    loss = normal.pdf(z) - z * (1 - normal.cdf(z))
    return left_over * (level - mean + sd * loss) + short * sd * loss


def order_quantity(order_cost: float, yearly: float, holding: float) -> tuple[float, float]:
    """Economic order quantity and its yearly cost: sqrt(2KD/h) and sqrt(2KDh) (Harris 1913)."""
    return math.sqrt(2 * order_cost * yearly / holding), math.sqrt(2 * order_cost * yearly * holding)


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """All units cost ``price`` when at least ``least`` are ordered at once."""

    least: float
    price: float


def with_breaks(
    order_cost: float, yearly: float, holding_share: float, breaks: Sequence[PriceBreak]
) -> tuple[float, float, tuple[float, ...]]:
    """Best order quantity under all-units price breaks, its yearly cost, and the best cost of each band.

    Yearly cost = price x demand + order cost x demand / Q + holding share x price x Q / 2; in each
    band the quantity is the economic one, moved into the band.
    """
    best: tuple[float, float] | None = None
    costs = []
    for number, band in enumerate(breaks):
        above = breaks[number + 1].least if number + 1 < len(breaks) else math.inf
        holding = holding_share * band.price
        quantity = min(max(order_quantity(order_cost, yearly, holding)[0], band.least), above)
        cost = band.price * yearly + order_cost * yearly / quantity + holding * quantity / 2
        costs.append(cost)
        if best is None or cost < best[1]:
            best = (quantity, cost)
    if best is None:
        raise InputError(Issue(Origin(), "no price is given", "", "at least one price break"))
    return best[0], best[1], tuple(costs)

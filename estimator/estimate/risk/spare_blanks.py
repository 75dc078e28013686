"""How many blanks to buy for k good ones.

The counts are exact (fractions, never floats), so that odds that hit the wanted surety exactly are
not missed by a rounding of the binary number.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from estimator.core.errors import Origin, refusal

MOST = 100_000
"""No search goes beyond this many pieces."""
NINETY = Decimal("0.9")


class SpareRow(Struct, frozen=True):
    """One count of pieces and the odds that at least k of them turn out good."""

    pieces: int
    surety: Fraction


class Spares(Struct, frozen=True):
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


def _share(value: Decimal | Fraction, what: str, closed: bool) -> Fraction:
    exact = Fraction(value)
    if not 0 <= exact <= 1 or (exact == 1 and not closed):
        accepted = "from 0 to 1" if closed else "from 0 to below 1"
        raise refusal(
            Origin(), f"{what} is a share of one", f"{float(exact):g}", accepted, "write 8 per cent as 0.08"
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
        raise refusal(Origin(), "good pieces wanted below zero", str(good), "0 or more")
    if good == 0 or bad == 0:
        return Spares(good, bad, wanted, good, (SpareRow(good, Fraction(1)),))
    if wanted == 1:
        raise refusal(
            Origin(),
            "no number of pieces is sure when each may fail",
            "a surety of 1",
            "below 1, such as 0.9",
        )
    term = (1 - bad) ** good
    total, rows = term, [SpareRow(good, term)]
    while total < wanted:
        failures = len(rows)
        term = term * bad * (good + failures - 1) / failures
        total += term
        rows.append(SpareRow(good + failures, total))
        if failures > MOST:
            raise refusal(Origin(), "more than 100,000 pieces would be needed", "", "smaller odds of failure")
    return Spares(good, bad, wanted, good + len(rows) - 1, tuple(rows))

"""Published worked examples of rate, tax and spare pieces, reproduced.

"Seen": the figure was read in a public page or repository; "memory": remembered, the arithmetic checked.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from estimator.core.errors import InputError
from estimator.core.money import cents_of
from estimator.estimate.risk.spare_blanks import (
    pieces_for,
)
from estimator.estimate.tax import TaxLine, tax_of
from estimator.price.client.hourly_rate import build_rate, hourly

D = Decimal


# Boost.Math example neg_binomial_sample_sizes (seen); its count "exceeds k", so k + 1 good ones


@pytest.mark.parametrize(
    ("good", "yield_", "sureties", "pieces"),
    [
        (6, "0.5", "0.5 0.75 0.9 0.95 0.99 0.999 0.9999 0.99999", (11, 14, 17, 18, 22, 27, 31, 36)),
        (6, "0.6", "0.5 0.75 0.9 0.95 0.99 0.999 0.9999 0.99999", (10, 11, 13, 15, 18, 21, 25, 28)),
        (51, "0.9", "0.5 0.75 0.9 0.95 0.99 0.999 0.9999 0.99999", (56, 58, 60, 61, 63, 66, 68, 71)),
        (6, "0.1", "0.5 0.75 0.9 0.95 0.99 0.999", (57, 73, 91, 103, 127, 159)),
        (51, "0.5", "0.5", (101,)),  # exactly one half: binary fractions may answer 102
    ],
)
def test_sample_sizes(good: int, yield_: str, sureties: str, pieces: tuple[int, ...]) -> None:
    assert tuple(pieces_for(good, 1 - D(yield_), D(c)).pieces for c in sureties.split()) == pieces


def test_good_nut_blanks_table() -> None:
    """Our own table, worked out apart with exact fractions."""
    table = {
        1: "1 2 2 2 2 3 2 3 4",
        2: "3 3 4 4 4 5 4 5 7",
        4: "5 6 7 6 7 9 8 9 11",
        6: "8 8 9 9 10 12 11 12 14",
        10: "13 13 14 15 16 18 18 19 21",
        12: "15 16 17 18 19 20 21 22 25",
    }
    for good, row in table.items():
        found = [
            pieces_for(good, D(failure), D(surety)).pieces
            for failure in ("0.1", "0.2", "0.3")
            for surety in ("0.9", "0.95", "0.99")
        ]
        assert found == [int(n) for n in row.split()]
    six = pieces_for(6, D("0.1"), D("0.95"))
    assert [round(float(r.surety), 3) for r in six.rows[1:]] == [0.850, 0.962]


# ------------------------------------------------------------------------------- money


def test_hourly_rate_trade_forum() -> None:
    """woodweb.com, Figuring labor and overhead (seen): 400,000 over 8,736 h; the page cut 45.7875 to 45.78."""
    assert 260 * 7 * 8 * D("0.6") == 8736
    assert cents_of(hourly(D(400_000), D(8736))) == 4579


def test_hourly_rate_own_example() -> None:
    costs = {"draw": D(52_000), "employer_load": D(6_240), "rent_and_power": D(14_400)}
    rate = build_rate(costs, D(48), D(40), D("0.65"))
    assert rate.billed == 1248
    assert rate.break_even == 5821
    assert rate.rounded == 6000
    assert build_rate(costs, D(48), D(40), D("0.65"), margin=D("0.15")).with_margin == 6848
    assert cents_of(hourly(D(72_640), D(1248)) * Fraction(115, 100)) == 6694


def test_half_up_and_double_rounding() -> None:
    """Streamlined Sales and Use Tax Agreement s. 324 (seen as enacted); examples of legalclarity.org (seen)."""
    for value, cents in (
        ("1.234", "1.23"),
        ("1.235", "1.24"),
        ("1.2349", "1.23"),
        ("0.125", "0.13"),
        ("0.135", "0.14"),
        ("2.675", "2.68"),
        ("1.005", "1.01"),
        ("-0.125", "-0.13"),
    ):
        assert tax_of([TaxLine(100, D(value))]) == D(cents) * 100
    assert tax_of([TaxLine(1099, D("0.0625"))]) == 69


def test_tax_per_line_and_per_invoice() -> None:
    seven = [TaxLine(499, D("0.0825"))] * 7
    assert (tax_of(seven, "line"), tax_of(seven)) == (287, 288)
    three = [TaxLine(115, D("0.075"))] * 3
    assert (tax_of(three, "line"), tax_of(three)) == (27, 26)
    mixed = [TaxLine(net, D("0.0625")) for net in (1099, 349, 725)]
    assert tax_of(mixed, "line") == tax_of(mixed) == 136
    four = [TaxLine(103, D("0.20"))] * 4
    assert (tax_of(four, "line"), tax_of(four)) == (84, 82)
    with pytest.raises(InputError, match="unknown way"):
        tax_of(four, "item")

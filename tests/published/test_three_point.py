"""Published worked examples of standard time, reproduced.

"Seen": the figures were read on a public page. "Memory": remembered from the book, so a lead and not
proof. "Ours": worked out for this test on the data of the source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.estimate.labour import with_allowance
from tests.estimate.terms import some_terms

# --- standard time


def test_two_conventions_of_allowance() -> None:
    """0.5 min x 110 %, 15 %: 0.647 min, 741.8 in 480 min.

    Seen: engineersuniverse.com/studios/industrial/standard-time-calculator.
    """
    terms = some_terms(allowance=Decimal("0.15"))
    normal = Decimal("0.5") * Decimal("1.10")
    of_work = with_allowance(normal, terms)
    of_shift = with_allowance(normal, replace(terms, allowance_on="shift"))
    assert of_work == Decimal("0.6325")
    assert float(of_shift) == pytest.approx(0.647, abs=5e-4)
    assert 480 / float(of_shift) == pytest.approx(741.8, abs=0.05)


def test_study_of_four_elements() -> None:
    """Solution of a textbook problem (seen: stuvia.com document 739899): 0.468 1.474 1.053 1.322."""
    averages = ["0.452", "1.508", "0.833", "1.150"]
    ratings = ["0.90", "0.85", "1.10", "1.00"]
    normal = [
        (Decimal(a) * Decimal(r)).quantize(Decimal("0.001")) for a, r in zip(averages, ratings, strict=True)
    ]
    assert [float(n) for n in normal] == pytest.approx([0.407, 1.282, 0.916, 1.150], abs=1e-9)
    work = some_terms(allowance=Decimal("0.13"))
    shift = replace(work, allowance_on="shift")  # the solution takes 13 % of the whole job time
    standard = [with_allowance(n, shift) for n in normal]
    assert [float(s) for s in standard] == pytest.approx([0.468, 1.474, 1.053, 1.322], abs=5.1e-4)
    assert float(sum(round(s, 3) for s in standard)) == pytest.approx(4.317, abs=1e-9)
    unrounded = [Decimal(a) * Decimal(r) for a, r in zip(averages, ratings, strict=True)]
    assert float(sum(with_allowance(n, shift) for n in unrounded)) == pytest.approx(4.3160, abs=5e-5)
    assert float(sum(with_allowance(n, work) for n in unrounded)) == pytest.approx(4.2430, abs=5e-5)


def test_constant_allowances_of_work_study() -> None:
    """ILO, Introduction to Work Study, 4th ed. 1992 (seen on pages that follow it): 5 + 4 % (+ 2 memory)."""
    terms = some_terms(allowance=Decimal("0.05") + Decimal("0.04") + Decimal("0.02"))
    assert with_allowance(Decimal("10.0"), terms) == Decimal("11.10")
    wrong = with_allowance(Decimal("10.0"), replace(terms, allowance_on="shift"))
    assert float(wrong) == pytest.approx(11.24, abs=5e-3)


def test_a_fast_worker_is_rated_up() -> None:
    """800 s watched at 110 % are 880 s basic time (seen: blog.ergo-mtm.it, setting working times)."""
    assert Decimal(800) * Decimal("1.10") == 880

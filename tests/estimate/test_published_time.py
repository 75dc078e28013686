"""Published worked examples of standard time, learning, batches and skewed times, reproduced.

"Seen": the figures were read on a public page. "Memory": remembered from the book, so a lead and not
proof. "Ours": worked out for this test on the data of the source.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import exp

import pytest

from estimator.estimate.batch import batch_for_rate, capacity, least_stable_batch, minutes_each
from estimator.estimate.labour import with_allowance
from estimator.estimate.learning import (
    crawford_midpoint,
    crawford_total,
    crawford_total_midpoint,
    crawford_unit,
    slope,
    wright_average,
    wright_total,
    wright_unit,
)
from estimator.estimate.quantiles import (
    gamma_quantile,
    lognormal_parameters,
    lognormal_quantile,
    standard_gamma_quantile,
)
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


# --- learning

EIGHTY = {
    1: (100, 100, 100, 100, 100), 2: (80, 180, 80, 160, 60), 3: (70.21, 250.21, 70.21, 210.63, 50.63),
    4: (64, 314.21, 64, 256, 45.37), 5: (59.56, 373.77, 59.56, 297.82, 41.82),
    8: (51.20, 534.59, 51.20, 409.60, 35.46), 10: (47.65, 631.54, 47.65, 476.51, 32.86),
    16: (40.96, 892.01, 40.96, 655.36, 28.06), 20: (38.12, 1048.49, 38.12, 762.42, 26.06),
    32: (32.77, 1467.86, 32.77, 1048.58, 22.33), 64: (26.21, 2392.45, 26.21, 1677.72, 17.82),
}  # fmt: skip


@pytest.mark.parametrize("n", EIGHTY)
def test_eighty_per_cent_table(n: int) -> None:
    """Unit and cumulative-average curves side by side (ours; 80 % column of Heizer and Render: memory).

    Seen (maxwideman.com/papers/resource/appendix2.htm): under Wright the second unit takes 60 %, four
    average 64 %.
    """
    unit, total, average, wright, alone = EIGHTY[n]
    assert crawford_unit(100, 0.8, n) == pytest.approx(unit, abs=5e-3)
    assert crawford_total(100, 0.8, n) == pytest.approx(total, abs=5e-3)
    assert wright_average(100, 0.8, n) == pytest.approx(average, abs=5e-3)
    assert wright_total(100, 0.8, n) == pytest.approx(wright, abs=5e-3)
    assert wright_unit(100, 0.8, n) == pytest.approx(alone, abs=5e-3)


def test_figures_of_a_learning_curve_package() -> None:
    """Printed output in the vignette of the R package learningCurve (seen: github.com/cran/learningCurve)."""
    assert crawford_unit(100, 0.85, 125) == pytest.approx(32.23647, abs=5e-6)
    by_rate = {0.80: 21.13225, 0.825: 26.18401, 0.875: 39.44942, 0.90: 48.00243}
    for rate, hours in by_rate.items():
        assert crawford_unit(100, rate, 125) == pytest.approx(hours, abs=5e-6)
    assert crawford_unit(100, 0.83, 80) == pytest.approx(30.79056, abs=5e-6)
    assert crawford_unit(120, 0.92, 150, at=20) == pytest.approx(94.17084, abs=5e-6)
    assert crawford_unit(90, 0.87, 175, at=10) == pytest.approx(50.64078, abs=5e-6)
    assert crawford_total(100, 0.85, 125) == pytest.approx(5201.085, abs=5e-4)
    assert crawford_total_midpoint(100, 0.85, 125) == pytest.approx(5202.988, abs=5e-4)
    assert wright_unit(100, 0.85, 125) == pytest.approx(24.70136, abs=5e-6)
    assert wright_total(100, 0.85, 125) == pytest.approx(4029.559, abs=5e-4)
    differences = [crawford_unit(100, 0.85, n) - wright_unit(100, 0.85, n) for n in range(1, 26)]
    assert differences[:5] == pytest.approx([0, 15, 15.41703, 15.12445, 14.73158], abs=5e-6)
    assert sum(differences) == pytest.approx(304.7107, abs=5e-5)
    assert crawford_midpoint(0.75, 201, 500) == pytest.approx(334.6103, abs=5e-5)
    block = 300 * crawford_unit(125, 0.75, 1, at=201) * crawford_midpoint(0.75, 201, 500) ** slope(0.75)
    assert block == pytest.approx(30350.48, abs=0.02)
    assert [slope(r) for r in (0.80, 0.85, 0.90)] == pytest.approx(
        [-0.3219281, -0.2344653, -0.1520031], abs=5e-8
    )


def test_the_printed_misprint_is_not_repeated() -> None:
    """The same vignette prints (m - .05) for (m - 0.5); that would give 336.11."""
    assert crawford_midpoint(0.75, 201, 500) != pytest.approx(336.11, abs=0.5)


# --- batches


def test_smallest_stable_batch() -> None:
    """Hopp and Spearman, Factory Physics, chapter 9: 3.33, so 4 (inputs from memory).

    Seen: factoryphysics.com/Principle/SerialBatchingExample.htm.
    """
    assert least_stable_batch(setup=5, arrivals=0.4, run=1) == 4


def test_batch_for_a_rate() -> None:
    """Cachon and Terwiesch, Matching Supply with Demand: 120.

    Inputs seen: studylib.net/doc/25413289; answer from memory.
    """
    assert batch_for_rate(setup=120, run=2, minutes_per_piece=3) == 120
    rates = [capacity(120, 2, b) for b in (12, 60, 120, 300)]
    assert rates == pytest.approx([0.0833, 0.25, 0.3333, 0.4167], abs=5e-5)


def test_set_up_spread_over_a_batch() -> None:
    """Ours: 20 min and 6 min each."""
    assert [minutes_each(20, 6, n) for n in (1, 2, 5, 10, 100)] == pytest.approx([26, 16, 10, 8, 6.2])


# --- skewed times


@pytest.mark.parametrize(
    ("mean", "cv", "mu", "s", "points"),
    [
        (60, 0.3, 4.051256, 0.293560, (57.470, 73.576, 83.719, 93.141)),
        (30, 0.5, 3.289626, 0.472381, (26.833, 39.933, 49.156, 58.360)),
    ],
)
def test_lognormal_points(mean: float, cv: float, mu: float, s: float, points: tuple[float, ...]) -> None:
    """NIST/SEMATECH e-Handbook 1.3.6.6.9 (formulas: memory); figures ours, two ways."""
    found = lognormal_parameters(mean, cv)
    assert found == pytest.approx((mu, s), abs=5e-7)
    assert exp(found[0] + found[1] ** 2 / 2) == pytest.approx(mean)
    ours = [lognormal_quantile(mean, cv, p) for p in (0.5, 0.8, 0.9, 0.95)]
    assert ours == pytest.approx(points, abs=5.1e-4)
    assert ours[0] < mean


def test_gamma_points_against_the_chi_square_table() -> None:
    """Chi-square table: 7.77944 12.59159 18.30704 21.02607.

    Seen in a statistics examination paper, exampapers.nust.na.
    """
    table = {(4, 0.90): 7.77944, (6, 0.95): 12.59159, (10, 0.95): 18.30704, (12, 0.95): 21.02607}
    for (freedom, p), value in table.items():
        assert 2 * standard_gamma_quantile(freedom / 2, p) == pytest.approx(value, abs=5.1e-6)
    ours = [gamma_quantile(60, 0.3, p) for p in (0.5, 0.8, 0.9, 0.95)]
    assert ours == pytest.approx([58.210, 74.391, 83.913, 92.346], abs=5.1e-4)


def test_gamma_points_against_scipy() -> None:
    from scipy.stats import gamma

    for shape in (0.3, 1.0, 2.5, 11.111, 80.0):
        for p in (0.001, 0.1, 0.5, 0.9, 0.999):
            assert standard_gamma_quantile(shape, p) == pytest.approx(float(gamma.ppf(p, shape)), rel=1e-9)

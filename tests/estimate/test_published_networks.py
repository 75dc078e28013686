"""Published worked examples of three-point times and networks of activities, reproduced.

"Seen": the figures were read on a public page. "Memory": remembered from the book, so a lead and not
proof. "Ours": worked out for this test on the data of the source.
"""

from __future__ import annotations

from decimal import Decimal
from math import pi, sqrt

import pytest

from estimator.estimate.network import (
    Activity,
    from_arcs,
    in_series,
    larger_of_two,
    ordered,
    simulate_network,
    work_through,
)
from estimator.estimate.propagate import product_moments, ratio_moments
from estimator.estimate.spread import mean_of, sd_of

PRINTED = 1e-3  # probabilities from a z table rounded to two places


# --- three-point times and networks


def test_four_activities_in_series() -> None:
    """Taylor, Introduction to Management Science, project management chapter (seen:
    flylib.com/books/en/3.287.1.117/1): mean 24, probability 0.9633."""
    readings = [(5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5)]
    net = in_series([Activity(*r) for r in readings])
    assert net.mean == pytest.approx(24)
    assert net.variance == pytest.approx(5)
    assert net.chance(28) == pytest.approx(0.9633, abs=PRINTED)
    for (low, likely, high), mean, variance in zip(
        readings, (9, 5, 6, 4), (4, 4 / 9, 4 / 9, 1 / 9), strict=True
    ):
        a, m, b = (Decimal(x) for x in (low, likely, high))
        assert mean_of(a, m, b, "pert") == mean
        assert float(sd_of(a, b, "pert")) ** 2 == pytest.approx(variance)
    assert sd_of(Decimal(3), Decimal(3), "pert") == 0  # the page's activity 6: no spread at all


ARCS = {
    ("1", "2"): (2, 5, 8), ("1", "3"): (1, 4, 7), ("2", "3"): (0, 0, 0), ("2", "4"): (2, 4, 6),
    ("2", "6"): (5, 7, 12), ("3", "4"): (3, 5, 10), ("3", "5"): (3, 6, 9), ("4", "5"): (4, 6, 10),
    ("4", "6"): (2, 5, 8), ("5", "6"): (2, 4, 6),
}  # fmt: skip


def test_ten_arcs_with_a_dummy() -> None:
    """University lecture "L27 Project scheduling, PERT" (seen: coursehero.com/file/6151556).

    Published: event times, means, variances, slack, mean 20.83.
    """
    net = work_through(from_arcs(ARCS))
    slack = {"1-2": 0, "1-3": 1, "2-3": 0, "2-4": 1.5, "2-6": 8.333, "3-4": 0, "3-5": 5.833, "4-5": 0,
             "4-6": 5.333, "5-6": 0}  # fmt: skip
    variance = {"1-2": 1, "1-3": 1, "2-3": 0, "2-4": 0.444, "2-6": 1.361, "3-4": 1.361, "3-5": 1, "4-5": 1,
                "4-6": 1, "5-6": 0.444}  # fmt: skip
    activities = from_arcs(ARCS)
    for name, expected in slack.items():
        assert net.times[name].slack == pytest.approx(expected, abs=6e-4)
        assert activities[name].variance == pytest.approx(variance[name], abs=6e-4)
    events = [0, *(net.times[a].finish for a in ("1-2", "2-3", "3-4", "4-5", "5-6"))]
    assert events == pytest.approx([0, 5, 5, 10.5, 16.83, 20.83], abs=5e-3)
    assert net.mean == pytest.approx(20.83, abs=5e-3)
    # ours, beyond the page
    assert net.variance == pytest.approx(3.8056, abs=1e-4)
    assert net.chance(22) == pytest.approx(0.7251, abs=1e-4)
    assert net.chance(24) == pytest.approx(0.9477, abs=1e-4)


def test_readings_printed_out_of_order_are_refused() -> None:
    """The same lecture prints one arc as 4, 10, 6: the likely time beyond the pessimistic one."""
    with pytest.raises(ValueError, match="4-5: the likely time must lie between"):
        ordered(from_arcs({**ARCS, ("4", "5"): (4, 10, 6)}))


FOURTEEN = """A: 5 5 7 -
B: 1 2 5 -
C: 5 5 5 A
D: 4 8 13 A
E: 1 10 17 B,C
F: 1 5 7 D
G: 2 6 9 D
H: 4 4 6 E,F
I: 2 7 10 G,H
J: 2 4 7 I
K: 6 10 13 I
L: 2 6 6 J
M: 2 2 3 K
N: 7 7 12 L,M"""


def network(text: str) -> dict[str, Activity]:
    activities = {}
    for line in text.splitlines():
        name, rest = line.split(":")
        a, m, b, after = rest.split()
        befores = () if after == "-" else tuple(after.split(","))
        activities[name.strip()] = Activity(float(a), float(m), float(b), befores)
    return activities


def test_fourteen_activities() -> None:
    """A textbook exercise (seen: wizedu.com/questions/717873): means, sds, slack of A to F."""
    activities = network(FOURTEEN)
    net = work_through(activities)
    means = [5.33, 2.33, 5, 8.17, 9.67, 4.67, 5.83, 4.33, 6.67, 4.17, 9.83, 5.33, 2.17, 7.83]
    sds = [0.33, 0.67, 0, 1.5, 2.67, 1, 1.17, 0.33, 1.33, 0.83, 1.17, 0.67, 0.17, 0.83]
    assert [a.mean for a in activities.values()] == pytest.approx(means, abs=5.1e-3)
    assert [sqrt(a.variance) for a in activities.values()] == pytest.approx(sds, abs=5.1e-3)
    slack = {"A": 0, "B": 8, "C": 0, "D": 1.83, "E": 0, "F": 1.83}
    assert {n: net.times[n].slack for n in slack} == pytest.approx(slack, abs=5.1e-3)
    # ours, beyond the page
    assert "".join(net.critical) == "ACEHIKMN"
    assert (net.mean, net.variance) == pytest.approx((50.833, 11.194), abs=5e-4)
    assert net.chance(55) == pytest.approx(0.8935, abs=1e-4)
    assert {n: net.times[n].slack for n in "GJL"} == pytest.approx({"G": 5, "J": 2.5, "L": 2.5})


EIGHT = """A: 1 2 3 -
B: 2 3 4 -
C: 1 2 3 A
D: 2 4 6 A,B
E: 1 4 7 C
F: 1 2 9 C
G: 3 4 11 D,E
H: 1 2 3 F,G"""


def test_eight_activities() -> None:
    """Heizer and Render, Operations Management (memory): 15 weeks, variance 3.11, 0.7157 by 16 weeks."""
    net = work_through(network(EIGHT))
    assert "".join(net.critical) == "ACEGH"
    assert net.mean == pytest.approx(15)
    assert net.variance == pytest.approx(3.11, abs=2e-3)
    assert net.chance(16) == pytest.approx(0.7157, abs=2e-3)
    assert net.mean + 2.33 * net.sd == pytest.approx(19.1, abs=0.02)


def test_fourteen_activities_of_a_building() -> None:
    """Hillier and Lieberman, Introduction to Operations Research (memory): 44 weeks, variance 9, 0.84."""
    net = work_through(
        network(
            "A: 1 2 3 -\nB: 2 3.5 8 A\nC: 6 9 18 B\nD: 4 5.5 10 C\nE: 1 4.5 5 C\nF: 4 4 10 E\nG: 5 6.5 11 D\n"
            "H: 5 8 17 E,G\nI: 3 7.5 9 C\nJ: 3 9 9 F,I\nK: 4 4 4 J\nL: 1 5.5 7 J\nM: 1 2 3 H\nN: 5 5.5 9 K,L"
        )
    )
    assert "".join(net.critical) == "ABCEFJLN"
    assert (net.mean, net.variance) == pytest.approx((44, 9))
    assert net.chance(47) == pytest.approx(0.84, abs=2e-3)


# --- what the closed form leaves out


def test_paths_that_meet_take_longer_than_the_critical_one() -> None:
    """Merge bias on the eight activities: mean 15.233 (ours, two million draws), against 15 by PERT.

    Known since MacCrimmon and Ryavec 1964 (memory).
    """
    import numpy as np

    activities = network(EIGHT)
    done = simulate_network(activities, 400_000, seed=7)
    error = done.std() / sqrt(len(done))
    assert done.mean() == pytest.approx(15.233, abs=4 * error)
    assert done.mean() > work_through(activities).mean
    assert (done <= 16).mean() == pytest.approx(0.690, abs=4e-3)
    assert np.quantile(done, [0.8, 0.9]) == pytest.approx([16.66, 17.54], abs=0.02)


@pytest.mark.parametrize(
    ("readings", "variance", "plain"),
    [((3, 4, 11), 1.7143, 1.7778), ((2, 5, 8), 1.2857, 1.0), ((5, 8, 17), 4.5714, 4.0)],
)
def test_the_beta_curve_has_not_the_textbook_variance(
    readings: tuple[int, int, int], variance: float, plain: float
) -> None:
    """Beta-PERT: variance (mean - a)(b - mean) / 7 (memory); the page
    probsee.com/p/PERT_distribution (seen) gives it ((b - a) / 6)^2, which is not exact.
    """
    from estimator.estimate.draws import beta_moments

    a, m, b = readings
    mean, sd = beta_moments(a, m, b)
    assert mean == (a + 4 * m + b) / 6
    assert sd**2 == pytest.approx(variance, abs=5e-5)
    assert float(sd_of(Decimal(a), Decimal(b), "pert")) ** 2 == pytest.approx(plain, abs=5e-5)
    drawn = simulate_network({"x": Activity(a, m, b)}, 400_000, seed=3)
    assert drawn.var() == pytest.approx(variance, rel=0.01)


def test_larger_of_two_normals() -> None:
    """Clark, Operations Research 9(2), 1961 (memory of the formula; figures ours, checked by drawing)."""
    assert larger_of_two(10, 2, 10, 2) == pytest.approx((10 + 2 / sqrt(pi), 2.72676), abs=1e-5)
    assert larger_of_two(10, 2, 9, 3) == pytest.approx((10.99338, 3.97360), abs=1e-5)
    assert larger_of_two(3, 0, 4, 0) == (4, 0)


def test_product_of_two_uncertain_values() -> None:
    """Goodman 1960 (memory): exact variance 313.69; the first-order rule gives 312.25."""
    mean, variance = product_moments(2.5, 0.4, 40, 3)
    assert mean == 100
    assert variance == pytest.approx(313.69)
    first_order = 2.5**2 * 3**2 + 40**2 * 0.4**2
    assert first_order == pytest.approx(312.25)
    assert variance > first_order


def test_ratio_of_two_uncertain_values() -> None:
    """Delta method (textbook formula, memory); figures ours: 16 and 7.99, second-order mean 16.41.

    Drawn, the variance is 9.86: the rule is poor where the denominator is uncertain by 16 %.
    """
    import numpy as np

    mean, variance = ratio_moments(40, 3, 2.5, 0.4)
    assert mean == pytest.approx(16.41, abs=5e-3)
    assert variance == pytest.approx(7.99, abs=5e-3)
    rng = np.random.Generator(np.random.SFC64(2))
    drawn = rng.normal(40, 3, 1_000_000) / rng.normal(2.5, 0.4, 1_000_000)
    assert drawn.mean() == pytest.approx(16.45, abs=0.02)
    assert drawn.var() == pytest.approx(9.86, rel=0.03)
    assert variance < 0.85 * drawn.var()
    with pytest.raises(ValueError, match="mean is nought"):
        ratio_moments(1, 1, 0, 1)

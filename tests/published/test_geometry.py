"""Published worked examples of hardness against wear, and of quantities taken from geometry, reproduced.

"Seen": read on a public page; "memory": remembered from the book; "ours": worked out for this test.
"""

from __future__ import annotations

import pytest

from estimator.estimate.geometry import (
    fret_position,
    fret_wire_mm,
)
from tests.shops import default_shop


def test_order_of_hardness_agrees_with_the_wear_factors() -> None:
    """Hardness pages (seen) and memory: bone < brass, nickel silver < annealed < drawn stainless.

    Nano-indented dry bone 0.41 to 0.89 GPa (Wang, Chen, Hodgson, Wen 2006; seen) is HV 39 to 84: on
    projected area 42 to 91 kgf/mm2, times 0.9272 for the faceted area of a Vickers mark.
    """
    shop = default_shop()
    vickers = [gpa / 9.80665e-3 * 0.9272 for gpa in (0.41, 0.89)]
    assert vickers == pytest.approx([38.8, 84.1], abs=0.06)
    metals = shop.metals
    assert metals["nickel-silver"].tool_wear < metals["hard-nickel-silver"].tool_wear
    assert metals["hard-nickel-silver"].tool_wear < metals["stainless"].tool_wear
    assert metals["nickel-silver"].abrasive < metals["stainless"].abrasive
    assert (
        shop.factors["NM", "bone"].wear < shop.factors["NM", "brass"].wear < shop.factors["NM", "steel"].wear
    )


INCHES = {
    1: 1.431,
    2: 2.782,
    3: 4.057,
    4: 5.261,
    5: 6.397,
    6: 7.469,
    7: 8.481,
    8: 9.436,
    9: 10.338,
    10: 11.189,
    11: 11.992,
    12: 12.750,
    13: 13.466,
    14: 14.141,
    15: 14.779,
    16: 15.380,
    17: 15.948,
    18: 16.484,
    19: 16.990,
    20: 17.468,
    21: 17.919,
    22: 18.344,
    23: 18.746,
    24: 19.125,
}


@pytest.mark.parametrize("fret", INCHES)
def test_fret_positions_on_a_long_scale(fret: int) -> None:
    """Fret tables on public building pages (seen), 25.5 in."""
    assert fret_position(25.5, fret) == pytest.approx(INCHES[fret], abs=5.1e-4)


def test_fret_positions_in_millimetres() -> None:
    """A public fret calculator (seen): 647.7 mm; a page that mixes 650 with 25.5 in is not followed."""
    seen = {1: 36.35, 2: 70.66, 5: 162.47, 7: 215.41, 9: 262.58, 10: 284.19, 12: 323.85, 24: 485.78}
    for fret, position in seen.items():
        assert fret_position(647.7, fret) == pytest.approx(position, abs=5.1e-3)
    assert fret_position(647.7, 1) != pytest.approx(36.482, abs=0.05)


def test_fret_wire_is_longer_than_mean_width_times_frets() -> None:
    """Ours: 42 to 56 mm over 22 frets of 647.7 mm: 1116.7 mm; 1248.7 mm with 3 mm at both ends."""
    bare = fret_wire_mm(647.7, 22, 42, 56, overhang=0)
    assert bare == pytest.approx(1116.7, abs=0.05)
    assert fret_wire_mm(647.7, 22, 42, 56) == pytest.approx(1248.7, abs=0.05)
    assert 49 * 22 / bare == pytest.approx(1 - 0.035, abs=1e-3)

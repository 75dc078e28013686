"""Guards and covers: worked numbers and limits (basis: memory)."""

from __future__ import annotations

import pytest

from tests.fit.cases import Value, make_case, one, work

GUARD: dict[str, Value] = {"guard_hole_n": 11, "guard_match_n": 8, "guard_ply_mm": 2.3}


def test_r70_worked_number() -> None:
    """11 old holes of which 8 match a guard of 11: 3 plugs, 3 drills."""
    assert work(one("R70", make_case(GUARD, "guard", {"holes": 11}))) == {
        ("plug-small-hole", "guard-holes"): 3,
        ("drill-hole", "guard-holes"): 3,
    }


def test_r70_other_counts() -> None:
    assert one("R70", make_case(GUARD | {"guard_match_n": 11}, "guard", {"holes": 11})).outcome == "fits"
    seen = work(one("R70", make_case(GUARD | {"guard_seen_n": 2}, "guard", {"holes": 8})))
    assert seen == {("plug-small-hole", "guard-holes"): 3, ("fill-touch-up-chip", "guard-holes"): 2}
    assert one("R70", make_case(GUARD, "guardblank", {"holes": 11})).outcome == "fits"
    assert one("R70", make_case(GUARD, "cover", {"holes": 6})).outcome == "warn"


def test_r71_cover() -> None:
    assert one("R71", make_case(GUARD, "guard", {"covers": "yes"})).outcome == "fits"
    assert one("R71", make_case(GUARD, "guard", {"covers": "no"})).outcome == "no"
    assert one("R71", make_case(GUARD, "guard", {})).outcome == "warn"
    assert one("R71", make_case(GUARD, "guardblank", {"covers": "no"})).outcome == "fits"


@pytest.mark.parametrize(("ply", "outcome"), [(2.8, "fits"), (2.81, "warn"), (1.8, "fits"), (1.79, "warn")])
def test_r72_thickness(ply: float, outcome: str) -> None:
    assert one("R72", make_case(GUARD, "guard", {"ply": ply})).outcome == outcome


@pytest.mark.parametrize(("notch", "outcome"), [(0.3, "fits"), (0.4, "warn"), (2, "warn"), (2.1, "no")])
def test_r73_notch(notch: float, outcome: str) -> None:
    assert one("R73", make_case(GUARD, "guard", {"notch": notch})).outcome == outcome


def test_r73_without_a_measure_or_on_a_blank() -> None:
    assert one("R73", make_case(GUARD, "guard", {})).outcome == "warn"
    assert one("R73", make_case(GUARD, "guardblank", {})).outcome == "fits"

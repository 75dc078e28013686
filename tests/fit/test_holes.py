"""The hole-by-hole test: its table of cases, and laws that hold for every pattern of holes."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from estimator.fit.holes import Hole, chip_groups, compare_holes, hole_demands, row

D = Decimal
TOL = D("0.5")


def hole(x: object, d: object = 3, seen: bool = False, y: object = 0) -> Hole:
    return Hole(D(str(x)), D(str(y)), D(str(d)), seen)


@pytest.mark.parametrize(
    ("error", "new_d", "old_d", "seen", "case", "drilled", "plugs", "chips"),
    [
        ("0.5", 3, 3, False, "reuse", 0, 0, 0),
        ("0.0", "3.4", 3, False, "reuse", 0, 0, 0),
        ("0.0", "3.5", 3, False, "open-up", 1, 0, 0),
        ("0.0", "2.5", 3, True, "fill-and-reuse", 1, 1, 0),
        ("0.6", 3, 3, False, "clash", 1, 1, 0),
        ("4.4", 3, 3, True, "clash", 1, 1, 0),
        ("4.5", 3, 3, False, "separate", 1, 0, 0),
        ("4.5", 3, 3, True, "separate", 1, 1, 1),
    ],
)
def test_each_case_of_one_hole(
    error: str, new_d: object, old_d: object, seen: bool, case: str, drilled: int, plugs: int, chips: int
) -> None:
    """Limits by common practice: 0.5 mm at a bridge, 0.4 mm of diameter, 1.5 mm of wood between holes."""
    test = compare_holes([hole(0, old_d, seen)], [hole(error, new_d)], TOL)
    assert [fate.case for fate in test.new] == [case]
    assert (test.drilled, len(test.plugged), test.chips) == (drilled, plugs, chips)


def test_a_large_old_hole_takes_a_dowel_and_a_small_one_a_small_plug() -> None:
    test = compare_holes([hole(0, 4), hole(20, "4.1")], [hole(1, 3), hole(21, 3)], TOL)
    assert {d.task: int(d.quantity) for d in hole_demands(test, "here", "moved")} == {
        "plug-small-hole": 1,
        "plug-hole": 1,
        "drill-hole": 2,
    }


def test_two_old_holes_in_the_way_of_one_new_hole_are_both_plugged() -> None:
    test = compare_holes([hole("-1.5"), hole("1.5")], [hole(0)], TOL)
    assert len(test.plugged) == 2
    assert test.drilled == 1


def test_no_old_holes_means_all_are_drilled() -> None:
    test = compare_holes([], row(4, D(60), D(3)), TOL)
    assert (test.reused, test.drilled) == (0, 4)


def test_plugged_holes_within_15_mm_are_one_touch_up() -> None:
    assert chip_groups([hole(0), hole(15), hole(30), hole("45.1")]) == 2
    assert chip_groups([]) == 0


def test_rows_are_centred_and_a_single_hole_stands_in_the_middle() -> None:
    assert [h.y for h in row(3, D(50), D(3))] == [D(-25), D(0), D(25)]
    assert [h.y for h in row(1, D(50), D(3))] == [D(0)]


def spaced(draw: st.DrawFn, least: int, most: int) -> list[Hole]:
    """Holes of one pattern, at least 8 mm apart as real ones are, on half millimetres."""
    count = draw(st.integers(least, most))
    steps = draw(st.lists(st.integers(16, 40), min_size=count, max_size=count))
    start = draw(st.integers(-60, 20))
    holes = []
    for step in steps:
        start += step
        d = draw(st.sampled_from(("2.5", "3", "3.5", "6", "10")))
        holes.append(Hole(D(0), D(start) / 2, D(d), draw(st.booleans())))
    return holes


patterns = st.composite(spaced)


@given(patterns(0, 6), patterns(1, 6))
def test_every_hole_is_accounted_for(existing: list[Hole], needed: list[Hole]) -> None:
    """reused + drilled = needed; kept (reused or opened up) + plugged + left = existing."""
    test = compare_holes(existing, needed, TOL)
    assert test.reused + test.drilled == len(needed)
    kept = test.reused + test.opened
    assert kept == test.old.count("kept")
    assert kept + len(test.plugged) + test.left == len(existing)
    assert test.chips <= len(test.plugged)


@given(patterns(0, 6), patterns(1, 6))
def test_what_is_seen_is_never_left_open(existing: list[Hole], needed: list[Hole]) -> None:
    test = compare_holes(existing, needed, TOL)
    assert not any(h.seen and fate == "left" for h, fate in zip(test.existing, test.old, strict=True))


@given(patterns(0, 6), patterns(1, 6))
def test_a_mirrored_pattern_gives_mirrored_findings(existing: list[Hole], needed: list[Hole]) -> None:
    plain = compare_holes(existing, needed, TOL)
    other = compare_holes([replace(h, y=-h.y) for h in existing], [replace(h, y=-h.y) for h in needed], TOL)
    assert [fate.case for fate in plain.new] == [fate.case for fate in other.new]
    assert plain.old == other.old
    assert plain.chips == other.chips


@given(st.integers(2, 8), st.integers(30, 70), st.integers(30, 70))
def test_centred_rows_are_judged_alike_on_both_sides(count: int, old: int, new: int) -> None:
    test = compare_holes(row(count, D(old), D(3)), row(count, D(new), D(3)), TOL)
    cases = [fate.case for fate in test.new]
    assert cases == cases[::-1]
    assert list(test.old) == list(test.old)[::-1]


@given(patterns(1, 6))
def test_the_same_pattern_needs_nothing(pattern: list[Hole]) -> None:
    test = compare_holes(pattern, pattern, TOL)
    assert (test.reused, test.drilled, test.left, test.plugged) == (len(pattern), 0, 0, ())

"""Tremolo blocks, cavities and posts: worked numbers and limits.

Basis of the limits: memory of an experienced hand; the geometry is recomputed in the tests by hand.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fit.cases import Value, asked, make_case, one, run, work

D = Decimal
SIX: dict[str, Value] = {
    "kind": "guitar-solid",
    "br_type": "six-screw-trem",
    "br_screw_n": 6,
    "br_spread": 52.5,
    "br_screw_d": 3.5,
    "body_wood": "alder",
    "br_row_x": 0,
    "saddle_travel_l": 3,
    "saddle_travel_s": 6,
}
NEW_SIX: dict[str, Value] = {"spread": 56, "screw_n": 6, "screw_d": 3.5}
CAVITY: dict[str, Value] = {
    "br_type": "six-screw-trem",
    "tcav_len": 22,
    "tcav_wid": 72,
    "tcav_dep": 44.5,
    "tcav_wall": 12,
    "body_thk": 44.5,
}
BLOCK: dict[str, Value] = {"block_h": 42, "block_t": 16, "block_w": 73}


@pytest.mark.parametrize(("height", "outcome"), [(43, "fits"), (43.1, "no")])
def test_r04_block_stays_inside_the_body(height: float, outcome: str) -> None:
    assert one("R04", make_case({"body_thk": 44.5}, "block", {"block_h": height})).outcome == outcome


@pytest.mark.parametrize(("height", "outcome"), [(34.5, "fits"), (34.4, "warn")])
def test_r05_short_block(height: float, outcome: str) -> None:
    assert one("R05", make_case({"body_thk": 44.5}, "block", {"block_h": height})).outcome == outcome


def test_r06_r07_r08_worked_number() -> None:
    """Cavity 22 x 72 x 44.5, block 42 x 16 x 73: needs 29.66 and 76 mm; V1 15.5 + V2 3.9 = 19.4 cm3."""
    case = make_case(CAVITY, "block", BLOCK)
    assert "= 29.66; cavity 22" in one("R06", case).working
    assert "= 76; cavity 72" in one("R07", case).working
    found = one("R08", case)
    assert work(found) == {("enlarge-tremolo-cavity", "tremolo-cavity"): D("19.4")}
    assert "= 15.5; V2 = 4 x 22 x 44.5/1000 = 3.9; V = 19.4" in found.working
    assert found.sentence.startswith(
        "take out 19.4 cm3 at the back of the tremolo cavity (needs 29.7 mm along the strings, has 22"
    )


def test_r06_a_decked_tremolo_needs_no_room_to_pull_up() -> None:
    found = one("R06", make_case(CAVITY | {"trem_decked": True}, "block", BLOCK))
    assert "16 + 42 x (sin 12) + 2 = 26.73" in found.working


def test_r08_up_to_half_a_cm3_is_chisel_work() -> None:
    """0.24 mm short: V1 = 0.6 x 0.24 x 76 x 44.5 / 1000 = 0.5 cm3; 0.27 mm: 0.5 rounds up to 0.6 at 0.28."""
    near = make_case(CAVITY | {"tcav_len": 29.42, "tcav_wid": 76}, "block", BLOCK)
    found = one("R08", near)
    assert work(found) == {("mount-bridge", ""): 1}
    assert found.demands[0].extra_min == 10
    past = make_case(CAVITY | {"tcav_len": 29.38, "tcav_wid": 76}, "block", BLOCK)
    assert work(one("R08", past)) == {("enlarge-tremolo-cavity", "tremolo-cavity"): D("0.6")}
    roomy = make_case(CAVITY | {"tcav_len": 30, "tcav_wid": 76}, "block", BLOCK)
    assert one("R08", roomy).outcome == "fits"


@pytest.mark.parametrize(
    ("wall", "outcome", "said"),
    [
        (7.93, "fits", "leaves 6 mm of wall"),
        (7.9, "warn", "all of the cut to the rear"),
        (6, "warn", "all of the cut to the rear"),
        (5.9, "work", "hardwood liner"),
        (3, "work", "hardwood liner"),
        (2.9, "no", "wall would break"),
    ],
)
def test_r09_wall_to_the_pickup_rout(wall: float, outcome: str, said: str) -> None:
    """dL 7.66; a quarter of the swing is pull-up: 7.66 x 0.0698 / 0.2777 = 1.92 mm would go forward."""
    found = one("R09", make_case(CAVITY | {"tcav_wall": wall}, "block", BLOCK))
    assert found.outcome == outcome
    assert said in found.sentence
    if outcome == "work":
        assert work(found) == {("plug-hole", "tremolo-cavity-wall"): 2}
        assert found.demands[0].extra_rework_pct == 12


def test_a_block_alone_has_nothing_to_go_into_on_a_hardtail() -> None:
    for number in ("R06", "R07", "R08", "R09"):
        assert one(number, make_case(CAVITY | {"br_type": "hardtail"}, "block", BLOCK)).outcome == "no"
        assert run(number, make_case(CAVITY | {"br_type": "hardtail"}, "trem2", BLOCK)) == []


SIZES = st.tuples(st.integers(30, 45), st.integers(10, 20), st.integers(60, 90))


@given(SIZES, st.tuples(st.integers(0, 5), st.integers(0, 5), st.integers(0, 5)))
def test_a_larger_block_never_needs_a_smaller_cavity(
    small: tuple[int, int, int], more: tuple[int, int, int]
) -> None:
    """Room along, room across and the volume to take out never shrink when the block grows."""

    def taken_out(size: tuple[int, ...]) -> Decimal:
        case = make_case(CAVITY, "block", dict(zip(("block_h", "block_t", "block_w"), size, strict=True)))
        return sum((d.quantity for d in one("R08", case).demands if d.task != "mount-bridge"), D(0))

    assert taken_out(tuple(a + b for a, b in zip(small, more, strict=True))) >= taken_out(small)


POSTS: dict[str, Value] = {
    **SIX,
    "br_type": "two-post-trem",
    "br_screw_n": 2,
    "br_spread": 56,
    "post_bush_d": 10,
}
NEW_POSTS: dict[str, Value] = {"spread": 56, "bush_od": 10, "block_h": 38}


def test_r10_six_screws_to_two_posts() -> None:
    found = one("R10", make_case(SIX | {"post_edge": 12}, "trem2", NEW_POSTS))
    assert work(found) == {
        ("plug-hole", "bridge-holes"): 6,
        ("layout-bridge", ""): 1,
        ("fit-two-post-bushings", "bridge-posts"): 2,
    }
    assert run("R10", make_case(POSTS, "trem2", NEW_POSTS)) == []


@pytest.mark.parametrize(
    ("edge", "outcome", "pct"), [(10, "fits", 0), (9.9, "warn", 15), (8, "warn", 15), (7.9, "no", 15)]
)
def test_r11_wood_round_a_post(edge: float, outcome: str, pct: int) -> None:
    """A 10 mm bushing wants 10 mm from its centre; below 8 mm it is refused; between, 15 % more rework."""
    case = make_case(SIX | {"post_edge": edge}, "trem2", NEW_POSTS)
    assert one("R11", case).outcome == outcome
    assert asked(one("R10", case), "fit-two-post-bushings").extra_rework_pct == pct


@pytest.mark.parametrize(
    ("spread", "plugs", "bores", "chips"),
    [(56.6, 0, 0, 0), (56.7, 2, 2, 0), (81.9, 2, 2, 0), (82, 2, 2, 2)],
)
def test_r12_posts_at_another_spread(spread: float, plugs: int, bores: int, chips: int) -> None:
    """e = half the difference: up to 0.3 reuse, below 10 + 3 the bores clash, beyond they stand apart."""
    needed = work(one("R12", make_case(POSTS, "trem2", NEW_POSTS | {"spread": spread})))
    assert needed.get(("plug-hole", "bridge-posts"), 0) == plugs
    assert needed.get(("fit-two-post-bushings", "bridge-posts"), 0) == bores
    assert needed.get(("fill-touch-up-chip", "bridge-posts"), 0) == chips


def test_r12_post_bridge_on_a_body_without_posts_takes_four_bushings() -> None:
    found = one("R12", make_case(SIX | {"br_type": "hardtail"}, "postbridge", {"spread": 74, "bush_od": 10}))
    assert work(found)[("fit-two-post-bushings", "bridge-posts")] == 4


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        (10.15, {}),
        (10.2, {("fit-two-post-bushings", "bridge-posts"): 2}),
        (9.8, {("plug-hole", "bridge-posts"): 2, ("fit-two-post-bushings", "bridge-posts"): 2}),
    ],
)
def test_r13_bushing_of_another_size(size: float, expected: dict[tuple[str, str], int]) -> None:
    assert work(one("R13", make_case(POSTS, "trem2", NEW_POSTS | {"bush_od": size}))) == expected


def test_r14_hardtail_to_tremolo_routs_about_100_cm3() -> None:
    hard: dict[str, Value] = {**SIX, "br_type": "hardtail", "br_screw_n": 5, "tier": "B"}
    found = one("R14", make_case(hard, "trem2", NEW_POSTS))
    assert 90 <= work(found)[("route-cavity", "tremolo-cavity")] <= 110
    assert work(found)[("fit-two-post-bushings", "bridge-posts")] == 2
    assert "usually not worth it" in found.sentence
    assert (
        "usually not worth it" not in one("R14", make_case(hard | {"tier": "D"}, "trem2", NEW_POSTS)).sentence
    )
    assert work(one("R14", make_case(hard, "trem6", NEW_SIX)))[("drill-hole", "bridge-holes")] == 6
    assert run("R14", make_case(SIX, "trem2", NEW_POSTS)) == []


@pytest.mark.parametrize(("edge", "glued"), [(-3, 20), (5, 20), (5.1, None)])
def test_r15_hardtail_over_a_tremolo_cavity(edge: float, glued: int | None) -> None:
    needed = work(one("R15", make_case(SIX, "hardtail", {"trem_edge": edge})))
    assert needed.get(("repair-crack", "tremolo-cavity")) == glued
    assert needed[("block-tremolo", "")] == 1


def test_r15_unknown_place_of_the_screws_is_taken_to_be_over_the_cavity() -> None:
    found = one("R15", make_case(SIX, "hardtail", {}))
    assert work(found)[("repair-crack", "tremolo-cavity")] == 20
    assert "not measured" in found.sentence


def test_r16_locking_tremolo() -> None:
    """Front recess 95 x 45 x 8 / 1000 = 34.2 cm3, rear 12 cm3, mechanical nut."""
    lock: dict[str, Value] = {"block_h": 38, "recessed": "yes", "recess_d": 8}
    found = one("R16", make_case(SIX | {"body_thk": 44.5}, "tremlock", lock))
    assert work(found) == {
        ("fit-mechanical-nut", ""): 1,
        ("route-cavity", "tremolo-cavity-rear"): 12,
        ("route-cavity", "tremolo-recess"): D("34.2"),
    }
    assert found.demands[0].levels == {"NMECH": "locking-top-screws"}
    # a block that leaves the 1.5 mm of R04 is told, with the one that a shallow body wants, and not refused
    told, needed = run("R16", make_case(SIX | {"body_thk": 41}, "tremlock", lock))
    assert (told.outcome, needed.outcome) == ("warn", "work")
    assert "a block of 31 mm or less" in told.sentence
    assert one("R16", make_case(SIX | {"body_thk": 41}, "tremlock", lock | {"block_h": 31})).outcome == "work"
    same = one("R16", make_case(SIX | {"br_type": "locking-trem", "body_thk": 44.5}, "tremlock", lock))
    assert work(same) == {("fit-mechanical-nut", ""): 1}

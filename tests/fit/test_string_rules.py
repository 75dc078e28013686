"""String path, saddle heights, string length, tuners: worked numbers and limits (basis: memory)."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace

import pytest

from tests.fit.cases import Value, make_case, one, run, stub_shop, work

D = Decimal
PATH: dict[str, Value] = {
    "kind": "guitar-solid",
    "nut_spread": 35.5,
    "fret_n": 22,
    "board_last_wid": 56,
    "str_spread": 52.5,
    "scale": 648,
    "string_n": 6,
}


def test_r17_formula() -> None:
    """w = 35.5 + 17 x (1 - 2^(-22/12)) = 35.5 + 17 x 0.719 = 47.73; edge 4.14 mm."""
    found = one("R17", make_case(PATH, "trem6", {"str_spread": 52.5}))
    assert found.outcome == "fits"
    assert "x 0.719 = 47.73; edge (56 - 47.73)/2 = 4.14" in found.working


@pytest.mark.parametrize(
    ("board", "outcome"), [(53.73, "fits"), (53.7, "warn"), (52.74, "warn"), (52.7, "no")]
)
def test_r17_three_and_two_and_a_half_millimetres(board: float, outcome: str) -> None:
    assert (
        one("R17", make_case(PATH | {"board_last_wid": board}, "trem6", {"str_spread": 52.5})).outcome
        == outcome
    )


def test_r17_a_new_neck_is_judged_by_its_own_board() -> None:
    neck: dict[str, Value] = {"nut_spread": 35.5, "fret_n": 22, "last_wid": 52}
    assert one("R17", make_case(PATH, "neck", neck)).outcome == "no"


@pytest.mark.parametrize(
    ("poles", "outcome"), [(50.25, "fits"), (50.3, "warn"), (46.25, "fits"), (46.2, "warn")]
)
def test_r18_poles_under_the_strings(poles: float, outcome: str) -> None:
    """At three quarters of the scale: 35.5 + 17 x 0.75 = 48.25 mm, give or take 2.0."""
    there = PATH | {"pu_x_neck": 486}
    found = one("R18", make_case(there, "hum", {"pole_spread": poles}, place="pickup-neck"))
    assert found.outcome == outcome


def test_r18_a_bridge_is_held_against_every_pickup() -> None:
    there: dict[str, Value] = PATH | {
        "pu_neck": "single",
        "pu_middle": "none",
        "pu_bridge": "single",
        "pole_spread_neck": 50,
        "pole_spread_middle": 50,
        "pole_spread_bridge": 50,
        "pu_x_neck": 486,
        "pu_x_bridge": 606,
    }
    found = run("R18", make_case(there, "trem6", {"str_spread": 56}))
    assert [f.outcome for f in found] == ["fits", "warn"]


HIGH: dict[str, Value] = {
    "kind": "guitar-solid",
    "action_b": 2.4,
    "action_t": 2.0,
    "saddle_down": 2.0,
    "saddle_up": 3.0,
    "joint": "bolt",
    "string_h_body": 13,
}


def test_r19_shim_formula() -> None:
    """1.0 mm too high at the 12th fret: saddles drop 2.0, none left: shim 0.30 x 2.0 = 0.6, 0.5 degrees."""
    found = one("R19", make_case(HIGH | {"action_b": 3.0, "saddle_down": 0}))
    assert work(found) == {("shim-neck", ""): 1}
    assert "s = 0.30 x 2 = 0.6" in found.working
    assert "a 0.5 degree taper" in found.sentence


@pytest.mark.parametrize(
    ("action", "angle"),
    [(2.5, "0.25"), (2.55, "0.25"), (2.6, "0.5"), (3.1, "0.5"), (3.15, "1.0"), (4.2, "1.0")],
)
def test_r19_ready_tapers(action: float, angle: str) -> None:
    found = one("R19", make_case(HIGH | {"action_b": action, "saddle_down": 0}))
    assert f"a {angle} degree taper" in found.sentence


def test_r19_limits() -> None:
    assert one("R19", make_case(HIGH)).outcome == "fits"
    assert one("R19", make_case(HIGH | {"action_b": 4.3, "saddle_down": 0})).outcome == "no"
    assert one("R19", make_case(HIGH | {"action_b": 3.5, "joint": "set"})).outcome == "no"
    taller = make_case(HIGH, "hardtail", {"h_min": 12.5})  # the old one goes down to 11
    assert work(one("R19", taller)) == {("shim-neck", ""): 1}


def test_r19_assumed_heights_ask_for_a_rule_not_for_a_shim() -> None:
    taller = make_case(HIGH, "hardtail", {"h_min": 12.5}, assumed=["string_h_body"])
    assert one("R19", taller).outcome == "warn"
    typical = make_case(HIGH, "hardtail", {"h_min": 12.5}, typical=["h_min"])
    assert "measure the strings over the body" in one("R19", typical).sentence


def test_r19_on_a_bass_the_seventeenth_fret_counts() -> None:
    """0.625 of the string: 0.625 mm too high means saddles 1.0 mm down, which is what is left here."""
    bass: dict[str, Value] = {
        **HIGH,
        "kind": "bass-solid",
        "action_b": 3.325,
        "action_t": 2.4,
        "saddle_down": 1,
    }
    assert one("R19", make_case(bass)).outcome == "fits"
    assert one("R19", make_case(bass | {"action_b": 3.33})).outcome == "work"


@pytest.mark.parametrize(("action", "outcome"), [(1.1, "warn"), (1.2, "fits")])
def test_r20_saddle_travel_left_upward(action: float, outcome: str) -> None:
    """Strings 0.5 too low at the 12th want saddles 1.0 up; 1.3 mm are there and 0.5 must stay."""
    low = HIGH | {"action_b": action + 0.4, "action_t": action, "saddle_up": 1.3}
    assert one("R20", make_case(low)).outcome == outcome


def test_r20_a_new_bridge_brings_its_own_height() -> None:
    level = HIGH | {"action_b": 2.0, "action_t": 1.6}
    assert one("R20", make_case(level, "hardtail", {"h_max": 13.5})).outcome == "fits"
    assert one("R20", make_case(level, "hardtail", {"h_max": 13.4})).outcome == "warn"


@pytest.mark.parametrize(("lowest", "outcome"), [(17, "fits"), (17.1, "no")])
def test_r21_bridge_taller_by_design(lowest: float, outcome: str) -> None:
    """13 mm over the body and twice 2 mm of travel: 17."""
    found = one("R21", make_case(HIGH, "postbridge", {"h_min": lowest, "foot_l": 80, "foot_w": 40}))
    assert found.outcome == outcome
    if outcome == "no":
        assert "recess it (13.1 cm3" in found.sentence  # 80 x 40 x 4.1 / 1000


def test_r84_string_length() -> None:
    """648 + 25 behind the saddles + 40 to wind = 713; through a 44.5 mm body 757.5."""
    there = PATH | {"ball_back": 25, "through": False, "body_thk": 44.5}
    assert one("R84", make_case(there, "strings", {"len": 713})).outcome == "fits"
    assert one("R84", make_case(there, "strings", {"len": 712.9})).outcome == "no"
    assert one("R84", make_case(there | {"through": True}, "strings", {"len": 757.4})).outcome == "no"
    bridge = one("R84", make_case(there | {"scale": 762}, "bassbridge", {"ball_back": 40}))
    assert "842 mm" in bridge.sentence


TUNERS: dict[str, Value] = {
    "kind": "guitar-solid",
    "tuner_hole_d": 10,
    "tuner_hole_back_d": 10,
    "tuner_n": 6,
    "tuner_pitch": 25.5,
    "tuner_screw": "one-slant",
    "peg_thk": 14.3,
    "peg_style": "straight-offset",
    "tree_n": 2,
    "string_n": 6,
    "balance": "slow",
}


@pytest.mark.parametrize(
    ("hole", "outcome"), [(10, "fits"), (10.15, "fits"), (10.2, "work"), (17.5, "work"), (17.6, "no")]
)
def test_r28_reaming(hole: float, outcome: str) -> None:
    """Up to 0.15 mm goes; above, ream; 8 mm of wood stay between holes 25.5 mm apart up to 17.5 mm."""
    found = one("R28", make_case(TUNERS, "tuner6", {"hole_d": hole}))
    assert found.outcome == outcome
    if outcome == "work":
        assert work(found) == {("ream-tuner-hole", "tuner-holes"): 6}


def test_r28_on_a_new_neck_the_old_tuners_want_their_hole() -> None:
    assert one("R28", make_case(TUNERS, "neck", {"hole_d": 8.7})).outcome == "work"
    assert one("R28", make_case(TUNERS, "neck", {"hole_d": 10})).outcome == "fits"


@pytest.mark.parametrize(("hole", "bushed", "plugged"), [(9.8, 0, 0), (9.7, 6, 0), (8.0, 6, 0), (7.9, 0, 6)])
def test_r29_r30_smaller_tuners(hole: float, bushed: int, plugged: int) -> None:
    case = make_case(TUNERS, "tuner6", {"hole_d": hole})
    needed = work([*run("R29", case), *run("R30", case)])
    assert needed.get(("bush-tuner-hole", "tuner-holes"), 0) == bushed
    assert needed.get(("plug-hole", "tuner-holes"), 0) == plugged
    assert needed.get(("drill-hole", "tuner-holes"), 0) == plugged
    assert needed.get(("fill-touch-up-chip", "peghead"), 0) == (2 if plugged else 0)


def test_r29_bushings_must_press_into_their_holes() -> None:
    assert one("R29", make_case(TUNERS, "bushing", {"od": 10, "hole_d": 8.3})).outcome == "fits"
    assert one("R29", make_case(TUNERS, "bushing", {"od": 9.6, "hole_d": 8.3})).outcome == "no"


def test_r31_stepped_hole_is_reamed_from_the_back() -> None:
    found = one("R31", make_case(TUNERS | {"tuner_hole_back_d": 8}, "tuner6", {"body_neck_d": 9.9}))
    assert work(found) == {("ream-tuner-hole", "tuner-holes-back"): 6}
    assert found.demands[0].share == D("0.6")
    assert one("R31", make_case(TUNERS, "tuner6", {"body_neck_d": 9.9})).outcome == "fits"


@pytest.mark.parametrize(
    ("thick", "outcome"), [(16, "fits"), (16.1, "work"), (18, "work"), (18.1, "no"), (9.9, "warn")]
)
def test_r32_peghead_thickness(thick: float, outcome: str) -> None:
    found = one("R32", make_case(TUNERS | {"peg_thk": thick}, "tuner6", {"thk_min": 10, "thk_max": 16}))
    assert found.outcome == outcome
    assert work(found) == ({("drill-hole", "tuner-counterbores"): 6} if outcome == "work" else {})


def test_r33_worked_case_of_pins_for_slant_screws() -> None:
    """Six pin holes to drill, six old screw holes to plug, hidden, so no touch-up."""
    found = one("R33", make_case(TUNERS, "tuner6", {"screw_pattern": "pin"}))
    assert work(found) == {("plug-small-hole", "tuner-screws"): 6, ("drill-hole", "tuner-screws"): 6}
    assert "hidden" in found.sentence


def test_r33_holes_that_show_are_touched_up_by_threes() -> None:
    found = one("R33", make_case(TUNERS, "tuner6", {"screw_pattern": "one-straight", "covers": "no"}))
    assert work(found) == {("plug-small-hole", "tuner-screws"): 6, ("fill-touch-up-chip", "peghead"): 2}
    assert one("R33", make_case(TUNERS, "tuner6", {"screw_pattern": "one-slant"})).outcome == "fits"
    four = one(
        "R33",
        make_case(
            TUNERS | {"tuner_screw": "four-corner", "tuner_n": 4}, "tunerb4", {"screw_pattern": "none"}
        ),
    )
    assert work(four) == {("plug-small-hole", "tuner-screws"): 16}


@pytest.mark.parametrize(("wide", "outcome"), [(25, "fits"), (25.1, "no")])
def test_r34_bodies_clear_each_other(wide: float, outcome: str) -> None:
    assert one("R34", make_case(TUNERS, "tuner6", {"body_w": wide})).outcome == outcome


@pytest.mark.parametrize(
    ("change", "dims", "trees"),
    [
        ({}, {}, 0),
        ({"tree_n": 1}, {}, 1),
        ({"tree_n": 0}, {}, 2),
        ({"tree_n": 0, "string_n": 4}, {}, 1),
        ({"tree_n": 0}, {"staggered": "yes"}, 0),
        ({"tree_n": 0, "peg_style": "tilted-back"}, {}, 0),
    ],
)
def test_r35_string_trees(change: dict[str, Value], dims: dict[str, Value], trees: int) -> None:
    needed = work(one("R35", make_case(TUNERS | change, "tuner6", dims)))
    assert needed.get(("fit-string-tree", ""), 0) == trees


@pytest.mark.parametrize(
    ("weight", "balance", "effects"),
    [(48, "slow", 0), (48.1, "slow", 1), (60, "none", 0), (30, "fast", 0)],
)
def test_r36_peghead_weight(weight: float, balance: str, effects: int) -> None:
    """Six tuners of 48 g for 38 g ones add 60 g, which a peghead that drops just bears."""
    found = one("R36", make_case(TUNERS | {"balance": balance}, "tuner6", weight_g=weight))
    assert found.effects == ((("balance", "add", D(-1)),) if effects else ())


@pytest.mark.parametrize(
    ("weight", "balance", "up"), [(28, "slow", True), (28.1, "slow", False), (28, "none", False)]
)
def test_r36_lighter_tuners_raise_a_peghead_that_drops(weight: float, balance: str, up: bool) -> None:
    """Six tuners of 28 g for 38 g ones take 60 g off."""
    found = one("R36", make_case(TUNERS | {"balance": balance}, "tuner6", weight_g=weight))
    assert found.effects == ((("balance", "add", D(1)),) if up else ())


def test_r36_a_set_is_weighed_as_a_set() -> None:
    shop = stub_shop(part_classes={"p-tuner6": SimpleNamespace(counted="set")})
    found = one("R36", make_case(TUNERS, "tuner6", weight_g=252, shop=shop))
    assert "(42 - 38) x 6 = 24 g" in found.working
    assert one("R36", make_case(TUNERS, "tuner6")).outcome == "warn"


@pytest.mark.parametrize(("made", "outcome"), [(5, "no"), (6, "fits"), (7, "no")])
def test_r88_made_for_as_many_strings(made: int, outcome: str) -> None:
    assert one("R88", make_case(PATH, "saddles", {"string_n": made})).outcome == outcome

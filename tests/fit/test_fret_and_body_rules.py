"""Frets, necks, body: worked numbers and a case on each side of the limits (basis: memory)."""

from __future__ import annotations

from decimal import Decimal

import pytest
from msgspec.structs import replace

from tests.fit.cases import Value, asked, make_case, one, run, work

D = Decimal
FRETS: dict[str, Value] = {
    "fret_h": 1.05,
    "fret_wear": 0.12,
    "fret_uneven": 0.10,
    "fret_n": 20,
    "string_n": 4,
    "fret_loose_n": 0,
    "fret_sprout": 0.05,
    "high_fret_n": 2,
    "grooved_n": 5,
    "hump": 0.05,
    "board_mat": "rosewood-type",
    "fret_slot_w": 0.55,
}
WIRE: dict[str, Value] = {"crown_h": 1.2, "crown_w": 2.6, "tang_w": 0.57}


@pytest.mark.parametrize(
    ("height", "wear", "uneven", "left", "outcome"),
    [
        (1.05, 0.12, 0.10, "0.9", "fits"),  # the short-scale bass: level
        (0.90, 0.09, 0.16, "0.71", "warn"),  # the school guitar: level, customer told
        (1.0, 0.12, 0, "0.85", "fits"),
        (1.0, 0.13, 0, "0.84", "warn"),
        (0.85, 0.12, 0, "0.7", "warn"),
        (0.84, 0.12, 0, "0.69", "no"),
    ],
)
def test_r44_level_or_refret(height: float, wear: float, uneven: float, left: str, outcome: str) -> None:
    """Height less the deeper of groove and rock less 0.03 mm of stoning."""
    found = one("R44", make_case(FRETS | {"fret_h": height, "fret_wear": wear, "fret_uneven": uneven}))
    assert found.outcome == outcome
    assert f"= {left}" in found.working


def test_r44_levelling_caps_fret_height() -> None:
    """0.90 mm left is level 2 (0.85 to 1.00); new wire of 1.2 mm is level 4; a 1.0 mm one level 3."""
    assert one("R44", make_case(FRETS)).effects == (("fret-height", "cap", D(2)),)
    assert one("R44", make_case(FRETS, "fretns", WIRE)).effects == (("fret-height", "cap", D(4)),)
    assert one("R44", make_case(FRETS, "fretns", WIRE | {"crown_h": 1.0})).effects == (
        ("fret-height", "cap", D(3)),
    )


def test_r44_filing_single_frets_leaves_the_height_of_the_others() -> None:
    spot = one("R44", make_case(FRETS | {"fret_uneven": 0.3}, upgrade="spot-level-frets"))
    assert (spot.outcome, spot.effects) == ("fits", ())
    assert one("R44", make_case(FRETS | {"fret_h": 0.72}, upgrade="spot-level-frets")).outcome == "no"


@pytest.mark.parametrize(("places", "outcome"), [(0, "fits"), (3, "work"), (4, "no")])
def test_r45_spot_work(places: int, outcome: str) -> None:
    there = FRETS | {"high_fret_n": places, "fret_wear": 0.05}
    found = one("R45", make_case(there, upgrade="spot-level-frets"))
    assert found.outcome == outcome
    assert work(found) == ({("spot-level-fret", ""): places} if outcome == "work" else {})
    levelling = run("R45", make_case(there, upgrade="level-crown-polish"))
    assert [f.outcome for f in levelling] == (["warn"] if places <= 3 else [])


def test_r45_deeper_grooves_are_pointed_out() -> None:
    found = run("R45", make_case(FRETS | {"fret_wear": 0.08}, upgrade="spot-level-frets"))
    assert [f.outcome for f in found] == ["work", "warn"]


@pytest.mark.parametrize(
    ("grooved", "height", "outcome"),
    [(6, 1.13, "warn"), (7, 1.13, "fits"), (6, 1.12, "fits"), (0, 1.2, "fits")],
)
def test_r46_partial_refret(grooved: int, height: float, outcome: str) -> None:
    """1.13 - 0.10 - 0.03 = 1.00 mm left on the others just serves."""
    case = make_case(FRETS | {"grooved_n": grooved, "fret_h": height}, "fretns", WIRE)
    assert one("R46", case).outcome == outcome


@pytest.mark.parametrize(
    ("grooved", "height", "outcome"),
    [(6, 1.13, "fits"), (7, 1.13, "no"), (6, 1.12, "no"), (0, 1.2, "no")],
)
def test_r46_judges_the_partial_refret_itself(grooved: int, height: float, outcome: str) -> None:
    case = make_case(FRETS | {"grooved_n": grooved, "fret_h": height}, "fretpiece", {})
    assert one("R46", case).outcome == outcome


def test_r46_unknown_grooves_are_asked_for() -> None:
    there = {name: value for name, value in FRETS.items() if name != "grooved_n"}
    assert "count the grooved frets" in one("R46", make_case(there, "fretns", WIRE)).sentence


@pytest.mark.parametrize(("loose", "outcome"), [(0, "fits"), (8, "work"), (9, "no")])
def test_r47_loose_frets(loose: int, outcome: str) -> None:
    found = one("R47", make_case(FRETS | {"fret_loose_n": loose}))
    assert found.outcome == outcome
    assert work(found) == ({("reseat-fret", ""): 8} if outcome == "work" else {})
    assert one("R47", make_case(FRETS | {"fret_loose_n": loose}, "fretns", WIRE)).outcome == "fits"


@pytest.mark.parametrize(("sprout", "dressed"), [(0.10, None), (0.11, 20)])
def test_r48_sprout(sprout: float, dressed: int | None) -> None:
    assert (
        work(one("R48", make_case(FRETS | {"fret_sprout": sprout}))).get(("dress-fret-ends", "")) == dressed
    )


@pytest.mark.parametrize(
    ("tang", "task", "share"),
    [(0.55, "", 1), (0.63, "", 1), (0.54, "seat-frets", "1.15"), (0.64, "clean-fret-slots", "1.5")],
)
def test_r49_tang_in_its_slot(tang: float, task: str, share: object) -> None:
    """0.00 to 0.08 mm over a slot of 0.55."""
    found = one("R49", make_case(FRETS, "fretns", WIRE | {"tang_w": tang}))
    assert work(found) == ({(task, ""): 20} if task else {})
    if task:
        assert asked(found, task).share == D(str(share))


def test_r50_stainless_spares() -> None:
    """One spare piece per six frets: 22 frets want 4, 20 also 4, 18 want 3."""
    assert "buy 4 spare pieces" in one("R50", make_case(FRETS | {"fret_n": 22}, "fretss", WIRE)).sentence
    assert "buy 3 spare pieces" in one("R50", make_case(FRETS | {"fret_n": 18}, "fretss", WIRE)).sentence
    assert run("R50", make_case(FRETS, "fretns", WIRE)) == []


def test_r51_lacquered_board() -> None:
    found = one("R51", make_case(FRETS | {"board_mat": "maple-lacquered"}, "fretns", WIRE))
    assert work(found) == {("spray-coat", "board"): 4}
    assert found.demands[0].share == D("0.4")
    assert one("R51", make_case(FRETS, "fretns", WIRE)).outcome == "fits"


@pytest.mark.parametrize(("hump", "outcome"), [(0.20, "fits"), (0.21, "no"), (0.5, "no")])
def test_r52_hump_under_a_level(hump: float, outcome: str) -> None:
    """0.90 left, less 0.21 is 0.69: too little; with higher frets it goes, with a cap."""
    assert one("R52", make_case(FRETS | {"hump": hump})).outcome == outcome
    taller = one("R52", make_case(FRETS | {"hump": 0.21, "fret_h": 1.1}))
    assert (taller.outcome, taller.effects) == ("warn", (("fret-height", "cap", D(1)),))
    assert work(one("R52", make_case(FRETS | {"hump": 0.21}, "fretns", WIRE))) == {("true-board", ""): 1}


HEEL: dict[str, Value] = {
    "joint": "bolt",
    "joint_screw_n": 4,
    "joint_screw_len": 45,
    "joint_screw_d": 4.2,
    "plate_thk": 1.8,
    "heel_wood": 28,
    "heel_thk": 25.4,
    "heel_wid": 56,
    "fret_h": 1,
    "pocket_wid": 56,
    "joint_strip_n": 0,
}


def test_r74_ferrules() -> None:
    """Plate 1.8 and seat 3.0: the clamped height falls by 4.8 mm."""
    found = one("R74", make_case(HEEL, "ferrule4", {"od": 15.9, "seat": 3}))
    assert work(found) == {("drill-neck-ferrules", ""): 4}
    assert "1.8 + 3 = 4.8" in found.working
    assert one("R74", make_case(HEEL | {"joint": "set"}, "ferrule4", {})).outcome == "no"
    assert one("R74", make_case(HEEL, "neckplate", {})).outcome == "fits"


@pytest.mark.parametrize(
    ("wood", "part", "outcome"),
    [
        (17, "ferrule4", "fits"),
        (16.9, "ferrule4", "no"),
        (20, "", "fits"),
        (19.9, "", "no"),
        (14, "neckplate", "fits"),
    ],
)
def test_r75_wood_left_in_the_heel(wood: float, part: str, outcome: str) -> None:
    """14 mm stay: under a seat of 3, and 3 more where the corner is shaped."""
    assert (
        one("R75", make_case(HEEL | {"heel_wood": wood}, part, {"seat": 3} if part else None)).outcome
        == outcome
    )


def test_r75_best_heel_comfort_wants_24_mm_of_wood() -> None:
    assert one("R75", make_case(HEEL | {"heel_wood": 24})).effects == ()
    assert one("R75", make_case(HEEL | {"heel_wood": 23.9})).effects == (("heel-comfort", "cap", D(3)),)
    assert one("R75", make_case(HEEL | {"joint": "set"})).effects == (("heel-comfort", "cap", D(3)),)


@pytest.mark.parametrize(
    ("part", "length", "reach", "outcome"),
    [
        ("neckplate", 45, "15.2", "fits"),  # 45 - 1.8 - 28
        ("neckplate", 42.7, "12.9", "warn"),
        ("neckplate", 47.3, "17.5", "warn"),  # heel takes 25.4 - 5 - 1 - 2 = 17.4
        ("ferrule4", 45, "19", "warn"),  # 45 - (28 - 3) - 1
        ("ferrule4", 43, "17", "fits"),
    ],
)
def test_r76_screw_reach(part: str, length: float, reach: str, outcome: str) -> None:
    dims: dict[str, Value] = {"screw_len": length} | ({"seat": 3, "flange": 1} if part == "ferrule4" else {})
    found = one("R76", make_case(HEEL, part, dims))
    assert found.outcome == outcome
    assert f"= {reach}; wants 13 to 17.4" in found.working


@pytest.mark.parametrize(("od", "length", "outcome"), [(8, 17.4, "work"), (8.1, 12, "no"), (8, 17.5, "no")])
def test_r77_inserts(od: float, length: float, outcome: str) -> None:
    """(56 - 38)/2 - 8/2 = 5 mm to the side of the heel; 25.4 - 8 = 17.4 mm of depth."""
    found = one("R77", make_case(HEEL, "insert4", {"od": od, "len": length, "screw_d": 4.2}))
    assert found.outcome == outcome
    assert work(found) == ({("fit-neck-inserts", ""): 4} if outcome == "work" else {})


def test_r77_thicker_machine_screws_want_wider_body_holes() -> None:
    found = one("R77", make_case(HEEL, "insert4", {"od": 8, "len": 12, "screw_d": 5}))
    assert work(found)[("drill-hole", "heel")] == 4
    assert "to 5.3 mm" in found.sentence
    measured = make_case(HEEL, "insert4", {"od": 8, "len": 12, "edge": 4.9})
    assert one("R77", measured).outcome == "no"


def test_r78_stripped_neck_holes() -> None:
    found = one("R78", make_case(HEEL | {"joint_strip_n": 2}, "neckplate"))
    assert work(found) == {("plug-hole", "heel-screws"): 2, ("drill-hole", "heel-screws"): 2}
    assert one("R78", make_case(HEEL, "neckplate")).outcome == "fits"
    assert one("R78", make_case(HEEL | {"joint_strip_n": 2}, "insert4")).outcome == "fits"


@pytest.mark.parametrize(
    ("wide", "outcome"),
    [(56.4, "fits"), (56.5, "warn"), (57.5, "warn"), (57.6, "no"), (55.2, "fits"), (55.1, "warn")],
)
def test_r79_replacement_neck(wide: float, outcome: str) -> None:
    assert one("R79", make_case(HEEL, "neck", {"heel_w": wide})).outcome == outcome


def test_r79_only_bolted_necks_are_swapped() -> None:
    assert one("R79", make_case(HEEL | {"joint": "through"}, "neck", {"heel_w": 56})).outcome == "no"


def test_r80_weight() -> None:
    """A cut of 72 cm3 in alder saves 32.4 g; a bridge of 450 g for one of 290 g adds 160 g."""
    body: dict[str, Value] = {"weight_g": 3500, "body_wood": "alder", "br_mass": 290}
    cut = one("R80", replace(make_case(body), change_g=D("-32.4")))
    assert "will weigh 3468 g, 32 g less than now" in cut.sentence
    assert cut.working == "3500 - 32.4 = 3467.6 g"
    heavier = one("R80", replace(make_case(body), change_g=D(160)))
    assert "will weigh 3660 g, 160 g more than now" in heavier.sentence
    assert run("R80", make_case(body)) == []


@pytest.mark.parametrize(("firm", "screw", "plugs"), [(True, 3.8, 0), (True, 3.9, 1), (False, 3.5, 1)])
def test_r81_strap_buttons(firm: bool, screw: float, plugs: int) -> None:
    there: dict[str, Value] = {"strap_hole_ok": firm, "strap_screw_d": 3.5}
    needed = work(one("R81", make_case(there, "strap", {"screw_d": screw})))
    assert needed.get(("plug-small-hole", "strap-buttons"), 0) == plugs


@pytest.mark.parametrize(("film", "outcome"), [(0.39, "fits"), (0.4, "warn")])
def test_r82_thick_finish(film: float, outcome: str) -> None:
    assert one("R82", make_case({"fin_thk": film})).outcome == outcome


@pytest.mark.parametrize(("edge", "outcome"), [(6, "fits"), (5.9, "warn"), (4, "warn"), (3.9, "no")])
def test_r83_no_wood_zone(edge: float, outcome: str) -> None:
    assert one("R83", make_case({}, "trem6", {"edge": edge})).outcome == outcome
    assert one("R83", make_case({}, "trem6", {})).outcome == "warn"


def test_r85_mixed_plating() -> None:
    there: dict[str, Value] = {"metal_colour": "chrome"}
    assert one("R85", make_case(there, "trem6", {"colour": "chrome"})).effects == ()
    assert one("R85", make_case(there, "trem6", {"colour": "gold"})).effects == (("cosmetics", "add", D(-1)),)
    assert one("R85", make_case(there, "trem6", {"colour": "gold"}, typical=["colour"])).effects == ()
    assert one("R85", make_case({"metal_colour": "mixed"}, "trem6", {"colour": "gold"})).effects == ()
    assert one("R85", make_case({}, "trem6", {"colour": "gold"})).outcome == "warn"


def test_r86_and_r87_are_cautions() -> None:
    assert "tier D" in one("R86", make_case({"tier": "D"})).sentence
    assert "touch up only" in one("R86", make_case({"tier": "B"})).sentence
    caution = one("R87", make_case({}))
    assert caution.outcome == "warn"
    assert "no copied peghead outline" in caution.sentence


@pytest.mark.parametrize(("made", "outcome"), [(3, "no"), (4, "fits"), (6, "no")])
def test_r89_made_for_as_many_joint_screws(made: int, outcome: str) -> None:
    there: dict[str, Value] = {"joint": "bolt", "joint_screw_n": 4}
    assert one("R89", make_case(there, "ferrule4", {"screw_n": made})).outcome == outcome
    assert run("R89", make_case(there | {"joint": "set"}, "ferrule4", {"screw_n": made})) == []

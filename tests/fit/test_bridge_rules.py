"""Bridge screws, reach, saddles: worked numbers and limits.

Basis of the limits: memory of an experienced hand; the geometry is recomputed in the tests by hand.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.fit.cases import Value, make_case, one, run, work

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


def test_r01_worked_number() -> None:
    """52.5 to 56.0 mm over six screws: errors 1.75, 1.05, 0.35 each side; 2 reused, 4 plugged, 4 drilled."""
    found = one("R01", make_case(SIX, "trem6", NEW_SIX))
    assert "errors 1.75, 1.05, 0.35, 0.35, 1.05, 1.75" in found.working
    assert work(found) == {
        ("plug-hole", "bridge-holes"): 4,
        ("drill-hole", "bridge-holes"): 4,
        ("layout-bridge", ""): 1,
    }
    assert "plugging all 6 (2 more) halves the odds" in found.sentence


@pytest.mark.parametrize(("spread", "drilled"), [(52.5, 0), (53.5, 0), (53.51, 2), (50, 4)])
def test_r01_each_side_of_half_a_millimetre(spread: float, drilled: int) -> None:
    """The outer screw of six is off by half the change of spread: 53.5 just fits, 53.51 does not."""
    found = one("R01", make_case(SIX, "trem6", NEW_SIX | {"spread": spread}))
    assert work(found).get(("drill-hole", "bridge-holes"), 0) == drilled
    assert found.outcome == ("work" if drilled else "fits")


def test_r01_leaves_other_counts_and_other_bridges_alone() -> None:
    assert run("R01", make_case(SIX, "trem6", NEW_SIX | {"screw_n": 5})) == []
    assert run("R01", make_case(SIX | {"br_type": "hardtail"}, "trem6", NEW_SIX)) == []


def test_r02_other_count_is_compared_hole_by_hole() -> None:
    """Six over 52.5 (pitch 10.5) and four over 52.5 (pitch 17.5): the outer two meet, the inner two clash."""
    found = one("R02", make_case(SIX, "trem6", NEW_SIX | {"screw_n": 4, "spread": 52.5}))
    assert "2 of 4 screws meet" in found.sentence
    assert work(found)[("drill-hole", "bridge-holes")] == 2
    assert work(found)[("plug-hole", "bridge-holes")] == 2
    assert run("R02", make_case(SIX, "trem6", NEW_SIX)) == []


def test_r02_on_a_hardtail_of_the_same_pattern_needs_nothing() -> None:
    there: dict[str, Value] = {**SIX, "br_type": "hardtail", "br_screw_n": 5, "br_spread": 50}
    found = one("R02", make_case(there, "hardtail", {"spread": 50, "screw_n": 5, "screw_d": 3.5}))
    assert found.outcome == "fits"


@pytest.mark.parametrize(
    ("wood", "screw", "pilot", "outcome"),
    [
        ("basswood", 3.5, "2.28", "fits"),
        ("alder", 3.5, "2.52", "fits"),
        ("hard-maple", 3.5, "2.8", "fits"),
        ("alder", 4.5, "3.24", "warn"),
        ("alder", 2.5, "1.8", "warn"),
    ],
)
def test_r03_pilot_is_a_share_of_the_screw(wood: str, screw: float, pilot: str, outcome: str) -> None:
    found = one("R03", make_case(SIX | {"body_wood": wood}, "trem6", NEW_SIX | {"screw_d": screw}))
    assert found.outcome == outcome
    assert f"= {pilot};" in found.working


def test_thicker_screws_open_the_holes_that_are_kept() -> None:
    """2 kept holes of the worked case want 3.24 instead of 2.52 mm: drilled too, so 6 in all."""
    found = one("R01", make_case(SIX, "trem6", NEW_SIX | {"screw_d": 4.5}))
    assert work(found)[("drill-hole", "bridge-holes")] == 6
    assert work(found)[("plug-hole", "bridge-holes")] == 4


@pytest.mark.parametrize(
    ("row_offset", "travel", "outcome"),
    [
        (0, 10, "fits"),
        (0, 9.9, "work"),
        (-6, 12, "fits"),
        (-6.1, 12, "work"),
        (1, 12, "fits"),
        (1.1, 12, "work"),
    ],
)
def test_r22_intonation_reach(row_offset: float, travel: float, outcome: str) -> None:
    """0 to +5 mm past the scale must lie within row -/+ half the travel."""
    part = NEW_SIX | {"row": row_offset, "travel": travel}
    found = one("R22", make_case(SIX, "trem6", part))
    assert found.outcome == outcome
    if outcome == "work":
        assert work(found) == {
            ("plug-hole", "bridge-holes"): 6,
            ("drill-hole", "bridge-holes"): 6,
            ("layout-bridge", ""): 1,
        }


def test_r22_a_bass_wants_eight_millimetres_behind_the_scale() -> None:
    bass: dict[str, Value] = {**SIX, "kind": "bass-solid", "br_type": "bass-plate", "br_screw_n": 5}
    part: dict[str, Value] = {"row": 0, "travel": 16, "screw_n": 5}
    assert one("R22", make_case(bass, "bassbridge", part)).outcome == "fits"
    assert one("R22", make_case(bass, "bassbridge", part | {"travel": 15})).outcome == "work"


@pytest.mark.parametrize(
    ("scale", "outcome"), [(648, "fits"), (651, "warn"), (642, "warn"), (651.1, "no"), (641, "no")]
)
def test_r22_scale_of_a_new_neck(scale: float, outcome: str) -> None:
    """Saddles can go 3 mm longer and 6 mm shorter."""
    assert one("R22", make_case(SIX | {"scale": 648}, "neck", {"scale": scale})).outcome == outcome


@pytest.mark.parametrize(("thick", "outcome"), [(28, "work"), (50, "work"), (27.9, "no"), (50.1, "no")])
def test_r23_string_through(thick: float, outcome: str) -> None:
    there: dict[str, Value] = {"through": False, "body_thk": thick, "string_n": 6}
    found = one("R23", make_case(there, "barrel", {"through": "yes"}))
    assert found.outcome == outcome
    if outcome == "work":
        assert work(found) == {
            ("drill-string-through", "string-holes"): 6,
            ("fit-string-ferrules", "string-holes"): 6,
        }
    assert run("R23", make_case(there, "barrel", {"through": "no"})) == []
    assert one("R23", make_case(there | {"through": True}, "barrel", {"through": "yes"})).outcome == "fits"


def test_r24_bridge_ground() -> None:
    assert work(one("R24", make_case({"br_gnd": False, "battery": "none"}))) == {("ground-bridge", ""): 1}
    assert one("R24", make_case({"br_gnd": True})).outcome == "fits"
    assert one("R24", make_case({"br_gnd": False, "battery": "clip"})).outcome == "warn"


@pytest.mark.parametrize(
    ("width", "outcome"), [(10.8, "fits"), (10.9, "fits"), (10.91, "no"), (10.31, "fits"), (10.3, "no")]
)
def test_r25_saddles_side_by_side(width: float, outcome: str) -> None:
    """Six old saddles of 10.8 are 64.8; six new ones may be 65.4 together, 10.9 each."""
    there: dict[str, Value] = {"string_n": 6, "saddle_w": 10.8, "saddle_thread": "m3"}
    assert one("R25", make_case(there, "saddles", {"saddle_w": width, "thread": "m3"})).outcome == outcome


def test_r25_thread_must_agree() -> None:
    there: dict[str, Value] = {"string_n": 6, "saddle_w": 10.8, "saddle_thread": "m3"}
    assert one("R25", make_case(there, "saddles", {"saddle_w": 10.8, "thread": "unc-4-40"})).outcome == "no"
    assert one("R25", make_case(there, "saddles", {"saddle_w": 10.8})).outcome == "warn"


def test_r26_block_alone_must_match_its_plate() -> None:
    assert one("R26", make_case(SIX, "block", {"matching": "yes"})).outcome == "fits"
    assert one("R26", make_case(SIX, "block", {"matching": "no"})).outcome == "no"
    assert one("R26", make_case(SIX, "block", {})).outcome == "warn"
    assert one("R26", make_case(SIX | {"br_type": "hardtail"}, "block", {"matching": "yes"})).outcome == "no"


def test_r27_bass_bridge_pattern() -> None:
    bass: dict[str, Value] = {
        **SIX,
        "kind": "bass-solid",
        "br_type": "bass-plate",
        "br_screw_n": 5,
        "br_spread": 60,
    }
    part: dict[str, Value] = {"spread": 60, "screw_n": 5, "screw_d": 3.5}
    assert one("R27", make_case(bass, "bassbridge", part)).outcome == "fits"
    moved = work(one("R27", make_case(bass, "bassbridge", part | {"spread": 64})))
    assert moved[("plug-small-hole", "bridge-holes")] == 4
    assert moved[("drill-hole", "bridge-holes")] == 4
    assert one("R27", make_case(SIX, "bassbridge", part)).outcome == "no"

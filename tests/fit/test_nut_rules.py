"""Nuts and their slots: worked numbers and limits (basis: memory)."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace

import pytest

from estimator.fit.candidates import all_upgrades
from estimator.fit.judge import judge_all
from estimator.input.job.load import job_from
from estimator.tables.toml.text import parse_toml
from tests.fit.cases import Value, asked, make_case, one, stub_shop, work
from tests.shops import default_shop

D = Decimal
NUT: dict[str, Value] = {
    "kind": "guitar-solid",
    "nut_wid": 42,
    "nut_seat_w": 3.3,
    "nut_seat": "flat",
    "nut_spread": 35.5,
    "string_n": 6,
    "fret_h": 1.0,
    "fret_wear": 0.05,
    "fret_uneven": 0.05,
    "nut_clear_b": 0.5,
    "nut_clear_t": 0.4,
    "string_gauge_change": False,
    "br_type": "six-screw-trem",
}


@pytest.mark.parametrize(("length", "outcome"), [(41.7, "fits"), (41.6, "no")])
def test_r37_nut_length(length: float, outcome: str) -> None:
    assert one("R37", make_case(NUT, "nutcut", {"len": length})).outcome == outcome


def test_a_typical_length_too_short_is_refused_with_what_would_pass() -> None:
    found = one("R37", make_case(NUT, "nutcut", {"len": 41}, typical=["len"]))
    assert found.outcome == "no"
    assert "take one of at least 41.7 mm (typical size: name one that suits" in found.sentence


@pytest.mark.parametrize(
    ("thick", "outcome", "minutes"), [(3.4, "fits", 0), (3.8, "work", 2), (3.1, "fits", 0), (3.0, "no", 0)]
)
def test_r38_nut_thickness(thick: float, outcome: str, minutes: int) -> None:
    """Half a millimetre too thick is two minutes of thinning."""
    found = one("R38", make_case(NUT, "nutcut", {"thk": thick}))
    assert found.outcome == outcome
    if minutes:
        assert asked(found, "fit-preslotted-nut").extra_min == minutes
        blank = one("R38", make_case(NUT, "nutblank", {"thk": thick}))
        assert asked(blank, "shape-nut").extra_min == minutes


def test_r39_nut_base() -> None:
    """Time saved by a ready-cut nut 12 + 6 x 1.6 - 13 = 8.6 min, of which 0.3 is lost: 2.6."""
    minutes = {"shape-nut": "12", "slot-nut": "1.6", "fit-preslotted-nut": "13"}
    shop = stub_shop(tasks={task: SimpleNamespace(run_min_likely=D(run_)) for task, run_ in minutes.items()})
    curved = NUT | {"nut_seat": "curved"}
    found = one("R39", make_case(curved, "nutcut", {"base": "flat"}, shop=shop))
    assert found.demands[0].extra_min == D("2.6")
    assert found.demands[0].levels == {"NS": "curved"}
    assert one("R39", make_case(curved, "nutblank", {"base": "flat"})).demands[0].extra_min == 0
    assert one("R39", make_case(NUT, "nutcut", {"base": "flat"})).outcome == "fits"
    assert one("R39", make_case(NUT, "nutcut", {"base": "curved"})).outcome == "work"


@pytest.mark.parametrize(("spread", "outcome"), [(36.3, "fits"), (36.4, "no"), (34.7, "fits"), (34.6, "no")])
def test_r40_slot_spacing(spread: float, outcome: str) -> None:
    assert one("R40", make_case(NUT, "nutcut", {"nut_spread": spread})).outcome == outcome


def test_r40_edge_distance() -> None:
    """41.1 mm: (41.1 - 35.5)/2 = 2.8 just goes, 41.0 leaves 2.75; a blank is slotted as wanted."""
    assert one("R40", make_case(NUT | {"nut_wid": 41.1}, "nutcut", {"nut_spread": 35.5})).outcome == "fits"
    assert one("R40", make_case(NUT | {"nut_wid": 41}, "nutcut", {"nut_spread": 35.5})).outcome == "no"
    assert one("R40", make_case(NUT | {"nut_wid": 41}, "nutblank", {})).outcome == "warn"
    assert one("R40", make_case(NUT, "nutblank", {})).outcome == "fits"


@pytest.mark.parametrize(
    ("change", "part", "dims", "needed"),
    [
        ({}, "fretns", {"crown_h": 1.15}, {}),
        ({}, "fretns", {"crown_h": 1.16}, {("shim-nut", ""): 1, ("adjust-nut-slots", ""): 6}),
        ({"fret_wear": 0.05}, "", {}, {}),
        ({"fret_wear": 0.06}, "", {}, {("adjust-nut-slots", ""): 6}),
        ({"fret_wear": 0.5}, "nutcut", {}, {}),
    ],
)
def test_r41_nut_follows_the_frets(
    change: dict[str, Value], part: str, dims: dict[str, Value], needed: dict[tuple[str, str], int]
) -> None:
    assert work(one("R41", make_case(NUT | change, part, dims))) == needed


@pytest.mark.parametrize(
    ("bass", "treble", "needed"),
    [
        (0.31, 0.21, {}),
        (0.60, 0.50, {}),
        (0.28, 0.45, {("fill-nut-slot", ""): 1}),
        # where both outer strings lie too low, those between them do
        (0.30, 0.20, {("fill-nut-slot", ""): 6}),
        (0.30, 0.21, {("fill-nut-slot", ""): 1}),
        (0.61, 0.50, {("adjust-nut-slots", ""): 6}),
        (0.28, 0.51, {("fill-nut-slot", ""): 1, ("adjust-nut-slots", ""): 6}),
    ],
)
def test_r42_gap_over_the_first_fret(bass: float, treble: float, needed: dict[tuple[str, str], int]) -> None:
    """A bass with one slot at 0.28 mm wants that slot filled."""
    assert work(one("R42", make_case(NUT | {"nut_clear_b": bass, "nut_clear_t": treble}))) == needed


def test_r42_a_new_nut_is_cut_to_its_own_gap() -> None:
    assert one("R42", make_case(NUT | {"nut_clear_b": 0.1}, "nutblank", {})).outcome == "fits"


def test_r43_heavier_strings() -> None:
    found = one("R43", make_case(NUT | {"string_gauge_change": True}))
    assert work(found) == {
        ("adjust-nut-slots", ""): 6,
        ("adjust-truss-rod", ""): 1,
        ("set-intonation", ""): 6,
        ("set-tremolo", ""): 1,
    }
    hard = one("R43", make_case(NUT | {"string_gauge_change": True, "br_type": "hardtail"}))
    assert ("set-tremolo", "") not in work(hard)
    assert one("R43", make_case(NUT)).outcome == "fits"


@pytest.mark.parametrize("mat", ["hollow-plastic", "bone", "roller", "locking"])
@pytest.mark.parametrize("bridge", ["six-screw-trem", "locking-trem", "hardtail"])
def test_a_new_neck_takes_the_nut_that_the_bridge_works_with(mat: str, bridge: str) -> None:
    """A nut that is screwed down goes over to the new neck; it gets no slotted nut in its place."""
    shop = default_shop()
    text = '[job]\nid = "j"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\n'
    job = job_from(parse_toml(f'{text}br_type = "{bridge}"\nnut_mat = "{mat}"\n'.encode(), "j.toml"), shop)
    necks = [u for u in all_upgrades(shop, job) if u.row.id == "replacement-neck"]
    assert necks
    for verdict in judge_all(shop, job, necks):
        if verdict.outcome == "does-not-fit":
            continue
        done = {demand.task: dict(demand.levels) for demand in verdict.demands}
        moved = mat in ("roller", "locking")
        assert ("fit-mechanical-nut" in done, "set-nut-height" in done) == (moved, moved)
        assert ("slot-nut" in done, "adjust-nut-slots" in done) == (not moved, not moved)
        if moved:
            assert done["fit-mechanical-nut"]["NMECH"].startswith(mat)

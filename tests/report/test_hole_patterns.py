"""Holes of real hardware: patterns of the tables bored hole by hole, depth stops by the screws' lengths."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from msgspec.structs import replace

from estimator.fit.case import Case
from estimator.fit.judge import judge_job
from estimator.fit.rules.bridges import needed_row
from estimator.model import Shop
from estimator.report.hole_plans import (
    HolePlan,
    bridge_screws,
    new_neck_screws,
    of_memory,
    screw_depth,
    tuner_holes,
)
from estimator.report.svg.fit import drawing, head_of
from tests.drawn_jobs import example, the_shop
from tests.fit.cases import Value, one
from tests.fit.cases import make_case as bare_case

D = Decimal
HARDTAIL: dict[str, Value] = {
    "br_type": "hardtail",
    "br_screw_n": 5,
    "br_spread": 50,
    "br_screw_d": 3.5,
    "scale": 648,
}
STATED: dict[str, Value] = {"spread": 42, "screw_n": 5, "screw_d": 3.5, "pattern": "bridge-three-two"}


def make_case(
    instrument: dict[str, Value], part: str, dims: dict[str, Value], shop: Shop | None = None
) -> Case:
    wood: dict[str, Value] = {"body_wood": "alder", "kind": "guitar-solid", "string_n": 6}
    return bare_case(wood | instrument, part, dims, shop=shop or the_shop())


def plan_of(instrument: dict[str, Value], part: str, dims: dict[str, Value]) -> HolePlan:
    (plan,) = bridge_screws(make_case(instrument, part, dims))
    return plan


def test_a_pattern_is_bored_hole_by_hole() -> None:
    """By hand: an old row at -25, -12.5, 0, 12.5, 25; the new pattern -21, 0, 21 on that line and -21, 21 28 mm
    behind it. The one in the middle is reused, 21 clashes with 25 (4 mm, wanted 2.52 + 1.5 = 4.02), the rear ones
    lie free: four to drill, two to plug.
    """
    plan = plan_of(HARDTAIL, "hardtail", STATED)
    assert [(hole.y, hole.x) for hole in plan.test.needed] == [(-21, 0), (0, 0), (21, 0), (-21, 28), (21, 28)]
    assert [new.case for new in plan.test.new] == ["clash", "reuse", "clash", "separate", "separate"]
    assert (plan.test.drilled, len(plan.test.plugged)) == (4, 2)
    found = one("R02", make_case(HARDTAIL, "hardtail", STATED))
    asked = {(d.task, d.place): d.quantity for d in found.demands}
    assert asked["drill-hole", "bridge-holes"] == 4
    assert asked["plug-small-hole", "bridge-holes"] == 2
    assert "new row 5 over 42 by 28 mm" in found.working


def test_the_same_pattern_on_both_bores_nothing() -> None:
    found = one("R02", make_case(HARDTAIL | {"br_pattern": "bridge-three-two"}, "hardtail", STATED))
    assert found.demands == ()
    assert "all 5 screws meet old holes" in found.sentence


def test_a_pattern_from_memory_is_dashed_and_a_measured_one_is_not() -> None:
    plan = plan_of(HARDTAIL, "hardtail", STATED)
    assert any("bridge three two" in words for words in plan.of_part)
    said = drawing(plan, head_of(example("tight-commission")))
    assert "Do not drill or cut from this" in said
    assert 'stroke-dasharray="1.2 0.8" data-mark="new' in said
    shop = the_shop()
    holes = tuple(replace(hole, basis="own") for hole in shop.drawn.patterns["bridge-three-two"])
    patterns = dict(shop.drawn.patterns) | {"bridge-three-two": holes}
    own = replace(shop, drawn=replace(shop.drawn, patterns=patterns))
    case = make_case(HARDTAIL, "hardtail", STATED, own)
    assert of_memory(case, "bridge-three-two") == ()


def test_the_depth_stop_comes_from_the_screws() -> None:
    """By hand: a screw of 30 mm through a plate of 2.5 mm goes 27.5 mm into the wood."""
    measured = STATED | {"screw_len": 30, "plate_thk": 2.5}
    assert screw_depth(make_case(HARDTAIL, "hardtail", measured)) == (
        "27.5 mm: screws of 30 mm less a plate of 2.5 mm"
    )
    lengths: dict[str, Value] = {"screw_len": 25, "plate_thk": 2.5}
    usual = screw_depth(bare_case(HARDTAIL, "hardtail", STATED | lengths, typical=lengths))
    assert usual.startswith("22.5 mm")
    assert "hold the screw in hand beside the bit first" in usual


def test_the_screws_of_a_new_neck_stop_short_of_the_fingerboard() -> None:
    """By hand: 45 mm of screw less 1.8 of plate and 28 of body: 15.2 mm."""
    bolted: dict[str, Value] = {
        "joint": "bolt",
        "joint_screw_n": 4,
        "joint_screw_d": 4.2,
        "joint_screw_len": 45,
        "plate_thk": 1.8,
        "heel_wood": 28,
    }
    (plan,) = new_neck_screws(make_case(bolted, "neck", {"drilled": "no"}))
    assert plan.depth.startswith("15.2 mm into the heel, no more")
    assert {hole.d for hole in plan.test.needed} == {D("3.360")}
    assert list(new_neck_screws(make_case(bolted, "neck", {"drilled": "yes"}))) == []


@pytest.mark.parametrize("seed", range(12))
def test_what_is_drawn_is_what_is_asked_for(seed: int) -> None:
    """Any pattern against any other: the plan shows the amounts that the rule asks for."""
    chance = random.Random(seed)
    part = chance.choice(("hardtail", "barrel", "bassbridge"))
    words = the_shop().part_dimensions[f"p-{part}"]["pattern"].choices
    there = chance.choice(the_shop().intake["br_pattern"].choices)
    kind = "bass-solid" if part == "bassbridge" else "guitar-solid"
    instrument: dict[str, Value] = HARDTAIL | {
        "kind": kind,
        "br_type": "bass-plate" if part == "bassbridge" else "hardtail",
        "br_pattern": there,
    }
    case = make_case(instrument, part, STATED | {"pattern": chance.choice(words)})
    found = one("R02", case)
    asked = {(d.task, d.place): d.quantity for d in found.demands if d.place == "bridge-holes"}
    asked.pop(("fill-touch-up-chip", "bridge-holes"), None)
    (plan,) = bridge_screws(case)
    assert dict(plan.shown()) == asked
    assert len(plan.test.needed) == len(needed_row(case)) > 0


def test_the_examples_are_judged_as_before_where_no_pattern_is_named() -> None:
    job = example("tight-commission")
    for verdict in judge_job(the_shop(), job):
        for finding in verdict.findings:
            assert " by " not in finding.working or finding.rule != "R02"


@pytest.mark.parametrize(
    ("style", "tuners", "rows"),
    [
        ("straight-offset", 6, [6]),
        ("straight-offset", 12, [6, 6]),
        ("tilted-back", 6, [3, 3]),
        ("tilted-back", 7, [4, 3]),
        ("straight-offset", 4, [4]),
    ],
)
def test_tuners_stand_in_one_row_or_one_a_side(style: str, tuners: int, rows: list[int]) -> None:
    """Twelve in one row would be a peghead of 280 mm: no such thing is built (common practice)."""
    there: dict[str, Value] = {
        "peg_style": style,
        "tuner_n": tuners,
        "tuner_hole_d": 8.7,
        "tuner_pitch": 25.5,
    }
    (plan,) = tuner_holes(make_case(there, "tuner6", {"hole_d": 10}))
    places = [(hole.x, hole.y) for hole in plan.test.needed]
    sides = sorted({x for x, _ in places})
    assert [sum(x == side for x, _ in places) for side in sides] == rows

"""Drawings: to scale, complete, readable without colour."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from xml.etree import ElementTree as ET

from estimator.fit.holes import Hole, compare_holes, row
from estimator.report.drawings import PiecePlan, cavity_plan, rout_plan
from estimator.report.hole_plans import HolePlan
from estimator.report.svg.fit import draw_cavity, draw_holes, draw_piece, draw_rout
from tests.fit.cases import make_case

D = Decimal
SVG = "{http://www.w3.org/2000/svg}"
TREMOLO = compare_holes(row(6, D("52.5"), D("2.5")), row(6, D(56), D("2.5")), D("0.5"))


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def test_every_hole_has_its_word() -> None:
    """The worked case: 4 plugged, 2 kept, 4 drilled, 2 reused."""
    said = texts(draw_holes(TREMOLO, "Bridge"))
    counts = {word: said.count(word) for word in ("plug", "keep", "drill", "reuse", "leave")}
    assert counts == {"plug": 4, "keep": 2, "drill": 4, "reuse": 2, "leave": 0}
    assert "old: 6 over 52.5 mm" in said
    assert "new: 6 over 56 mm" in said


def test_holes_are_drawn_to_scale() -> None:
    """At 2 : 1 the outer old holes stand 105 mm apart, each 5 mm across; the bar of 10 mm is 20 long."""
    root = ET.fromstring(draw_holes(TREMOLO, "Bridge"))
    black = [c for c in root.iter(f"{SVG}circle") if c.get("r") == "2.5" and c.get("stroke") == "#000000"]
    places = [float(c.get("cx", "0")) for c in black]
    assert max(places) - min(places) == 105
    assert "10 mm, drawn 2 : 1" in texts(draw_holes(TREMOLO, "Bridge"))
    assert any(
        line.get("stroke-width") == "0.8" and float(line.get("x2", "0")) - float(line.get("x1", "0")) == 20
        for line in root.iter(f"{SVG}line")
    )


def test_hidden_holes_are_dashed_and_titles_are_escaped() -> None:
    far = compare_holes([Hole(D(0), D(-20), D(3))], [Hole(D(0), D(20), D(3))], D("0.5"))
    drawn = draw_holes(far, "plate <new> & old")
    assert "leave" in texts(drawn)
    assert "plate <new> & old" in texts(drawn)
    assert 'stroke-dasharray="0.8 0.6"' in drawn


def test_the_same_test_gives_the_same_drawing() -> None:
    assert draw_holes(TREMOLO, "Bridge") == draw_holes(TREMOLO, "Bridge")


def test_cavity_before_and_after() -> None:
    """The worked block: 22 to 29.7 along, 72 to 76 across, 19.4 cm3, wall 12 - 1.92."""
    case = make_case(
        {
            "br_type": "six-screw-trem",
            "tcav_len": 22,
            "tcav_wid": 72,
            "tcav_dep": 44.5,
            "tcav_wall": 12,
        },
        "block",
        {"block_h": 42, "block_t": 16, "block_w": 73},
    )
    drawn = draw_cavity(cavity_plan(case))
    said = texts(drawn)
    assert said[0] == "Tremolo cavity: 19.4 cm3 to take out"
    for words in ("was 22 mm", "becomes 29.7 mm", "was 72 mm", "becomes 76 mm", "wall 10.1 mm"):
        assert words in said
    boxes = [(b.get("width"), b.get("height")) for b in ET.fromstring(drawn).iter(f"{SVG}rect")]
    assert ("72", "22") in boxes
    assert ("76", "29.66") in boxes


def test_rout_before_and_after() -> None:
    case = make_case(
        {
            "pu_bridge": "single",
            "rout_kind": "per-place",
            "access": "guard-mounted",
            "rout_l_bridge": 89,
            "rout_w_bridge": 22,
            "rout_d_bridge": 19,
        },
        "hum",
        {"size_l": 69, "size_w": 38, "depth": 17},
        place="pickup-bridge",
    )
    said = texts(draw_rout(rout_plan(case)))
    assert said[0] == "Bridge pickup rout: 26.0 cm3 to take out"
    for words in ("was 89 mm", "was 22 mm", "wants 72 mm", "wants 41 mm"):
        assert words in said


def test_lengths_stand_clear_of_holes_of_any_width() -> None:
    """60 drawn patterns of holes and seats up to 24 mm wide: no length, its words or the list stands in a hole."""
    draw = random.Random(15)
    for _ in range(60):
        wide = D(draw.randint(2, 24))
        rows = draw.choice(((D(0),), (D(-20), D(20)), (D(0), D(30))))
        old = [Hole(x, y, D(4)) for x in rows for y in (D(-30), D(30))]
        new = [Hole(x, y, wide) for x in rows for y in (D(-30), D(draw.randint(20, 30)))]
        plan = HolePlan("seats", compare_holes(old, new, D("0.5")))
        root = ET.fromstring(draw_holes(plan.test, plan.title, plan))
        circles = [(float(c.get("cy", "0")), float(c.get("r", "0"))) for c in root.iter(f"{SVG}circle")]
        drawn = [(y, r) for y, r in circles if r != 1.8]  # those of 1.8 are the key's
        top = min(y - r for y, r in drawn)
        low = max(y + r for y, r in drawn)
        said = {t.text or "": float(t.get("y", "0")) for t in root.iter(f"{SVG}text")}
        (above,) = (y for words, y in said.items() if words.startswith("old: "))
        (below,) = (y for words, y in said.items() if words.startswith("new: "))
        assert above <= top - 2
        assert below >= low + 4


def test_what_is_assumed_of_a_piece_is_dashed_from_the_side_too() -> None:
    sure = PiecePlan("block", D(76), D(24), (D("44.5"), D("44.5")), ("block-tremolo", ""), D(1))
    for plan, dashed in ((sure, False), (replace(sure, measure=("its depth",)), True)):
        shape = next(ET.fromstring(draw_piece(plan)).iter(f"{SVG}polygon"))
        assert (shape.get("stroke-dasharray") is not None) == dashed
        said = texts(draw_piece(plan))
        assert "from the side: 44.5 mm" in said
        assert said.count("44.5 mm") == 0  # told once where both ends are alike

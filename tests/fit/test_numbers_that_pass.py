"""A refusal names the number that would pass: with that number in its place the same rule refuses no more."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from decimal import Decimal

import pytest

from tests.fit.cases import Value, make_case, run

D = Decimal
Numbers = dict[str, Value]
Draw = Callable[[random.Random], tuple[Numbers, str, Numbers]]


def some(chance: random.Random, low: float, high: float) -> float:
    return round(chance.uniform(low, high), 2)


#: by rule: what it judges, drawn; the dimension (of the part, or ``heel_wood``) that the named number is for
CASES: dict[str, tuple[Draw, str, str]] = {
    "R04": (
        lambda c: (
            {"body_thk": some(c, 36, 46), "br_type": "six-screw-trem"},
            "trem6",
            {"block_h": some(c, 35, 48)},
        ),
        "block_h",
        r"a block of ([\d.]+) mm or less",
    ),
    "R28": (
        lambda c: (
            {"tuner_pitch": some(c, 17, 24), "tuner_hole_d": 8.0, "tuner_n": 6},
            "tuner6",
            {"hole_d": some(c, 9, 15)},
        ),
        "hole_d",
        r"holes of at most ([\d.]+) mm",
    ),
    "R32": (
        lambda c: ({"peg_thk": some(c, 13, 22), "tuner_n": 6}, "tuner6", {"thk_max": some(c, 11, 16)}),
        "thk_max",
        r"at least ([\d.]+) mm",
    ),
    "R34": (
        lambda c: ({"tuner_pitch": some(c, 20, 26)}, "tuner6", {"body_w": some(c, 19, 28)}),
        "body_w",
        r"of at most ([\d.]+) mm",
    ),
    "R38": (
        lambda c: ({"nut_seat_w": some(c, 3, 6)}, "nutcut", {"thk": some(c, 2.5, 5)}),
        "thk",
        r"one of at least ([\d.]+) mm",
    ),
    "R75": (
        lambda c: ({"heel_wood": some(c, 12, 24), "joint": "bolt"}, "ferrule4", {"seat": some(c, 2.5, 3.5)}),
        "heel_wood",
        r"a heel of at least ([\d.]+) mm",
    ),
    "R77": (
        lambda c: (
            {
                "heel_wid": some(c, 50, 60),
                "heel_thk": some(c, 18, 26),
                "joint": "bolt",
                "joint_screw_n": 4,
                "joint_screw_d": 4.2,
            },
            "insert4",
            {"od": some(c, 6, 12), "len": 8},
        ),
        "od",
        r"ones of at most ([\d.]+) mm",
    ),
}


@pytest.mark.parametrize("number", CASES)
def test_the_number_that_a_refusal_names_passes(number: str) -> None:
    draw, dimension, words = CASES[number]
    chance, refused = random.Random(number), 0
    for _ in range(200):
        instrument, part, dims = draw(chance)
        no = [f for f in run(number, make_case(instrument, part, dims)) if f.outcome == "no"]
        if not no:
            continue
        refused += 1
        named = re.search(words, no[0].sentence)
        assert named, no[0].sentence
        mended = {dimension: D(named.group(1))}
        there = {**instrument, **mended} if dimension in instrument else instrument
        inside = dims if dimension in instrument else {**dims, **mended}
        assert all(f.outcome != "no" for f in run(number, make_case(there, part, inside))), no[0].sentence
    assert refused > 15

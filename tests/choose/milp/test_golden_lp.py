"""The mathematics pinned by text: one small programme for every kind of rule and every aim.

After a change that is meant, write the files anew with UPDATE_GOLDEN=1 and read the difference.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.choose import choose
from estimator.choose.milp.constraints import RULES, STRUCTURES
from estimator.choose.milp.linear import Linear
from estimator.choose.milp.model import Programme
from estimator.choose.milp.objectives import OBJECTIVES, stages_of
from estimator.choose.solvers.lp_file import lp_text, model_bytes
from estimator.model import Baskets, Good, Packs, ParcelFreight
from estimator.model.problem import (
    Amount,
    Clock,
    Giver,
    Income,
    Problem,
    Rule,
    Scale,
    Source,
    WayChoice,
    Weight,
)
from tests.choose.examples import piece, two_bridges
from tests.choose.own_measure import measure_of
from tests.choose.strategies import STEPPED, stepped_price
from tests.slow.choose.instances import typical

FOLDER = Path(__file__).parents[2] / "golden" / "lp"

BARE = Problem(
    options=("bridge", "frets", "nut"),
    slots=(),
    prerequisites=(),
    conflicts=(),
    pieces=(
        piece("desk", None, 500, 600),
        piece("bridge", ("bridge",), 4000, 3000, 8.0, 2500, price_parts=5000),
        piece("frets", ("frets",), 9000, 9000, 20.0, price_parts=3000),
        piece("strings off", ("bridge", "frets"), 300, 500, 1.0, consumables=40),
        piece("nut", ("nut",), 1200, 1500, 5.0, -10, price_parts=700),
    ),
    scales=(
        Scale("nut", 10, (Giver(30, ("nut",)),), (), ()),
        Scale(
            "action",
            10,
            (Giver(20, ("nut",)), Giver(30, ("frets",))),
            (Giver(10, ("bridge",), ("nut",)), Giver(5, ("nut",), (), "task:set")),
            (Giver(20, ("bridge",)),),
            (("nut", 10),),
            (("nut", 5),),
        ),
    ),
    amounts=(Amount("weight", 3_600_000, (Giver(-40_000, ("frets",)),), True),),
    rules=(),
    z_minutes=0.8416,
    z_price=0.0,
    shared_cause=0.2,
    weights=(Weight("action", 9000, 30), Weight("weight", 2000, 20, (3_700_000, 3_580_000), "less")),
    incomes=(Income("sale", None, 9000), Income("frets", ("frets",), 8000)),
)

RULE_CASES = {
    "level": Rule(Source.WISH, "level", "action at least level 3", "action", 30, of="action"),
    "amount": Rule(
        Source.WISH, "amount", "weight 3.5 to 3.8 kg", "weight", 3_500_000, 3_800_000, of="weight"
    ),
    "money": Rule(Source.BUDGET, "money", "price at most 150.00", most=15_000, on="price"),
    "minutes": Rule("hours", "minutes", "at most 2.00 h at 80 % surety", most=12_000),
    "due": Rule(Source.DUE, "due", "back by 2026-10-07", most=2, on="2026-10-05"),
    "required": Rule(Source.REQUIRED, "required", "nut is required", upgrades=("nut",), of="nut"),
    "refused": Rule(Source.REFUSED, "refused", "nut is refused", upgrades=("nut",), of="nut"),
}
STRUCTURE_CASES = {
    "slot": {"slots": (("bench", ("bridge", "frets", "nut")),)},
    "prerequisite": {"prerequisites": (("frets", ("bridge", "nut")), ("bridge", ()))},
    "conflict": {"conflicts": (("bridge", "nut"),)},
    "way": {
        "ways": (
            WayChoice("level", ("bridge", "frets"), ("level=file", "level=hand")),
            WayChoice("desk", None, ("desk=quick",)),
        )
    },
    "packs": {
        "packs": (
            Packs("filler", 1200, 100, 0, ((("bridge", "nut"), 60), (("nut",), 20))),
            Packs("glue", 900, 50, 0, ((None, 10), (("frets",), 70))),
            Packs("lacquer", 1600, 100, 30, ((("bridge", "frets"), 120), (("frets",), 45)), True),
        )
    },
    "freight": {
        "packs": (Packs("lacquer", 1600, 100, 30, ((("bridge", "frets"), 120), (("frets",), 45)), True),),
        "baskets": Baskets(
            (
                Good("bridge", 2500, (("house", 2500), ("specialist", 2375)), ("bridge",)),
                Good("nut", 700, (("specialist", 665),), ("nut",)),
                Good("lacquer", 1600, (("store", 1600), ("house", 1728)), consumable="lacquer"),
            ),
            (
                ParcelFreight("house", 900, 4000),
                ParcelFreight("specialist", 1200),
                ParcelFreight("store", 750, 9000),
            ),
        ),
    },
}


def text_of(name: str) -> str:
    if name in RULE_CASES:
        clock = Clock((0, 3000, 6000, 12_000), (("frets", 3), ("nut", 1)), frozenset({"desk"}))
        problem = replace(BARE, rules=(RULE_CASES[name],), clock=clock if name == "due" else None)
        aim = Linear()
    elif name in STRUCTURE_CASES:
        problem = replace(BARE, **STRUCTURE_CASES[name])
        aim = Linear()
    else:
        problem = BARE
        aim = None
    programme = Programme(problem, measure_of(problem, stepped_price), STEPPED)
    if aim is None:
        (aim,) = stages_of(name.removeprefix("aim-"), programme)
        assert aim is not None
    return lp_text(programme, aim)


LINEAR_AIMS = [f"aim-{name}" for name, aim in OBJECTIVES.items() if aim.total is not None]
NAMES = [*RULES, *STRUCTURES, *LINEAR_AIMS]


@pytest.mark.parametrize("name", NAMES)
def test_rows_are_those_written_down(name):
    path = FOLDER / f"{name}.lp"
    text = text_of(name)
    if os.environ.get("UPDATE_GOLDEN"):
        path.write_text(text, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == text


def test_every_rule_and_aim_has_its_text_and_no_text_is_left_over():
    assert set(RULES) == set(RULE_CASES)
    assert set(STRUCTURES) == set(STRUCTURE_CASES)
    assert {p.stem for p in FOLDER.glob("*.lp")} == set(NAMES)


def test_every_rule_has_a_sentence():
    for kind in (*RULES.values(), *STRUCTURES.values(), *OBJECTIVES.values()):
        assert kind.sentence.strip()


@pytest.mark.parametrize("ending", ["lp", "mps"])
@pytest.mark.parametrize("name", ["two bridges", "typical"])
def test_saved_programme_has_the_same_optimum_in_another_reader(tmp_path, capfd, ending, name):
    """Read back by the solver's own reader, not by ours."""
    highspy = pytest.importorskip("highspy")
    problem = two_bridges() if name == "two bridges" else typical(24, 3)
    programme = Programme(problem, measure_of(problem))
    path = tmp_path / f"choice.{ending}"
    path.write_bytes(model_bytes(programme, programme.columns.total("cost"), path))
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    assert solver.readModel(str(path)) == highspy.HighsStatus.kOk
    solver.run()
    answer = choose(problem, measure_of(problem))
    assert answer.status == "optimal"
    assert round(solver.getObjectiveValue()) == answer.objective
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("ending", ["lp", "mps"])
def test_saved_programme_of_an_impossible_wish_is_infeasible(tmp_path, ending):
    highspy = pytest.importorskip("highspy")
    problem = two_bridges()
    wish = Rule(Source.WISH, "level", "tuning at least level 5", "tuning", 50)
    programme = Programme(replace(problem, rules=(wish,)), measure_of(problem))
    path = tmp_path / f"choice.{ending}"
    path.write_bytes(model_bytes(programme, programme.columns.total("cost"), path))
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    assert solver.readModel(str(path)) == highspy.HighsStatus.kOk
    solver.run()
    assert solver.modelStatusToString(solver.getModelStatus()) == "Infeasible"

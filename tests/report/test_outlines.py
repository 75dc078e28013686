"""The edge of a guard or a headstock, from the points of the job: drawn, counted, and 1 : 1 on as many pages as it takes."""

from __future__ import annotations

import random
import re
from decimal import Decimal
from xml.etree import ElementTree as ET

import pytest

from estimator.core.errors import InputError
from estimator.fit.judge import judge_job
from estimator.input.job.load import job_from
from estimator.model import Job
from estimator.report.drawings import OutlinePlan, drawn_of
from estimator.report.svg.fit import drawing, head_of, template_page
from estimator.report.svg.outlines import OVERLAP, TILE, outline_tiles
from estimator.report.svg.sheet import Head
from estimator.tables.toml.text import parse_toml
from tests.drawn_jobs import EXAMPLES, the_shop

D = Decimal
SVG = "{http://www.w3.org/2000/svg}"
GUARD = """
[[outline]]
of = "guard"
points = [[-60, 0], [55.5, -12], [70, 120], [10, 260], [-48, 210]]
holes = [[-50, 8], [60, 100]]
"""


def job_with(outline: str) -> Job:
    text = (EXAMPLES / "tight-commission.toml").read_text(encoding="utf-8")
    return job_from(parse_toml((text + outline).encode(), "job.toml"), the_shop())


def test_the_points_given_are_drawn_and_nothing_is_left_to_trace() -> None:
    job = job_with(GUARD)
    upgrade = next(
        v.upgrade for v in judge_job(the_shop(), job) if v.upgrade.id.startswith("guard-from-blank")
    )
    found = drawn_of(the_shop(), job, upgrade)
    plan = found.plans["outline-guard"]
    assert isinstance(plan, OutlinePlan)
    assert plan.size == (130, 272)
    assert all(gap.task != "cut-guard-blank" for gap in found.not_drawn)
    before = drawn_of(the_shop(), job_with(""), upgrade)
    assert any(gap.task == "cut-guard-blank" for gap in before.not_drawn)
    svg = drawing(plan, head_of(job))
    assert "2: 55.5, -12" in svg
    assert (
        len([c for c in ET.fromstring(svg).iter(f"{SVG}circle") if c.get("data-mark") == "screw hole"]) == 2
    )
    page = template_page(job, [("a guard", found)])
    assert "page 1 of 2" in page
    assert "page 2 of 2" in page


@pytest.mark.parametrize(
    ("outline", "said"),
    [
        ('of = "guard"\npoints = [[0, 0], [1, 1]]', "too few points"),
        ('of = "guard"\npoints = [[0, 0], [10, 10], [10, 0], [0, 10]]', "crosses itself"),
        ('of = "guard"\npoints = [[0, 0], [10], [10, 0]]', "point 2 is no pair"),
        ('of = "guard"\npoints = [[0, 0], [10, "x"], [10, 0]]', "number"),
        ('of = "guard"\npoints = [[0, 0], [10, 900], [10, 0]]', "-700 to 700"),
        ('of = "guard"\npoints = "all round"', "no list of points"),
        ('of = "lid"\npoints = [[0, 0], [10, 10], [10, 0]]', "guard"),
        ('of = "guard"\nedge = 3\npoints = [[0, 0], [10, 10], [10, 0]]', "edge"),
        ('of = "guard"', "too few points"),
    ],
)
def test_a_bad_outline_is_told_with_its_place(outline: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        job_with(f"\n[[outline]]\n{outline}\n")
    assert said in str(caught.value)
    assert "outline" in str(caught.value)


def test_twice_the_same_is_told() -> None:
    with pytest.raises(InputError, match="two outlines of the same thing"):
        job_with(GUARD + GUARD)


@pytest.mark.parametrize("seed", range(15))
def test_the_pages_show_every_point_at_true_size(seed: int) -> None:
    """Every point of any outline lies on a page, and on each page at the same place against its corner as in the plan."""
    chance = random.Random(seed)
    wide, high = chance.uniform(5, 600), chance.uniform(5, 600)
    points = tuple(
        (D(f"{x:.1f}"), D(f"{y:.1f}")) for x, y in ((-wide / 2, 3.0), (wide / 2, 0.0), (wide / 3, high))
    )
    plan = OutlinePlan("Guard", points, (), ("cut-guard-blank", ""))
    *pages, whole = outline_tiles(plan, Head("a-job"))
    assert "3: " in whole
    seen: set[int] = set()
    for page in pages:
        root = ET.fromstring(page)
        (box,) = (r for r in root.iter(f"{SVG}rect") if r.get("fill") is None)
        left, top = float(box.get("x", "")), float(box.get("y", ""))
        (shape,) = root.iter(f"{SVG}polygon")
        drawn = [tuple(map(float, pair.split(","))) for pair in shape.get("points", "").split()]
        for (x, y), (u, v) in zip(points, drawn, strict=True):
            assert u - drawn[0][0] == pytest.approx(float(x - points[0][0]), abs=0.02)
            assert v - drawn[0][1] == pytest.approx(float(y - points[0][1]), abs=0.02)
        seen |= {
            n for n, (u, v) in enumerate(drawn) if left <= u <= left + TILE[0] and top <= v <= top + TILE[1]
        }
        assert float(re.findall(r'height="([0-9.]+)mm"', page)[0]) < 240
    assert seen == {0, 1, 2}
    assert min(TILE) > OVERLAP

"""Where something is measured, as it is drawn: every place is on the paper, and every field that has one is lit."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from estimator.model import CaliperPlace, Shop
from estimator.report.svg.caliper import PARTS, figure, lit, view_box
from tests.shops import default_shop


@pytest.fixture(scope="module")
def shop() -> Shop:
    return default_shop()


def coordinates(shapes: str) -> list[tuple[str, float]]:
    found = re.findall(r' (x|y|x1|x2|y1|y2|cx|cy)="([-\d.]+)"', shapes)
    return [(name.strip("c12"), float(number)) for name, number in found]


def test_every_place_is_drawn_on_the_paper(shop: Shop) -> None:
    wide, high = map(float, view_box().split()[2:])
    places = list(shop.drawn.calipers.values())
    drawn = figure(places)
    ET.fromstring(f"<svg>{drawn}</svg>")
    assert sorted(re.findall(r">([A-Z])</text>", drawn)) == sorted(place.letter for place in places)
    for name, number in coordinates(drawn):
        assert 0 <= number <= (wide if name == "x" else high)


def test_every_field_but_what_the_instrument_is_lights_a_place(shop: Shop) -> None:
    wide, high = map(float, view_box().split()[2:])
    seen = set()
    for spec in shop.intake.values():
        place: CaliperPlace | None = shop.drawn.calipers.get(spec.id)
        shapes = lit(spec, place)
        ET.fromstring(f"<svg>{shapes}</svg>")
        assert bool(shapes) == (spec.section != "identity"), spec.id
        assert ("<text" in shapes) == (place is not None)
        assert all(0 <= number <= (wide if name == "x" else high) for name, number in coordinates(shapes))
        if place is None:
            seen.add(spec.section)
        else:
            assert f">{place.letter}</text>" in shapes
    assert seen == {"identity", *PARTS}


def test_what_is_lit_is_the_measure_of_the_figure(shop: Shop) -> None:
    for name, place in shop.drawn.calipers.items():
        ends = r'<line x1="([^"]+)" y1="([^"]+)" x2="([^"]+)" y2="([^"]+)"'
        inked = re.findall(ends, lit(shop.intake[name], place))
        grey = re.findall(ends, figure([place]))
        assert inked[0] in grey

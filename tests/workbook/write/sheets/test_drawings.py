"""The Drawings sheet: there when something is cut, true to scale, marks told apart without colour."""

from __future__ import annotations

import dataclasses
import io
from collections.abc import Collection
from datetime import date
from decimal import Decimal
from types import SimpleNamespace
from typing import Any, cast

import pytest
from msgspec.structs import replace
from openpyxl import load_workbook

from estimator.choose.study import Study, study_job
from estimator.fit.holes import Hole, compare_holes, row
from estimator.report.drawings import CavityPlan, PiecePlan, RoutPlan, cavity_plan, plans_of
from estimator.report.hole_plans import HolePlan
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.drawn_marks import (
    Series,
    cavity_series,
    facts_of,
    hole_series,
    rout_series,
    series_of,
)
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.sheets.drawings import CHART_AT, SHEET, WIDTHS, _bar, _chart, _draw
from tests.drawn_jobs import example, the_shop
from tests.fit.cases import Value, make_case

D = Decimal
#: the worked case: 52.5 to 56 over six screws, 4 plugged, 2 kept
ROW = HolePlan("row", compare_holes(row(6, D("52.5"), D("2.5")), row(6, D(56), D("2.5")), D("0.5")))
CAVITY: dict[str, Value] = {
    "br_type": "six-screw-trem",
    "tcav_len": 22,
    "tcav_wid": 72,
    "tcav_dep": 44.5,
    "tcav_wall": 12,
}
BLOCK: dict[str, Value] = {"block_h": 42, "block_t": 16, "block_w": 73}
ROUT = RoutPlan("rout", (D(89), D(22), D(19)), (D(72), D(41), D(19)), D(26))


def block_plan() -> CavityPlan:
    return cavity_plan(make_case(CAVITY, "block", BLOCK))


def sheets(study: Study, chosen: Collection[str]) -> Any:
    return load_workbook(io.BytesIO(quote_bytes(study, chosen=chosen)))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("job", "chosen", "there"),
    [
        ("tight-commission", ("set-up",), False),
        ("tight-commission", ("new-block-premium",), True),
        ("short-scale-bass", ("bass-bridge-standard",), True),
    ],
)
def test_the_sheet_is_there_when_there_is_something_to_draw(
    job: str, chosen: tuple[str, ...], there: bool, studies: dict[str, Study]
) -> None:
    book = sheets(studies[job], chosen)
    assert (SHEET in book.sheetnames) is there
    if there:
        assert len(book[SHEET]._charts) == 1
    client = study_job(studies[job].shop, replace(studies[job].job, kind="commission"))
    customer = load_workbook(io.BytesIO(customer_quote_bytes(client, chosen=chosen)))
    assert customer.sheetnames == ["Quote"]


@pytest.mark.slow
def test_its_points_are_those_of_the_fit(studies: dict[str, Study]) -> None:
    """The screw rows on the sheet are the existing and drilled holes of the hole test, in mm."""
    study = studies["tight-commission"]
    upgrade = study.verdict("hardtail-bridge-premium").upgrade
    plans = plans_of(study.shop, study.job, upgrade)
    plan, strings = plans["holes"], plans["string-holes"]
    assert isinstance(plan, HolePlan)
    assert isinstance(strings, HolePlan)
    page = sheets(study, (upgrade.id,))[SHEET]
    rows = [(str(r[0].value), r[1].value, r[3].value) for r in page.iter_rows() if r[3].value is not None]
    old = [(word, across) for word, across, _ in rows if word.split()[0] in ("keep", "plug", "leave")]
    assert sorted(across for _, across in old) == sorted(float(h.y) for h in plan.test.existing)
    new = [across for word, across, _ in rows if word == "drill"]
    # the holes of the strings through the body stand on the same sheet, after the screws
    assert new == pytest.approx(
        [float(h.y) for each in (plan, strings) for h in each.test.needed], abs=0.0051
    )
    sizes = sorted({size for word, _, size in rows if word == "drill"})
    assert sizes == pytest.approx([float(each.test.needed[0].d) for each in (plan, strings)], abs=0.0051)


@pytest.mark.parametrize("plan", [ROW, block_plan(), ROUT], ids=["holes", "cavity", "rout"])
def test_both_axes_have_the_same_scale(plan: Any) -> None:
    """Millimetres a pixel along the strings and across them are the same, and everything lies within."""
    calls: dict[str, Any] = {}

    class Recorder:
        def __getattr__(self, name: str) -> Any:
            return lambda options: calls.__setitem__(name, options)

    series = series_of(plan)
    book = cast(Book, SimpleNamespace(chart=lambda options: Recorder()))
    _chart(book, series, [(0, len(each.points) - 1) for each in series], 2.0)
    x, y, size, inner = (calls[n] for n in ("set_x_axis", "set_y_axis", "set_size", "set_plotarea"))
    across = (x["max"] - x["min"]) / (inner["layout"]["width"] * size["width"])
    along = (y["max"] - y["min"]) / (inner["layout"]["height"] * size["height"])
    assert across == pytest.approx(along, rel=1e-4)
    assert across == pytest.approx(25.4 / 96 / 2, rel=1e-3)
    for each in series:
        for at_y, at_x in each.points:
            assert y["min"] <= at_x <= y["max"]
            if plan is ROW:
                assert x["min"] <= at_y <= x["max"]
    room = sum(7 * width + 5 for width in WIDTHS[5:])
    assert size["width"] <= room


def test_every_fate_of_a_hole_has_a_mark_and_words_of_its_own() -> None:
    far = HolePlan("far", compare_holes(row(6, D("52.5"), D("2.5")), row(5, D(50), D("2.5")), D("0.5")))
    both = [*hole_series(ROW), *hole_series(far)]
    marks = {each.name: each.marker["type"] for each in both}
    assert set(marks) == {
        "old hole, reused",
        "old hole, plugged",
        "old hole, left hidden",
        "new hole, drilled",
    }
    assert len(set(marks.values())) == 4
    words = [word for each in hole_series(ROW) for word in each.words]
    assert sorted(word.split()[0] for word in words) == ["drill"] * 4 + ["keep"] * 2 + ["plug"] * 4
    counted = dict(facts_of(ROW))
    assert (counted["Plugged"], counted["Reused"], counted["Drilled"]) == ("4", "2", "4")


def span(each: Series) -> tuple[Decimal, Decimal]:
    """How wide and how long an outline is, to 0.01 mm."""
    ys, xs = zip(*each.points, strict=True)
    return round(max(ys) - min(ys), 2), round(max(xs) - min(xs), 2)


def test_outlines_have_the_worked_size() -> None:
    """22 to 29.66 along, 72 to 76 across, wall 12 - 1.92 (the worked block)."""
    size = {each.name: span(each) for each in cavity_series(block_plan())}
    assert size["cavity as it is"] == (D(72), D(22))
    assert size["cavity as it becomes"] == (D(76), D("29.66"))
    assert size["block at rest"] == (D(73), D(16))
    said = {word for each in cavity_series(block_plan()) for word in each.words if word}
    assert said == {"was 22 x 72 mm", "becomes 29.7 x 76 mm", "wall 10.1 mm"}
    assert dict(facts_of(block_plan()))["Wood to take out"] == "19.4 cm3"
    lines = [str(each.line) for each in cavity_series(block_plan())]
    assert len(set(lines)) == len(lines)
    assert [word for each in rout_series(ROUT) for word in each.words if word] == [
        "was 22 x 89 mm",
        "wants 41 x 72 mm",
    ]


def test_no_line_of_a_template_runs_off_the_page() -> None:
    """Depth and volume stand at the end of the line of a rout: wrapped, they are on the paper."""
    from estimator.workbook.write.sheets.templates import WIDE, _words
    from estimator.workbook.write.style import wrapped_lines

    study = study_job(the_shop(), example("tight-commission"))
    there, need = (D(74), D(41), D(19)), (D(87), D(21), D(17))
    plan = RoutPlan("Bridge pickup rout: 4.6 cm3 to take out", there, need, D("4.6"), "pickup-bridge")
    lines = [line for line, style in _words(study, "a pickup", plan) if style == "small"]
    assert [line for line in lines if wrapped_lines(line, WIDE, 9) != [line]] == []
    assert len(lines) > 1
    assert "Depth, as wanted 17 mm" in " ".join(lines)
    assert "Wood to take out 4.6 cm3" in " ".join(lines)


def test_a_tall_pattern_is_drawn_at_true_size() -> None:
    """Joint screws lie 51 mm apart along: twice as large they would leave the page with their key."""
    from estimator.fit.holes import Hole, compare_holes
    from estimator.report.hole_plans import HolePlan
    from estimator.workbook.write.drawn_marks import hole_scale

    plate = [Hole(D(x), D(y), D(4)) for x in (-25, 26) for y in (-19, 19)]
    assert hole_scale(HolePlan("Plate", compare_holes((), plate, D("0.5")))) == 1.0
    assert hole_scale(HolePlan("Row", compare_holes((), plate[:2], D("0.5")))) == 2.0


def test_the_sheet_says_from_which_side_each_plan_is_seen() -> None:
    """A battery box is cut from the back: a drawing that said "front" would be laid on the wrong face."""
    battery = RoutPlan(
        "Battery box", (D(0),) * 3, (D(76), D(30), D(28)), D(64), "battery", seen_from="the back"
    )
    shim = PiecePlan("Shim", D(56), D(75), (D(1), D(0)), ("shim-neck", ""), D(1))
    told = {}
    for plan in (
        battery,
        ROUT,
        block_plan(),
        shim,
        dataclasses.replace(ROW, seen_from="the face of the peghead"),
    ):
        sheet = Sheet(SHEET, WIDTHS)
        _draw(Book("sides", date(2026, 3, 2)), sheet, 0, "some upgrade", plan)
        told[plan.title] = str(sheet._cells[2, CHART_AT].content).rpartition(", ")[2]
    assert list(told.values()) == [
        "from the back",
        "from the front",
        "from the back",
        "from above",
        "from the face of the peghead",
    ]


def test_the_bar_stands_clear_of_holes_of_any_width() -> None:
    """Seats from 2 to 24 mm wide: the bar is 8 mm below the lowest edge."""
    for wide in range(2, 25):
        old = [Hole(D(x), D(y), D(4)) for x in (-25, 25) for y in (-19, 19)]
        new = [Hole(hole.x, hole.y, D(wide)) for hole in old]
        series = series_of(HolePlan("seats", compare_holes(old, new, D("0.5"))))
        edge = min(
            x - size / 2 for each in series for (_, x), size in zip(each.points, each.sizes, strict=True)
        )
        assert {x for _, x in _bar(series).points} == {edge - 8}

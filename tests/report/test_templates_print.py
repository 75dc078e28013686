"""Templates on paper: 100 mm are 100 mm, and holes stand at their ordinates, in a browser's print and in the workbook's."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from estimator.choose.study import study_job
from estimator.report.drawings import Drawn, drawn_of
from estimator.report.hole_plans import HolePlan
from estimator.report.page.pdf import browser_there, pdf_of
from estimator.report.svg.fit import template_page
from estimator.report.svg.sheet import MARGIN, PAGE_WIDE
from estimator.workbook.write.quote import quote_bytes
from estimator.workbook.write.sheets.templates import BAR, SHEET
from tests.drawn_jobs import example, the_shop
from tests.report.pdf_shapes import Line, lines_of, pages_of, text_of
from tests.workbook.recalculate import recalculated

#: a screw row against a row of another count, ferrules of 15.9 mm on a plate of 38 x 51, tuner screws
UPGRADES = ("hardtail-bridge-standard", "heel-ferrules-standard", "new-tuners-locking-six")
NEW_BLUE = (4, 31, 61)


def plans(upgrade: str) -> Drawn:
    study = study_job(the_shop(), example("tight-commission"))
    return drawn_of(study.shop, study.job, study.verdict(upgrade).upgrade)


def crosses(lines: list[Line], d: float) -> list[tuple[float, float]]:
    """Middles of the new holes by their hair lines; round each stands a circle of the diameter (or its dashes)."""
    new = [line for line in lines if line.ink == NEW_BLUE]
    level = [line for line in new if line.along < 0.02 and d + 3 < line.across < d + 4.05]
    upright = [line for line in new if line.across < 0.02 and d + 3 < line.along < d + 4.05]
    found = []
    for line in level:
        x, y = line.middle
        assert any(abs(other.middle[0] - x) < 0.05 and abs(other.middle[1] - y) < 0.05 for other in upright)
        room = d / 2 + 0.3
        round_it = [
            piece
            for piece in new
            if min(piece.across, piece.along) > 0.02
            and piece.left > x - room
            and piece.right < x + room
            and piece.top > y - room
            and piece.bottom < y + room
        ]
        reach = max(max(x - piece.left, piece.right - x) for piece in round_it)
        assert d / 2 - 0.1 < reach < d / 2 + 0.35  # a dash that is filled has its width besides
        found.append((x, y))
    return sorted(found)


def check(lines: list[Line], plan: HolePlan, middle_from_bar: float) -> int:
    """The bar is 100 mm, and the new holes stand where the plan has them; how many were found."""
    bars = [line for line in lines if line.along < 0.01 and 95 < line.across < 105 and line.wide > 0.6]
    assert len(bars) == 1
    assert bars[0].across == pytest.approx(100, abs=0.2)
    holes = [(h, n) for h, n in zip(plan.test.needed, plan.test.new, strict=True) if n.case != "reuse"]
    wanted = sorted((float(hole.y), float(hole.x)) for hole, _ in holes)
    found = crosses(lines, float(holes[0][0].d))
    assert len(found) == len(wanted)
    middle = bars[0].middle[0] + middle_from_bar
    for (x, y), (across, along) in zip(found, wanted, strict=True):
        assert x - middle == pytest.approx(across, abs=0.1)
        assert y - found[0][1] == pytest.approx(along - wanted[0][1], abs=0.1)
    return len(found)


@pytest.mark.slow
@pytest.mark.parametrize("upgrade", UPGRADES)
def test_a_browser_prints_it_true_to_size(upgrade: str, tmp_path: Path) -> None:
    if browser_there() is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no browser on the build server: install chromium")
        pytest.skip("no browser is installed here to print with")
    drawn = plans(upgrade)
    pdf = tmp_path / "page.pdf"
    pdf.write_bytes(pdf_of(template_page(example("tight-commission"), [(upgrade, drawn)])))
    assert pages_of(pdf) == len(drawn.plans) + bool(drawn.not_drawn)
    plan = next(iter(drawn.plans.values()))
    assert isinstance(plan, HolePlan)
    assert check(lines_of(pdf, 1), plan, PAGE_WIDE / 2 - MARGIN - BAR / 2) == plan.test.drilled


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_workbook_prints_it_true_to_size(paper: str, tmp_path: Path) -> None:
    study = study_job(the_shop(), example("tight-commission"))
    book = tmp_path / "quote.xlsx"
    book.write_bytes(quote_bytes(study, chosen=UPGRADES, paper=paper))
    (pdf,) = recalculated([book], tmp_path, "pdf", forced=False)
    checked = 0
    titles = {p.title: p for u in UPGRADES for p in plans(u).plans.values() if isinstance(p, HolePlan)}
    first = next(n for n in range(1, pages_of(pdf) + 1) if text_of(pdf, n).startswith(f"{SHEET}  ·"[:9]))
    for page in range(first, pages_of(pdf) + 1):
        for title, plan in titles.items():
            if title in text_of(pdf, page):
                checked += check(lines_of(pdf, page), plan, 0)
    assert checked == sum(plan.test.drilled for plan in titles.values())

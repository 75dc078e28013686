"""The drawings on a job card: each bored or cut place once, under its first task, with its marks."""

from __future__ import annotations

import io
from decimal import Decimal
from functools import cache
from typing import Any

import pytest

from estimator.choose.study import study_job
from estimator.report.drawings import DrawnPlan, drawn_of
from estimator.report.hole_plans import HolePlan
from estimator.workbook.write.card_pictures import mark_words
from estimator.workbook.write.quote import quote_bytes
from estimator.workbook.write.sheets.job_card import KEY, LAST, NO, TWO_PAGES, WIDER, WIDTHS, WORK
from tests.drawn_jobs import example, the_shop

D = Decimal
CHOSEN = ("hardtail-bridge-standard", "heel-ferrules-standard", "new-tuners-locking-six")


@cache
def card_and_plans() -> tuple[Any, list[DrawnPlan]]:
    openpyxl = pytest.importorskip("openpyxl")
    study = study_job(the_shop(), example("tight-commission"))
    book = openpyxl.load_workbook(io.BytesIO(quote_bytes(study, chosen=CHOSEN)))
    plans: list[DrawnPlan] = []
    for upgrade in CHOSEN:
        found = drawn_of(study.shop, study.job, study.verdict(upgrade).upgrade)
        plans += [plan for plan in found.plans.values() if plan not in plans and plan.shown()]
    return book["Job card"], plans


@pytest.mark.slow
def test_every_drawn_place_stands_once_under_a_task() -> None:
    card, plans = card_and_plans()
    assert len(plans) >= 4
    assert len(card._charts) == len(plans)
    for chart in card._charts:
        row = chart.anchor._from.row  # from 0
        assert card.cell(row + 1, KEY + 1).value
        assert isinstance(card.cell(row + 1, NO + 1).value, int)
        said = str(card.cell(row + 1, 4).value)
        assert "Drawn: " in said


@pytest.mark.slow
def test_the_points_of_the_drawings_are_not_printed() -> None:
    card, _ = card_and_plans()
    area = str(card.print_area)
    assert area.rstrip("0123456789").rstrip("$").endswith(chr(ord("A") + LAST))
    assert card.page_setup.fitToHeight in (0, 1, 2)


def test_few_holes_carry_their_ordinates() -> None:
    from estimator.fit.holes import compare_holes, row

    plan = HolePlan("Screws", compare_holes((), row(3, D(50), D(3)), D("0.5")), line="row")
    assert mark_words(plan, ["A", "B", "C"]) == ["A 25L", "B 0", "C 25R"]
    many = HolePlan("Screws", compare_holes((), row(9, D(80), D(3)), D("0.5")), line="row")
    marks = [chr(ord("A") + n) for n in range(9)]
    assert mark_words(many, marks) == marks


SIX = (
    "bridge-pickup-humbucker-standard",
    "hidden-chamber",
    "locking-tremolo-standard",
    "neck-inserts-standard",
    "new-guard-standard",
    "new-tuners-locking-six",
)


@pytest.mark.slow
def test_a_card_of_six_bored_upgrades_takes_two_pages() -> None:
    """Its column of work is wider, so that no letter is smaller than on any card of two pages."""
    openpyxl = pytest.importorskip("openpyxl")
    study = study_job(the_shop(), example("tight-commission"))
    card = openpyxl.load_workbook(io.BytesIO(quote_bytes(study, chosen=SIX)))["Job card"]
    assert card.page_setup.fitToHeight == 2
    last = int(str(card.print_area).rpartition("$")[2])
    tall = sum(card.row_dimensions[row].height or 15 for row in range(1, last + 1))
    assert tall <= TWO_PAGES
    assert card.column_dimensions["D"].width == pytest.approx(WIDER[WORK], abs=1)
    assert len(card._charts) >= 5
    words = " ".join(str(card.cell(row, 4).value) for row in range(1, last + 1))
    assert "Off the centre line of the neck, mm: A 37L, B 37R" in words


@pytest.mark.slow
def test_a_small_card_keeps_its_widths() -> None:
    card, _ = card_and_plans()
    assert card.column_dimensions["D"].width == pytest.approx(WIDTHS[WORK], abs=1)

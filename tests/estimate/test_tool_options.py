"""The cheapest tool grade."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.estimate.three_point import mean_of
from estimator.estimate.tools.grades import (
    ToolGrade,
    Work,
    cheapest_grade,
    cost_with,
    grades_for,
    grades_of,
    payback,
)
from estimator.estimate.work_list import neutral_setting, price_work
from estimator.model import Task
from tests.estimate.jobs import work
from tests.shops import default_shop

SHOP = default_shop()
RATE = Decimal(75)


def run(task: Task, factor: Decimal) -> Decimal:
    """Mean run of 22 frets on a metal."""
    mean = mean_of(task.run_min_low, task.run_min_likely, task.run_min_high, task.reading)
    return 22 * mean * factor


def crowning(metal: str) -> Work:
    row = SHOP.metals[metal]
    return Work(
        units=Decimal(22),
        run_minutes=run(SHOP.tasks["crown-frets"], row.crown),
        wear=row.tool_wear,
        after_minutes=run(SHOP.tasks["polish-frets"], row.polish),
    )


def test_crowning_file_on_nickel_silver() -> None:
    """Worked on paper (memory): $0.044 against $0.024 a fret, $0.45 and about 8 min a neck; 102.50 / 10.45 = 10 necks."""
    cheap, dear = grades_of(SHOP.tools["t-crown-file"], SHOP)
    assert cheap.price / cheap.life == Decimal("0.044")
    assert dear.price / dear.life == Decimal("0.02375")
    found = payback(cheap, dear, crowning("nickel-silver"), RATE)
    # time that costs nothing leaves the wear alone
    assert payback(cheap, dear, crowning("nickel-silver"), Decimal(0)).saved == Decimal("0.4455")
    assert float(found.saved_minutes) == pytest.approx(8, abs=0.8)
    assert float(found.saved) == pytest.approx(10.45, rel=0.10)
    assert found.jobs is not None
    assert 9 < found.jobs < 11
    assert cheapest_grade((cheap, dear), crowning("nickel-silver"), RATE).grade == dear


def test_crowning_file_on_stainless_pays_sooner() -> None:
    """Worked on paper (memory): after five necks at 73.00 more, so after seven at 102.50."""
    cheap, dear = grades_of(SHOP.tools["t-crown-file"], SHOP)
    found = payback(cheap, dear, crowning("stainless"), RATE)
    assert found.whole_jobs == 7
    worn = payback(cheap, dear, crowning("stainless"), Decimal(0)).saved
    assert worn == Decimal("0.4455") * SHOP.metals["stainless"].tool_wear


def test_a_hobby_that_pays_nothing_for_its_time_looks_at_wear_alone() -> None:
    cheap, dear = grades_of(SHOP.tools["t-crown-file"], SHOP)
    found = payback(cheap, dear, crowning("nickel-silver"), Decimal(0))
    assert found.saved == Decimal("0.4455")
    assert found.jobs is not None
    assert found.jobs == pytest.approx(Decimal("102.50") / Decimal("0.4455"))


def test_a_dearer_grade_that_saves_nothing_is_never_paid_back() -> None:
    cheap = ToolGrade("plain", Decimal(10), Decimal(100))
    dear = ToolGrade("fancy", Decimal(40), Decimal(400))
    found = payback(cheap, dear, Work(Decimal(20), Decimal(30)), RATE)
    assert found.saved == 0
    assert (found.jobs, found.whole_jobs) == (None, None)
    assert cheapest_grade((dear, cheap), Work(Decimal(20), Decimal(30)), RATE).grade == cheap


def test_grades_of_all_tools_of_a_job() -> None:
    lines = price_work(neutral_setting(SHOP), work("crown-frets x 22; polish-frets x 22; final-check")).lines
    found = {choice.tool: choice for choice in grades_for(lines, SHOP, RATE)}
    assert set(found) == {use.id for line in lines for use in line.tools}
    file = found["t-crown-file"]
    by_hand = payback(*grades_of(SHOP.tools["t-crown-file"], SHOP), crowning("nickel-silver"), RATE)
    assert file.cheapest.grade.name == file.charged == "premium"
    assert file.payback.saved == pytest.approx(by_hand.saved)
    assert file.payback.jobs == pytest.approx(by_hand.jobs)
    assert next(iter(found)) == "t-crown-file"
    # where no time is known, wear alone decides
    others = [choice for choice in found.values() if choice.tool != "t-crown-file"]
    assert others
    for choice in others:
        tool = SHOP.tools[choice.tool]
        dear_wears_less = (
            tool.premium_price / tool.premium_life < tool.inexpensive_price / tool.inexpensive_life
        )
        assert (choice.cheapest.grade.name == "premium") == dear_wears_less
        assert choice.payback.saved_minutes == 0


@given(st.integers(0, 500), st.integers(0, 500), st.integers(0, 200))
def test_the_cheapest_grade_is_the_cheapest(units: int, minutes: int, rate: int) -> None:
    asked = Work(Decimal(units), Decimal(minutes))
    for tool in SHOP.tools.values():
        grades = grades_of(tool, SHOP)
        best = cheapest_grade(grades, asked, Decimal(rate))
        assert all(best.cost <= cost_with(g, asked, Decimal(rate)).cost for g in grades)

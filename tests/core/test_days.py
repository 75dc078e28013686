"""Days as people write them: one day or a refusal that names both, never a guess."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from estimator.core.days import DayError, day_as_written


@pytest.mark.parametrize(
    ("text", "order", "found"),
    [
        ("2026-11-30", "", date(2026, 11, 30)),
        ("11/30/2026", "", date(2026, 11, 30)),
        ("30.11.2026", "mdy", date(2026, 11, 30)),
        ("03/05/2026", "mdy", date(2026, 3, 5)),
        ("03/05/2026", "dmy", date(2026, 5, 3)),
        ("5/5/2026", "", date(2026, 5, 5)),
        ("11 Dec 2026", "", date(2026, 12, 11)),
        ("Dec. 11, 2026", "dmy", date(2026, 12, 11)),
        ("3 sept 2026", "mdy", date(2026, 9, 3)),
    ],
)
def test_a_day_is_read(text: str, order: str, found: date) -> None:
    assert day_as_written(text, order) == found


def test_what_could_be_two_days_is_refused_with_both() -> None:
    with pytest.raises(DayError, match="2026-03-05 or 2026-05-03"):
        day_as_written("03/05/2026")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "31/31/2026",
        "30/02/2026",
        "3/5/26",
        "3/5-2026",
        "tomorrow",
        "2026-13-01",
        "31 Feb 2026",
        "11 Ju 2026",
        "1 Mai 2026",
    ],
)
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(DayError, match="year-month-day"):
        day_as_written(text)


def test_every_day_of_two_years_by_either_order() -> None:
    """1,462 days written in figures: read as meant by its own order, never as another day without one."""
    for number in range(731):
        day = date(2026, 1, 1) + timedelta(days=number)
        for order, text in (("mdy", f"{day:%m/%d/%Y}"), ("dmy", f"{day:%d.%m.%Y}")):
            for named in (f"{day:%d %b %Y}", f"{day:%B %-d, %Y}"):
                assert day_as_written(named, order) == day
            assert day_as_written(text, order) == day
            try:
                assert day_as_written(text) == day
            except DayError:
                assert day.day <= 12
                assert day.day != day.month


@pytest.mark.parametrize(
    ("word", "day"),
    [
        ("today", "2026-11-25"),
        ("Tomorrow", "2026-11-26"),
        ("thursday", "2026-11-26"),
        ("wed", "2026-12-02"),
        ("next Tuesday", "2026-12-01"),
    ],
)
def test_a_day_of_the_week_is_the_next_one_after_today(word: str, day: str) -> None:
    """25 November 2026 was a Wednesday."""
    assert day_as_written(word, today=date(2026, 11, 25)).isoformat() == day


def test_a_day_of_the_week_says_nothing_where_no_today_is_known() -> None:
    with pytest.raises(DayError):
        day_as_written("monday")
    with pytest.raises(DayError):
        day_as_written("mo", today=date(2026, 11, 25))

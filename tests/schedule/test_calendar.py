"""Working and elapsed minutes against each other, and the waits that cross a night."""

from __future__ import annotations

from datetime import date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator.core.errors import InputError
from estimator.schedule.calendar import Calendar, always_open, shop_calendar

HOURS = {day: ((time(9), time(12)), (time(13), time(15, 15))) for day in range(5)}
MONDAY = date(2026, 9, 7)


def week(days_off: tuple[date, ...] = ()) -> Calendar:
    return shop_calendar(MONDAY, HOURS, days_off, days=60)


def test_a_day_has_five_and_a_quarter_hours() -> None:
    calendar = week()
    assert calendar.passed[2] == 315
    assert calendar.moment(calendar.elapsed_at_start(0)) == datetime(2026, 9, 7, 9)
    # the last minute of the morning ends at noon, the next one begins after lunch
    assert calendar.moment(calendar.elapsed_at_end(180)) == datetime(2026, 9, 7, 12)
    assert calendar.moment(calendar.elapsed_at_start(180)) == datetime(2026, 9, 7, 13)


def test_glue_dries_over_lunch_night_and_weekend() -> None:
    calendar = week()
    # an hour's wait from 12:00 is over when work goes on at 13:00
    assert calendar.after_wait(180, 60) == 180
    # a day's wait from Friday 15:15 is over on Monday morning
    friday = 5 * 315
    assert calendar.after_wait(friday, 1440) == friday
    # a day's wait from Monday 10:00 ends on Tuesday 10:00
    assert calendar.after_wait(60, 1440) == 315 + 60


def test_days_off_are_left_out() -> None:
    calendar = week((date(2026, 9, 8),))
    assert calendar.moment(calendar.elapsed_at_start(315)) == datetime(2026, 9, 9, 9)


def test_work_that_is_not_broken_off_waits_for_a_window_that_holds_it() -> None:
    calendar = week()
    assert calendar.fits(100, 90) == 180
    assert calendar.fits(90, 90) == 90
    # longer than any window: it has to be split after all
    assert calendar.fits(10, 200) == 10


@given(st.integers(0, 4000), st.sampled_from([1, 30, 60, 180, 360, 1440, 2880, 7200]))
def test_the_stretches_are_the_wait_itself(end: int, lag: int) -> None:
    calendar = week()
    pieces = [p for p in calendar.pieces(lag, 4000) if p.low <= end <= p.high]
    assert len(pieces) == 1
    assert pieces[0].value(end) == calendar.after_wait(end, lag)
    assert calendar.after_wait(end, lag) - end >= calendar.least_wait(lag)
    # against the definition: the first working minute that begins late enough
    over = calendar.after_wait(end, lag)
    due = calendar.elapsed_at_end(end) + lag
    assert calendar.elapsed_at_start(over) >= due
    assert over == 0 or calendar.elapsed_at_start(over - 1) < due


@given(st.integers(0, 20_000))
def test_both_clocks_agree(minute: int) -> None:
    calendar = shop_calendar(MONDAY, HOURS, (), days=120)
    assert calendar.working_at(calendar.elapsed_at_start(minute)) == minute
    assert always_open().after_wait(minute, 7) == minute + 7


def test_a_shop_that_never_opens_is_refused() -> None:
    with pytest.raises(InputError, match="never open"):
        shop_calendar(MONDAY, {})


def test_a_plan_past_the_end_of_the_calendar_is_refused_in_words() -> None:
    with pytest.raises(InputError, match="past the end of the calendar"):
        shop_calendar(MONDAY, HOURS, (), days=3).elapsed_at_start(2000)

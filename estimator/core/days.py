"""Days as people write them: year-month-day, or the order of the country, or any order that leaves one day."""

from __future__ import annotations

import re
from datetime import date, timedelta

#: the orders in which a country writes day and month; blank: both are in use there, or it is not known
ORDERS = ("mdy", "dmy")
_WRITTEN = re.compile(r"\s*(\d{1,2})\s*([/.-])\s*(\d{1,2})\s*\2\s*(\d{4})\s*")
_NAMED = re.compile(r"(?:(\d{1,2})\.? +([a-z]+)\.?|([a-z]+)\.? +(\d{1,2})),? +(\d{4})")
MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
ACCEPTED = "a date as year-month-day: 2026-03-01"


class DayError(ValueError):
    """A day that cannot be read; the text says what is accepted."""


FIRST_YEAR, LAST_YEAR = 1971, 2199
"""Years in which days of a shop lie; what is beyond them is a slip of the pen."""
FAR_YEARS = 10
"""A day so many years off another that goes with it is asked about (memory: no shop promises so far ahead)."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def far_off(day: date, other: date, what: str) -> str:
    """How many years a day lies before or after another, which is ``what``, in words; blank where that is no wonder."""
    days = abs((day - other).days)
    if days <= FAR_YEARS * 366:
        return ""
    return f"lies {days // 365} years {'after' if day > other else 'before'} {what} ({other.isoformat()})"


def day_in_reach(day: date) -> date:
    """The same day; DayError where its year is none in which a shop works."""
    if FIRST_YEAR <= day.year <= LAST_YEAR:
        return day
    raise DayError(f"a day in the years {FIRST_YEAR} to {LAST_YEAR}")


def day_as_written(text: str, order: str = "", today: date | None = None) -> date:
    """The day of ``2026-11-30``, ``11/30/2026`` or ``30.11.2026``; DayError where it could be two days, or none of a shop.

    ``order``: how the country of the shop writes it. A day that only one order makes is that day everywhere.
    ``today``: where it is told, ``today``, ``tomorrow`` and a day of the week (the next one after today) are days.
    """
    if today is not None and (said := _said(text, today)) is not None:
        return said
    return day_in_reach(_written(text, order))


def _written(text: str, order: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        pass
    if (named := _NAMED.fullmatch(" ".join(text.lower().split()))) is not None:
        return _by_month(named[2] or named[3], int(named[1] or named[4]), int(named[5]))
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise DayError(ACCEPTED)
    one, other, year = int(match[1]), int(match[3]), int(match[4])
    days = {
        name: day for name, day in (("mdy", _day(year, one, other)), ("dmy", _day(year, other, one))) if day
    }
    if not days:
        raise DayError(ACCEPTED)
    if len(set(days.values())) == 1:
        return next(iter(days.values()))
    if order in days:
        return days[order]
    raise DayError(f"year-month-day, as this could be two days: {days['mdy']} or {days['dmy']}")


def _by_month(word: str, number: int, year: int) -> date:
    """``11 Dec 2026`` and ``December 11, 2026``: the month by its name, or by its first letters from three on."""
    months = [month for month, name in enumerate(MONTHS, 1) if len(word) > 2 and name.startswith(word)]
    day = _day(year, months[0], number) if months else None
    if day is None:
        raise DayError(ACCEPTED)
    return day


def _said(text: str, today: date) -> date | None:
    word = text.strip().lower().removeprefix("next ")
    if word in ("today", "tomorrow"):
        return today + timedelta(days=word == "tomorrow")
    named = [number for number, name in enumerate(WEEKDAYS) if len(word) > 2 and name.startswith(word)]
    return today + timedelta(days=(named[0] - today.weekday() - 1) % 7 + 1) if named else None


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None

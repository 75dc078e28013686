"""The plan as a calendar file (iCalendar, RFC 5545) through the icalendar library."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from estimator.core.errors import InputError, Issue, Origin
from estimator.plan.day_list import DayLine, short

PRODUCT = "-//bench-estimator//plan//EN"


def import_library() -> Any:
    """The library, or InputError saying how to install it."""
    try:
        import icalendar
    except ImportError:
        raise InputError(
            Issue(
                Origin("calendar export"),
                "the library icalendar is not installed here",
                "",
                "the library icalendar",
                "install it with: pip install 'bench-estimator[calendar]'",
            )
        ) from None
    return icalendar


def calendar_bytes(
    lines: Sequence[DayLine], promised: Mapping[str, date], start: date, name: str, who: str = ""
) -> bytes:
    """One event per entry of the day list (of one person if ``who`` is given), one whole day per promise.

    Times are local, without a time zone. Stamps are those of the plan's first day, so that the same
    plan gives the same file.
    """
    library = import_library()
    calendar = library.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    stamp = datetime.combine(start, time(), UTC)
    for line in lines:
        if who and line.who != who:
            continue
        event = library.Event()
        event.add("uid", f"{name}-{line.who}-{line.begins:%Y%m%dT%H%M}@bench-estimator.invalid")
        event.add("dtstamp", stamp)
        event.add("dtstart", line.begins)
        event.add("dtend", line.ends)
        event.add("summary", line.words)
        if line.curing:
            words = [f"{short(n)} ({n.partition(':')[0]}) till {until:%a %H:%M}" for n, until in line.curing]
            event.add("description", "meanwhile curing: " + ", ".join(words))
        calendar.add_component(event)
    for job, day in promised.items():
        event = library.Event()
        event.add("uid", f"{name}-promise-{job}@bench-estimator.invalid")
        event.add("dtstamp", stamp)
        event.add("dtstart", day)
        event.add("dtend", day + timedelta(days=1))
        event.add("summary", f"promised: {job}")
        calendar.add_component(event)
    return bytes(calendar.to_ical())

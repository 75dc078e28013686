"""The plan as a calendar file (iCalendar, RFC 5545) through the icalendar library."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from msgspec import Struct

from estimator.core.errors import refusal
from estimator.model.operation import operation_name
from estimator.plan.day_list import DayLine, short

PRODUCT = "-//bench-estimator//plan//EN"


def import_library() -> Any:
    """The library, or InputError saying how to install it."""
    try:
        import icalendar
    except ImportError:
        raise refusal(
            "calendar export",
            "the library icalendar is not installed here",
            accepted="the library icalendar",
            next_step="install it with: pip install icalendar, or leave --ics out",
        ) from None
    return icalendar


class DayEvent(Struct, frozen=True):
    """Something of a whole day: an order to send, a parcel to come, a promise. ``id`` stays when the day moves."""

    id: str
    day: date
    words: str


FIRST = ("", 0)


def calendar_bytes(
    lines: Sequence[DayLine],
    promised: Mapping[str, date],
    start: date,
    name: str,
    who: str = "",
    *,
    days: Sequence[DayEvent] = (),
    edition: tuple[str, int] = FIRST,
) -> bytes:
    """One event per entry of the day list (of one person if ``who`` is given), one whole day per promise and ``days``.

    Times are local, without a time zone. Stamps are those of the plan's first day, so that the same
    plan gives the same file. ``edition`` is the batch (else the name counts) and a number. The identity of an event
    is the batch and its work, never its time: a plan made again moves the entries of a calendar and puts none beside
    them, if its number is higher.
    """
    batch, sequence = edition
    library = import_library()
    calendar = library.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    stamp = datetime.combine(start, time(), UTC)

    def put(identity: str, begins: date, ends: date, words: str, more: str = "") -> None:
        event = library.Event()
        event.add("uid", f"{_plain_id(batch or name)}-{identity}@bench-estimator.invalid")
        event.add("dtstamp", stamp)
        event.add("sequence", sequence)
        event.add("dtstart", begins)
        event.add("dtend", ends)
        event.add("summary", words)
        if more:
            event.add("description", more)
        calendar.add_component(event)

    for line, identity in zip(lines, _identities(lines), strict=True):
        if who and line.who != who:
            continue
        words = [f"{short(n)} ({operation_name(n).job}) till {until:%a %H:%M}" for n, until in line.curing]
        more = "meanwhile curing: " + ", ".join(words) if words else ""
        put(identity, line.begins, line.ends, line.words, more)
    promises = [DayEvent(f"promise-{job}", day, f"promised: {job}") for job, day in promised.items()]
    for one in (*promises, *days):
        put(_plain_id(one.id), one.day, one.day + timedelta(days=1), one.words)
    return bytes(calendar.to_ical())


def _identities(lines: Sequence[DayLine]) -> list[str]:
    """By the first operation of each entry; what goes on after a break is its second piece, and so on."""
    found: Counter[str] = Counter()
    out = []
    for line in lines:
        first = _plain_id(line.operations[0])
        found[first] += 1
        out.append(f"work-{first}-{found[first]}")
    return out


def _plain_id(words: str) -> str:
    """Letters, figures and dashes of some words, apart where the words are apart."""
    return "".join(c if c.isalnum() or c in "-_" else f".{ord(c):x}." for c in words)

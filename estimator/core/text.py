"""Money, times and days as people write them."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from datetime import date, datetime

Tell = Callable[[str], None]
"""Is told, now and then, how far long work is."""
WIDTH = 100
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def silent(words: str) -> None:
    """Tells nobody."""


def wrapped(text: str, indent: str = "  ", more: str = "  ") -> list[str]:
    """A text in lines of at most ``WIDTH`` characters; ``more`` goes before all lines but the first."""
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + more,
                         break_long_words=False, break_on_hyphens=False) or [indent]  # fmt: skip


def money(cents: int, currency: str) -> str:
    """Cents as money."""
    return f"{'-' if cents < 0 else ''}{abs(cents) // 100}.{abs(cents) % 100:02d} {currency}"


def hours(minutes: float) -> str:
    """Minutes as hours and minutes."""
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02d} min"


def day(when: date) -> str:
    """A day as people write it."""
    return f"{when:%a} {when.day} {when:%b} {when.year}"


def moment(when: datetime) -> str:
    """A day and a time."""
    return f"{day(when.date())} {when:%H:%M}"


def sentence_case(text: str) -> str:
    """The text with its first letter in capitals."""
    return text[:1].upper() + text[1:]


def day_of(text: str) -> date | None:
    """A date written year-month-day, or None when there is none."""
    try:
        return date.fromisoformat(text.strip()[:10])
    except ValueError:
        return None


def short_day(when: date) -> str:
    """A date as a customer reads it: ``5 Oct 2026``."""
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}"


def weekday_of(when: date) -> str:
    """A date near by, with its day of the week: ``Fri 16 Oct``."""
    return f"{WEEKDAYS[when.weekday()]} {when.day} {MONTHS[when.month - 1]}"


def day_words(text: str) -> str:
    """A date written year-month-day as it is said, anything else as it is."""
    when = day_of(text)
    return short_day(when) if when else text


def instrument_words(kind: str) -> str:
    """A kind of instrument (``guitar-solid``, ``bass-semi``) as a customer reads it."""
    body = "Semi-hollow" if kind.endswith("semi") else "Solid-body"
    return f"{body} {'bass' if kind.startswith('bass') else 'guitar'}"

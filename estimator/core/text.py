"""Money, times and days as people write them."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from datetime import date, datetime

Tell = Callable[[str], None]
"""Is told, now and then, how far long work is."""
WIDTH = 100


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

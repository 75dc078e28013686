"""Money, times and days as people write them."""

from __future__ import annotations

from datetime import date, datetime


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

"""Money, times and days as people write them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime
from decimal import Decimal
from unicodedata import combining, east_asian_width

from estimator.core.amounts import Cents, Hundredths, Minutes
from estimator.core.units import MEASURES

Tell = Callable[[str], None]
"""Is told, now and then, how far long work is."""
WIDTH = 100
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def silent(words: str) -> None:
    """Tells nobody."""


_width: ContextVar[int] = ContextVar("width", default=WIDTH)
_WORD = re.compile(r"(\s*)(\S+)")


@contextmanager
def lines_of(width: int) -> Iterator[None]:
    """Within it ``wrapped`` makes lines of at most so many columns."""
    before = _width.set(width)
    try:
        yield
    finally:
        _width.reset(before)


def columns_of(text: str) -> int:
    """How many columns of a terminal a text takes: letters of two columns count twice, accents on top not."""
    if text.isascii():
        return len(text)
    return sum(0 if combining(letter) else 2 if east_asian_width(letter) in "WF" else 1 for letter in text)


def folded(text: str, width: int, indent: str = "", more: str = "") -> list[str]:
    """A text in lines of at most ``width`` columns, broken between words alone; ``more`` goes before all but the first.

    A word that has no room behind what goes before it moves to the left; one wider than a line (a path)
    stands on a line by itself.
    """
    lines: list[str] = []
    line, empty = indent, True
    for gap, word in _WORD.findall(text):
        if not empty and columns_of(line) + columns_of(gap) + columns_of(word) > width:
            lines.append(line)
            line, empty = more, True
        if empty:
            line = line[: max(0, width - columns_of(word))] if not line.strip() else line
        line += word if empty else gap + word
        empty = False
    return [*lines, line.rstrip()]


def wrapped(text: str, indent: str = "  ", more: str = "  ") -> list[str]:
    """A text in lines of at most ``WIDTH`` columns, or of ``lines_of``; ``more`` goes before all lines but the first."""
    return folded(text, _width.get(), indent, indent + more)


def count(number: int | Decimal, one: str, many: str = "") -> str:
    """A number of things in words: ``1 hole``, ``4 holes``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def of_unit(number: Decimal | str, unit: str) -> str:
    """So much of a unit, a measure as it stands and things in their number: ``740 cm2``, ``1 nut``, ``12 strings``."""
    told = number if isinstance(number, str) else f"{number.normalize():f}"
    return f"{told} {unit}" if unit in MEASURES else count(Decimal(told), unit)


def amount_text(cents: Cents) -> str:
    """Cents as an amount, thousands parted by commas: the one way in which texts write it."""
    return f"{'-' if cents < 0 else ''}{abs(cents) // 100:,}.{abs(cents) % 100:02d}"


def money(cents: Cents, currency: str) -> str:
    """The same with its currency."""
    return f"{amount_text(cents)} {currency}"


def whole(minutes: Decimal | float) -> str:
    """Minutes as a hand reads them: whole ones, and what would round to none as ``< 1``."""
    rounded = f"{minutes:.0f}"
    return "< 1" if minutes and rounded == "0" else rounded


def plain(value: Decimal) -> str:
    """A number without trailing noughts, at most two places."""
    return f"{round(value, 2).normalize():f}"


def value_text(value: object, unit: str) -> str:
    """A value of the intake table as it is spoken: ``1.02 mm``, ``yes``, ``flat``."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)
    return f"{text} {unit}".rstrip()


def time_text(hundredths: Hundredths, rounding: str | None = None, *, exact: bool = False) -> str:
    """Hundredths of a minute as hours and minutes: to the nearest minute, by a rounding of ``decimal``, or ``exact``.

    An exact one has places only where it is no whole minute.
    """
    minutes = Decimal(hundredths) / 100
    if not exact:
        minutes = minutes.to_integral_value(rounding)
    places = f"{minutes % 1:.2f}"[1:].rstrip("0").rstrip(".")
    whole, rest = divmod(int(minutes), 60)
    return f"{whole} h {rest:02d}{places} min" if whole else f"{rest}{places} min"


def hours(minutes: Minutes) -> str:
    """Whole minutes as ``time_text`` tells hundredths of them."""
    return time_text(Hundredths(100 * minutes))


def day(when: date) -> str:
    """A day as people write it."""
    return f"{when:%a} {when.day} {when:%b} {when.year}"


def moment(when: datetime) -> str:
    """A day and a time."""
    return f"{day(when.date())} {when:%H:%M}"


def sentence_case(text: str) -> str:
    """The text with its first letter in capitals."""
    return text[:1].upper() + text[1:]


def mid_sentence(text: str) -> str:
    """The text with its first letter small, to stand behind other words."""
    return text[:1].lower() + text[1:]


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


def written_day(when: date) -> str:
    """A day, or a day with its time to the minute, as files and data hold it: year-month-day."""
    return when.isoformat(timespec="minutes") if isinstance(when, datetime) else when.isoformat()


def day_words(text: str) -> str:
    """A date written year-month-day as it is said, anything else as it is."""
    when = day_of(text)
    return short_day(when) if when else text


BASS, GUITAR = "bass", "guitar"
"""The two families of instruments, as the tables tell them apart."""


def family_of(kind: object) -> str:
    """The family of a kind of instrument (``bass-semi``: ``BASS``)."""
    return BASS if str(kind).startswith(BASS) else GUITAR


def instrument_words(kind: str) -> str:
    """A kind of instrument (``guitar-solid``, ``bass-semi``) as a customer reads it."""
    body = "Semi-hollow" if kind.endswith("semi") else "Solid-body"
    return f"{body} {family_of(kind)}"


def has_stray_bytes(text: str) -> bool:
    """Halves of letters, as which bytes are handed on that cannot be read in the coding of the machine."""
    return any("\ud800" <= letter <= "\udfff" for letter in text)

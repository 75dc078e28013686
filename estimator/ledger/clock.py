"""Moments and lengths of time as a bench worker gives them."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

from msgspec import Struct

from estimator.core.days import FAR_YEARS, DayError, day_as_written, day_in_reach, far_off
from estimator.core.errors import Origin, refusal, shown
from estimator.core.units import UnitError, parse_quantity

LONGEST_S = 24 * 3600
"""Seconds of the longest piece of work that is taken as typed."""
ACCEPTED = "12 min, 0:15 (hours:minutes), 1 h 5, 1.5 h or 70 (minutes)"
FORMS = "2026-10-05 09:15, 2026-10-05 or 2026-10-05T09:15+02:00"

_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)(?:\s*h)?")
_COMMA = re.compile(r"(?<![\d,.])(\d{1,3}),(\d{1,2})(?![\d,.])")
"""A decimal comma: hours and minutes are never parted into thousands."""
_HOURS_AND = re.compile(r"(\d+)\s*(?:h|hr|hrs|hour|hours)\s*(\d+)(?:\s*m)?", re.I)


class Moment(Struct, frozen=True, order=True):
    """A moment: in UTC, and how many minutes the shop's clock was ahead of it."""

    utc: datetime
    ahead_min: int = 0

    @property
    def text(self) -> str:
        """The moment in UTC as the ledger keeps it; such texts sort as the moments do."""
        return f"{self.utc:%Y-%m-%dT%H:%M:%SZ}"

    @property
    def local(self) -> datetime:
        """What the shop's clock showed."""
        return (self.utc + timedelta(minutes=self.ahead_min)).replace(tzinfo=None)

    @property
    def day(self) -> date:
        """The day by the shop's clock."""
        return self.local.date()


def kept_moment(text: str, ahead_min: int) -> Moment:
    """A moment as the ledger keeps it."""
    return Moment(datetime.fromisoformat(text), ahead_min)


def read_moment(text: str | None, option: str = "--now") -> Moment:
    """A moment that was typed, by the clock of the place unless it names its offset; none: now."""
    if text is None:
        return _moment(datetime.now().astimezone())
    try:
        given = datetime.fromisoformat(text.strip())
        day_in_reach(given.date())
        return _moment(given.astimezone() if given.tzinfo is None else given)
    except (ValueError, OverflowError):
        raise refusal(
            option, "is no moment that can be read", shown(text), FORMS, "type it in this form"
        ) from None


def check_typed(now: Moment, newest: Moment | None, option: str = "--now") -> None:
    """InputError where a moment that was typed lies years after the newest of the books: all after it would seem past."""
    if newest is not None and now > newest and (far := far_off(now.day, newest.day, "the last entry")):
        raise refusal(
            option,
            far,
            shown(f"{now.local:%Y-%m-%d %H:%M}"),
            f"a moment at most {FAR_YEARS} years later",
            f"look at the year, or leave {option} out: then the clock tells the time",
        )


def moment_ago(milliseconds: int) -> Moment:
    """The moment so long before now, by this machine's clock."""
    return _moment(datetime.now().astimezone() - timedelta(milliseconds=milliseconds))


def read_day(text: str, option: str, order: str = "", today: date | None = None) -> date:
    """A day that was typed, as ``day_as_written`` reads it; of ``today``, where it is told, not more than ``FAR_YEARS`` ahead."""
    try:
        day = day_as_written(text, order, today)
    except DayError as error:
        raise refusal(
            option,
            "is no day that can be read",
            shown(text),
            str(error),
            "type year-month-day, or a day of the week",
        ) from None
    far = "" if today is None or day < today else far_off(day, today, "today")
    if far:
        raise refusal(option, far, shown(text), f"a day at most {FAR_YEARS} years ahead", "look at the year")
    return day


def _moment(given: datetime) -> Moment:
    ahead = given.utcoffset() or timedelta(0)
    minutes = round(ahead.total_seconds() / 60)
    whole = given.astimezone(UTC).replace(microsecond=0)
    return Moment(whole, minutes)


def read_seconds(text: str, option: str = "minutes") -> int:
    """Minutes as people type them, in whole seconds; InputError says what is accepted."""
    given = _COMMA.sub(r"\1.\2", " ".join(text.split()))
    where = Origin(option)
    try:
        if match := _CLOCK.fullmatch(given):
            minutes = Decimal(int(match[1]) * 60 + int(match[2]))
        elif match := _HOURS_AND.fullmatch(given):
            if int(match[2]) >= 60:
                raise UnitError(ACCEPTED)
            minutes = Decimal(int(match[1]) * 60 + int(match[2]))
        else:
            minutes = parse_quantity(given, "time")
    except UnitError:
        raise refusal(
            where, "is no time that can be read", shown(text), ACCEPTED, "type it in one of these forms"
        ) from None
    seconds = int((minutes * 60).to_integral_value(ROUND_HALF_UP))
    if not 0 <= seconds <= LONGEST_S:
        most = f"0 to {LONGEST_S // 3600} h; a bare number is minutes"
        raise refusal(
            where,
            "is no time that one piece of work takes",
            shown(text),
            most,
            "type the time of one sitting",
        )
    return seconds


def minutes_text(seconds: int) -> str:
    """Seconds as hours and minutes, exactly."""
    hours, rest = divmod(seconds, 3600)
    minutes, left = divmod(rest, 60)
    words = ([f"{hours} h"] if hours else []) + ([f"{minutes} min"] if minutes or not (hours or left) else [])
    return " ".join(words + ([f"{left} s"] if left else []))

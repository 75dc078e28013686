"""The shop calendar: working windows, days off, and the way between elapsed and working minutes."""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, time, timedelta

from msgspec import Struct

from estimator.core.amounts import Elapsed, Minutes
from estimator.core.errors import refusal

FOREVER = 1 << 40
MOST_DAYS = 3660


class Stretch(Struct, frozen=True):
    """A stretch of a step function: for working minutes ``low`` to ``high`` it is base + slope x minute."""

    low: int
    high: int
    slope: int
    base: int

    def value(self, minute: int) -> int:
        """The function at a minute of the stretch."""
        return self.base + self.slope * minute


class Calendar:
    """Working windows as (opens, closes) in elapsed minutes from ``start``, rising and apart.

    ``passed[k]`` working minutes lie before window k. A minute in the middle of nowhere belongs to
    the next window when work starts, to the one before when work ends.
    """

    def __init__(self, windows: list[tuple[Elapsed, Elapsed]], start: datetime | None = None) -> None:
        self.start = start
        self.opens = [a for a, _ in windows]
        self.closes = [b for _, b in windows]
        if not windows or any(a >= b for a, b in windows):
            raise ValueError("a calendar needs windows that open before they close")
        if any(b > a for b, a in zip(self.closes, self.opens[1:], strict=False)):
            raise ValueError("windows of a calendar must follow each other")
        self.passed = [Minutes(0)]
        for opens, closes in windows:
            self.passed.append(self.passed[-1] + Minutes(closes - opens))
        self._stretches: dict[tuple[Elapsed, Minutes], tuple[Stretch, ...]] = {}
        self._waits: dict[Elapsed, Minutes] = {}

    @property
    def always_open(self) -> bool:
        """Whether working and elapsed minutes are the same."""
        return len(self.opens) == 1 and self.opens[0] == 0

    @property
    def day_length(self) -> Minutes:
        """Working minutes of an open day, the mean of the first seven; of a calendar without nights, 1440."""
        if self.always_open:
            return Minutes(1440)
        days: dict[int, int] = {}
        for opens, closes in zip(self.opens, self.closes, strict=True):
            if opens // 1440 not in days and len(days) == 7:
                break
            days[opens // 1440] = days.get(opens // 1440, 0) + closes - opens
        return Minutes(max(1, sum(days.values()) // len(days)))

    def _check(self, minute: Minutes) -> None:
        if minute > self.passed[-1]:
            raise refusal(
                "calendar",
                "the plan runs past the end of the calendar",
                f"working minute {minute} of {self.passed[-1]}",
                "work that ends within the days of the calendar",
                "open more hours, leave days off out, or plan fewer jobs at once",
            )

    def elapsed_at_start(self, minute: Minutes) -> Elapsed:
        """Elapsed time at which working minute ``minute`` begins."""
        self._check(minute + Minutes(1))
        window = bisect_right(self.passed, minute) - 1
        return self.opens[window] + Elapsed(minute - self.passed[window])

    def elapsed_at_end(self, minute: Minutes) -> Elapsed:
        """Elapsed time at which ``minute`` working minutes have passed."""
        self._check(minute)
        if minute == 0:
            return self.opens[0]
        window = bisect_left(self.passed, minute) - 1
        return self.opens[window] + Elapsed(minute - self.passed[window])

    def working_at(self, elapsed: Elapsed) -> Minutes:
        """The first working minute that begins at or after an elapsed minute."""
        window = bisect_right(self.opens, elapsed) - 1
        if window < 0:
            return Minutes(0)
        if elapsed >= self.closes[window]:
            return self.passed[window + 1]
        return self.passed[window] + Minutes(elapsed - self.opens[window])

    def after_wait(self, end: Minutes, lag: Elapsed) -> Minutes:
        """The first working minute at which ``lag`` elapsed minutes have passed since working minute ``end``."""
        return end if lag <= 0 else self.working_at(self.elapsed_at_end(end) + lag)

    def spans(self, start: Minutes, end: Minutes) -> list[tuple[Elapsed, Elapsed]]:
        """The elapsed stretches in which the working minutes from ``start`` to ``end`` lie."""
        found = []
        window = bisect_right(self.passed, start) - 1
        while start < end:
            until = min(end, self.passed[window + 1])
            shift = int(self.opens[window]) - int(self.passed[window])
            found.append((Elapsed(int(start) + shift), Elapsed(int(until) + shift)))
            start, window = until, window + 1
        return found

    def fits(self, start: Minutes, minutes: Minutes) -> Minutes:
        """The first working minute from ``start`` on at which ``minutes`` fit into one window."""
        window = bisect_right(self.passed, start) - 1
        while window < len(self.opens):
            begin = max(start, self.passed[window])
            if begin + minutes <= self.passed[window + 1]:
                return begin
            window += 1
        longest = max(Minutes(b - a) for a, b in zip(self.opens, self.closes, strict=True))
        if minutes > longest:
            return start  # longer than any window: it has to be split
        self._check(self.passed[-1] + Minutes(1))
        return start

    def starts_for(self, minutes: Minutes, horizon: Minutes) -> list[tuple[Minutes, Minutes]]:
        """Spans of working minutes at which ``minutes`` fit into one window, up to ``horizon``."""
        spans = []
        for window in range(len(self.opens)):
            low, high = self.passed[window], min(self.passed[window + 1] - minutes, horizon)
            if low > horizon:
                break
            if low <= high:
                spans.append((low, high))
        return spans or [(Minutes(0), horizon)]

    def pieces(self, lag: Elapsed, horizon: Minutes) -> tuple[Stretch, ...]:
        """``after_wait`` as stretches that together cover 0 to ``horizon``; worked out once each."""
        if (lag, horizon) not in self._stretches:
            self._stretches[lag, horizon] = self._pieces(lag, horizon)
        return self._stretches[lag, horizon]

    def _pieces(self, lag: Elapsed, horizon: Minutes) -> tuple[Stretch, ...]:
        if lag <= 0 or self.always_open:
            return (Stretch(0, horizon, 1, max(0, lag)),)
        cuts = {0, horizon + 1}
        for window in range(len(self.opens)):
            low, high = self.passed[window], self.passed[window + 1]
            if low > horizon:
                break
            shift = int(self.opens[window]) - int(low)
            cuts.add(low + 1)
            for edge in (
                *self._between(self.opens, int(low) + shift + lag, int(high) + shift + lag),
                *self._between(self.closes, int(low) + shift + lag, int(high) + shift + lag),
            ):
                cuts.update((edge - shift - lag, edge - shift - lag + 1))
        ordered = sorted(cut for cut in cuts if 0 <= cut <= horizon + 1)
        pieces: list[Stretch] = []
        for low, after in itertools.pairwise(map(Minutes, ordered)):
            high = Minutes(after - 1)
            first, last = self.after_wait(low, lag), self.after_wait(high, lag)
            slope = 0 if last == first else 1
            piece = Stretch(low, high, slope, first - slope * low)
            if pieces and pieces[-1].slope == slope and pieces[-1].base == piece.base:
                piece = Stretch(pieces.pop().low, high, slope, piece.base)
            pieces.append(piece)
        return tuple(pieces)

    @staticmethod
    def _between(edges: Sequence[int], low: int, high: int) -> Sequence[int]:
        return edges[bisect_left(edges, low) : bisect_right(edges, high)]

    def least_wait(self, lag: Elapsed) -> Minutes:
        """The fewest working minutes that pass in ``lag`` elapsed ones, anywhere in the calendar."""
        if lag <= 0 or self.always_open:
            return Minutes(max(0, int(lag)))
        if lag not in self._waits:
            horizon = self.working_at(self.closes[-1] - lag - Elapsed(1))
            self._waits[lag] = min(
                Minutes(piece.value(end) - end)
                for piece in self.pieces(lag, horizon)
                for end in (piece.low, piece.high)
            )
        return self._waits[lag]

    def moment(self, elapsed: Elapsed) -> datetime:
        """The date and time of an elapsed minute."""
        if self.start is None:
            raise ValueError("this calendar has no dates")
        return self.start + timedelta(minutes=elapsed)

    def open_day(self, day: date) -> date:
        """The day itself if somebody may work on it, else the next on which somebody may."""
        minute = self.working_at(self.elapsed_of(datetime.combine(day, time())))
        return self.moment(self.elapsed_at_start(minute)).date()

    def elapsed_of(self, moment: datetime) -> Elapsed:
        """The elapsed minute of a date and time; before the start it is negative."""
        if self.start is None:
            raise ValueError("this calendar has no dates")
        return Elapsed(int((moment - self.start).total_seconds() // 60))


def always_open() -> Calendar:
    """A calendar without nights: working and elapsed minutes are one."""
    return Calendar([(Elapsed(0), Elapsed(FOREVER))])


def shop_calendar(
    first: date,
    hours: Mapping[int, tuple[tuple[time, time], ...]],
    days_off: Collection[date] = (),
    days: int = 400,
) -> Calendar:
    """The windows of ``days`` days from ``first`` on; ``hours`` by weekday (Monday is 0)."""
    start = datetime.combine(first, time())
    windows: list[tuple[Elapsed, Elapsed]] = []
    for number in range(min(days, MOST_DAYS)):
        day = first + timedelta(days=number)
        if day in days_off:
            continue
        for opens, closes in sorted(hours.get(day.weekday(), ())):
            begin, end = (Elapsed(number * 1440 + at.hour * 60 + at.minute) for at in (opens, closes))
            windows.append((begin, end))
    if not windows:
        raise refusal(
            "shop_hours.csv",
            "the shop is never open",
            accepted="at least one row with a weekday, an opening and a closing time",
            next_step="add the hours in which you are at the bench",
        )
    return Calendar(windows, start)

"""The shop as the schedule sees it: calendar, people, stations, change-overs, waits between tasks."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, time
from decimal import ROUND_HALF_UP, Decimal

from estimator.core.amounts import Elapsed, Minutes
from estimator.core.errors import InputError, Issue, Origin, note
from estimator.model import PACES, Shop
from estimator.model.planning import WEEKDAYS, Person
from estimator.schedule.calendar import Calendar, shop_calendar
from estimator.schedule.records import ChangeOvers


def away_of(people: Sequence[Person], calendar: Calendar) -> dict[str, tuple[tuple[Minutes, Minutes], ...]]:
    """By person the working minutes of their days off; days on which the shop is shut have none."""
    found = {}
    for person in people:
        stretches = []
        for day in sorted(person.days_off):
            begins = calendar.elapsed_of(datetime.combine(day, time()))
            first, after = (
                calendar.working_at(max(Elapsed(0), minute)) for minute in (begins, begins + Elapsed(1440))
            )
            if after > first:
                stretches.append((first, after))
        if stretches:
            found[person.id] = tuple(stretches)
    return found


def clock(text: str, origin_issue: Issue) -> time:
    """A time of day such as 09:00."""
    try:
        return time.fromisoformat(text.strip().zfill(5))
    except ValueError:
        raise InputError(origin_issue) from None


def calendar_of(shop: Shop, first: date, days_off: Collection[date] = ()) -> Calendar:
    """The calendar of ``shop_hours.csv`` from a day on."""
    hours: dict[int, list[tuple[time, time]]] = {}
    issues: list[Issue] = []
    for row in shop.planning.hours:
        ends = []
        for column in ("opens", "closes"):
            text = getattr(row, column)
            wrong = Issue(
                row.origin.at(column), "not a time of day", f"“{text}”", "hours and minutes such as 09:00"
            )
            try:
                ends.append(clock(text, wrong))
            except InputError as error:
                issues.extend(error.issues)
        if len(ends) == 2:
            if ends[0] >= ends[1]:
                found = f"{row.opens} to {row.closes}"
                note(issues, row.origin, "closes before it opens", found, "opens before closes")
            hours.setdefault(WEEKDAYS.index(row.weekday), []).append((ends[0], ends[1]))
    for day, spans in hours.items():
        ordered = sorted(spans)
        if any(b > a for (_, b), (a, _) in itertools.pairwise(ordered)):
            where = next(r.origin for r in shop.planning.hours if WEEKDAYS.index(r.weekday) == day)
            note(issues, where, f"hours of {WEEKDAYS[day]} overlap", "", "stretches that follow each other")
    if issues:
        raise InputError(issues)
    return shop_calendar(first, {d: tuple(s) for d, s in hours.items()}, days_off)


def change_overs_of(shop: Shop) -> ChangeOvers:
    """Minutes between every two kinds of work: the row that speaks most exactly of the pair."""
    pairs: dict[tuple[str, str], Minutes] = {}
    rows = {(row.leaves, row.wants): Minutes(whole(row.minutes)) for row in shop.planning.change_overs}
    for one in shop.planning.kinds.values():
        for other in shop.planning.kinds.values():
            if one.id == other.id:
                continue
            for key in ((one.leaves, other.wants), (one.leaves, "any"), ("any", other.wants), ("any", "any")):
                if key in rows:
                    pairs[one.id, other.id] = rows[key]
                    break
    return ChangeOvers(pairs)


def resources_of(
    shop: Shop, people: Sequence[Person], more: Mapping[str, int] | None = None, file: str = ""
) -> dict[str, int]:
    """How many there are of each station and person; ``more`` replaces numbers (a second drill press).

    InputError (naming the batch ``file``) for a person called like a station: the two would be taken for one.
    """
    there = {station.id: station.number for station in shop.planning.stations.values()}
    there.update(more or {})
    issues = [
        Issue(
            Origin(file, None, "[[person]] id"),
            "a person has the name of a station",
            f"“{person.id}”",
            f"any name but {', '.join(there)}",
            "give the person another id in the batch file",
        )
        for person in people
        if person.id in there
    ]
    if issues:
        raise InputError(issues)
    there.update({person.id: 1 for person in people})
    return there


def whole(minutes: Decimal) -> int:
    """Minutes to whole ones, half up."""
    return int(minutes.to_integral_value(ROUND_HALF_UP))


def waits_of(shop: Shop, pace: str) -> dict[tuple[str, str], list[tuple[int, Elapsed]]]:
    """Waits between tasks: (every, minutes) by pair, at a pace."""
    if pace not in PACES:
        raise ValueError(f"no pace called {pace}")
    waits: dict[tuple[str, str], list[tuple[int, Elapsed]]] = {}
    for row in shop.planning.waits:
        minutes = Elapsed(whole(getattr(row, f"{pace}_min")))
        waits.setdefault((row.before, row.after), []).append((row.every, minutes))
    return waits

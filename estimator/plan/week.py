"""The week as a bench worker needs it: by day what to order and expect, what to do, when to wait, what cures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta

from msgspec import Struct

from estimator.batch.arrivals import is_sent, minute_of, parcels_of
from estimator.batch.records import Purchase
from estimator.core.amounts import Minutes
from estimator.model.operation import operation_name
from estimator.plan.awaited import awaited, parcel_words
from estimator.plan.day_list import DayLine, day_list, named, short
from estimator.plan.plan import Plan
from estimator.plan.reasons import could_be_begun, hindrance_of
from estimator.plan.replan.changes import entry_words

HINTS = {
    "M1": "leave that part alone",
    "M2": "leave that spot alone",
    "M3": "keep dust away: no sanding, routing or buffing",
    "M4": "leave it strung, at pitch",
}
"""What each waiting class asks of whoever works on meanwhile."""


class Curing(Struct, frozen=True):
    """Work that cures or settles by itself until a moment; ``hint``: what to keep off."""

    operation: str
    until: datetime
    hint: str


class WeekEntry(Struct, frozen=True):
    """A stretch of one person's day: ``work``, or ``free`` with the reason in ``words``.

    ``curing``: what cures by itself meanwhile. ``changed``: what became of it since the plan before, and why.
    """

    begins: datetime
    ends: datetime
    who: str
    kind: str
    words: str
    operations: tuple[str, ...] = ()
    curing: tuple[Curing, ...] = ()
    changed: tuple[str, ...] = ()


class Day(Struct, frozen=True):
    """One open day: errands, entries in order of time, what cures until the next; ``quiet``: why nothing is done."""

    day: date
    errands: tuple[str, ...]
    entries: tuple[WeekEntry, ...]
    overnight: tuple[Curing, ...]
    following: date | None
    quiet: str = ""

    @property
    def minutes(self) -> Minutes:
        """Hands-on minutes of all people."""
        work = (int((e.ends - e.begins).total_seconds()) // 60 for e in self.entries if e.kind == "work")
        return Minutes(sum(work))


def week_of(plan: Plan) -> tuple[Day, ...]:
    """All open days from the first of the plan (or from now on) to the last with work."""
    calendar, assignments = plan.calendar, plan.schedule.assignments
    lines = day_list(plan.work, calendar, assignments, plan.already)
    if not lines:
        return ()
    begins = plan.now or datetime.combine(plan.study.file.start, time())
    windows = windows_of(plan, begins, lines[-1].day)
    errands = _errands(plan, list(windows), begins)
    days = []
    opened = list(windows)
    for number, day in enumerate(opened):
        mine = [line for line in lines if line.day == day]
        following = opened[number + 1] if number + 1 < len(opened) else None
        quiet = ""
        if not mine:
            upcoming = next(line for line in lines if line.day > day)
            quiet = _why(plan, upcoming, windows[day][0][0])
        entries = _entries(plan, lines, windows[day], mine) if mine else ()
        overnight = _overnight(plan, day) if following else ()
        days.append(Day(day, errands.get(day, ()), entries, overnight, following, quiet))
    return tuple(days)


def windows_of(plan: Plan, begins: datetime, last: date) -> dict[date, list[tuple[datetime, datetime]]]:
    """Opening hours by day, from a moment on."""
    calendar = plan.calendar
    found: dict[date, list[tuple[datetime, datetime]]] = {}
    for opens, closes in zip(calendar.opens, calendar.closes, strict=True):
        start, end = calendar.moment(opens), calendar.moment(closes)
        if start.date() > last:
            break
        if end > begins:
            found.setdefault(start.date(), []).append((max(start, begins), end))
    return found


def _entries(
    plan: Plan,
    lines: Sequence[DayLine],
    windows: Sequence[tuple[datetime, datetime]],
    mine: Sequence[DayLine],
) -> tuple[WeekEntry, ...]:
    """Work and free time of everybody who works that day."""
    hints = {o.id: HINTS.get(o.meanwhile, "") for o in (*plan.work.operations, *plan.done)}
    entries: list[WeekEntry] = []
    for line in mine:
        curing = tuple(Curing(name, until, hints.get(name, "")) for name, until in line.curing)
        changed = entry_words(plan.changed, line.operations)
        entries.append(
            WeekEntry(line.begins, line.ends, line.who, "work", line.words, line.operations, curing, changed)
        )
    for who in dict.fromkeys(line.who for line in mine):
        last = max(line.ends for line in mine if line.who == who)
        for opens, closes in windows:
            now = opens
            for line in (one for one in mine if one.who == who and opens <= one.begins < closes):
                if line.begins > now:
                    entries.append(WeekEntry(now, line.begins, who, "free", _why(plan, line, now)))
                now = max(now, line.ends)
            if now < closes and now >= last:
                upcoming = next((one for one in lines if one.who == who and one.begins >= now), None)
                if upcoming:  # else all work is done
                    entries.append(WeekEntry(now, closes, who, "free", _why(plan, upcoming, now)))
            elif now < closes:
                following = next(one for one in mine if one.who == who and one.begins >= closes)
                entries.append(WeekEntry(now, closes, who, "free", _why(plan, following, now)))
    return tuple(sorted(entries, key=lambda e: (e.begins, e.who)))


def _why(plan: Plan, line: DayLine, since: datetime) -> str:
    """Why the first operation of an entry does not begin at an earlier moment, in words."""
    assignments = {b.operation: b for b in plan.schedule.assignments}
    first = line.operations[0]
    now = plan.calendar.working_at(minute_of(plan.calendar, since))
    put_off = could_be_begun(plan.work, plan.calendar, assignments, line.who, now, assignments[first].start)
    if put_off:
        begins = plan.calendar.moment(plan.calendar.elapsed_at_start(assignments[put_off].start))
        if begins.date() > since.date():
            return f"{named(put_off)} could be done, but is laid on {until_words(begins, since.date())}"
    reason = hindrance_of(plan.work, plan.calendar, assignments, assignments[first], now)
    if reason.kind == "wait":
        return f"{named(reason.operation)} cures or settles"
    if reason.kind == "there":
        return f"{named(first)} waits for {what_is_awaited(plan, first)}"
    if reason.kind == "away":
        if any(a <= now < b for a, b in plan.work.away.get(line.who, ())):
            return f"{line.who} is away"
        return f"{named(first)} does not fit in before {line.who} is away"
    if reason.kind == "after":
        return f"{named(reason.operation)} has to be done first"
    if reason.kind == "window":
        return f"{named(first)} is done in one go and does not fit in before closing"
    if reason.operation and plan.work.by_id()[reason.operation].cure:
        return f"{named(reason.operation)} cures or settles"
    if reason.operation:
        return f"{named(first)} has to wait for {named(reason.operation)}"
    return f"next is {named(first)}"


def what_is_awaited(plan: Plan, operation: str) -> str:
    """What keeps an operation from starting before a given moment."""
    comes = awaited(plan, operation)
    if any(p.kind == "donor" for p in comes):
        return "the instrument, which has to be bought first"
    parcels = parcel_words(plan, comes)
    if parcels:
        return parcels
    if comes:
        return f"{' and '.join(bought_words(plan, p) for p in comes)}, to be bought first"
    return f"{named(plan.held[operation])}, which cures or settles" if operation in plan.held else "its time"


def bought_words(plan: Plan, purchase: Purchase) -> str:
    """What a purchase is, in words."""
    study = plan.study
    if purchase.kind == "donor":
        return f"{study.studies[purchase.job].job.what or 'the instrument'} ({purchase.job})"
    if purchase.kind == "tool":
        return study.shop.tools[purchase.what].what
    if purchase.kind == "rent":
        return f"{study.shop.tools[purchase.what].what} (rented)"
    if purchase.kind == "pack":
        return study.shop.consumables[purchase.what].what
    if purchase.kind == "spare":
        return f"{purchase.number} spare ({study.shop.part_classes[purchase.what].what})"
    return study.studies[purchase.job].costing.parts[purchase.upgrade].what


def _errands(plan: Plan, days: Sequence[date], begins: datetime) -> dict[date, tuple[str, ...]]:
    """Orders to place on the first day, and parcels to expect; those of closed days on the next open one."""
    found: dict[date, list[str]] = {}
    if plan.now is None and days:
        bought = (*plan.answer.purchases, *plan.answer.spares)
        sent = dict.fromkeys(p.seller for p in bought if is_sent(p))
        fetched = [bought_words(plan, p) for p in bought if p.is_paid and not is_sent(p)]
        errands = found.setdefault(days[0], [])
        if sent:
            errands.append(f"order today from {', '.join(sorted(sent))} (see the orders)")
        if fetched:
            errands.append(f"buy today, for tomorrow: {'; '.join(dict.fromkeys(fetched))}")
    for day in days:
        away = [person.id for person in plan.study.file.people if day in person.days_off]
        if away:
            found.setdefault(day, []).append(f"away: {', '.join(away)}")
    for day, comes in parcels_of(plan.study, plan.answer, plan.calendar, plan.late).items():
        open_days = [one for one in days if one >= day]
        there = datetime.combine(day, time()) <= begins and plan.now is not None
        if there or not open_days:
            continue
        for seller in dict.fromkeys(seller for seller, _ in comes):
            what = "; ".join(words for name, words in comes if name == seller)
            found.setdefault(open_days[0], []).append(f"expect from {seller or 'any shop'}: {what}")
    return {day: tuple(words) for day, words in found.items()}


def _overnight(plan: Plan, day: date) -> tuple[Curing, ...]:
    """What cures or settles past the midnight after a day."""
    waits = plan.work.waits()
    known = plan.work.by_id()
    spans = [(o, plan.already[o.id][0], plan.settled[o.id]) for o in plan.done]
    for assignment in plan.schedule.assignments:
        end = plan.calendar.elapsed_at_end(assignment.end)
        since, until = plan.calendar.moment(end), plan.calendar.moment(end + waits[assignment.operation])
        spans.append((known[assignment.operation], since, until))
    midnight = datetime.combine(day + timedelta(days=1), time())
    return tuple(
        Curing(o.id, until, HINTS.get(o.meanwhile, ""))
        for o, since, until in spans
        if since < midnight < until
    )


def grouped(curing: Iterable[Curing]) -> list[tuple[str, list[str], datetime, str]]:
    """The same task on several instruments told once: (task, jobs, the last end, hint)."""
    tasks: dict[str, tuple[list[str], datetime, str]] = {}
    for one in curing:
        jobs, until, hint = tasks.get(short(one.operation), ([], one.until, one.hint))
        job = operation_name(one.operation).job
        tasks[short(one.operation)] = ([*jobs, job], max(until, one.until), hint)
    return [(task, list(dict.fromkeys(jobs)), until, hint) for task, (jobs, until, hint) in tasks.items()]


def curing_words(curing: Iterable[Curing], now: date, hints: bool = True) -> str:
    """What cures, till when, and what to keep off, as one line."""
    return "; ".join(
        f"{task} of {', '.join(jobs)} till {until_words(until, now)}"
        + (f" ({hint})" if hints and hint else "")
        for task, jobs, until, hint in grouped(curing)
    )


def until_words(until: datetime, now: date) -> str:
    """A time today, or with its day."""
    return f"{until:%H:%M}" if until.date() == now else f"{until:%a} {until.day} {until:%b} {until:%H:%M}"

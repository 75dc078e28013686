"""What is tapped or typed at the bench: each tap done once, at the moment at which it was tapped, through the ledger."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from typing import Any

from msgspec.structs import replace

from estimator.core.errors import Origin, refusal, refused_word, shown
from estimator.ledger.clock import Moment, kept_moment, minutes_text, moment_ago, read_moment, read_seconds
from estimator.ledger.jobs import is_booked
from estimator.ledger.papers import add_photo
from estimator.ledger.parcels import Parcel, tell_parcel
from estimator.ledger.records import RunningNow
from estimator.ledger.store import Ledger
from estimator.ledger.taps import Tap, Told, clocked_last, device_of_clock, finished_since, in_order, once
from estimator.ledger.timers import HANDS, begin, correct, end, pause, running, typed
from estimator.ledger.used import read_used, tell_used
from estimator.server.agreed import task_words
from estimator.server.desk import Desk
from estimator.server.entries import Entries
from estimator.server.intake import measured_changes, shown_once_written, typed_value

Fields = Mapping[str, str]
HERE = "this machine"
"""The device of a tap that does not come from a phone."""
LONGEST_MS = 7 * 24 * 3600 * 1000
"""The oldest tap that is still taken by its own time."""
NOT_ASKED = ("key", "age", "after", "entries", "word", "by", "back")
"""Fields beside what a tap asks for: when and how it came."""
WHEN = ("before", "after")


def tapped(desk: Desk, fields: Fields, device: str, photo: bytes = b"") -> Told:
    """Do one tap, once; its answer in words. InputError says why nothing was done."""
    do = DOES.get(fields.get("do", ""))
    if do is None:
        raise refused_word(
            "tap",
            "nothing of this kind is done at the bench",
            fields.get("do", ""),
            DOES,
            otherwise="reload the page",
        )
    at, came = moment_of(fields), read_moment(None)
    asked = sorted((name, value) for name, value in fields.items() if name not in NOT_ASKED)
    content = hashlib.sha256(repr(asked).encode() + photo).hexdigest()
    with desk.ledger(new=True) as books:
        assert books is not None

        at = in_order(books, device, at)

        def act() -> Told:
            kept = fields["do"] == "photo" and photo
            return _photo(desk, books, fields, at, photo) if kept else do(desk, books, fields, at)

        return once(books, Tap(fields.get("key", ""), content, device, at, came), act)


def _told(fields: Fields, words: str, **more: Any) -> Told:
    return Told(fields["do"], fields.get("job", ""), fields.get("task", ""), words, **more)


def moment_of(fields: Fields) -> Moment:
    """When it was tapped, by this machine's clock: so long ago as the device says, and never before it last heard from here.

    The clock of the device is asked only how long ago it was; that it may stand wrong makes no difference.
    """
    age, after = fields.get("age", "") or "0", fields.get("after", "")
    if not (age.isascii() and age.isdigit() and len(age) <= 12 and int(age) <= LONGEST_MS):
        raise refusal(
            "time of the tap",
            "is none that can be believed",
            shown(f"{age[:20]} ms ago"),
            f"at most {LONGEST_MS // 86_400_000} days ago",
            "type the minutes into the step instead",
        )
    now, at = read_moment(None), moment_ago(int(age))
    if after:
        heard = replace(now, utc=read_moment(after, "time of the tap").utc)
        at = max(at, min(now, heard))
    return min(at, now)


def _begin(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    job, task = _of(books, fields)
    cure = fields.get("cure") == "1"
    runs = {(r.job, r.task, r.kind): r for r in running(books, at)}
    mine = runs.get((job, task, "cure" if cure else HANDS))
    if mine is not None and (since := mine.since) is not None:
        device = device_of_clock(books, job, task)
        from_ = f", begun on {device}" if device else ""
        words = f"{task_words(task)} runs already, since {since.local:%H:%M}{from_}. It counts once."
        return _told(fields, words, already=True)
    _ask_first([r for r in runs.values() if r.kind == HANDS and not cure], at)
    if not cure:
        _not_overtaken(books, job, at)
    found = begin(books, job, task, at, cure)
    paused = f"; {found.paused} is paused" if found.paused else ""
    begun = "goes on" if found.went_on else "begun"
    return _told(fields, f"{task_words(task)}: {begun} at {at.local:%H:%M}{paused}.", cure=cure)


def _ask_first(hands: list[RunningNow], at: Moment) -> None:
    """InputError where hands are on a clock that cannot be believed, or was begun elsewhere after this tap: nothing is guessed."""
    for row in hands:
        since = row.since
        if since is None or not row.forgotten:
            continue
        where = Origin(task_words(row.task))
        if since.utc > at.utc:
            raise refusal(
                where,
                "was begun after this tap, on another device",
                f"on the clock since {since.local:%H:%M:%S}, tapped at {at.local:%H:%M:%S}",
                "one pair of hands at one step",
                "type the minutes of this tap into its own step, if they were worked",
            )
        raise refusal(
            where,
            f"its clock was not ended: {row.forgotten}",
            f"begun {since.local:%d %b, %H:%M}",
            "the minutes it took",
            "open that step and type how long it took",
        )


def _not_overtaken(books: Ledger, job: str, at: Moment) -> None:
    """InputError where, after a tap that comes late, hands were on a clock or the job was finished: nothing is guessed."""
    last = clocked_last(books)
    if last is not None and last[1].utc > at.utc:
        words, when = task_words(last[0]), last[1].local
        raise refusal(
            words,
            f"was on a clock at {when:%H:%M:%S}, after this tap",
            f"tapped at {at.local:%H:%M:%S}",
            "one pair of hands at one step",
            "type the minutes of this tap into its own step, if they were worked",
        )
    over = finished_since(books, job)
    if over is not None and over[1].utc > at.utc:
        since = over[1].local
        raise refusal(
            job,
            f"is {over[0]} since {since:%H:%M:%S}, after this tap",
            f"tapped at {at.local:%H:%M:%S}",
            "a job that is at work",
            "type the minutes of this tap into its own step, if they were worked",
        )


def _pause(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    job, task = _of(books, fields)
    mine = [r for r in running(books, at) if (r.job, r.task, r.kind) == (job, task, HANDS)]
    if mine and mine[0].paused:
        return _told(fields, f"{task_words(task)} is paused already.", already=True)
    _ask_first(mine, at)
    if not mine:
        return _over(books, fields, "pause", at)
    found = pause(books, at)
    return _told(fields, f"{task_words(task)}: paused after {minutes_text(found.seconds)}.")


def _end(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    job, task = _of(books, fields)
    took, again = fields.get("took", "").strip(), fields.get("again", "").strip()
    mine = [r for r in running(books, at) if (r.job, r.task, r.kind) == (job, task, HANDS)]
    if not mine:
        return _over(books, fields, "end", at)
    if not took:
        _ask_first(mine, at)
    seconds = read_seconds(took, "took") if took else None
    redone = read_seconds(again, "again") if again else 0
    found = end(books, at, job, task, seconds, fields.get("remark", "").strip()[:200], redone)
    words = f"; {minutes_text(redone)} of it did again what had gone wrong" if redone else ""
    return _told(fields, f"{task_words(task)}: {minutes_text(found.seconds)}{words}.", spell=found.spell)


def _over(books: Ledger, fields: Fields, what: str, at: Moment) -> Told:
    """A clock that another device ended first, on the day of the tap: said, and counted once."""
    job, task = fields["job"], fields["task"]
    row = books.row(
        "SELECT seconds, at, ahead_min FROM time_taken WHERE job = ? AND task = ? AND kind = ? ORDER BY id DESC LIMIT 1",
        (job, task, HANDS),
    )
    if row is None or kept_moment(row["at"], row["ahead_min"]).day != at.day:
        raise refusal(
            task_words(task),
            f"no clock of it is on, so there is nothing to {what}",
            accepted="a step that was begun",
            next_step="begin it, or type its minutes below",
        )
    ended = kept_moment(row["at"], row["ahead_min"]).local
    words = f"{task_words(task)} was ended already, at {ended:%H:%M}: {minutes_text(row['seconds'])}. It counts once."
    return _told(fields, words, already=True)


def _used(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    job, task = _of(books, fields)
    what = read_used(fields.get("what", ""), "used")
    moves = tell_used(books, job, task, what, at)
    from estimator.ledger.stock import quantity

    left = [f"{row.item}: {quantity(row.left)} left" for row in moves]
    return _told(fields, "; ".join(left) or "Nothing is taken off the stock.")


def _came(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    parcel = Parcel(
        fields.get("seller", ""), fields.get("item", ""), fields.get("for", ""), fields.get("upgrade", "")
    )
    tell_parcel(books, parcel, None, at)
    return _told(fields, f"{parcel.words()}: it came.")


def _wrong(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    """Minutes that did again what had gone wrong: of the clock that is on, which ends it, or by themselves."""
    job, task = _of(books, fields)
    seconds = read_seconds(fields.get("minutes", ""), "minutes")
    remark = fields.get("remark", "").strip()[:200]
    if any((r.job, r.task, r.kind) == (job, task, HANDS) for r in running(books, at)):
        return _end(desk, books, {**fields, "again": fields.get("minutes", ""), "remark": remark}, at)
    found = typed(books, job, task, seconds, at, remark, seconds)
    words = f"{task_words(task)}: {minutes_text(seconds)} did again what had gone wrong."
    return _told(fields, words, spell=found.spell)


def _typed(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    job, task = _of(books, fields)
    found = typed(
        books,
        job,
        task,
        read_seconds(fields.get("minutes", ""), "minutes"),
        at,
        fields.get("remark", "").strip()[:200],
    )
    words = f"{task_words(task)}: {minutes_text(found.seconds)} recorded."
    return _told(fields, words, spell=found.spell)


def _correct(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    number = fields.get("spell", "")
    if not (number.isascii() and number.isdigit() and len(number) < 12):
        raise refusal(
            "time", "is none that was recorded", shown(number[:20]), "a time of the list", "reload the page"
        )
    seconds = read_seconds(fields.get("minutes", ""), "minutes")
    found = correct(books, int(number), seconds, at, fields.get("remark", "").strip()[:200])
    before, after = minutes_text(found.before_s), minutes_text(found.seconds)
    words = f"{task_words(found.task)}: {after} instead of {before}; the old one stays in its history."
    return _told(fields, words)


def _measure(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    """Write measured values into the job file, as the page of the intake does; what was changed there meanwhile stands."""
    asked = desk.ask(fields.get("file", ""), Entries())
    known = {spec.id for spec in desk.shop.intake.values() if spec.kind != "money"}
    given = {name: value for name, value in fields.items() if name.startswith("m.") and value.strip()}
    for name in given:
        if name[2:] not in known:
            raise refusal(
                "measurement",
                "nothing of this name is measured at the bench",
                shown(name[2:][:80]),
                "a field of the list",
                "reload the page, then type it again",
            )
    for name, value in given.items():
        now, seen = typed_value(desk, asked, name[2:]), fields.get("seen." + name[2:], "")
        if now not in (seen, shown_once_written(desk.shop, name[2:], value)):
            raise refusal(
                name[2:],
                "another value was written meanwhile",
                shown(now),
                "the value that stands",
                "look which is right, then type it again",
            )
    if not given:
        raise refusal("measurement", "nothing was typed", "", "a value", "type it, then tap")
    changes = measured_changes(desk, asked, given)
    if changes:
        desk.change(asked, changes, asked.file.version)
    words = ", ".join(f"{name[2:].replace('_', ' ')} {value.strip()}" for name, value in given.items())
    return _told(fields, f"Written into the job file: {words}.")


def _photo(desk: Desk, books: Ledger, fields: Fields, at: Moment, data: bytes) -> Told:
    """Keep a photo, and in the ledger of a booked job where it lies and of what it is."""
    asked = desk.ask(fields.get("file", ""), Entries())
    path = desk.folder.keep_photo(asked.file.name, data)
    when, task = fields.get("when", ""), fields.get("task", "")[:80]
    when = when if when in WHEN else ""
    remark = " ".join(word for word in (when, task_words(task) if task else "") if word)
    if is_booked(books, asked.job.id):
        add_photo(books, asked.job.id, str(path), at, remark)
    return _told(fields, f"Photo kept: {remark or path.name}.", photo=path.name)


def _no_photo(desk: Desk, books: Ledger, fields: Fields, at: Moment) -> Told:
    raise refusal("photo", "no photo was sent", "", "a photo", "take it, then send it")


def _of(books: Ledger, fields: Fields) -> tuple[str, str]:
    """The job and the task of a tap; InputError where the quote and the times of the job know no such task."""
    job, task = fields.get("job", ""), fields.get("task", "")
    known = [
        str(row["task"])
        for row in books.rows(
            "SELECT task FROM quote_task JOIN job ON job.accepted_quote = quote_task.quote WHERE job.id = ?"
            " UNION SELECT task FROM spell WHERE job = ? UNION SELECT task FROM running WHERE job = ?",
            (job, job, job),
        )
    ]
    if task not in known:
        raise refusal(
            "step",
            "there is no such step at the bench",
            shown(f"{job}, {task}"[:120]),
            "a step of a job that was taken",
            "go back to today's list",
        )
    return job, task


DOES: dict[str, Callable[[Desk, Ledger, Fields, Moment], Told]] = {
    "begin": _begin,
    "pause": _pause,
    "end": _end,
    "used": _used,
    "came": _came,
    "wrong": _wrong,
    "typed": _typed,
    "correct": _correct,
    "measure": _measure,
    "photo": _no_photo,
}
"""What can be done at the bench, by the word in the field ``do``."""

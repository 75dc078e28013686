"""Times at the bench: begun, paused, ended, typed afterwards, corrected. Nothing is guessed, nothing is lost.

One pair of hands is at one thing at a time; cures run beside it, as many as there are. What runs is a row
of ``running``; what has ended, or was typed, is a row of ``spell``. A correction is a new row that names
the one it corrects, which stays.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from msgspec.structs import asdict

from estimator.core.amounts import Seconds
from estimator.core.errors import InputError, as_accepted, near_miss, refusal, shown
from estimator.core.text import moment
from estimator.ledger.clock import Moment, minutes_text
from estimator.ledger.jobs import job_row, to_work, worked_on
from estimator.ledger.records import (
    Begun,
    CardTime,
    Corrected,
    LaidDown,
    OfTask,
    Recorded,
    Running,
    RunningNow,
    TimeTaken,
)
from estimator.ledger.store import Ledger, Row

HANDS, CURE = "hands", "cure"
LONGEST_HANDS_S = 10 * 3600
"""Seconds after which hands that are said to be at work were more likely forgotten."""


def running(ledger: Ledger, now: Moment) -> list[RunningNow]:
    """What runs and what is paused, with the seconds so far and why one may have been forgotten."""
    rows = ledger.told(Running, "SELECT * FROM running ORDER BY kind DESC, since_at IS NULL, id")
    return [_as_of(row, now) for row in rows]


def _as_of(row: Running, now: Moment) -> RunningNow:
    forgotten = _forgotten(row, now)
    return RunningNow(
        **asdict(row), forgotten=forgotten, seconds=None if forgotten else row.before_s + _since(row, now)
    )


def begin(ledger: Ledger, job: str, task: str, now: Moment, cure: bool = False) -> Begun:
    """Begin on a task, or go on with a paused one; what the hands were at is paused and told."""
    kind = CURE if cure else HANDS
    paused = None
    with ledger.writing():
        if not task.strip():
            raise ledger.refusal(
                "the task has no name", "nothing", "the name of a task", "name the task as the quote does"
            )
        to_work(ledger, job, now)
        mine = ledger.one(
            Running, "SELECT * FROM running WHERE job = ? AND task = ? AND kind = ?", (job, task, kind)
        )
        if mine is not None and not mine.paused:
            raise ledger.refusal(
                f"{job}, {task} runs already",
                f"since {_begun(mine)}",
                "one that does not run",
                "estimator ledger end ends it",
            )
        busy = _hands_now(ledger)
        if busy is not None and not cure:
            _ask_if_forgotten(ledger, busy, now)
            _pause(ledger, busy, now)
            paused = f"{busy.job}, {busy.task}"
        if mine is not None:
            ledger.write(
                "UPDATE running SET since_at = ?, since_ahead_min = ? WHERE id = ?",
                (now.text, now.ahead_min, mine.id),
            )
        else:
            since = {"since_at": now.text, "since_ahead_min": now.ahead_min}
            began = {"began_at": now.text, "began_ahead_min": now.ahead_min}
            ledger.add("running", job=job, task=task, kind=kind, **began, **since)
    return Begun(job, task, kind, mine is not None, paused)


def pause(ledger: Ledger, now: Moment) -> LaidDown:
    """Lay down what the hands are at; ``begin`` goes on with it."""
    with ledger.writing():
        busy = _hands_now(ledger)
        if busy is None:
            raise _nothing_runs(ledger)
        _ask_if_forgotten(ledger, busy, now)
        seconds = _pause(ledger, busy, now)
    return LaidDown(busy.job, busy.task, seconds)


def end(
    ledger: Ledger,
    now: Moment,
    job: str | None = None,
    task: str | None = None,
    took: int | None = None,
    remark: str = "",
    redone: int = 0,
) -> Recorded:
    """End what the hands are at, or the task that is named; ``took``: the seconds it truly took in all.

    ``redone``: of these, the seconds that did again what had gone wrong; they are a time of their own.
    """
    with ledger.writing():
        row = _to_end(ledger, job, task)
        if took is None:
            _ask_if_forgotten(ledger, row, now)
            took, source = row.before_s + _since(row, now), "timer"
        else:
            source = "typed"
        _check_redone(redone, took, row.kind)
        of = {"job": row.job, "task": row.task, "kind": row.kind, "source": source, "began_at": row.began_at}
        number = _parted(ledger, {**of, "remark": remark}, took, redone, now)
        ledger.write("DELETE FROM running WHERE id = ?", (row.id,))
    return _recorded(ledger, number, row.job, row.task, row.kind, took)


def _recorded(ledger: Ledger, number: int, job: str, task: str, kind: str, seconds: int) -> Recorded:
    of_task = asdict(planned_and_taken(ledger, job, task))
    return Recorded(spell=number, job=job, task=task, kind=kind, seconds=Seconds(seconds), **of_task)


def _parted(ledger: Ledger, of: Mapping[str, object], seconds: int, redone: int, now: Moment) -> int:
    """Write a time, and apart from it what did again what had gone wrong; the number of the last one."""
    number = 0
    for part, again in ((seconds - redone, 0), (redone, 1)):
        if part or (not again and not redone):
            number = ledger.add("spell", now, **of, seconds=part, redone=again)
    return number


def _check_redone(redone: int, seconds: int, kind: str) -> None:
    if redone and kind == CURE:
        raise refusal(
            "--redone",
            "a cure does nothing again by hand",
            minutes_text(redone),
            "minutes of hands",
            "record what was done again: ledger time JOB TASK MINUTES --redone MINUTES",
        )
    if redone > seconds:
        raise refusal(
            "--redone",
            "more was done again than it took in all",
            minutes_text(redone),
            f"at most {minutes_text(seconds)}",
            "type of the whole what did again what had gone wrong",
        )


def typed(
    ledger: Ledger, job: str, task: str, seconds: int, now: Moment, remark: str = "", redone: int = 0
) -> Recorded:
    """Minutes that were written down elsewhere; ``redone`` of them did again what had gone wrong."""
    if not task.strip() or not seconds:
        raise ledger.refusal(
            "there is no time to record",
            f"{seconds} s of {shown(task)}",
            "a task and more than nothing",
            "type the task and its time",
        )
    with ledger.writing():
        _check_redone(redone, seconds, HANDS)
        worked_on(ledger, job, now)
        of = {"job": job, "task": task, "kind": HANDS, "source": "typed", "began_at": None, "remark": remark}
        number = _parted(ledger, of, seconds, redone, now)
    return _recorded(ledger, number, job, task, HANDS, seconds)


def correct(ledger: Ledger, spell: int, seconds: int, now: Moment, remark: str = "") -> Corrected:
    """Another length for a time that was recorded (nothing: struck out); the old one stays in its history."""
    with ledger.writing():
        old = ledger.row("SELECT * FROM spell WHERE id = ?", (spell,))
        if old is None:
            raise ledger.refusal(
                "there is no time of this number",
                shown(spell),
                "a number that ledger time JOB lists",
                "estimator ledger time JOB",
            )
        newer = ledger.row("SELECT id, seconds FROM spell WHERE corrects = ?", (spell,))
        if newer is not None:
            raise ledger.refusal(
                f"time {spell} was corrected already",
                f"by {newer['id']}",
                "the last correction",
                f"correct number {newer['id']}",
            )
        number = _correction(ledger, old, seconds, remark)
    return Corrected(number, old["job"], old["task"], Seconds(seconds), old["seconds"])


def _correction(ledger: Ledger, old: Row, seconds: int, remark: str) -> int:
    """``old``: the whole row that is corrected."""
    return ledger.add(
        "spell", **{**old, "id": None, "corrects": old["id"], "seconds": seconds, "remark": remark}
    )


class CardRow(NamedTuple):
    """A row of a job card that minutes were written into."""

    job: str
    task: str
    place: str
    minutes: Decimal
    remark: str


def from_cards(
    ledger: Ledger, cards: Iterable[tuple[str, str, str, Decimal, str]], now: Moment
) -> list[CardTime]:
    """Minutes off job cards (each as ``CardRow``), all or none.

    A card that is read again records nothing twice: what has changed on it is a correction. ``beside_s``: seconds of
    the same task that are recorded by a clock or by hand already; only whoever wrote both knows whether they are the same.
    """
    told = []
    with ledger.writing():
        for job, task, place, minutes, remark in cards:
            job_row(ledger, job)
            seconds = Seconds(int((minutes * 60).to_integral_value(ROUND_HALF_UP)))
            old = ledger.row(
                "SELECT * FROM time_taken WHERE job = ? AND task = ? AND place = ? AND source = 'card'",
                (job, task, place),
            )
            done = "as before"
            if old is None and seconds:
                done = "new"
                worked_on(ledger, job, now)
                of = {"job": job, "task": task, "place": place, "kind": HANDS, "source": "card"}
                ledger.add("spell", now, **of, seconds=seconds, remark=remark)
            elif old is not None and old["seconds"] != seconds:
                done = "corrected"
                _correction(ledger, old, seconds, remark)
            beside = ledger.rows(
                "SELECT COALESCE(SUM(seconds), 0) AS seconds FROM time_taken WHERE job = ? AND task = ? AND kind = 'hands'"
                " AND source <> 'card'",
                (job, task),
            )[0]["seconds"]
            told.append(CardTime(job, task, place, seconds, done, beside))
    return told


def times_of(ledger: Ledger, job: str) -> list[TimeTaken]:
    """Every time of a job with its history: what a row corrects, and whether it was corrected itself."""
    job_row(ledger, job)
    return ledger.told(
        TimeTaken,
        "SELECT spell.*, (SELECT newer.id FROM spell AS newer WHERE newer.corrects = spell.id) AS corrected_by"
        " FROM spell WHERE job = ? ORDER BY id",
        (job,),
    )


def planned_and_taken(ledger: Ledger, job: str, task: str) -> OfTask:
    """Seconds of a task: planned by the accepted quote (None: it is not in it), and taken by hand so far."""
    planned = ledger.row(
        "SELECT quote_task.seconds FROM job JOIN quote_task ON quote_task.quote = job.accepted_quote"
        " WHERE job.id = ? AND quote_task.task = ?",
        (job, task),
    )
    taken = ledger.rows(
        "SELECT COALESCE(SUM(seconds), 0) AS sum FROM time_taken WHERE job = ? AND task = ? AND kind = 'hands'",
        (job, task),
    )[0]["sum"]
    return OfTask(planned_s=planned["seconds"] if planned else None, taken_s=taken)


def _hands_now(ledger: Ledger) -> Running | None:
    return ledger.one(Running, "SELECT * FROM running WHERE kind = 'hands' AND since_at IS NOT NULL")


def _to_end(ledger: Ledger, job: str | None, task: str | None) -> Running:
    if job is None:
        busy = _hands_now(ledger)
        if busy is not None:
            return busy
        raise _nothing_runs(ledger)
    job_row(ledger, job)
    rows = ledger.told(
        Running, "SELECT * FROM running WHERE job = ? ORDER BY kind DESC, since_at IS NULL, id", (job,)
    )
    if task is not None:
        meant = as_accepted(task, {row.task for row in rows})
        rows = [row for row in rows if row.task == meant]
    if len(rows) == 1 or (rows and task is not None):  # of one task the hands first: its cure goes on
        return rows[0]
    if not rows:
        raise _nothing_runs(ledger)
    names = [f"{row.task} ({row.kind})" for row in rows]
    raise ledger.refusal(
        f"several things run on {job}",
        ", ".join(names),
        "one of these tasks",
        f"estimator ledger end {job} TASK",
    )


def _nothing_runs(ledger: Ledger) -> InputError:
    rows = ledger.told(Running, "SELECT * FROM running ORDER BY id")
    names = [f"{row.job}, {row.task} ({'paused' if row.paused else row.kind})" for row in rows]
    # a paused task has its time already: typed beside it, it would count twice
    next_ = "; ".join(
        f"estimator ledger end {row.job} {shown(row.task) if ' ' in row.task else row.task}"
        for row in rows
        if row.paused
    )
    return ledger.refusal(
        "nothing of this runs",
        ", ".join(names) or "nothing runs",
        "what was begun",
        next_ or "estimator ledger time JOB TASK MINUTES records what was not begun here",
    )


def _pause(ledger: Ledger, row: Running, now: Moment) -> Seconds:
    seconds = row.before_s + _since(row, now)
    ledger.write(
        "UPDATE running SET since_at = NULL, since_ahead_min = NULL, before_s = ? WHERE id = ?",
        (seconds, row.id),
    )
    return seconds


def _since(row: Running, now: Moment) -> Seconds:
    since = row.since
    return Seconds(0 if since is None else round((now.utc - since.utc).total_seconds()))


def _forgotten(row: Running, now: Moment) -> str:
    """Why the time of a running row cannot be believed; blank where it can."""
    since, seconds = row.since, _since(row, now)
    if seconds < 0:
        return "the clock shows an earlier time than when it was begun"
    if row.kind == HANDS and since is not None and since.day != now.day:
        return "it ran over night"
    if row.kind == HANDS and seconds > LONGEST_HANDS_S:
        return f"it ran for more than {LONGEST_HANDS_S // 3600} hours"
    return ""


def _begun(row: Running) -> str:
    return "" if row.since is None else moment(row.since.local)


def _ask_if_forgotten(ledger: Ledger, row: Running, now: Moment) -> None:
    why = _forgotten(row, now)
    if why:
        before = f" with the {minutes_text(row.before_s)} before its last pause" if row.before_s else ""
        raise ledger.refusal(
            f"{row.job}, {row.task} was not ended: {why}",
            f"begun {_begun(row)}",
            f"the minutes it took in all{before}",
            f"estimator ledger end {row.job} {shown(row.task)} --took MINUTES",
        )


def task_meant(ledger: Ledger, job: str, task: str, new: bool = False) -> str:
    """The task of a job by its name, whatever its capitals, blanks and hyphens; one of that name where it has none.

    InputError where it is blank, or unknown and like a known one: most likely a slip; ``new``: it is not.
    """
    job_row(ledger, job)
    known = {
        str(row["task"])
        for row in ledger.rows(
            "SELECT DISTINCT task FROM quote_task JOIN quote ON quote.number = quote_task.quote WHERE quote.job = ?"
            " UNION SELECT DISTINCT task FROM spell WHERE job = ? UNION SELECT task FROM running WHERE job = ?",
            (job, job, job),
        )
    }
    if not new:
        task = as_accepted(task, known)
    if not task.strip():
        raise ledger.refusal(f"no task of {job} is named", "", ", ".join(sorted(known)), "name one of them")
    hint = near_miss(task, known) if task not in known and not new else ""
    if hint:
        raise ledger.refusal(
            f"no task of {job} has this name",
            shown(task),
            ", ".join(sorted(known)),
            f"{hint} if it is another task, add --new",
        )
    return task

"""One step, large: its clock, what to take care of, figures and drawing, what can be measured now, what it used, its times."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from estimator.core.errors import InputError, refusal, shown
from estimator.core.text import of_unit, sentence_case
from estimator.core.units import lengths_as_read
from estimator.estimate.new_job import fields_that_matter, is_starred
from estimator.ledger.clock import kept_moment, minutes_text, read_moment
from estimator.ledger.stock import quantity
from estimator.ledger.store import Ledger
from estimator.ledger.timers import HANDS, running, times_of
from estimator.ledger.today import DONE, BenchStep, cures, steps
from estimator.ledger.used import proposed
from estimator.server.agreed import task_words
from estimator.server.bench.day import cure_lines, file_of, step_url, waits_of
from estimator.server.desk import Desk
from estimator.server.entries import Entries
from estimator.server.intake import Measured, Stage, intake_of

if TYPE_CHECKING:
    from markupsafe import Markup

    from estimator.model import Shop
    from estimator.server.desk import Asked

OPENED_BY = {
    "strings-off": "strings-off",
    "strip-hardware": "strings-off",
    "strip-electronics": "guard-off",
    "remove-neck": "neck-off",
}
"""Which stage of measuring a task opens: what is under strings, guard or neck can be measured once it is off."""
CLOSED_BY = "string-up"
"""The task after which the instrument is whole again."""
BEGUN = ("first", "strung")
MONEY = "money"
"""Fields of this kind are asked for at the desk."""
MOST_ASKED = 6
"""Measurements that are asked for at once; the intake has all."""


class Time(Struct, frozen=True):
    """A time that was recorded: its number, how long, when, what is said of it; ``over``: the number that corrected it."""

    number: int
    took: str
    when: str
    said: str
    over: int | None


class Figures(Struct, frozen=True):
    """A place of the step: how much there is to do, the minutes planned, what is told at it, its drawings."""

    place: str
    quantity: str
    minutes: str
    told: tuple[str, ...]
    drawings: tuple[Markup, ...]


def step_values(desk: Desk, job: str, task: str) -> dict[str, object]:
    """All that stands on the page of a step but its figures, which may take a while."""
    now = read_moment(None)
    with desk.ledger() as books:
        found = steps(books) if books is not None else []
        here = next((i for i, one in enumerate(found) if (one.job, one.task) == (job, task)), None)
        if books is None or here is None:
            raise refusal(
                "step",
                "there is no such step at the bench",
                shown(f"{job}, {task}"[:120]),
                "a step of a job that was taken",
                "go back to today's list",
            )
        step, file = found[here], file_of(desk, job)
        clocks = [r for r in running(books, now) if r.kind == HANDS]
        runs = next((r for r in clocks if (r.job, r.task) == (job, task)), None)
        others = [r for r in clocks if (r.job, r.task) != (job, task) and not r.paused]
        waits = waits_of(desk.shop)
        return {
            "job": job,
            "task": task,
            "words": task_words(task),
            "file": file,
            "what": sentence_case(step.what or job),
            "state": step.stands,
            "seconds": runs.seconds if runs else None,
            "forgotten": runs.forgotten if runs else "",
            "begun": f"{runs.began.local:%d %b, %H:%M}" if runs else "",
            "planned": minutes_text(step.planned_s) if step.planned_s else "",
            "taken": minutes_text(step.taken_s) if step.taken_s else "",
            "busy": [task_words(r.task) for r in others],
            "how": lengths_as_read(desk.shop.tasks[task].told, desk.shop.lengths, beside=True)
            if task in desk.shop.tasks
            else "",
            "care": care_of(desk.shop, task),
            "cures": cure_lines(desk.shop, cures(books, waits, now), now),
            "rests": minutes_text(waits[task]) if task in waits else "",
            "asked": measure_now(desk, file, found, task),
            "used": _used(desk.shop, books, step),
            "times": _times(books, job, task),
            "next": _next(found, here),
            "photos": photos_of(desk, books, file, job),
        }


def care_of(shop: Shop, task: str) -> list[tuple[str, str]]:
    """The usual cautions of a task: where, and what to do and never to do."""
    from estimator.report.words.cautions import controls_words
    from estimator.workbook.write.sheets.job_card import FLAGS

    codes = shop.tasks[task].hazards if task in shop.tasks else ()
    return [
        (sentence_case(FLAGS.get(hazard.id, hazard.where)), sentence_case(controls_words(hazard)))
        for hazard in (shop.hazards[code] for code in codes if code in shop.hazards)
    ]


def _used(shop: Shop, books: Ledger, step: BenchStep) -> list[tuple[str, str]]:
    """What the quote reckons a step to use that is done, where nobody has said yet: item and how many."""
    if step.stands != DONE:
        return []
    known = {**{n: p.what for n, p in shop.parts.items()}, **{n: c.what for n, c in shop.consumables.items()}}
    uses = proposed(books, step.job, step.task)
    return [(item, f"{quantity(many)} × {known.get(item, item)}") for item, many in uses.items()]


def _times(books: Ledger, job: str, task: str) -> list[Time]:
    found = []
    for row in times_of(books, job):
        if row.task == task and row.kind == HANDS:
            said = [
                row.remark,
                "did again what had gone wrong" if row.redone else "",
                f"in place of number {row.corrects}" if row.corrects else "",
            ]
            when = f"{kept_moment(row.at, row.ahead_min).local:%d %b, %H:%M}"
            found.append(
                Time(
                    row.id,
                    minutes_text(row.seconds),
                    when,
                    "; ".join(w for w in said if w),
                    row.corrected_by,
                )
            )
    return found


def _next(found: Sequence[BenchStep], here: int) -> tuple[str, str] | None:
    """The next step of the same job that is not done, else of another; where it leads and its words."""
    mine = [one for one in found[here + 1 :] if one.job == found[here].job]
    rest = [one for one in found if one.job != found[here].job]
    step = next((one for one in (*mine, *rest) if one.stands != DONE), None)
    return (step_url(step.job, step.task), f"{task_words(step.task)}, {step.job}") if step else None


def measure_now(desk: Desk, file: str, found: Sequence[BenchStep], task: str) -> list[Measured]:
    """What is still assumed and can be measured as the instrument lies now: the likeliest to matter first, a few."""
    if not file:
        return []
    try:
        asked = desk.ask(file, Entries())
    except InputError:
        return []  # its page says what is wrong with it; the clock of the step goes on all the same
    mine = [one for one in found if one.job == asked.job.id]
    reached = {
        OPENED_BY[one.task]
        for one in mine
        if one.task in OPENED_BY and (one.stands == DONE or one.task == task)
    }
    apart = any(one.task in OPENED_BY and one.stands == DONE for one in mine)
    whole = any(one.task == CLOSED_BY and one.stands == DONE for one in mine)
    now = set(BEGUN) if whole else reached | (set() if apart else set(BEGUN))
    drawn = desk.shop.drawn
    open_ = [
        spec
        for spec in fields_that_matter(desk.shop, asked.job, ())
        if drawn.stage(spec.id, spec.section) in now
        and spec.kind != MONEY
        and asked.job.instrument[spec.id].assumed
    ]
    first = sorted(open_, key=lambda spec: not is_starred(spec))[:MOST_ASKED]
    by_name = {one.field: one for stage in intake_of(desk, asked).stages for one in stage.fields}
    return [by_name[spec.id] for spec in first if spec.id in by_name]


def stages_of(desk: Desk, asked: Asked) -> list[Stage]:
    """The stages of the intake as they stand at the bench: without anything that is money."""
    money = {spec.id for spec in desk.shop.intake.values() if spec.kind == MONEY}
    found = []
    for stage in intake_of(desk, asked).stages:
        sections = tuple(
            (name, kept)
            for name, held in stage.sections
            if (kept := tuple(one for one in held if one.field not in money))
        )
        fields = [one for _, held in sections for one in held]
        if fields:
            missing = sum(1 for one in fields if not one.typed)
            found.append(Stage(stage.name, sections, len(fields), missing))
    return found


def photos_of(desk: Desk, books: Ledger | None, file: str, job: str) -> list[tuple[str, str]]:
    """The photos of a job: file, and what was said of it."""
    if not file:
        return []
    rows = books.rows("SELECT path, remark FROM photo WHERE job = ?", (job,)) if books is not None else []
    said = {str(row["path"]).rpartition("/")[2]: str(row["remark"]) for row in rows}
    return [(name, said.get(name, "")) for name in desk.folder.photos(file)]


def figures(desk: Desk, job: str, task: str) -> list[Figures]:
    """The rows of the job card that belong to a step, with their figures and drawings; none where the file says other work."""
    file = file_of(desk, job)
    if not file:
        return []
    return _figures(desk, desk.ask(file, Entries()), task)


def _figures(desk: Desk, asked: Asked, task: str) -> list[Figures]:
    from markupsafe import Markup

    from estimator.report.svg.fit import drawing, head_of
    from estimator.workbook.write.rows import cost_rows
    from estimator.workbook.write.sheets.job_card import card_steps

    choice = desk.answers.choice(asked.values, asked.job, asked.entries.aim)
    if not choice.found:
        return []
    study, chosen = choice.study, choice.estimate.chosen
    rows = cost_rows(study.costing, frozenset(chosen))
    told = []
    for one in card_steps(study, rows, chosen=chosen):
        if one.row.task.id != task:
            continue
        drawn = [drawing(plan, head_of(study.job)) for plan in one.plans]
        told.append(
            Figures(
                one.row.place.replace("-", " "),
                of_unit(one.row.quantity, one.row.task.driver),
                f"{one.minutes} min",
                tuple(one.told),
                tuple(Markup(svg[svg.index("<svg") :]) for svg in drawn),
            )
        )
    return told

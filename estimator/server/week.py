"""The week as it stands on the page: batch files of the folder, and the plan that ``estimator plan`` makes of one."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from estimator.batch.build import BatchStudy, study_batch
from estimator.batch.records import JointAnswer
from estimator.core.errors import InputError, Issue, refusal, shown
from estimator.core.text import day, lines_of
from estimator.input.batch.load import BatchFile, load_batch
from estimator.ledger.for_choice import without_declined
from estimator.plan.plan import Plan, plan_batch
from estimator.plan.week import Day, curing_words, week_of
from estimator.report.svg.gantt import gantt_svg
from estimator.report.words.orders import order_lines
from estimator.report.words.plan import choice_lines, no_plan_words, promise_lines, proof_lines
from estimator.report.words.replan import change_lines, head_lines, moved_promises
from estimator.schedule.records import Search
from estimator.server.desk import Desk
from estimator.server.replan import Kept, again, keep, kept_of, kept_words, now_of, parcels_of

if TYPE_CHECKING:
    from markupsafe import Markup


class OpenDay(Struct, frozen=True):
    """A day of the plan: errands, stretches of time with their words, what cures meanwhile and what changed; overnight."""

    day: str
    errands: tuple[str, ...]
    stretches: tuple[tuple[str, str, str, str], ...]
    overnight: str
    quiet: str


WHOLE = 10**6
"""Columns of a line that is never broken: a screen breaks it by its own width."""
KEPT = 4
"""Plans of files as they were that are kept, the latest."""


def batches(desk: Desk) -> list[tuple[str, str]]:
    """The batch files of the folder: name, and what each is."""
    import tomllib

    found = []
    for name, path in desk.folder.batches().items():
        try:
            what = str(tomllib.loads(path.read_text(encoding="utf-8-sig"))["batch"].get("what") or name)
        except (ValueError, KeyError, AttributeError):
            what = f"{name} (cannot be read: open it to see why)"
        found.append((name, what))
    return found


def week_values(desk: Desk, name: str, query: Mapping[str, str]) -> dict[str, object]:
    """What the page of a batch shows; while a customer looks nothing of what is for the shop's eyes only."""
    values = _week_values(desk, name, query)
    if desk.looking:
        blocks = values["blocks"]
        assert isinstance(blocks, list | tuple)
        values |= {"blocks": [block for block in blocks if not block[2]], "parcels": (), "looking": True}
        values |= {"none": ("There is no plan yet.",)} if values["none"] else {}
    return values


def _week_values(desk: Desk, name: str, query: Mapping[str, str]) -> dict[str, object]:
    """The plan of a batch: what is left of the one that was kept, else a new one, worked out once for the files as they are."""
    file, told = _batch(desk, name)
    kept = kept_of(desk, name)
    base: dict[str, object] = {
        "batch": name,
        "none": (),
        "days": (),
        "blocks": (),
        "drawing": "",
        "kept": "",
        "seen": kept.version if kept else "",
        "version": "",
        "parcels": (),
        "now": "",
        "notes": _words(told),
        "complaints": (),
        "again": False,
        "looking": False,
    }
    if kept is not None and query.get("anew") != "1":
        return base | _left(desk, study_batch(desk.shop, file), kept, query, _words(told))
    key, plan = _new_plan(desk, name)
    if isinstance(plan, Plan):
        return base | {
            "version": key,
            "blocks": _blocks(plan),
            "days": _days(plan),
            "drawing": _drawing(plan),
        }
    return base | {"none": no_plan_words(plan).splitlines()}


def keep_new(desk: Desk, name: str, fields: Mapping[str, str]) -> None:
    """Keep the new plan that the page showed; InputError where the files are not those any more."""
    key, plan = _new_plan(desk, name)
    if key != fields.get("version", "") or not isinstance(plan, Plan):
        raise refusal(
            name,
            "a job or the batch was changed since this page was opened, so the plan is another",
            next_step="go back to the week and look at it",
        )
    keep(desk, name, plan, fields.get("seen", ""))


def keep_again(desk: Desk, name: str, fields: Mapping[str, str]) -> None:
    """Keep the plan of what is left in place of the one before."""
    kept = kept_of(desk, name)
    study = study_batch(desk.shop, _batch(desk, name)[0])
    if kept is None:
        raise refusal(name, "no plan is kept", next_step="keep one on the page of the week")
    made, _ = again(desk, study, kept, fields)
    keep(desk, name, made.plan, fields.get("seen", ""))


def _path(desk: Desk, name: str) -> Path:
    paths = desk.folder.batches()
    if name not in paths:
        raise refusal(
            str(desk.folder.root),
            "there is no batch file of this name here",
            shown(name),
            "a batch of the list",
            "go back to the list",
        )
    return paths[name]


def _batch(desk: Desk, name: str) -> tuple[BatchFile, tuple[Issue, ...]]:
    """The batch without what the ledger holds as declined, and what that leaves out."""
    file = load_batch(_path(desk, name), desk.shop)
    with desk.ledger() as books:
        return (file, ()) if books is None else without_declined(books, file)


def _words(told: Iterable[Issue]) -> tuple[str, ...]:
    return tuple(f"{issue.problem}: {issue.found}" if issue.found else issue.problem for issue in told)


def _new_plan(desk: Desk, name: str) -> tuple[str, Plan | JointAnswer]:
    """The plan of the files as they are, and the word for them."""
    path = _path(desk, name)
    file, _ = _batch(desk, name)
    key = _version([path, *(Path(entry.job.file) for entry in file.jobs if Path(entry.job.file).is_file())])
    if key not in desk.weeks:
        with desk.answers.solving:
            desk.weeks[key] = plan_batch(
                study_batch(desk.shop, file, ways_open=True), None, Search(engine="auto")
            )
        while len(desk.weeks) > KEPT:
            desk.weeks.pop(next(iter(desk.weeks)))
    return key, desk.weeks[key]


def _version(files: list[Path]) -> str:
    told = hashlib.sha256()
    for path in files:
        told.update(path.name.encode() + b"\0" + path.read_bytes())
    return told.hexdigest()


def _left(
    desk: Desk, study: BatchStudy, kept: Kept, query: Mapping[str, str], notes: tuple[str, ...]
) -> dict[str, object]:
    """What is left of the kept plan; what was typed and cannot be read stays in its fields with what is wrong."""
    shown_now = {
        "kept": kept_words(kept.plan),
        "parcels": parcels_of(kept.plan, query),
        "now": now_of(kept.plan, query.get("now", "")),
        "again": True,
    }
    try:
        made, told = again(desk, study, kept, query)
    except InputError as error:
        return shown_now | {"complaints": error.issues}
    plan = made.plan
    with lines_of(WHOLE):
        moves = with_depth([*head_lines(made)[1:], *change_lines(made)])
        promises = moved_promises(made)
    return shown_now | {
        "notes": (*notes, *_words(told)),
        "blocks": [
            ("What moves, and why", moves, False),
            *(_blocks(plan, promises) if plan.schedule.assignments else ()),
        ],
        "days": _days(plan),
        "drawing": _drawing(plan) if plan.schedule.assignments else "",
    }


def _blocks(plan: Plan, moved: Sequence[str] = ()) -> list[tuple[str, list[tuple[int, str]], bool]]:
    """What is said of a plan: heading, lines, and whether it is for the shop's eyes only."""
    with lines_of(WHOLE):
        told = [
            ([*promise_lines(plan), *moved], False),
            (choice_lines(plan), True),
            (order_lines(plan.orders, plan.shop.terms.currency, placed=plan.now is not None), True),
            (proof_lines(plan), True),
        ]
    return [(lines[0], with_depth(lines[1:]), own) for lines, own in told if lines]


def with_depth(lines: Sequence[str]) -> list[tuple[int, str]]:
    """Each line with how deep it stands in: 0, or 1 for what belongs to the line above it."""
    return [(1 if line.startswith("    ") else 0, line.strip()) for line in lines]


def _days(plan: Plan) -> tuple[OpenDay, ...]:
    days = week_of(plan)
    several = len({entry.who for one in days for entry in one.entries}) > 1
    return tuple(_open_day(one, several) for one in days)


def _open_day(one: Day, several: bool) -> OpenDay:
    stretches, before = [], ""
    for entry in one.entries:
        who = f"{entry.who}: " if several else ""
        words = f"free; {entry.words}" if entry.kind == "free" else entry.words
        curing = curing_words(entry.curing, one.day)
        told = curing if entry.kind == "work" and curing != before else ""
        stretches.append(
            (f"{entry.begins:%H:%M} to {entry.ends:%H:%M}", who + words, told, "; ".join(entry.changed))
        )
        before = curing if entry.kind == "work" else before
    overnight = curing_words(one.overnight, one.day, hints=False)
    return OpenDay(day(one.day), one.errands, tuple(stretches), overnight, one.quiet)


def _drawing(plan: Plan) -> Markup:
    from markupsafe import Markup

    drawn = gantt_svg(plan.work, plan.calendar, plan.schedule.assignments, plan.study.file.what)
    return Markup(drawn[drawn.index("<svg") :])

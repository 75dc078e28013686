"""The week as it stands on the page: batch files of the folder, and the plan that ``estimator plan`` makes of one."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from estimator.batch.build import study_batch
from estimator.core.errors import InputError, Issue, Origin, shown
from estimator.core.text import day
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.plan.week import Day, curing_words, week_of
from estimator.report.svg.gantt import gantt_svg
from estimator.report.words.orders import order_lines
from estimator.report.words.plan import choice_lines, no_plan_words, promise_lines, proof_lines
from estimator.schedule.records import Search
from estimator.server.desk import Desk

if TYPE_CHECKING:
    from pathlib import Path

    from markupsafe import Markup


@dataclass(frozen=True, slots=True)
class OpenDay:
    """A day of the plan: errands, stretches of time with their words, what cures overnight."""

    day: str
    errands: tuple[str, ...]
    stretches: tuple[tuple[str, str, str], ...]
    overnight: str
    quiet: str


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


def week_values(desk: Desk, name: str) -> dict[str, object]:
    """The plan of a batch; worked out once for the files as they are."""
    paths = desk.folder.batches()
    if name not in paths:
        raise InputError(Issue(Origin(str(desk.folder.root)), "there is no batch file of this name here", shown(name),
                               "a batch of the list", "go back to the list"))  # fmt: skip
    file = load_batch(paths[name], desk.shop)
    key = _version(paths[name], [desk.folder.root / path.name for path in desk.folder.paths().values()])
    if key not in desk.weeks:
        with desk.answers.solving:
            desk.weeks[key] = _shown(
                plan_batch(study_batch(desk.shop, file, ways_open=True), None, Search(engine="auto"))
            )
    return desk.weeks[key]


def _version(batch: Path, jobs: list[Path]) -> str:
    told = hashlib.sha256()
    for path in (batch, *jobs):
        told.update(path.name.encode() + b"\0" + path.read_bytes())
    return told.hexdigest()


def _shown(plan: object) -> dict[str, object]:
    if not isinstance(plan, Plan):
        from estimator.batch.records import JointAnswer

        assert isinstance(plan, JointAnswer)
        return {"none": no_plan_words(plan).splitlines(), "days": (), "blocks": (), "drawing": ""}
    currency = plan.shop.terms.currency
    return {
        "none": (),
        "blocks": [(lines[0], lines[1:]) for lines in (
            promise_lines(plan), choice_lines(plan), order_lines(plan.orders, currency), proof_lines(plan))],
        "days": _days(plan),
        "drawing": _drawing(plan),
    }  # fmt: skip


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
        stretches.append((f"{entry.begins:%H:%M} to {entry.ends:%H:%M}", who + words, told))
        before = curing if entry.kind == "work" else before
    overnight = curing_words(one.overnight, one.day, hints=False)
    return OpenDay(day(one.day), one.errands, tuple(stretches), overnight, one.quiet)


def _drawing(plan: Plan) -> Markup:
    from markupsafe import Markup

    drawn = gantt_svg(plan.work, plan.calendar, plan.schedule.assignments, plan.study.file.what)
    return Markup(drawn[drawn.index("<svg") :])

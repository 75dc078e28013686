"""Today's list: what is on the clock, what cures and till when, and the steps by person as a saved plan lays them, or by job."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from urllib.parse import urlencode

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.errors import InputError
from estimator.core.text import day_words, sentence_case
from estimator.input.batch.load import load_batch
from estimator.ledger.clock import Moment, minutes_text, read_moment
from estimator.ledger.for_choice import ledger_names
from estimator.ledger.parcels import parcel_rows
from estimator.ledger.records import LateParcel
from estimator.ledger.store import Ledger
from estimator.ledger.today import DONE, OPEN, PAUSED, RUNS, BenchStep, Cure, cures, steps
from estimator.model import Shop
from estimator.model.operation import operation_name
from estimator.plan.replan.saved_plan import KeptPlan, read_kept
from estimator.plan.week import HINTS, until_words
from estimator.server.agreed import OnTheClock, clock, task_words
from estimator.server.board import read_line
from estimator.server.desk import Desk

LARGEST_PLAN = 4 * 1024 * 1024
"""Bytes of the largest file that is taken for a saved plan."""
STANDS = {OPEN: "", RUNS: "on the clock", PAUSED: "paused", DONE: "done"}


class StepLine(Struct, frozen=True):
    """A step on the list: where it leads, what it is, on which job, when it is planned, how it stands."""

    url: str
    words: str
    job: str
    time: str
    stands: str
    said: str
    planned: str


class CureLine(Struct, frozen=True):
    """What cures: on which job, till when, what to keep off."""

    words: str
    job: str
    until: str
    hint: str


class Late(Struct, frozen=True):
    """A parcel that is late: in words, and what a tap says of it."""

    words: str
    fields: tuple[tuple[str, str], ...]


def step_url(job: str, task: str) -> str:
    """The address of a step."""
    return f"/bench/step?{urlencode({'job': job, 'task': task})}"


def day_values(desk: Desk) -> dict[str, object]:
    """All that stands on today's list."""
    now = read_moment(None)
    with desk.ledger() as books:
        if books is None:
            return {"clock": (), "cures": (), "people": (), "late": (), "plan": "", "links": {}}
        found = steps(books)
        plan = newest_plan(desk, books)
        runs = clock(books, now)
        return {
            "clock": runs,
            "links": {(one.job, one.task): step_url(one.job, one.task) for one in runs},
            "cures": cure_lines(desk.shop, cures(books, waits_of(desk.shop), now), now),
            "people": by_person(found, plan, now) if plan else by_job(found),
            "late": [_late(row) for row in parcel_rows(books, now)],
            "plan": plan[0] if plan else "",
        }


def waits_of(shop: Shop) -> dict[str, int]:
    """Seconds by task that rest once its work is done, where there are any."""
    return {
        task.id: int(task.wait_usual_min * 60)
        for task in shop.tasks.values()
        if task.wait_usual_min > Decimal(0)
    }


def cure_lines(shop: Shop, found: Sequence[Cure], now: Moment) -> list[CureLine]:
    """What cures, in words."""
    told = []
    for one in found:
        task = shop.tasks.get(one.task)
        over = "" if one.until > now else "may be over: "
        until = until_words(one.until.local, now.day)
        told.append(
            CureLine(
                task_words(one.task),
                one.job,
                f"{over}till {until}",
                HINTS.get(task.meanwhile, "") if task else "",
            )
        )
    return told


def _whole_minutes(seconds: int) -> int:
    """Seconds to the nearest minute, as the step itself tells them; never none."""
    return max(60, 60 * ((seconds + 30) // 60))


def _line(step: BenchStep, time: str = "", more: str = "") -> StepLine:
    planned = minutes_text(_whole_minutes(step.planned_s)) if step.planned_s else ""
    words = task_words(step.task) + (f" ({more})" if more else "")
    said = STANDS[step.stands]
    if step.stands == DONE:
        said = f"done, {minutes_text(step.taken_s)}"
    return StepLine(step_url(step.job, step.task), words, step.job, time, step.stands, said, planned)


def by_job(found: Sequence[BenchStep]) -> list[tuple[str, list[StepLine]]]:
    """The steps job by job, the one that is promised first at the top."""
    heads: dict[str, list[StepLine]] = {}
    for step in found:
        by = f", promised for {day_words(step.promised)}" if step.promised else ""
        what = sentence_case(step.what or step.job)
        heads.setdefault(f"{what}{by}", []).append(_line(step))
    return list(heads.items())


def by_person(
    found: Sequence[BenchStep], plan: tuple[str, KeptPlan, Mapping[str, str]], now: Moment
) -> list[tuple[str, list[StepLine]]]:
    """Who does what today by the plan, with what is left over from the days before; jobs that the plan has not follow."""
    _, kept, names = plan
    known = {(step.job, step.task): step for step in found}
    heads: dict[str, list[StepLine]] = {}
    sittings = Counter(_whose(operation, names) for operation in kept.done)
    many = sittings + Counter(_whose(work.operation, names) for work in kept.work)
    for work in sorted(kept.work, key=lambda one: (one.begins, one.operation)):
        whose = _whose(work.operation, names)
        number = sittings[whose]
        sittings[whose] += 1
        if whose not in known:
            continue
        step = replace(known[whose], stands=_stands(known[whose], number, many[whose]))
        past = work.begins.date() < now.day
        if work.begins.date() > now.day or (past and step.stands == DONE):
            continue
        since = f"since {work.begins:%a} {work.begins.day} {work.begins:%b}"
        time = since if past else f"{work.begins:%H:%M} to {work.ends:%H:%M}"
        _, coat, where = operation_name(work.operation).sitting
        sitting = "@".join(filter(None, (coat, where))).replace("-", " ")
        heads.setdefault(work.who, []).append(_line(step, time, sitting))
    planned = {names.get(job, job) for job in kept.jobs}
    return [*heads.items(), *by_job([step for step in found if step.job not in planned])]


def _whose(operation: str, names: Mapping[str, str]) -> tuple[str, str]:
    """The job, as the ledger names it, and the task of an operation of a plan."""
    job, sitting = operation_name(operation)
    return names.get(job, job), sitting.task


def _stands(step: BenchStep, number: int, many: int) -> str:
    """How one of several sittings of a step stands: each time that was recorded is one of them, the last is the end."""
    if many == 1 or number < step.times:
        return DONE if number < step.times and many > 1 else step.stands
    return step.stands if number == step.times and step.stands != DONE else OPEN


def newest_plan(desk: Desk, books: Ledger) -> tuple[str, KeptPlan, Mapping[str, str]] | None:
    """The plan that was saved last in the folder, its file, and the ledger's names of its jobs; None if there is none."""
    best = None
    for path in desk.folder.root.glob("*.json"):
        stat = path.stat() if path.is_file() else None
        if stat is None or stat.st_size > LARGEST_PLAN or path.resolve().parent != desk.folder.root.resolve():
            continue
        try:
            kept = read_kept(path.read_bytes(), path.name)
        except InputError:
            continue  # another kind of file
        if best is None or (stat.st_mtime_ns, path.name) > best[0]:
            best = ((stat.st_mtime_ns, path.name), path.name, kept)
    if best is None:
        return None
    return best[1], best[2], _names(desk, books, best[2])


def _names(desk: Desk, books: Ledger, kept: KeptPlan) -> Mapping[str, str]:
    for path in desk.folder.batches().values():
        try:
            file = load_batch(path, desk.shop)
        except InputError:
            continue  # its own page says what is wrong with it
        if file.id == kept.batch:
            return ledger_names(books, file)
    return {}


def _late(row: LateParcel) -> Late:
    whose = f"{row.upgrade} for {row.job}" if row.upgrade else row.item or "a parcel"
    overdue = ", overdue" if row.overdue else ""
    words = f"{sentence_case(whose)} from {row.seller}, expected {day_words(row.expected)}{overdue}"
    return Late(
        words,
        (("seller", row.seller), ("item", row.item), ("for", row.job), ("upgrade", row.upgrade)),
    )


def file_of(desk: Desk, job: str) -> str:
    """The name of the job file of a booked job; blank where it is not in the folder."""
    return next((name for name, path in desk.folder.paths().items() if read_line(path)[0] == job), "")


def on_clock(runs: Sequence[OnTheClock], job: str, task: str) -> OnTheClock | None:
    """What runs of a step."""
    return next((one for one in runs if (one.job, one.task) == (job, task)), None)

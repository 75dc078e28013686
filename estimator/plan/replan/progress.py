"""Where the work stands, as a file (TOML): what is done, running, not begun, what has not come.

A file can be written as a template, with every operation of the plan as a remark to copy from.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from msgspec import Struct

from estimator.batch.arrivals import BY_NOON, BoughtKey, bought_as, is_sent
from estimator.core.amounts import Minutes
from estimator.core.days import DayError, day_as_written, day_in_reach
from estimator.core.errors import (
    InputError,
    Issue,
    Origin,
    as_accepted,
    near_miss,
    note,
    refusal,
    shown,
    unknown_word,
)
from estimator.model.column import ONE, Column
from estimator.plan.plan import Plan
from estimator.plan.replan.saved_plan import KeptPlan, kept_at
from estimator.schedule.records import SchedulingProblem
from estimator.tables.kinds_of_file import refuse_other_kind
from estimator.tables.toml.text import TomlFile, parse_toml
from estimator.tables.toml.values import entries_of, read_section, unknown_keys

STATE = (
    Column("plan", "text", "the plan that was saved, seen from this file"),
    Column("now", "text", "the moment it is: year-month-day hour:minute"),
    Column(
        "others",
        "choice",
        "what of the work that is not named here: as-planned (done as far as it was planned till now), or not-begun",
        choices=("as-planned", "not-begun"),
    ),
)
DONE = (
    Column("operation", "text", "an operation of the plan, such as bass:level-frets"),
    Column("ended", "text", "when it ended (left out: as planned)", default=""),
)
RUNNING = (
    Column("operation", "text", "an operation of the plan"),
    Column("minutes_left", "whole", "hands-on minutes still to do", low=ONE, high=Decimal(6000)),
)
NOT_DONE = (Column("operation", "text", "an operation that is not begun, though it was planned till now"),)
LATE = (
    Column("supplier", "text", "a supplier whose parcel has not come", default=""),
    Column("job", "text", "the job of a part that has not come", default=""),
    Column("upgrade", "text", "the upgrade whose part has not come", default=""),
    Column("consumable", "text", "a consumable that has not come", default=""),
    Column("expected", "text", "when it is expected now: year-month-day, or with hour:minute"),
)
SECTIONS = {"done": DONE, "running": RUNNING, "not_done": NOT_DONE, "late": LATE}
MOMENT = ", or with hour:minute: 2026-10-08 11:30"


class RecordedJob(Struct, frozen=True):
    """What the ledger says of a job of the plan, in seconds: of its recorded work what was planned and what it took.

    ``told``: the day promised to the customer, None where there is none.
    """

    job: str
    done: int
    planned_s: int
    taken_s: int
    told: date | None


class StateFile(Struct, frozen=True):
    """Where the work stands, with the place of each entry; ``late`` by purchase: the moment it is expected.

    ``recorded``: by job what the ledger holds, where that is asked instead of a file; what such work needs
    and nobody wrote down is then done too, and told.
    """

    kept: KeptPlan
    now: datetime
    as_planned: bool
    done: Mapping[str, datetime | None]
    running: Mapping[str, Minutes]
    not_done: tuple[str, ...]
    late: Mapping[BoughtKey, datetime]
    places: Mapping[str, Origin]
    recorded: tuple[RecordedJob, ...] = ()


def load_state(path: str | os.PathLike[str]) -> StateFile:
    """Read a state file and the plan it names. InputError carries every complaint."""
    file = Path(path)
    if not file.is_file():
        step = "write one with --state-template, or look at the name"
        raise refusal(str(path), "there is no such state file", "", "a TOML file", step)
    return state_from(parse_toml(file.read_bytes(), str(path)), file.parent)


def state_from(toml: TomlFile, folder: Path) -> StateFile:
    """A state from a parsed TOML file; the plan is looked for from ``folder``."""
    refuse_other_kind(toml, "state")
    issues: list[Issue] = list(unknown_keys(toml, "", toml.values, ("state", *SECTIONS)))
    head = read_section(toml, "state", _plain(toml.values.get("state", {})), STATE, issues)
    entries = {name: _many(toml, name, columns, issues) for name, columns in SECTIONS.items()}
    now = _moment(toml, "state", "now", head.get("now", ""), issues)
    kept = _kept(toml, folder, head["plan"], issues) if "plan" in head else None
    if kept is None or now is None:
        raise InputError(issues)
    earliest = kept.made or datetime.combine(kept.start, time())
    if now < earliest:
        where, found = toml.where("state", "now"), shown(now.isoformat(" ", "minutes"))
        accepted = f"{earliest.isoformat(' ', 'minutes')} or later"
        note(issues, where, "before the plan begins", found, accepted, "look at the date")
    places: dict[str, Origin] = {}
    known = {one.operation for one in kept.work}
    for name in ("done", "running", "not_done"):
        for path, entry in entries[name]:
            _place(toml, path, entry.get("operation", ""), known, kept, places, issues)
    done: dict[str, datetime | None] = {}
    for path, entry in entries["done"]:
        ended = _moment(toml, path, "ended", entry["ended"], issues) if entry.get("ended") else None
        if ended is not None and ended > now:
            note(issues, toml.where(path, "ended"), "in the future", shown(entry["ended"]), "not after now")
        done[entry.get("operation", "")] = ended
    running = {
        e["operation"]: e["minutes_left"]
        for _, e in entries["running"]
        if {"operation", "minutes_left"} <= e.keys()
    }
    late: dict[BoughtKey, datetime] = {}
    for path, entry in entries["late"]:
        expected = _moment(toml, path, "expected", entry.get("expected", ""), issues)
        if expected is not None and len(entry["expected"]) == len("2026-10-15"):
            expected += timedelta(minutes=BY_NOON)
        if expected is not None and expected <= now:
            note(
                issues,
                toml.where(path, "expected"),
                "not in the future",
                shown(entry["expected"]),
                "a day after now",
                "leave out what has come",
            )
        for bought in _bought(toml, path, entry, kept, issues):
            if expected is not None:
                late[bought] = expected
    if any(issue.severity == "error" for issue in issues):
        raise InputError(issues)
    not_done = tuple(e["operation"] for _, e in entries["not_done"])
    return StateFile(kept, now, head["others"] == "as-planned", done, running, not_done, late, places)


def _plain(raw: object) -> object:
    """TOML dates and times as texts, so that they are read like typed ones."""
    if not isinstance(raw, dict):
        return raw
    return {k: v.isoformat() if isinstance(v, datetime | date) else v for k, v in raw.items()}


def _many(
    toml: TomlFile, name: str, columns: Sequence[Column], issues: list[Issue]
) -> list[tuple[str, dict[str, Any]]]:
    raw = entries_of(toml, name, issues)
    paths = [f"{name}.{number}" for number in range(len(raw))]
    return [
        (path, read_section(toml, path, _plain(one), columns, issues))
        for path, one in zip(paths, raw, strict=True)
    ]


def _moment(toml: TomlFile, path: str, key: str, text: str, issues: list[Issue]) -> datetime | None:
    if not text:
        return None  # its absence was complained of
    try:
        when = datetime.fromisoformat(text)
        day_in_reach(when.date())
    except ValueError:
        try:
            when = datetime.combine(day_as_written(text), time())
        except DayError as error:
            note(issues, toml.where(path, key), "not a day and time", shown(text), f"{error}{MOMENT}")
            return None
    return when.replace(second=0, microsecond=0, tzinfo=None)


def _kept(toml: TomlFile, folder: Path, name: str, issues: list[Issue]) -> KeptPlan | None:
    try:
        return kept_at(folder / name, toml.where("state", "plan"))
    except InputError as error:
        issues.extend(error.issues)
    return None


def _place(
    toml: TomlFile,
    path: str,
    name: str,
    known: set[str],
    kept: KeptPlan,
    places: dict[str, Origin],
    issues: list[Issue],
) -> None:
    if not name:
        return
    where = toml.where(path, "operation")
    if name in kept.done:
        note(issues, where, "this was done before the plan was made", shown(name), "", "take the entry out")
    elif name not in known:
        hint = near_miss(name, known) or "the remarks of the template list them all"
        note(issues, where, "the plan has no such operation", shown(name), "job:task of the plan", hint)
    elif name in places:
        note(issues, where, "named twice", shown(name), "each operation once", f"see {places[name]}")
    places[name] = where


def _bought(
    toml: TomlFile, path: str, entry: dict[str, Any], kept: KeptPlan, issues: list[Issue]
) -> list[BoughtKey]:
    """The purchases that an entry of [[late]] means."""
    given = [key for key in ("supplier", "upgrade", "consumable") if entry.get(key)]
    one_seller = given == ["supplier", "consumable"]  # the others may have sent theirs
    if not (len(given) == 1 or one_seller) or bool(entry.get("job")) != (given == ["upgrade"]):
        note(
            issues,
            toml.where(path),
            "what is late cannot be told",
            ", ".join([*given, *(["job"] if entry.get("job") else [])]),
            "one of: supplier; job and upgrade; consumable; supplier and consumable",
            "name one of them",
        )
        return []
    key = given[0]
    sent = [p for p in (*kept.purchases, *kept.spares) if is_sent(p)]
    known = {
        "supplier": [p.seller for p in sent],
        "upgrade": [p.upgrade for p in sent if p.kind == "part"],
        "consumable": [p.what for p in sent if p.kind == "pack"],
    }
    entry = {**entry, **{one: as_accepted(entry[one], {*known[one]}) for one in given}}
    found = bought_of(
        kept,
        entry.get("supplier", ""),
        entry.get("consumable", ""),
        (entry.get("job", ""), entry.get("upgrade", "")),
    )
    if not found:
        names = known[key]
        listed = ", ".join(dict.fromkeys(filter(None, names))) or "nothing was ordered"
        issues.append(
            unknown_word(toml.where(path, key), "nothing of this was ordered", entry[key], names, listed)
        )
    return found


def bought_of(kept: KeptPlan, seller: str, consumable: str, part: tuple[str, str]) -> list[BoughtKey]:
    """What a plan bought of a seller, of a consumable, or for the upgrade of a job (``part``); blank is any."""
    return [
        bought_as(one)
        for one in (*kept.purchases, *kept.spares)
        if is_sent(one)
        and seller in ("", one.seller)
        and (not consumable or (one.kind == "pack" and one.what == consumable))
        and (not part[1] or (one.kind == "part" and (one.job, one.upgrade) == part))
    ]


def template(plan: Plan, plan_name: str) -> str:
    """A state file to fill in, with every operation of the plan as a remark."""
    calendar = plan.calendar
    first = plan.now or calendar.moment(calendar.opens[0])
    form = Path(__file__).with_name("state_template.toml").read_text(encoding="utf-8")
    lines = [form.format(plan=plan_name, now=f"{first:%Y-%m-%d %H:%M}").rstrip("\n")]
    for assignment in plan.schedule.assignments:
        begins = calendar.moment(calendar.elapsed_at_start(assignment.start))
        ends = calendar.moment(calendar.elapsed_at_end(assignment.end))
        lines.append(f"#   {begins:%a %Y-%m-%d %H:%M} to {ends:%a %H:%M}  {assignment.operation}")
    lines.append("# What was ordered:")
    for purchase in (one for one in (*plan.answer.purchases, *plan.answer.spares) if is_sent(one)):
        what = (
            f'job = "{purchase.job}", upgrade = "{purchase.upgrade}"'
            if purchase.kind == "part"
            else (f'{purchase.kind} "{purchase.what}"')
        )
        lines.append(f'#   supplier = "{purchase.seller}": {what}')
    return "\n".join(lines) + "\n"


def before_is_done(state: StateFile, work: SchedulingProblem, done: Mapping[str, datetime]) -> list[Issue]:
    """Complaints about work that is begun or done while what it needs is not."""
    known = work.by_id()
    return [
        Issue(
            state.places[name],
            f"“{name}” is begun before “{link.before}” is done",
            next_step=f"name “{link.before}” under [[done]] too, or take “{name}” out",
        )
        for name in (*state.done, *state.running)
        if name in known
        for link in known[name].after
        if link.before not in done
    ]

"""A batch file (TOML): which jobs are planned together, by whom, from when, within what limits."""

from __future__ import annotations

import os
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import ROUND_CEILING, Decimal
from pathlib import Path
from types import MappingProxyType
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.core.days import far_off
from estimator.core.errors import InputError, Issue, Origin, near_miss, note, shown, unknown_word, warning
from estimator.input.batch.stock import kept_from_stock, things_called, told_differently
from estimator.input.batch.transfers import MOVED, Move, read_moves
from estimator.input.job.load import NO_FILE, file_bytes, is_idle, load_job, stock_not_counted
from estimator.model import PACES, Job, Shop
from estimator.model.column import ONE, Column
from estimator.model.planning import Person
from estimator.tables.cells import CellError, check_range
from estimator.tables.kinds_of_file import refuse_other_kind
from estimator.tables.toml.text import TomlFile, parse_toml
from estimator.tables.toml.values import cell_issue, entries_of, number_of, read_section, unknown_keys

BATCH = (
    Column("id", "id", "name of the batch"),
    Column("what", "text", "what it is", default=""),
    Column("start", "date", "first day of the plan"),
    Column("pace", "choice", "which waits are kept", default="usual", choices=PACES),
    Column("cash", "money", "all that may be laid out for the whole batch", default=None),
    Column("hours", "hours", "hands-on time for the whole batch, on average", default=None),
    Column(
        "leftovers", "choice", "what becomes of the rest of a pack", default="kept", choices=("kept", "lost")
    ),
    Column("days_off", "days", "days on which nobody works, as year-month-day", default=()),
    Column(
        "spares",
        "yes-no",
        "whether spares of what may be spoiled are ordered, within the cash",
        default=False,
    ),
    Column("tools_missing", "list", "tools the shop would have to buy (ids of tools.csv)", default=()),
)
JOB = (
    Column("id", "id", "name of the job in this batch (left out: that of its file, numbered)", default=""),
    Column("file", "text", "its job file, seen from the batch file"),
    Column("due", "date", "day it is promised for (left out: wanted_by of the job file)", default=""),
    Column("weight", "whole", "how much a late minute of it weighs", default=1, low=ONE, high=Decimal(1000)),
    Column("upgrades", "list", "the upgrades, if they are decided already", default=()),
    Column(
        "optional",
        "yes-no",
        "whether the instrument is bought only if it pays (kind resale, at the price ask)",
        default=False,
    ),
)
PERSON = (
    Column("id", "id", "name of the person"),
    Column("skill", "whole", "skill, 1 to 5", default=4, low=ONE, high=Decimal(5)),
    Column("days_off", "days", "days on which this person is away, as year-month-day", default=()),
)
STOCK = (
    Column("consumable", "id", "a consumable of consumables.csv that is in the shop", default=""),
    Column("part", "id", "or a part that is in the shop: of parts.csv, or a [[part]] of a job", default=""),
    Column("quantity", "number", "units of it, or whole pieces", low=Decimal(0)),
    Column("bought", "date", "when it was bought, if it goes off", default=""),
)
SECTIONS = ("batch", "job", "person", "stock", "stations", "moved_part")
DAYS_A_MONTH = Decimal("30.44")


class BatchJob(Struct, frozen=True):
    """One job of a batch; ``upgrades`` None: they are chosen; ``optional``: it may be left out."""

    id: str
    job: Job
    due: date | None
    weight: int
    upgrades: tuple[str, ...] | None
    optional: bool = False
    origin: Origin = Origin("", None, "[[job]] upgrades")


class BatchFile(Struct, frozen=True):
    """What a batch file says. ``cash`` in cents, ``minutes`` in hundredths; ``stock`` by the name
    under which it lies on the shelf, without what has gone off.

    ``file``: as it was named. ``crew``: the skills of the people named; none: one pair of hands with the job's or the shop's own skill.
    """

    id: str
    what: str
    start: date
    pace: str
    people: tuple[Person, ...]
    jobs: tuple[BatchJob, ...]
    days_off: frozenset[date]
    cash: Cents | None
    minutes: Hundredths | None
    lost: bool
    tools_missing: tuple[str, ...]
    stock: Mapping[str, Decimal]
    stations: Mapping[str, int]
    issues: tuple[Issue, ...] = ()
    moves: tuple[Move, ...] = ()
    spares: bool = False
    crew: tuple[int, ...] = ()
    file: str = ""


def load_batch(path: str | os.PathLike[str], shop: Shop) -> BatchFile:
    """Read a batch file and the job files it names. InputError carries every complaint."""
    file = Path(path)
    return batch_from(parse_toml(file_bytes(file, str(path), "batch"), str(path)), shop, file.parent)


def batch_from(toml: TomlFile, shop: Shop, folder: Path) -> BatchFile:
    """A batch from a parsed TOML file; job files are looked for from ``folder``."""
    refuse_other_kind(toml, "batch")
    issues: list[Issue] = list(unknown_keys(toml, "", toml.values, SECTIONS))
    values = read_section(toml, "batch", toml.values.get("batch", {}), BATCH, issues, shop.terms.currency)
    start = date.fromisoformat(values["start"]) if values.get("start") else date(2000, 1, 3)
    people = tuple(
        Person(p["id"], p["skill"], _dates(p["days_off"]))
        for p in _many(toml, "person", PERSON, issues)
        if {"id", "skill", "days_off"} <= p.keys()
    )
    jobs = _jobs(toml, shop, folder, issues)
    if not jobs and not issues:
        note(issues, toml.where("job"), "no job in the batch", "", "one [[job]] section per instrument")
    _no_twins(toml, "job", [job.id for job in jobs], issues)
    _no_twins(toml, "person", [person.id for person in people], issues)
    issues += _unknown_tools(toml, values.get("tools_missing", ()), shop)
    instruments = {entry.id: entry.job for entry in jobs}
    stock = _stock(toml, shop, start, instruments, issues)
    issues += told_differently(shop, instruments, stock, toml.where("stock"))
    issues += kept_from_stock(shop, instruments, stock, toml.where("stock"))
    stations = _stations(toml, shop, issues)
    entries = _many(toml, "moved_part", MOVED, issues)
    moves = read_moves(toml, entries, [job.id for job in jobs], issues)
    if values.get("start"):
        issues += _far_from(start, toml, jobs)
    errors = [issue for issue in issues if issue.severity == "error"]
    if errors:
        raise InputError(errors)
    cash, minutes = values["cash"], values["hours"]
    return BatchFile(
        id=values["id"],
        what=values["what"],
        start=start,
        pace=values["pace"],
        people=people or (Person("bench", shop.terms.skill),),
        jobs=tuple(jobs),
        days_off=_dates(values["days_off"]),
        cash=None if cash is None else Cents(int((cash * 100).to_integral_value())),
        minutes=None if minutes is None else Hundredths(int((minutes * 100).to_integral_value())),
        lost=values["leftovers"] == "lost",
        tools_missing=values["tools_missing"],
        stock=MappingProxyType(stock),
        stations=MappingProxyType(stations),
        issues=tuple(issues),
        moves=moves,
        spares=values["spares"],
        crew=tuple(person.skill for person in people),
        file=toml.file,
    )


def _unknown_tools(toml: TomlFile, missing: Sequence[str], shop: Shop) -> list[Issue]:
    where, accepted = toml.where("batch", "tools_missing"), "an id of tools.csv"
    return [
        unknown_word(where, "unknown tool", tool, shop.tools, accepted)
        for tool in missing
        if tool not in shop.tools
    ]


def _many(
    toml: TomlFile, name: str, columns: tuple[Column, ...], issues: list[Issue]
) -> list[dict[str, Any]]:
    return [
        read_section(toml, f"{name}.{n}", entry, columns, issues)
        for n, entry in enumerate(entries_of(toml, name, issues))
    ]


def _jobs(toml: TomlFile, shop: Shop, folder: Path, issues: list[Issue]) -> list[BatchJob]:
    jobs: list[BatchJob] = []
    entries = _many(toml, "job", JOB, issues)
    named = {entry.get("id", "") for entry in entries}
    for number, entry in enumerate(entries):
        if "id" not in entry or "file" not in entry:
            continue
        path = folder / entry["file"]
        try:
            job = load_job(path, shop)
        except InputError as error:
            where = toml.where(f"job.{number}", "file")
            issues.extend(_in_its_batch(issue, path, where, entry["file"]) for issue in error.issues)
            continue
        job = replace(job, id=entry["id"] or _numbered(job.id, named | {other.id for other in jobs}))
        decided = f"job.{number}" in {
            key.rpartition(".")[0] for key in toml.lines if key.endswith(".upgrades")
        }
        due = entry.get("due") or job.wanted_by
        jobs.append(
            BatchJob(
                job.id,
                job,
                date.fromisoformat(due) if due else None,
                entry.get("weight", 1),
                entry["upgrades"] if decided or entry.get("upgrades") else None,
                entry.get("optional", False),
                toml.where(f"job.{number}", "upgrades"),
            )
        )
        if jobs[-1].optional and (job.kind != "resale" or not shop.resale.tiers or not job.asking_price):
            note(
                issues,
                toml.where(f"job.{number}", "optional"),
                "only an instrument that is bought to be sold can be left out",
                f"kind {job.kind}, ask {job.asking_price:f}",
                'a job of kind = "resale" with what is asked for the instrument (ask)',
                "take “optional” out, or fill in ask in the job file",
            )
    return jobs


SEEN_FROM_HERE = "name the file of a job as seen from the batch file (estimator new writes one)"


def _in_its_batch(issue: Issue, path: Path, where: Origin, named: str) -> Issue:
    """The complaint about a job file; of one that cannot be opened, where the batch names it (``where``)."""
    if issue.where.row is not None or os.path.isfile(path):  # of a name that no disk could hold it is false
        return issue
    step = SEEN_FROM_HERE if issue.next_step == NO_FILE else issue.next_step
    return replace(issue, where=where, found=issue.found or shown(named), next_step=step)


def _numbered(name: str, taken: Container[str]) -> str:
    """The name, or with the first number from 2 on that no other has."""
    names = (name, *(f"{name}-{number}" for number in range(2, 10_000)))
    return next(one for one in names if one not in taken)


def _no_twins(toml: TomlFile, what: str, names: list[str], issues: list[Issue]) -> None:
    twins = sorted({name for name in names if names.count(name) > 1})
    issues.extend(
        Issue(
            toml.where(what),
            f"two sections [[{what}]] have one id",
            shown(name),
            "each id once",
            "rename one",
        )
        for name in twins
    )


def _far_from(start: date, toml: TomlFile, jobs: Iterable[BatchJob]) -> Iterator[Issue]:
    """A warning for every day of the batch that lies years off its first."""
    days = [(toml.where(f"job.{number}", "due"), job.due) for number, job in enumerate(jobs) if job.due]
    sections: list[tuple[str, object, Sequence[Column]]] = [("batch", toml.values.get("batch", {}), BATCH)]
    for name, of in (("person", PERSON), ("stock", STOCK)):
        sections += [(f"{name}.{n}", one, of) for n, one in enumerate(entries_of(toml, name, []))]
    for path, raw, columns in sections:
        read = read_section(toml, path, raw, columns, [], "")
        for column in columns:
            if column.kind in ("date", "days") and (said := read.get(column.name)):
                told = [said] if isinstance(said, str) else said
                days += [(toml.where(path, column.name), date.fromisoformat(day)) for day in told]
    for where, day in days:
        if far := far_off(day, start, "the first day of the plan"):
            yield warning(where, far, day.isoformat(), next_step="look at the year")


def _dates(days: Iterable[str]) -> frozenset[date]:
    return frozenset(map(date.fromisoformat, days))


def _stock(
    toml: TomlFile, shop: Shop, start: date, jobs: Mapping[str, Job], issues: list[Issue]
) -> dict[str, Decimal]:
    stock: dict[str, Decimal] = {}
    for number, entry in enumerate(_many(toml, "stock", STOCK, issues)):
        name, part, quantity = entry.get("consumable"), entry.get("part"), entry.get("quantity")
        if name is None or part is None or quantity is None:
            continue
        if bool(name) == bool(part):
            given = f"consumable = {shown(name)}, part = {shown(part)}" if name else "neither"
            note(
                issues,
                toml.where(f"stock.{number}"),
                "what is in stock cannot be told",
                given,
                "consumable = ... or part = ..., one of them",
                "name one thing in each [[stock]]",
            )
            continue
        if part:
            if any(it.severity == "error" for it in issues) and not things_called(shop, jobs, part):
                continue  # it may be a part of a job file that could not be read
            issue = _part_issue(toml, number, shop, jobs, part, quantity, entry.get("bought", ""))
            if issue is None:
                stock[part] = stock.get(part, Decimal(0)) + quantity
            else:
                issues.append(issue)
            continue
        where = toml.where(f"stock.{number}", "consumable")
        if name not in shop.consumables:
            hint = near_miss(name, shop.consumables)
            note(issues, where, "unknown consumable", shown(name), "an id of consumables.csv", hint)
            continue
        if is_idle(shop.consumables[name]):
            issues.append(stock_not_counted(where, shop.consumables[name]))
        months = shop.consumables[name].shelf_months
        if entry.get("bought") and months is not None:
            age = (start - date.fromisoformat(entry["bought"])).days
            if age > (months * DAYS_A_MONTH).to_integral_value(ROUND_CEILING):
                words = f"bought {entry['bought']}, keeps {months} months"
                note(issues, where, f"{name} has gone off and is left out", words, severity="warning")
                continue
        stock[name] = stock.get(name, Decimal(0)) + quantity
    return stock


def _part_issue(
    toml: TomlFile,
    number: int,
    shop: Shop,
    jobs: Mapping[str, Job],
    part: str,
    quantity: Decimal,
    bought: str,
) -> Issue | None:
    """What is wrong with a part in stock, if anything."""
    things = things_called(shop, jobs, part)
    if not things:
        known = (*shop.parts, *(name for job in jobs.values() for name in job.parts))
        accepted = "an id of parts.csv, or of a [[part]] of one of the jobs"
        return unknown_word(toml.where(f"stock.{number}", "part"), "unknown part", part, known, accepted)
    if len(things) > 1:
        owners = [name for name, job in jobs.items() if part in job.parts]
        return Issue(
            toml.where(f"stock.{number}", "part"),
            "several things have this id",
            f"{shown(part)}: {', '.join(owners)} each mean their own [[part]]",
            "an id that means one thing",
            "give the [[part]] of the job files ids of their own, or tell the stock in the job file",
        )
    if quantity != int(quantity):
        return Issue(
            toml.where(f"stock.{number}", "quantity"),
            "a part is there or it is not",
            f"{quantity:f}",
            "a whole number of pieces",
            "write how many whole pieces are there",
        )
    if bought:
        return Issue(
            toml.where(f"stock.{number}", "bought"),
            "a part does not go off",
            shown(bought),
            "bought for a consumable only",
            "leave bought out",
        )
    return None


def _stations(toml: TomlFile, shop: Shop, issues: list[Issue]) -> dict[str, int]:
    raw = toml.values.get("stations", {})
    issues.extend(unknown_keys(toml, "stations", raw, shop.planning.stations))
    numbers: dict[str, int] = {}
    for name, value in raw.items():
        try:
            number = number_of(value)
            check_range(number, ONE, Decimal(1000))
            numbers[name] = int(number)
        except CellError as error:
            issues.append(cell_issue(error, toml.where("stations", name), value))
    return numbers

"""A job file (TOML) to a Job: every omitted key has a stated default, every complaint is collected."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from difflib import get_close_matches
from pathlib import Path
from types import MappingProxyType
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.days import far_off
from estimator.core.errors import InputError, Issue, Origin, as_accepted, cut, near_miss, note, refusal, shown
from estimator.core.given import whole
from estimator.core.text import BASS, GUITAR, day_of, family_of
from estimator.input.job.instrument import read_instrument
from estimator.input.job.keys import (
    INSTRUMENT,
    JOB,
    METHODS,
    RESALE,
    SECTIONS,
    STOCK,
    TERMS,
    UPGRADES,
    WISH,
    Section,
)
from estimator.input.job.outlines import read_outlines
from estimator.input.job.parts import read_parts
from estimator.input.job.plausible import doubts, parts_of_wholes
from estimator.input.job.wish import read_budget, read_wish
from estimator.model import Consumable, Job, JobTerms, Labels, Part, Reading, SaleTerms, Shop, calling
from estimator.model.column import said_in
from estimator.tables.cells import CellError, check_range
from estimator.tables.conditions import holds
from estimator.tables.csv_rows import shorten
from estimator.tables.fretless import fretless_issue, says_fretless
from estimator.tables.kept_words import keeps_meant, kept_unknown
from estimator.tables.kinds_of_file import refuse_other_kind
from estimator.tables.toml.text import TomlFile, parse_toml
from estimator.tables.toml.values import cell_issue, number_of, read_section, unknown_keys


def load_job(path: str | os.PathLike[str], shop: Shop) -> Job:
    """Read a job file against a shop. InputError carries every complaint; warnings are in ``Job.issues``."""
    name = str(path)
    return job_from(parse_toml(file_bytes(Path(path), name), name), shop)


NEAR = 0.8
"""Keys so much alike are one, a letter wrong."""
LONGEST_NAME = 200
"""Letters of the name of a file that a message repeats."""
NO_FILE = (
    "name a job file (estimator new writes one) or an example (example:school-guitar); what usual jobs cost by "
    "themselves: estimator menu"
)


def file_bytes(path: Path, name: str, what: str = "job") -> bytes:
    """The bytes of a job file (or of another kind, ``what``); InputError if there is none that can be read."""
    where = Origin(cut(name, LONGEST_NAME))
    try:
        is_folder, is_there = path.is_dir(), path.exists()
    except (OSError, ValueError) as error:  # a name that no disk could hold
        reason = getattr(error, "strerror", None) or str(error)
        raise refusal(where, "the file cannot be read", reason.lower(), "a TOML file", NO_FILE) from None
    if is_folder:
        inside = sorted(entry.name for entry in path.glob("*.toml"))
        step = f"name one of the files in it: {', '.join(inside[:8])}" if inside else "name a file"
        raise refusal(where, f"a folder where a {what} file belongs", "", "a TOML file", step)
    if not is_there:
        beside = [entry.name for entry in path.parent.glob("*.toml")] if path.parent.is_dir() else []
        steps = "look at the name" if path.suffix or what != "job" else NO_FILE
        hint = near_miss(path.name, beside) or near_miss(f"{path.name}.toml", beside)
        raise refusal(where, f"there is no such {what} file", "", "a TOML file", hint or steps)
    try:
        return whole(path)
    except OSError as error:
        raise refusal(where, "the file cannot be read", error.strerror or "") from None


def job_from(toml: TomlFile, shop: Shop) -> Job:
    """A Job from a parsed TOML file."""
    refuse_other_kind(toml, "job")
    issues: list[Issue] = []
    issues.extend(unknown_keys(toml, "", toml.values, [section.name for section in SECTIONS]))
    values = read_section(toml, JOB.name, toml.values.get(JOB.name, {}), JOB.columns, issues)
    received, wanted_by = values.get("received", ""), values.get("wanted_by", "")
    if received and wanted_by and wanted_by < received:
        found = f"received {received}, wanted by {wanted_by}"
        note(issues, toml.where(JOB.name, "wanted_by"), "wanted back before it came in", found, "a later day")
    came, wanted = day_of(received), day_of(wanted_by)
    if came and wanted and (far := far_off(wanted, came, "the day it came in")):
        note(issues, toml.where(JOB.name, "wanted_by"), far, wanted_by, "", "look at the year", "warning")
    instrument, found_levels = read_instrument(toml, shop, issues)
    family = family_of(instrument["kind"].value) if "kind" in instrument else GUITAR
    if says_fretless(values.get("what", "")):
        issues.append(fretless_issue(toml.where(JOB.name, "what"), shown(values["what"]), "warning"))
    issues.extend(_said_wrong(toml, shop, values.get("said_wrong", ()), instrument))
    requirements, profile, weights = read_wish(toml, shop, family == BASS, issues)
    parts = read_parts(toml, shop, issues, instrument)
    if not any(issue.severity == "error" for issue in issues):
        issues.extend(_never_fitted(shop, parts, instrument, family))
        issues.extend(parts_of_wholes(shop, instrument))
        issues.extend(doubts(toml, shop, instrument, parts, family))
    upgrades: dict[str, Any] = _read_upgrades(toml, shop, parts, issues)
    methods, without_tools = _read_methods(toml, shop, issues)
    job = Job(
        **said_in(Job, JOB.name, values),
        instrument=instrument,
        found_levels=found_levels,
        requirements=requirements,
        profile=profile,
        weights=weights,
        budget=read_budget(toml, values.get("kind", ""), shop, issues),
        parts=parts,
        **upgrades,
        methods=methods,
        without_tools=without_tools,
        stock=_read_stock(toml, shop, parts, issues),
        terms=JobTerms(**_said(toml, JobTerms, TERMS, shop, issues)),
        sale=_read_resale(toml, shop, issues),
        outlines=read_outlines(toml, issues),
        file=toml.file,
        labels=Labels(**said_in(Labels, JOB.name, values)),
        issues=tuple(shorten([issue for issue in issues if issue.severity != "error"])),
    )
    if errors := [_sent_home(issue, shop) for issue in issues if issue.severity == "error"]:
        raise InputError(shorten(sorted(errors, key=lambda issue: issue.where.row or 0)))
    return job


def _sent_home(issue: Issue, shop: Shop) -> Issue:
    """The complaint of a key in a section that has none such, with the section in which it belongs."""
    section, _, key = issue.where.column.rpartition(" ")
    if issue.problem != "unknown key" or not section:
        return issue
    if not (homes := _homes(key, shop)) and not issue.next_step:
        # a slip of the pen and the wrong section at once: keep of [wish] is keeps of [upgrades]
        known = {name for it in SECTIONS for name in _keys(it)} | shop.intake.keys() | shop.attributes.keys()
        near = get_close_matches(key, sorted(known), n=1, cutoff=NEAR)
        key = near[0] if near else key
        homes = _homes(key, shop)
    if not homes:
        return issue
    return replace(issue, next_step=f"write {key} under {' or '.join(homes)}")


def _homes(key: str, shop: Shop) -> list[str]:
    """The sections in which a key belongs, as they are written; none where it is no key at all."""
    homes = [f"[[{it.name}]]" if it.repeated else f"[{it.name}]" for it in SECTIONS if key in _keys(it)]
    homes += [f"[{INSTRUMENT.name}]"] if key in shop.intake else []
    if key in shop.attributes:
        homes += [
            f"[{WISH.name}], as require = {{ {key} = 2 }}",
            f"[{INSTRUMENT.name}], as levels = {{ {key} = 2 }}",
        ]
    return homes


def _keys(section: Section) -> set[str]:
    return {column.name for column in section.columns}


def _said_wrong(
    toml: TomlFile, shop: Shop, names: Iterable[str], instrument: Mapping[str, Reading]
) -> Iterator[Issue]:
    """What somebody told of and nobody measured: nothing is reckoned for it yet, so it is said each time."""
    where = toml.where(JOB.name, "said_wrong")
    faults = {fault.fault: fault for fault in reversed(shop.faults)}
    unseen: dict[str, list[str]] = {}
    for name in names:
        fault = faults.get(name)
        if fault is None:
            step = near_miss(name, faults) or "take a fault of the table"
            yield Issue(where, "no fault of this name", shown(name), "a fault of faults.csv", step)
            continue
        reading = instrument.get(fault.field)
        if reading is None or reading.assumed:
            unseen.setdefault(fault.field, []).append(fault.what)
    if unseen:
        told = "; ".join(f"{' or '.join(words)} ({field})" for field, words in unseen.items())
        problem = f"said to be wrong, not looked at yet, and in no price or choice: {told}"
        step = f"look or measure, and write {', '.join(unseen)} under [instrument]"
        yield Issue(where, problem, "", "", step, "warning")


def _never_fitted(
    shop: Shop, parts: Mapping[str, Part], instrument: Mapping[str, Reading], family: str
) -> Iterator[Issue]:
    """Parts of the job that no upgrade could fit to this instrument: they would be passed over in silence."""
    for part in parts.values():
        what = shop.part_classes[part.part_class].what
        rows = [row for row in shop.upgrades.values() if row.part_class == part.part_class]
        suited = [row for row in rows if row.instruments in ("any", family)]
        if any(holds(row.when, instrument) for row in suited):
            continue
        if not rows:
            problem = f"no upgrade fits a {what} by itself"
            accepted = "a class that an upgrade of upgrades.csv fits"
            step = "take it out; what work uses up (strings, bushings) is named under [stock]"
        elif not suited:
            problem = f"no upgrade fits a {what} to a {family}"
            accepted = f"a class of part for a {family}"
            step = "take it out, or mend the kind of the instrument"
        else:
            wants = " or ".join(sorted({row.when for row in suited}))
            problem = f"a {what} cannot be fitted to this instrument, which would have to be: {wants}"
            accepted = "an instrument that it can be fitted to"
            step = "mend what is said of the instrument, or take the part out"
        yield Issue(part.origin, problem, f"{part.id}, {part.part_class}", accepted, step)


def upgrade_names(shop: Shop, parts: Mapping[str, Part]) -> tuple[str, ...]:
    """Every word that names an upgrade: its id, and its id with the variant of a part it may take.

    The parts of the job stand beside the shop's.
    """
    names = list(shop.upgrades)
    for row in shop.upgrades.values():
        if row.part_class:
            theirs = shop.parts_by_class.get(row.part_class, ())
            kin = [part.variant for part in theirs]
            kin += [word for word, _ in calling(theirs, parts, row.part_class)]
            names.extend(f"{row.id}-{word}" for word in kin)
    return tuple(dict.fromkeys(names))


def _read_upgrades(
    toml: TomlFile, shop: Shop, parts: Mapping[str, Part], issues: list[Issue]
) -> dict[str, tuple[str, ...]]:
    raw = toml.values.get(UPGRADES.name, {})
    values = read_section(toml, UPGRADES.name, raw, UPGRADES.columns, issues)
    upgrade = ("unknown upgrade", upgrade_names(shop, parts), "ids of upgrades.csv, alone or with -variant")
    changes, keeps = shop.lasting.changes, shop.lasting.keeps
    accepted = {
        "may_change": ("no such change", tuple(changes), f"ids of changes.csv: {', '.join(changes)}"),
        "keeps": ("unknown word", tuple(keeps), f"ids of customer_keeps.csv: {', '.join(keeps)}"),
    }
    lists = {
        name: tuple(as_accepted(word, accepted.get(name, upgrade)[1]) for word in words)
        for name, words in said_in(Job, UPGRADES.name, values).items()
    }
    for key, names in lists.items():
        problem, known, what = accepted.get(key, upgrade)
        issues.extend(
            Issue(toml.where(UPGRADES.name, key), problem, shown(name), what, near_miss(name, known))
            for name in names
            if name not in known
        )
    issues.extend(_kept_and_changed(toml, shop, lists))
    issues.extend(_said_to_be_kept(toml, shop, lists))
    if isinstance(raw, dict) and raw.get("open") == []:
        step = "leave the line out to open all, or name some"
        note(
            issues,
            toml.where(UPGRADES.name, "open"),
            "no upgrade is open",
            "an empty list",
            "upgrade ids",
            step,
        )
    for name in lists["required"]:
        for refused in lists["refused"]:
            if name == refused or _is_variant(name, refused, shop):
                found = shown(name) if name == refused else f"“{name}” required, “{refused}” refused"
                note(
                    issues,
                    toml.where(UPGRADES.name, "required"),
                    "required and refused at once",
                    found,
                    "one or the other",
                    "take it out of one of the two lists",
                )
    return lists


def _kept_and_changed(toml: TomlFile, shop: Shop, lists: Mapping[str, tuple[str, ...]]) -> Iterator[Issue]:
    """What may change and is to be kept at once."""
    for word in lists["keeps"]:
        kept = shop.lasting.keeps.get(word)
        for change in lists["may_change"]:
            if kept is not None and change in kept.changes:
                yield Issue(
                    toml.where(UPGRADES.name, "may_change"),
                    "what is to be kept may not change",
                    f"may_change “{change}”, keeps “{word}” ({kept.what})",
                    "one or the other",
                    "take it out of one of the two lists",
                )


def _said_to_be_kept(toml: TomlFile, shop: Shop, lists: Mapping[str, tuple[str, ...]]) -> Iterator[Issue]:
    """What the words of the job want kept though nothing of the job keeps it."""
    job = toml.values.get(JOB.name, {})
    what = job.get("what", "") if isinstance(job, dict) else ""
    meant = keeps_meant(shop.lasting.keeps, what) if isinstance(what, str) else ()
    unsaid = [word for word in meant if word not in lists["keeps"]]
    if strange := kept_unknown(shop.lasting.keeps, what) if isinstance(what, str) else ():
        yield Issue(
            toml.where(JOB.name, "what"),
            f"what is said to be kept is none of the words of the tables, and nothing holds to it: {', '.join(strange)}",
            shown(what),
            f"keeps of [{UPGRADES.name}]: {', '.join(shop.lasting.keeps)}",
            f"name the work that would change it under refused of [{UPGRADES.name}], or add a row to customer_keeps.csv",
            "warning",
        )
    if unsaid:
        written = ", ".join(f'"{word}"' for word in (*lists["keeps"], *unsaid))
        yield Issue(
            toml.where(JOB.name, "what"),
            f"what is said to be kept is not held to: {', '.join(shop.lasting.keeps[w].what for w in unsaid)}",
            shown(what),
            "the words under keeps of [upgrades] as well",
            f"write keeps = [{written}] under [{UPGRADES.name}], or say it in other words if that is not meant",
            "warning",
        )


def _is_variant(name: str, row: str, shop: Shop) -> bool:
    return row in shop.upgrades and name not in shop.upgrades and shop.upgrades[row].may_mean(name)


def _read_stock(
    toml: TomlFile, shop: Shop, parts: Mapping[str, Part], issues: list[Issue]
) -> Mapping[str, Decimal]:
    raw = toml.values.get(STOCK.name, {})
    if not isinstance(raw, dict):
        read_section(toml, STOCK.name, raw, (), issues)
        return MappingProxyType({})
    known = (*shop.consumables, *shop.parts, *parts)
    stock: dict[str, Decimal] = {}
    for name, value in raw.items():
        where = toml.where(STOCK.name, name)
        if name not in known:
            accepted = "ids of parts.csv, of the [[part]] sections, or of consumables.csv"
            note(issues, where, "nothing has this name", shown(name), accepted, near_miss(name, known))
            continue
        try:
            stock[name] = number_of(value)
            check_range(stock[name], Decimal(0), None)
        except CellError as error:
            issues.append(cell_issue(error, where, value))
        if name in shop.consumables and is_idle(shop.consumables[name]):
            issues.append(stock_not_counted(where, shop.consumables[name]))
    return MappingProxyType(stock)


def _read_methods(
    toml: TomlFile, shop: Shop, issues: list[Issue]
) -> tuple[Mapping[str, str], tuple[str, ...]]:
    """The ways that are fixed, and the tools that are missing."""
    raw = toml.values.get(METHODS.name, {})
    if not isinstance(raw, dict):
        read_section(toml, METHODS.name, raw, METHODS.columns, issues)
        return MappingProxyType({}), ()
    (column,) = METHODS.columns
    plain = {name: value for name, value in raw.items() if name == column.name}
    missing = tuple(read_section(toml, METHODS.name, plain, METHODS.columns, issues).get(column.name, ()))
    for tool in missing:
        if tool not in shop.tools:
            where = toml.where(METHODS.name, column.name)
            hint = near_miss(tool, shop.tools)
            note(issues, where, "unknown tool", shown(tool), "ids of tools.csv", hint)
    fixed: dict[str, str] = {}
    for task, value in raw.items():
        where = toml.where(METHODS.name, task)
        if task == column.name:
            continue
        if task not in shop.ways.methods:
            problem = "this task has only one way" if task in shop.tasks else "unknown task"
            known = shop.ways.methods
            note(issues, where, problem, shown(task), ", ".join(known), near_miss(task, known))
        elif not isinstance(value, str) or value not in shop.ways.methods[task]:
            accepted = shop.ways.methods[task]
            hint = near_miss(str(value), accepted)
            note(issues, where, "no such way", shown(str(value)), ", ".join(accepted), hint)
        else:
            fixed[task] = value
    return MappingProxyType(fixed), missing


def is_idle(item: Consumable) -> bool:
    """Whether a stock of it takes nothing off the cash: no job pays for it at the till."""
    return not item.by_the_pack and not item.by_the_piece


def stock_not_counted(where: Origin, item: Consumable) -> Issue:
    """The warning for a stock of what is kept on the shelf: it takes nothing off the cash."""
    return Issue(
        where,
        f"a stock of {item.id} is not counted: what is kept on the shelf is bought for the shop, not for a job",
        "",
        "consumables bought for a job, by the pack or the piece, and parts",
        "leave the line out, and take off the till by hand what is not bought",
        severity="warning",
    )


def _said(
    toml: TomlFile, record: type[Struct], section: Section, shop: Shop, issues: list[Issue]
) -> dict[str, Any]:
    """The fields of a record that is read from a section of its own."""
    raw = toml.values.get(section.name, {})
    values = read_section(toml, section.name, raw, section.columns, issues, shop.terms.currency)
    return said_in(record, section.name, values)


def _read_resale(toml: TomlFile, shop: Shop, issues: list[Issue]) -> SaleTerms:
    """The resale section; its words are held against the tables they come from."""
    said = _said(toml, SaleTerms, RESALE, shop, issues)
    tables = shop.resale
    known = {"condition": tables.ladder, "seen": tables.odds, "way": tables.ways, "box": tables.boxes}
    for name, accepted in known.items():
        word = said[name] = said[name] and as_accepted(said[name], accepted)
        if word and word not in accepted:
            where = toml.where(RESALE.name, name)
            hint = near_miss(word, accepted)
            note(issues, where, "an unknown word", shown(word), ", ".join(accepted), hint)
    return SaleTerms(**said)

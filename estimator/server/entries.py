"""What is set on the page, as it was typed, and the job that it makes of a job file.

The address of the page holds all entries; whatever is not in it is as the file says. The job is read by the same
reader as a file: an entry that cannot be is complained of in the same words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any
from urllib.parse import urlencode

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.errors import InputError, Issue, Origin, note, shown
from estimator.input.job.edit import Path, with_changes
from estimator.input.job.load import job_from
from estimator.model import Job, Shop
from estimator.tables.cells import CellError, check_range
from estimator.tables.sums import read_sum
from estimator.tables.toml.text import TomlFile

LEAST, MOST, PROFIT = "least", "most", "profit"
AIMS = (LEAST, MOST, PROFIT)
MAY, MUST, NOT = "may", "must", "not"
NO_WISH, AS_IN_FILE = "any", "file"
SHOWN = ("", "frontier")
LONGEST = 80
"""Characters of the longest entry that is read."""
CENT = Decimal("0.01")
_HOURS = re.compile(r"[0-9]{1,4}(?:[.,][0-9]{1,2})?")


class Entries(Struct, frozen=True):
    """All entries. None: as in the job file; blank: no limit. ``wish`` by attribute, ``work`` by upgrade."""

    aim: str = LEAST
    money: str | None = None
    hours: str | None = None
    wanted_by: str | None = None
    wish: Mapping[str, str] = field(default_factory=dict)
    work: Mapping[str, str] = field(default_factory=dict)
    looking: bool = False
    show: str = ""

    def query(self) -> str:
        """The entries as they stand in the address of the page."""
        pairs = [("aim", self.aim)] if self.aim != LEAST else []
        for name, value in (("money", self.money), ("hours", self.hours), ("back", self.wanted_by)):
            if value is not None:
                pairs.append((name, value))
        pairs += [(f"wish.{name}", value) for name, value in sorted(self.wish.items())]
        pairs += [(f"do.{name}", value) for name, value in sorted(self.work.items())]
        pairs += [("looking", "1")] if self.looking else []
        pairs += [("show", self.show)] if self.show else []
        return urlencode(pairs)

    def wishing(self, attribute: str, level: str) -> Entries:
        """The same with another wish."""
        return replace(self, wish={**self.wish, attribute: level})

    def doing(self, upgrade: str, what: str) -> Entries:
        """The same with a piece of work fixed, left out or free."""
        return replace(self, work={**self.work, upgrade: what})


def read_entries(pairs: Iterable[tuple[str, str]]) -> Entries:
    """The entries of an address or a form; of an entry that stands twice the last counts, unknown ones do not."""
    found: dict[str, str] = {}
    wish: dict[str, str] = {}
    work: dict[str, str] = {}
    for name, value in pairs:
        value = value.strip()[:LONGEST]
        if name.startswith("wish.") and value in (NO_WISH, AS_IN_FILE, "1", "2", "3", "4"):
            wish[name.removeprefix("wish.")[:LONGEST]] = value
        elif name.startswith("do.") and value in (MAY, MUST, NOT):
            work[name.removeprefix("do.")[:LONGEST]] = value
        else:
            found[name] = value
    aim, show = found.get("aim", LEAST), found.get("show", "")
    return Entries(
        aim=aim if aim in AIMS else LEAST,
        money=found.get("money"),
        hours=found.get("hours"),
        wanted_by=found.get("back"),
        wish={name: value for name, value in wish.items() if value != AS_IN_FILE},
        work=work,
        looking=found.get("looking") == "1",
        show=show if show in SHOWN else "",
    )


def changes_of(toml: TomlFile, shop: Shop, entries: Entries) -> dict[Path, object]:
    """What the entries change in a job file; InputError where one cannot be read."""
    changes: dict[Path, object] = {}
    issues: list[Issue] = []
    _limits(toml, shop, entries, changes, issues)
    if entries.wanted_by is not None:
        try:
            day = date.fromisoformat(entries.wanted_by) if entries.wanted_by else None
            _set(toml, changes, ("job", "wanted_by"), day)
        except ValueError:
            note(
                issues,
                Origin("wanted back"),
                "is no day",
                shown(entries.wanted_by),
                "2026-10-30",
                "type year-month-day, or nothing",
            )
    _wishes(toml, shop, entries, changes)
    _work(toml, entries, changes)
    if issues:
        raise InputError(issues)
    return changes


def _set(toml: TomlFile, changes: dict[Path, object], path: Path, value: object) -> None:
    found: object = toml.values
    for name in path:
        found = found.get(name) if isinstance(found, dict) else None
    if found != value:
        changes[path] = value


def _hours(text: str) -> Decimal:
    if not _HOURS.fullmatch(text):
        raise CellError("hours that cannot be read", "hours above 0, such as 6 or 6.5")
    return Decimal(text.replace(",", "."))


def _limits(
    toml: TomlFile, shop: Shop, entries: Entries, changes: dict[Path, object], issues: list[Issue]
) -> None:
    told = (
        ("money", "the most it may take", entries.money, partial(read_sum, currency=shop.terms.currency)),
        ("hours", "the most hours", entries.hours, _hours),
    )
    for key, name, text, read in told:
        if text is None:
            continue
        if not text:
            _set(toml, changes, ("budget", key), None)
            continue
        try:
            number = read(text)
            check_range(number, CENT, None)
        except CellError as error:
            step = error.next_step or "type what it may take, or nothing for no limit"
            note(issues, Origin(name), error.problem, shown(text), error.accepted, step)
            continue
        plain: object = int(number) if number == number.to_integral_value() else number
        _set(toml, changes, ("budget", key), plain)


def _wishes(toml: TomlFile, shop: Shop, entries: Entries, changes: dict[Path, object]) -> None:
    wish = toml.values.get("wish", {})
    profile = shop.profiles.get(wish.get("profile") or "", {}) if isinstance(wish, dict) else {}
    for name, level in entries.wish.items():
        if name not in shop.attributes:
            continue
        path = ("wish", "require", name)
        if level == NO_WISH:
            row = profile.get(name)
            _set(toml, changes, path, NO_WISH if row is not None and row.minimum is not None else None)
        else:
            _set(toml, changes, path, int(level))
        _set(toml, changes, ("wish", "limits", name), None)


def _work(toml: TomlFile, entries: Entries, changes: dict[Path, object]) -> None:
    said: Any = toml.values.get("upgrades", {})
    if not isinstance(said, dict):
        return
    lists = {key: list(said.get(key) or ()) for key in ("required", "refused")}
    for name, what in sorted(entries.work.items()):
        for key, meant in (("required", MUST), ("refused", NOT)):
            if what == meant and name not in lists[key]:
                lists[key].append(name)
            elif what != meant and name in lists[key]:
                lists[key].remove(name)
    for key, names in lists.items():
        if names != list(said.get(key) or ()):
            changes["upgrades", key] = names or None


def job_with(toml: TomlFile, shop: Shop, entries: Entries) -> tuple[Job, TomlFile]:
    """The job of a file with the entries put in, and its values; InputError as for any job file."""
    changed = replace(toml, values=with_changes(toml.values, changes_of(toml, shop, entries)))
    return job_from(changed, shop), changed

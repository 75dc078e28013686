"""Where the files of a shop are: the folder that comes with the program, and a user's own."""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

import estimator
from estimator.core.errors import InputError, Issue, Origin, near_miss, note, refusal, shown
from estimator.tables.toml.values import short_list

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

LEDGER_ENDING = ".sqlite"
SHOP_FILE = "shop.toml"
_IGNORED_ENDINGS = (".txt", ".md", ".png", ".svg", ".sqlite", ".sqlite-wal", ".sqlite-shm", ".sqlite-journal")
"""Notes, and the shop's ledger with what stands beside it while it is in use."""


@cache
def known_files() -> tuple[str, ...]:
    """The names of the files of a shop, in the order of the tables."""
    from estimator.tables.schema.shop import TABLES  # large, and not asked for where a kept shop is taken

    return (*(table.file for table in TABLES), SHOP_FILE)


class Folder(Struct, frozen=True):
    """The known files of one folder: its name as shown, and the bytes of each file."""

    label: str
    files: dict[str, bytes]


def default_folder(name: str = "rates") -> Path | Traversable:
    """The folder ``name`` shipped inside the package, or beside it in a source checkout."""
    package: Path | Traversable = Path(estimator.__path__[0])
    if not package.is_dir():  # in an archive
        from importlib.resources import files

        package = files("estimator")
    packed = package / "_data" / name
    return packed if packed.is_dir() else Path(str(package)).parent / name


def read_default() -> Folder:
    """The shop that comes with the program; every table must be there."""
    return complete(default_as_it_is())


def default_as_it_is() -> Folder:
    """All tables and settings of the shop that comes with the program, in order of name, whether known or not."""
    folder = default_folder()
    if not folder.is_dir():
        step = "install the program again; this copy is incomplete"
        raise refusal("rates", "the tables that come with the program are missing", "", "", step)
    present = sorted((entry for entry in folder.iterdir()), key=lambda entry: entry.name)
    found = [entry for entry in present if entry.name.endswith(".csv") or entry.name == SHOP_FILE]
    return Folder("rates", {entry.name: entry.read_bytes() for entry in found})


def complete(default: Folder) -> Folder:
    """The known files of the shop that comes with the program, in the order of the tables; every one must be there."""
    if missing := [name for name in known_files() if name not in default.files]:
        step = "install the program again; this copy is incomplete"
        raise InputError(
            Issue(Origin(f"rates/{name}"), "a table that comes with the program is missing", "", "", step)
            for name in missing
        )
    return Folder(default.label, {name: default.files[name] for name in known_files()})


def read_folder(folder: str | os.PathLike[str]) -> Folder:
    """A user's folder: any of the known files; anything else in it is a complaint with a near miss."""
    path = Path(folder)
    label = str(folder).rstrip("/\\") or str(folder)
    if not path.exists():
        raise InputError(_missing_folder(path, label))
    if not path.is_dir():
        step = f"give the folder it lies in: {path.parent}" if path.name in known_files() else "give a folder"
        raise refusal(label, "a file where a shop folder belongs", "", "a folder of tables", step)
    try:
        entries = sorted(path.iterdir(), key=lambda entry: entry.name)
    except OSError as error:
        raise refusal(label, "the folder cannot be read", error.strerror or "") from None
    issues = list(_strangers(entries, label))
    found: dict[str, bytes] = {}
    for entry in entries:
        if entry.name not in known_files():
            continue
        try:
            found[entry.name] = entry.read_bytes()
        except OSError as error:
            note(issues, Origin(f"{label}/{entry.name}"), "the file cannot be read", error.strerror or "")
    # a folder with a ledger is a shop, of which no number differs yet
    if not found and not issues and not any(entry.suffix == LEDGER_ENDING for entry in entries):
        step = (
            "put the tables that differ from the program's own into it, under the same file names; "
            f"a new shop begins with an empty {SHOP_FILE}"
        )
        note(issues, Origin(label), "the folder holds no known table", "", short_list(known_files()), step)
    if issues:
        raise InputError(issues)
    return Folder(label, {name: found[name] for name in known_files() if name in found})


def ignored(name: str) -> bool:
    """Whether a file of a shop folder is passed over in silence: hidden files, read-me files, notes, a logo, a ledger."""
    return (
        name.startswith((".", "~$"))
        or name.upper().startswith("README")
        or name.lower().endswith(_IGNORED_ENDINGS)
    )


def _strangers(entries: Iterable[Path], label: str) -> Iterable[Issue]:
    for entry in entries:
        if entry.name in known_files() or ignored(entry.name):
            continue
        what = "an unknown folder" if entry.is_dir() else "an unknown file"
        hint = near_miss(entry.name.lower(), known_files())
        if entry.suffix.lower() in (".xlsx", ".xls", ".ods"):
            hint = "save the sheet as “CSV UTF-8 (comma delimited)” under the name of its table"
        step = hint or "take it out of the folder (notes may stay as .txt or .md, a logo as .png or .svg)"
        yield Issue(
            Origin(f"{label}/{entry.name}"), f"{what} in a shop folder", "", short_list(known_files()), step
        )


def _missing_folder(path: Path, label: str) -> Issue:
    beside = [entry.name for entry in path.parent.iterdir() if entry.is_dir()] if path.parent.is_dir() else []
    hint = near_miss(path.name, beside) or "look at the spelling, or make the folder"
    return Issue(Origin(label), "there is no such shop folder", shown(label), "a folder of tables", hint)

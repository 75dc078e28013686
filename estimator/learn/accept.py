"""What was learned, taken over into the shop's own folder, and taken back again.

The ledger remembers by what each task's times were multiplied and since when, and how the files were before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.errors import InputError, Issue, Origin, refusal
from estimator.core.save import Output, save_all
from estimator.estimate.ways import JOINED, is_way
from estimator.learn.calibrate import Calibration, new_times
from estimator.learn.evidence import WHOLE
from estimator.learn.times import COLUMNS, Learned
from estimator.learn.values import Value
from estimator.ledger.clock import Moment
from estimator.ledger.store import Ledger
from estimator.model import MEASURED, OWN_MENU, Shop
from estimator.tables.cells import plain
from estimator.tables.csv_rows import Key, TableRow
from estimator.tables.folders import SHOP_FILE, read_default
from estimator.tables.own import changed_settings, empty_table, least_table, rows_of
from estimator.tables.schema.shop import BY_NAME, TABLES
from estimator.tables.schema.table import TableSpec

TASKS, METHODS = BY_NAME["tasks"], BY_NAME["task_methods"]
SPECS = {spec.file: spec for spec in TABLES}
_NOTHING = {file: empty_table(spec) for file, spec in SPECS.items()}
_NOTHING[SHOP_FILE] = b"# nothing differs from the default shop\n"
Rows = dict[Key, dict[str, Decimal]]


class Measured(Struct, frozen=True):
    """A setting that was measured, and what it rests on."""

    value: Decimal
    source: str


def task_bases(folder: Path) -> Mapping[str, str]:
    """The basis of every row of the shop's tasks, and of its ways to do them by the names of these."""
    rows = {**shop_rows(folder, TASKS.file), **shop_rows(folder, METHODS.file)}
    return {JOINED.join(map(str, key)): row.values["basis"] for key, row in rows.items()}


def shop_rows(folder: Path, file: str) -> Mapping[Key, TableRow]:
    """The rows of one table as the shop in a folder has them."""
    return {**_default_rows(SPECS[file]), **_own_rows(folder, SPECS[file])}


def _default_rows(spec: TableSpec) -> Mapping[tuple[Any, ...], TableRow]:
    return rows_of(spec, read_default().files, "rates")


def _own_bytes(folder: Path, file: str) -> bytes | None:
    path = folder / file
    return path.read_bytes() if path.is_file() else None


def _own_rows(folder: Path, spec: TableSpec) -> Mapping[tuple[Any, ...], TableRow]:
    data = _own_bytes(folder, spec.file)
    return rows_of(spec, {spec.file: data}, str(folder), _default_rows(spec)) if data is not None else {}


def accept(
    ledger: Ledger,
    folder: Path,
    learned: Sequence[Learned],
    now: Moment,
    settings: Mapping[str, Measured] | None = None,
    values: Sequence[Value] = (),
) -> list[Path]:
    """Write new times, settings and single values into the shop's own files and remember them; all of it or nothing."""
    files: dict[str, bytes] = {}
    cells = _cells(learned, values)
    for file, (rows, sources) in cells.items():
        files[file] = rows_with(folder, SPECS[file], rows, MEASURED, sources)
    if settings:
        files[SHOP_FILE] = _settings(folder, settings)
    if not files:
        raise ledger.refusal(
            "there is nothing to take over",
            "nothing with enough evidence moves",
            next_step="estimator learn --shop DIR shows what the ledger says so far",
        )
    factors = [(one.task, round(one.level.factor * WHOLE), one.level.jobs) for one in learned]
    # a row that becomes measured for another cell: its typed times are not those of an earlier learning
    bases, timed = task_bases(folder), {one.task for one in learned}
    rows = cells[TASKS.file][0] if TASKS.file in cells else {}
    factors += [
        (task, WHOLE, 0) for (task,) in rows if task not in timed and bases.get(str(task)) != MEASURED
    ]
    return take_over(ledger, folder, files, factors, now, values)


def _cells(learned: Sequence[Learned], values: Sequence[Value]) -> dict[str, tuple[Rows, dict[Key, str]]]:
    """By file, the new cells of its rows, and what each row rests on."""
    found: dict[str, tuple[Rows, dict[Key, str]]] = {}
    for task in learned:
        file, key = _row_of(task.task)
        rows, sources = found.setdefault(file, ({}, {}))
        rows[key] = dict(zip(COLUMNS, task.after, strict=True))
        sources[key] = task.source
    for one in values:
        rows, sources = found.setdefault(one.file, ({}, {}))
        key = _key_of(SPECS[one.file], one.row)
        rows.setdefault(key, {}).update({one.column: one.after, **one.beside})
        said = sources.get(key, "")
        sources[key] = said if one.source in said else "; ".join(filter(None, (said, one.source)))
    return found


def _row_of(name: str) -> tuple[str, Key]:
    """The file and the key of the row that tells of a task, or of a way to do it."""
    spec = METHODS if is_way(name) else TASKS
    return spec.file, _key_of(spec, name)


def _key_of(spec: TableSpec, name: str) -> Key:
    """The key of a row from the parts of its name, each as its column has it."""
    kinds = {column.name: column.kind for column in spec.columns}
    parts = zip(spec.key, name.split(JOINED), strict=True)
    return tuple(int(part) if kinds[column] == "whole" else part for column, part in parts)


def take_over(
    ledger: Ledger,
    folder: Path,
    files: Mapping[str, bytes],
    factors: Sequence[tuple[str, int, int]],
    now: Moment,
    values: Sequence[Value] = (),
) -> list[Path]:
    """Write files of the shop and remember how they were; ``factors``: task, millionths it was multiplied by, jobs."""
    with ledger.writing():
        number = ledger.add("learning", now)
        for name, data in files.items():
            before = _own_bytes(folder, name)
            was = None if before is None else before.decode()
            ledger.add("learning_file", learning=number, file=name, before=was, after=data.decode())
        for task, millionths, jobs in factors:
            ledger.add("learned", learning=number, task=task, millionths=millionths, jobs=jobs, at=now.text)
        for one in values:
            cell = {"file": one.file, "row": one.row, "column_": one.column, "number": one.number}
            numbers = {"prior": plain(one.prior), "value": plain(one.after)}
            ledger.add("learned_value", learning=number, **cell, **numbers, at=now.text)
        return save_all([Output(folder / name, data, True) for name, data in files.items()])


def accept_fit(ledger: Ledger, folder: Path, shop: Shop, found: Calibration, now: Moment) -> list[Path]:
    """Write a fit to the shop's own menu into its files: what is learned later starts from these times."""
    files: dict[str, bytes] = {}
    source = f"fitted to {len(found.held)} prices and times of the shop's own menu"
    times = new_times(shop, found)
    by_file: dict[str, Rows] = {}
    for name, new in times.items():
        file, key = _row_of(name)
        by_file.setdefault(file, {})[key] = new
    for file, rows in by_file.items():
        files[file] = rows_with(folder, SPECS[file], rows, OWN_MENU, dict.fromkeys(rows, source))
    if found.charge != found.charge_before:
        charge = {"charge_per_hour": found.charge}
        files[SHOP_FILE] = settings_with(folder, charge, OWN_MENU, {"charge_per_hour": source})
    if not files:
        raise refusal(
            "calibrate",
            "there is nothing to take over",
            "the menu holds as it is",
            next_step="estimator menu prints it",
        )
    return take_over(ledger, folder, files, [(name, WHOLE, 0) for name in times], now)


def rows_with(folder: Path, spec: TableSpec, rows: Rows, basis: str, sources: Mapping[Key, str]) -> bytes:
    """The shop's own file of a table with other values in some cells of some rows, and what these rows rest on."""
    base, own = _default_rows(spec), dict(_own_rows(folder, spec))
    for key, new in rows.items():
        row = own.get(key, base.get(key))
        if row is None:  # the shop was read from these rows
            raise RuntimeError(key)
        own[key] = replace(row, values={**row.values, **new, "basis": basis, "source": sources[key]})
    # what was learned may be what the default shop says: then nothing differs, and the file says that
    return least_table(spec, list(own.values()), base) or empty_table(spec)


def _settings(folder: Path, settings: Mapping[str, Measured]) -> bytes:
    values = {name: one.value for name, one in settings.items()}
    return settings_with(folder, values, MEASURED, {name: one.source for name, one in settings.items()})


def settings_with(
    folder: Path, values: Mapping[str, Decimal], basis: str, sources: Mapping[str, str]
) -> bytes:
    """The shop's own ``shop.toml`` with some settings of another value."""
    return changed_settings(_own_bytes(folder, SHOP_FILE) or b"", values, basis, sources)


def take_back(ledger: Ledger, folder: Path, now: Moment) -> tuple[list[Path], int]:
    """Put the files back to what they were before the last taking over; returns them and how many times of tasks and values."""
    last = ledger.row("SELECT id FROM learning WHERE taken_back_at IS NULL ORDER BY id DESC LIMIT 1")
    if last is None:
        raise ledger.refusal(
            "nothing was taken over that could be taken back",
            next_step="estimator learn --shop DIR --accept takes over what the ledger says",
        )
    files = ledger.rows("SELECT file, before, after FROM learning_file WHERE learning = ?", (last["id"],))
    if issues := [
        Issue(
            Origin(str(folder / row["file"])),
            "the file was changed since",
            "other rows than were written",
            "the file as it was written",
            "take what has the basis measured out of it by hand",
        )
        for row in files
        if _own_bytes(folder, row["file"]) != row["after"].encode()
    ]:
        raise InputError(issues)
    with ledger.writing():
        for table, column in (("learning", "id"), ("learned", "learning"), ("learned_value", "learning")):
            ledger.write(f"UPDATE {table} SET taken_back_at = ? WHERE {column} = ?", (now.text, last["id"]))
        many = ledger.rows(
            "SELECT (SELECT COUNT(*) FROM learned WHERE learning = :id AND (jobs > 0 OR task NOT IN"
            "  (SELECT row FROM learned_value WHERE learning = :id)))"
            " + (SELECT COUNT(*) FROM learned_value WHERE learning = :id) AS n",
            {"id": last["id"]},
        )[0]["n"]
        before = {
            row["file"]: row["before"].encode() if row["before"] is not None else _NOTHING[row["file"]]
            for row in files
        }
        return save_all([Output(folder / name, data, True) for name, data in before.items()]), many

"""What was learned, taken over into the shop's own folder, and taken back again.

The ledger remembers by what each task's times were multiplied and since when, and how ``tasks.csv`` was before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from estimator.core.errors import InputError, Issue, Origin
from estimator.core.save import save_bytes
from estimator.learn.times import COLUMNS, WHOLE, Learned
from estimator.ledger.clock import Moment
from estimator.ledger.store import Ledger
from estimator.model import MEASURED
from estimator.tables.csv_rows import TableRow
from estimator.tables.folders import read_default
from estimator.tables.own import empty_table, least_table, rows_of
from estimator.tables.schema.shop import BY_NAME

TASKS = BY_NAME["tasks"]


def task_bases(folder: Path) -> Mapping[str, str]:
    """The basis of every row of the shop's ``tasks.csv``."""
    return {key[0]: row.values["basis"] for key, row in {**_default_rows(), **_own_rows(folder)}.items()}


def _default_rows() -> Mapping[tuple[Any, ...], TableRow]:
    return rows_of(TASKS, read_default().files, "rates")


def _own_bytes(folder: Path) -> bytes | None:
    file = folder / TASKS.file
    return file.read_bytes() if file.is_file() else None


def _own_rows(folder: Path) -> Mapping[tuple[Any, ...], TableRow]:
    data = _own_bytes(folder)
    return rows_of(TASKS, {TASKS.file: data}, str(folder), _default_rows()) if data is not None else {}


def accept(ledger: Ledger, folder: Path, learned: Sequence[Learned], now: Moment) -> Path:
    """Write the new times into the shop's own ``tasks.csv`` and remember them; all of it or nothing."""
    if not learned:
        raise InputError(
            Issue(ledger.where, "there is nothing to take over", "no task with enough jobs moves", "",
                  "estimator learn --shop DIR shows what the log says so far")
        )  # fmt: skip
    before = _own_bytes(folder)
    base, own = _default_rows(), dict(_own_rows(folder))
    for one in learned:
        row = own.get((one.task,), base.get((one.task,)))
        if row is None:  # the shop was read from these rows
            raise RuntimeError(one.task)
        times = dict(zip(COLUMNS, one.after, strict=True))
        own[(one.task,)] = replace(
            row, values={**row.values, **times, "basis": MEASURED, "source": one.source}
        )
    data = least_table(TASKS, list(own.values()), base)
    with ledger.writing():
        number = ledger.write(
            "INSERT INTO learning (at, ahead_min, tasks_before, tasks_after) VALUES (?, ?, ?, ?)",
            (now.text, now.ahead_min, None if before is None else before.decode(), data.decode()),
        )
        for one in learned:
            ledger.write(
                "INSERT INTO learned (learning, task, millionths, jobs, at) VALUES (?, ?, ?, ?, ?)",
                (number, one.task, round(one.level.factor * WHOLE), one.level.jobs, now.text),
            )
        return save_bytes(folder / TASKS.file, data, force=True)


def take_back(ledger: Ledger, folder: Path, now: Moment) -> tuple[Path, int]:
    """Put ``tasks.csv`` back to what it was before the last taking over; returns it and how many tasks that were."""
    last = ledger.row("SELECT * FROM learning WHERE taken_back_at IS NULL ORDER BY id DESC LIMIT 1")
    if last is None:
        raise InputError(
            Issue(ledger.where, "nothing was taken over that could be taken back", "", "",
                  "estimator learn --shop DIR --accept takes over what the log says")
        )  # fmt: skip
    if _own_bytes(folder) != last["tasks_after"].encode():
        raise InputError(
            Issue(Origin(str(folder / TASKS.file)), "the file was changed since", "other rows than were written",
                  "the file as it was written", "take the rows with the basis measured out of it by hand")
        )  # fmt: skip
    with ledger.writing():
        for table, column in (("learning", "id"), ("learned", "learning")):
            ledger.write(f"UPDATE {table} SET taken_back_at = ? WHERE {column} = ?", (now.text, last["id"]))
        many = ledger.rows("SELECT COUNT(*) AS n FROM learned WHERE learning = ?", (last["id"],))[0]["n"]
        data = last["tasks_before"]
        path = save_bytes(
            folder / TASKS.file, data.encode() if data is not None else empty_table(TASKS), force=True
        )
    return path, many

"""The ledger's file: opened, brought up to date, checked, copied. What is told as recorded stays recorded.

Every writing is one transaction that holds the file alone; a killed process leaves whole transactions.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from time import monotonic, sleep
from types import TracebackType
from typing import TYPE_CHECKING, Any, TypeVar

from estimator.core.errors import InputError, Issue, Origin, refusal
from estimator.ledger.versions import APPLICATION, VERSIONS

if TYPE_CHECKING:
    from estimator.ledger.clock import Moment

NAME = "ledger.sqlite"
"""The ledger's file in the shop's folder."""
PATIENCE_S = 20
"""Seconds to wait for another command that writes."""

PAUSE_S = 0.02
BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)

Row = dict[str, Any]
"""A row as the file holds it, by the names of its columns."""
Told = TypeVar("Told")


def ledger_path(file: str | None, shop: str | None) -> Path:
    """The file that is named, else the one in the shop's folder, else the one in the current folder."""
    if file is not None:
        return Path(file)
    return Path(shop or ".") / NAME


class Ledger:
    """An open ledger; use it in a ``with`` block. InputError says in words what is wrong with the file."""

    def __init__(self, path: str | Path, *, new: bool = False, versions: int = len(VERSIONS)) -> None:
        """``new``: the file is made where there is none. ``versions``: the version to bring it up to."""
        self.path = Path(path)
        self.where = Origin(str(path))
        if not self.path.exists() and not new:
            raise self.refusal(
                "there is no ledger here",
                "no file",
                "a ledger written before",
                "estimator ledger book JOB begins one; --ledger FILE names another",
            )
        if self.path.is_dir() or not self.path.absolute().parent.is_dir():
            found = "a folder" if self.path.is_dir() else "no folder to put it in"
            raise self.refusal(
                "the ledger cannot be opened",
                found,
                "a file in a folder that is there",
                "name a file with --ledger FILE",
            )
        with self._in_words():
            self._db = sqlite3.connect(self.path, timeout=PATIENCE_S, isolation_level=None)
        try:
            with self._in_words():
                self._prepare(versions)
        except BaseException:
            self._db.close()
            raise

    def __enter__(self) -> Ledger:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        with suppress(sqlite3.Error):
            self._db.close()

    def refusal(self, problem: str, found: str = "", accepted: str = "", next_step: str = "") -> InputError:
        """The error of one complaint about what the ledger holds, or is to hold."""
        return refusal(self.where, problem, found, accepted, next_step)

    def rows(self, sql: str, values: Sequence[object] | dict[str, object] = ()) -> list[Row]:
        """The rows of a question, each by the names of its columns."""
        with self._in_words():
            cursor = self._db.execute(sql, values)
            names = [column[0] for column in cursor.description or ()]
            return [dict(zip(names, row, strict=True)) for row in cursor]

    def told(
        self, record: Callable[..., Told], sql: str, values: Sequence[object] | dict[str, object] = ()
    ) -> list[Told]:
        """The same, each as a record that has a field for each column."""
        return [record(**row) for row in self.rows(sql, values)]

    def one(
        self, record: Callable[..., Told], sql: str, values: Sequence[object] | dict[str, object] = ()
    ) -> Told | None:
        """The first of these, or None."""
        return next(iter(self.told(record, sql, values)), None)

    def row(self, sql: str, values: Sequence[object] | dict[str, object] = ()) -> Row | None:
        """The first row, or None."""
        found = self.rows(sql, values)
        return found[0] if found else None

    def newest(self) -> Moment | None:
        """The moment of the newest step of a job or move of stock; None where the books hold neither."""
        from estimator.ledger.clock import kept_moment

        rows = self.rows(
            "SELECT at, ahead_min FROM (SELECT at, ahead_min FROM step UNION ALL SELECT at, ahead_min FROM stock_move)"
            " ORDER BY at DESC LIMIT 1"
        )
        return kept_moment(rows[0]["at"], rows[0]["ahead_min"]) if rows else None

    def write(self, sql: str, values: Sequence[object] | dict[str, object] = ()) -> int:
        """Write within ``writing``; returns the number of the new row."""
        if not self._db.in_transaction:
            raise RuntimeError("the ledger is written within a transaction only")
        return self._db.execute(sql, values).lastrowid or 0

    def add(self, table: str, now: Moment | None = None, /, **columns: object) -> int:
        """A new row within ``writing``; ``now``: the moment it keeps, as ``at`` and ``ahead_min``; returns its number."""
        if now is not None:
            columns |= {"at": now.text, "ahead_min": now.ahead_min}
        names = ", ".join(columns)
        return self.write(
            f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(columns))})", [*columns.values()]
        )

    def is_writing(self) -> bool:
        """Whether a transaction is open."""
        return self._db.in_transaction

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction, all or nothing; once it has ended well, it is on the disk.

        Within another it is a part of that one: they stand or fall together.
        """
        if self.is_writing():
            yield
            return
        with self._in_words():
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                # a disk that is full has ended the transaction itself
                if self._db.in_transaction:
                    with suppress(sqlite3.Error):
                        self._db.execute("ROLLBACK")
                raise

    @property
    def version(self) -> int:
        """The version of the tables."""
        return int(self._db.execute("PRAGMA user_version").fetchone()[0])

    def faults(self) -> list[str]:
        """What is wrong inside the file: pages, references, a job whose state is not its last step's."""
        found = [str(row["integrity_check"]) for row in self.rows("PRAGMA integrity_check")]
        faults = [] if found == ["ok"] else found
        faults += [
            f"{row['table']}, row {row['rowid']}: names a {row['parent']} that is not there"
            for row in self.rows("PRAGMA foreign_key_check")
        ]
        faults += [
            f"job {row['id']}: is {row['state']}, but its last step says {row['last']}"
            for row in self.rows(
                "SELECT job.id, job.state, step.state AS last FROM job LEFT JOIN step"
                " ON step.id = (SELECT MAX(id) FROM step WHERE job = job.id) WHERE step.state IS NOT job.state"
            )
        ]
        return faults

    def copy_to(self, target: str | Path, *, force: bool = False) -> Path:
        """A whole copy in a file of its own, taken while others write; never half a one under its name."""
        path = Path(target)
        here = Origin(str(path))
        if path.is_dir() or (path.exists() and path.samefile(self.path)):
            raise refusal(
                here,
                "a copy cannot be written there",
                "the ledger itself or a folder",
                "another file",
                "name another file",
            )
        if path.exists() and not force:
            raise refusal(
                here,
                "the file is there already",
                accepted="a new name",
                next_step="name another file, or add --force",
            )
        half = path.with_name(path.name + ".part")
        with self._in_words(here):
            try:
                half.unlink(missing_ok=True)
                copy = sqlite3.connect(half, isolation_level=None)
                try:
                    self._db.backup(copy)
                    copy.execute("PRAGMA journal_mode = DELETE")
                    found = copy.execute("PRAGMA integrity_check").fetchone()[0]
                    if found != "ok":
                        raise sqlite3.DatabaseError(f"the copy is not whole: {found}")
                finally:
                    copy.close()
                half.replace(path)
            except BaseException:
                half.unlink(missing_ok=True)
                raise
        return path

    def tables(self) -> dict[str, tuple[tuple[str, ...], list[tuple[object, ...]]]]:
        """Every table with its columns and all its rows, as they stand at one moment."""
        with self._in_words():
            self._db.execute("BEGIN")
            try:
                names = [
                    row[0]
                    for row in self._db.execute(
                        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
                        " ORDER BY name"
                    )
                ]
                found = {}
                for name in names:
                    cursor = self._db.execute(f'SELECT * FROM "{name}" ORDER BY 1, 2')
                    found[name] = (tuple(c[0] for c in cursor.description), cursor.fetchall())
                return found
            finally:
                self._db.execute("COMMIT")

    def forget_deleted(self) -> None:
        """Take what was deleted or overwritten out of the file and of what lies beside it, not just out of sight."""
        with self._in_words():
            self._db.execute("VACUUM")
            busy = self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        if busy:
            raise self.refusal(
                "erased, but another command still reads what was there before",
                "the file is in use",
                "no other command at this file",
                "end the other command and give this one again",
            )

    def _prepare(self, versions: int) -> None:
        db = self._db
        # read as of one moment: another command may begin the file just now
        db.execute("BEGIN")
        made = db.execute("PRAGMA application_id").fetchone()[0]
        filled = db.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()[0]
        db.execute("COMMIT")
        if filled and made != APPLICATION:
            raise self.refusal(
                "is no ledger of this program",
                "a file of another program",
                "a file that estimator ledger wrote",
                "name another file with --ledger FILE",
            )
        for pragma in (
            "foreign_keys = ON",
            "synchronous = FULL",
            "secure_delete = ON",
            "cache_size = -65536",
        ):
            db.execute(f"PRAGMA {pragma}")
        self._keep_a_log()
        if self.version > len(VERSIONS):
            raise self.refusal(
                "was written by a newer version of this program",
                f"tables of version {self.version}",
                f"at most {len(VERSIONS)}",
                "bring the program up to date; the file is left as it is",
            )
        if self.version < versions:
            self._bring_up(versions)

    def _keep_a_log(self) -> None:
        """Turn to WAL, once for a file. SQLite does not wait by itself where another command does the same just now."""
        until = monotonic() + PATIENCE_S
        while self._db.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            try:
                self._db.execute("PRAGMA journal_mode = WAL")
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF not in BUSY or monotonic() > until:
                    raise
                sleep(PAUSE_S)

    def _bring_up(self, versions: int) -> None:
        with self.writing():
            # another command may have done it meanwhile: the version is read once more, alone
            for number in range(self.version, versions):
                for step in VERSIONS[number]:
                    self._db.execute(step)
                self._db.execute(f"PRAGMA user_version = {number + 1}")
            self._db.execute(f"PRAGMA application_id = {APPLICATION}")

    @contextmanager
    def _in_words(self, where: Origin | None = None) -> Iterator[None]:
        try:
            yield
        except (sqlite3.Error, UnicodeDecodeError) as error:
            raise InputError(_told(error, where or self.where)) from error
        except OSError as error:
            raise refusal(
                where or self.where,
                "cannot be written",
                error.strerror or str(error),
                "a place with room that may be written to",
                "make room or name another place",
            ) from error


def _told(error: sqlite3.Error | UnicodeDecodeError, where: Origin) -> Issue:
    words = str(error)
    before = "nothing of this was recorded; what was recorded before is whole"
    name = getattr(error, "sqlite_errorname", "")
    if name.startswith("SQLITE_NOTADB"):
        return Issue(
            where,
            "is no ledger",
            words,
            "a file that estimator ledger wrote",
            "name another file with --ledger FILE, or put a copy back",
        )
    no_text = isinstance(error, UnicodeDecodeError) or "decode to UTF-8" in words
    if name.startswith("SQLITE_CORRUPT") or no_text or "malformed" in words:
        return Issue(
            where,
            "the file is damaged",
            words,
            "a whole ledger",
            "keep the file, and go on with the newest copy that ledger backup wrote",
        )
    if name.startswith(("SQLITE_FULL", "SQLITE_IOERR")):
        return Issue(
            where,
            f"the disk is full or does not write: {before}",
            words,
            "room on the disk",
            "make room and give the command again",
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return Issue(
            where,
            f"another command holds the ledger: {before}",
            words,
            f"a ledger that is free within {PATIENCE_S} seconds",
            "give the command again",
        )
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return Issue(
            where,
            "the ledger cannot be opened for writing",
            words,
            "a file and a folder that may be written to",
            "see to whom they belong",
        )
    return Issue(where, f"was refused by the ledger: {before}", words, "", "look at what was given")

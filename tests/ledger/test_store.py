"""The file itself: versions, copies, killed and competing processes, a full disk."""

from __future__ import annotations

import os
import random
import resource
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.ledger.store import Ledger, ledger_path
from estimator.ledger.versions import VERSIONS

#: writes customers one by one and says each number once it is recorded
WRITER = """
import sys
from estimator.ledger.store import Ledger
from estimator.core.errors import InputError
path, who, many, letters = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
with Ledger(path) as ledger:
    for n in range(many):
        try:
            with ledger.writing():
                ledger.write("INSERT INTO customer (name, contact) VALUES (?, ?)", (f"{who} {n}", "x" * letters))
        except InputError as error:
            print(f"refused {error}", flush=True)
            sys.exit(3)
        sys.stdout.write(f"{who} {n}\\n")
        sys.stdout.flush()
"""


def begin_writer(path: Path, who: str, many: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), who, str(many), "2000"], stdout=subprocess.PIPE, text=True
    )


def forked_writer(path: Path, who: str) -> tuple[int, int]:
    """The same without starting the program anew for each, and rows so short that many of them are checked soon:
    its number, and where to read what it says."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reader)
            sys.argv = ["", str(path), who, "100000", "200"]
            sys.stdout = os.fdopen(writer, "w")
            exec(WRITER, {})
        finally:
            os._exit(99)
    os.close(writer)
    return child, reader


def names_in(path: Path) -> set[str]:
    with Ledger(path) as ledger:
        assert ledger.faults() == []
        return {row["name"] for row in ledger.rows("SELECT name FROM customer")}


def kill_in_the_middle(path: Path, rounds: int, seed: int) -> int:
    """Kill writers at drawn moments; returns how many acknowledged rows were checked."""
    draw = random.Random(seed)
    acknowledged: set[str] = set()
    for number in range(rounds):
        writer, reader = forked_writer(path, f"w{number}")
        with os.fdopen(reader) as said:
            first, begun, rows = said.readline(), time.monotonic(), draw.randint(1, 8)
            first += "".join(said.readline() for _ in range(rows))
            # somewhere in one of the next two rows, however long this disk takes for one
            time.sleep(draw.random() * 2 * (time.monotonic() - begun) / rows)
            os.kill(writer, signal.SIGKILL)
            told = first + said.read()
        assert os.waitstatus_to_exitcode(os.waitpid(writer, 0)[1]) == -signal.SIGKILL
        # the last line may be cut; what has its line end was acknowledged
        acknowledged |= set(told[: told.rfind("\n")].splitlines())
        found = names_in(path)
        assert acknowledged <= found
        # at most the one write per round that was recorded and not yet told
        assert len(found - acknowledged) <= number + 1
    return len(acknowledged)


@pytest.mark.slow
def test_nothing_acknowledged_is_lost_when_the_writer_is_killed(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    Ledger(path, new=True).close()
    assert kill_in_the_middle(path, 24, seed=1) > 24


@pytest.mark.slow
def test_nothing_is_lost_in_three_hundred_kills(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    Ledger(path, new=True).close()
    assert kill_in_the_middle(path, 300, seed=2) > 300


def test_two_processes_write_at_once(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    Ledger(path, new=True).close()
    writers = [begin_writer(path, who, 60) for who in ("one", "two")]
    assert [writer.communicate() and writer.returncode for writer in writers] == [0, 0]
    assert names_in(path) == {f"{who} {n}" for who in ("one", "two") for n in range(60)}


def test_two_processes_begin_the_file_at_once(tmp_path: Path) -> None:
    for number in range(5):
        path = tmp_path / f"ledger{number}.sqlite"
        code = "import sys; from estimator.ledger.store import Ledger; Ledger(sys.argv[1], new=True).close()"
        begun = [subprocess.Popen([sys.executable, "-c", code, str(path)]) for _ in range(3)]
        assert [one.wait() for one in begun] == [0, 0, 0]
        assert names_in(path) == set()


class BegunBetween(sqlite3.Connection):
    """A connection of the main thread between whose first questions another command begins the same file."""

    def execute(self, sql: str, *values: object) -> sqlite3.Cursor:  # type: ignore[override]
        answer = super().execute(sql, *values)  # type: ignore[arg-type]
        if sql == "PRAGMA application_id" and threading.current_thread() is threading.main_thread():
            before = answer.fetchone()
            (path,) = (row[2] for row in super().execute("PRAGMA database_list").fetchall())
            other = threading.Thread(target=lambda: Ledger(path, new=True).close())
            other.start()
            other.join(0.5)  # it is done by now, or waits for this one
            return super().execute("SELECT ?", before)
        return answer


def test_a_file_that_another_command_begins_just_now_is_a_ledger(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    connect = sqlite3.connect
    monkeypatch.setattr(sqlite3, "connect", lambda *a, **more: connect(*a, factory=BegunBetween, **more))
    Ledger(tmp_path / "ledger.sqlite", new=True).close()
    assert names_in(tmp_path / "ledger.sqlite") == set()


def test_a_file_that_another_command_holds_is_waited_for(tmp_path: Path) -> None:
    """Turning to the log is not waited for by SQLite itself."""
    path = tmp_path / "ledger.sqlite"
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("CREATE TABLE x (y)")
    other.execute("DROP TABLE x")
    other.execute("BEGIN IMMEDIATE")
    let_go = threading.Timer(0.3, other.execute, ("COMMIT",))
    let_go.start()
    Ledger(path, new=True).close()
    let_go.join()
    other.close()
    assert names_in(path) == set()


def test_a_full_disk_is_told_and_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    Ledger(path, new=True).close()
    whole = 120_000

    def little_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (whole, whole))

    run = subprocess.run(
        [sys.executable, "-c", WRITER, str(path), "w", "100000", "2000"],
        capture_output=True,
        text=True,
        preexec_fn=little_room,
        check=False,
    )
    *told, last = run.stdout.splitlines()
    assert run.returncode == 3, run.stderr
    assert "the disk is full" in last
    assert "what was recorded before is whole" in last
    assert len(told) > 5
    assert names_in(path) == set(told)


def test_a_copy_taken_while_in_use_opens(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    Ledger(path, new=True).close()
    writer = begin_writer(path, "w", 100_000)
    assert writer.stdout is not None
    before = {writer.stdout.readline().strip() for _ in range(20)}
    with Ledger(path) as ledger:
        for number in range(5):
            ledger.copy_to(tmp_path / f"copy{number}.sqlite")
    assert writer.poll() is None
    writer.kill()
    writer.communicate()
    sizes = []
    for number in range(5):
        found = names_in(tmp_path / f"copy{number}.sqlite")
        assert before <= found
        sizes.append(len(found))
    assert sizes == sorted(sizes)


def test_a_copy_replaces_nothing_unasked(tmp_path: Path) -> None:
    path, there = tmp_path / "ledger.sqlite", tmp_path / "there"
    there.write_text("mine")
    with Ledger(path, new=True) as ledger:
        with pytest.raises(InputError, match="there already"):
            ledger.copy_to(there)
        assert there.read_text() == "mine"
        with pytest.raises(InputError, match="the ledger itself"):
            ledger.copy_to(path, force=True)
        ledger.copy_to(there, force=True)
    assert names_in(there) == set()


LATER_ROWS = (
    (2, "INSERT INTO quote_task VALUES ('2026-001', 'nut', 600)"),
    (
        2,
        "INSERT INTO running (job, task, kind, began_at, began_ahead_min) VALUES ('j', 'nut', 'hands', 'x', 0)",
    ),
    (
        2,
        "INSERT INTO spell (job, task, kind, seconds, source, at, ahead_min) VALUES ('j', 'nut', 'hands', 60, 'card', 'x', 0)",
    ),
    (
        3,
        "INSERT INTO stock_move (item, kind, millionths, at, ahead_min) VALUES ('glue', 'bought', 5, 'x', 0)",
    ),
    (3, "INSERT INTO quote_need VALUES ('2026-001', 'glue', 5)"),
    (4, "INSERT INTO quote_use VALUES ('2026-001', 'nut', 'glue', 5)"),
    (4, "INSERT INTO use_told VALUES ('j', 'nut', 'none', 'x', 0)"),
    (5, "INSERT INTO photo (job, path, at, ahead_min) VALUES ('j', 'a.jpg', 'x', 0)"),
    (5, "INSERT INTO invoice VALUES ('I2026-001', 'j', '2026-001', 'x', 0)"),
    (
        6,
        "INSERT INTO parcel_news (seller, at, ahead_min, expected) VALUES ('parts-house', 'x', 0, '2026-10-15')",
    ),
    (7, "INSERT INTO learning (at, ahead_min) VALUES ('x', 0)"),
    (7, "INSERT INTO learning_file VALUES (1, 'tasks.csv', NULL, 'id')"),
    (7, "INSERT INTO learned (learning, task, millionths, jobs, at) VALUES (1, 'nut', 1100000, 4, 'x')"),
    (8, "INSERT INTO quote_chance VALUES ('2026-001', 'nut', 150)"),
    (
        9,
        "INSERT INTO charge (job, kind, cents, days, at, ahead_min) VALUES ('j', 'storage', 500, 10, 'x', 0)",
    ),
    (10, "INSERT INTO quote_way VALUES ('2026-001', 'nut', 'by-hand')"),
    (
        10,
        "INSERT INTO quote_factor VALUES ('2026-001', 'nut', 'factors.csv', 'NM=bone', 'factor', 300, 1250000)",
    ),
    (11, "INSERT INTO tap VALUES ('k', 'c', '{}', 'this machine', 'x', 0, 'x')"),
    (8, "INSERT INTO listing VALUES ('j', 'local', 'B', 30000, 'x', 0)"),
    (
        8,
        "INSERT INTO learned_value (learning, file, row, column_, prior, value, number, at)"
        " VALUES (1, 'tasks.csv', 'nut', 'rework_pct', '8', '6', 4, 'x')",
    ),
    (5, "INSERT INTO agreed (job, words, at, ahead_min) VALUES ('j', 'a new nut too', 'x', 0)"),
)
"""A row for every table that came later, with the version that brought it."""


@pytest.mark.parametrize("version", range(1, len(VERSIONS) + 1))
def test_a_file_of_every_earlier_version_opens_with_all_it_holds(tmp_path: Path, version: int) -> None:
    path = tmp_path / "ledger.sqlite"
    with Ledger(path, new=True, versions=version) as old:
        assert old.version == version
        with old.writing():
            old.write("INSERT INTO customer (name) VALUES ('A. Customer')")
            old.write(
                "INSERT INTO job (id, customer, kind, what, instrument, currency, state)"
                " VALUES ('j', 1, 'commission', 'less hum', 'guitar', 'USD', 'quoted')"
            )
            old.write(
                "INSERT INTO step (job, state, at, ahead_min) VALUES ('j', 'quoted', '2026-10-05T07:15:00Z', 120)"
            )
            old.write(
                "INSERT INTO quote VALUES ('2026-001', 'j', '2026-10-05T07:15:00Z', 120, 900, 100, 1000, 0, 'USD', '[]')"
            )
            for since, sql in LATER_ROWS:
                if since <= version:
                    old.write(sql)
        held = {name: (columns, rows) for name, (columns, rows) in old.tables().items() if rows}
    with Ledger(path) as new:
        assert new.version == len(VERSIONS)
        assert new.faults() == []
        now = new.tables()
        for name, (columns, rows) in held.items():
            assert now[name][0][: len(columns)] == columns
            assert [row[: len(columns)] for row in now[name][1]] == rows
        assert new.row("SELECT to_pay_cents, job FROM quote") == {"to_pay_cents": 1000, "job": "j"}
        shape = "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' ORDER BY type, name"
        mine = new.rows(shape)
    with Ledger(tmp_path / "fresh.sqlite", new=True) as fresh:
        assert fresh.rows(shape) == mine


def test_a_quote_cannot_be_altered_by_anyone(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    with Ledger(path, new=True, versions=1) as ledger, ledger.writing():
        ledger.write(
            "INSERT INTO job (id, kind, what, instrument, currency, state) VALUES ('j', '', '', '', 'USD', 'asked')"
        )
        ledger.write("INSERT INTO quote VALUES ('2026-001', 'j', '', 0, 900, 100, 1000, 0, 'USD', '[]')")
    plain = sqlite3.connect(path)
    for sql in ("UPDATE quote SET to_pay_cents = 1", "DELETE FROM quote"):
        with pytest.raises(sqlite3.IntegrityError, match="quote"):
            plain.execute(sql)
    plain.close()


def test_files_that_are_no_ledger_are_refused_in_words_and_left_alone(tmp_path: Path) -> None:
    words = tmp_path / "words.txt"
    words.write_text("some words " * 200)
    other = tmp_path / "other.sqlite"
    db = sqlite3.connect(other)
    db.execute("CREATE TABLE mine (x)")
    db.commit()
    db.close()
    newer = tmp_path / "newer.sqlite"
    Ledger(newer, new=True).close()
    db = sqlite3.connect(newer)
    db.execute("PRAGMA user_version = 99")
    db.close()
    for path, said in ((words, "is no ledger"), (other, "another program"), (newer, "newer version")):
        before = path.read_bytes()
        with pytest.raises(InputError, match=said):
            Ledger(path)
        assert path.read_bytes() == before
    for path, said in ((tmp_path / "none", "no ledger here"), (tmp_path, "a folder")):
        with pytest.raises(InputError, match=said):
            Ledger(path)
    with pytest.raises(InputError, match="no folder"):
        Ledger(tmp_path / "no" / "ledger.sqlite", new=True)


def test_a_damaged_file_is_told(tmp_path: Path) -> None:
    path = tmp_path / "ledger.sqlite"
    with Ledger(path, new=True) as ledger, ledger.writing():
        for n in range(200):
            ledger.write("INSERT INTO customer (name, contact) VALUES (?, ?)", (f"c {n}", "y" * 500))
    data = bytearray(path.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 2 * 4096] = b"\xff" * 8192
    path.write_bytes(data)
    try:
        with Ledger(path) as ledger:
            faults = ledger.faults()
    except InputError as error:
        faults = [str(error)]
    assert faults


def test_where_the_ledger_stands() -> None:
    assert ledger_path(None, None) == Path("ledger.sqlite")
    assert ledger_path(None, "my-shop") == Path("my-shop/ledger.sqlite")
    assert ledger_path("x.sqlite", "my-shop") == Path("x.sqlite")


def test_bytes_that_are_no_letters_are_told_as_damage(tmp_path: Path) -> None:
    """In the names of the tables, where the file is opened, and in a cell, where it is read."""
    path = tmp_path / "ledger.sqlite"
    with Ledger(path, new=True) as ledger, ledger.writing():
        ledger.write("INSERT INTO customer (name) VALUES ('zebra-stripes')")
    with sqlite3.connect(path) as file:
        file.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    file.close()
    good = path.read_bytes()
    for piece in (b"zebra-stripes", b"CREATE TABLE customer"):
        assert piece in good
        path.write_bytes(good.replace(piece, piece[:-2] + b"\xff" + piece[-1:]))
        with pytest.raises(InputError, match="the file is damaged") as told, Ledger(path) as ledger:
            ledger.rows("SELECT name FROM customer")
        assert "backup" in told.value.issues[0].next_step

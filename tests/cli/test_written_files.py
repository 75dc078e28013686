"""Every command that writes files, where writing goes wrong: all of its files or none, and words that help."""

from __future__ import annotations

import ast
import ctypes
import os
import re
import resource
import shutil
import signal
import sqlite3
import stat
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import click
import pytest
import typer
from msgspec import Struct

import estimator
from estimator.cli.main import make_app, run
from estimator.core import save as saving
from estimator.core.errors import Exit
from estimator.ledger.store import Ledger
from estimator.tables.csv_rows import read_table
from estimator.tables.folders import read_default
from estimator.tables.schema.shop import BY_NAME
from tests.cli.small import SMALL_BATCH, SMALL_JOB
from tests.shops import write_table

SMALL = 64  # bytes: less than any of the files
TOLD = ("error: ", "next: ")


class Writer(Struct, frozen=True):
    """One way to call a command that writes: its arguments, and which of its parameters name what is written."""

    command: str
    arguments: tuple[str, ...]
    writes: tuple[str, ...]
    force: tuple[str, ...] = ()

    @property
    def line(self) -> list[str]:
        return [self.command, *self.arguments, *self.force]


FORCE = ("--force",)
WRITERS = {
    "new": Writer("new", ("out/job.toml", "--sheet", "out/sheet.xlsx"), ("file", "sheet"), FORCE),
    "new-text": Writer("new", ("out/job.toml", "--sheet", "out/sheet.txt"), ("file", "sheet"), FORCE),
    "draw": Writer(
        "draw",
        ("example:tight-commission", "--upgrade", "hardtail-bridge", "--folder", "out"),
        ("folder",),
        FORCE,
    ),
    "draw-template": Writer(
        "draw",
        ("example:tight-commission", "--upgrade", "hidden-chamber", "--template", "out/t.html"),
        ("template",),
        FORCE,
    ),
    "intake": Writer("intake", ("in/sheet.xlsx", "-o", "out/job.toml"), ("output",)),
    "shop-book-write": Writer("shop-book", ("--write", "out/shop.xlsx"), ("write",), FORCE),
    "shop-book-read": Writer(
        "shop-book", ("--read", "in/shop.xlsx", "--folder", "out/deep/tables"), ("folder",), FORCE
    ),
    "quote": Writer(
        "quote",
        ("in/plain.toml", "-o", "out/quote.xlsx", "--customer", "out/page.xlsx", "--page", "out/page.html"),
        ("output", "customer", "page"),
    ),
    "page": Writer("page", ("in/plain.toml", "-o", "out/page.html"), ("output",)),
    "menu": Writer("menu", ("jack", "--page", "out/prices.html"), ("page",), FORCE),
    "reprice": Writer(
        "reprice",
        ("in/plain.toml", "in/quote.xlsx", "--customer", "out/page.xlsx", "--page", "out/page.html"),
        ("customer", "page"),
    ),
    "choose": Writer(
        "choose",
        ("in/plain.toml", "--svg", "out/money.svg", "--save-model", "out/model.lp", "--engine", "highs"),
        ("svg", "save_model"),
    ),
    "choose-mps": Writer(
        "choose", ("in/plain.toml", "--save-model", "out/model.mps", "--engine", "highs"), ("save_model",)
    ),
    "plan": Writer(
        "plan",
        (
            "in/batch.toml",
            "--engine",
            "rule",
            "-o",
            "out/week.xlsx",
            "--csv",
            "out/tables",
            "--gantt",
            "out/week.svg",
            "--ics",
            "out/week.ics",
            "--save-plan",
            "out/week.json",
            "--state-template",
            "out/state.toml",
        ),
        ("output", "csv", "gantt", "ics", "save_plan", "state_template"),
        FORCE,
    ),
}
ALL = pytest.mark.parametrize("name", WRITERS)
LIKE_OTHERS = (
    "new-text",
    "choose",
    "shop-book-write",
    "shop-book-read",
    "reprice",
    "intake",
)  # each like one that is tried quickly
QUICK = ("draw", "quote")  # one file, and two; what else is held to all of this is marked slow
BY_A_BROWSER = {
    ("quote", "pdf"),
    ("reprice", "pdf"),
}  # made by another program into memory, then saved as the page is
BY_THE_LEDGER = {("quote", "ledger"), ("page", "ledger")}  # by the database: tests/ledger/test_store.py
READS = {
    *(
        (command, "job")
        for command in (
            "check",
            "fit",
            "estimate",
            "choose",
            "risk",
            "measure",
            "draw",
            "price",
            "change",
            "offer",
            "sell",
            "triage",
            "quote",
            "reprice",
        )
    ),
    *((command, "book") for command in ("reprice", "worked")),
    ("intake", "sheet"),
    ("plan", "batch"),
    ("plan", "state"),
    ("plan", "progress"),
    ("offer", "listings"),
    ("shop-book", "read"),
    ("choose", "ledger"),
    ("plan", "ledger"),
    ("learn", "ledger"),
    ("calibrate", "ledger"),
    ("calibrate", "menu"),
    ("page", "place"),
}
"""What names a file that is read; ``--shop`` of every command is read too."""

Tree = dict[str, bytes]


def tree(folder: Path) -> Tree:
    """Every file below a folder, by name."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def inputs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("inputs")
    (made / "plain.toml").write_text(SMALL_JOB)
    (made / "batch.toml").write_text(SMALL_BATCH)
    (made / "own").mkdir()
    assert run(["new", str(made / "job.toml"), "--sheet", str(made / "sheet.xlsx"), "--for", "new-jack"]) == 0
    own = made / "own"  # a shop of its own in much, for of a shop only what differs is read back
    for table, column in (("tasks", "trouble"), ("consumables", "used_for")):
        ids = [
            row.values["id"]
            for row in read_table(read_default().files[f"{table}.csv"], BY_NAME[table], "").rows
        ]
        write_table(
            own,
            table,
            [{"id": name, column: f"our own words about {name} " * 3, "basis": ""} for name in ids],
        )
    assert run(["shop-book", "--write", str(made / "shop.xlsx"), "--shop", str(own)]) == 0
    assert run(["quote", str(made / "plain.toml"), "-o", str(made / "quote.xlsx")]) == 0
    return made


@pytest.fixture(scope="module")
def whole(inputs: Path, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Tree]:
    """What a command writes where nothing is in its way; worked out once each."""
    known: dict[str, Tree] = {}

    def of(name: str) -> Tree:
        if name not in known:
            place = tmp_path_factory.mktemp(name)
            (place / "in").symlink_to(inputs)
            (place / "out").mkdir()
            status, said = in_child(WRITERS[name].line, place)
            assert status == 0, said
            known[name] = tree(place / "out")
            assert known[name]
        return known[name]

    return of


@pytest.fixture
def place(inputs: Path, tmp_path: Path) -> Path:
    (tmp_path / "in").symlink_to(inputs)
    (tmp_path / "out").mkdir()
    return tmp_path


def started(line: list[str], folder: Path, before: Callable[[], object]) -> tuple[int, int]:
    """A run of a command in a process of its own: its number, and where to read what it says."""
    reader, writer = os.pipe()
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        status = 99
        try:
            os.close(reader)
            os.chdir(folder)
            stream = os.fdopen(writer, "w", encoding="utf-8")
            sys.stdout = sys.stderr = stream
            before()
            status = run(line)
            stream.flush()
        finally:
            os._exit(status)
    os.close(writer)
    return child, reader


def ended(child: int, reader: int) -> tuple[int, str]:
    with os.fdopen(reader, encoding="utf-8") as stream:
        said = stream.read()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), said


def in_child(line: list[str], folder: Path, before: Callable[[], object] = lambda: None) -> tuple[int, str]:
    return ended(*started(line, folder, before))


def refused(status: int, said: str, names: Tree) -> None:
    """The refusal is one that a bench worker can act on."""
    assert status == Exit.BAD_INPUT, said
    assert "Traceback" not in said
    assert "fault in the program" not in said
    complaint = next(line for line in said.splitlines() if line.startswith("error: "))
    assert all(word in complaint for word in TOLD)
    assert any(f"out/{name}" in complaint for name in names), complaint


def small_disk() -> None:
    sys.dont_write_bytecode = (
        True  # else modules loaded late are kept cut off, and no later run can read them
    )
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (SMALL, SMALL))


def full_at(step: int) -> Callable[[], None]:
    """The disk fills up when the file of this number is flushed."""

    def before() -> None:
        real, calls = os.fsync, []

        def fsync(handle: int) -> None:
            calls.append(handle)
            if len(calls) == step:
                raise OSError(28, os.strerror(28))
            real(handle)

        saving.os.fsync = fsync  # in the child only

    return before


def no_rights() -> None:
    """Also the superuser has no more rights than the folder grants."""
    if os.geteuid():
        return
    libc = ctypes.CDLL(None, use_errno=True)
    header = (ctypes.c_uint32 * 2)(0x20080522, 0)
    if libc.capset(header, (ctypes.c_uint32 * 6)()):
        raise OSError(ctypes.get_errno(), "capset")


def fill(folder: Path, names: Tree) -> Tree:
    """Old files where a command will write."""
    for number, name in enumerate(names):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"old %d" % number)
    return tree(folder)


# ------------------------------------------------------------------- no writer is forgotten


def parameters() -> dict[tuple[str, str], click.Parameter]:
    group = typer.main.get_command(make_app())
    assert isinstance(group, click.Group)
    return {
        (command, str(parameter.name)): parameter
        for command, made in group.commands.items()
        for parameter in made.params
    }


def names_a_file(parameter: click.Parameter) -> bool:
    """By its metavar, or by what its help says."""
    if getattr(parameter, "is_flag", False) or not isinstance(parameter.type, click.types.StringParamType):
        return False
    said = f"{getattr(parameter, 'help', '') or ''}"
    return bool(
        re.fullmatch(r"\[?(FILE|DIR|FOLDER|BOOK|JOB|BATCH|PATH|SHEET)\]?", parameter.metavar or "")
        or re.search(r"\(\.\w+|\bfile\b|[Ff]older|\b[Ww]rite", said)
    )


def test_every_parameter_that_names_a_file_is_known_as_read_or_written() -> None:
    named = {key for key, parameter in parameters().items() if names_a_file(parameter) and key[1] != "shop"}
    written = {(writer.command, name) for writer in WRITERS.values() for name in writer.writes}
    assert written.isdisjoint(READS)
    assert named == written | READS | BY_A_BROWSER | BY_THE_LEDGER


def test_every_writer_uses_the_parameters_that_it_names() -> None:
    known = parameters()
    for name, writer in WRITERS.items():
        for what in writer.writes:
            parameter = known[writer.command, what]
            if isinstance(parameter, click.Option):
                assert set(parameter.opts) & set(writer.arguments), (name, what)


def test_only_the_saving_module_opens_files_to_write() -> None:
    """Else a command could write past it; what is written otherwise goes to temporary folders."""
    allowed = {
        "core/save.py",
        "cli/streams.py",
        "server/run.py",  # the lock of the server
        "server/folder.py",
        "tables/kept.py",  # the copy of the shop, which can be made again and is held against its sum
        "server/donors.py",  # a folder for photos; a list in a temporary folder
    }
    root = Path(estimator.__file__).parent
    found = set()
    for path in root.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            modes = [
                a.value
                for a in (*node.args, *(k.value for k in node.keywords))
                if isinstance(a, ast.Constant)
            ]
            writes = any(
                isinstance(mode, str) and re.fullmatch(r"[rwaxbt+]*[wax+][rwaxbt+]*", mode) for mode in modes
            )
            if called in {"write_text", "write_bytes", "mkstemp", "mkdir"} or (
                called in {"open", "fdopen"} and writes
            ):
                found.add(path.relative_to(root).as_posix())
    assert found == allowed


# ------------------------------------------------------------------- a full disk


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow if name in LIKE_OTHERS else ()) for name in WRITERS]
)
def test_a_full_disk_leaves_no_file_and_no_folder(name: str, place: Path) -> None:
    refused(*in_child(WRITERS[name].line, place, small_disk), {"": b""})
    assert list((place / "out").iterdir()) == []


@pytest.mark.slow
@ALL
def test_a_full_disk_leaves_the_old_files(name: str, place: Path, whole: Callable[[str], Tree]) -> None:
    names = whole(name)
    before = fill(place / "out", names)
    refused(*in_child(WRITERS[name].line, place, small_disk), names)
    assert tree(place / "out") == before


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=() if name in QUICK else pytest.mark.slow) for name in WRITERS]
)
def test_a_disk_that_fills_up_at_the_last_file(name: str, place: Path, whole: Callable[[str], Tree]) -> None:
    names = whole(name)
    before = fill(place / "out", names)
    status, said = in_child(WRITERS[name].line, place, full_at(len(names)))
    refused(status, said, names)
    assert "no space left" in said
    assert "make room" in said
    assert tree(place / "out") == before


@pytest.mark.slow
def test_a_full_temporary_folder_is_named(place: Path) -> None:
    line = WRITERS["choose-mps"].line
    status, said = in_child(
        line, place, lambda: os.environ.update(TMPDIR=str(place / "none")) or small_disk()
    )
    refused(status, said, {"model.mps": b""})
    assert "temporary folder" in said
    assert "TMPDIR" in said


# ------------------------------------------------------------------- where to


@pytest.mark.slow
@ALL
@pytest.mark.parametrize("old", [False, True])
def test_a_folder_that_may_only_be_read(
    name: str, old: bool, place: Path, whole: Callable[[str], Tree]
) -> None:
    names = whole(name)
    before = fill(place / "out", names) if old else {}
    folders = [place / "out", *(path for path in (place / "out").rglob("*") if path.is_dir())]
    for folder in folders:
        folder.chmod(0o555)
    try:
        status, said = in_child(WRITERS[name].line, place, no_rights)
    finally:
        for folder in folders:
            folder.chmod(0o755)
    refused(status, said, names if old else {**names, "deep": b"", "tables": b""})
    assert tree(place / "out") == before


@pytest.mark.slow
@ALL
def test_links_stay_and_what_they_lead_to_is_replaced(
    name: str, place: Path, whole: Callable[[str], Tree]
) -> None:
    names = whole(name)
    fill(place / "real", names)
    for file in names:
        link = place / "out" / file
        link.parent.mkdir(parents=True, exist_ok=True)
        link.symlink_to(place / "real" / file)
    status, said = in_child(WRITERS[name].line, place)
    assert status == 0, said
    assert all((place / "out" / file).is_symlink() for file in names)
    assert tree(place / "real") == names


@pytest.mark.slow
@ALL
def test_links_to_a_full_disk_leave_what_they_lead_to(
    name: str, place: Path, whole: Callable[[str], Tree]
) -> None:
    names = whole(name)
    before = fill(place / "real", names)
    for file in names:
        link = place / "out" / file
        link.parent.mkdir(parents=True, exist_ok=True)
        link.symlink_to(place / "real" / file)
    refused(*in_child(WRITERS[name].line, place, full_at(len(names))), names)
    assert tree(place / "real") == before
    assert all((place / "out" / file).is_symlink() for file in names)


@pytest.mark.slow
@ALL
def test_a_pipe_gets_the_bytes_of_the_file(name: str, place: Path, whole: Callable[[str], Tree]) -> None:
    names = whole(name)
    for pipe in names:  # each of them once as a pipe
        if name == "shop-book-read" and pipe != min(names):
            continue
        shutil.rmtree(place / "out")
        fill(place / "out", names)
        at = place / "out" / pipe
        at.unlink()
        os.mkfifo(at)
        got: list[bytes] = []
        reader = threading.Thread(target=lambda at=at, got=got: got.append(at.read_bytes()))
        child = started(WRITERS[name].line, place, lambda: None)
        reader.start()
        status, said = ended(*child)
        reader.join(10)
        assert status == 0, said
        assert stat.S_ISFIFO(at.stat().st_mode)
        assert got == [names[pipe]]
        assert tree(place / "out") == {file: data for file, data in names.items() if file != pipe}


# ------------------------------------------------------------------- two at once


@pytest.mark.slow
@ALL
def test_two_at_once_leave_the_files_whole(name: str, place: Path, whole: Callable[[str], Tree]) -> None:
    names = whole(name)
    both = [started(WRITERS[name].line, place, lambda: None) for _ in range(2)]
    for child in both:
        status, said = ended(*child)
        assert status == 0, said
    assert tree(place / "out") == names


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name, writer in WRITERS.items() if writer.force])
def test_of_two_at_once_that_may_not_replace_one_writes(
    name: str, place: Path, whole: Callable[[str], Tree]
) -> None:
    names = whole(name)
    line = [WRITERS[name].command, *WRITERS[name].arguments]
    ends = [ended(*child) for child in [started(line, place, lambda: None) for _ in range(2)]]
    assert sorted(status for status, _ in ends) == [0, Exit.BAD_INPUT], ends
    refused(*max(ends), names)
    assert tree(place / "out") == names


# ------------------------------------------------------------------- killed in the middle

KILLED = 77
#: where a process is killed: the call, the how-manieth of it, and whether it has been done by then
MOMENTS = (("fsync", 1, False), ("replace", 1, False), ("replace", 1, True))


def dies_at(step: str, number: int, done: bool) -> Callable[[], None]:
    """The process ends without a word of farewell at a call of the system, before or after it."""

    def before() -> None:
        real, calls = getattr(os, step), []

        def dies(*given: object) -> object:
            calls.append(given)
            if len(calls) == number and not done:
                os._exit(KILLED)
            found = real(*given)
            if len(calls) == number:
                os._exit(KILLED)
            return found

        setattr(saving.os, step, dies)  # in the child only

    return before


def later() -> None:
    """The clock has gone on: no writer of before can still be at work."""
    real = saving.time.time
    saving.time.time = lambda: real() + 2 * saving.LONGEST_WRITE  # in the child only


def whole_or_as_before(folder: Path, before: Tree, names: Tree) -> set[str]:
    """Every file is the old one or the new one; what else lies there is left over by name. Returns the new ones."""
    there = tree(folder)
    for file in names:
        assert there[file] in (before[file], names[file]), f"{file} is neither whole nor as before"
    assert all(Path(file).name.startswith(".") for file in there.keys() - names.keys())
    assert all(file.endswith(saving.PART) for file in there.keys() - names.keys())
    return {file for file in names if there[file] != before[file]}


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=() if name == "draw" else pytest.mark.slow) for name in WRITERS]
)
def test_who_is_killed_while_writing_leaves_whole_files(
    name: str, place: Path, whole: Callable[[str], Tree]
) -> None:
    names = whole(name)
    before = fill(place / "out", names)
    for step, number, done in MOMENTS:
        status, said = in_child(WRITERS[name].line, place, dies_at(step, number, done))
        assert status == KILLED, said
        assert len(whole_or_as_before(place / "out", before, names)) == done
        assert len(tree(place / "out")) > len(names) or (
            len(names) == 1 and done
        )  # there is something to clear
    status, said = in_child(WRITERS[name].line, place, later)
    assert status == 0, said
    assert tree(place / "out") == names


class Bookkeeper(Struct, frozen=True):
    """A command that writes into the ledger; ``first``: what has to have been recorded before."""

    line: str
    first: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


NOW = "--now 2026-10-05T10:00"
BOOKED = (f"book in/plain.toml {NOW}",)
QUOTED = (*BOOKED, f"quote plain {NOW}")
BOUGHT = f"stock bought c-strings-guitar 2 --cost 14 {NOW}"
TAKEN = (*QUOTED, f"accept plain {NOW}")
BOOKKEEPERS = {
    "book": Bookkeeper(BOOKED[0]),
    "quote": Bookkeeper(QUOTED[-1], BOOKED),
    "accept": Bookkeeper(TAKEN[-1], QUOTED),
    "pay": Bookkeeper(f"pay plain 20 {NOW}", BOOKED),
    "move": Bookkeeper(f"move plain waiting {NOW}", TAKEN),
    "begin": Bookkeeper(f"begin plain set-action {NOW}", TAKEN),
    "pause": Bookkeeper(f"pause {NOW}", (*TAKEN, f"begin plain set-action {NOW}")),
    "end": Bookkeeper(
        "end plain set-action --now 2026-10-05T10:20", (*TAKEN, f"begin plain set-action {NOW}")
    ),
    "time": Bookkeeper(f"time plain set-action 12 {NOW}", TAKEN),
    "correct": Bookkeeper(f"correct 1 9 {NOW}", (*TAKEN, f"time plain set-action 12 {NOW}")),
    "stock": Bookkeeper(BOUGHT, BOOKED),
    "agree": Bookkeeper(f"agree plain strings-stay {NOW}", TAKEN),
    "photo": Bookkeeper(f"photo plain in/quote.xlsx {NOW}", BOOKED),
    "paper": Bookkeeper(
        f"paper plain invoice --page out/p.html -o out/p.xlsx --force {NOW}", TAKEN, ("p.html", "p.xlsx")
    ),
    "erase-customer": Bookkeeper(f"erase-customer Player {NOW}", (*BOOKED, f"move plain declined {NOW}")),
    "used": Bookkeeper(f"used plain set-action c-strings-guitar=1 {NOW}", (*TAKEN, BOUGHT)),
    "parcel": Bookkeeper(f"parcel parts-house --expected 2026-12-20 {NOW}", BOOKED),
}
COPIERS = {
    "backup": Bookkeeper("backup out/copy.sqlite --force", TAKEN, ("copy.sqlite",)),
    "export": Bookkeeper(
        f"export -o out/all.xlsx --csv out --force {NOW}", TAKEN, ("all.xlsx", "job.csv", "quote.csv")
    ),
    "paper": BOOKKEEPERS["paper"],
    "receipt": Bookkeeper(
        f"receipt plain -o out/r.txt --force {NOW}", (*TAKEN, f"pay plain 20 {NOW}"), ("r.txt",)
    ),
    "report": Bookkeeper(f"report -o out/r.xlsx {NOW}", TAKEN, ("r.xlsx",)),
}
ONLY_READ = {"board", "show", "show-customer", "instrument", "running", "check"}
AS_TIME_DOES = {"card"}  # one time of each row of a card, in one transaction


def dies_at_commit(done: bool) -> Callable[[], None]:
    """The process ends as a transaction is to be kept, or just after it was."""

    def before() -> None:
        class Dying(sqlite3.Connection):
            def execute(self, sql: str, *values: object) -> sqlite3.Cursor:  # type: ignore[override]
                keeps = sql == "COMMIT" and self.total_changes > 0
                if keeps and not done:
                    os._exit(KILLED)
                found = super().execute(sql, *values)  # type: ignore[arg-type]
                if keeps:
                    os._exit(KILLED)
                return found

        real = sqlite3.connect
        sqlite3.connect = lambda *given, **more: real(*given, factory=Dying, **more)  # in the child only

    return before


def recorded(place: Path) -> dict[str, object]:
    with Ledger(place / "ledger.sqlite", new=True) as books:
        assert books.faults() == []
        return {name: rows for name, (_, rows) in books.tables().items()}


def ledger_of(keeper: Bookkeeper, place: Path) -> list[str]:
    """A ledger in which all is recorded that comes before; the line of the command."""
    for line in keeper.first:
        status, said = in_child(["ledger", *line.split()], place)
        assert status == 0, said
    return ["ledger", *keeper.line.split()]


def test_every_command_of_the_ledger_is_known_as_one_that_records_copies_or_reads() -> None:
    group = typer.main.get_command(make_app()).commands["ledger"]  # type: ignore[attr-defined]
    assert set(group.commands) == set(BOOKKEEPERS) | set(COPIERS) | ONLY_READ | AS_TIME_DOES


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=() if n == "stock" else pytest.mark.slow) for n in BOOKKEEPERS]
)
def test_who_is_killed_while_recording_has_recorded_all_of_it_or_nothing(name: str, place: Path) -> None:
    line = ledger_of(BOOKKEEPERS[name], place)
    before = recorded(place)
    status, said = in_child(line, place, dies_at_commit(False))
    assert (status, recorded(place)) == (KILLED, before), said
    status, said = in_child(line, place, dies_at_commit(True))
    assert status == KILLED, said
    assert recorded(place) != before


@pytest.mark.slow
@pytest.mark.parametrize("name", COPIERS)
def test_who_is_killed_while_copying_the_ledger_leaves_whole_files(name: str, place: Path) -> None:
    keeper = COPIERS[name]
    line = ledger_of(keeper, place)
    status, said = in_child(line, place)
    assert status == 0, said
    names = tree(place / "out")
    assert set(keeper.files) <= set(names)
    before = fill(place / "out", names)
    status, said = in_child(line, place, dies_at("replace", 1, False))
    assert status == KILLED, said
    there = tree(place / "out")
    assert {file: there[file] for file in names} == before
    assert len(there) > len(names)
    status, said = in_child(line, place, later)
    assert status == 0, said
    assert set(tree(place / "out")) == set(names)
    assert not set(tree(place / "out").values()) & set(before.values())

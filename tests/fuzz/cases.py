"""One case: a damaged file in a folder of its own, a command that reads it, and what has to hold then."""

from __future__ import annotations

import io
import json
import os
import random
import re
import signal
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from types import FrameType

from msgspec import Struct

from estimator.cli.main import run
from estimator.model import Shop
from estimator.tables import load
from estimator.tables.csv_rows import Key, TableRead, TableRow
from estimator.tables.schema.table import TableSpec
from tests.fuzz.damage import damaged
from tests.fuzz.readers import Reader, Seeds

_ACTS = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""What acts on a terminal, or makes a text read other than it is."""
LONGEST_S = 120
"""No case takes so long, however the file is made."""
JSON_COMMANDS = re.compile(r"^(?!draw|ledger backup|page|shop-book|intake)")


class TooLong(BaseException):  # past every handler of the program
    pass


class Case(Struct, frozen=True):
    """What was tried: so much of it that it can be tried again."""

    reader: str
    seed: str
    done: str
    line: list[str]
    status: int
    wrong: tuple[str, ...]
    said: str
    data: bytes


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, by name."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def tried(reader: Reader, seeds: Seeds, seed: str) -> Case:
    """One case of a reader; the seed says which."""
    chance = random.Random(f"{reader.name} {seed}")
    data, done = damaged(seeds[reader.file], reader.kind, chance)
    line = chance.choice(reader.arguments)
    as_json = chance.random() < 0.2 and JSON_COMMANDS.match(" ".join(line)) is not None
    line = [*line, "--json"] if as_json else line
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for name in (*reader.beside, reader.file):
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(data if name == reader.file else seeds[name])
        (folder / "own").mkdir(exist_ok=True)
        (folder / "out").mkdir()
        before = tree(folder)
        status, out, told = _run(line, folder)
        wrong = list(_wrong(reader, status, out, told, as_json))
        wrong += _changed(reader, before, tree(folder), status)
    return Case(reader.name, seed, done, line, status, tuple(wrong), told, data)


def _run(line: list[str], folder: Path) -> tuple[int, str, str]:
    out, told = io.StringIO(), io.StringIO()
    with chdir(folder), redirect_stdout(out), redirect_stderr(told), _no_longer_than(LONGEST_S):
        try:
            status = run(line)
        except TooLong:
            status = -1
        except BaseException as error:
            status = -2
            print(f"went through all handlers: {error!r}", file=told)
    return status, out.getvalue(), told.getvalue()


@contextmanager
def default_shop_read_once() -> Iterator[None]:
    """The shop that comes along is the same in every case, and reading it takes longer than most of them."""
    real, read = load.load_shop, load.read_table
    known: list[Shop] = []
    tables: dict[tuple[str, bytes], TableRead] = {}

    def once(folder: str | os.PathLike[str] | None = None) -> Shop:
        if folder is not None:
            return real(folder)
        if not known:
            known.append(real())
        return known[0]

    def table_once(
        data: bytes,
        spec: TableSpec,
        file: str,
        base: Mapping[Key, TableRow] | None = None,
        currency: str = "",
    ) -> TableRead:
        if base is not None:
            return read(data, spec, file, base, currency)
        if (file, data) not in tables:
            tables[file, data] = read(data, spec, file)
        return tables[file, data]

    load.load_shop, load.read_table = once, table_once
    try:
        yield
    finally:
        load.load_shop, load.read_table = real, read


@contextmanager
def _no_longer_than(seconds: int) -> Iterator[None]:
    def rings(number: int, frame: FrameType | None) -> None:
        raise TooLong

    before = signal.signal(signal.SIGALRM, rings)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def _wrong(reader: Reader, status: int, out: str, told: str, as_json: bool) -> Iterator[str]:
    """What is wrong with an exit status and what was said."""
    if status not in (0, 1, 2):
        yield f"status {status}"
    for sign in ("Traceback", "fault in the program", "went through all handlers"):
        if sign in told + out:
            yield sign
    errors = [line for line in told.splitlines() if line.startswith("error: ")]
    if status == 2:
        if not errors:
            yield "refused without a word"
        elif not any(reader.is_named_in(line) or line.startswith("error: --") for line in errors):
            yield "the file is not named"
        for line in errors:
            if "; next: " not in line and "; accepted: " not in line:
                yield f"does not say what to do: {line[:200]}"
            if _ACTS.search(line):
                yield f"control characters in a message: {line[:200]!r}"
            if len(line) > 2500:
                yield f"a message of {len(line)} letters"
    elif errors and not reader.by_row:
        yield f"status {status}, but complains"
    if not as_json and _ACTS.search(out):
        yield "control characters in the output"
    if as_json:
        try:
            json.loads(out)
        except ValueError as error:
            yield f"no JSON with --json: {error}"


def _changed(reader: Reader, before: dict[str, bytes], after: dict[str, bytes], status: int) -> Iterator[str]:
    for name in sorted(before.keys() | after.keys()):
        if before.get(name) == after.get(name):
            continue
        new = name not in before
        if name.startswith("ledger.sqlite") and (reader.own or status == 0):
            continue
        if name.startswith("ledger.sqlite-"):
            continue
        if new and status == 0 and name.startswith(f"out{os.sep}") and not name.endswith(".part"):
            continue
        yield f"{'new' if new else 'changed or lost'}: {name}"

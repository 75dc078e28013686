"""Every file that the program reads: a good one, its kind, and the commands that read it.

``tests/cli/test_fuzz.py`` holds this list against the parameters that name files and the tables there are.
"""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable, Mapping
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path

from msgspec import Struct

from estimator.cli.main import run
from estimator.tables.folders import SHOP_FILE, read_default
from estimator.tables.schema.shop import TABLES

EXAMPLES = Path(__file__).parent.parent.parent / "example_jobs"
FULL_JOBS = ("tight-commission", "resale-flip", "short-scale-bass", "school-guitar")
PLAIN = """\
[job]
id = "plain"
kind = "commission"
what = "easier to play"
customer = "A. Customer"
received = 2026-10-05
wanted_by = 2026-10-30
photo = "photo.png"

[instrument]
kind = "guitar-solid"
tier = "B"
action_b = 2.4
nut_wid = "1 5/8 in"
levels = { tuning-stability = 2 }

[wish]
require = { action = 2 }
weights = { action = 10, hum = 5 }
limits = { weight = { most = "3.6 kg" } }

[budget]
money = 250
hours = "6 h 30 min"
surety = 80

[upgrades]
open = ["set-up", "clean-controls"]

[stock]
c-strings-guitar = 1

[terms]
rush = true
"""
RESALE = PLAIN.replace('"commission"', '"resale"').replace(
    "[budget]", '[resale]\ncondition = "fair-working"\n\n[budget]'
)
BATCH = """\
[batch]
id = "one"
what = "a week"
start = 2026-10-05
pace = "usual"
days_off = ["2026-10-07"]

[[person]]
id = "bench"
skill = 4

[[job]]
id = "a"
file = "plain.toml"
due = 2026-10-16
"""
STATE = """\
[state]
plan = "week.json"
now = "2026-10-05 10:30"
others = "as-planned"

[[done]]
operation = "a:strings-off"
ended = "2026-10-05 09:30"

[[running]]
operation = "a:tighten-hardware"
minutes_left = 5

[[not_done]]
operation = "a:string-up"
"""
LISTINGS = """\
id,what,ask,tier,condition,seen,travel_min,base_clean,fret_h,kind
one,a guitar,120,B,fair-working,photos,30,,1.0,guitar-solid
two,another,"$1,250",C,project,held,0,300,0.9,guitar-solid
three,a bass,90,B,needs-set-up,photos,15,,1.1,bass-solid
"""
MENU = "job,price,minutes\nset-up-hardtail,65,\njack,,20\nset-up-hardtail,,60 min\n"
ROWS = 4
"""Rows of a default table that an own table begins with."""

Make = Callable[[Path, random.Random], None]


class Reader(Struct, frozen=True):
    """A file that is read: its name in a folder, its kind, what stands beside it, the commands that read it."""

    name: str
    file: str
    kind: str
    lines: tuple[str, ...]
    beside: tuple[str, ...] = ()
    by_row: bool = False  # rows in error are told and left out, and the others dealt with
    own: bool = False  # the file may be written by the command itself
    slow: bool = False  # takes a second or more a case, so not among the quick tests

    def is_named_in(self, words: str) -> bool:
        """Whether words name the file."""
        return Path(self.file).stem in words

    @property
    def arguments(self) -> list[list[str]]:
        return [line.split() for line in self.lines]


JOB = "plain.toml"
OWN_SHOP = ("check --shop own", "check --shop own", "fit plain.toml --shop own")
READERS: tuple[Reader, ...] = (
    Reader(
        "job",
        JOB,
        "toml",
        (
            *(f"{name} {JOB}" for name in ("check", "fit", "check", "fit", "triage", "price --with set-up")),
            "estimate plain.toml --with set-up",
            "change plain.toml --quoted set-up --now clean-controls",
        ),
        ("photo.png",),
    ),
    Reader(
        "job-chosen",
        JOB,
        "toml",
        (
            "choose plain.toml",
            "risk plain.toml",
            "measure plain.toml",
            "page plain.toml -o out/page.html",
            "quote plain.toml -o out/quote.xlsx",
            "reprice plain.toml quote.xlsx",
            "ledger book plain.toml",
        ),
        ("photo.png", "quote.xlsx"),
        slow=True,
    ),
    Reader("job-sold", "resale.toml", "toml", ("offer resale.toml", "sell resale.toml"), slow=True),
    *(
        Reader(
            f"job-{name}",
            f"{name}.toml",
            "toml",
            (
                f"check {name}.toml",
                f"fit {name}.toml",
                f"draw {name}.toml --upgrade hardtail-bridge --folder out",
            ),
        )
        for name in FULL_JOBS
    ),
    Reader("picture", "photo.png", "bytes", ("page plain.toml -o out/page.html",), (JOB,), slow=True),
    Reader(
        "settings",
        f"own/{SHOP_FILE}",
        "toml",
        (*OWN_SHOP, "price plain.toml --with set-up --shop own"),
        (JOB,),
    ),
    Reader(
        "own-shop",
        "own/tasks.csv",
        "csv",
        ("own-shop --shop own", "menu --shop own", "rate --shop own"),
        slow=True,
    ),
    *(Reader(f"table-{spec.name}", f"own/{spec.file}", "csv", OWN_SHOP, (JOB,)) for spec in TABLES),
    Reader("batch", "batch.toml", "toml", ("plan batch.toml --engine rule",), (JOB, "photo.png")),
    Reader(
        "state",
        "state.toml",
        "toml",
        ("plan batch.toml --state state.toml --engine rule",),
        ("batch.toml", JOB, "photo.png", "week.json"),
    ),
    Reader(
        "plan",
        "week.json",
        "json",
        (
            "plan batch.toml --state state.toml --engine rule",
            "plan batch.toml --progress week.json --ledger ledger.sqlite --engine rule",
            "quote plain.toml --plan week.json#a -o out/quote.xlsx",
        ),
        ("batch.toml", JOB, "photo.png", "state.toml", "ledger.sqlite"),
    ),
    Reader("listings", "listings.csv", "csv", ("offer --list listings.csv",), by_row=True),
    Reader(
        "sheet-text",
        "sheet.txt",
        "txt",
        ("intake sheet.txt -o out/job.toml",),
    ),
    Reader("sheet", "sheet.xlsx", "xlsx", ("intake sheet.xlsx -o out/job.toml",), slow=True),
    Reader(
        "quote",
        "quote.xlsx",
        "xlsx",
        ("reprice plain.toml quote.xlsx", "worked quote.xlsx"),
        (JOB, "photo.png"),
        slow=True,
    ),
    Reader(
        "cards",
        "week.xlsx",
        "xlsx",
        ("worked week.xlsx", "ledger card week.xlsx"),
        ("ledger.sqlite",),
        slow=True,
    ),
    Reader("shop-book", "shop.xlsx", "xlsx", ("shop-book --read shop.xlsx --folder out/tables",), slow=True),
    Reader("menu", "menu.csv", "csv", ("calibrate menu.csv --shop own",), ("own/shop.toml",)),
    Reader(
        "ledger",
        "ledger.sqlite",
        "bytes",
        (
            "ledger check",
            "ledger board",
            "ledger show plain",
            "ledger stock",
            "ledger report",
            "ledger export --csv out/tables",
            "ledger backup out/copy.sqlite",
            "learn --shop own --ledger ledger.sqlite",
            "choose plain.toml --stock-from-ledger",
            "calibrate menu.csv --shop own --ledger ledger.sqlite",
            "plan batch.toml --stock-from-ledger --engine rule",
        ),
        (JOB, "photo.png", "own/shop.toml", "menu.csv", "batch.toml"),
        own=True,
    ),
)
BY_NAME: Mapping[str, Reader] = {reader.name: reader for reader in READERS}


def own_table(name: str) -> bytes:
    """The first rows of a default table as those of a shop's own."""
    rows = list(csv.reader(io.StringIO(read_default().files[name].decode())))
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(rows[: ROWS + 1])
    return out.getvalue().encode()


def made_by(folder: Path, *lines: str) -> None:
    """Files that the program itself writes; AssertionError where it does not."""
    for line in lines:
        said = io.StringIO()
        with chdir(folder), redirect_stdout(said), redirect_stderr(said):
            assert run(line.split()) == 0, (line, said.getvalue())


class Seeds:
    """Good files in a folder of their own, made when they are first asked for."""

    TEXTS: Mapping[str, str] = {
        JOB: PLAIN,
        "resale.toml": RESALE,
        "batch.toml": BATCH,
        "state.toml": STATE,
        "listings.csv": LISTINGS,
        "menu.csv": MENU,
    }
    COMMANDS: Mapping[str, str] = {
        "sheet.txt": "new job-of-sheet-text.toml --sheet sheet.txt --for new-jack",
        "sheet.xlsx": "new job-of-sheet.toml --sheet sheet.xlsx --for new-jack",
        "quote.xlsx": "quote plain.toml -o quote.xlsx",
        "week.json": "plan batch.toml --engine rule --save-plan week.json",
        "week.xlsx": "plan batch.toml --engine rule -o week.xlsx",
        "shop.xlsx": "shop-book --write shop.xlsx",
        "ledger.sqlite": "ledger book plain.toml",
    }
    THEN: Mapping[str, tuple[str, ...]] = {
        "ledger.sqlite": (
            "ledger quote plain",
            "ledger accept plain",
            "ledger time plain set-action 12",
            "ledger stock bought c-strings-guitar 2 --cost 5",
            "ledger pay plain 20",
        ),
    }

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._kept: dict[str, bytes] = {}

    def __getitem__(self, file: str) -> bytes:
        if file not in self._kept:
            self._kept[file] = self._made(file)
        return self._kept[file]

    def _made(self, file: str) -> bytes:
        if file in self.TEXTS:
            return self.TEXTS[file].encode()
        if file == "photo.png":
            return (EXAMPLES / "pictures" / "week.png").read_bytes()
        if Path(file).stem in FULL_JOBS:
            return (EXAMPLES / file).read_bytes()
        if file == f"own/{SHOP_FILE}":
            return read_default().files[SHOP_FILE]
        if file.startswith("own/"):
            return own_table(file.removeprefix("own/"))
        for name in (JOB, "photo.png", "batch.toml"):
            (self.folder / name).write_bytes(self[name])
        made_by(self.folder, self.COMMANDS[file], *self.THEN.get(file, ()))
        return (self.folder / file).read_bytes()

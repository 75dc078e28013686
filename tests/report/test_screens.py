"""Screens: nothing wider than the terminal, no blanks at the end, no word broken; the short form and the long one."""

from __future__ import annotations

import ast
import os
import random
import re
from functools import cache
from itertools import pairwise
from pathlib import Path
from time import sleep

import pytest

from estimator.batch.build import study_batch
from estimator.cli.common import batch_path
from estimator.cli.main import run
from estimator.core.text import columns_of, folded
from estimator.input.batch.load import load_batch
from estimator.plan.plan import Plan, plan_batch
from estimator.report.text import terminal
from estimator.report.text.terminal import Layout
from estimator.tables.load import load_shop
from estimator.workbook.plan_files import Besides
from estimator.workbook.plan_files import show as show_plan

JOB_FILES = Path(__file__).parents[2] / "example_jobs"
JOBS = ("impossible-wish", "resale-flip", "school-guitar", "short-scale-bass", "tight-commission")
FOR_SALE = "resale-flip"
BATCHES = ("batch-school", "batch-three")
FOR_CUSTOMERS = ("school-guitar", "tight-commission", "impossible-wish")
OF_JOBS = ("check", "fit", "choose", "estimate", "risk", "measure", "quote")
WIDTHS = (44, 80, 120, terminal.PIPED)
CASES = [
    *((command, job) for command in OF_JOBS for job in JOBS),
    *(("price", job) for job in FOR_CUSTOMERS),
    ("offer", FOR_SALE),
    ("sell", FOR_SALE),
]
QUICK = {("check", "tight-commission"), ("fit", "short-scale-bass")}
SCREEN = 60
"""Lines that the short form takes at most on 80 columns."""
MARKS = re.compile(r"^\W+|\W+$")


def layouts(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> list[Layout]:
    """All that a command puts out, before it is laid out."""
    found: list[Layout] = []
    with monkeypatch.context() as patched:
        patched.setattr(terminal, "show", found.append)
        assert run(arguments) in (0, 1)
    return found


def at(found: list[Layout], columns: int) -> list[str]:
    return [line for layout in found for line in layout(columns)]


def words_of(lines: list[str]) -> set[str]:
    """The words that are told, without the marks around them and the rules of tables."""
    return {MARKS.sub("", word) for line in lines for word in line.split()} - {""}


def hold(lines: list[str], columns: int, wide: list[str]) -> None:
    """Nothing wider, no blank at the end; the very words of a screen without end, none broken and none lost.

    Heads may be left out where a table becomes a list: that of its first column, and of columns without a word.
    """
    for line in lines:
        assert line == line.rstrip(), line
        # a word (a path) that is wider than a line stands on it by itself, whole
        assert columns_of(line) <= columns or len(line.split()) == 1, line
    heads = words_of([above for above, line in pairwise(wide) if line and set(line) <= {" ", "─"}])
    assert not words_of(lines) - words_of(wide)
    assert words_of(wide) - words_of(lines) <= heads


@pytest.mark.parametrize("full", [False, True], ids=["short", "full"])
@pytest.mark.parametrize(
    ("command", "name"),
    [pytest.param(*c, marks=() if c in QUICK else pytest.mark.slow, id="-".join(c)) for c in CASES],
)
def test_nothing_is_wider_than_the_terminal(
    command: str, name: str, full: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    beside = {"quote": ["-o", "q.xlsx"]}.get(command, [])
    found = layouts([command, f"example:{name}", *beside, *(["--full"] if full else [])], monkeypatch)
    wide = at(found, 100_000)
    assert wide
    for columns in WIDTHS:
        hold(at(found, columns), columns, wide)
    assert full or len(at(found, 80)) <= SCREEN


@cache
def planned(name: str) -> Plan:
    plan = plan_batch(
        study_batch(load_shop(None), load_batch(batch_path(f"example:{name}"), load_shop(None)))
    )
    assert isinstance(plan, Plan)
    return plan


@pytest.mark.slow
@pytest.mark.parametrize("full", [False, True], ids=["short", "full"])
@pytest.mark.parametrize("name", BATCHES)
def test_a_plan_is_no_wider_than_the_terminal(
    name: str, full: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its days are laid out by their hours, so each width is printed anew from one plan."""
    plan = planned(name)

    def told(columns: int) -> list[str]:
        monkeypatch.setenv("COLUMNS", str(columns))
        show_plan(plan, Besides(full=full), as_json=False)
        return capsys.readouterr().out.splitlines()

    wide = told(100_000)
    for columns in WIDTHS:
        hold(told(columns), columns, wide)
    assert full or len(told(80)) <= SCREEN


@pytest.mark.parametrize(
    ("columns", "most"), [("44", 44), ("80", 80), ("", terminal.PIPED), ("0", terminal.PIPED)]
)
def test_the_width_is_that_of_the_environment_else_of_a_pipe(
    columns: str, most: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert run(["check", "example:tight-commission", "--full"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= most
    assert max(map(len, lines)) > most - 20  # it is made use of


def test_a_watched_terminal_tells_its_width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.setattr(terminal.sys, "stdout", Watched())
    monkeypatch.setattr(terminal.os, "get_terminal_size", lambda fd: os.terminal_size((57, 20)))
    assert terminal.width() == 57
    monkeypatch.setattr(terminal.os, "get_terminal_size", lambda fd: os.terminal_size((3, 20)))
    assert terminal.width() == terminal.LEAST


class Watched:
    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        return 1


@pytest.mark.parametrize("seed", range(60))
def test_whatever_is_laid_out_keeps_its_words(seed: int) -> None:
    """Drawn texts and tables at drawn widths: nothing wider, nothing broken, nothing lost."""
    draw = random.Random(seed)
    letters = "abcdefg-0123456789.é世"

    def word() -> str:
        return "".join(draw.choice(letters) for _ in range(draw.randint(1, 14)))

    def text(most: int = 12) -> str:
        return (" " * draw.randint(1, 2)).join(word() for _ in range(draw.randint(0, most)))

    for _ in range(20):
        columns = draw.randint(28, 130)
        said = " " * draw.randint(0, 8) + text(30)
        folded_text = terminal.laid_out(said, columns)
        assert " ".join(folded_text).split() == said.split()
        count = draw.randint(1, 6)
        heads = tuple(word() for _ in range(count))
        rows = [tuple(text(6) for _ in heads) for _ in range(draw.randint(0, 5))]
        right = tuple(n for n in range(count) if draw.random() < 0.3)
        table = terminal.table_lines(heads, rows, right, columns)
        listed = terminal.list_lines(heads, rows, columns)
        for lines in (folded_text, table or [], listed):
            assert all(columns_of(line) <= columns and line == line.rstrip() for line in lines)
        told = sorted(w for row in rows for cell in row for w in cell.split())
        if table is not None:
            body = [w for line in table for w in line.split() if set(w) != {"─"}]
            assert sorted(body) == sorted([*told, *heads])
        names = [
            f"{head}:" for row in rows for head, cell in zip(heads[1:], row[1:], strict=True) if cell.strip()
        ]
        assert sorted(w.rstrip(";") for line in listed for w in line.split()) == sorted([*told, *names])


def test_a_table_that_has_no_room_becomes_a_list() -> None:
    heads, rows = (
        ("task", "n", "for"),
        [("fit a nut", "1", "better tuning of the thing"), ("string up", "", "")],
    )
    wide = terminal.table_lines(heads, rows, (1,), 80)
    assert wide == [
        "",
        " task        n   for",
        " " + "─" * 42,
        " fit a nut   1   better tuning of the thing",
        " string up",
    ]
    assert terminal.table_lines(heads, rows, (1,), 40) is None
    assert terminal.list_lines(heads, rows, 40) == [
        "fit a nut",
        "  n: 1; for: better tuning of the thing",
        "string up",
    ]


def test_a_path_stands_whole_on_a_line_by_itself() -> None:
    path = "/a/" + "long/" * 20 + "file.xlsx"
    assert folded(f"wrote {path} and more", 30, "  ", "    ") == ["  wrote", path, "    and more"]


@pytest.mark.parametrize(
    ("minutes", "said"), [(0, "0"), (0.3, "< 1"), (0.5, "< 1"), (0.6, "1"), (12.49, "12"), (90.5, "90")]
)
def test_a_hand_reads_whole_minutes(minutes: float, said: str) -> None:
    assert terminal.whole(minutes) == said


@pytest.mark.slow
def test_the_short_form_names_verdict_money_time_measurement_and_caution(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """And the figures are those of the long form."""
    short = at(layouts(["choose", "example:tight-commission"], monkeypatch), 10_000)
    full = " ".join(at(layouts(["choose", "example:tight-commission", "--full"], monkeypatch), 10_000))
    said = {line.partition(":")[0] for line in short}
    assert {"Money", "Time", "Measure first, by odds x money", "Limit"} <= said
    assert sum(line.startswith("Caution, ") for line in short) == 1
    assert "proven optimal" in " ".join(short)
    money = re.findall(r"[\d,]+\.\d\d USD", next(line for line in short if line.startswith("Money: ")))
    assert len(money) == 3
    assert all(sum_ in full for sum_ in money)
    assert short[-1].startswith("--full: ")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "name"),
    [
        ("choose", "tight-commission"),
        ("choose", "school-guitar"),
        ("price", "school-guitar"),
        ("sell", FOR_SALE),
        ("offer", FOR_SALE),
    ],
)
def test_no_sum_of_the_short_form_is_missing_from_the_full_one(
    command: str, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    sums = re.compile(r"\d[\d,]*\.\d\d USD|\d{4}-\d\d-\d\d|Never: [^.]+")
    told = []
    for more in ([], ["--full"]):
        assert run([command, str(JOB_FILES / f"{name}.toml"), *more]) == 0
        told.append(" ".join(capsys.readouterr().out.split()))
    assert len(sums.findall(told[0])) > 4
    assert [one for one in sums.findall(told[0]) if one not in told[1]] == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "options"),
    [
        ("estimate", []),
        ("estimate", ["--full"]),
        ("price", []),
        ("price", ["--full"]),
        ("quote", ["-o"]),
        ("quote", ["--full", "-o"]),
    ],
)
def test_a_set_that_goes_beyond_a_limit_is_told_so(
    command: str, options: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A set that was named is priced whatever it comes to; by how much it is beyond the money and the day is said."""
    job = (JOB_FILES / "tight-commission.toml").read_text(encoding="utf-8")
    named = ("new-tuners-locking-six", "bridge-pickup-stack-slim-stack", "shield-paint", "set-up")
    path = tmp_path / "job.toml"
    book = [str(tmp_path / "q.xlsx")] if "-o" in options else []
    for most, said in ((525, "58.44 USD BEYOND it"), (583, "0.44 USD BEYOND it"), (584, "")):
        path.write_text(job.replace("money = 525 ", f"money = {most} "), encoding="utf-8")
        given = [command, str(path), *(word for name in named for word in ("--with", name)), *options, *book]
        assert run([*given, *(["--force"] if book and most > 525 else [])]) == 0
        told = " ".join(capsys.readouterr().out.split())
        assert f"Limit: price at most {most}.00 USD; {said}." in told if said else "BEYOND" not in told
        if command != "price":
            assert "NOT met: nut material, controls" in told or "--full" in options


def test_the_caution_that_is_told_is_the_first_by_rank() -> None:
    shop = load_shop(None)
    ranks = [hazard.rank for hazard in shop.hazards.values()]
    assert len(set(ranks)) == len(ranks)  # so that it is one and the same
    assert min(shop.hazards.values(), key=lambda hazard: hazard.rank).id == "H-SP"


class Told:
    """A terminal that keeps what is written to it."""

    def __init__(self) -> None:
        self.text = ""

    def isatty(self) -> bool:
        return True

    def write(self, text: str) -> int:
        self.text += text
        return len(text)

    def flush(self) -> None:
        return


def test_long_work_says_that_it_goes_on_where_somebody_watches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(terminal, "PATIENCE", 0.01)
    monkeypatch.setenv("TERM", "xterm")
    for seconds, shown in ((0.3, True), (0.0, False)):
        watched = Told()
        monkeypatch.setattr(terminal.sys, "stderr", watched)
        monkeypatch.setattr(terminal, "PATIENCE", 0.01 if shown else 30.0)
        with terminal.watching("choosing"):
            sleep(seconds)
        assert ("choosing" in watched.text) == shown


def test_nothing_is_said_of_long_work_where_nobody_watches(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(terminal, "PATIENCE", 0.0)
    with terminal.watching("choosing"):
        sleep(0.05)
    assert capsys.readouterr() == ("", "")


PRINTS = {
    "cli/common.py": 2,
    "cli/main.py": 1,
    "report/text/terminal.py": 1,
    "server/run.py": 2,
    "workbook/plan_files.py": 2,
}
"""Who prints without a layout: data, complaints, the version, an address; and the one place of all text."""


def test_text_is_put_out_in_one_place() -> None:
    package = Path(terminal.__file__).parents[2]
    found = {}
    for room in ("cli", "report", "workbook", "server"):
        for path in sorted((package / room).rglob("*.py")):
            calls = [
                node
                for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
            ]
            if calls:
                found[path.relative_to(package).as_posix()] = len(calls)
    assert found == PRINTS

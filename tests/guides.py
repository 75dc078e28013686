"""The README and the guides: where their blocks stand, what each has to show, and how they are brought up to date.

``python -m tests.guides`` runs every story again and writes what the commands print now, and the tables that are
made of the shop's own tables. A block says above itself what it is:

- ``<!-- example: ARGUMENTS -->``: an excerpt of what one command prints;
- ``<!-- story -->``: commands one after the other in a folder of their own, with what stands below each;
- ``<!-- file: NAME -->``: a file that stories and programs of the same guide find there;
- ``<!-- run -->``: a program that runs;
- ``<!-- table: NAME -->`` ... ``<!-- end -->``: a table made of the shop's own tables, or of what answers tell.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
import re
import shlex
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from estimator.cli.main import run
from estimator.report.records.reference import reference
from estimator.tables.load import load_shop

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
GUIDES = (README, *sorted((ROOT / "example_jobs" / "guides").glob("*.md")))
ELISION = "[...]"
EXAMPLE = re.compile(r"<!-- example: (?P<arguments>.*?) -->\n```text\n(?P<shown>.*?)```", re.S)
STORY = re.compile(r"<!-- story -->\n```text\n(?P<told>.*?)```", re.S)
FILE = re.compile(r"<!-- file: (?P<name>\S+) -->\n```\w+\n(?P<text>.*?)```", re.S)
PROGRAM = re.compile(r"<!-- run -->\n```python\n(?P<text>.*?)```", re.S)
TABLE = re.compile(r"<!-- table: (?P<name>\S+) -->\n(?P<text>.*?)<!-- end -->", re.S)
FENCE = re.compile(r"(?P<above>[^\n]*)\n```(?P<language>\w+)\n.*?```", re.S)
LONGEST, KEPT = 16, 10
"""What is longer than ``LONGEST`` lines is cut to the first ``KEPT`` when a story is written anew."""


def read(guide: Path) -> str:
    """The text of a guide."""
    return guide.read_text(encoding="utf-8")


def files_of(text: str, folder: Path) -> None:
    """Write the files that a guide shows into a folder."""
    for name, held in FILE.findall(text):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(held, encoding="utf-8")


def steps_of(told: str) -> list[tuple[str, list[str]]]:
    """The commands of a story with the lines that stand below each."""
    parts = (step.splitlines() for step in told.split("$ estimator ")[1:])
    return [(command, [line for line in shown if line]) for command, *shown in parts]


def printed(command: str) -> tuple[int, list[str]]:
    """The status of a command and what it prints, as a pipe shows it."""
    os.environ.pop("COLUMNS", None)
    told = io.StringIO()
    with contextlib.redirect_stdout(told):
        status = run(shlex.split(command))
    return status, [line.rstrip() for line in told.getvalue().splitlines()]


def shows(shown: list[str], fresh: list[str]) -> bool:
    """Whether lines are what was printed; pieces of it, in their order, where some are left out."""
    if ELISION not in shown:
        return shown == fresh
    at = 0
    for piece in "\n".join(shown).split(ELISION):
        chunk = piece.strip("\n").splitlines()
        starts = [i for i in range(at, len(fresh) - len(chunk) + 1) if fresh[i : i + len(chunk)] == chunk]
        if not starts:
            return False
        at = starts[0] + len(chunk)
    return True


@contextlib.contextmanager
def inside(folder: Path) -> Iterator[None]:
    """Work in a folder, and come back."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)


def wishes() -> Iterator[str]:
    """What can be wished for, with the words of its levels."""
    yield "| attribute | what it is | 1 | 2 | 3 | 4 |"
    yield "|---|---|---|---|---|---|"
    for row in load_shop(None).attributes.values():
        if any(row.words):
            yield f"| `{row.id}` | {row.what} | " + " | ".join(row.words[1:]) + " |"


def evidence() -> Iterator[str]:
    """How many rows of each table rest on what."""
    kinds = ("published", "common-practice", "memory", "demo")
    yield "| table | rows | " + " | ".join(kinds) + " |"
    yield "|---|--:|" + "--:|" * len(kinds)
    total: Counter[str] = Counter()
    for path in sorted((ROOT / "rates").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            found = Counter(row["basis"] for row in csv.DictReader(stream))
        total += found
        cells = (str(found[kind] or "") for kind in kinds)
        yield f"| `{path.stem}` | {sum(found.values())} | " + " | ".join(cells) + " |"
    yield f"| all | {sum(total.values())} | " + " | ".join(str(total[kind]) for kind in kinds) + " |"


TABLES: dict[str, Callable[[], Iterator[str]]] = {"wishes": wishes, "evidence": evidence, "data": reference}


def table(name: str) -> str:
    """A table as it stands in a guide."""
    return "\n".join(TABLES[name]()) + "\n"


def _told_anew(told: str, text: str) -> str:
    lines: list[str] = []
    with TemporaryDirectory() as name, inside(Path(name)):
        files_of(text, Path(name))
        for command, shown in steps_of(told):
            status, printed_now = printed(command)
            fresh = [line for line in printed_now if line]
            assert status in (0, 1), (command, fresh)
            kept = shown and shows(shown, fresh)
            cut = [*fresh[:KEPT], ELISION] if len(fresh) > LONGEST else fresh
            lines += [f"$ estimator {command}", *(shown if kept else cut)]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Bring every guide up to date."""
    for guide in GUIDES:
        text = before = read(guide)
        for told in STORY.findall(before):
            text = text.replace(told, _told_anew(told, before))
        for name, old in TABLE.findall(before):
            text = text.replace(
                f"<!-- table: {name} -->\n{old}<!-- end -->",
                f"<!-- table: {name} -->\n{table(name)}<!-- end -->",
            )
        if text != before:
            guide.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()

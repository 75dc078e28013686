"""The README shows what really comes out: every excerpt is compared with a fresh run."""

from __future__ import annotations

import os
import re
import shlex
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.input.reference import reference

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
EXAMPLE = re.compile(r"<!-- example: (?P<arguments>.*?) -->\n```text\n(?P<shown>.*?)```", re.S)
ELISION = "[...]"
STORY = re.compile(r"<!-- story -->\n```text\n(?P<told>.*?)```", re.S)


def fresh_output(arguments: str, capsys: pytest.CaptureFixture[str]) -> list[str]:
    os.environ.pop("COLUMNS", None)  # as a pipe shows it, like the README
    assert run(shlex.split(arguments)) in (0, 1)
    return [line.rstrip() for line in capsys.readouterr().out.splitlines()]


def chunks_of(shown: str) -> list[list[str]]:
    """The pieces between elisions, each a run of lines."""
    return [piece.strip("\n").splitlines() for piece in shown.split(ELISION)]


def contains(lines: list[str], chunk: list[str]) -> bool:
    return any(lines[i : i + len(chunk)] == chunk for i in range(len(lines) - len(chunk) + 1))


def test_the_readme_has_an_example() -> None:
    examples = EXAMPLE.findall(README.read_text(encoding="utf-8"))
    assert examples
    assert all(len(shown.splitlines()) > 10 for _, shown in examples)


@pytest.mark.parametrize("example", EXAMPLE.findall(README.read_text(encoding="utf-8")), ids=lambda e: e[0])
def test_excerpts_are_what_the_command_prints(
    example: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    arguments, shown = example
    lines = fresh_output(arguments, capsys)
    for chunk in chunks_of(shown):
        assert contains(lines, chunk), "\n".join(chunk)


@pytest.mark.parametrize("told", STORY.findall(README.read_text(encoding="utf-8")))
def test_a_story_goes_as_it_is_told(
    told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its commands, one after the other in an empty folder, print what stands below each."""
    monkeypatch.chdir(tmp_path)
    steps = told.split("$ estimator ")[1:]
    assert len(steps) > 5
    for step in steps:
        command, *shown = step.splitlines()
        assert [line for line in fresh_output(command, capsys) if line] == [line for line in shown if line]


def test_the_readme_tells_a_story() -> None:
    assert STORY.findall(README.read_text(encoding="utf-8"))


def test_every_command_is_in_the_readme(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    helped = capsys.readouterr().out
    commands = re.findall(r"^  ([a-z]+)  ", helped.split("Take in:")[1], re.M)
    text = README.read_text(encoding="utf-8")
    assert "choose" in commands
    assert [c for c in commands if f"`estimator {c}" not in text] == []


def test_the_table_reference_is_current() -> None:
    """Regenerate with: python -m estimator.input.reference > rates/README.md"""
    assert (ROOT / "rates" / "README.md").read_text(encoding="utf-8") == reference()


def test_what_the_guide_names_is_there() -> None:
    """Every file, folder, table and name of code in DEVELOPERS.md exists: nobody is sent to a place that is gone."""
    named = set(re.findall(r"`([^`\n]+)`", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")))
    homes = [ROOT, ROOT / "estimator", ROOT / "estimator/choose", ROOT / "rates", ROOT / "tests/benchmarks"]
    files = (*(ROOT / "estimator").rglob("*.py"), *(ROOT / "tests").rglob("*.py"))
    parts = {path.name for path in files} | {path.name for path in (ROOT / "estimator").rglob("*/")}
    code = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "estimator").rglob("*.py"))
    words = set(re.findall(r"\w+", code))
    tables = {path.stem for path in (ROOT / "rates").iterdir()}
    gone = []
    for name in named:
        if re.fullmatch(r"[\w./]+(/|\.py|\.csv)", name):
            there = (
                any((home / name).exists() for home in homes)
                or name.rstrip("/") in parts
                or any(ROOT.glob(f"estimator/*/{name}"))
            )
        elif re.fullmatch(r"_?[A-Za-z]+(_[A-Za-z]+)*", name):
            there = name in words or name in tables or name in parts or f"{name}.py" in parts
        else:
            continue
        if not there:
            gone.append(name)
    assert len(named) > 100
    assert gone == []

"""``--strict``: an unusual value of the job file stops the command; without it, it is a warning."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from estimator.cli.main import run

COMMANDS = (
    ["check"],
    ["fit"],
    ["estimate", "--with", "set-up"],
    ["choose"],
    ["quote", "--with", "set-up"],
)


@pytest.fixture
def thick(tmp_path: Path) -> Path:
    """A body of 90 mm: possible, but outside 28 to 60."""
    path = tmp_path / "thick.toml"
    path.write_text('[job]\nid = "thick"\nkind = "own"\n[instrument]\nkind = "guitar-solid"\nbody_thk = 90\n')
    return path


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c[0])
def test_an_unusual_value_stops_a_strict_command(
    command: list[str], thick: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([command[0], str(thick), *command[1:], "--strict"]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "error: " in printed.err
    for words in ("row 6", "body_thk", "found 90", "28 to 60 mm", "sure?", "run without --strict"):
        assert words in printed.err
    assert not list(tmp_path.glob("*.xlsx"))


@pytest.mark.parametrize("strict", [False, True])
def test_the_words_are_the_same_but_for_the_way_out(
    strict: bool, thick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["check", str(thick), "--json", *(["--strict"] if strict else [])]) == (2 if strict else 0)
    told = json.loads(capsys.readouterr().out)
    (issue,) = told["errors"] if strict else told["warnings"]
    assert issue["severity"] == ("error" if strict else "warning")
    assert issue["problem"] == "a value outside the usual range"
    assert ("--strict" in issue["next"]) is strict


def test_a_usual_job_passes(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "example:tight-commission", "--strict"]) == 0
    assert "in order" in capsys.readouterr().out

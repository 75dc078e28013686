"""A file that is not there, given to every command that reads one: which it is, and what to do next."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.cli.main import run

JOB = "example:school-guitar"
COMMANDS = (
    ["check", "gone.toml"],
    ["choose", "gone.toml"],
    ["plan", "gone.toml"],
    ["plan", "example:batch-three", "--state", "gone.toml"],
    ["plan", "example:batch-three", "--progress", "gone.json", "--ledger", "ledger.sqlite"],
    ["offer", "--list", "gone.csv"],
    ["calibrate", "gone.csv", "--shop", "own"],
    ["intake", "gone.xlsx", "-o", "new.toml"],
    ["intake", "gone.txt", "-o", "new.toml"],
    ["reprice", JOB, "gone.xlsx"],
    ["worked", "gone.xlsx"],
    ["ledger", "card", "gone.xlsx"],
    ["shop-book", "--read", "gone.xlsx", "--folder", "tables"],
    ["check", "--shop", "gone"],
    ["ledger", "board", "--ledger", "gone.sqlite"],
)


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_what_is_not_there_is_named_with_the_next_step(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "shop.toml").write_text("", encoding="utf-8")
    assert run(["ledger", "book", JOB]) == 0
    capsys.readouterr()
    there = sorted(tmp_path.rglob("*"))
    assert run(command) == 2
    said = capsys.readouterr().err
    assert "there is no such" in said or "there is no ledger" in said, said
    assert "gone" in said
    assert "next: " in said
    assert "Errno" not in said
    assert "No such file" not in said
    assert sorted(tmp_path.rglob("*")) == there

"""What a refusal of the shop's settings says to do next, in a newcomer's words."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.cli.main import run


def said(folder: Path, line: str, capsys: pytest.CaptureFixture[str]) -> str:
    folder.mkdir(exist_ok=True)
    (folder / "shop.toml").write_text(f"{line}\n", encoding="utf-8")
    assert run(["check", "--shop", str(folder)]) == 2
    return capsys.readouterr().err


def test_a_word_that_begins_a_meaning_finds_its_key(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "did you mean “menu_place”?" in said(tmp_path / "own", 'country = "DE"', capsys)
    assert "did you mean" not in said(tmp_path / "own", 'zzz = "DE"', capsys)

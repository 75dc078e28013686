"""What a refusal of the shop's settings says to do next, in a newcomer's words."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.errors import Issue
from estimator.tables.schema.settings import SETTINGS
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.values import read_section


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


@pytest.mark.parametrize("currency", ["$", "dollars", "usd", "€", "US Dollar", "EURO"])
def test_a_currency_is_told_by_its_three_letters(
    currency: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = said(tmp_path / "own", f'currency = "{currency}"', capsys)
    assert f"a currency that is not told by its letters; found “{currency}”" in told
    assert "accepted: three capital letters, such as USD or EUR" in told


def test_every_setting_takes_the_unit_that_it_is_counted_in() -> None:
    """As a bare number and with its unit, whichever of the settings it is."""
    words = {
        "share": (Decimal("0.55"), "55 %"),
        "min": (Decimal(90), "1 h 30 min"),
        "day": (Decimal(3), "3 days"),
    }
    tried = set()
    for column in SETTINGS:
        if column.unit not in words or column.kind not in ("number", "whole"):
            continue
        bare, written = words[column.unit]
        if not (column.low or 0) <= bare <= (column.high or bare):
            continue
        for value in (f"{bare}", f'"{bare}"', f'"{written}"'):
            issues: list[Issue] = []
            toml = parse_toml(f"{column.name} = {value}\n".encode(), "shop.toml")
            read = read_section(toml, "", toml.values, [column], issues)
            assert (read, issues) == ({column.name: bare}, []), (column.name, value)
        tried.add(column.unit)
    assert tried >= {"share", "min"}

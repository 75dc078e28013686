"""``check``: the shop's rates keep their sense, and a row that breaks it is told with the sum."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.tables.folders import default_folder


def slow_levelling(folder: Path) -> Path:
    """A shop in which levelling a fret takes ten times as long."""
    text = (Path(str(default_folder())) / "tasks.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    row = next(row for row in rows if row["id"] == "level-frets")
    row |= {"run_min_low": "6", "run_min_likely": "11", "run_min_high": "20"}
    folder.mkdir()
    with (folder / "tasks.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(row))
        writer.writeheader()
        writer.writerow(row)
    return folder


def test_the_default_shop_raises_no_doubt(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--json"]) == 0
    printed = capsys.readouterr()
    assert json.loads(printed.out)["warnings"] == []
    assert printed.err == ""


def test_a_row_that_breaks_trade_sense_is_told_with_the_sum(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = slow_levelling(tmp_path / "shop")
    assert run(["check", "--shop", str(folder), "--json"]) == 0
    printed = capsys.readouterr()
    warned = json.loads(printed.out)["warnings"]
    assert {w["severity"] for w in warned} == {"warning"}
    levelling = next(w for w in warned if "level, crown, polish" in w["problem"])
    # the paper sum of 152.3 likely minutes, with 22 x (11 - 1.1) more
    assert "370.1 min" in levelling["found"]
    assert levelling["accepted"] == "120 to 180 min"
    assert "405 min" in printed.err

"""What a shop's own numbers do to the menu."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.learn.own_shop import OwnShop, own_shop
from estimator.report.text.learn import show_own_shop
from estimator.tables.folders import Folder
from estimator.tables.own import Difference


@pytest.mark.slow
def test_every_difference_and_its_effect_on_the_menu(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "tasks.csv").write_text("id,run_min_high\ndress-fret-ends,30 min\n")
    assert run(["own-shop", "--shop", str(tmp_path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [(d["key"], d["after"], d["basis"]) for d in told["differences"]] == [
        ("dress-fret-ends", "30", "own")
    ]
    moved = {row["job"]: row for row in told["menu"]}
    ends = next(row for name, row in moved.items() if "end" in name)
    # 22 frets, each 0.3 x (30 - 1.4) minutes longer by the 30-40-30 rule, to the hundredth
    assert ends["minutes_after"] - ends["minutes_before"] == pytest.approx(22 * 0.3 * 28.6, abs=0.02)
    assert told["menu_unchanged"] > 0
    assert run(["own-shop", "--shop", str(tmp_path)]) == 0
    assert "dress-fret-ends" in capsys.readouterr().out


def test_own_shop_needs_a_shop(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["own-shop"]) == 2
    assert "--shop DIR" in capsys.readouterr().err


@pytest.mark.slow
def test_a_rate_moves_every_price_and_no_minute() -> None:
    found = own_shop(Folder("mine", {"shop.toml": b"charge_per_hour = 150\nminimum_charge = 1\n"}))
    assert found.same == 0
    assert all(row.minutes_before == row.minutes_after for row in found.changes)
    assert all((row.price_after or 0) > (row.price_before or 0) for row in found.changes)


def test_what_many_numbers_rest_on_is_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    rows = [
        ("1", "measured", "own ledger: 9 jobs"),
        ("2", "own", ""),
        ("3", "measured", "own ledger: 9 jobs"),
    ]
    rows.append(("4", "own menu", "fitted to 3 prices"))
    found = OwnShop(
        tuple(Difference("tasks.csv", key, "setup_min", "1", "2", *rest) for key, *rest in rows), (), 0, "USD"
    )
    show_own_shop(found)
    told = capsys.readouterr().out
    shown = [line.split() for line in told.splitlines() if line.startswith(" tasks.csv")]
    # after file, row, column, default and here
    assert [" ".join(words[5:]) for words in shown] == ["measured (1)", "own", "measured (1)", "own menu (2)"]
    assert told.count("own ledger: 9 jobs") == told.count("fitted to 3 prices") == 1
    assert told.index("(1) own ledger") < told.index("(2) fitted")

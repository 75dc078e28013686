"""``plan``: its files, the way from a saved plan to the plan of what is left, and refusals before any work."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from estimator.cli.main import run

BATCH = ["plan", "example:batch-three", "--engine", "rule", "--time-limit", "0.5"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All files of one plan."""
    made = tmp_path_factory.mktemp("files")
    files = ["-o", "week.xlsx", "--csv", "tables", "--gantt", "week.svg", "--save-plan", "week.json"]
    files = [part if part.startswith("-") else str(made / part) for part in files]
    assert run([*BATCH, *files, "--state-template", str(made / "state.toml"), "--json"]) == 0
    return made


@pytest.mark.slow
def test_every_file_is_there(folder: Path) -> None:
    names = sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
    assert names == [
        "state.toml",
        "tables/orders.csv",
        "tables/week.csv",
        "week.json",
        "week.svg",
        "week.xlsx",
    ]


@pytest.mark.slow
def test_what_is_left_is_planned_from_the_state(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (folder / "state.toml").read_text()
    today = text.replace('now = "2026-10-05 09:00"', 'now = "2026-10-08 11:30"')
    assert today != text
    late = (
        '\n[[late]]\njob = "commission"\nupgrade = "bridge-pickup-stack-slim-stack"\nexpected = 2026-10-15\n'
    )
    (folder / "today.toml").write_text(today + late)
    capsys.readouterr()
    assert run([*BATCH, "--state", str(folder / "today.toml"), "--save-plan", str(folder / "next.json")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "made again from Thu 8 Oct 2026 11:30" in told
    assert "comes on Thu 15 Oct instead of Mon 12 Oct" in told
    assert run([*BATCH, "--state", str(folder / "today.toml"), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["again"]["changed"][0]["why"].startswith("what was ordered from parts-house")
    assert data["again"]["done"]
    assert json.loads((folder / "next.json").read_text())["late"][0]["there"] == "2026-10-15T12:00"


@pytest.mark.slow
def test_gain_and_what_if_in_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*BATCH, "--gain", "--what-if", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    ratios = data["gain"]["ratios"]
    assert (
        ratios["days"] == round(data["gain"]["together"]["days"] / data["gain"]["one_by_one"]["days"], 4) < 1
    )
    changes = [case["change"] for case in data["what_if"]]
    assert changes[0] == "a helper of skill 2 with a bench place"
    assert "soldering station with extraction: 2 instead of 1" in changes
    for case in data["what_if"]:
        assert case["makespan_min"] == data["schedule"]["makespan_min"] - case["saved_min"]
    assert data["schedule"]["bounds"]["makespan"] <= data["schedule"]["makespan_min"]
    assert sum(data["schedule"]["hours_by_kind"].values()) == data["schedule"]["hands_on_min"]
    assert sum(day["hands_on_min"] for day in data["week"]) == data["schedule"]["hands_on_min"]


@pytest.mark.slow
def test_gain_and_what_if_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*BATCH, "--gain", "--what-if", "--full"]) == 0
    told = capsys.readouterr().out
    assert "Planned together against one by one" in told
    assert "a second hand of skill 4 with a bench place" in told


@pytest.mark.slow
@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["-o", "week.ods"], ".xlsx"),
        (["--save-plan", "week.txt"], ".json"),
        (["--state-template", "state.toml"], "--save-plan"),
        (["--gantt", "nowhere/week.svg"], "no such folder"),
        (["--state", "nowhere.toml"], "no such state file"),
        (["--state", "nowhere.toml", "--gain"], "leave --gain out"),
    ],
)
def test_refusals_come_before_any_work(
    more: list[str],
    told: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run([*BATCH, *more]) == 2
    assert told in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_files_that_are_there_are_kept(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept = (folder / "week.json").read_bytes()
    assert run([*BATCH, "--save-plan", str(folder / "week.json")]) == 2
    assert "--force" in capsys.readouterr().err
    assert (folder / "week.json").read_bytes() == kept
    assert run([*BATCH, "--csv", str(folder / "tables")]) == 2


def test_a_calendar_without_its_library_is_refused_before_any_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "icalendar", None)
    target = tmp_path / "week.ics"
    assert run(["plan", "example:batch-three", "--ics", str(target)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "next: install it with: pip install icalendar, or leave --ics out" in said.err
    assert not target.exists()

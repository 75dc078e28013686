"""Ids in short on the command line, lists cut to their first rows, a folder that is made for drawings."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from estimator.cli.main import run

JOB = "example:school-guitar"


def out(capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 0) -> str:
    assert run(list(arguments)) == status
    return capsys.readouterr().out


@pytest.mark.slow
def test_short_names_price_what_whole_names_price(capsys: pytest.CaptureFixture[str]) -> None:
    whole = json.loads(out(capsys, "estimate", JOB, "--with", "set-up", "--with", "clean-controls", "--json"))
    assert json.loads(out(capsys, "estimate", JOB, "--with", "set-u,clean-con", "--json")) == whole


@pytest.mark.slow
def test_the_numbers_of_fit_are_those_that_are_taken(capsys: pytest.CaptureFixture[str]) -> None:
    shown = out(capsys, "fit", JOB, "--full")
    number = re.search(r"clean-controls \((\d+)\)", shown)
    assert number is not None
    chosen = json.loads(out(capsys, "estimate", JOB, "--with", number[1], "--json"))
    assert chosen == json.loads(out(capsys, "estimate", JOB, "--with", "clean-controls", "--json"))


@pytest.mark.slow
def test_fit_shows_the_first_of_every_list_and_how_many_are_left(capsys: pytest.CaptureFixture[str]) -> None:
    whole = out(capsys, "fit", JOB).replace("\n  ", " ")
    short = out(capsys, "fit", JOB, "--top", "2").replace("\n  ", " ")
    fits = re.search(r"Fits as it is: (.*?)\.\n", whole, re.S)
    cut = re.search(r"Fits as it is: (.*?) and (\d+) more\.\n", short, re.S)
    assert fits is not None
    assert cut is not None
    names = re.split(r",\s(?![^(]*\))", fits[1])
    assert re.split(r",\s(?![^(]*\))", cut[1]) == names[:2]
    assert len(names) - 2 == int(cut[2])
    table = out(capsys, "fit", JOB, "--full", "--top", "3")
    assert re.search(r"^and \d+ more; without --top all of them$", table, re.M)


def test_triage_shows_those_that_weigh_most(capsys: pytest.CaptureFixture[str]) -> None:
    found = json.loads(out(capsys, "triage", JOB, "--json"))["checks"]
    heaviest = max(found, key=lambda c: (c["outcome"] == "walk-away", float(c["high"]), -c["number"]))
    for options, row in ((("--full",), r"^ +(\d+)  +\S"), ((), r"^  (\d+)\. \S")):
        shown = re.findall(row, out(capsys, "triage", JOB, "--top", "1", *options), re.M)
        assert shown == [str(heaviest["number"])]


@pytest.mark.slow
def test_measure_shows_as_many_as_asked(capsys: pytest.CaptureFixture[str]) -> None:
    shown = out(capsys, "measure", "example:tight-commission", "--solves", "0", "--top", "1")
    assert re.findall(r"^  (\d+)\. ", shown, re.M) == ["1"]


@pytest.mark.slow
def test_risk_names_as_much_of_what_drives_it_as_asked(capsys: pytest.CaptureFixture[str]) -> None:
    shown = out(capsys, "risk", JOB, "--with", "set-up", "--top", "1").replace("\n  ", " ")
    assert shown.count("of what is uncertain") == 1


def test_a_folder_is_made_for_the_drawings(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "new" / "drawings"
    run(["draw", "example:tight-commission", "--upgrade", "new-tuners", "--folder", str(folder)])
    told = capsys.readouterr().out
    assert [path.suffix for path in folder.iterdir()] == [".svg"] * told.count("wrote")
    assert told.count("wrote") > 0


def test_no_folder_is_left_where_nothing_is_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "new"
    assert run(["draw", "example:tight-commission", "--upgrade", "set-up", "--folder", str(folder)]) == 0
    assert "nothing" in capsys.readouterr().out
    assert not folder.exists()

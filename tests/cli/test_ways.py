"""Ways to do a task at the command line: fixed, not offered, told, and the same in every command."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from estimator.cli.main import run
from tests.drawn_jobs import EXAMPLES

SCHOOL = "example:school-guitar"


def told(arguments: list[str], capsys: pytest.CaptureFixture[str], status: int = 0) -> dict[str, Any]:
    assert run([*arguments, "--json"]) == status
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def line_of(data: dict[str, Any], task: str) -> dict[str, Any]:
    (line,) = [line for line in data["work"] if line["task"] == task]
    return dict(line)


def with_lines(folder: Path, name: str, lines: str) -> str:
    path = folder / f"{name}.toml"
    path.write_text((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8") + lines, encoding="utf-8")
    return str(path)


@pytest.mark.slow
def test_a_way_is_fixed_by_option_and_by_job_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    estimate = ["estimate", "--with", "polish-frets"]
    free = told([*estimate, SCHOOL], capsys)
    assert line_of(free, "polish-frets")["method"] == "wheels"
    fixed = told([*estimate, SCHOOL, "--method", "polish-frets=buffing-pads"], capsys)
    assert line_of(fixed, "polish-frets")["method"] == "buffing-pads"
    job = with_lines(tmp_path, "school-guitar", '\n[methods]\npolish-frets = "buffing-pads"\n')
    assert told([*estimate, job], capsys)["work"] == fixed["work"]
    # the option goes before the file
    again = told([*estimate, job, "--method", "polish-frets=wheels"], capsys)
    assert again["work"] == free["work"]


@pytest.mark.parametrize(
    ("method", "says"),
    [
        ("polish-frets", "of polish-frets: cloth-grades, wheels, buffing-pads"),
        ("polish-frets=weels", "did you mean “wheels”?"),
        ("polish-fret=wheels", "did you mean “polish-frets”?"),
        ("strings-off=wheels", "this task has only one way"),
    ],
)
def test_a_way_that_cannot_be_is_told(method: str, says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["estimate", SCHOOL, "--method", method]) == 2
    assert says in capsys.readouterr().err


@pytest.mark.slow
def test_a_missing_tool_is_worked_around_and_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = with_lines(tmp_path, "school-guitar", '\n[methods]\nwithout_tools = ["t-rotary"]\n')
    data = told(["choose", job, "--why"], capsys)
    assert line_of(data, "polish-frets")["method"] == "buffing-pads"
    (wheels,) = [way for way in data["other_ways"] if way["other"] == "wheels"]
    assert wheels["missing_tools"] == ["t-rotary"]
    assert wheels["costs_more"].startswith("-")
    shut = told(["fit", job, "--only", "polish-frets"], capsys)["ways_not_offered"]
    assert {
        "task": "polish-frets",
        "method": "wheels",
        "why": "not there: small rotary tool with burrs",
    } in shut
    assert run(["estimate", job, "--method", "polish-frets=wheels"]) == 2
    assert "not there: small rotary tool" in capsys.readouterr().err


@pytest.mark.slow
def test_choice_price_quote_and_reprice_tell_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = told(["choose", SCHOOL], capsys)
    assert line_of(data, "polish-frets")["method"] == "wheels"
    price = data["totals"]["price"]
    assert told(["price", SCHOOL], capsys)["price"] == price
    book = str(tmp_path / "quote.xlsx")
    assert run(["quote", SCHOOL, "-o", book]) == 0
    capsys.readouterr()
    again = told(["reprice", SCHOOL, book], capsys)
    assert again["totals"]["price"] == price
    assert line_of(again, "polish-frets")["method"] == "wheels"
    assert again["work"] == data["work"]


@pytest.mark.slow
def test_a_missing_tool_is_weighed_in_the_choice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = with_lines(tmp_path, "short-scale-bass", '\n[methods]\nwithout_tools = ["t-rotary"]\n')
    data = told(["choose", job], capsys)
    assert data["tools_got"] == []
    (rotary,) = data["tools_not_got"]
    assert rotary["tools"] == ["t-rotary"]
    with_it = told(["choose", "example:short-scale-bass"], capsys)
    saved = round(float(data["totals"]["cost"]) - float(with_it["totals"]["cost"]), 2)
    assert float(rotary["would_save"]) == saved > 0
    assert run(["choose", job]) == 0
    assert "Worked around: small rotary tool with burrs. With it there" in capsys.readouterr().out

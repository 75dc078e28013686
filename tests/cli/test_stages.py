"""Help lists every command once, by the stage of a job that it serves."""

from __future__ import annotations

import re

import pytest

from estimator.cli.main import app, run
from estimator.cli.stages import STAGES


def test_every_command_stands_in_one_stage_of_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    told = capsys.readouterr().out
    assert "Other" not in told
    there = [
        command.name or command.callback.__name__ for command in app.registered_commands if command.callback
    ]
    there += [group.typer_instance.info.name for group in app.registered_groups if group.typer_instance]
    named = [name for _, names in STAGES for name in names]
    assert sorted(named) == sorted(there)
    places = [told.index(f"{title}:") for title, _ in STAGES]
    assert places == sorted(places)
    for name in named:
        assert len(re.findall(rf"^  {name}  ", told, re.M)) == 1, name


@pytest.mark.parametrize("words", [["--help"], ["ledger", "--help"]])
def test_no_command_is_told_of_by_half_a_sentence(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(words) == 0
    told = capsys.readouterr().out.splitlines()
    assert len(told) > 20
    assert [line for line in told if line.endswith("...") and "Usage:" not in line] == []


def test_an_aim_is_told_in_the_same_words_by_choose_and_plan(capsys: pytest.CaptureFixture[str]) -> None:
    words = []
    for command in ("choose", "plan"):
        assert run([command, "--help"]) == 0
        told = " ".join(capsys.readouterr().out.split())
        words.append(told.partition("--aim TEXT")[2].partition(". ")[0].strip())
    assert words[0] == words[1]
    assert words[0].endswith("or several in a row: cost,hours")

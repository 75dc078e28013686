"""Help lists every command once, by the stage of a job that it serves."""

from __future__ import annotations

import re

import click
import pytest
import typer

from estimator.cli.main import FAMILIES, command_name, make_app, run
from estimator.cli.stages import STAGES


def test_every_command_stands_in_one_stage_of_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    told = capsys.readouterr().out
    assert "Other" not in told
    app = make_app()
    there = [command_name(command) for command in app.registered_commands]
    there += [group.typer_instance.info.name for group in app.registered_groups if group.typer_instance]
    named = [name for _, names in STAGES for name in names]
    assert sorted(named) == sorted(there)
    places = [told.index(f"{title}:") for title, _ in STAGES]
    assert places == sorted(places)
    for name in named:
        assert len(re.findall(rf"^  {name}  ", told, re.M)) == 1, name


def test_a_command_by_itself_tells_what_it_tells_among_all(capsys: pytest.CaptureFixture[str]) -> None:
    """Only the one that is named is set up: its help, and what it says of a slip, are the same."""
    among_all = typer.main.get_command(make_app())
    assert isinstance(among_all, click.Group)
    ledger = among_all.commands["ledger"]
    assert isinstance(ledger, click.Group)
    words = [[name] for names in FAMILIES.values() for name in names]
    words += [["ledger", name] for name in ledger.commands]
    assert len(words) == len(among_all.commands) + len(ledger.commands) > 40
    for before in words:
        alone = typer.main.get_command(make_app(before))
        assert isinstance(alone, click.Group)
        assert list(alone.commands) == before[:1]
        below = alone.commands["ledger"].commands if len(before) > 1 else {}  # type: ignore[attr-defined]
        assert list(below) == before[1:]
        for slip in ("--help", "--no-such-option"):
            told = []
            for command in (alone, among_all):
                try:
                    command([*before, slip], prog_name="estimator", standalone_mode=False)
                except click.ClickException as error:
                    told.append(error.format_message())
                else:
                    told.append(capsys.readouterr().out)
            assert told[0] == told[1]
            assert told[0]


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

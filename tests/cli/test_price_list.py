"""``menu --page``: the price list for customers as a file, and what is said where it cannot be written."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.errors import Exit
from tests.shops import write_shop

OWN = {"id": "own-nut", "what": "nut of brass", "instrument": "kind=guitar-solid", "basis": "own"}


def test_it_is_written_told_and_replaced_with_force_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "prices.html"
    assert run(["menu", "jack", "clean-controls", "--page", str(page)]) == Exit.DONE
    said = capsys.readouterr().out
    assert f"wrote {page}" in said
    assert "2 jobs" in said
    first = page.read_text(encoding="utf-8")
    assert first.count('<th scope="row">') == 2
    assert run(["menu", "jack", "--page", str(page)]) == Exit.BAD_INPUT
    assert "add --force to replace it" in " ".join(capsys.readouterr().err.split())
    assert page.read_text(encoding="utf-8") == first
    assert run(["menu", "jack", "--page", str(page), "--force", "--paper", "A4", "--json"]) == Exit.DONE
    told = json.loads(capsys.readouterr().out)
    assert told["written"] == str(page)
    text = page.read_text(encoding="utf-8")
    assert "size: A4" in text
    assert re.findall(r"<b>([\d.]+)</b>", text) == [told["jobs"][0]["price_without_parts"]]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("nowhere/prices.html", "no such folder"),
        ("prices.xlsx", "does not tell what the file is"),
        (".", "a name without an ending"),
    ],
)
def test_a_place_that_takes_no_page_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, said: str
) -> None:
    assert run(["menu", "jack", "--page", str(tmp_path / name)]) == Exit.BAD_INPUT
    assert said in " ".join(capsys.readouterr().err.split())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("more", [["--top", "3"], ["--pieces"]])
def test_what_is_for_the_bench_is_not_asked_for_with_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str]
) -> None:
    assert run(["menu", "jack", "--page", str(tmp_path / "prices.html"), *more]) != Exit.DONE
    assert "leave them out with --page" in " ".join(capsys.readouterr().err.split())
    assert list(tmp_path.iterdir()) == []


def test_a_job_that_cannot_be_priced_is_named_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bass has no tremolo: the row is named, with the column to mend."""
    row = {**OWN, "upgrades": "new-six-screw-tremolo-standard", "instrument": "kind=bass-solid"}
    own = write_shop(tmp_path / "own", {"menu_jobs": [row]})
    page = tmp_path / "prices.html"
    assert run(["menu", "--shop", str(own), "--page", str(page)]) == Exit.BAD_INPUT
    said = " ".join(capsys.readouterr().err.split())
    assert "a job of the menu cannot be done on its instrument" in said
    assert "menu_jobs.csv" in said
    assert "upgrades" in said
    assert not page.exists()
    assert run(["menu", "jack", "--shop", str(own), "--page", str(page)]) == Exit.DONE
    assert page.exists()


def test_a_word_that_no_job_has_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["menu", "hurdy-gurdy", "--page", str(tmp_path / "prices.html")]) == Exit.BAD_INPUT
    assert "no job of the menu has this word" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []

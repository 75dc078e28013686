"""The pictures of the README show the figures that the program tells today."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.pictures import PICTURES, figures, said, say, written


@pytest.fixture(scope="module")
def today(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("pictures")
    written(folder)
    return figures(folder)


@pytest.mark.parametrize("name", ["bench-page", "quote-page", "week"])
def test_a_picture_shows_the_figures_of_today(today: dict[str, str], name: str) -> None:
    """Make them anew, and look at them: python -m tests.pictures"""
    assert len(today[name].split("; ")) >= 5
    assert said(PICTURES / f"{name}.png") == today[name]


def test_there_is_no_picture_but_these(today: dict[str, str]) -> None:
    assert {path.stem for path in PICTURES.glob("*.png")} == today.keys()


def test_what_is_put_into_a_picture_is_read_back(tmp_path: Path) -> None:
    copy = tmp_path / "week.png"
    copy.write_bytes((PICTURES / "week.png").read_bytes())
    say(copy, "489.08 USD; 4 h 04 min")
    assert said(copy) == "489.08 USD; 4 h 04 min"

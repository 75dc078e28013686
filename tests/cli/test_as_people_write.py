"""What a newcomer types: jobs of a batch without names, days in words, a job of the menu where a file belongs."""

from __future__ import annotations

from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.input.batch.load import load_batch
from estimator.model import Shop
from estimator.tables.load import load_shop

EXAMPLES = Path(__file__).parent.parent.parent / "example_jobs"
HEAD = '[batch]\nid = "two"\nstart = 2026-10-05\n'


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load_shop(None)


def test_jobs_of_a_batch_are_named_by_their_files(shop: Shop, tmp_path: Path) -> None:
    school, bass = (f"{EXAMPLES}/{name}.toml" for name in ("school-guitar", "short-scale-bass"))
    jobs = "".join(f'[[job]]\nfile = "{file}"\n' for file in (school, bass, school))
    path = tmp_path / "two.toml"
    path.write_text(f'{HEAD}{jobs}[[job]]\nid = "school-guitar-2"\nfile = "{school}"\n', encoding="utf-8")
    named = [entry.id for entry in load_batch(path, shop).jobs]
    assert named == ["school-guitar", "short-scale-bass", "school-guitar-3", "school-guitar-2"]


def test_a_job_of_the_menu_is_no_file_and_the_way_on_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["price", "set-up"]) == 2
    told = capsys.readouterr().err
    assert "there is no such job file" in told
    assert "estimator menu" in told
    assert "estimator new" in told


@pytest.mark.parametrize(
    ("typed", "day"), [("friday", "2026-10-09"), ("10/12/2026", "2026-10-12"), ("2026-10-20", "2026-10-20")]
)
def test_a_day_is_promised_in_words_or_by_the_countrys_order(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], typed: str, day: str
) -> None:
    """5 October 2026 was a Monday; the default shop writes the month first."""
    beside = ["--ledger", str(tmp_path / "l.sqlite"), "--now", "2026-10-05 09:15"]
    assert run(["ledger", "book", "example:tight-commission", *beside]) == 0
    assert run(["ledger", "quote", "tight-commission", *beside]) == 0
    assert run(["ledger", "accept", "tight-commission", "--promised", typed, *beside]) == 0
    assert f"promised for {day}" in capsys.readouterr().out


def test_new_takes_several_upgrades_and_their_short_forms(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole, short = tmp_path / "whole.toml", tmp_path / "short.toml"
    assert (
        run(["new", str(whole), "--kind", "bass-solid", "--for", "ready-cut-nut", "--for", "shield-paint"])
        == 0
    )
    assert run(["new", str(short), "--kind", "bass-solid", "--for", "ready-cut, shield-p"]) == 0
    same = short.read_text(encoding="utf-8").replace('id = "short"', 'id = "whole"')
    assert same == whole.read_text(encoding="utf-8")
    assert run(["new", str(tmp_path / "none.toml"), "--for", "no-such-thing"]) == 2
    assert "no upgrade of this name" in capsys.readouterr().err

"""A day years off the others that go with it is never taken without a word, whichever column or option holds it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.days import FAR_YEARS, DayError, day_as_written, far_off
from estimator.core.errors import InputError
from estimator.input.batch.load import BATCH, PERSON, STOCK, load_batch
from estimator.input.batch.load import JOB as JOB_IN_BATCH
from estimator.input.job.keys import JOB
from estimator.input.job.load import load_job
from estimator.ledger.clock import read_day, read_moment
from estimator.model.column import Column
from tests.shops import default_shop as the_shop

JOB_FILE = """[job]
id = "far"
kind = "commission"
customer = "A. Customer"
received = 2026-10-05
wanted_by = 2026-11-05
[instrument]
kind = "guitar-solid"
"""
BATCH_FILE = """[batch]
id = "week"
start = 2026-10-05
days_off = [2026-10-12]
[[job]]
file = "far.toml"
due = 2026-10-20
[[person]]
id = "bench"
skill = 3
days_off = [2026-10-13]
[[stock]]
consumable = "c-wood-glue"
quantity = 1
bought = 2026-09-01
"""


def test_a_far_day_is_one_more_than_ten_years_off() -> None:
    today = date(2026, 10, 5)
    assert not far_off(date(2036, 10, 5), today, "today")
    assert far_off(date(2099, 10, 5), today, "today") == "lies 73 years after today (2026-10-05)"
    assert far_off(date(1990, 10, 5), today, "today") == "lies 36 years before today (2026-10-05)"
    assert FAR_YEARS == 10


@pytest.mark.parametrize("text", ["0026-10-05", "1/13/20", "13.1.9999", "5 Oct 1926", "2200-01-01"])
def test_a_year_of_no_shop_is_no_day(text: str) -> None:
    with pytest.raises(DayError):
        day_as_written(text)
    with pytest.raises(InputError):
        read_day(text, "--promised")
    with pytest.raises(InputError):
        read_moment(text)


def dated(columns: tuple[Column, ...]) -> set[str]:
    return {column.name for column in columns if column.kind in ("date", "days")}


def test_every_column_that_holds_a_day_is_in_the_files_below() -> None:
    assert dated(JOB.columns) == {"received", "wanted_by"}
    assert dated(BATCH) == {"start", "days_off"}
    assert dated(JOB_IN_BATCH) == {"due"}
    assert dated(PERSON) == {"days_off"}
    assert dated(STOCK) == {"bought"}


def each_far(text: str) -> Iterator[tuple[str, str]]:
    """The file with one of its days after the other far off, and the line it stands in."""
    lines = text.splitlines()
    for number, line in enumerate(lines):
        if "2026-" in line:
            yield "\n".join([*lines[:number], line.replace("2026-", "2099-"), *lines[number + 1 :]]), line


def remarks(file: Path) -> list[str]:
    """What is said of a job file or a batch file that can be read."""
    of = load_batch(file, the_shop()) if file.stem == "week" else load_job(file, the_shop())
    return [str(issue) for issue in of.issues]


def test_every_day_of_a_job_or_a_batch_is_held_against_the_others(tmp_path: Path) -> None:
    job, batch = tmp_path / "far.toml", tmp_path / "week.toml"
    job.write_text(JOB_FILE)
    batch.write_text(BATCH_FILE)
    assert not any("years" in words for file in (job, batch) for words in remarks(file))
    told = 0
    for file, text in ((job, JOB_FILE), (batch, BATCH_FILE)):
        for far, line in each_far(text):
            file.write_text(far)
            if line.startswith("received"):
                with pytest.raises(InputError, match="wanted back before it came in"):
                    remarks(file)
                continue
            found = [words for words in remarks(file) if "years" in words]
            # all the others lie off the first day of the plan
            assert len(found) == (4 if line.startswith("start") else 1), (line, found)
            assert all("lies 7" in words and "look at the year" in words for words in found)
            told += 1
        file.write_text(text)
    assert told == 6


def test_a_moment_typed_far_ahead_of_the_books_is_refused_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, books = tmp_path / "far.toml", str(tmp_path / "books.sqlite")
    job.write_text(JOB_FILE)
    assert run(["ledger", "book", str(job), "--ledger", books, "--now", "2026-10-05 09:00"]) == 0
    assert capsys.readouterr().err == ""
    for command in (
        ["quote", "far"],
        ["move", "far", "quoted"],
        ["board"],
        ["show", "far"],
        ["stock", "in", "c-wood-glue", "1"],
        ["report"],
    ):
        assert run(["ledger", *command, "--ledger", books, "--now", "2099-10-05"]) == 2, command
        err = capsys.readouterr().err
        assert "lies 73 years after the last entry (2026-10-05)" in err, command
        assert "--now" in err
        assert "leave --now out" in err
    assert run(["ledger", "export", "--ledger", books, str(tmp_path / "all.json")]) in (0, 2)
    capsys.readouterr()
    assert run(["ledger", "show", "far", "--ledger", books, "--json", "--now", "2026-10-06"]) == 0
    assert "2099" not in json.dumps(json.loads(capsys.readouterr().out))


def test_days_typed_beside_today_are_held_against_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, books = tmp_path / "far.toml", str(tmp_path / "books.sqlite")
    job.write_text(JOB_FILE + '[upgrades]\nrequired = ["set-up"]\n')
    at = ["--ledger", books, "--now", "2026-10-05 09:00"]
    assert run(["ledger", "book", str(job), *at]) == 0
    assert run(["ledger", "quote", "far", *at]) == 0
    for command in (
        ["accept", "far", "--promised", "2099-10-05"],
        ["stock", "in", "c-wood-glue", "1", "--best-before", "2099-10-05"],
        ["parcel", "strings-direct", "--new", "--expected", "2099-10-05"],
    ):
        capsys.readouterr()
        assert run(["ledger", *command, *at]) == 2, command
        assert "lies 73 years after today (2026-10-05)" in capsys.readouterr().err, command


def test_a_job_that_came_in_years_off_its_booking_is_remarked_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, books = tmp_path / "far.toml", str(tmp_path / "books.sqlite")
    job.write_text(JOB_FILE)
    assert run(["ledger", "book", str(job), "--ledger", books, "--now", "2099-10-05"]) == 0
    assert "lies 73 years before the day of its booking (2099-10-05)" in capsys.readouterr().err

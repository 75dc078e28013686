"""Damaged files before every reader: refused in words or read, nothing changed, nothing half-written."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from estimator.tables.schema.shop import TABLES
from tests.cli.test_written_files import READS
from tests.fuzz.cases import Case, default_shop_read_once, tried
from tests.fuzz.damage import KINDS, damaged
from tests.fuzz.page import SENT, sent_to_page
from tests.fuzz.readers import BY_NAME, READERS, Seeds

#: read quickly, and each in another way
QUICK = ("job", "sheet-text", "menu", "listings", "batch", "settings", "table-tasks", "table-parts")
TABLES_READ = [name for name in BY_NAME if name.startswith("table-")]
#: every other file, and every fourth table
SOME = [
    name for name, reader in BY_NAME.items() if not reader.slow and name not in TABLES_READ
] + TABLES_READ[::4]
#: what has been wrong once, by reader and seed
ONCE_WRONG = (
    ("table-upgrades", "2.0"),
    ("table-uplifts", "2.1"),
    ("ledger", "2.12"),
    ("sheet-text", "2.11"),
    ("plan", "3.16"),
    ("plan", "3.19"),
)


@pytest.fixture(scope="module")
def seeds(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Seeds]:
    with default_shop_read_once():
        yield Seeds(tmp_path_factory.mktemp("seeds"))


def held(case: Case) -> None:
    assert case.wrong == (), (case.reader, case.seed, case.done, case.line, case.said)


@pytest.mark.parametrize("name", QUICK)
def test_a_damaged_file_is_read_or_refused_in_words(name: str, seeds: Seeds) -> None:
    held(tried(BY_NAME[name], seeds, "quick.0"))


@pytest.mark.slow
@pytest.mark.parametrize("name", SOME)
def test_every_reader_holds_against_damage(name: str, seeds: Seeds) -> None:
    held(tried(BY_NAME[name], seeds, "slow.0"))


@pytest.mark.slow
@pytest.mark.parametrize(("name", "seed"), ONCE_WRONG)
def test_what_was_wrong_once_is_right(name: str, seed: str, seeds: Seeds) -> None:
    held(tried(BY_NAME[name], seeds, seed))


@pytest.mark.slow
@pytest.mark.parametrize("name", SENT)
def test_what_is_sent_to_the_page_is_taken_or_refused(name: str, seeds: Seeds) -> None:
    for number in range(3):
        held(sent_to_page(name, seeds, f"slow.{number}"))


@pytest.mark.slow
def test_a_job_that_is_not_taken_stays_as_it_was(seeds: Seeds) -> None:
    """Its file was written before the ledger refused it."""
    held(sent_to_page("agree", seeds, "3.0"))


def test_no_reader_is_forgotten() -> None:
    """Every parameter that names a file which is read stands in some line, and every table of a shop is damaged."""
    lines = [line for reader in READERS for line in reader.arguments]
    for command, parameter in READS - {("page", "place")}:  # a folder
        mine = [line for line in lines if line[0] == command]
        option = f"--{parameter}"
        assert mine, command
        assert parameter in ("job", "book", "sheet", "batch", "menu", "listings", "ledger") or any(
            option in line for line in mine
        ), (command, parameter)
    assert {f"table-{spec.name}" for spec in TABLES} <= set(BY_NAME)


def test_the_same_seed_damages_alike_and_every_damage_does_something(seeds: Seeds) -> None:
    data = seeds["plain.toml"]
    assert damaged(data, "toml", random.Random(5)) == damaged(data, "toml", random.Random(5))
    for damage in {one for kind in ("toml", "csv", "txt") for one in KINDS[kind]}:
        file = "menu.csv" if damage in KINDS["csv"] else "plain.toml"
        changed = {damage(seeds[file], random.Random(number)) for number in range(8)}
        assert changed - {seeds[file]}, damage.__name__


def test_a_program_that_crashes_is_noticed(seeds: Seeds, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check itself can fail: a crash, a file left over, and a refusal that helps nobody."""
    from estimator.learn import menu_entries

    def crashes(*_: object) -> None:
        Path("left").write_text("over")
        raise KeyError("job")

    monkeypatch.setattr(menu_entries, "_of_file", crashes)
    case = tried(BY_NAME["menu"], seeds, "quick.0")
    assert "fault in the program" in case.wrong
    assert "new: left" in case.wrong
    assert any(wrong.startswith("does not say what to do") for wrong in case.wrong)

"""Values of another kind than belongs, in every key of every file that is written by hand; one file for another."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.errors import InputError
from estimator.input.batch import load as batch
from estimator.input.job.keys import SECTIONS
from estimator.input.job.load import job_from
from estimator.model import Shop
from estimator.plan.replan import progress
from estimator.plan.replan.progress import state_from
from estimator.tables.schema.settings import BUILD_UP, MARKUP, SETTINGS
from estimator.tables.settings import read_terms
from estimator.tables.toml.text import parse_toml
from tests.fuzz.readers import BATCH, PLAIN, STATE
from tests.shops import default_shop

SHOP = default_shop()
OTHER_KINDS = (
    '["one", "two"]',
    "[2026-12-04, 2026-12-05]",
    '[{ a = 1, b = "x" }]',
    "{ day = 2026-12-04, sure = true, list = [1.5] }",
    "2026-12-04",
    "2026-12-04T10:30:00",
    "10:30:00",
    "true",
    "[true, false]",
    "1.5",
    "inf",
    '"words"',
    "[]",
)
#: how the things that hold the values are called inside the program, and how it would write them
INSIDE = re.compile(
    r"datetime|Decimal|\bTrue\b|\bFalse\b|\bNone\b|\['|\[\{'|\{'|'\]|<class|a list where a list"
)


def texts() -> Iterable[tuple[str, str]]:
    """Which reader, and a file with one key of it holding another kind of value."""
    keys = [
        *(("job", section.name, column.name) for section in SECTIONS for column in section.columns),
        *(
            ("batch", name, c.name)
            for name in ("batch", "job", "person", "stock")
            for c in getattr(batch, name.upper())
        ),
        *(("state", "state", column.name) for column in progress.STATE),
        *(("state", name, c.name) for name, columns in progress.SECTIONS.items() for c in columns),
        *(("settings", "", column.name) for column in SETTINGS),
        *(("settings", "rate_build_up", column.name) for column in BUILD_UP),
        *(("settings", "markup", column.name) for column in MARKUP),
    ]
    for reader, section, key in keys:
        for brackets in ("[{}]", "[[{}]]") if section else ("",):
            for value in OTHER_KINDS:
                yield reader, f"{brackets.format(section)}\n{key} = {value}\n"


def complaints(reader: str, text: str, shop: Shop, folder: Path) -> str:
    """What is said of a file, by the reader of its kind."""
    toml = parse_toml(text.encode(), f"{reader}.toml")
    try:
        if reader == "job":
            job_from(toml, shop)
        elif reader == "batch":
            batch.batch_from(toml, shop, folder)
        elif reader == "state":
            state_from(toml, folder)
        else:
            read_terms([("shop.toml", text.encode())])
    except InputError as error:
        return str(error)
    return ""


def test_no_value_is_told_of_as_it_is_held_inside(tmp_path: Path) -> None:
    said = 0
    for reader, text in texts():
        told = complaints(reader, text, SHOP, tmp_path)
        said += bool(told)
        assert not INSIDE.search(told), (text, told)
    assert said > 1500


@pytest.mark.parametrize(
    "days", ["[2026-12-04, 2026-12-10]", '["2026-12-04", "10 Dec 2026"]', '"2026-12-04, 2026-12-10"']
)
def test_days_off_are_read_with_and_without_quotes(days: str, tmp_path: Path) -> None:
    (tmp_path / "plain.toml").write_text(PLAIN.replace('photo = "photo.png"\n', ""), encoding="utf-8")
    text = BATCH.replace('days_off = ["2026-10-07"]', f"days_off = {days}").replace(
        "skill = 4", f"days_off = {days}"
    )
    file = batch.batch_from(parse_toml(text.encode(), "batch.toml"), SHOP, tmp_path)
    assert file.days_off == file.people[0].days_off == {date(2026, 12, 4), date(2026, 12, 10)}


@pytest.mark.parametrize("given", ["job", "batch", "state", "settings"])
@pytest.mark.parametrize("wanted", ["job", "batch", "state", "settings"])
def test_one_file_in_the_place_of_another_is_told_in_one_complaint(
    given: str, wanted: str, tmp_path: Path
) -> None:
    texts = {
        "job": PLAIN,
        "batch": BATCH,
        "state": STATE,
        "settings": "charge_per_hour = 80\nbasis = 'own'\n",
    }
    told = complaints(wanted, texts[given], SHOP, tmp_path)
    if given != wanted:
        called = "the settings of a shop" if given == "settings" else f"a {given} file"
        assert f"this is {called}" in told
        assert "\n" not in told
        assert "next: " in told
    else:
        assert "this is" not in told


def test_choose_sends_a_batch_to_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "week.toml"
    file.write_text(BATCH, encoding="utf-8")
    assert run(["choose", str(file)]) == 2
    assert f"next: estimator plan {file}" in capsys.readouterr().err


def test_a_key_in_the_wrong_section_is_sent_where_it_belongs(tmp_path: Path) -> None:
    """Every key of every section of a job file, in every other section that takes only its own keys."""
    closed = [it for it in SECTIONS if not it.open_keys]
    keys = {it.name: {column.name for column in it.columns} for it in SECTIONS}
    homes = {
        name: f"[[{name}]]" if it.repeated else f"[{name}]" for name, it in ((it.name, it) for it in SECTIONS)
    }
    keys["instrument"] |= set(SHOP.intake)
    sent = 0
    for home, mine in keys.items():
        for key in sorted(mine):
            for other in closed:
                if key in keys[other.name]:
                    continue
                text = f"{homes[other.name]}\n{key} = 1\n[instrument2]\n"
                told = complaints("job", text, SHOP, tmp_path)
                assert f"unknown key; found “{key}”" in told, text
                line = next(line for line in told.splitlines() if f"unknown key; found “{key}”" in line)
                assert homes[home] in line.partition("next: write ")[2], line
                sent += 1
    assert sent > 500

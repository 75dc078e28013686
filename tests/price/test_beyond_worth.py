"""A customer hears that work costs more than the instrument would bring; where nobody knows what it brings, nothing is said."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from msgspec.structs import replace

from estimator.cli.main import run
from estimator.core.amounts import Cents
from estimator.model import Reading
from estimator.price.client.beyond_worth import offers_beyond_worth_words
from estimator.report.record import MONEY, Record, keys_of
from estimator.report.records.reference import ANSWERS, held_in
from tests.drawn_jobs import example, the_shop

JOB = """[job]
id = "w"
kind = "{kind}"
what = "plays badly"
[instrument]
kind = "guitar-solid"
{seen}
[budget]
{budget}
"""


def said_by_all_that_price(file: Path, comes_to: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Whichever command tells a price says of the same sum that it lies above what the instrument brings."""
    books = str(file.with_name("books.sqlite"))
    assert run(["ledger", "book", str(file), "--ledger", books]) == 0
    for command in (
        ["estimate", str(file), "--with", "set-up"],
        ["estimate", str(file), "--with", "set-up", "--full"],
        ["price", str(file)],
        ["price", str(file), "--full"],
        ["price", str(file), "--offers"],
        ["ledger", "quote", "w", "--ledger", books],
        ["price", str(file), "--given", comes_to],
        ["change", str(file), "--quoted", "clean-controls", "--now", "set-up"],
    ):
        capsys.readouterr()
        assert run(command) == 0
        screen = " ".join(capsys.readouterr().out.split())
        assert "Worth: such an instrument brings" in screen, command
        assert f"the work comes to {comes_to} USD" in screen, command


KEY = "instrument_brings_less"
OF_NO_OFFER = {
    "ChangeAnswer": "a difference; the two quotes that stand in it say it",
    "QuoteGiven": "a quote as it stands in the books, after the yes",
}
"""Records that tell a price with its tax and need not say what the instrument brings, with the reason."""


def told_without(record: type[Record[Any]], said: bool = False) -> Iterator[str]:
    """The records inside one that tell a price with its tax where neither they nor what holds them say what it brings."""
    figures = list(keys_of(record))
    said = said or any(figure.name == KEY for figure in figures)
    prices = [figure for figure in figures if figure.kind is MONEY and "with tax" in figure.meaning]
    if prices and not said:
        yield record.__name__
    for figure in figures:
        if figure.holds is not None:
            yield from told_without(figure.holds, said)


def test_whatever_answer_tells_a_price_has_a_key_for_what_the_instrument_brings() -> None:
    without = {(command, name) for command, record in ANSWERS.items() for name in told_without(record)}
    assert {name for _, name in without} == OF_NO_OFFER.keys(), without
    with_key = {command for command, record in ANSWERS.items() if KEY in reference_of(record)}
    assert len(with_key) >= 10


def reference_of(record: type[Record[Any]]) -> set[str]:
    """All keys of an answer, those inside it too."""
    return {figure.name for one in (record, *held_in(record)) for figure in keys_of(one)}


def test_the_data_of_each_command_with_a_price_tell_what_the_instrument_brings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command of the reference that has the key is run, on work beyond what is brought and on work below it."""
    runs = {
        "`estimate`": ["estimate", "{job}", "--with", "set-up"],
        "`choose`": ["choose", "{job}"],
        "`quote`": ["quote", "{job}", "-o", str(tmp_path / "w.xlsx")],
        "`reprice`": ["reprice", "{job}", str(tmp_path / "w.xlsx")],
        "`price`": ["price", "{job}"],
        "`price --offers`": ["price", "{job}", "--offers"],
        "`price --given`": ["price", "{job}", "--given", "300"],
        "`change`": ["change", "{job}", "--quoted", "clean-controls", "--now", "set-up"],
        "`ledger quote`": ["ledger", "quote", "w", "--ledger", str(tmp_path / "books.sqlite")],
    }
    none_found = {"any command that finds no set"}
    assert runs.keys() | none_found == {name for name, one in ANSWERS.items() if KEY in reference_of(one)}
    file = tmp_path / "w.toml"
    for brings in ("20", "5000"):
        seen = f"base_clean = {brings}"
        more = '[upgrades]\nrequired = ["set-up"]\n'
        file.write_text(JOB.format(kind="commission", seen=seen, budget="") + more, encoding="utf-8")
        if brings == "20":
            assert run(["ledger", "book", str(file), "--ledger", str(tmp_path / "books.sqlite")]) == 0
        for name, command in runs.items():
            capsys.readouterr()
            assert run([*(str(file) if word == "{job}" else word for word in command), "--json"]) == 0
            told = list(values_of(json.loads(capsys.readouterr().out)))
            assert told, name
            for one in told:
                assert one["money"] == "20.00" if brings == "20" else one is None, (name, one)


def values_of(data: object) -> Iterator[Any]:
    """What stands under the key, wherever in the data."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from [value] if key == KEY else values_of(value)
    elif isinstance(data, list):
        for value in data:
            yield from values_of(value)


def test_of_several_offers_those_above_what_the_instrument_brings_are_named() -> None:
    shop, job = the_shop(), example("tight-commission")
    looked_up = Reading(Decimal(400), False)
    job = replace(
        job,
        instrument=MappingProxyType({**job.instrument, "base_clean": looked_up}),
        budget=replace(job.budget, worth=None),
    )
    offers = {"lean": Cents(40000), "dear": Cents(40001), "dearest": Cents(50000)}
    words = offers_beyond_worth_words(shop, job, offers)
    assert "brings about 400.00 USD" in words
    assert "comes to 400.01 USD (dear) or 500.00 USD (dearest): say" in words
    assert not offers_beyond_worth_words(shop, job, {"lean": offers["lean"]})


@pytest.mark.parametrize(
    ("kind", "seen", "budget", "said"),
    [
        (
            "commission",
            "base_clean = 95",
            "",
            "brings about 95.00 USD, clean and working (base_clean as looked up)",
        ),
        ("commission", 'tier = "A"', "", "brings up to 110.00 USD, clean and working (price class A"),
        ("commission", 'tier = "E"', "", ""),
        ("commission", "base_clean = 5000", "", ""),
        ("commission", "", "", ""),
        ("commission", "base_clean = 95", "worth = 400", ""),
        ("own", "base_clean = 95", "", ""),
    ],
)
def test_work_beyond_what_the_instrument_brings_is_said_before_the_yes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], kind: str, seen: str, budget: str, said: str
) -> None:
    file = tmp_path / "w.toml"
    file.write_text(
        JOB.format(kind=kind, seen=seen, budget=budget) + '[upgrades]\nrequired = ["set-up"]\n',
        encoding="utf-8",
    )
    for full in ([], ["--full"]):
        assert run(["choose", str(file), *full]) == 0
        screen = " ".join(capsys.readouterr().out.split())
        assert (f"Worth: such an instrument {said}" in screen) if said else ("Worth:" not in screen)
    assert run(["choose", str(file), "--json"]) == 0
    brings = json.loads(capsys.readouterr().out)["instrument_brings_less"]
    assert (f"{brings['money']} USD, clean and working ({brings['by']}" in screen) if said else (not brings)
    if said:
        told = screen.partition("the work comes to ")[2].partition(" USD")[0]
        assert float(told) > 95
        page = tmp_path / "w.html"
        assert run(["quote", str(file), "-o", str(tmp_path / "w.xlsx"), "--page", str(page)]) == 0
        assert "Worth: such an instrument" in capsys.readouterr().out
        said_by_all_that_price(file, told, capsys)
        # what the instrument brings is for the bench to say: it stands on no customer's page
        assert "such an instrument brings" not in page.read_text(encoding="utf-8")

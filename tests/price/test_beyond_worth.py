"""A customer hears that work costs more than the instrument would bring; where nobody knows what it brings, nothing is said."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from types import MappingProxyType

import pytest
from msgspec.structs import replace

from estimator.choose.study import study_job
from estimator.cli.main import run
from estimator.core.amounts import Cents
from estimator.model import Reading
from estimator.price.client.beyond_worth import offers_beyond_worth_words
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
    ):
        capsys.readouterr()
        assert run(command) == 0
        screen = " ".join(capsys.readouterr().out.split())
        assert "Worth: such an instrument brings" in screen, command
        assert f"the work comes to {comes_to} USD" in screen, command
    for command in (["estimate", str(file), "--with", "set-up"], ["price", str(file)]):
        assert run([*command, "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["instrument_brings_less"], command


def test_of_several_offers_those_above_what_the_instrument_brings_are_named() -> None:
    shop, job = the_shop(), example("tight-commission")
    looked_up = Reading(Decimal(400), False)
    job = replace(
        job,
        instrument=MappingProxyType({**job.instrument, "base_clean": looked_up}),
        budget=replace(job.budget, worth=None),
    )
    totals = study_job(shop, job).costing.estimate(()).totals
    offers = {
        name: replace(totals, to_pay=Cents(cents))
        for name, cents in (("lean", 40000), ("dear", 40001), ("dearest", 50000))
    }
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

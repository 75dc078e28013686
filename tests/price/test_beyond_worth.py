"""A customer hears that work costs more than the instrument would bring; where nobody knows what it brings, nothing is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from estimator.cli.main import run

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
        # what the instrument brings is for the bench to say: it stands on no customer's page
        assert "such an instrument brings" not in page.read_text(encoding="utf-8")

"""A number with its noun, as a reader expects it."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from estimator.cli.main import run
from estimator.core.text import count, of_unit


def test_one_and_more() -> None:
    assert [count(n, "level") for n in (0, 1, 2)] == ["0 levels", "1 level", "2 levels"]
    assert count(Decimal(1), "was not", "were not") == "1 was not"
    assert count(3, "was not", "were not") == "3 were not"


def test_a_wish_of_one_level_is_told_as_one(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(
        '[job]\nid = "one"\n[instrument]\nkind = "guitar-solid"\n[wish]\nrequire = { controls = 2 }\n',
        encoding="utf-8",
    )
    assert run(["estimate", str(job), "--with", "clean-controls"]) == 0
    assert "Wish (1 level):" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("number", "unit", "told"),
    [
        (Decimal("740"), "cm2", "740 cm2"),
        (Decimal("1.0"), "nut", "1 nut"),
        (Decimal("12"), "string", "12 strings"),
        (Decimal("0.5"), "guard", "0.5 guards"),
        ("20", "opening", "20 openings"),
        (Decimal("20"), "cm", "20 cm"),
    ],
)
def test_a_measure_has_no_plural_and_things_have(number: Decimal | str, unit: str, told: str) -> None:
    assert of_unit(number, unit) == told

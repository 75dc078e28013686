"""A number with its noun, as a reader expects it."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

import estimator
from estimator.cli.main import run
from estimator.core.text import count, of_unit
from estimator.ledger.clock import read_seconds


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


NOUNS = "jobs|days|values|times|upgrades|parts|attributes|purchases|sets|tasks|quotes|orders|rows|pieces|listings|operations|places"
_UNCOUNTED = re.compile(rf"\{{(?![^{{}}]*\bcount\()([^{{}}]+)\}} (?:finished )?({NOUNS})\b")
PLAIN = {
    # of sums that cannot be one, or words that no one of them makes wrong
    "PROMISE_DAYS",
    "LONGEST_MS // 86_400_000",
    "of.draws:,",
    "tries",
    "there",
    "places",
    "len(found.offers)",
    "days:.0f",
    "out.days.normalize():f",
    "median(row['days'] for row in sold):.0f",
    "exp(effect.mean):.2f",
    "quantity.normalize():f",
    "number_words(terms.own_part_labour)",
}


def test_no_number_stands_before_things_without_its_noun_being_counted() -> None:
    """One job is no “1 jobs”: whoever tells a number of things says so by ``count``."""
    found = []
    for file in sorted(Path(estimator.__file__).parent.rglob("*.py")):
        for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1):
            found += [
                f"{file.name}:{number}: {match[0]}"
                for match in _UNCOUNTED.finditer(line)
                if match[1] not in PLAIN and 'f"' in line
            ]
    assert found == []


@pytest.mark.parametrize("text", ["50m", "50 m", "0h50m", "50 mins"])
def test_minutes_as_people_type_them(text: str) -> None:
    assert read_seconds(text) == 3000

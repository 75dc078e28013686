"""The type checker tells cents, hundredths of a minute and tenths of a level apart; the program does not."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from estimator.core.amounts import Cents, Hundredths, Tenths

ROOT = Path(__file__).parents[2]

WITH = """from estimator.core.amounts import Cents, Hundredths, Minutes, Tenths
price, time, level, week = Cents(250), Hundredths(1250), Tenths(25), Minutes(2400)
"""

REFUSED = (
    "price + time",
    "time + price",
    "price - time",
    "price < time",
    "level >= price",
    "price == time",
    "time + week",
    "week < time",
    "total: Cents = sum([price, price], time)",
    "total: Cents = time",
    "total: Cents = 250",
    "total: Cents = Cents(2.5)",
    "total: Cents = Cents('250')",
    "total: Cents = price + 1",
    "total: Cents = price // 2",
    "total: Cents = price * time",
    "total: Cents = max(price, time)",
)
TAKEN = (
    "total: Cents = price + price - price",
    "total: Cents = 3 * price - price * 2",
    "total: Cents = -price",
    "total: Cents = abs(price)",
    "total: Cents = sum([price, price], Cents(0))",
    "total: Cents = max(price, Cents(0))",
    "total: Cents = Cents(price // 2)",
    "plain: int = price + price",
    "text: str = f'{price / 100:.2f}'",
    "is_more: bool = price > 0",
    "is_more: bool = price < price",
    "total: Minutes = week + 2 * week",
)


def complaints(lines: tuple[str, ...], folder: Path) -> set[int]:
    """Which of the lines, counted from 0, the type checker complains of."""
    before = len(WITH.splitlines())
    file = folder / "amounts_used.py"
    # each line is a function of its own, so that each may name what it likes
    body = "".join(f"def of_line_{number}() -> None:\n    {line}\n" for number, line in enumerate(lines))
    file.write_text(WITH + body, encoding="utf-8")
    checked = subprocess.run(
        [
            *(sys.executable, "-m", "mypy", "--strict", "--config-file", "", "--no-error-summary"),
            *("--cache-dir", str(folder / "cache"), str(file)),
        ],
        env={**os.environ, "MYPYPATH": str(ROOT)},
        capture_output=True,
        text=True,
    )
    assert checked.returncode in (0, 1), checked.stdout + checked.stderr
    told = [line.split(":") for line in checked.stdout.splitlines() if ": error:" in line]
    assert all(Path(parts[0]).name == file.name for parts in told), checked.stdout
    return {(int(parts[1]) - before - 1) // 2 for parts in told}


@pytest.mark.slow
def test_the_type_checker_refuses_mixed_amounts_and_takes_the_rest(tmp_path: Path) -> None:
    pytest.importorskip("mypy", reason="the type checker comes with the extra dev")
    found = complaints(REFUSED + TAKEN, tmp_path)
    assert {(REFUSED + TAKEN)[number] for number in found} == set(REFUSED)


def test_while_the_program_runs_an_amount_is_a_plain_whole_number() -> None:
    for kind in (Cents, Hundredths, Tenths):
        assert type(kind(250)) is int

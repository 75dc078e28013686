"""The type checker tells the kinds of whole amounts and the two clocks of a schedule apart; the program does not."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from estimator.core import amounts

ROOT = Path(__file__).parents[2]

KINDS = (
    *("Cents", "Hundredths", "Tenths", "Minutes", "Elapsed"),
    *("Thousandths", "TenthGrams", "Seconds", "Millionths"),
)
WITH = f"""from estimator.core.amounts import {", ".join(KINDS)}
from estimator.model.problem import Giver
from estimator.schedule.calendar import Calendar
from estimator.schedule.records import Assignment, Link, Operation
price, time, level, week = Cents(250), Hundredths(1250), Tenths(25), Minutes(2400)
night, size, mass = Elapsed(720), Thousandths(3600), TenthGrams(85)
shop = Calendar([(Elapsed(540), Elapsed(1020))])
glue = Operation("glue", "one", Minutes(20), cure=Elapsed(480))
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
    "week + night",
    "week < night",
    "size + mass",
    "size - level",
    "mass > level",
    "glue.minutes + glue.cure",
    "shop.working_at(week)",
    "shop.elapsed_at_end(night)",
    "shop.after_wait(night, glue.cure)",
    "shop.moment(week)",
    "Link('glue', Minutes(30))",
    "Operation('sand', 'one', Elapsed(20))",
    "Assignment('glue', Minutes(0), shop.elapsed_at_end(week), Minutes(30))",
    "raised: Giver[Tenths] = Giver(size, ())",
)
EACH = tuple(
    f"{one}(1) {sign} {other}(1)" for one in KINDS for other in KINDS if one != other for sign in ("+", "<")
)
"""No kind goes with another."""
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
    "total: Minutes = shop.after_wait(week, glue.cure)",
    "total: Minutes = shop.working_at(shop.elapsed_at_end(week) + glue.cure)",
    "total: Elapsed = 2 * night + glue.cure",
    "raised: Giver[Thousandths] = Giver(size + size, ())",
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
    lines = REFUSED + EACH + TAKEN
    found = complaints(lines, tmp_path)
    assert {lines[number] for number in found} == {*REFUSED, *EACH}


def test_while_the_program_runs_an_amount_is_a_plain_whole_number() -> None:
    for kind in KINDS:
        assert type(getattr(amounts, kind)(250)) is int

"""Single values of the tables: any order of taking over and taking back; which parts are taken."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.learn.accept import accept, shop_rows, take_back
from estimator.learn.every_value import PARTS, read_parts
from estimator.learn.values import Priors, Value
from tests.ledger.shop import at, begun

CELLS = (
    ("tasks.csv", "string-up", "rework_pct"),
    ("tasks.csv", "string-up", "wait_usual_min"),
    ("tasks.csv", "set-action", "rework_pct"),
    ("consumables.csv", "c-strings-guitar", "price"),
    ("selling_ways.csv", "local", "days_factor"),
)


def standing(folder: Path) -> dict[tuple[str, str, str], Decimal]:
    tables = {file: shop_rows(folder, file) for file in {file for file, _, _ in CELLS}}
    return {(file, row, column): tables[file][(row,)].values[column] for file, row, column in CELLS}


@pytest.mark.slow
def test_any_order_of_taking_over_and_back(tmp_path: Path) -> None:
    """4 drawn runs: each taking back restores what stood before, and every prior is that of the beginning."""
    for seed in range(4):
        draw, folder = random.Random(seed), tmp_path / str(seed)
        folder.mkdir()
        (folder / "tasks.csv").write_text("id,setup_min,rework_pct\nset-action,2,7\n")
        first, stack = standing(folder), []
        with begun(folder) as ledger:
            for _ in range(6):
                before = standing(folder)
                if stack and draw.random() < 0.4:
                    take_back(ledger, folder, at("2026-10-07 09:00"))
                    assert standing(folder) == stack.pop()
                else:
                    priors = Priors(ledger)
                    values = []
                    for file, row, column in draw.sample(CELLS, draw.randint(1, 3)):
                        now = before[file, row, column]
                        after = Decimal(draw.randint(1, 10))
                        prior = priors.of(file, row, column, now)
                        assert prior == first[file, row, column]
                        values.append(Value("rework", file, row, column, prior, now, after, 5, "drawn"))
                    accept(ledger, folder, (), at("2026-10-06 09:00"), values=values)
                    stack.append(before)
                    after_all = {(one.file, one.row, one.column): one.after for one in values}
                    assert standing(folder) == before | after_all
            while stack:
                take_back(ledger, folder, at("2026-10-07 09:00"))
                assert standing(folder) == stack.pop()
        assert standing(folder) == first
        assert shop_rows(folder, "tasks.csv")[("set-action",)].values["setup_min"] == 2


def test_a_value_learned_back_to_the_default_one_leaves_a_table_that_reads(tmp_path: Path) -> None:
    (tmp_path / "tasks.csv").write_text("id,rework_pct\nset-action,50\n")
    default = shop_rows(tmp_path / "none", "tasks.csv")[("set-action",)].values["rework_pct"]
    value = Value(
        "rework", "tasks.csv", "set-action", "rework_pct", Decimal(50), Decimal(50), default, 5, "drawn"
    )
    with begun(tmp_path) as ledger:
        accept(ledger, tmp_path, (), at("2026-10-06 09:00"), values=[value])
    assert shop_rows(tmp_path, "tasks.csv")[("set-action",)].values["rework_pct"] == default


def test_the_parts_that_are_taken_over() -> None:
    assert read_parts(None) == PARTS
    assert read_parts("prices, waits") == ["prices", "waits"]
    for text in ("price", "", "times;waits"):
        with pytest.raises(InputError, match="is no part"):
            read_parts(text)

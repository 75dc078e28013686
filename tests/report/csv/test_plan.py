"""The tables of a plan read back: money adds up to the cent, minutes to the schedule, no text is a formula."""

from __future__ import annotations

import csv
from datetime import datetime
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest

from estimator.core.errors import InputError
from estimator.core.save import save_all
from estimator.report.csv.plan import csv_outputs, orders_csv, week_csv
from tests.plan.bench import plan
from tests.workbook.write.test_plan import hostile


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text)))


@pytest.mark.parametrize("name", ["batch-three", "batch-school"])
def test_orders_add_up(name: str) -> None:
    found = plan(name)
    table = rows(orders_csv(found))
    jobs = list(found.orders.by_job)
    assert sum(Decimal(row["money"]) for row in table) * 100 == found.orders.total
    for row in table:
        assert sum(Decimal(row[f"share of {job}"]) for job in jobs) == Decimal(row["money"])
    for job in jobs:
        assert sum(Decimal(row[f"share of {job}"]) for row in table) * 100 == found.orders.by_job[job]


def test_freight_is_a_row_of_its_own() -> None:
    table = rows(orders_csv(plan("batch-school")))
    freight = sum(b.freight for b in plan("batch-school").orders.baskets)
    assert sum(Decimal(r["money"]) for r in table if r["kind"] == "freight") * 100 == freight


def test_the_week_holds_every_minute() -> None:
    found = plan("batch-three")
    table = rows(week_csv(found))
    assert sum(int(row["minutes"]) for row in table) == found.schedule.figures.minutes
    for row in table:
        span = datetime.fromisoformat(row["ends"]) - datetime.fromisoformat(row["begins"])
        assert span.total_seconds() / 60 == int(row["minutes"])
    paint = next(row for row in table if row["task"] == "shield-cavity-paint")
    assert datetime.fromisoformat(paint["cures_until"]) > datetime.fromisoformat(paint["ends"])
    assert [row["begins"] for row in table] == sorted(row["begins"] for row in table)


def test_no_text_is_taken_for_a_formula() -> None:
    for row in rows(orders_csv(hostile(plan("batch-three")))):
        if row["kind"] != "freight":
            assert row["what"].startswith("'+cmd")


def test_a_table_that_is_there_is_kept_and_nothing_is_written(tmp_path: Path) -> None:
    (tmp_path / "week.csv").write_text("mine")
    with pytest.raises(InputError, match="there is a file of this name"):
        csv_outputs(plan("batch-three"), tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["week.csv"]
    assert (tmp_path / "week.csv").read_text() == "mine"
    made = save_all(csv_outputs(plan("batch-three"), tmp_path, force=True))
    assert [p.name for p in made] == ["orders.csv", "week.csv"]
    with pytest.raises(InputError, match="no folder can be made"):
        csv_outputs(plan("batch-three"), tmp_path / "nowhere" / "deeper")

"""The work, the materials and the freight of selling follow the way to sell, whatever the command; and the
shop's own instrument has no customer's price in any of them.

What a way has is read from the tables' own cells here, not asked of the program.
"""

from __future__ import annotations

import csv
import json
import random
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook

from estimator.choose.study import study_job
from estimator.cli.main import run
from estimator.core.money import money_text
from estimator.input.job.load import load_job
from tests.shops import default_shop

RATES = Path(__file__).parents[2] / "rates"
SELLING = ("photograph-instrument", "list-and-answer-buyers", "pack-instrument", "ship-parcel")
CASES = (
    ("guitar-solid", "new-jack-economy", 'jack_state = "dead"'),
    ("bass-solid", "clean-controls", 'pot_state = "scratchy"'),
    ("guitar-semi", "set-up", ""),
)
WAYS = ("local", "marketplace", "auction", "consignment", "dealer")
#: a key of what a customer pays for work; what a buyer pays for the instrument is told as ``sale_price``
PRICES = ("price", "tax", "to_pay", "price_under_cost")


@cache
def rows(name: str) -> list[dict[str, str]]:
    with (RATES / name).open(encoding="utf-8") as table:
        return list(csv.DictReader(table))


def work_of(way: str) -> set[str]:
    """The tasks of selling that a way has."""
    drops = next(row["drops"].split() for row in rows("selling_ways.csv") if row["id"] == way)
    return set(SELLING) - set(drops)


def materials_of(tasks: set[str]) -> dict[str, Decimal]:
    found: dict[str, Decimal] = {}
    for row in rows("task_consumables.csv"):
        if row["task"] in tasks:
            found[row["consumable"]] = found.get(row["consumable"], Decimal(0)) + Decimal(row["quantity"])
    return found


def job_file(folder: Path, way: str, case: tuple[str, str, str], kind: str = "resale") -> Path:
    instrument, upgrade, fault = case
    path = folder / f"{kind}-{way}.toml"
    sale = f'[resale]\nway = "{way}"\n' if kind == "resale" else ""
    path.write_text(
        f'[job]\nid = "one"\nkind = "{kind}"\n[instrument]\nkind = "{instrument}"\ntier = "D"\n'
        f'base_clean = 700\nask = 90\npapers = true\n{fault}\n{sale}[upgrades]\nopen = ["{upgrade}"]\n'
        f'required = ["{upgrade}"]\n[terms]\nskill = 4\n'
    )
    return path


def text(capsys: pytest.CaptureFixture[str], *arguments: object, status: int = 0) -> str:
    capsys.readouterr()
    assert run([str(each) for each in arguments]) == status, arguments
    return capsys.readouterr().out


def data(capsys: pytest.CaptureFixture[str], *arguments: object) -> dict:  # type: ignore[type-arg]
    return json.loads(text(capsys, *arguments, "--json"))


def selling_work(lines: list[dict]) -> dict[str, tuple[str, float]]:  # type: ignore[type-arg]
    return {line["task"]: (line["cost"], line["minutes"]) for line in lines if line["task"] in SELLING}


def used(lines: list[dict]) -> dict[str, Decimal]:  # type: ignore[type-arg]
    """What the work of selling uses up, by its lines."""
    found: dict[str, Decimal] = {}
    for line in lines:
        for use in line["consumables"] if line["task"] in SELLING else ():
            found[use["id"]] = found.get(use["id"], Decimal(0)) + Decimal(str(use["quantity"]))
    return found


def cells_of(path: Path) -> set[str]:
    book = load_workbook(path)
    return {str(c.value) for sheet in book for row in sheet.iter_rows() for c in row if c.value is not None}


def priced_keys(of: object) -> list[str]:
    """Keys of a customer's price that hold a figure, wherever they stand."""
    if isinstance(of, dict):
        here = [key for key, value in of.items() if key in PRICES and isinstance(value, str | int)]
        return here + [key for value in of.values() for key in priced_keys(value)]
    return [key for value in of for key in priced_keys(value)] if isinstance(of, list) else []


def drawn() -> list[tuple[str, tuple[str, str, str]]]:
    rng = random.Random(1707)
    return [(way, rng.choice(CASES)) for way in WAYS]


@pytest.mark.slow
@pytest.mark.parametrize(("way", "case"), drawn(), ids=lambda it: it if isinstance(it, str) else it[0])
def test_the_work_of_selling_is_that_of_the_way_in_every_command(
    way: str, case: tuple[str, str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, wanted = job_file(tmp_path, way, case), work_of(way)
    named = data(capsys, "estimate", path, "--with", case[1])
    chosen = data(capsys, "choose", path)
    assert chosen["upgrades"] == [case[1]]
    assert set(selling_work(named["work"])) == wanted
    assert selling_work(chosen["work"]) == selling_work(named["work"])
    assert used(named["work"]) == used(chosen["work"]) == materials_of(wanted)
    minutes, cost = named["totals"]["expected_min"], named["totals"]["cost"]

    risk = data(capsys, "risk", path)
    assert (risk["mean_min"], risk["cost"]) == (minutes, cost)
    # what is used by selling alone is in the list of what is used up, or in none of it
    worn = {row["id"] for row in risk["wear"]["consumables"]}
    packing = materials_of(set(SELLING) - {"photograph-instrument", "list-and-answer-buyers"})
    alone = {name for name in packing if name in worn}
    assert alone == (set(packing) if "pack-instrument" in wanted else set())

    offered = data(capsys, "offer", path)["plan"]
    assert offered["way"] == way
    same = [
        line
        for line in data(capsys, "sell", path)["ways"]
        if line["way"] == way and line["upgrades"] == offered["upgrades"]
    ]
    kept = ("minutes", "money_out", "fees", "box_freight_fetching")
    assert all([line[key] for key in kept] == [offered[key] for key in kept] for line in same)

    batch = tmp_path / "batch.toml"
    batch.write_text(
        f'[batch]\nid = "b"\nstart = 2026-10-05\n[[person]]\nid = "me"\nskill = 4\n[[job]]\nid = "one"\n'
        f'file = "{path.name}"\ndue = 2026-12-30\n'
    )
    (planned,) = data(capsys, "plan", batch)["jobs"]
    assert (planned["upgrades"], planned["cost"]) == ([case[1]], cost)

    text(capsys, "quote", path, "-o", tmp_path / "q.xlsx")
    assert {task for task in SELLING if f"run:{task}@" in cells_of(tmp_path / "q.xlsx")} == wanted


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["resale", "own"])
def test_no_command_tells_a_customers_price_of_the_shops_own_instrument(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = job_file(tmp_path, "marketplace", CASES[0], kind)
    upgrade = CASES[0][1]
    shop = default_shop()
    told = study_job(shop, load_job(path, shop)).costing.estimate([upgrade])
    figures = {money_text(told.totals.to_pay), *(money_text(part.price) for part in told.parts)}
    figures -= {money_text(told.totals.cost)}
    assert len(figures) == 2
    commands = (
        ("estimate", path, "--with", upgrade),
        ("choose", path),
        ("choose", path, "--why"),
        ("choose", path, "--next", 2),
        ("choose", path, "--frontier"),
        ("risk", path),
        ("measure", path),
        ("fit", path),
    )
    for command in commands:
        words = text(capsys, *command)
        assert not [figure for figure in figures if f" {figure} " in words], command
        assert not priced_keys(data(capsys, *command)), command
    out = tmp_path / "q.xlsx"
    words = text(capsys, "quote", path, "-o", out)
    assert "price" not in words
    assert not priced_keys(data(capsys, "quote", path, "-o", out))
    cells = cells_of(out)
    assert not [cell for cell in cells if "price" in cell.lower() or "to pay" in cell.lower()]
    assert not {str(float(figure)) for figure in figures} & cells
    # the workbook is taken up again all the same, and what is changed in it is priced
    assert data(capsys, "reprice", path, out)["totals"]["cost"] == money_text(told.totals.cost)


@pytest.mark.slow
def test_the_ledger_keeps_the_work_on_the_shops_own_instrument_at_its_cost(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, upgrade = job_file(tmp_path, "local", CASES[0]), CASES[0][1]
    cost = data(capsys, "estimate", path, "--with", upgrade)["totals"]["cost"]
    at = ("--ledger", tmp_path / "l.sqlite", "--now", "2026-10-05 09:00")
    text(capsys, "ledger", "book", path, *at)
    words = text(capsys, "ledger", "quote", "one", "--with", upgrade, *at)
    assert words == f"quote 2026-001 for one: {cost} USD of cost\n"
    given = data(capsys, "ledger", "quote", "one", "--with", upgrade, *at)
    assert not priced_keys(given)
    assert sum(Decimal(line["amount"]) for line in given["lines"]) == Decimal(cost)
    assert Decimal(given["cost"]) == Decimal(cost)
    shown = text(capsys, "ledger", "show", "one", "--ledger", tmp_path / "l.sqlite")
    assert [line.split()[-1] for line in shown.splitlines() if line.startswith(" number")] == ["cost"]

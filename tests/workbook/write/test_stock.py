"""The quote workbook shares what is in stock among all rows that take the part, and stays true when edited."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import Study, study_job
from estimator.input.job.load import load_job
from estimator.model import Shop
from estimator.price.client.quote import quote_for
from estimator.report.records.work import parts_of
from estimator.workbook.read.reprice import reprice
from estimator.workbook.write.quote import quote_bytes
from tests.workbook.own_engine import Engine
from tests.workbook.read_back import read_costing
from tests.workbook.recalculate import cells_of, named_cells, with_values
from tests.workbook.sets import together

PICKUPS = tuple(f"{place}-pickup-single-standard" for place in ("bridge", "middle", "neck"))


@pytest.fixture(scope="module")
def study(shop: Shop, tmp_path_factory: pytest.TempPathFactory) -> Study:
    path = tmp_path_factory.mktemp("job") / "job.toml"
    path.write_text(
        '[job]\nid = "stocked"\nkind = "commission"\n[instrument]\nkind = "guitar-solid"\n'
        'pu_neck = "single"\npu_middle = "single"\npu_bridge = "single"\n'
    )
    return study_job(shop, load_job(path, shop))


def stocked(study: Study, stock: dict[str, int]) -> Study:
    held = {name: Decimal(number) for name, number in stock.items()}
    return study_job(study.shop, replace(study.job, stock=held))


def column(path: Path, head: str, sheet: str) -> dict[str, str]:
    """Addresses under a head of the first block of a sheet that has it, by what stands in the first column."""
    cells = cells_of(path)
    at = next(at for (s, at), value in cells.items() if s == sheet and value == head)
    return {
        at[0] + str(row): str(cells.get((sheet, f"A{row}")))
        for row in range(int(at[1:]) + 1, int(at[1:]) + 4)
    }


@pytest.mark.slow
def test_two_of_three_rows_are_bought_where_one_piece_is_there(study: Study, tmp_path: Path) -> None:
    it = stocked(study, {"single-standard": 1})
    path = tmp_path / "quote.xlsx"
    path.write_bytes(quote_bytes(it, chosen=PICKUPS))
    cells = cells_of(path)
    bought = list(column(path, "To buy", "Parts and consumables"))
    assert [cells["Parts and consumables", at] for at in bought] == [0, 1, 1]
    by = list(column(path, "Bought by", "Price"))
    assert [cells["Price", at] for at in by] == ["stock", "shop", "shop"]
    assert [part.from_stock for part in parts_of(it, it.costing.estimate(PICKUPS))[:3]] == [
        1,
        0,
        0,
    ]
    # a second one is found on the shelf: one number is changed, and cash and deposit follow
    stock = list(column(path, "In stock", "Parts and consumables"))
    changed = with_values(path, tmp_path / "changed.xlsx", {("Parts and consumables", stock[0]): 2})
    two = stocked(study, {"single-standard": 2})
    engine, names = Engine(changed), named_cells(path)
    cash = two.costing.estimate(PICKUPS).totals.money.cash
    assert engine.value(*names["out_cash"]) == pytest.approx(cash / 100, abs=1e-9)
    assert engine.value(*names["out_deposit"]) == pytest.approx(
        quote_for(two, PICKUPS).deposit / 100, abs=1e-9
    )


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_cash_and_deposit_of_random_sets_with_stock(study: Study, tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    parts = sorted({line.part for line in study.costing.parts.values()})
    it = stocked(study, {part: chance.randint(0, 3) for part in parts})
    ids = [verdict.upgrade.id for verdict in it.verdicts]
    places = [
        name for name in ids if "-pickup-single-" in name or name.startswith(("string-trees", "new-pots"))
    ]
    chosen = together(it, (*chance.sample(places, len(places)), *chance.sample(ids, len(ids))), 8)
    path = tmp_path / "quote.xlsx"
    path.write_bytes(quote_bytes(it, chosen=chosen))
    engine, names = Engine(path), named_cells(path)
    money = it.costing.estimate(chosen).totals.money
    assert engine.value(*names["out_cash"]) == pytest.approx(money.cash / 100, abs=1e-9)
    deposit = quote_for(it, chosen).deposit
    assert engine.value(*names["out_deposit"]) == pytest.approx(deposit / 100, abs=1e-9)
    cells = cells_of(path)
    for sheet, address in engine.formulas:
        assert engine.value(sheet, address) == pytest.approx(cells[sheet, address], abs=1e-9)
    # one quantity is changed, to whole pieces and to a part of one: priced anew it comes to the same
    keys = {str(v): at[1:] for (s, at), v in cells.items() if s == "Price" and str(v).startswith("part:")}
    key = chance.choice(sorted(keys))
    for quantity in ((3, 0), (1.5,))[seed % 2]:
        changed = with_values(path, tmp_path / "changed.xlsx", {("Price", f"E{keys[key]}"): quantity})
        _, estimate = reprice(it, chosen, read_costing(changed, it, chosen))
        cash = Engine(changed).value(*names["out_cash"])
        assert cash == pytest.approx(estimate.totals.money.cash / 100, abs=1e-9), (key, quantity)


@pytest.mark.slow
@pytest.mark.parametrize("there", ["0", "1", "2.5"])
def test_strings_beyond_the_stock_are_bought_whole(study: Study, tmp_path: Path, there: str) -> None:
    """The sheet says what is there and what must be bought; cash follows when another set is found."""
    chosen = ("new-strings",)
    it, all_there = (
        study_job(study.shop, replace(study.job, stock={"c-strings-guitar": Decimal(n)}))
        for n in (there, "1")
    )
    path = tmp_path / "quote.xlsx"
    path.write_bytes(quote_bytes(it, chosen=chosen))
    engine, names, cells = Engine(path), named_cells(path), cells_of(path)
    assert engine.value(*names["out_cash"]) == pytest.approx(
        it.costing.estimate(chosen).totals.money.cash / 100, abs=1e-9
    )
    for sheet, address in engine.formulas:
        assert engine.value(sheet, address) == pytest.approx(cells[sheet, address], abs=1e-9)
    if there != "0":
        sheet = "Parts and consumables"
        row = next(
            at[1:] for (s, at), v in cells.items() if s == sheet and str(v).startswith("Steel string set")
        )
        assert (cells[sheet, f"G{row}"], cells[sheet, f"H{row}"]) == (float(there), 0)
        none = with_values(path, tmp_path / "changed.xlsx", {(sheet, f"G{row}"): 0})
        bare = replace(study, job=replace(study.job, stock={}))
        cash = study_job(bare.shop, bare.job).costing.estimate(chosen).totals.money.cash
        assert Engine(none).value(*names["out_cash"]) == pytest.approx(cash / 100, abs=1e-9)
        assert cash - all_there.costing.estimate(chosen).totals.money.cash == 700
        _, estimate = reprice(it, chosen, read_costing(path, it, chosen))
        assert estimate.totals.money.cash == it.costing.estimate(chosen).totals.money.cash

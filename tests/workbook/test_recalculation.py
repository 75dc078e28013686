"""A second, independent engine (in plain Python, so it always runs) comes to every stored value too."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from estimator.choose.study import Study
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.sheets.quote import AS_QUOTED, CHANGED
from tests.workbook.own_engine import Engine, rounded
from tests.workbook.recalculate import cells_of, named_cells, with_values
from tests.workbook.sets import together


def wrong(path: Path) -> tuple[int, list[str]]:
    engine, stored = Engine(path), cells_of(path)
    bad = []
    for sheet, address in engine.formulas:
        found, value = engine.value(sheet, address), stored[sheet, address]
        number = isinstance(value, int | float)
        if abs(found - value) > 1e-9 * max(1.0, abs(value)) if number else found != value:
            bad.append(
                f"{sheet}!{address} ={engine.formulas[sheet, address]}: stored {value}, worked out {found}"
            )
    return len(engine.formulas), bad


def test_the_engine_rounds_as_spreadsheets_do() -> None:
    from decimal import ROUND_HALF_UP

    assert rounded(1.005, 2, ROUND_HALF_UP) == 1.01
    assert rounded(-2.345, 2, ROUND_HALF_UP) == -2.35
    assert rounded(2.675, 2, ROUND_HALF_UP) == 2.68


@pytest.mark.slow
def test_every_formula_of_the_examples_and_of_random_sets(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    chance = random.Random(41)
    count = 0
    for name, study in studies.items():
        ids = [verdict.upgrade.id for verdict in study.verdicts]
        for number, some in enumerate((chosen[name], together(study, chance.sample(ids, len(ids)), 7))):
            makers = (quote_bytes, customer_quote_bytes) if study.job.kind == "commission" else (quote_bytes,)
            for make in makers:
                path = tmp_path / f"{name}-{number}.xlsx"
                path.write_bytes(make(study, chosen=some))
                formulas, bad = wrong(path)
                assert bad == []
                count += formulas
    assert count > 5000


@pytest.mark.slow
def test_changed_inputs_come_to_what_a_fresh_estimate_says(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    """Rate, mark-up, surety, tax and a quantity at once, read back, priced anew, and worked out by the engine."""
    from estimator.workbook.read.reprice import reprice
    from tests.workbook.read_back import read_costing

    for name, study in studies.items():
        path = tmp_path / f"{name}.xlsx"
        path.write_bytes(quote_bytes(study, chosen=chosen[name]))
        names = named_cells(path)
        row = next(
            at
            for (sheet, at), value in cells_of(path).items()
            if sheet == "Costing" and at.startswith("A") and str(value).startswith("run:")
        )[1:]
        inputs = {"in_wage": 47.11, "in_z": 1.04}
        results = {"out_cost": "cost", "out_p80": "p80"}
        if study.job.for_customer:  # work on the shop's own has no price
            inputs |= {"in_factor1": 1.9, "in_charge": 83.33, "in_tax_parts": 0.0725, "in_tax_labour": 0.031}
            results |= {"out_to_pay": "to_pay", "out_tax": "tax"}
        changes: dict[tuple[str, str], float | str] = {names[one]: value for one, value in inputs.items()}
        changes["Costing", f"E{row}"] = 2
        changed = with_values(path, tmp_path / f"{name}-changed.xlsx", changes)
        _, estimate = reprice(study, chosen[name], read_costing(changed, study, chosen[name]))
        engine, totals = Engine(changed), estimate.totals
        for result, figure in results.items():
            cents = getattr(totals, figure)
            assert engine.value(*names[result]) == pytest.approx(cents / 100, abs=1e-9), (name, result)
        reserve = totals.money.reserve / 100
        assert engine.value(*names["out_reserve"]) == pytest.approx(reserve, abs=1e-9), name


@pytest.mark.slow
def test_the_page_says_when_its_work_was_changed(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    """Each quantity alone set to nothing, of work and of parts; also where the rounded price stays as it was."""
    path, edited = tmp_path / "q.xlsx", tmp_path / "e.xlsx"
    path.write_bytes(quote_bytes(studies["tight-commission"], chosen=chosen["tight-commission"]))
    engine, cells = Engine(path), cells_of(path)
    (bar,) = [at for at, value in cells.items() if at[0] == "Quote" and value == AS_QUOTED]
    assert engine.value(*bar) == AS_QUOTED
    rows = [
        ("Costing", f"E{n}") for n in range(5, 60) if isinstance(cells.get(("Costing", f"E{n}")), int | float)
    ]
    assert len(rows) > 10
    for at in random.Random(3).sample(rows, 8):
        with_values(path, edited, {at: 0})
        assert Engine(edited).value(*bar) == CHANGED, at

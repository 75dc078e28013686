"""What stands in the quote workbook: equal to the estimate, worked out anew to the same, live when changed."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import Study, study_job
from estimator.core.errors import InputError
from estimator.estimate.costing import Costing, is_active
from estimator.estimate.labour import run_line
from estimator.model import Estimate, MarkupBand, Shop, Terms
from estimator.price.client.quote import deposit_of
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.rows import cost_rows
from tests.workbook.recalculate import (
    cells_of,
    differing,
    formulas_of,
    named_cells,
    recalculated,
    with_values,
)
from tests.workbook.sets import together

JOB = "tight-commission"


def results(estimate: Estimate, terms: Terms, costing: Costing) -> dict[str, float]:
    """What the named results must show, in money and minutes."""
    totals = estimate.totals
    money = totals.money
    price = costing.price(totals.surety_min, money)
    ordered = sum(part.price for part in estimate.parts if part.owner == "shop")
    hundredths = {
        "out_parts": money.parts,
        "out_consumables": money.consumables,
        "out_tools": money.tools,
        "out_labour": money.labour,
        "out_overhead": money.overhead,
        "out_reserve": money.reserve,
        "out_cost": money.cost,
        "out_cash": money.cash,
        "out_price_parts": money.price_parts,
        "out_attended": totals.attended,
        "out_reserve_min": totals.reserve_min,
        "out_expected": totals.expected,
        "out_p80": totals.p80,
        "out_surety_min": totals.surety_min,
        "out_unattended": totals.unattended,
        "out_desk": totals.desk,
        "out_price": totals.price,
        "out_tax": totals.tax,
        "out_to_pay": totals.to_pay,
        "out_billed": totals.billed_min,
        "out_billed_labour": price.labour,
        "out_labour_reserve": price.reserve,
        "out_fee": price.fee,
        "out_rush": price.rush,
        "out_margin": price.price - money.cost,
        "out_deposit": min(price.to_pay, deposit_of(ordered, price.labour, terms)),
    }
    return {name: value / 100 for name, value in hundredths.items()} | {"out_sd": totals.sd}


def shown(path: Path, names: Mapping[str, tuple[str, str]]) -> dict[str, float]:
    wanted = {name: place for name, place in names.items() if name.startswith("out_")}
    cells = cells_of(path, {sheet for sheet, _ in wanted.values()})
    return {name: float(cells[place]) for name, place in wanted.items()}  # type: ignore[arg-type]


def approximately(found: dict[str, float], wanted: dict[str, float]) -> None:
    wrong = {
        name: (found[name], value)
        for name, value in wanted.items()
        if abs(found[name] - value) > (1e-6 if name == "out_sd" else 1e-9)
    }
    assert not wrong, f"shown and wanted differ: {wrong}"


def written(study: Study, chosen: tuple[str, ...], path: Path) -> Path:
    path.write_bytes(quote_bytes(study, chosen=chosen))
    return path


@pytest.mark.slow
def test_stored_results_are_the_totals_of_the_estimate(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    assert len(studies) >= 4
    for name, study in studies.items():
        path = written(study, chosen[name], tmp_path / f"{name}.xlsx")
        found = shown(path, named_cells(path))
        wanted = results(study.costing.estimate(chosen[name]), study.shop.terms, study.costing)
        if study.job.kind != "commission":  # nobody pays for the shop's own instrument
            assert PRICED.isdisjoint(found)
            wanted = {result: value for result, value in wanted.items() if result not in PRICED}
        assert set(found) >= set(wanted)
        approximately({n: found[n] for n in wanted}, wanted)


PRICED = {
    "out_billed",
    "out_billed_labour",
    "out_deposit",
    "out_fee",
    "out_labour_reserve",
    "out_margin",
    "out_price",
    "out_price_parts",
    "out_rush",
    "out_tax",
    "out_to_pay",
}
"""What a workbook of the shop's own instrument does not work out."""


@pytest.mark.slow
def test_the_total_on_both_pages_is_what_is_to_be_paid(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    for name, study in studies.items():
        to_pay = study.costing.estimate(chosen[name]).totals.to_pay / 100
        own = written(study, chosen[name], tmp_path / f"{name}.xlsx")
        if study.job.kind != "commission":  # nobody pays for the shop's own instrument
            assert not any(sheet in ("Quote", "Offers") for sheet, _ in cells_of(own))
            with pytest.raises(InputError, match="only client work is quoted"):
                customer_quote_bytes(study, chosen=chosen[name])
            continue
        theirs = tmp_path / f"{name}-customer.xlsx"
        theirs.write_bytes(customer_quote_bytes(study, chosen=chosen[name]))
        for path in (own, theirs):
            cells = cells_of(path)
            row = next(
                int(at[1:])
                for (sheet, at), value in cells.items()
                if sheet == "Quote" and value == "Total, USD"
            )
            assert cells["Quote", f"E{row}"] == pytest.approx(to_pay, abs=1e-9)


@pytest.mark.slow
def test_worked_out_anew_every_formula_comes_to_what_is_stored(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    """All example jobs and random upgrade sets of them, each cell, by an independent program."""
    chance = random.Random(20261125)
    files, count = [], 0
    for name, study in studies.items():
        files.append(written(study, chosen[name], tmp_path / f"{name}.xlsx"))
        if study.job.kind == "commission":
            customer = tmp_path / f"{name}-customer.xlsx"
            customer.write_bytes(customer_quote_bytes(study, chosen=chosen[name]))
            files.append(customer)
        ids = [verdict.upgrade.id for verdict in study.verdicts]
        for number in range(2):
            some = together(study, chance.sample(ids, len(ids)), chance.randint(0, 12))
            files.append(written(study, some, tmp_path / f"{name}-{number}.xlsx"))
    for file, again in zip(files, recalculated(files, tmp_path / "again"), strict=True):
        formulas = formulas_of(file)
        count += len(formulas)
        assert differing(formulas, file, again) == [], file.name
    assert count > 5000


@pytest.mark.slow
def test_the_recalculation_is_really_forced(tmp_path: Path) -> None:
    """A wrong value is kept by default and mended when forced; otherwise the checks above prove nothing."""
    import xlsxwriter

    path = tmp_path / "wrong.xlsx"
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("One")
    sheet.write_number(0, 0, 2)
    sheet.write_formula(0, 1, "=A1*3.5", None, 111)
    book.close()
    (again,) = recalculated([path], tmp_path / "forced")
    assert cells_of(again)["One", "B1"] == 7


def changed_terms(study: Study, **changes: object) -> Study:
    shop = replace(study.shop, terms=replace(study.shop.terms, **changes))  # type: ignore[arg-type]
    return study_job(shop, study.job)


def with_part_price(study: Study, part: str, price: Decimal) -> Study:
    shop, job = study.shop, study.job
    if part in job.parts:
        job = replace(job, parts={**job.parts, part: replace(job.parts[part], price=price)})
    else:
        shop = replace(shop, parts={**shop.parts, part: replace(shop.parts[part], price=price)})
    return study_job(shop, job)


def with_quantity(study: Study, key: str, quantity: Decimal, chosen: tuple[str, ...]) -> Study:
    """The study with one line of work priced for another quantity, by the estimate itself."""
    costing = study.costing
    task, _, place = key.removeprefix("run:").partition("@")
    ranks = dict(costing.ranks)
    active = [rank for rank in ranks[task, place] if is_active(rank.triggers, frozenset(chosen))]
    if quantity:
        demand = replace(active[-1].demand, quantity=quantity)
        line = run_line(costing.shop.tasks[task], demand, costing.setting, active[-1].part_price)
        ranks[task, place] = (replace(active[-1], line=line, demand=demand),)
    else:
        del ranks[task, place]
    return replace(study, costing=replace(costing, ranks=ranks))


@pytest.mark.slow
def test_a_changed_input_works_out_to_a_fresh_estimate(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], shop: Shop, tmp_path: Path
) -> None:
    """Rate, mark-up, surety, tax and more, a quantity, a dropped line, a part's cost: changed by hand, to the cent."""
    study, ids = studies[JOB], chosen[JOB]
    path = written(study, ids, tmp_path / "before.xlsx")
    names, cells = named_cells(path), cells_of(path)
    bands = study.shop.terms.markup
    dearer = tuple(MarkupBand(b.up_to, b.factor + Decimal("0.07")) for b in bands)
    wider = (MarkupBand(Decimal(20), bands[0].factor), *bands[1:])
    surety = replace(study.job, budget=replace(study.job.budget, surety=Decimal(95)))
    rush = replace(study.job, terms=replace(study.job.terms, rush=True))
    cases: dict[str, tuple[dict[str, float | str], Study]] = {
        "wage": ({"in_wage": 61.37}, changed_terms(study, wage_per_hour=Decimal("61.37"))),
        "overhead": ({"in_overhead": 23.45}, changed_terms(study, overhead_per_hour=Decimal("23.45"))),
        "charge": ({"in_charge": 91.9}, changed_terms(study, charge_per_hour=Decimal("91.9"))),
        "markup": (
            {f"in_factor{n}": float(b.factor) for n, b in enumerate(dearer, start=1)},
            changed_terms(study, markup=dearer),
        ),
        "band": ({"in_band1": 20}, changed_terms(study, markup=wider)),
        "surety": ({"in_z": 1.79}, study_job(study.shop, surety)),
        "rush": ({"in_rush": float(shop.terms.rush)}, study_job(study.shop, rush)),
        "faults": ({"in_hidden_faults": 0.1}, changed_terms(study, hidden_fault_share=Decimal("0.1"))),
        "cause": ({"in_shared_cause": 0.35}, changed_terms(study, shared_cause=Decimal("0.35"))),
        "unit": ({"in_billing_unit": 6}, changed_terms(study, billing_unit_min=Decimal(6))),
        "fee": (
            {"in_fee_share": 0.01, "in_fee_least": 6.5, "in_fee_most": 400},
            changed_terms(study, fee_share=Decimal("0.01"), fee_least=Decimal("6.5"), fee_most=Decimal(400)),
        ),
        "minimum": ({"in_minimum": 5000.1}, changed_terms(study, minimum_charge=Decimal("5000.1"))),
        "accidents": (
            {
                "in_spoil_min": 7,
                "in_damage_min": 31,
                "in_serious_min": 200,
                "in_serious_cost": 81.5,
                "in_client_min": 22,
            },
            changed_terms(
                study,
                rework_spoil_min=Decimal(7),
                rework_damage_min=Decimal(31),
                rework_serious_min=Decimal(200),
                rework_serious_cost=Decimal("81.5"),
                rework_client_min=Decimal(22),
            ),
        ),
        "tax": (
            {"in_tax_parts": 0.0825, "in_tax_labour": 0.06},
            changed_terms(study, tax_parts=Decimal("0.0825"), tax_labour=Decimal("0.06")),
        ),
        "tax-by-line": (
            {"in_tax_parts": 0.0825, "in_tax_labour": 0.06, "in_tax_per": "line"},
            changed_terms(study, tax_parts=Decimal("0.0825"), tax_labour=Decimal("0.06"), tax_per="line"),
        ),
        "deposit": (
            {"in_deposit_share": 0.4, "in_deposit_over": 100, "in_deposit_step": 7.5},
            changed_terms(
                study,
                deposit_labour_share=Decimal("0.4"),
                deposit_labour_over=Decimal(100),
                deposit_step=Decimal("7.5"),
            ),
        ),
        "deposit-exact": (
            {"in_deposit_share": 0.37, "in_deposit_over": 11, "in_deposit_step": 0},
            changed_terms(
                study,
                deposit_labour_share=Decimal("0.37"),
                deposit_labour_over=Decimal(11),
                deposit_step=Decimal(0),
            ),
        ),
    }
    changes = {
        case: {names[name]: value for name, value in values.items()} for case, (values, _) in cases.items()
    }
    fresh = {case: after for case, (_, after) in cases.items()}
    rows = {str(cells["Costing", f"A{n}"]): n for n in range(5, 200) if ("Costing", f"A{n}") in cells}
    runs = [row for row in cost_rows(study.costing, frozenset(ids)) if not row.setup and not row.desk]
    kinds = {row.task.rework_kind: row for row in runs}
    assert set(kinds) >= set("qsd"), "the example uses too few kinds of rework"
    for kind, row in kinds.items():
        for label, quantity in ((f"more-{kind}", row.quantity + 2), (f"none-{kind}", Decimal(0))):
            changes[label] = {("Costing", f"E{rows[row.key]}"): float(quantity)}
            fresh[label] = with_quantity(study, row.key, quantity, ids)
    parts = study.costing.estimate(ids).parts
    often = Counter(p.part for p in parts)
    part = next(p for p in parts if p.owner != "customer" and often[p.part] == 1)
    place = next(at for (sheet, at), v in cells.items() if sheet == "Price" and v == f"part:{part.upgrade}")
    changes["part"] = {("Price", f"G{place[1:]}"): 77.77}
    fresh["part"] = with_part_price(study, part.part, Decimal("77.77"))
    before = shown(path, names)
    files = [with_values(path, tmp_path / f"{case}.xlsx", values) for case, values in changes.items()]
    for case, again in zip(changes, recalculated(files, tmp_path / "again"), strict=True):
        after = fresh[case]
        wanted = results(after.costing.estimate(ids), after.shop.terms, after.costing)
        if case.startswith(("more", "none")):
            wanted.pop("out_cash")  # how many packs to buy is the reader's to say when work is changed
        found = shown(again, names)
        assert found != before, case
        try:
            approximately({n: found[n] for n in wanted}, wanted)
        except AssertionError as error:
            raise AssertionError(f"{case}: {error}") from error

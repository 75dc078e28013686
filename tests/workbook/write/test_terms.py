"""What a batch, a bench fee, storage, a customer's own part and tax by the line do to the workbook."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

import pytest
from msgspec.structs import replace

from estimator.choose.study import Study, make_estimate, study_job
from estimator.input.job.load import load_job
from estimator.model import Shop
from estimator.price.client.quote import quote_for
from estimator.price.client.three_offers import three_offers
from estimator.report.page.record import customer_page
from estimator.workbook.read.reprice import reprice
from estimator.workbook.write.customer_page import make_offer
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.sheets.offers import STAYS
from tests.workbook.read_back import read_costing
from tests.workbook.recalculate import cells_of, differences, named_cells, recalculated, with_values

JOBS = Path(__file__).resolve().parents[3] / "example_jobs"
OWN = """
[[part]]
id = "their-jack"
class = "p-jack"
owner = "customer"
"""
TERMS = "\n[terms]\nbatch = 4\nbench_fee_paid = true\nstored_days = 45\n"
RATES = {"tax_parts": Decimal("0.0825"), "tax_labour": Decimal("0.0365"), "tax_per": "line"}


@pytest.fixture(scope="module")
def study(shop: Shop, tmp_path_factory: pytest.TempPathFactory) -> Study:
    path = tmp_path_factory.mktemp("job") / "terms.toml"
    text = (JOBS / "tight-commission.toml").read_text(encoding="utf-8")
    assert "[terms]" not in text
    path.write_text(text + OWN + TERMS, encoding="utf-8")
    taxed = replace(shop, terms=replace(shop.terms, **RATES))  # type: ignore[arg-type]
    return study_job(taxed, load_job(path, taxed))


@pytest.fixture(scope="module")
def ids(study: Study) -> tuple[str, ...]:
    jack = next(v.upgrade.id for v in study.verdicts if v.upgrade.part and v.upgrade.part.id == "their-jack")
    pickup = next(v.upgrade.id for v in study.verdicts if v.upgrade.id.startswith("bridge-pickup-stack"))
    return tuple(sorted((jack, pickup, "set-up", "clean-controls", "level-crown-polish")))


def worth(study: Study, ids: tuple[str, ...]) -> Mapping[str, float]:
    quote = quote_for(study, ids)
    steps, dues = quote.steps, quote.dues
    figures = {
        "out_fitting": quote.fitting,
        "out_batch": -quote.batch,
        "out_warranty": quote.warranty,
        "out_price_parts": steps.parts,
        "out_price": steps.price,
        "out_tax": steps.tax,
        "out_to_pay": steps.to_pay,
        "out_credit": dues.credit,
        "out_deposit": dues.deposit,
    }
    return {name: cents / 100 for name, cents in figures.items()}


def results_of(
    path: Path, names: Mapping[str, tuple[str, str]], wanted: Mapping[str, float]
) -> dict[str, object]:
    cells = cells_of(path)
    return {name: cells[names[name]] for name in wanted}


@pytest.mark.slow
def test_the_terms_of_a_job_stand_in_the_workbook_and_follow_its_inputs(
    study: Study, ids: tuple[str, ...], tmp_path: Path
) -> None:
    """Worked out anew by another program: as stored, after a change of rates, and with tax once for all."""
    path, theirs = tmp_path / "quote.xlsx", tmp_path / "customer.xlsx"
    path.write_bytes(quote_bytes(study, chosen=ids))
    theirs.write_bytes(customer_quote_bytes(study, chosen=ids))
    wanted = worth(study, ids)
    assert min(wanted["out_fitting"], -wanted["out_batch"], wanted["out_credit"], wanted["out_warranty"]) > 0
    names = named_cells(path)
    assert results_of(path, names, wanted) == pytest.approx(wanted)

    changes = {
        "in_charge": 88.8,
        "in_tax_labour": 0.0875,
        "in_own_part_labour": 1.4,
        "in_bench_fee": 50,
        "in_labour_reserve": 0.045,
    }
    terms = replace(
        study.shop.terms,
        charge_per_hour=Decimal("88.8"),
        tax_labour=Decimal("0.0875"),
        own_part_labour=Decimal("1.4"),
        bench_fee=Decimal(50),
        labour_reserve=Decimal("0.045"),
    )
    cases = {
        "rates": (changes, replace(study.shop, terms=terms)),
        "whole": (
            {"in_tax_per": "invoice"},
            replace(study.shop, terms=replace(study.shop.terms, tax_per="invoice")),
        ),
    }
    edited = [
        with_values(path, tmp_path / f"{case}.xlsx", {names[n]: v for n, v in values.items()})  # type: ignore[misc]
        for case, (values, _) in cases.items()
    ]
    again = recalculated([path, theirs, *edited], tmp_path / "again")
    assert differences(path, again[0]) == []
    assert differences(theirs, again[1]) == []
    for file, (_, shop) in zip(again[2:], cases.values(), strict=True):
        fresh = study_job(shop, study.job)
        assert results_of(file, names, wanted) == pytest.approx(worth(fresh, ids)), file.name
        _, repriced = reprice(study, ids, read_costing(file, study, ids))
        assert repriced.totals == fresh.costing.estimate(ids).totals


def test_the_customers_page_adds_up_and_says_the_terms(
    study: Study, ids: tuple[str, ...], tmp_path: Path
) -> None:
    quote = quote_for(study, ids)
    page = make_offer(study, make_estimate(study, ids))
    assert sum(line.amount for line in page.lines) == quote.price
    path = tmp_path / "customer.xlsx"
    path.write_bytes(customer_quote_bytes(study, chosen=ids))
    cells = cells_of(path, {"Quote"})
    labels = {str(v): int(at[1:]) for (_, at), v in cells.items() if at.startswith("D") and v}
    for label, cents in {
        "Tax": quote.tax,
        "Total, USD": quote.to_pay,
        "Bench fee, paid": 3_000,
        "Storage, 45 days": 3_000 + 110,
        "Deposit to book": quote.deposit,
        "Due on collection": quote.dues.on_collection,
    }.items():
        assert cells["Quote", f"E{labels[label]}"] == pytest.approx(cents / 100), label
    assert quote.dues.on_collection == quote.to_pay - 3_000 + 3_110 - quote.deposit
    said = " ".join(str(value) for value in cells.values())
    for words in (
        "free for 30 days",
        "2.00 USD and its tax a day",
        "within 30 days is free",
        "off, for set-ups shared by your 4 instruments",
        "1.15 times the labour",
        "30.00 USD that you paid",
    ):
        assert words in " ".join(said.split()), words


@pytest.mark.slow
def test_every_offer_beside_the_others_says_what_it_gives(study: Study, tmp_path: Path) -> None:
    """An offer within the budget leaves wishes out, yet the customer reads what it reaches."""
    offers = {offer.name: offer.choice for offer in three_offers(study).made}
    assert len(offers) >= 2
    path = tmp_path / "offers.xlsx"
    path.write_bytes(customer_quote_bytes(study, offers=offers))
    cells = cells_of(path, {"Quote"})
    assert sum(str(value).startswith("Work at the bench") for value in cells.values()) == 1
    first = next(int(at[1:]) for (_, at), value in cells.items() if value == "What changes for you") + 1
    rows = 0
    while cells.get(("Quote", f"B{first + rows}")):
        words = {cells["Quote", f"{column}{first + rows}"] for column in "CDE"[: len(offers)]}
        assert words - {STAYS}, "a row in which no offer changes anything"
        assert not words & {"–", None, ""}
        rows += 1
    better = {change.name for choice in offers.values() for change in customer_page(choice).changes}
    assert rows == len(better) > 2
    (again,) = recalculated([path], tmp_path / "again")
    assert differences(path, again) == []

"""A figure of a line of work that has a head stands on the screen, in the data and on the costing sheet."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from msgspec.structs import replace
from openpyxl import load_workbook

from estimator import load_job, study_job
from estimator.choose.study import Study, make_estimate
from estimator.cli.common import job_path
from estimator.core.text import sentence_case
from estimator.report.record import as_data, columns
from estimator.report.records.work import Sums, Totalled, Work, lines_of
from estimator.report.text.choice import show_estimate
from estimator.workbook.write.quote import quote_bytes
from estimator.workbook.write.sheets.costing import RECKONED, SHEET
from tests.shops import default_shop

CHOSEN = ("level-crown-polish", "set-up")


@pytest.fixture(scope="module")
def study() -> Study:
    shop = default_shop()
    return study_job(shop, load_job(job_path("example:tight-commission"), shop))


def test_on_the_screen(study: Study, capsys: pytest.CaptureFixture[str]) -> None:
    estimate = make_estimate(study, CHOSEN)
    show_estimate(study, estimate)
    table = capsys.readouterr().out.split("Work, in its order")[1].split("Parts")[0]
    head = table.splitlines()[2].split()
    shown = [one.head.format(currency=study.shop.terms.currency) for one in columns(Work)]
    assert head == ["task", *shown, "for"]
    lines = lines_of(study, estimate)
    resting = [line for line in lines if line.line.rests_on]
    assert resting
    assert len(resting) < len(lines)
    for line in resting:
        assert all(name in table for name, _ in line.line.rests_on)


@pytest.mark.parametrize("tax", ["0", "0.2"])
def test_the_money_on_the_screen_is_the_record(
    study: Study, capsys: pytest.CaptureFixture[str], tax: str
) -> None:
    """Every total that has a head, in the order of the record, with the sum that stands in the data."""
    shop = replace(study.shop, terms=replace(study.shop.terms, tax_labour=Decimal(tax)))
    taxed = study_job(shop, study.job)
    estimate = make_estimate(taxed, CHOSEN)
    show_estimate(taxed, estimate)
    table = capsys.readouterr().out.split("Money\n")[1].split("Time:")[0].strip().splitlines()
    data = as_data(Totalled(Sums(estimate.totals, for_customer=True)))
    left_out = {"freight", *(("tax", "to_pay") if tax == "0" else ())}
    told = [one for one in columns(Totalled) if one.name not in left_out]
    for line, figure in zip(table, told, strict=True):
        assert line.strip().startswith(figure.head.partition("{")[0])
        assert line.endswith(f" {data[figure.name]} {shop.terms.currency}")


def test_a_column_that_is_blank_in_every_line_is_left_out(
    study: Study, capsys: pytest.CaptureFixture[str]
) -> None:
    estimate = make_estimate(study, ("clean-controls",))
    assert not any(line.line.rests_on for line in lines_of(study, estimate))
    show_estimate(study, estimate)
    assert " assumed " not in capsys.readouterr().out.split("Parts")[0].split("\n", 4)[3]


def test_on_the_costing_sheet_what_it_does_not_reckon_itself(study: Study) -> None:
    sheet = load_workbook(io.BytesIO(quote_bytes(study, chosen=CHOSEN)))[SHEET]
    heads = [cell.value for cell in sheet[4]]
    told = [one for one in columns(Work) if one.name not in RECKONED]
    assert told
    data = [as_data(Work(line)) for line in lines_of(study, make_estimate(study, CHOSEN))]
    for figure in told:
        column = heads.index(sentence_case(figure.head))
        found = {row[column].value for row in sheet.iter_rows(min_row=5)} - {None, ""}
        named = [line[figure.name] for line in data]
        assert found == {", ".join(each) for each in named if isinstance(each, list) and each}

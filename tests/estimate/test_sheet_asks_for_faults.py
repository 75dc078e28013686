"""The measuring sheet and the checks at a seller's ask for the same faults, on every kind of instrument."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import load_workbook

from estimator.cli.main import run
from estimator.estimate.new_job import default_job, fields_of_faults, fields_that_matter
from estimator.fit.triage import triage
from estimator.input.job.load import load_job
from estimator.model import Fault, Job, Reading, Shop
from estimator.tables.faults import faults_of
from estimator.workbook.measuring_sheet import FAULTS, SHEET, measuring_bytes
from tests.shops import default_shop

SHOP = default_shop()
KINDS = (
    *SHOP.intake["kind"].choices,
    *(name for name in SHOP.intake["template"].choices if name != "none"),
)
FOR = {
    True: ("set-up", "clean-controls", "new-bass-tuners"),
    False: ("set-up", "clean-controls", "new-tuners"),
}


def asked_at_the_sellers(shop: Shop, job: Job) -> set[str]:
    found = triage(
        job.instrument,
        resale=Decimal(400),
        pay_per_hour=Decimal(30),
        neck_price=Decimal(90),
        faults=shop.faults,
    )
    return {field for check in found.checks for field in check.asks}


def can_have(job: Job, fault: Fault) -> bool:
    """Whether the instrument has the fault once its field says so, asked of what finds faults."""
    bad: object = fault.words[0] if fault.words else "a knob"
    if fault.reads == "is" and bad in ("yes", "no"):
        bad = bad == "yes"
    elif fault.reads in ("below", "above", "beyond"):
        bad = Decimal(fault.bad) + (-1 if fault.reads == "below" else 1)
    said = {**job.instrument, fault.field: Reading(bad, False)}
    return fault in faults_of((fault,), said)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_every_fault_that_a_kind_can_have_is_asked_for_and_nothing_that_has_no_field(kind: str) -> None:
    job = default_job(SHOP, kind)
    possible = {fault.field for fault in SHOP.faults if can_have(job, fault)}
    assert len(possible) >= 36
    assert {field.id for field in fields_of_faults(SHOP, job)} == possible
    whole = {field.id for field in fields_that_matter(SHOP, job, ())}
    at_the_sellers = asked_at_the_sellers(SHOP, job)
    assert possible <= whole
    assert at_the_sellers <= whole
    # and back: what the sheet asks for because it shows a fault that lowers an offer, the checks ask for
    lowers = {fault.field for fault in SHOP.faults if fault.off_high > 0 and can_have(job, fault)}
    assert lowers == at_the_sellers
    told = {field for check in SHOP.resale.checks.values() for field in check.told_by}
    assert told <= whole
    for name in FOR[job.is_bass]:
        matter = {field.id for field in fields_that_matter(SHOP, job, (name,))}
        beside = possible - matter
        book = load_workbook(BytesIO(measuring_bytes(SHOP, job, matter, faults=beside)))
        asked = {row[0].value for sheet in (SHEET, FAULTS) for row in book[sheet].iter_rows()}
        assert possible <= asked
        assert book[FAULTS].page_setup.fitToHeight in (None, 1)


def test_what_is_written_beside_the_chosen_work_comes_back(tmp_path: Path) -> None:
    """A stuck screw noted on the sheet of a pickup job is in the job file made of it."""
    form, back = tmp_path / "form.xlsx", tmp_path / "back.toml"
    assert run(["new", str(tmp_path / "job.toml"), "--for", "clean-controls", "--sheet", str(form)]) == 0
    book = load_workbook(form)
    (at,) = (row[0].row for row in book[FAULTS].iter_rows() if row[0].value == "stuck_n")
    book[FAULTS][f"C{at}"].value = 2
    book.save(form)
    assert run(["intake", str(form), "-o", str(back)]) == 0
    reading = load_job(back, SHOP).instrument["stuck_n"]
    assert (reading.value, reading.assumed) == (2, False)
    assert "# stuck_n = 0" in (tmp_path / "job.toml").read_text()


def test_a_number_that_cannot_be_is_named_by_its_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    form = tmp_path / "form.xlsx"
    job = default_job(SHOP, "guitar-solid")
    form.write_bytes(measuring_bytes(SHOP, job, ("kind",), faults=("stuck_n",)))
    book = load_workbook(form)
    (at,) = (row[0].row for row in book[FAULTS].iter_rows() if row[0].value == "stuck_n")
    book[FAULTS][f"C{at}"].value = "many"
    book.save(form)
    assert run(["intake", str(form), "-o", str(tmp_path / "back.toml")]) == 2
    assert f"{FAULTS}!C{at}" in capsys.readouterr().err

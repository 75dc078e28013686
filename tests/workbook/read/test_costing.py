"""Edited workbooks come back: changes equal a fresh estimate, and what people do by accident is named by cell."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from openpyxl import load_workbook

from estimator.choose.study import Study
from estimator.choose.verify.choice import clashes
from estimator.core.errors import InputError
from estimator.tables.schema.settings import limits_of
from estimator.tables.settings import terms_issues
from estimator.workbook.read.book_set import book_set
from estimator.workbook.read.costing import Edits, open_costing, read_edits, read_job_card
from estimator.workbook.read.reprice import reprice
from estimator.workbook.write.quote import customer_quote_bytes, quote_bytes
from estimator.workbook.write.sheets.inputs import SETTING, inputs_of
from tests.workbook.read_back import read_costing
from tests.workbook.recalculate import cells_of, named_cells, recalculated, with_values
from tests.workbook.sets import together

JOB = "tight-commission"


@pytest.fixture(scope="module")
def book(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    path = tmp_path_factory.mktemp("book") / "quote.xlsx"
    path.write_bytes(quote_bytes(studies[JOB], chosen=chosen[JOB]))
    return path


def key_rows(path: Path, sheet: str) -> dict[str, int]:
    return {
        str(v): int(at[1:])
        for (s, at), v in cells_of(path).items()
        if s == sheet and at[0] == "A" and at[1:].isdigit()
    }


@pytest.mark.slow
def test_an_untouched_workbook_brings_no_change(
    book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    """Also after another program has opened and saved it."""
    (again,) = recalculated([book], tmp_path / "again")
    for path in (book, again):
        edits = read_costing(path, studies[JOB], chosen[JOB])
        assert edits == Edits(studies[JOB].job.id)
    same, estimate = reprice(studies[JOB], chosen[JOB], edits)
    assert estimate == studies[JOB].costing.estimate(chosen[JOB])
    assert same.job.id == studies[JOB].job.id


@pytest.mark.slow
def test_changes_come_back_and_are_priced_as_the_sheet_prices_them(
    book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    names = named_cells(book)
    work, parts = key_rows(book, "Costing"), key_rows(book, "Price")
    runs = [key for key in work if key.startswith("run:")]
    part = next(key for key in parts if key.startswith("part:"))
    changes: dict[tuple[str, str], float | str] = {
        names["in_wage"]: 61.5,
        names["in_charge"]: 88.25,
        names["in_factor1"]: 2.2,
        names["in_tax_parts"]: 0.0825,
        names["in_z"]: 1.28,
        names["in_hidden_faults"]: 0.08,
        names["in_tax_per"]: "line",
        names["in_fee_most"]: 31,
        ("Costing", f"E{work[runs[3]]}"): 3,
        ("Costing", f"E{work[runs[5]]}"): 0,
        ("Price", f"E{parts[part]}"): 2,
        ("Price", f"G{parts[part]}"): 17.35,
    }
    changed = with_values(book, tmp_path / "changed.xlsx", changes)
    edits = read_costing(changed, studies[JOB], chosen[JOB])
    assert edits.inputs["in_wage"] == Decimal("61.5")
    assert edits.quantities == {runs[3]: Decimal(3), runs[5]: Decimal(0)}
    assert edits.part_costs == {part.removeprefix("part:"): Decimal("17.35")}
    assert edits.tax_per == "line"
    _, estimate = reprice(studies[JOB], chosen[JOB], edits)
    (again,) = recalculated([changed], tmp_path / "again")
    cells = cells_of(again)
    totals = estimate.totals
    for name, cents in (
        ("out_cost", totals.cost),
        ("out_price", totals.price),
        ("out_tax", totals.tax),
        ("out_to_pay", totals.to_pay),
        ("out_surety_min", totals.surety_min),
    ):
        assert cells[names[name]] == pytest.approx(cents / 100, abs=1e-9), name


def edited(book: Path, target: Path, change: Callable[[Any], None]) -> Path:
    opened = load_workbook(book)
    change(opened)
    opened.save(target)
    return target


def put(name: str, value: object) -> Callable[[Any], None]:
    def change(opened: Any) -> None:
        sheet, _, cell = opened.defined_names[name].attr_text.partition("!")
        target = opened[sheet.strip("'")][cell.replace("$", "")]
        target.value = value

    return change


def merged(opened: Any) -> None:
    cell = opened.defined_names["in_wage"].attr_text
    row = int(cell.rpartition("$")[2])
    opened["Inputs"].merge_cells(f"A{row}:B{row}")


def name_gone(opened: Any) -> None:
    del opened.defined_names["in_wage"]


def name_broken(opened: Any) -> None:
    opened.defined_names["in_wage"].attr_text = "Inputs!#REF!"


def copied_row(opened: Any) -> None:
    sheet = opened["Costing"]
    sheet["A7"].value = sheet["A6"].value


def new_row(opened: Any) -> None:
    sheet = opened["Costing"]
    sheet.insert_rows(7)
    sheet["C7"].value = "polish the case"
    sheet["E7"].value = 1


def no_heading(opened: Any) -> None:
    opened["Costing"]["E4"].value = "how many"


def no_sheet(opened: Any) -> None:
    opened["Costing"].title = "Costs"


def other_key(opened: Any) -> None:
    opened["Costing"]["A6"].value = "run:unknown-task@"


def bad_quantity(opened: Any) -> None:
    opened["Costing"]["E6"].value = "two"


def blank_quantity(opened: Any) -> None:
    opened["Costing"]["E6"].value = None


SLIPS: dict[str, tuple[Callable[[Any], None], str]] = {
    "currency and comma": (put("in_wage", "€ 62,50"), r"Inputs!B\d+.*€ 62,50.*type 62\.50"),
    "unit": (put("in_wage", "62.50 USD"), r"62\.50 USD.*type 62\.50"),
    "two readings": (put("in_wage", "1,250"), r"1,250.*type a plain number"),
    "text": (put("in_wage", "n/a"), r"n/a.*plain number"),
    "band below the first": (put("in_band2", 5), r"Inputs!B\d+.*band 2 ends below band 1.*more than 10"),
    "band above the next": (put("in_band1", 60), r"Inputs!B\d+.*band 2 ends below band 1.*more than 60"),
    "blank": (put("in_wage", None), "an empty cell"),
    "negative": (put("in_wage", -1), "the number -1.*from 0 to"),
    "huge": (put("in_z", 1e9), r"from 0 to 3\.8\b"),
    "below the mean": (put("in_z", -0.5), r"from 0 to 3\.8\b"),
    "a mark-up that gives parts away": (put("in_factor1", 1e-7), "from 1 to 10"),
    "own parts that lower the charge": (put("in_own_part_labour", 0), "from 1 to 3"),
    "a rush that costs less": (put("in_rush", 0.5), "from 1 to 5"),
    "percent typed whole": (put("in_tax_parts", 8.25), r"was 8\.25 % meant"),
    "date": (put("in_wage", datetime(2026, 1, 2)), "02 Jan 2026"),
    "date number": (put("in_client_min", 46024), "2 Jan 2026"),
    "switch": (put("in_wage", True), "a switch"),
    "formula": (put("in_wage", "=60+2"), "formula"),
    "wrong word": (put("in_tax_per", "lines"), "invoice or line.*did you mean"),
    "merged": (merged, "swallowed by a merged block"),
    "name gone": (name_gone, "the name in_wage is gone"),
    "name broken": (name_broken, "the name in_wage is gone"),
    "copied row": (copied_row, r"Costing!A7.*a copied row"),
    "new row": (new_row, r"Costing!C7.*put in.*polish the case"),
    "no heading": (no_heading, "heading row is missing"),
    "no sheet": (no_sheet, "the sheet is missing"),
    "unknown key": (other_key, r"Costing!A6.*this job has not"),
    "words for a quantity": (bad_quantity, r"Costing!E6.*two"),
    "no quantity": (blank_quantity, r"Costing!E6.*an empty cell"),
}


@pytest.mark.slow
@pytest.mark.parametrize("slip", SLIPS)
def test_slips_are_named_by_sheet_and_cell(
    slip: str, book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    change, words = SLIPS[slip]
    path = edited(book, tmp_path / "slip.xlsx", change)
    with pytest.raises(InputError, match=words):
        read_costing(path, studies[JOB], chosen[JOB])


def test_the_customers_page_is_told_from_the_shops_workbook_in_one_line(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    path = tmp_path / "customer.xlsx"
    path.write_bytes(customer_quote_bytes(studies[JOB], chosen=chosen[JOB]))
    with pytest.raises(InputError) as told:
        read_costing(path, studies[JOB], chosen[JOB])
    assert len(told.value.issues) == 1
    assert "this is the customer's page" in str(told.value)


@pytest.mark.slow
def test_all_slips_are_told_at_once(
    book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    def change(opened: Any) -> None:
        for name in ("in_wage", "in_charge", "in_minimum"):
            put(name, "x")(opened)
        bad_quantity(opened)

    path = edited(book, tmp_path / "slips.xlsx", change)
    with pytest.raises(InputError) as caught:
        read_costing(path, studies[JOB], chosen[JOB])
    assert len(caught.value.issues) == 4


@pytest.mark.slow
def test_a_deleted_row_is_missed_and_moved_rows_do_not_matter(
    book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    """Its work would be done for nothing; who wants to drop it says so with a quantity of 0."""
    rows = key_rows(book, "Costing")
    gone = next(key for key in rows if key.startswith("run:"))

    def move(opened: Any) -> None:
        opened["Costing"][f"E{rows[gone]}"].value = 0
        opened["Costing"].insert_rows(1, 2)
        opened["Costing"].sheet_state = "hidden"

    edits = read_costing(edited(book, tmp_path / "moved.xlsx", move), studies[JOB], chosen[JOB])
    assert edits.quantities == {gone: Decimal(0)}

    def change(opened: Any) -> None:
        opened["Costing"].delete_rows(rows[gone])

    words = rf"gone\.xlsx, Costing: rows of work are missing.*{re.escape(gone)}.*write the quote again"
    with pytest.raises(InputError, match=words):
        read_costing(edited(book, tmp_path / "gone.xlsx", change), studies[JOB], chosen[JOB])


@pytest.mark.slow
def test_a_change_that_belongs_to_the_rates_is_said_and_not_taken(
    book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    row = next(n for key, n in key_rows(book, "Costing").items() if key.startswith("run:"))
    path = with_values(book, tmp_path / "rates.xlsx", {("Costing", f"Q{row}"): 99.0})
    edits = read_costing(path, studies[JOB], chosen[JOB])
    (warning,) = edits.warnings
    assert warning.severity == "warning"
    assert f"Costing!Q{row}" in str(warning)
    assert edits.quantities == {}


@pytest.mark.slow
def test_the_workbook_of_another_job_is_refused(
    book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]]
) -> None:
    with pytest.raises(InputError, match="another job"):
        read_costing(book, studies["short-scale-bass"], chosen["short-scale-bass"])


@pytest.mark.slow
def test_minutes_on_the_job_card_come_back(book: Path, studies: dict[str, Study], tmp_path: Path) -> None:
    rows = key_rows(book, "Job card")
    keys = [key for key in rows if key.startswith("run:")]

    def change(opened: Any) -> None:
        sheet = opened["Job card"]
        sheet[f"H{rows[keys[0]]}"].value = 17.5
        sheet[f"I{rows[keys[0]]}"].value = " screw  stripped "
        sheet[f"H{rows[keys[2]]}"].value = 40

    job, taken = read_job_card(edited(book, tmp_path / "card.xlsx", change))
    assert job == studies[JOB].job.id
    named = [tuple(key.removeprefix("run:").partition("@")[::2]) for key in keys]
    assert taken == (
        (job, *named[0], Decimal("17.5"), "screw stripped"),
        (job, *named[2], Decimal(40), ""),
    )

    def slip(opened: Any) -> None:
        opened["Job card"][f"H{rows[keys[1]]}"].value = "20 min"

    with pytest.raises(InputError, match=rf"Job card!H{rows[keys[1]]}.*20 min.*type 20"):
        read_job_card(edited(book, tmp_path / "slip.xlsx", slip))


@pytest.mark.slow
def test_offers_stand_side_by_side_each_with_its_own_total(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    study = studies[JOB]
    sets = {"Good": chosen[JOB][:3], "Better": chosen[JOB][:6], "Best": chosen[JOB]}
    path = tmp_path / "offers.xlsx"
    path.write_bytes(customer_quote_bytes(study, offers=sets))
    (again,) = recalculated([path], tmp_path / "again")
    for file in (path, again):
        cells = cells_of(file)
        total = next(int(at[1:]) for (_, at), value in cells.items() if value == "Total, USD")
        for column, ids in zip("CDE", sets.values(), strict=True):
            assert cells["Quote", f"{column}{total}"] == pytest.approx(
                study.costing.estimate(ids).totals.to_pay / 100
            )
    with pytest.raises(InputError, match="too many or too few offers"):
        customer_quote_bytes(study, offers={"One": chosen[JOB]})


def test_limits_of_inputs_are_those_of_the_shops_tables(studies: dict[str, Study]) -> None:
    """Every input at and beside both of its limits: the workbook, reprice and shop.toml agree."""
    terms = studies[JOB].shop.terms
    tried = 0
    for _, cells in inputs_of(studies[JOB]):
        for cell in cells:
            name = SETTING.get(cell.name)
            if name is None or name == "rush":  # of no effect on a job that is not in a hurry
                continue
            low, high = limits_of(name)
            assert (cell.low, cell.high) == (low, high)
            for value, lawful in (
                (low, True),
                (high, True),
                (low - Decimal("0.01"), False),
                (high + 1, False),
            ):
                other = {
                    "fee_least": {"fee_most": high},
                    "fee_most": {"fee_least": low},
                    "hidden_fault_share": {"hidden_fault_share_unstrung": high},
                }.get(name, {})
                issues = terms_issues(replace(terms, **{name: value, **other}), "book.xlsx")
                assert bool(issues) != lawful, (name, value, issues)
                tried += 1
    assert tried >= 80


def test_inputs_that_contradict_each_other_are_refused_when_priced(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]]
) -> None:
    terms = studies[JOB].shop.terms
    wrong = {
        "fee_least is above fee_most": {"in_fee_least": terms.fee_most + 1},
        "hidden_fault_share is above": {
            "in_hidden_faults": terms.hidden_fault_share_unstrung + Decimal("0.01")
        },
        "a number that is too small": {"in_factor1": Decimal("1e-7")},
        "a number that is too large": {"in_tax_parts": Decimal(2)},
    }
    for words, inputs in wrong.items():
        with pytest.raises(InputError) as caught:
            reprice(studies[JOB], chosen[JOB], Edits(JOB, inputs, file="book.xlsx"))
        assert any(words in issue.problem and issue.accepted for issue in caught.value.issues)


@pytest.mark.slow
def test_cells_that_contradict_each_other_are_named(
    book: Path, studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    names = named_cells(book)
    terms = studies[JOB].shop.terms
    over = float(terms.hidden_fault_share_unstrung) + 0.01
    for name, value, words in (
        ("in_fee_most", float(terms.fee_least) - 1, "“Materials fee, least” is above “Materials fee, most”"),
        ("in_fee_least", float(terms.fee_most) + 1, "“Materials fee, least” is above “Materials fee, most”"),
        ("in_hidden_faults", over, "“For hidden faults” is above"),
    ):
        path = with_values(book, tmp_path / f"{name}.xlsx", {names[name]: value})
        edits = read_costing(path, studies[JOB], chosen[JOB])
        with pytest.raises(InputError) as caught:
            reprice(studies[JOB], chosen[JOB], edits)
        (issue,) = caught.value.issues
        assert str(issue.where) == f"{path}, Inputs!{names[name][1]}"
        assert issue.problem.startswith(words)
        assert "fee_" not in str(issue).replace(str(path), "")
        assert issue.accepted
        assert issue.next_step


@pytest.mark.slow
def test_random_sets_are_priced_for_themselves_and_no_book_for_another_set(
    studies: dict[str, Study], tmp_path: Path
) -> None:
    """Unchanged: what the estimate says. One quantity more: not less. Of other upgrades, or short of a row: refused."""
    chance = random.Random(23)
    study, path = studies[JOB], tmp_path / "quote.xlsx"
    ids = [verdict.upgrade.id for verdict in study.verdicts]
    sets = [together(study, chance.sample(ids, len(ids)), chance.randint(0, 6)) for _ in range(5)]
    refused = 0
    for some, other in zip(sets, (*sets[1:], sets[0]), strict=True):
        path.write_bytes(quote_bytes(study, chosen=some))
        opened = open_costing(path, study)
        assert book_set(opened, study) == some
        edits = read_edits(opened, study, some)
        estimate = study.costing.estimate(some)
        assert edits == Edits(study.job.id)
        assert reprice(study, some, edits)[1] == estimate
        rows = key_rows(path, "Costing")
        run = chance.choice(sorted(key for key in rows if key.startswith("run:")))
        more = with_values(path, tmp_path / "more.xlsx", {("Costing", f"E{rows[run]}"): 60})
        assert reprice(study, some, read_costing(more, study, some))[1].totals.cost >= estimate.totals.cost
        near = tuple(sorted({*some, *other[:1]} if other[:1] != some[:1] else some[1:]))
        for wrong in {other, near} - {some}:
            if clashes(study.problem, wrong):
                continue
            with pytest.raises(InputError, match="written for other upgrades"):
                read_costing(path, study, wrong)
            refused += 1
        # a book that does not say its set may lack no row, of work or of parts
        sheet = chance.choice(["Costing", "Price"] if estimate.parts else ["Costing"])
        at = chance.choice(
            [
                n
                for k, n in key_rows(path, sheet).items()
                if k.startswith(("setup:", "run:", "part:")) and k.startswith("part:") == (sheet == "Price")
            ]
        )

        def gone(it: Any, sheet: str = sheet, at: int = at) -> None:
            for name in it.custom_doc_props.names:
                if name not in ("schema", "job"):
                    del it.custom_doc_props[name]
            it[sheet][f"A{at}"].value = None

        short = edited(path, tmp_path / "short.xlsx", gone)
        with pytest.raises(InputError, match="does not say which upgrades"):
            book_set(open_costing(short, study), study)
        with pytest.raises(InputError, match="are missing that this set needs"):
            read_costing(short, study, some)
    assert refused >= 5


@pytest.mark.slow
def test_figures_of_the_job_that_have_changed_are_no_edits(studies: dict[str, Study], tmp_path: Path) -> None:
    """Every kind of figure that is read back: a book written for another one is refused, and says which kind."""
    from estimator.choose.study import study_job

    study, path = studies[JOB], tmp_path / "quote.xlsx"
    some = together(study, [verdict.upgrade.id for verdict in study.verdicts], 5)
    path.write_bytes(quote_bytes(study, chosen=some))
    shop, job = study.shop, study.job
    task = next(line.task for line in study.costing.estimate(some).lines if line.minutes and line.place)
    part = study.costing.estimate(some).parts[0].part
    dearer = {name: replace(p, price=p.price + 1) if name == part else p for name, p in shop.parts.items()}
    own = {name: replace(p, price=p.price + 1) if name == part else p for name, p in job.parts.items()}
    slower = {**shop.tasks, task: replace(shop.tasks[task], run_min_high=shop.tasks[task].run_min_high + 5)}
    changed = {
        "the rates and shares": study_job(
            replace(shop, terms=replace(shop.terms, charge_per_hour=shop.terms.charge_per_hour + 1)), job
        ),
        "the parts": study_job(replace(shop, parts=dearer), replace(job, parts=own)),
        "the work": study_job(replace(shop, tasks=slower), job),
    }
    for what, other in changed.items():
        with pytest.raises(InputError, match=f"have changed since.*other figures for.*{what}"):
            read_costing(path, other, some)
    assert read_costing(path, study_job(shop, replace(job, what="other words")), some) == Edits(job.id)

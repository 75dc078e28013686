"""What a worker changed in a costing workbook, taken back: rates, quantities, parts; and the job card's minutes.

Values that the workbook cannot carry back (such as minutes per unit) are reported, not dropped in silence.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from estimator.choose.study import Study
from estimator.core.cell_text import a1, mark
from estimator.core.errors import Issue, Origin, note, refusal
from estimator.ledger.timers import CardRow
from estimator.model import PartLine
from estimator.tables.cells import plain as number_words
from estimator.workbook.read.book_set import AGAIN, right_set
from estimator.workbook.read.cells import EditedBook, fifteen
from estimator.workbook.row_key import PART, RUN, SETUP, part_key, row_key
from estimator.workbook.write.customer_page import id_words
from estimator.workbook.write.rows import CostRow, cost_rows
from estimator.workbook.write.set_marks import prints_of
from estimator.workbook.write.sheets import costing as sheet_costing
from estimator.workbook.write.sheets import job_card as sheet_jobcard
from estimator.workbook.write.sheets import price as sheet_price
from estimator.workbook.write.sheets import quote as sheet_quote
from estimator.workbook.write.sheets.inputs import inputs_of

HIGH = Decimal(100_000)
MILLION = Decimal(1_000_000)
#: columns of the costing that are shown as inputs but belong to the rates
NOT_TAKEN = (
    ("Minutes per unit", "each_min"),
    ("Minutes extra", "extra"),
    ("Set up again, minutes", "again"),
    ("Spread per unit", "each_sd"),
    ("Chance of rework", "chance"),
    ("Share repeated", "share"),
)


@dataclass(frozen=True, slots=True)
class Edits:
    """What was changed: inputs by name, quantities by row key (zero: dropped), parts by upgrade.

    ``warnings`` are changes that were seen and cannot be taken over; ``places`` says in which cell each
    input stands, and ``file`` names the workbook.
    """

    job: str
    inputs: dict[str, Decimal] = field(default_factory=dict)
    tax_per: str = ""
    quantities: dict[str, Decimal] = field(default_factory=dict)
    part_quantities: dict[str, Decimal] = field(default_factory=dict)
    part_costs: dict[str, Decimal] = field(default_factory=dict)
    warnings: tuple[Issue, ...] = ()
    places: dict[str, str] = field(default_factory=dict, compare=False)
    file: str = field(default="", compare=False)


def open_costing(path: str | Path, study: Study) -> EditedBook:
    """A workbook that ``quote`` wrote for this job; InputError for any other."""
    book = EditedBook(path)
    _not_the_customers_page(book)
    _right_job(book, study)
    return book


def read_edits(book: EditedBook, study: Study, chosen: Collection[str]) -> Edits:
    """The changes in an opened workbook of these upgrades; InputError where it is of others, or lacks rows."""
    rows = cost_rows(study.costing, frozenset(chosen))
    parts = study.costing.estimate(chosen).parts
    right_set(book, study, chosen, prints_of(study, chosen, rows, parts))
    inputs, tax_per = _inputs(book, study)
    quantities = _quantities(book, [row for row in rows if not row.desk])
    part_quantities, part_costs = _parts(book, sheet_price.sheet_of(study), parts)
    book.stop_if_wrong()
    places = {name: "!".join(place) for name in inputs if (place := book.named(name, name))}
    return Edits(
        study.job.id,
        inputs,
        tax_per,
        quantities,
        part_quantities,
        part_costs,
        tuple(book.issues),
        places,
        book.file,
    )


def _not_the_customers_page(book: EditedBook) -> None:
    if list(book.values.sheetnames) == [sheet_quote.SHEET]:
        raise refusal(
            book.file,
            "this is the customer's page, which holds no costs",
            accepted="the shop's own workbook",
            next_step="give the workbook that quote wrote with -o, not the one of --customer",
        )


def _right_job(book: EditedBook, study: Study) -> None:
    marks = book.marks()
    if marks.get("schema", "1") != "1":
        book.complain(
            "(workbook)",
            "",
            "the workbook comes from a newer version of the program",
            f"schema {marks['schema']}",
            "schema 1",
            "use the newer program",
        )
    job = marks.get("job")
    if job is not None and job != mark(study.job.id):
        book.complain(
            "(workbook)",
            "",
            "the workbook belongs to another job",
            f"“{job}”",
            f"“{study.job.id}”",
            "give the job file that it was made from",
        )
    book.stop_if_wrong()


def _inputs(book: EditedBook, study: Study) -> tuple[dict[str, Decimal], str]:
    changed = {}
    for _, cells in inputs_of(study):
        for cell in cells:
            place = book.named(cell.name, cell.label)
            if place is None:
                continue
            value = book.number(*place, cell.label, cell.low, cell.high, share=cell.style == "percent")
            if value is not None and value != fifteen(cell.value):
                changed[cell.name] = value
    if not study.job.for_customer:
        return changed, ""
    _bands_rise(book, study, changed)
    place = book.named("in_tax_per", "Tax is rounded once on the")
    tax_per = book.choice(*place, "tax rounding", ("invoice", "line")) if place else None
    return changed, tax_per if tax_per and tax_per != study.shop.terms.tax_per else ""


def _bands_rise(book: EditedBook, study: Study, changed: dict[str, Decimal]) -> None:
    """Complain of every mark-up band that does not reach beyond the one before it."""
    before: Decimal | None = None
    for number, band in enumerate(study.shop.terms.markup, start=1):
        if band.up_to is None:
            continue
        name = f"in_band{number}"
        limit = changed.get(name, band.up_to)
        place = book.named(name, f"Band {number}") if before is not None and limit <= before else None
        if place is not None and before is not None:
            book.complain(
                *place,
                f"mark-up band {number} ends below band {number - 1}",
                f"the number {number_words(limit)}",
                f"more than {number_words(before)}",
                "let the bands rise, each above the one before",
            )
        before = limit


def _quantities(book: EditedBook, rows: list[CostRow]) -> dict[str, Decimal]:
    sheet = sheet_costing.SHEET
    if not book.has(sheet):
        return {}
    head = book.header(sheet, ("Key", "Work", "Quantity", "Minutes per unit"))
    if head is None:
        return {}
    top, columns = head
    found = book.keyed_rows(sheet, top + 1, columns["Key"], (SETUP, RUN))
    known = {row.key: row for row in rows}
    changed = {}
    _none_missing(
        book, sheet, "rows of work", {key: _named(row) for key, row in known.items() if key not in found}
    )
    for key, row in known.items():
        if key not in found:
            continue
        cell = a1(found[key] - 1, columns["Quantity"] - 1)
        value = book.number(sheet, cell, f"quantity of {key}", Decimal(0), HIGH)
        if value is not None and value != fifteen(row.quantity):
            changed[key] = value
        _not_taken(book, sheet, found[key], columns, row)
    for key in sorted(found.keys() - known.keys(), key=found.__getitem__):
        book.complain(
            sheet,
            a1(found[key] - 1, columns["Key"] - 1),
            "a row of work that this job has not",
            f"“{key}”",
            "the rows of the export",
            "new work belongs in the job file",
        )
    _new_rows(book, sheet, top, columns, set(found.values()))
    return changed


def _not_taken(book: EditedBook, sheet: str, at: int, columns: dict[str, int], row: CostRow) -> None:
    for head, name in NOT_TAKEN:
        if head not in columns:
            continue
        page = book.values[sheet]
        value = page.cell(at, columns[head]).value
        stood = getattr(row, name)
        if isinstance(value, int | float) and abs(fifteen(value) - stood) > Decimal("1e-9"):
            where = Origin(book.file, None, f"{sheet}!{a1(at - 1, columns[head] - 1)}")
            note(
                book.issues,
                where,
                f"{head.lower()} of {row.key} was changed and is not taken over",
                f"{value:.6g} instead of {number_words(stood.quantize(Decimal('0.0001')))}",
                next_step="change it in the shop's own tables instead",
                severity="warning",
            )


def _new_rows(book: EditedBook, sheet: str, top: int, columns: dict[str, int], known: set[int]) -> None:
    """Rows somebody put in among the work: they have a quantity or words but no key."""
    if not known:
        return
    page = book.values[sheet]
    for row in range(top + 1, max(known) + 1):
        filled = page.cell(row, columns["Work"]).value or page.cell(row, columns["Quantity"]).value
        if row not in known and filled and not page.cell(row, columns["Key"]).value:
            book.complain(
                sheet,
                a1(row - 1, columns["Work"] - 1),
                "a row of work was put in",
                f"“{filled}”",
                "the rows of the export",
                "new work belongs in the job file; delete the row here",
            )


def _named(row: CostRow) -> str:
    name = id_words(row.task.id)
    return f"{name}: set up" if row.setup else f"{name}, {row.place.replace('-', ' ')}" if row.place else name


def _none_missing(book: EditedBook, sheet: str, what: str, missing: Mapping[str, str]) -> None:
    """Complain of rows that are not there: what they cost would count as nothing."""
    if missing:
        listed = "; ".join(f"{words} ({key})" for key, words in missing.items())
        book.complain(
            sheet,
            "",
            f"{what} are missing that this set needs",
            f"no row for {listed}",
            "every row of the export; a quantity of 0 drops one",
            AGAIN,
        )


def _parts(
    book: EditedBook, sheet: str, lines: Sequence[PartLine]
) -> tuple[dict[str, Decimal], dict[str, Decimal]]:
    if not book.has(sheet):
        return {}, {}
    head = book.header(sheet, ("Key", "Part", "Quantity", "Unit cost"))
    if head is None:
        return {}, {}
    top, columns = head
    found = book.keyed_rows(sheet, top + 1, columns["Key"], (PART,))
    quantities, costs = {}, {}
    known = {part_key(line.upgrade): line for line in lines}
    _none_missing(book, sheet, "parts", {key: line.what for key, line in known.items() if key not in found})
    for key in sorted(found.keys() - known.keys(), key=found.__getitem__):
        book.complain(
            sheet,
            a1(found[key] - 1, columns["Key"] - 1),
            "a part that this set has not",
            f"“{key}”",
            "the parts of the export",
            "new parts belong in the job file",
        )
    for key, line in known.items():
        if key not in found:
            continue
        cell = a1(found[key] - 1, columns["Quantity"] - 1)
        value = book.number(sheet, cell, f"quantity of {line.what}", Decimal(0), Decimal(1000))
        if value is not None and value != line.quantity:
            quantities[line.upgrade] = value
        if line.owner == "customer":
            continue
        cell = a1(found[key] - 1, columns["Unit cost"] - 1)
        cost = book.number(sheet, cell, f"unit cost of {line.what}", Decimal(0), MILLION)
        if cost is not None and cost != Decimal(line.unit_cost) / 100:
            costs[line.upgrade] = cost
    return quantities, costs


def read_job_card(path: str | Path) -> tuple[str, tuple[CardRow, ...]]:
    """Job (or batch) id and the minutes written into its job cards; InputError carries every complaint."""
    book = EditedBook(path)
    cards = [name for name in book.values.sheetnames if name.startswith(sheet_jobcard.CARD)]
    whole = book.marks().get("batch" if cards else "job", "")
    rows: list[CardRow] = []
    for sheet in cards or [sheet_jobcard.SHEET]:
        if book.has(sheet):
            rows += _card(book, sheet, sheet.removeprefix(sheet_jobcard.CARD) if cards else whole)
    book.stop_if_wrong()
    return whole, tuple(rows)


def _card(book: EditedBook, sheet: str, job: str) -> list[CardRow]:
    head = book.header(sheet, ("Key", "Minutes taken", "Remarks"))
    if head is None:
        return []
    top, columns = head
    rows = []
    for key, at in book.keyed_rows(sheet, top + 1, columns["Key"], (RUN,)).items():
        cell = a1(at - 1, columns["Minutes taken"] - 1)
        if book.values[sheet][cell].value in (None, ""):
            continue
        minutes = book.number(sheet, cell, "minutes taken", Decimal(0), Decimal(10_000), formula_ok=True)
        remark = book.text(sheet, a1(at - 1, columns["Remarks"] - 1))
        _, task, place = row_key(key)
        if minutes is not None:
            rows.append(CardRow(job, task, place, minutes, remark))
    return rows

"""The measuring sheet: the intake as a form to print or fill in, and what was filled in as a job file.

A blank stays unmeasured; the job then takes the default and says so. Lengths may carry their unit as
text (``5/8 in``); everything is checked by the same rules as a job file.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

from estimator.core.cell_text import a1
from estimator.core.errors import Issue, Origin
from estimator.core.text import day_of, sentence_case
from estimator.input.job.plausible import in_plain_inches
from estimator.model import IntakeField, Job, Shop
from estimator.tables.cells import CellError
from estimator.tables.quantities import outside_accepted, read_intake
from estimator.workbook.read.cells import EditedBook
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import number_words

SHEET, FAULTS = "Measuring sheet", "What else is wrong"
EXTENSIONS = (".xlsx",)
KEY, WHAT, VALUE, UNIT, HOW = range(5)
WIDTHS = (10, 46, 15, 8, 52)
HEADS = {KEY: "Key", WHAT: "What", VALUE: "Value", UNIT: "Unit", HOW: "How, or words accepted"}
JOB_ROWS = (
    ("job:id", "Job number"), ("job:customer", "Customer"), ("job:what", "What is wanted, in a few words"),
    ("job:kind", "Kind: commission, resale or own"), ("job:received", "Received (year-month-day)"), ("job:wanted_by", "Wanted by (year-month-day)"),
)  # fmt: skip
LONGEST_LIST = 255
#: so many points are still easily read when they are fitted on one page
ONE_PAGE = 1300
NUMBERS = ("length", "number", "count", "mass", "money", "angle")


def measuring_bytes(
    shop: Shop,
    job: Job | None = None,
    fields: Collection[str] | None = None,
    paper: str = "A4",
    faults: Collection[str] = (),
) -> bytes:
    """The form; with a job, what it has measured stands in it. ``fields`` limits it to what matters.

    ``faults``: fields that show what is wrong beside that; they stand on a page of their own.
    """
    created = (day_of(job.received) if job else None) or date(2000, 1, 1)
    book = Book("Measuring sheet", created, paper, shop.terms.shop_name)
    title = f"Measuring sheet  ·  {job.id}" if job else "Measuring sheet"
    _page(book, shop, job, SHEET, title, [f for f in shop.intake if fields is None or f in fields])
    if faults:
        _page(book, shop, job, FAULTS, FAULTS, [field for field in shop.intake if field in faults])
    book.property("schema", "1")
    return book.done()


def _page(book: Book, shop: Shop, job: Job | None, name: str, title: str, fields: Sequence[str]) -> None:
    """One worksheet of the form; the first asks who it is for too."""
    sheet = book.sheet(
        Sheet(name, WIDTHS, hidden_columns=(KEY,), footer=f"{shop.terms.shop_name}  ·  {title}", repeat=(3, 3),
              freeze=(4, 0), margin=0.5)
    )  # fmt: skip
    sheet.text(0, WHAT, title, "title")
    sheet.text(
        1,
        WHAT,
        "Leave blank what was not measured. A unit may be typed with the value: 5/8 in, 2.25 lb.",
        "soft",
    )
    sheet.rule(1, WHAT, HOW, "heavy")
    for column, head in HEADS.items():
        sheet.text(
            3,
            column,
            head,
            "head-right" if column == VALUE else "head",
            indent=1 if column in (UNIT, HOW) else 0,
        )
    sheet.rule(3, WHAT, HOW, "ink")
    at = 4
    for key, label in JOB_ROWS if name == SHEET else ():
        sheet.text(at, KEY, key, "soft")
        sheet.text(at, WHAT, label)
        value = getattr(job, key.removeprefix("job:")) if job else ""
        sheet.fill_or_text(at, VALUE, value)
        sheet.rule(at, WHAT, HOW)
        at += 1
    section = ""
    asked = [shop.intake[field] for field in fields]
    sections = list(dict.fromkeys(field.section for field in asked))
    for field in sorted(asked, key=lambda each: sections.index(each.section)):
        if field.section != section:
            section = field.section
            sheet.text(at, WHAT, sentence_case(section), "bold")
            sheet.tall(at, 22)
            sheet.rule(at, WHAT, HOW, "ink")
            at += 1
        _field(sheet, at, field, job)
        at += 1
    if sheet.height <= ONE_PAGE:
        sheet.pages_tall = 1


def _field(sheet: Sheet, at: int, field: IntakeField, job: Job | None) -> None:
    sheet.text(at, KEY, field.id, "soft")
    sheet.text(at, WHAT, sentence_case(field.what), "wrap", font_size=9)
    reading = job.instrument.get(field.id) if job else None
    value = reading.value if reading is not None and not reading.assumed else None
    if isinstance(value, bool):
        sheet.fill_or_text(at, VALUE, "yes" if value else "no")
    elif isinstance(value, Decimal):
        sheet.input(at, VALUE, value, "number")
    else:
        sheet.fill_or_text(at, VALUE, " ".join(value) if isinstance(value, tuple) else value or "")
    choices = ["yes", "no"] if field.kind == "yes-no" else list(field.choices)
    if choices and field.kind != "list" and len(",".join(choices)) <= LONGEST_LIST:
        sheet.check_range(at, VALUE, at, {"validate": "list", "source": choices, "error_type": "warning"})
    sheet.text(at, UNIT, field.unit if field.kind in NUMBERS else "", "soft", indent=1)
    hint = ", ".join(choices) if choices else field.how
    sheet.text(at, HOW, hint, "soft-wrap", indent=1)
    sheet.rule(at, WHAT, HOW)


def read_measuring(path: str | Path, shop: Shop) -> tuple[str, tuple[Issue, ...]]:
    """The form as the text of a job file, and warnings; InputError carries every complaint by sheet and cell."""
    book = EditedBook(path)
    job: dict[str, str] = {}
    measured: dict[str, str] = {}
    # forms of one page, and those written by earlier versions, have no second one
    for sheet in (SHEET, *(name for name in book.values.sheetnames if name == FAULTS)):
        if book.has(sheet) and (head := book.header(sheet, ("Key", "What", "Value"))):
            _read_page(book, sheet, head, shop, job, measured)
    book.stop_if_wrong()
    return _toml(job, measured), tuple(book.issues)


def _read_page(
    book: EditedBook, sheet: str, head: tuple[int, dict[str, int]], shop: Shop, job: dict[str, str],
    measured: dict[str, str],
) -> None:  # fmt: skip
    """What stands on one worksheet, added to ``job`` and ``measured``."""
    top, columns = head
    keys = book.keyed_rows(sheet, top + 1, columns["Key"], ("",))
    for key, row in keys.items():
        cell = a1(row - 1, columns["Value"] - 1)
        if key.startswith("job:"):
            text = book.text(sheet, cell)
            if text:
                job[key.removeprefix("job:")] = text
        elif key in shop.intake:
            written = _measured(book, sheet, cell, shop.intake[key])
            if written is not None:
                measured[key] = written
        else:
            book.complain(sheet, a1(row - 1, columns["Key"] - 1), "an unknown measurement", f"“{key}”",
                          "the rows of the form", "make a fresh form")  # fmt: skip
    _lost_keys(book, sheet, top, columns, set(keys.values()))
    if sheet == SHEET:
        _dates(book, job, keys, columns)


def _measured(book: EditedBook, sheet: str, cell: str, field: IntakeField) -> str | None:
    """What stands in the form for a field, as TOML; None when nothing does."""
    value, kind = book.values[sheet][cell].value, book.formulas[sheet][cell].data_type
    what = sentence_case(field.what)
    if kind == "f":
        book.complain(sheet, cell, what, "a formula", "a plain value", "type the value itself")
        return None
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if not isinstance(value, str):
        low = field.hard_low if field.hard_low is not None else Decimal(-1_000_000)
        high = field.hard_high if field.hard_high is not None else Decimal(1_000_000)
        if isinstance(value, bool) and field.kind == "yes-no":
            return "true" if value else "false"
        if field.kind in NUMBERS or not isinstance(value, int | float) or isinstance(value, bool):
            number = book.number(sheet, cell, what, low, high)
            if number is None:
                return None
            raw: object = number
            written = number_words(number) if number else "0"
        else:
            raw = number_words(Decimal(f"{value:.15g}"))
            written = _quoted(str(raw))
    else:
        place = Origin(book.file, None, f"{sheet}!{cell}")
        unit = field.unit if field.kind in NUMBERS else ""
        raw = in_plain_inches(" ".join(value.split()), unit, place, book.issues)
        lowered = str(raw).lower()
        if field.kind in ("choice", "list"):
            known = {choice.casefold(): choice for choice in field.choices}
            raw = " ".join(known.get(word.casefold(), word) for word in str(raw).split())
        written = _quoted(str(raw))
        if field.kind == "list":
            written = "[" + ", ".join(_quoted(word) for word in str(raw).split()) + "]"
        if field.kind == "yes-no" and lowered in ("yes", "no"):
            raw = lowered == "yes"
            written = "true" if raw else "false"
    try:
        read = read_intake(raw, field)
    except CellError as error:
        book.complain(sheet, cell, f"{what}: {error.problem}", f"“{value}”", error.accepted, error.next_step)
        return None
    if isinstance(read, Decimal) and (usual := outside_accepted(read, field)):
        where = f"{sheet}!{cell}"
        book.issues.append(
            Issue(Origin(book.file, None, where), f"{what}: outside the usual range", f"“{value}”", usual,
                  f"sure? measure again: {field.how or field.what}", "warning")
        )  # fmt: skip
    return written


def _lost_keys(book: EditedBook, sheet: str, top: int, columns: dict[str, int], known: set[int]) -> None:
    """Values that stand beside no key: their row was put in by hand or its key was deleted."""
    page = book.values[sheet]
    for row in range(top + 1, min(page.max_row, 2000) + 1):
        if row not in known and page.cell(row, columns["Value"]).value is not None:
            book.complain(sheet, a1(row - 1, columns["Value"] - 1), "a value beside no measurement of the form",
                          f"“{page.cell(row, columns['Value']).value}”", "the rows of the form",
                          "move the value to its row, or make a fresh form")  # fmt: skip


def _dates(book: EditedBook, job: dict[str, str], keys: dict[str, int], columns: dict[str, int]) -> None:
    for name in ("received", "wanted_by"):
        if name in job and (day := day_of(job[name])) is None:
            cell = a1(keys[f"job:{name}"] - 1, columns["Value"] - 1)
            book.complain(SHEET, cell, "not a date", f"“{job[name]}”", "year-month-day, such as 2026-03-02")
        elif name in job:
            job[name] = str(day)


def _toml(job: dict[str, str], measured: dict[str, str]) -> str:
    lines = ["[job]"]
    for name, text in job.items():
        lines.append(f"{name} = {text if name in ('received', 'wanted_by') else _quoted(text)}")
    lines += ["", "[instrument]", *(f"{name} = {value}" for name, value in measured.items()), ""]
    return "\n".join(lines)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'

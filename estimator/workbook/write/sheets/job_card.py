"""The job card: the order of work with waits, precautions, boxes to tick and minutes to write in; the set-up sheet.

Minutes that are written in, and the keys in the first column, are what is read back later.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from estimator.choose.study import Study
from estimator.core.text import sentence_case
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import id_words
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.sheets.notes import GENERAL, hazards_of
from estimator.workbook.write.style import PLAIN_TEXT, wrapped_lines

SHEET = "Job card"
CARD = "Card "
"""Sheets of a book with several cards are named by it and the job."""
KEY, BOX, NO, WORK, QUANTITY, PLANNED, WAIT, ACTUAL, REMARK = range(9)
WIDTHS = (10, 4, 4, 48, 11, 9, 10, 11, 20)
LAST = REMARK
HEADS = {
    KEY: "Key", BOX: "", NO: "No.", WORK: "Work, in this order", QUANTITY: "Quantity", PLANNED: "Minutes planned",
    WAIT: "Then wait", ACTUAL: "Minutes taken", REMARK: "Remarks",
}  # fmt: skip
NO_TIMES: Mapping[str, str] = {}
BOX_EMPTY = "□"
FLAGS = {"H-WD": "dust", "H-MD": "metal dust", "H-RO": "rotating tool", "H-SV": "solvent", "H-SP": "spray mist",
         "H-GL": "glue", "H-HT": "heat", "H-SF": "solder fume", "H-BD": "bone dust", "H-FI": "old paint"}  # fmt: skip

SETUP_SHEET = "Set-up sheet"
#: what is measured before and after a set-up: (label, unit, intake field, how)
SETUP_LINES = (
    ("Neck relief", "mm", "relief", "feeler under the string at the middle, first and last fret held"),
    ("String height, bass side", "mm", "action_b", "rule at the 12th fret"),
    ("String height, treble side", "mm", "action_t", "rule at the 12th fret"),
    ("Gap over the first fret, bass side", "mm", "nut_clear_b", "feeler, string held behind the second fret"),
    (
        "Gap over the first fret, treble side",
        "mm",
        "nut_clear_t",
        "feeler, string held behind the second fret",
    ),
    ("Pickup height, neck side", "mm", "", "string held at the last fret"),
    ("Pickup height, bridge side", "mm", "", "string held at the last fret"),
    ("Worst error at the 12th fret", "cents", "", "tuner, each string, fretted against harmonic"),
    ("Tuning after a night at pitch", "cents", "", "tuner, the worst string"),
)


def write_job_card(
    book: Book,
    study: Study,
    rows: Sequence[CostRow],
    footer: str,
    sheet_name: str = SHEET,
    minutes_name: str = "card_minutes",
    begins: Mapping[str, str] = NO_TIMES,
) -> Sheet:
    """Write the card; ``minutes_name`` names the column of minutes taken.

    ``begins``: by key of a row when its work is planned to begin, in words; the card stands in that order.
    """
    sheet = book.sheet(
        Sheet(
            sheet_name,
            WIDTHS,
            landscape=True,
            hidden_columns=(KEY,),
            footer=footer,
            repeat=(3, 3),
            freeze=(4, 0),
        )
    )
    sheet.text(0, BOX, f"Job card  ·  {study.job.id}", "title")
    sheet.text(1, BOX, f"{study.job.what}  ·  tick the box when done and write the minutes in", "soft")
    sheet.rule(1, BOX, LAST, "heavy")
    for column, head in HEADS.items():
        sheet.text(3, column, head, "head-right" if column in (QUANTITY, PLANNED, ACTUAL) else "head",
                   **({"indent": 1} if column in (WAIT, REMARK) else {}))  # fmt: skip
    sheet.tall(3, 26)
    sheet.rule(3, BOX, LAST, "ink")
    first = at = 4
    ready: dict[str, Decimal] = {row.task.id: row.minutes for row in rows if row.setup}
    for row in _in_turn(rows, begins):
        if not row.setup:  # getting ready is part of the first row of its task
            _card_row(
                sheet, at, row, row.minutes + ready.pop(row.task.id, Decimal(0)), begins.get(row.key, "")
            )
            at += 1
    sheet.low(at, 5)
    sheet.rule(at, BOX, LAST, "ink")
    book.name(minutes_name, sheet, first, ACTUAL, at)
    sheet.text(at + 1, WORK, "Minutes in all", "bold")
    planned = sum((row.minutes for row in rows), Decimal(0))
    sheet.number(at + 1, PLANNED, planned.quantize(Decimal("0.01")), "minutes-bold", num_format="#,##0")
    sheet.formula(at + 1, ACTUAL, f"=SUM({minutes_name})", 0, "minutes-bold", num_format='#,##0;-#,##0;""')
    _precautions(sheet, at + 3, study, rows)
    return sheet


def _in_turn(rows: Sequence[CostRow], begins: Mapping[str, str]) -> list[CostRow]:
    """Rows as they are planned; what has no time of its own stays before or after all that has."""
    turn = {key: number for number, key in enumerate(begins)}
    first = min((row.number for row in rows if row.key in turn), default=0)
    return sorted(rows, key=lambda row: turn.get(row.key, -1 if row.number < first else len(turn)))


def _card_row(sheet: Sheet, at: int, row: CostRow, minutes: Decimal, begins: str) -> None:
    flags = ", ".join(FLAGS[code] for code in row.task.hazards if code in FLAGS)
    place = f" ({row.place.replace('-', ' ')})" if row.place else ""
    name = f"{id_words(row.task.id)}{place}"
    said = f"{begins}  {name}: {row.task.told}" if begins else f"{name}: {row.task.told}"
    sheet.text(at, KEY, row.key, "soft")
    sheet.text(at, BOX, BOX_EMPTY, "text", font_size=14)
    sheet.number(at, NO, row.number, "count")
    sheet.text(at, WORK, f"{said}\nTake care: {flags}" if flags else said, "wrap", font_size=9)
    sheet.text(at, QUANTITY, f"{row.quantity.normalize():f} {row.task.driver}", "right", font_size=9)
    sheet.number(at, PLANNED, minutes.quantize(Decimal("0.1")), "minutes", num_format="#,##0")
    sheet.text(at, WAIT, wait_words(row), "soft-wrap", indent=1)
    sheet.fill_in(at, ACTUAL, "number")
    sheet.fill_in(at, REMARK, "text", num_format=PLAIN_TEXT)
    sheet.rule(at, BOX, LAST)


def wait_words(row: CostRow) -> str:
    """How long glue, paint or rest takes after a row, in minutes, hours or days."""
    minutes = Decimal(row.line.wait) / 100
    if not minutes:
        return ""
    for unit, size, most in (("min", 1, 90), ("h", 60, 48 * 60), ("days", 1440, None)):
        if most is None or minutes <= most:
            return f"{(minutes / size).quantize(Decimal('0.1')).normalize():f} {unit}"
    return ""


def _precautions(sheet: Sheet, at: int, study: Study, rows: Sequence[CostRow]) -> None:
    sheet.text(at, BOX, "Precautions", "section")
    at += 1
    for line in wrapped_lines(GENERAL, sum(WIDTHS[1:]), 9):
        sheet.text(at, BOX, line, "soft")
        at += 1
    for hazard in hazards_of(study, rows):
        never = f" Never: {hazard.never}." if hazard.never.strip(" -–") else ""
        text = f"{sentence_case(hazard.where)}: {hazard.controls}.{never}"
        for number, line in enumerate(wrapped_lines(text, sum(WIDTHS[3:]), 9)):
            if not number:
                sheet.text(at, BOX, BOX_EMPTY, "text")
            sheet.text(at, NO, line, "text", font_size=9)
            at += 1


def write_setup_sheet(book: Book, study: Study, footer: str) -> Sheet:
    """What is measured before and after the work; what the intake knows already stands in it."""
    sheet = book.sheet(Sheet(SETUP_SHEET, (36, 8, 12, 12, 44), footer=footer))
    sheet.text(0, 0, f"Set-up sheet  ·  {study.job.id}", "title")
    sheet.text(
        1,
        0,
        "Measure at playing pitch, in playing position. Before: as it came in; after: as it goes out.",
        "soft",
    )
    sheet.rule(1, 0, 4, "heavy")
    for column, head in enumerate(("What", "Unit", "Before", "After", "How")):
        sheet.text(
            3,
            column,
            head,
            "head-right" if column in (2, 3) else "head",
            **({"indent": 1} if column == 4 else {}),
        )
    sheet.rule(3, 0, 4, "ink")
    at = 4
    for label, unit, field, how in SETUP_LINES:
        sheet.text(at, 0, label)
        sheet.text(at, 1, unit, "soft")
        reading = study.job.instrument.get(field)
        if reading is not None and not reading.assumed and isinstance(reading.value, Decimal):
            sheet.number(at, 2, reading.value, "quantity")
        else:
            sheet.fill_in(at, 2, "quantity")
        sheet.fill_in(at, 3, "quantity")
        sheet.text(at, 4, how, "soft", indent=1)
        sheet.tall(at, 20)
        sheet.rule(at, 0, 4)
        at += 1
    at += 1
    for label in ("Strings fitted (gauges)", "Tuning", "Played by", "Date and signature"):
        sheet.text(at, 0, label)
        for column in (1, 2, 3):
            sheet.fill_in(at, column)
        sheet.tall(at, 22)
        at += 1
    return sheet

"""The Notes sheet, for the bench: what was assumed, what the fit warns of, hazards, exclusions, terms."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.choose.study import SpecRow, Study, assumed_values
from estimator.core.text import sentence_case
from estimator.core.units import lengths_as_read
from estimator.model import Estimate, Hazard
from estimator.model.upgrade import dimension_in
from estimator.report.words.cautions import never_words
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.customer_page import Page, cautions, id_words
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.style import wrapped_lines

SHEET = "Notes"
WIDTHS = (30, 38, 42)
LAST = len(WIDTHS) - 1
GENERAL = (
    "These are the usual workshop cautions, not a safety programme. Follow the label and the safety sheet of each "
    "product and the local rules for fire, air, waste and the workplace."
)


def hazards_of(study: Study, rows: Sequence[CostRow]) -> list[Hazard]:
    """Hazards of the tasks used, in the order of the table."""
    brought = {code for row in rows for code in row.task.hazards}
    return [hazard for code, hazard in study.shop.hazards.items() if code in brought]


def assumed_lines(study: Study, estimate: Estimate, spec: Sequence[SpecRow]) -> list[tuple[str, str]]:
    """What the answer rests on that nobody measured: (what, value taken)."""
    lines = []
    for value in assumed_values(study, estimate.chosen):
        read = lengths_as_read(f"{value.value} {value.unit}".strip(), study.shop.lengths, beside=True)
        lines.append((assumed_words(study, value.name), read))
    lines.extend(
        (id_words(row.attribute), "its level now is assumed, not judged")
        for row in spec
        if row.asked and row.now_assumed
    )
    return lines


def warned_of(study: Study, chosen: frozenset[str]) -> list[str]:
    """What the fit warns of, with lengths as the shop reads them."""
    return [lengths_as_read(text, study.shop.lengths, beside=True) for text in cautions(study, chosen)]


def assumed_words(study: Study, name: str) -> str:
    """What an assumed value is: a field of the intake, or a dimension of the part (``part.depth``)."""
    field = study.shop.intake.get(name)
    if field:
        return sentence_case(field.what)
    dimension = dimension_in(name)
    for dimensions in study.shop.part_dimensions.values():
        if dimension in dimensions:
            return f"Of the part: {dimensions[dimension].meaning}"
    return id_words(name.replace(".", ": "))


def write_notes(
    book: Book,
    study: Study,
    estimate: Estimate,
    spec: Sequence[SpecRow],
    rows: Sequence[CostRow],
    page: Page | None,
    footer: str,
) -> Sheet:
    """Write the sheet."""
    sheet = book.sheet(Sheet(SHEET, WIDTHS, footer=footer))
    sheet.headline("Notes for the bench", "Not for the customer.", 0, LAST)
    at = 3
    assumed = assumed_lines(study, estimate, spec)
    at = block(sheet, at, "Assumed, because nobody measured it", assumed, "Nothing that matters was assumed.")
    warned = [("Take care", text) for text in warned_of(study, frozenset(estimate.chosen))]
    at = block(sheet, at, "What the fit warns of", warned, "Nothing.")
    at = write_hazards(sheet, at, study, rows)
    if page is not None:
        block(sheet, at, "Terms on the quote", page.record.terms, "")
    return sheet


def block(sheet: Sheet, at: int, heading: str, lines: Sequence[tuple[str, str]], nothing: str) -> int:
    """A heading and rows of label and text; returns the row below."""
    sheet.text(at, 0, heading, "section")
    sheet.rule(at, 0, LAST, "ink")
    at += 1
    across = WIDTHS[1] + WIDTHS[2]
    if not lines:
        sheet.text(at, 0, nothing, "soft")
        at += 1
    for label, text in lines:
        sheet.text(at, 0, label, "wrap", font_size=9)
        for number, piece in enumerate(wrapped_lines(text, across)):
            if number:
                at += 1
            sheet.text(at, 1, piece)
        sheet.rule(at, 0, LAST)
        at += 1
    return at + 1


def write_hazards(sheet: Sheet, at: int, study: Study, rows: Sequence[CostRow]) -> int:
    """The hazards of the work; returns the row below."""
    found = hazards_of(study, rows)
    sheet.text(at, 0, "Hazards of the work", "section")
    at += 1
    for piece in wrapped_lines(GENERAL, sum(WIDTHS), 9):
        sheet.text(at, 0, piece, "soft")
        at += 1
    sheet.text(at, 0, "Where", "head")
    sheet.text(at, 1, "What it does", "head")
    sheet.text(at, 2, "Usual controls", "head")
    sheet.rule(at, 0, LAST, "ink")
    at += 1
    for hazard in found:
        sheet.text(at, 0, sentence_case(hazard.where), "top", font_size=9)
        sheet.text(at, 1, sentence_case(hazard.harm), "top", font_size=9)
        told = f"{sentence_case(hazard.controls)}.\n{never_words(hazard)}".rstrip()
        sheet.text(at, 2, told, "top", font_size=9)
        sheet.rule(at, 0, LAST)
        at += 1
    if not found:
        sheet.text(at, 0, "None listed for this work.", "soft")
        at += 1
    return at + 1

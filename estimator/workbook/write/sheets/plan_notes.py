"""The Notes sheet of a plan: what was assumed and warned of by instrument, how waits work, hazards of the work."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from estimator.plan.plan import Plan
from estimator.plan.week import HINTS
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.rows import CostRow
from estimator.workbook.write.sheets.notes import (
    LAST,
    SHEET,
    WIDTHS,
    assumed_lines,
    block,
    warned_of,
    write_hazards,
)

HOW = (
    ("Times", "Means of many such jobs, set-ups and change-overs in them. They are one bench's judgement."),
    (
        "Curing",
        "Goes on day and night, at weekends too. Colder than 18 C: give glue and epoxy twice the time.",
    ),
    (
        "Orders",
        "All orders go out on the first day; parcels are reckoned to come by noon of the day that the suppliers name.",
    ),
    (
        "Not in the week",
        "Intake, inspection, messages, orders, photographs, handover: they fill the rest of the day.",
    ),
    ("Taking apart", "Does not wait for parts; look into the parcel before you take anything apart."),
)


def write_plan_notes(book: Book, plan: Plan, rows: Mapping[str, Sequence[CostRow]], footer: str) -> Sheet:
    """Write the sheet."""
    sheet = book.sheet(Sheet(SHEET, WIDTHS, footer=footer))
    sheet.headline("Notes for the bench", "Not for the customer.", 0, LAST)
    at = block(sheet, 3, "How to read the week", HOW, "")
    waits = [(f"Class {code}", words) for code, words in HINTS.items()]
    used = {o.meanwhile for o in plan.work.operations}
    at = block(sheet, at, "While something cures", [w for w in waits if w[0][-2:] in used], "Nothing cures.")
    for job, estimate in plan.estimates.items():
        study, chosen = plan.study.studies[job], plan.answer.chosen[job]
        lines = [
            *assumed_lines(study, estimate, ()),
            *(("Take care", text) for text in warned_of(study, frozenset(chosen))),
        ]
        at = block(sheet, at, f"{job}: assumed, and what the fit warns of", lines, "Nothing.")
    every = [row for mine in rows.values() for row in mine]
    write_hazards(sheet, at, next(iter(plan.study.studies.values())), every)
    return sheet

"""A plan as a workbook: the week, the chart, orders, cost, a card for each instrument, notes.

The same plan gives the same bytes: the date of creation is the first day of the plan.
"""

from __future__ import annotations

from estimator.core.amounts import Elapsed
from estimator.model.operation import OperationName
from estimator.plan.plan import Plan
from estimator.schedule.build import sittings_of
from estimator.workbook.write.cells import Book
from estimator.workbook.write.rows import CostRow, cost_rows
from estimator.workbook.write.sheets.gantt import write_figures, write_gantt
from estimator.workbook.write.sheets.job_card import CARD, write_job_card
from estimator.workbook.write.sheets.jobs_cost import write_costs
from estimator.workbook.write.sheets.orders import write_orders
from estimator.workbook.write.sheets.plan import write_plan
from estimator.workbook.write.sheets.plan_notes import write_plan_notes
from estimator.workbook.write.sheets.week import write_week
from estimator.workbook.write.style import NOT_FOR_CUSTOMERS

LONGEST_NAME = 31


def plan_bytes(plan: Plan, paper: str = "A4") -> bytes:
    """The workbook of a plan."""
    file = plan.study.file
    book = Book(f"Plan {file.id}", file.start, paper, plan.shop.terms.shop_name)
    footer = f"{plan.shop.terms.shop_name}  ·  {file.id}  ·  {NOT_FOR_CUSTOMERS}"
    rows = {
        job: cost_rows(plan.study.studies[job].costing, frozenset(estimate.chosen))
        for job, estimate in plan.estimates.items()
    }
    write_week(book, plan, footer)
    write_plan(book, plan, footer)
    write_gantt(book, plan, footer)
    write_orders(book, plan, footer)
    write_costs(book, plan, footer)
    for number, (job, mine) in enumerate(rows.items(), 1):
        write_job_card(
            book,
            plan.study.studies[job],
            mine,
            footer,
            (card_name(job, number), f"card{number}_minutes"),
            begins_of(plan, job, mine),
            chosen=plan.estimates[job].chosen,
        )
    write_plan_notes(book, plan, rows, footer)
    write_figures(book, plan, footer)
    book.property("schema", "1")
    book.property("batch", file.id)
    return book.done()


def card_name(job: str, number: int) -> str:
    """The name of a card's sheet; long ids are cut and told apart by their number."""
    name = f"{CARD}{job}"
    return name if len(name) <= LONGEST_NAME else f"{CARD}{number} {job}"[:LONGEST_NAME]


def begins_of(plan: Plan, job: str, rows: tuple[CostRow, ...]) -> dict[str, str]:
    """By key of a row: the day and time at which its work begins, in that order; what is done is left out."""
    begins = {b.operation: plan.calendar.elapsed_at_start(b.start) for b in plan.schedule.assignments}
    found: list[tuple[Elapsed, int, str]] = []
    for row in rows:
        name = str(OperationName(job, sittings_of(plan.shop, [row.line])[0][0]))
        if not row.setup and not row.desk and name in begins:
            found.append((begins[name], row.number, row.key))
    words = {}
    for minute, _, key in sorted(found):
        when = plan.calendar.moment(minute)
        words[key] = f"{when:%a} {when.day} {when:%b %H:%M}"
    return words

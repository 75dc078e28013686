"""The Plan sheet: what is chosen, done and promised, how good the plan is proven to be, where the hours go."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.core.amounts import Minutes
from estimator.core.cell_text import a1, span
from estimator.core.text import day, moment
from estimator.plan.plan import PROMISE_DAYS, Plan
from estimator.plan.replan.changes import change_words
from estimator.report.words.plan import bound_words, by_kind, chain_stretches, proof_words, proven_choice
from estimator.workbook.write.cells import Book, Sheet
from estimator.workbook.write.style import wrapped_lines

SHEET = "Plan"
WIDTHS = (16, 44, 17, 14, 14, 14, 27)
LAST = len(WIDTHS) - 1


def write_plan(book: Book, plan: Plan, footer: str) -> Sheet:
    """Write the sheet; ``hours_total`` names the minutes of all kinds of work together."""
    file = plan.study.file
    sheet = book.sheet(Sheet(SHEET, WIDTHS, landscape=True, footer=footer, pages_tall=1))
    since = f"from {day(file.start)}" if plan.now is None else f"made again {moment(plan.now)}"
    sheet.headline(f"Plan  ·  {file.id}", f"{file.what}  ·  {since}  ·  waits: {file.pace}", 0, LAST)
    at = _promises(sheet, 3, plan)
    at = _changes(sheet, at, plan)
    at = _proof(sheet, at, plan)
    at = _hours(book, sheet, at, plan)
    _chain(sheet, at, plan)
    return sheet


def _section(sheet: Sheet, at: int, heading: str, heads: Sequence[str] = ()) -> int:
    sheet.text(at, 0, heading, "section")
    if not heads:
        sheet.rule(at, 0, LAST, "ink")
        return at + 1
    for column, head in enumerate(heads):
        sheet.text(at + 1, column, head, "head" if column < 2 or column == LAST else "head-right")
    sheet.rule(at + 1, 0, LAST, "ink")
    return at + 2


def _promises(sheet: Sheet, at: int, plan: Plan) -> int:
    heads = ("Instrument", "Upgrades", "Done, on average", "Done, 80 % sure", "Promise", "Wanted by", "")
    at = _section(sheet, at, "Done and promised", heads)
    done, safe, promised = plan.finished(), plan.finished(plan.safe), plan.promised
    for entry in (one for one in plan.study.file.jobs if one.id in plan.estimates):
        sheet.text(at, 0, entry.id, "bold")
        sheet.text(at, 1, ", ".join(plan.answer.chosen[entry.id]) or "no upgrade", "wrap", font_size=9)
        if entry.id in done:
            sheet.text(at, 2, f"{done[entry.id]:%a} {done[entry.id].day} {done[entry.id]:%b %H:%M}", "right")
            sheet.day(at, 3, safe[entry.id].date())
            sheet.day(at, 4, promised[entry.id], bold=True)
        else:
            sheet.text(at, 2, "done", "right")
        if entry.due is not None:
            sheet.day(at, 5, entry.due)
            if entry.id in done:
                late, unsure = done[entry.id].date() > entry.due, promised[entry.id] > entry.due
                words = "LATE" if late else "cannot be promised surely" if unsure else "in time"
                sheet.text(at, 6, words, "bold" if late or unsure else "soft", indent=1)
        sheet.rule(at, 0, LAST)
        at += 1
    for job, why in plan.answer.why_not.items():
        sheet.text(at, 0, job, "bold")
        sheet.text(at, 1, f"not bought: {why}", "wrap", font_size=9)
        sheet.rule(at, 0, LAST)
        at += 1
    words = f"Promise: all hands-on times at 80 % surety, {PROMISE_DAYS} days more, next open day."
    sheet.text(at, 0, words, "soft")
    return at + 2


def _changes(sheet: Sheet, at: int, plan: Plan) -> int:
    if plan.now is None:
        return at
    at = _section(sheet, at, "What changed, and why")
    for words in change_words(plan.changed):
        for line in wrapped_lines(words, sum(WIDTHS)):
            sheet.text(at, 0, line)
            at += 1
    if not plan.changed:
        sheet.text(at, 0, "Nothing moves to another day.")
        at += 1
    return at + 1


def _proof(sheet: Sheet, at: int, plan: Plan) -> int:
    at = _section(sheet, at, "How good it is")
    sheet.text(at, 0, "The choice", "soft")
    sheet.text(at, 1, proven_choice(plan.answer))
    at += 1
    for aim in plan.schedule.objectives:
        sheet.text(at, 0, {"tardiness": "Lateness", "makespan": "All done"}.get(aim, "Hands-on"), "soft")
        sheet.text(at, 1, f"{proof_words(plan, aim)} ({bound_words(plan.schedule, aim)})")
        at += 1
    sheet.text(at, 0, "Found by", "soft")
    sheet.text(at, 1, plan.schedule.method)
    return at + 2


def _hours(book: Book, sheet: Sheet, at: int, plan: Plan) -> int:
    heads = ("Minutes", "Kind of work", "Share")
    sheet.text(at, 0, "Where the hours go", "section")
    for column, head in enumerate(heads):
        sheet.head(at + 1, column, head, "indent" if column == 1 else "right")
    sheet.rule(at + 1, 0, 2, "ink")
    first = at = at + 2
    kinds = by_kind(plan)
    total = sum((minutes for _, minutes in kinds), Minutes(0))
    for what, minutes in kinds:
        sheet.number(at, 0, minutes, "minutes", num_format="#,##0")
        sheet.text(at, 1, what, indent=1)
        share = Decimal(minutes) / total if total else Decimal(0)
        sheet.formula(
            at, 2, f"=IF(hours_total>0,{a1(at, 0)}/hours_total,0)", share, "percent", num_format="0%"
        )
        sheet.rule(at, 0, 2)
        at += 1
    formula = f"=SUM({span(first, 0, at - 1)})" if kinds else "=0"
    sheet.formula(at, 0, formula, total, "minutes-bold", num_format="#,##0")
    sheet.text(at, 1, "hands-on, with set-ups and change-overs", "bold", indent=1)
    book.name("hours_total", sheet, at, 0)
    return at + 2


def _chain(sheet: Sheet, at: int, plan: Plan) -> None:
    at = _section(sheet, at, "What decides the end")
    start, stretches = chain_stretches(plan)
    for words in (*((f"{start} comes",) if start else ()), *stretches):
        for line in wrapped_lines(words, sum(WIDTHS)):
            sheet.text(at, 0, line)
            at += 1
    sheet.text(at, 0, "A minute saved in these is saved at the end; elsewhere it is not.", "soft")

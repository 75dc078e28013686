"""A plan as two tables: what to order, with the share of each job, and every piece of work with its times."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from estimator.batch.orders import Basket
from estimator.core.amounts import Cents
from estimator.core.errors import refusal, shown
from estimator.core.money import amount
from estimator.core.save import Output, check_target, text_output
from estimator.core.text import written_day
from estimator.model.operation import operation_name
from estimator.plan.day_list import short
from estimator.plan.plan import Plan
from estimator.plan.replan.changes import entry_words
from estimator.plan.week import HINTS
from estimator.report.csv.cells import csv_text

ORDERS, WEEK = "orders.csv", "week.csv"


def orders_csv(plan: Plan) -> str:
    """One row a thing to order and one for the freight of each parcel; the shares of a row add up to its money."""
    jobs = list(plan.orders.by_job)
    head = (
        "supplier",
        "kind",
        "id",
        "what",
        "number",
        "money",
        "needed_by",
        *(f"share of {job}" for job in jobs),
    )
    rows = [row for basket in plan.orders.baskets for row in _basket(basket, jobs)]
    for line in plan.orders.had:
        need = written_day(line.need_by) if line.need_by else ""
        nothing = (amount(Cents(0)) for _ in jobs)
        rows.append(
            ("", line.kind, line.what, line.words, Decimal(line.number), amount(Cents(0)), need, *nothing)
        )
    return csv_text(head, rows)


def _basket(basket: Basket, jobs: list[str]) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for line in basket.lines:
        bears = dict(line.bears)
        need = written_day(line.need_by) if line.need_by else ""
        shares = (amount(bears.get(job, Cents(0))) for job in jobs)
        rows.append(
            (
                basket.seller,
                line.kind,
                line.what,
                line.words,
                Decimal(line.number),
                amount(line.cents),
                need,
                *shares,
            )
        )
    if basket.freight:
        bears = dict(basket.freight_bears)
        shares = (amount(bears.get(job, Cents(0))) for job in jobs)
        rows.append((basket.seller, "freight", "", "freight", 1, amount(basket.freight), "", *shares))
    return rows


def week_csv(plan: Plan) -> str:
    """One row a stretch of work between opening and closing; times are local, minutes whole."""
    known, waits, calendar = plan.work.by_id(), plan.work.waits(), plan.calendar
    head = ("who", "begins", "ends", "minutes", "job", "task", "work", "cures_until", "meanwhile", "changed")
    rows: list[tuple[object, ...]] = []
    for assignment in plan.schedule.assignments:
        operation = known[assignment.operation]
        end = calendar.elapsed_at_end(assignment.end)
        cure = waits[operation.id]
        until = written_day(calendar.moment(end + cure)) if cure else ""
        for since, till in calendar.spans(assignment.start, assignment.end):
            begins, ends = (written_day(calendar.moment(m)) for m in (since, till))
            rows.append(
                (
                    assignment.who,
                    begins,
                    ends,
                    till - since,
                    operation.job,
                    operation_name(operation.id).task,
                    short(operation.id),
                    until if till == end else "",
                    HINTS.get(operation.meanwhile, "") if cure and till == end else "",
                    "; ".join(entry_words(plan.changed, [operation.id])),
                )
            )
    return csv_text(head, sorted(rows, key=lambda row: (str(row[1]), str(row[0]))))


def csv_outputs(plan: Plan, folder: str | Path, *, force: bool = False) -> list[Output]:
    """Both tables as files to write into a folder (see ``new_folder``); InputError if they cannot be written."""
    check_csv(folder, force=force)
    tables = {ORDERS: orders_csv(plan), WEEK: week_csv(plan)}
    return [
        text_output(Path(folder) / name, text, force=force, extensions=(".csv",))
        for name, text in tables.items()
    ]


def check_csv(folder: str | Path, *, force: bool = False) -> None:
    """InputError if the folder cannot be made, or a table cannot be written into one that is there."""
    target = Path(folder)
    if not target.parent.is_dir() or (target.exists() and not target.is_dir()):
        found = "a file of this name" if target.exists() else f"no folder {shown(str(target.parent))}"
        raise refusal(
            "--csv",
            f"no folder can be made of {shown(str(target))}",
            found,
            "the name of a folder",
            "make the folder above it first, or take another name",
        )
    if target.exists():
        for name in (ORDERS, WEEK):
            check_target(Path(folder) / name, force=force)

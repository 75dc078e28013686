"""Quotes as workbooks: the shop's own with everything in it, and the customer's page alone.

The same input gives the same bytes: the date of creation is the day the job was received.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from pathlib import Path

from estimator.choose.study import Choice, SpecRow, Study, make_estimate, spec_rows
from estimator.core.errors import refusal
from estimator.core.save import check_target, save_bytes
from estimator.core.text import day_of
from estimator.model import Estimate
from estimator.workbook.write.cells import Book
from estimator.workbook.write.customer_page import make_page
from estimator.workbook.write.rows import cost_rows
from estimator.workbook.write.set_marks import marks_of
from estimator.workbook.write.sheets.charts import FrontierPoint, write_charts
from estimator.workbook.write.sheets.costing import write_costing
from estimator.workbook.write.sheets.drawings import write_drawings
from estimator.workbook.write.sheets.inputs import write_inputs
from estimator.workbook.write.sheets.job_card import write_job_card, write_setup_sheet
from estimator.workbook.write.sheets.notes import write_notes
from estimator.workbook.write.sheets.offers import write_offers
from estimator.workbook.write.sheets.parts import write_parts
from estimator.workbook.write.sheets.price import write_price
from estimator.workbook.write.sheets.quote import write_page
from estimator.workbook.write.sheets.spec import write_spec
from estimator.workbook.write.sheets.templates import write_templates
from estimator.workbook.write.sheets.wear import write_wear
from estimator.workbook.write.style import NOT_FOR_CUSTOMERS

EXTENSIONS = (".xlsx",)
NamedOffers = Mapping[str, Choice | Collection[str]] | None
LONG_AGO = date(2000, 1, 1)


def taken_apart(
    source: Choice | Study, chosen: Collection[str] = ()
) -> tuple[Study, Estimate, Sequence[SpecRow]]:
    """Study, estimate and spec of a choice, or of a study with the upgrades decided on."""
    if isinstance(source, Choice):
        if not source.found:
            raise refusal(
                source.study.job.file,
                "there is nothing to quote",
                "no upgrade set meets the wish",
                "a wish that can be met",
                "run choose: it names what clashes and the cheapest ways out",
            )
        return source.study, source.estimate, source.spec
    return source, make_estimate(source, chosen), spec_rows(source, chosen)


def quote_bytes(
    source: Choice | Study,
    *,
    chosen: Collection[str] = (),
    paper: str = "A4",
    frontier: Sequence[FrontierPoint] = (),
    offers: NamedOffers = None,
) -> bytes:
    """The shop's workbook of a quote."""
    study, estimate, spec = taken_apart(source, chosen)
    # the shop's own instrument has no customer, and so no page for one
    page = make_page(study, estimate.chosen) if study.job.kind == "commission" else None
    rows = cost_rows(study.costing, frozenset(estimate.chosen))
    book = Book(
        f"Quote {study.job.id}", day_of(study.job.received) or LONG_AGO, paper, study.shop.terms.shop_name
    )
    footer = f"{study.shop.terms.shop_name}  ·  {study.job.id}  ·  {NOT_FOR_CUSTOMERS}"
    if page is not None:
        write_page(book, page, linked=True)
        if offers:
            others = make_page(study, estimate.chosen, named_offers(study, offers))
            write_offers(book, others, "Offers", "Prices as they were when this file was written.")
    write_costing(book, study, estimate, rows, footer)
    write_price(book, study, estimate, rows, footer)
    write_inputs(book, study, footer)
    write_wear(book, study, rows, footer)
    write_parts(book, study, estimate, rows, footer)
    write_spec(book, study.shop, spec, footer)
    write_job_card(book, study, rows, footer, chosen=estimate.chosen)
    write_setup_sheet(book, study, footer)
    write_drawings(book, study, estimate, footer)
    write_templates(book, study, estimate, footer)
    write_charts(book, estimate, rows, footer, frontier)
    write_notes(book, study, estimate, spec, rows, page, footer)
    book.property("schema", "1")
    book.property("job", study.job.id)
    for name, value in marks_of(study, estimate.chosen, rows, estimate.parts).items():
        book.property(name, value)
    return book.done()


def customer_quote_bytes(
    source: Choice | Study, *, chosen: Collection[str] = (), paper: str = "A4", offers: NamedOffers = None
) -> bytes:
    """The customer's page in a workbook of its own, with nothing else in it."""
    study, estimate, _ = taken_apart(source, chosen)
    page = make_page(study, estimate.chosen, named_offers(study, offers or {}))
    book = Book(
        f"Quote {study.job.id}", day_of(study.job.received) or LONG_AGO, paper, study.shop.terms.shop_name
    )
    if offers:
        write_offers(book, page)
    else:
        write_page(book, page, linked=False)
    return book.done()


def named_offers(study: Study, offers: Mapping[str, Choice | Collection[str]]) -> dict[str, Estimate]:
    """Offers made of choices, or of sets of upgrade ids, by the names that a customer reads."""
    return {
        name: one.estimate if isinstance(one, Choice) else make_estimate(study, one)
        for name, one in offers.items()
    }


def write_quote(
    source: Choice | Study,
    path: str | Path,
    *,
    force: bool = False,
    paper: str = "A4",
    chosen: Collection[str] = (),
    frontier: Sequence[FrontierPoint] = (),
    offers: NamedOffers = None,
) -> Path:
    """Write the shop's workbook; InputError when the file cannot be written there.

    ``source`` is a choice, or a study with the upgrades ``chosen``. ``paper``: ``A4`` or ``Letter``.
    ``frontier`` are sets with their money and score, for a chart; ``offers`` stand side by side on
    a sheet of their own.
    """
    target = check_target(path, force=force, extensions=EXTENSIONS)
    data = quote_bytes(source, chosen=chosen, paper=paper, frontier=frontier, offers=offers)
    return save_bytes(target, data, force=force, extensions=EXTENSIONS)

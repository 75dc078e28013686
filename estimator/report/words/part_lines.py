"""The parts of a set: what they cost, and whether they are bought, in stock, or brought by the customer."""

from __future__ import annotations

from estimator.choose.study import Study
from estimator.model import Estimate
from estimator.report.record import table_of
from estimator.report.records.work import Part, PartTaken, parts_of
from estimator.report.text.terminal import plain, show_table


def show(study: Study, priced: Estimate) -> None:
    """A table of parts and strings; nothing where there are none."""
    parts = parts_of(study, priced)
    if parts:
        show_table("Parts", *table_of(Part, parts, study.shop.terms.currency, ("part", _named)))


def _named(of: PartTaken) -> str:
    """The part, and where it comes from, if it is not bought, or not all of it is."""
    part, there = of.line, of.from_stock
    if part.owner == "customer":
        return f"{part.what} (customer's own)"
    if not there:
        return part.what
    return f"{part.what} ({'in stock' if there == part.quantity else f'{plain(there)} of them in stock'})"

"""The parts of a set: what they cost, and whether they are bought, in stock, or brought by the customer."""

from __future__ import annotations

from decimal import Decimal

from estimator.choose.study import Study
from estimator.model import Estimate, PartLine
from estimator.report.records.work import parts_of
from estimator.report.text.terminal import money, plain, show_table


def show(study: Study, priced: Estimate) -> None:
    """A table of parts and strings; nothing where there are none."""
    parts = parts_of(study, priced)
    currency = study.shop.terms.currency
    # the shop's own instrument has nobody who pays a price for a part
    shown = 4 if study.job.for_customer else 3
    if parts:
        show_table(
            "Parts",
            ("part", "n", "cost", "price")[:shown],
            [
                (
                    taken.line.what + _whence(taken.line, taken.from_stock),
                    plain(taken.line.quantity),
                    money(taken.line.cost, currency),
                    money(taken.line.price, currency),
                )[:shown]
                for taken in parts
            ],
            right=(1, 2, 3)[: shown - 1],
        )


def _whence(part: PartLine, there: Decimal) -> str:
    """Where a part comes from, if it is not bought, or not all of it is."""
    if part.owner == "customer":
        return " (customer's own)"
    if not there:
        return ""
    return " (in stock)" if there == part.quantity else f" ({plain(there)} of them in stock)"

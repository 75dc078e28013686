"""The parts of a set: what they cost, and whether they are bought, in stock, or brought by the customer."""

from __future__ import annotations

from estimator.choose.study import Study, all_parts
from estimator.core.cell_text import plain_number
from estimator.core.money import money_text
from estimator.estimate.packs import pieces_from_stock
from estimator.model import Estimate, PartLine
from estimator.report.text.terminal import money, plain, show_table


def show(study: Study, priced: Estimate) -> None:
    """A table of parts and strings; nothing where there are none."""
    parts, there = all_parts(study, priced), pieces_from_stock(priced.parts, study.job.stock)
    currency = study.shop.terms.currency
    if parts:
        show_table(
            "Parts",
            ("part", "n", "cost", "price"),
            [
                (p.what + _whence(p, there.get(p.upgrade, 0)), plain(p.quantity),
                 money(p.cost, currency), money(p.price, currency))
                for p in parts
            ],
            right=(1, 2, 3),
        )  # fmt: skip


def _whence(part: PartLine, there: int) -> str:
    """Where a part comes from, if it is not bought, or not all of it is."""
    if part.owner == "customer":
        return " (customer's own)"
    if not there:
        return ""
    return " (in stock)" if there == part.quantity else f" ({there} of them in stock)"


def as_data(study: Study, estimate: Estimate) -> list[dict[str, object]]:
    """Parts bought, in stock or brought, and strings."""
    there = pieces_from_stock(estimate.parts, study.job.stock)
    return [
        {
            "part": line.part,
            "upgrade": line.upgrade,
            "quantity": plain_number(round(line.quantity, 4)),
            "cost": money_text(line.cost),
            "price": money_text(line.price),
            "fitting": money_text(line.fitting),
            "owner": line.owner,
            "from_stock": there.get(line.upgrade, 0),
        }
        for line in all_parts(study, estimate)
    ]

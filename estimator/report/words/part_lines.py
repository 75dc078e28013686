"""The parts of a set: what they cost, and whether they are bought, in stock, or brought by the customer."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.choose.study import Study, all_parts
from estimator.core.cell_text import plain_number
from estimator.core.money import money_text
from estimator.estimate.packs import pieces_from_stock
from estimator.model import Estimate, PartLine
from estimator.report.text.terminal import money, plain, show_table


def show(study: Study, priced: Estimate) -> None:
    """A table of parts and strings; nothing where there are none."""
    parts = all_parts(study, priced)
    there = _from_stock(study, priced, parts)
    currency = study.shop.terms.currency
    # the shop's own instrument has nobody who pays a price for a part
    shown = 4 if study.job.for_customer else 3
    if parts:
        show_table(
            "Parts",
            ("part", "n", "cost", "price")[:shown],
            [
                (
                    p.what + _whence(p, taken),
                    plain(p.quantity),
                    money(p.cost, currency),
                    money(p.price, currency),
                )[:shown]
                for p, taken in zip(parts, there, strict=True)
            ],
            right=(1, 2, 3)[: shown - 1],
        )


def _from_stock(study: Study, estimate: Estimate, lines: Sequence[PartLine]) -> list[Decimal]:
    """How much of each line comes from the stock: pieces of parts, then what the work takes, in its order."""
    stock, pieces = study.job.stock, pieces_from_stock(estimate.parts, study.job.stock)
    left: dict[str, Decimal] = {}
    taken = []
    for line in lines:
        if line.upgrade:
            taken.append(Decimal(pieces.get(line.upgrade, 0)))
            continue
        there = left.get(
            line.part, stock[line.part] if line.part in study.costing.setting.stocked else Decimal(0)
        )
        taken.append(min(there, line.quantity))
        left[line.part] = there - taken[-1]
    return taken


def _whence(part: PartLine, there: Decimal) -> str:
    """Where a part comes from, if it is not bought, or not all of it is."""
    if part.owner == "customer":
        return " (customer's own)"
    if not there:
        return ""
    return " (in stock)" if there == part.quantity else f" ({plain(there)} of them in stock)"


def as_data(study: Study, estimate: Estimate) -> list[dict[str, object]]:
    """Parts bought, in stock or brought, and strings."""
    lines = all_parts(study, estimate)
    return [
        {
            "part": line.part,
            "upgrade": line.upgrade,
            "quantity": plain_number(round(line.quantity, 4)),
            "cost": money_text(line.cost),
            "price": money_text(line.price) if study.job.for_customer else None,
            "fitting": money_text(line.fitting),
            "owner": line.owner,
            "from_stock": plain_number(round(taken, 4)),
        }
        for line, taken in zip(lines, _from_stock(study, estimate, lines), strict=True)
    ]

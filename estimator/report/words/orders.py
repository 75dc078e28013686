"""Papers for the bench and the till: the order list, the card of each instrument."""

from __future__ import annotations

from estimator.batch.cost_sharing import RULE
from estimator.batch.orders import Basket, OrderLine, Orders
from estimator.core.text import day, money, wrapped


def order_lines(orders: Orders, currency: str, placed: bool = False) -> list[str]:
    """One basket per supplier, with who bears what; ``placed``: they went out on the first day of the plan."""
    out = ["Orders, placed on the first day" if placed else "Orders"]
    for basket in orders.baskets:
        out.append(
            f"  {basket.seller} ({basket.words}): {money(basket.total, currency)}, {_freight(basket, currency)}"
        )
        for line in basket.lines:
            need = f", needed by {day(line.need_by)}" if line.need_by else ""
            unit = "pack of " if line.kind == "pack" else ""
            out += wrapped(
                f"{line.number} x {unit}{line.words}: {money(line.cents, currency)}{need}, {borne(line, currency)}",
                "    ",
            )
    if not orders.baskets:
        out.append("  nothing has to be bought")
    for line in orders.had:
        out += wrapped(line.words)
    for job, cents in orders.by_job.items():
        out.append(f"  borne by {job}: {money(cents, currency)}")
    out.append(f"  in all {money(orders.total, currency)}")
    out += wrapped(f"how it is split: {RULE}.")
    if orders.no_spares:
        out += wrapped(orders.no_spares)
    for spare in orders.spares:
        extra = spare.pieces - spare.good
        practise = f"; practise on {spare.practise_on}" if spare.practise_on else ""
        if extra:
            out += wrapped(
                f"spares: {spare.words}: for {spare.good} good have {spare.pieces} ({extra} spare) "
                f"at 90 % surety{practise}"
            )
    return out


def _freight(basket: Basket, currency: str) -> str:
    if not basket.sent:
        return "to be fetched"
    return f"freight {money(basket.freight, currency)}" if basket.freight else "freight free"


def borne(line: OrderLine, currency: str) -> str:
    """Who bears a line: one job, or several with their shares."""
    if len(line.bears) == 1:
        return f"for {line.bears[0][0]}"
    return "for " + ", ".join(f"{job} {money(cents, currency)}" for job, cents in line.bears)

"""What one job would buy if it ordered by itself, laid beside the choice of its set: its own limit on cash speaks of it."""

from __future__ import annotations

from msgspec import Struct

from estimator.batch.own_cash import as_if_alone
from estimator.batch.purchasing import (
    JointModel,
    buy_packs,
    buy_parts,
    buy_tools,
    price_breaks,
    send_parcel,
)
from estimator.batch.records import Batch, JobChoice, Triggers
from estimator.choose.milp.linear import Linear, total_of
from estimator.choose.milp.variables import ALWAYS, Columns


class LaidOrder(Struct, frozen=True):
    """Sums in the columns of a job: the cents that it lays out by itself, and its pieces from each shelf.

    The programme may order dearer than need be, never cheaper: a limit on ``cash`` is kept where any order keeps it.
    """

    cash: Linear
    taken: dict[str, Linear]


def lay_own_order(batch: Batch, job: JobChoice, columns: Columns) -> LaidOrder:
    """The order of one job alone, in the columns of its own programme."""

    def literal(triggers: Triggers) -> Linear:
        return ALWAYS if triggers is None else columns.any_of(triggers)

    alone, laid = as_if_alone(batch, job), JointModel(model=columns.model)
    wanted = [columns.option(part.upgrade) for part in alone.parts]
    taken = buy_parts(laid, alone, wanted, stock_first=False)
    buy_packs(laid, alone, [(use, literal(use.triggers)) for use in alone.uses])
    buy_tools(laid, [(t, [(name, literal(who)) for name, who in t.needed_by]) for t in alone.tools])
    for seller in alone.sellers:
        price_breaks(laid, seller)
        send_parcel(laid, seller)
    cash = columns.total("cash")
    cash.add(total_of((Linear({deal.column: 1}), deal.cents) for deal in laid.deals))
    cash.add(total_of((one, -part.list_cents) for one, part in zip(wanted, alone.parts, strict=True)))
    for freight in laid.freight.values():
        cash.add(freight)
    return LaidOrder(cash, taken)

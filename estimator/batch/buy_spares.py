"""Spares bought with the parts and packs they come with: one order, the least money for all of it together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.batch.build import BatchStudy
from estimator.batch.purchasing import (
    Deal,
    JointModel,
    buy_packs,
    buy_parts,
    price_breaks,
    prices_at,
    send_parcel,
)
from estimator.batch.records import THOUSAND, Batch, BoughtPart, JointAnswer, Purchase
from estimator.batch.spares import SpareAdvice, advice_of
from estimator.batch.verify import JointSolution, freight_of, purchase_breaches
from estimator.choose.milp.linear import STRUCTURE, Linear, make_row, total_of
from estimator.choose.milp.variables import ALWAYS
from estimator.choose.solvers.backends import OPTIMAL
from estimator.choose.solvers.solve import EXACT, solve_model
from estimator.core.amounts import Cents
from estimator.core.errors import EngineError
from estimator.core.text import money

Found = tuple[tuple[Purchase, ...], tuple[Purchase, ...]]
"""What is bought for the sets, and the spares."""
PATIENCE = 120.0
"""Seconds each question of the order is given; orders of a bench's worth take a small part of one."""


class ShortCash(Struct, frozen=True):
    """What the order may come to in all, in cents, and by class the odds that each spare is needed, in millionths."""

    room: Cents
    needed: Mapping[str, Sequence[int]]


def with_spares(study: BatchStudy, answer: JointAnswer) -> JointAnswer:
    """The answer with spares bought, where the batch asks for them and its cash reaches; else it says why not.

    The sets, what comes out of the stock and what is moved stay. All that is left to buy is bought anew
    together with the spares, as these may reach a free freight or a quantity break that the parts alone do not.
    Where the cash does not reach for all of them, those are bought that are likeliest to be needed: of all orders
    that the cash reaches for, the one whose spares have the greatest sum of the odds to be needed.
    """
    if not study.file.spares:
        return answer
    advice = advice_of(study, answer)
    wanted = {a.part_class: a.pieces - a.good for a in advice if a.each is not None and a.pieces > a.good}
    if not wanted:
        return replace(answer, no_spares=f"no spares are worth their money: {_none_needed(study, advice)}")
    found = buy_together(study.batch, answer, wanted)
    if found is None:
        return replace(answer, no_spares="no spares are ordered: no order with them was found in time")
    most, currency, said = study.file.cash, study.shop.terms.currency, ""
    extra = _extra(study.batch, answer, found)
    if most is not None and answer.cash + extra > most:
        short = (
            f"they would take {money(extra, currency)} more, "
            f"and the cash of the batch leaves {money(most - answer.cash, currency)}"
        )
        paid = sum((p.cents for p in answer.purchases if p.kind in ("part", "pack")), Cents(0))
        paid += sum(answer.freight.values(), Cents(0))
        cash = ShortCash(paid + most - answer.cash, {a.part_class: a.needed for a in advice})
        found = buy_together(study.batch, answer, wanted, cash)
        if found is None or not found[1]:
            return replace(answer, no_spares=f"no spares are ordered: {short}")
        extra, number = _extra(study.batch, answer, found), sum(p.number for p in found[1])
        said = (
            f"{number} of {sum(wanted.values())} spares are ordered, those likeliest to be needed; "
            f"for all of them the cash is short: {short}"
        )
    purchases, spares = found
    freight = freight_of(study.batch, (*purchases, *spares))
    held = JointSolution(answer.chosen, answer.measures, (*purchases, *spares), freight)
    wrong = purchase_breaches(study.batch, held)
    if wrong:
        raise EngineError("the order with spares did not pass the recheck: " + "; ".join(wrong))
    return replace(answer, purchases=purchases, freight=freight, spares=spares, extra=extra, no_spares=said)


def _extra(batch: Batch, answer: JointAnswer, found: Found) -> Cents:
    """What an order with spares takes beyond the order of the answer, in cents."""
    both = (*found[0], *found[1])
    now = sum((p.cents for p in both), Cents(0)) + sum(freight_of(batch, both).values(), Cents(0))
    return now - sum((p.cents for p in answer.purchases), Cents(0)) - sum(answer.freight.values(), Cents(0))


def _none_needed(study: BatchStudy, advice: Sequence[SpareAdvice]) -> str:
    reasons = []
    for one in advice:
        kind = study.shop.part_classes[one.part_class].what  # the row's odds may be told of one material only
        if one.pieces == one.good:
            reasons.append(f"{kind}: {one.good} for {one.good} good are enough at 90 % surety")
        else:
            reasons.append(f"{kind}: none is bought, all are there or come off another instrument")
    return "; ".join(reasons) or "nothing that is chosen takes a part of a kind that may be spoiled"


def buy_together(
    batch: Batch, answer: JointAnswer, wanted: Mapping[str, int], cash: ShortCash | None = None
) -> Found | None:
    """What is bought for the sets of an answer, and so many spares by class, for the least money with freight.

    Of equals the order with the most at the suppliers named first in ``suppliers.csv``; of those the one in which
    what stands first in the order is bought there. ``cash``: no more than that is paid, for the spares that are
    likeliest to be needed. None where no order was found in time.
    """
    left = _left_to_buy(batch, answer)
    laid = JointModel()
    uses = [(use, ALWAYS) for use in left.uses]
    buy_parts(laid, left, [ALWAYS for _ in left.parts])
    buy_packs(laid, left, uses)
    first = _first_bought(batch, answer)
    missed = Linear()  # the odds that a spare is needed which is not bought, in millionths
    for part_class, number in wanted.items():
        bought = _buy_spares(laid, left, part_class, one_piece(first[part_class]), number)
        if cash is None:
            laid.model.add(bought, number, number, STRUCTURE)
            continue
        for odds in cash.needed[part_class][:number]:
            one = Linear({laid.model.column("k"): 1})
            bought.add(one, -1)
            missed.add(one, -odds)
        laid.model.add(bought, 0, 0, STRUCTURE)
    for seller in left.sellers:
        price_breaks(laid, seller)
        send_parcel(laid, seller)
    rank = {seller.id: number for number, seller in enumerate(left.sellers)}
    paid = total_of((Linear({deal.column: 1}), deal.cents) for deal in laid.deals)
    for freight in laid.freight.values():
        paid.add(freight)
    places = [(Linear({deal.column: 1}), rank.get(deal.seller, 0)) for deal in laid.deals]
    number = len(places)
    order = total_of((one, place * (number - n)) for n, (one, place) in enumerate(places))
    rows, values = list(laid.model.rows), None
    if cash is not None:
        rows.append(make_row(paid, None, cash.room, STRUCTURE))
    for total in (*([missed] if cash is not None else []), paid, total_of(places), order):
        outcome = solve_model(laid.model, rows, total, EXACT, PATIENCE)
        if outcome.values is None:
            break
        values = outcome.values
        if outcome.status != OPTIMAL:
            break
        assert outcome.objective is not None
        rows.append(make_row(total, None, outcome.objective, "stage"))
    return None if values is None else _purchases(answer, laid.deals, values)


def _left_to_buy(batch: Batch, answer: JointAnswer) -> Batch:
    """The parts and packs that the sets of an answer take, without what is there or is moved."""
    bought = {(p.job, p.upgrade) for p in answer.purchases if p.kind == "part"}
    parts = []
    for part in batch.parts:
        if (part.job, part.upgrade) in bought:
            pieces = answer.from_stock(part)
            number = f"{Decimal(part.quantity) - pieces:f}"
            parts.append(replace(part, list_cents=part.beyond(pieces), quantity=number, shelf=""))
    uses = tuple(use for use in batch.uses if answer.does(use.job, use.triggers))
    return replace(batch, parts=tuple(parts), uses=uses, tools=(), moved=(), pieces={})


def _first_bought(batch: Batch, answer: JointAnswer) -> dict[str, BoughtPart]:
    """By class, the first part that is bought: spares are pieces like it."""
    parts = {(part.job, part.upgrade): part for part in batch.parts}
    first: dict[str, BoughtPart] = {}
    for bought in answer.purchases:
        if bought.kind == "part":
            part = parts[bought.job, bought.upgrade]
            first.setdefault(part.part_class, part)
    return first


def _buy_spares(laid: JointModel, batch: Batch, part_class: str, list_cents: Cents, number: int) -> Linear:
    """How many pieces of a class are bought, of so many at the most, wherever they come cheapest."""
    bought = Linear()
    for seller, tier, cents in prices_at(batch.sellers, part_class, list_cents, part_class):
        column = laid.model.column("e", 0, number)
        bought.add(Linear({column: 1}))
        laid.deals.append(Deal(column, "spare", part_class, seller, cents, breaks=part_class, tier=tier))
    return bought


def one_piece(part: BoughtPart) -> Cents:
    """The list price of one piece of a part, upward to the cent."""
    return Cents(-(-part.list_cents * THOUSAND // part.thousandths))


def _purchases(
    answer: JointAnswer, deals: Sequence[Deal], values: Sequence[int]
) -> tuple[tuple[Purchase, ...], tuple[Purchase, ...]]:
    """The purchases of an answer with parts and packs as they are bought now, and the spares."""
    now = [
        Purchase(d.kind, d.what, d.seller, values[d.column], values[d.column] * d.cents, d.job, d.upgrade)
        for d in deals
        if values[d.column]
    ]
    parts = {(p.job, p.upgrade): p for p in now if p.kind == "part"}
    packs = [p for p in now if p.kind == "pack"]
    purchases: list[Purchase] = []
    for old in answer.purchases:
        if old.kind == "part":
            purchases.append(parts[old.job, old.upgrade])
        elif old.kind == "pack":
            purchases += packs
            packs = []
        else:
            purchases.append(old)
    return (*purchases, *packs), tuple(p for p in now if p.kind == "spare")

"""What a joint choice comes to, counted once more in plain arithmetic; no solver, no programme."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct, field

from estimator.batch.own_cash import as_if_alone
from estimator.batch.records import (
    THOUSAND,
    Batch,
    BoughtPart,
    JobChoice,
    OwnOrder,
    Pack,
    Purchase,
    Seller,
    Triggers,
)
from estimator.choose.measure import Measure
from estimator.choose.verify.choice import income_of, recheck, totals_of
from estimator.choose.verify.sale import sold
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import EngineError
from estimator.model.problem import Problem

MINUTES_PER_HOUR = 6000
"""Hundredths of a minute in an hour."""
SENT = ("part", "pack", "spare")
"""Kinds of purchase that come in a seller's parcel."""


class JointSolution(Struct, frozen=True):
    """What was found: sets, their exact measures, purchases, freight by seller; jobs left out are not in it.

    ``own``: what the jobs with a limit on their own cash would buy by themselves.
    """

    chosen: Mapping[str, tuple[str, ...]]
    measures: Mapping[str, Measure]
    purchases: tuple[Purchase, ...]
    freight: Mapping[str, Cents]
    own: Mapping[str, OwnOrder] = field(default_factory=dict)

    def does(self, job: str, triggers: Triggers) -> bool:
        """Whether the job is done and any of ``triggers`` is chosen for it (None: whenever it is done)."""
        chosen = self.chosen.get(job)
        return chosen is not None and (triggers is None or not set(triggers).isdisjoint(chosen))


def cash_of(batch: Batch, held: JointSolution) -> Cents:
    """All that is laid out, in cents: purchases, freight, and each job's own cash but for its parts."""
    total = sum(held.freight.values(), Cents(0)) + sum((p.cents for p in held.purchases), Cents(0))
    for job in batch.jobs:
        if job.id in held.chosen:
            total += held.measures[job.id].cash
    return total - sum((p.list_cents for p in batch.parts if held.does(p.job, (p.upgrade,))), Cents(0))


def cost_of(batch: Batch, held: JointSolution) -> Cents:
    """What all jobs cost the shop with the shared money, in cents."""
    return sum((measure.cost for measure in held.measures.values()), Cents(0)) + _shared(batch, held)


def money_left(batch: Batch, held: JointSolution) -> Cents:
    """What sales and incomes leave after all costs, in cents; jobs that are not for sale count by their cost."""
    total = -_shared(batch, held)
    forgone = {move.id: move.forgone for move in batch.moved}
    total -= sum((forgone[p.what] for p in held.purchases if p.kind == "moved"), Cents(0))
    for job in batch.jobs:
        if job.id in held.chosen:
            total += own_profit(job, held.chosen[job.id], held.measures[job.id].cost)
    return total


def own_profit(job: JobChoice, chosen: tuple[str, ...], cost: Cents) -> Cents:
    """What a set leaves of its job's sale or income, in cents, before the shared money."""
    if job.problem.sale is not None:
        return sold(job.problem, chosen).profit
    return income_of(job.problem, chosen) - cost


def own_time(job: JobChoice, chosen: tuple[str, ...], expected: Hundredths) -> Hundredths:
    """Hands-on time of a set and of its sale, in hundredths of a minute."""
    return expected if job.problem.sale is None else sold(job.problem, chosen).minutes


def pay_of(job: JobChoice) -> Cents:
    """The wanted pay that the costs of a job to be sold already hold, in cents an hour; else zero."""
    return Cents(0) if job.problem.sale is None else job.problem.sale.pay


def gain_of(batch: Batch, held: JointSolution) -> Cents:
    """Money left less the price of the instruments that were there to be paid for, in cents."""
    return money_left(batch, held) - sum(
        (
            job.problem.sale.paid
            for job in batch.jobs
            if job.id in held.chosen and job.problem.sale is not None and job.buy_for is None
        ),
        Cents(0),
    )


def hourly_of(batch: Batch, held: JointSolution) -> Cents:
    """What an hour brings over all jobs, in cents, half up: money left (instruments paid for) and wanted pay.

    Nothing where nothing is done.
    """
    money, time = int(MINUTES_PER_HOUR * gain_of(batch, held)), 0
    for job in batch.jobs:
        if job.id in held.chosen:
            spent = own_time(job, held.chosen[job.id], held.measures[job.id].expected)
            money += pay_of(job) * spent
            time += spent
    return Cents(rounded(money, time) if time else 0)


def rounded(top: int, bottom: int) -> int:
    """The nearest whole number to a share, halves upward."""
    return (2 * top + bottom) // (2 * bottom)


def freight_of(batch: Batch, purchases: Sequence[Purchase]) -> dict[str, Cents]:
    """Freight by seller of whom anything is bought: free from its sum on."""
    freight = {}
    for seller in batch.sellers:
        mine = [p.cents for p in purchases if p.seller == seller.id and p.kind in SENT]
        if mine:
            free = seller.free_from is not None and sum(mine, Cents(0)) >= seller.free_from
            freight[seller.id] = Cents(0) if free else seller.freight
    return freight


def _shared(batch: Batch, held: JointSolution) -> Cents:
    """Shared money beyond what the jobs' own costs hold: dearer sellers, tools, donors, packs, freight."""
    as_bought = {pack.consumable for pack in batch.packs if pack.in_cost}
    singly = {pack.consumable for pack in batch.packs if pack.singly}
    total = sum(held.freight.values(), Cents(0)) + sum(
        (
            p.cents
            for p in held.purchases
            if p.kind != "pack" or (batch.lost and p.what not in singly) or p.what in as_bought
        ),
        Cents(0),
    )
    there = from_stock(held)
    for part in batch.parts:
        if held.does(part.job, (part.upgrade,)):
            total += _again(batch, part, there.get((part.job, part.upgrade), 0)) - part.list_cents
    if not batch.lost:
        least = {pack.consumable: _least(batch, pack) for pack in batch.packs if not pack.in_cost}
        total += sum(
            (
                p.cents - p.number * least[p.what]
                for p in held.purchases
                if p.kind == "pack" and p.what in least
            ),
            Cents(0),
        )
    if batch.lost:
        packs = {pack.consumable: pack for pack in batch.packs}
        total -= sum(
            (
                packs[u.consumable].worth(u.millionths)
                for u in batch.uses
                if u.consumable not in as_bought | singly and held.does(u.job, u.triggers)
            ),
            Cents(0),
        )
    return total


def from_stock(held: JointSolution) -> dict[tuple[str, str], int]:
    """Pieces that come from the stock, by job and upgrade."""
    return {(p.job, p.upgrade): p.number for p in held.purchases if p.kind == "stock"}


def _again(batch: Batch, part: BoughtPart, pieces: int) -> Cents:
    """Pieces used up count at the list price, or at the cheapest seller's at the best break, if that is less."""
    listed = part.list_cents - part.beyond(pieces)
    found = [
        seller.price(part.part_class, listed, share)
        for seller in batch.sellers
        for share in (THOUSAND, *(share for _, share in seller.breaks.get(part.part_class, ())))
    ]
    return min([listed, *(cents for cents in found if cents is not None)])


def _stock_breaches(batch: Batch, held: JointSolution) -> list[str]:
    """More taken from the stock than is there or needed, parts only half there."""
    wrong = []
    there, taken = from_stock(held), dict.fromkeys(batch.pieces, 0)
    if len(there) != sum(p.kind == "stock" for p in held.purchases):
        wrong.append("a part is taken from the stock twice")
    paid = {(p.job, p.upgrade) for p in held.purchases if p.kind in ("part", "moved")}
    bought: set[str] = set()
    for part in batch.parts:
        pieces = there.pop((part.job, part.upgrade), 0)
        from_seller = any(
            (p.kind, p.job, p.upgrade) == ("part", part.job, part.upgrade) for p in held.purchases
        )
        if from_seller and part.thousandths - THOUSAND * pieces >= THOUSAND:
            bought.add(part.shelf)
        if not pieces:
            continue
        taken[part.shelf] = taken.get(part.shelf, 0) + pieces
        left = part.thousandths - THOUSAND * pieces
        if left < 0 or (left > 0) != ((part.job, part.upgrade) in paid):
            wrong.append(f"the part of {part.upgrade} for {part.job} is not there once beside the stock")
    wrong += [f"nothing of the stock can go to {upgrade} of {job}" for job, upgrade in there]
    wrong += [
        f"{number} of {name} are taken from the stock of {batch.pieces.get(name, 0)}"
        for name, number in taken.items()
        if number > batch.pieces.get(name, 0)
    ]
    wrong += [
        f"{name} is bought though some is left in stock"
        for name in sorted(bought)
        if taken.get(name, 0) < batch.pieces.get(name, 0)
    ]
    return wrong


def by_itself(batch: Batch, job: JobChoice, held: JointSolution) -> Batch:
    """One job as if it ordered by itself, with the pieces that it has from the stock in an answer."""
    shelves = {(part.job, part.upgrade): part.shelf for part in batch.parts}
    pieces: dict[str, int] = {}
    for (name, upgrade), number in from_stock(held).items():
        if name == job.id:
            shelf = shelves[name, upgrade]
            pieces[shelf] = pieces.get(shelf, 0) + number
    return as_if_alone(batch, job, pieces)


def _own_breaches(batch: Batch, job: JobChoice, held: JointSolution) -> list[str]:
    """What is wrong with the order that a job's own limit on cash is held against, and cash beyond the limit."""
    order, alone = held.own.get(job.id), by_itself(batch, job, held)
    if order is None:
        return [f"{job.id}: what it would lay out by itself is not told"]
    bare = JointSolution(
        {job.id: held.chosen[job.id]}, {job.id: held.measures[job.id]}, order.purchases, order.freight
    )
    wrong = [f"{job.id} by itself: {words}" for words in purchase_breaches(alone, bare)]
    if dict(order.freight) != freight_of(alone, order.purchases):
        wrong.append(f"{job.id} by itself: the freight is not that of its parcels")
    if (cash := cash_of(alone, bare)) != order.cash:
        wrong.append(f"{job.id} by itself: {cash} cents are laid out, not {order.cash}")
    if job.cash is not None and cash > job.cash:
        wrong.append(f"{job.id}: {cash} cents are laid out of {job.cash}")
    return wrong


def _least(batch: Batch, pack: Pack) -> Cents:
    """What a pack costs where it is cheapest, at the best quantity break."""
    prices = []
    for seller in batch.sellers:
        shares = [1000, *(share for _, share in seller.breaks.get(pack.consumable, ()))]
        found = [seller.price("consumables", pack.list_cents, share) for share in shares if not pack.singly]
        prices += [price for price in found if price is not None]
    return min(prices, default=pack.list_cents)


def breaches_of(batch: Batch, held: JointSolution) -> list[str]:
    """Everything that is wrong with a joint answer, in words: jobs' rules, parts, packs, tools, prices, limits."""
    wrong = []
    for job in batch.jobs:
        if job.id in held.chosen:
            told = held.measures[job.id]
            wrong += [f"{job.id}: {w}" for w in set_breaches(job.problem, held.chosen[job.id], told)]
            if job.cash is not None:
                wrong += _own_breaches(batch, job, held)
    wrong += purchase_breaches(batch, held)
    if (
        batch.minutes is not None
        and sum((m.expected for m in held.measures.values()), Hundredths(0)) > batch.minutes
    ):
        wrong.append("more hands-on time is planned than there is")
    return wrong


def purchase_breaches(batch: Batch, held: JointSolution) -> list[str]:
    """Everything that is wrong with what is bought for the sets: parts, packs, tools, prices, cash of the batch."""
    wrong = []
    got = {(p.job, p.upgrade): p for p in held.purchases if p.kind in ("part", "moved", "stock")}
    wrong += _stock_breaches(batch, held)
    for part in batch.parts:
        if held.does(part.job, (part.upgrade,)) != ((part.job, part.upgrade) in got):
            wrong.append(f"the part of {part.upgrade} for {part.job} is not there once")
    for pack in batch.packs:
        used = sum(
            u.millionths
            for u in batch.uses
            if u.consumable == pack.consumable and held.does(u.job, u.triggers)
        )
        bought = sum(p.number for p in held.purchases if (p.kind, p.what) == ("pack", pack.consumable))
        if pack.stock + bought * pack.holds < used:
            wrong.append(f"too little {pack.consumable} is bought")
    tools = {(p.what, p.job) for p in held.purchases if p.kind in ("tool", "rent")}
    wrong += [
        f"{tool.tool} is not there for {job}"
        for tool in batch.tools
        for job, who in tool.needed_by
        if held.does(job, who) and not tools & {(tool.tool, ""), (tool.tool, job)}
    ]
    moves = {move.id: move for move in batch.moved}
    taken = [p.what for p in held.purchases if p.kind == "moved"]
    wrong += [f"{what} goes to two places" for what in sorted(set(taken)) if taken.count(what) > 1]
    wrong += [
        f"{what} does not come off" for what in taken if not held.does(moves[what].from_job, moves[what].off)
    ]
    for seller in batch.sellers:
        wrong += _price_breaches(batch, seller, held)
    if batch.cash is not None and cash_of(batch, held) > batch.cash:
        wrong.append(f"{cash_of(batch, held)} cents are laid out of {batch.cash}")
    return wrong


def _price_breaches(batch: Batch, seller: Seller, held: JointSolution) -> list[str]:
    """Prices at the quantity bought."""
    wrong = []
    parts = {(p.job, p.upgrade): p for p in batch.parts}
    packs = {p.consumable: p for p in batch.packs}
    mine = [p for p in held.purchases if p.seller == seller.id and p.kind in SENT]
    numbers: dict[str, int] = {}
    there = from_stock(held)
    for p in mine:
        part = parts.get((p.job, p.upgrade)) if p.kind == "part" else None
        key, number = (part.part_class, part.thousandths) if part else (p.what, p.number * THOUSAND)
        number -= THOUSAND * (there.get((p.job, p.upgrade), 0) if part else 0)
        numbers[key] = numbers.get(key, 0) + number
    for p in mine:
        part = parts.get((p.job, p.upgrade)) if p.kind == "part" else None
        key = part.part_class if part else p.what
        steps = seller.breaks.get(key, ())
        less = next((less for step, less in reversed(steps) if numbers[key] >= step * THOUSAND), THOUSAND)
        if part:
            each = seller.price(key, part.beyond(there.get((p.job, p.upgrade), 0)), less)
        elif p.kind == "spare":
            each = seller.price(key, _one_more(held, parts, key), less)
        else:
            each = seller.price("consumables", packs[p.what].list_cents, less)
        if each is None or p.cents != each * p.number:
            wrong.append(f"{p.what} at {seller.id} is not at its price")
    return wrong


def _one_more(held: JointSolution, parts: Mapping[tuple[str, str], BoughtPart], part_class: str) -> Cents:
    """The list price of one piece like the first that is bought of a class, upward to the cent."""
    bought = (parts[p.job, p.upgrade] for p in held.purchases if p.kind == "part")
    first = next(part for part in bought if part.part_class == part_class)
    return Cents(-(-first.list_cents * THOUSAND // first.thousandths))


def set_breaches(problem: Problem, chosen: tuple[str, ...], told: Measure) -> list[str]:
    """Plain arithmetic judges a job's set: all that is wrong with it."""
    wrong = [one.words for one in recheck(problem, chosen, told.price)]
    plain = totals_of(problem, chosen)
    for what in ("cost", "cash", "price_parts", "consumables", "expected"):
        if getattr(plain, what) != getattr(told, what):
            wrong.append(f"{what} adds up to {getattr(plain, what)}, not to {getattr(told, what)}")
    return wrong


def confirm(batch: Batch, held: JointSolution) -> None:
    """EngineError with all that is wrong with a joint answer."""
    wrong = breaches_of(batch, held)
    if wrong:
        raise EngineError("the joint answer did not pass the recheck: " + "; ".join(wrong))

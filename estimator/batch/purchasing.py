"""The columns and rows of what is bought for several jobs: parts, packs, tools, donors, parcels, breaks."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from msgspec import Struct, field

from estimator.batch.records import THOUSAND, Batch, BoughtPart, MissingTool, Pack, PackUse, Seller
from estimator.choose.milp.freight import parcel_cost
from estimator.choose.milp.linear import STRUCTURE, Linear, Model, total_of
from estimator.core.amounts import Cents

CONSUMABLES = "consumables"


class Deal(Struct):
    """A column that buys something: what, from whom, at what price each.

    ``thousandths`` of a piece it stands for; ``tier``: which quantity break it is priced at (0: none).
    ``pieces`` that come from the stock with it; of kind ``stock`` nothing else is needed.
    ``off_job``: of kind ``moved``, the job off which it comes; nobody sells it then.
    """

    column: int
    kind: str
    what: str
    seller: str
    cents: Cents
    job: str = ""
    upgrade: str = ""
    breaks: str = ""
    tier: int = 0
    thousandths: int = THOUSAND
    pieces: int = 0
    off_job: str = ""


class JointModel(Struct):
    """The joint model while it is laid: where each job's columns begin, what is bought, freight by seller.

    ``gates``: for a job that may be left out, the column that is 1 when it is done. ``for_customers``: what missing
    tools take that customers' work needs.
    """

    model: Model = field(default_factory=Model)
    deals: list[Deal] = field(default_factory=list)
    freight: dict[str, Linear] = field(default_factory=dict)
    offsets: dict[str, int] = field(default_factory=dict)
    gates: dict[str, int] = field(default_factory=dict)
    for_customers: Linear = field(default_factory=Linear)

    def of(self, job: str, total: Linear) -> Linear:
        """A sum in a job's columns as one in the joint model's; zero where the job is left out."""
        offset, gate = self.offsets[job], self.gates.get(job)
        here = Linear({column + offset: value for column, value in total.terms.items()}, total.constant)
        if gate is not None:
            here.terms[gate] = here.terms.get(gate, 0) + here.constant
            here.constant = 0
        return here


def prices_at(
    sellers: Sequence[Seller], what: str, list_cents: Cents, breaks: str
) -> list[tuple[str, int, Cents]]:
    """Who sells something at what price: seller, number of the quantity break, cents each.

    Where nobody sells it, it is had from nowhere in particular at the list price.
    """
    found = []
    for seller in sellers:
        steps = [(0, THOUSAND), *seller.breaks.get(breaks, ())]
        for tier, (_, less) in enumerate(steps):
            price = seller.price(what, list_cents, less)
            if price is not None:
                found.append((seller.id, tier, price))
    return found or [("", 0, list_cents)]


def cheapest_packs(batch: Batch) -> dict[str, Cents]:
    """What a pack of each consumable costs where it is cheapest."""
    found = {}
    for pack in batch.packs:
        offers = prices_at(batch.sellers_of(pack), CONSUMABLES, pack.list_cents, pack.consumable)
        found[pack.consumable] = min(cents for *_, cents in offers)
    return found


def stock_worth(batch: Batch, part: BoughtPart, pieces: int) -> Cents:
    """What pieces from the stock count in the cost: their list price, or what they can be had again for, if less."""
    listed = part.list_cents - part.beyond(pieces)
    offers = prices_at(batch.sellers, part.part_class, listed, part.part_class)
    return min(listed, *(cents for *_, cents in offers))


def buy_parts(
    built: JointModel, batch: Batch, wanted: Sequence[Linear], stock_first: bool = True
) -> dict[str, Linear]:
    """Each part that is wanted comes from one seller, the stock, both, or off another job.

    ``wanted`` goes with the parts. With ``stock_first`` a piece is bought when none is left in stock. Returns how
    many pieces come from each shelf.
    """
    model = built.model
    served: dict[tuple[str, str], list[Deal]] = {}
    taken: dict[str, Linear] = {}
    beyond: dict[str, Linear] = {}
    for move in batch.moved:
        deal = Deal(
            model.column("m"),
            "moved",
            move.id,
            "",
            Cents(0),
            move.to_job,
            move.upgrade,
            off_job=move.from_job,
        )
        built.deals.append(deal)
        served.setdefault((move.to_job, move.upgrade), []).append(deal)
    for part, need in zip(batch.parts, wanted, strict=True):
        deals = Linear({deal.column: 1 for deal in served.pop((part.job, part.upgrade), ())})
        for pieces in range(batch.in_stock(part) + 1) if part.on_sale else ():
            for deal in _deals(model, batch, part, pieces):
                deals.add(Linear({deal.column: 1}))
                built.deals.append(deal)
                if batch.in_stock(part):
                    left = part.thousandths // THOUSAND - pieces
                    taken.setdefault(part.shelf, Linear()).add(Linear({deal.column: 1}), pieces)
                    beyond.setdefault(part.shelf, Linear()).add(Linear({deal.column: 1}), left)
        model.add(deals.add(need, -1), 0, 0, STRUCTURE)
    for shelf, total in taken.items():
        there, more = batch.pieces[shelf], beyond[shelf]
        model.add(total, None, there, STRUCTURE)
        if not stock_first:
            continue
        used_up = Linear({model.column("u"): 1})
        model.add(total.copy().add(used_up, -there), 0, None, STRUCTURE)
        model.add(used_up.times(model.bounds(more)[1]).add(more, -1), 0, None, STRUCTURE)
    for idle in served.values():  # nothing is bought for that upgrade, so nothing can stand in for it
        for deal in idle:
            model.upper[deal.column] = 0
    return taken


def _deals(model: Model, batch: Batch, part: BoughtPart, pieces: int) -> list[Deal]:
    """Ways to come by a part with so many pieces of it from the stock."""
    left = part.thousandths - THOUSAND * pieces
    if pieces and not left:
        column = model.column("s")
        return [
            Deal(
                column, "stock", part.part, "", Cents(0), part.job, part.upgrade, thousandths=0, pieces=pieces
            )
        ]
    return [
        Deal(
            model.column("a"),
            "part",
            part.part,
            seller,
            cents,
            part.job,
            part.upgrade,
            part.part_class,
            tier,
            left,
            pieces,
        )
        for seller, tier, cents in prices_at(
            batch.sellers, part.part_class, part.beyond(pieces), part.part_class
        )
    ]


def move_parts(built: JointModel, batch: Batch, off: Sequence[Linear]) -> None:
    """A part goes to one place only, and only when it comes off; ``off`` goes with the moved parts."""
    columns = [deal.column for deal in built.deals if deal.kind == "moved"]
    places: dict[str, Linear] = {}
    for move, column, literal in zip(batch.moved, columns, off, strict=True):
        built.model.add(literal.add(Linear({column: 1}), -1), 0, None, STRUCTURE)
        places.setdefault(move.id, Linear()).add(Linear({column: 1}))
    for place in places.values():
        built.model.add(place, None, 1, STRUCTURE)


def buy_packs(built: JointModel, batch: Batch, uses: Sequence[tuple[PackUse, Linear]]) -> None:
    """Whole packs for all that is used beyond the stock."""
    model = built.model
    for pack in batch.packs:
        needed = Linear(constant=-pack.stock)
        for use, literal in uses:
            if use.consumable == pack.consumable:
                needed.add(literal, use.millionths)
        offers = prices_at(batch.sellers_of(pack), CONSUMABLES, pack.list_cents, pack.consumable)
        limit = max(0, -(-model.bounds(needed)[1] // pack.holds))
        if batch.wastes(pack):
            limit = _with_spare(limit, batch, pack, min(cents for _, _, cents in offers))
        bought = Linear()
        for seller, tier, cents in offers:
            column = model.column("n", 0, limit)
            bought.add(Linear({column: pack.holds}))
            built.deals.append(
                Deal(column, "pack", pack.consumable, seller, cents, breaks=pack.consumable, tier=tier)
            )
        model.add(bought.copy().add(needed, -1), 0, None, STRUCTURE)
        if batch.wastes(pack):
            continue
        # what is left over goes on the shelf at its worth, so no more packs than the work needs
        if pack.stock < pack.holds:
            model.add(bought.add(needed, -1), None, pack.holds - 1, STRUCTURE)
        else:  # the shelf alone may hold more than a pack
            any_bought = Linear({model.column("any"): 1})
            model.add(bought.copy().add(any_bought, -limit * pack.holds), None, 0, STRUCTURE)
            shelf = any_bought.times(max(0, pack.stock - pack.holds + 1))
            model.add(bought.add(needed, -1).add(shelf), None, max(pack.holds - 1, pack.stock), STRUCTURE)


def _with_spare(needed: int, batch: Batch, pack: Pack, cents: Cents) -> int:
    """Packs that could ever pay where leftovers count as lost: to the next quantity break, to free freight.

    Packs bought for the sake of freight never cost more than all the freight there is.
    """
    freight = sum((seller.freight for seller in batch.sellers if seller.free_from is not None), Cents(0))
    steps = [step for seller in batch.sellers for step, _ in seller.breaks.get(pack.consumable, ())]
    return max(needed, *steps, 0) + (freight // cents if cents > 0 else 0)


def buy_tools(
    built: JointModel,
    tools: Iterable[tuple[MissingTool, Sequence[tuple[str, Linear]]]],
    customers: Collection[str] = (),
) -> None:
    """A missing tool is bought once, or rented for a job, when any of the work that needs it is done.

    ``customers``: the jobs whose price counts. For them it is bought too where the shop's own work has it bought.
    """
    for tool, wanted in tools:
        mine = [(job, literal) for job, literal in wanted if job in customers]
        theirs = built.model.column("u") if mine else None
        if theirs is not None:
            built.for_customers.add(Linear({theirs: 1}), tool.cents)
        column = built.model.column("t")
        built.deals.append(Deal(column, "tool", tool.tool, "", tool.cents))
        rented: dict[str, int] = {}
        for job, literal in wanted:
            had = Linear({column: 1})
            if tool.rent is not None:
                if job not in rented:
                    rented[job] = built.model.column("h")
                    built.deals.append(Deal(rented[job], "rent", tool.tool, "", tool.rent, job))
                    if job in customers:
                        built.for_customers.add(Linear({rented[job]: 1}), tool.rent)
                had.add(Linear({rented[job]: 1}))
            built.model.add(had.add(literal, -1), 0, None, STRUCTURE)
            if theirs is not None and job in customers:
                held = Linear({theirs: 1})
                if job in rented:
                    held.add(Linear({rented[job]: 1}))
                built.model.add(held.add(literal, -1), 0, None, STRUCTURE)


def price_breaks(built: JointModel, seller: Seller) -> None:
    """All pieces of a kind at the price that their number brings: exactly one step holds.

    Both ends of a step are held, so that nobody pays the dearer price to fill a parcel.
    """
    model = built.model
    for what, steps in seller.breaks.items():
        deals = [deal for deal in built.deals if deal.seller == seller.id and deal.breaks == what]
        if not deals:
            continue
        number = total_of((Linear({deal.column: 1}), deal.thousandths) for deal in deals)
        most = model.bounds(number)[1]
        begins = [0, *(THOUSAND * step for step, _ in steps)]
        ends = [*(begin - 1 for begin in begins[1:]), max(most, begins[-1])]
        held = [Linear({model.column("k"): 1}) for _ in begins]
        model.add(total_of((tier, 1) for tier in held), 1, 1, STRUCTURE)
        model.add(number.copy().add(total_of(zip(held, begins, strict=True)), -1), 0, None, STRUCTURE)
        model.add(total_of(zip(held, ends, strict=True)).add(number, -1), 0, None, STRUCTURE)
        for deal in deals:
            room = held[deal.tier].times(model.upper[deal.column])
            model.add(room.add(Linear({deal.column: 1}), -1), 0, None, STRUCTURE)


def send_parcel(built: JointModel, seller: Seller) -> None:
    """Freight of a seller's parcel: due when anything is bought there, free from a sum on."""
    model = built.model
    deals = [deal for deal in built.deals if deal.seller == seller.id]
    if not deals or not seller.freight:
        return
    bought = [(Linear({deal.column: 1}), model.upper[deal.column], deal.cents) for deal in deals]
    built.freight[seller.id] = parcel_cost(model, bought, seller.freight, seller.free_from)

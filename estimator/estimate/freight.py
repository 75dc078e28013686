"""Where to buy: the supplier of each part and pack that makes the whole order of a job cheapest.

A supplier's freight is due once when anything is bought there and falls away from a sum on, so the
cheapest place for one thing depends on all the others. Every way of using the suppliers (not at all,
with freight, free of freight) is gone through; no more is bought than the work needs.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING, TypeVar

from msgspec import Struct

from estimator.core.amounts import Cents
from estimator.core.money import cents
from estimator.estimate.packs import packs_bought
from estimator.model import Baskets, Good, Packs, ParcelFreight, Shop

if TYPE_CHECKING:
    from estimator.estimate.costing import Costing

CONSUMABLES, ALL = "consumables", "*"
SHUT, PAID, FREE = "shut", "paid", "free"
Share = TypeVar("Share")


class Bought(Struct, frozen=True):
    """One line of an order: what, how many, from whom, and the cents for all of them."""

    good: Good
    number: int
    supplier: str
    cents: Cents


class Order(Struct, frozen=True):
    """Lines in the goods' order and the freight paid by supplier, in cents.

    ``extra``: what the order comes to beyond the goods' own cents; less than nothing where suppliers
    are cheaper than the list.
    """

    lines: tuple[Bought, ...]
    freight: tuple[tuple[str, Cents], ...]

    @property
    def extra(self) -> Cents:
        """Freight, and what the suppliers ask above or below the list."""
        return sum((line.cents - line.number * line.good.cents for line in self.lines), Cents(0)) + sum(
            (paid for _, paid in self.freight), Cents(0)
        )


NOTHING = Order((), ())


def baskets_of(costing: Costing) -> Baskets | None:
    """What a job may buy at the suppliers of the shop; None if there are none, or packs count by share."""
    shop = costing.shop
    if not costing.setting.whole_packs or not shop.planning.suppliers:
        return None
    goods = []
    for atom in costing.atoms:
        upgrade = atom.part_of
        if upgrade and atom.money.cash:
            offers = _offers(shop, _class_of(costing, costing.parts[upgrade].part), atom.money.cash)
            goods.append(Good(upgrade, atom.money.cash, offers, (upgrade,)))
    for packs in costing.packs:
        if not packs.part and shop.consumables[packs.consumable].by_the_piece:
            continue  # at its list price from nowhere in particular, as where none is in stock
        sells = _class_of(costing, packs.part) if packs.part else CONSUMABLES
        offers = _offers(shop, sells, packs.cents)
        name = packs.consumable
        goods.append(Good(name, packs.cents, offers, consumable=name, part=packs.part))
    sold = tuple(good for good in goods if good.offers)
    parcels = tuple(
        ParcelFreight(s.id, cents(s.freight), None if s.free_above is None else cents(s.free_above))
        for s in shop.planning.suppliers.values()
    )
    return Baskets(sold, parcels) if sold else None


def _class_of(costing: Costing, part: str) -> str:
    return (costing.job.parts.get(part) or costing.shop.parts[part]).part_class


def sold_at(sells: Mapping[str, Share], what: str) -> Share | None:
    """What a supplier's list says of a class of part or of consumables: its own entry, else that for all parts."""
    return sells.get(what, None if what == CONSUMABLES else sells.get(ALL))


def _offers(shop: Shop, sells: str, list_cents: Cents) -> tuple[tuple[str, Cents], ...]:
    """What each supplier that has it asks, half up to the cent."""
    offers = []
    for supplier in shop.planning.suppliers:
        factors = {o.sells: o.price_factor for o in shop.planning.offers if o.supplier == supplier}
        factor = sold_at(factors, sells)
        if factor is not None:
            asked = (list_cents * factor).quantize(Decimal(1), ROUND_HALF_UP)
            offers.append((supplier, Cents(int(asked))))
    return tuple(offers)


def wanted_of(baskets: Baskets, packs: Iterable[Packs], chosen: Collection[str]) -> list[tuple[Good, int]]:
    """The goods that a set of upgrades takes, and how many of each."""
    by_name = {item.consumable: item for item in packs}
    wanted = []
    for good in baskets.goods:
        if good.consumable:
            number = packs_bought(by_name[good.consumable], chosen)
        else:
            number = int(any(upgrade in chosen for upgrade in good.triggers))
        if number:
            wanted.append((good, number))
    return wanted


def cheapest_order(baskets: Baskets, wanted: Sequence[tuple[Good, int]]) -> Order:
    """The order of least cost; of equals the one that leaves out suppliers named first."""
    return _cheapest(baskets.parcels, tuple(good for good, number in wanted for _ in range(number)))


@lru_cache(maxsize=4096)
def _cheapest(offered: tuple[ParcelFreight, ...], single: tuple[Good, ...]) -> Order:
    """The same for things one by one; remembered, as sets that differ in other work order alike."""
    sums: dict[str, Cents] = {}
    for good in single:
        for supplier, asked in good.offers:
            sums[supplier] = sums.get(supplier, Cents(0)) + asked
    parcels = [parcel for parcel in offered if parcel.supplier in sums]
    best: tuple[Cents, list[str], tuple[tuple[str, Cents], ...]] | None = None
    # few baskets free of freight first: those ways are soon gone through and bound the others
    ways = sorted(_ways(parcels, sums, len(single)), key=lambda modes: modes.count(FREE))
    for modes in ways:
        used_as = list(zip(parcels, modes, strict=True))
        freight = tuple((p.supplier, p.freight) for p, mode in used_as if mode == PAID and p.freight)
        paid = sum((amount for _, amount in freight), Cents(0))
        shut = {p.supplier for p, mode in used_as if mode == SHUT}
        free = {p.supplier: p.free_from or Cents(0) for p, mode in used_as if mode == FREE}
        choices = [[offer for offer in good.offers if offer[0] not in shut] for good in single]
        if not all(choices):
            continue
        found = _assigned(choices, free, None if best is None else best[0] - paid)
        if found is not None:
            best = (found[0] + paid, found[1], freight)
    if best is None:
        return NOTHING
    return Order(_lines(single, best[1]), best[2])


def _ways(parcels: Sequence[ParcelFreight], sums: Mapping[str, Cents], things: int) -> list[tuple[str, ...]]:
    """How each supplier may be used: no more parcels than things, and none free that cannot be filled."""
    ways: list[tuple[str, ...]] = [()]
    bearing = [parcel.freight > 0 for parcel in parcels]
    for parcel in parcels:
        modes = [SHUT, PAID] if parcel.freight else [PAID]
        if parcel.freight and parcel.free_from is not None and sums[parcel.supplier] >= parcel.free_from:
            modes.append(FREE)
        ways = [(*way, mode) for way in ways for mode in modes]
        ways = [
            way
            for way in ways
            if sum(bears and mode != SHUT for bears, mode in zip(bearing, way, strict=False)) <= things
        ]
    return ways


def _assigned(
    choices: Sequence[Sequence[tuple[str, Cents]]], free: dict[str, Cents], less_than: Cents | None
) -> tuple[Cents, list[str]] | None:
    """The cheapest supplier for each thing with every basket in ``free`` at its sum; None if not cheaper.

    Goes through the things one by one and keeps, for every state of the free baskets (held at their
    sums), the cheapest way there.
    """
    rest = _sums(min(asked for _, asked in offers) for offers in choices)
    most = _sums(
        max((asked for name, asked in offers if name in free), default=Cents(0)) for offers in choices
    )
    if less_than is not None and rest[0] >= less_than:
        return None
    names = list(free)
    start = (Cents(0),) * len(names)
    states: dict[tuple[Cents, ...], tuple[Cents, tuple[str, ...]]] = {start: (Cents(0), ())}
    for number, offers in enumerate(choices):
        reached: dict[tuple[Cents, ...], tuple[Cents, tuple[str, ...]]] = {}
        for state, (spent, way) in states.items():
            for supplier, asked in offers:
                total = spent + asked
                if less_than is not None and total + rest[number + 1] >= less_than:
                    continue
                after = tuple(
                    min(free[name], held + asked) if name == supplier else held
                    for name, held in zip(names, state, strict=True)
                )
                if sum(free.values(), Cents(0)) - sum(after, Cents(0)) > most[number + 1]:
                    continue  # what is left does not fill the baskets
                if after not in reached or total < reached[after][0]:
                    reached[after] = (total, (*way, supplier))
        states = reached
    full = tuple(free.values())
    if full not in states:
        return None
    spent, way = states[full]
    return spent, list(way)


def _sums(values: Iterable[Cents]) -> list[Cents]:
    """What the values from each place on come to."""
    return [*accumulate(reversed(list(values)), initial=Cents(0))][::-1]


def _lines(single: Sequence[Good], suppliers: Sequence[str]) -> tuple[Bought, ...]:
    """Like things from one supplier as one line."""
    number: dict[tuple[Good, str], int] = {}
    for good, supplier in zip(single, suppliers, strict=True):
        number[good, supplier] = number.get((good, supplier), 0) + 1
    return tuple(
        Bought(good, count, supplier, count * dict(good.offers)[supplier])
        for (good, supplier), count in number.items()
    )

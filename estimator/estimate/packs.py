"""What must be paid for in cash beyond the stock: packs of consumables, and parts of which some are there.

Wear is charged by use; cash is what leaves the till. All uses of a set are added up, what the job has
in stock is taken off, and the rest is bought in whole packs. Bought ``whole``, the packs count in the
cost as well, in the place of the share of them that is used.

Pieces of a part in stock are shared in the same way by all upgrades that take it: bought is what they
need in all beyond the stock. In the cost a piece counts whether it comes from the stock or not. Strings
and the like, which are sold with the work, are counted so too where there is a whole one in stock:
bought are whole pieces beyond it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from math import gcd
from typing import TYPE_CHECKING

from estimator.core.amounts import Thousandths
from estimator.core.errors import near_miss, refusal
from estimator.core.money import cents
from estimator.estimate.baseline import thousandths
from estimator.estimate.ways import Triggers, and_way
from estimator.model import Packs, PartLine

if TYPE_CHECKING:
    from estimator.estimate.costing import Costing, Rank

SHARE, WHOLE = "share", "whole"
IN_STOCK = "part:"
"""Stands before the id of a part of which some are in stock, so that no consumable can have its name."""
BUYING = (SHARE, WHOLE)
"""Ways in which packs count in the cost: by the share used, or as bought."""


def counts_whole(buying: str) -> bool:
    """Whether packs count in the cost as bought; InputError for a way of buying that is not known."""
    if buying not in BUYING:
        step = near_miss(buying, BUYING) or "take one of these"
        known = " or ".join(BUYING)
        raise refusal("--buying", "no way of buying of this name", f"“{buying}”", known, step)
    return buying == WHOLE


def packs_bought(packs: Packs, chosen: Collection[str]) -> int:
    """Whole packs that a set of upgrades takes beyond the stock."""
    used = sum(
        quantity for who, quantity in packs.uses if who is None or any(upgrade in chosen for upgrade in who)
    )
    return max(0, -(-(used - packs.stock) // packs.size))


def packs_of(costing: Costing) -> tuple[Packs, ...]:
    """The consumables of a job that are bought by the pack or beyond a stock, by name; then the parts in stock.

    Quantities are in thousandths of the unit, rounded half up once per work line.
    """
    uses: dict[str, list[tuple[tuple[str, ...] | None, int]]] = {}
    for (task, _), ranks in costing.ranks.items():
        for name, who, quantity in _uses(costing, task, ranks):
            uses.setdefault(name, []).append((in_order(who), quantity))
    for way in costing.ways:
        changed: dict[tuple[str, Triggers], int] = {}
        for place, ranks in way.ranks.items():
            for of, sign in ((ranks, 1), (costing.ranks[way.task, place], -1)):
                for name, who, quantity in _uses(costing, way.task, of):
                    for both, count in and_way(who, way.id, way.asked_by):
                        key = name, both
                        changed[key] = changed.get(key, 0) + sign * count * quantity
        for (name, who), quantity in changed.items():
            if quantity:
                uses.setdefault(name, []).append((in_order(who), quantity))
    parts = _parts_in_stock(costing.parts, costing.job.stock)
    return (*(_packs(name, uses[name], costing) for name in sorted(uses)), *parts)


def in_order(triggers: Triggers) -> tuple[str, ...] | None:
    """Triggers in the order of the alphabet."""
    return None if triggers is None else tuple(sorted(triggers))


def _uses(costing: Costing, task: str, ranks: Iterable[Rank]) -> Iterator[tuple[str, Triggers, int]]:
    """What work at a place takes of what is bought by the pack or beyond a stock: what, for whom, how much more."""
    pieces = costing.setting.stocked
    desk = task in costing.desk_tasks  # what it takes of pieces is not charged to the job
    below: dict[str, int] = {}
    for rank in ranks:
        now: dict[str, int] = {}
        for use in rank.line.consumables:
            if costing.shop.consumables[use.id].by_the_pack or (use.id in pieces and not desk):
                now[use.id] = now.get(use.id, 0) + thousandths(use.quantity)
        for name in dict.fromkeys((*now, *below)):
            more = now.get(name, 0) - below.get(name, 0)
            if more:
                yield name, rank.triggers, more
        below = now


def is_shared(line: PartLine, stock: Mapping[str, Decimal]) -> bool:
    """Whether some of a part's pieces may come from the stock, which all upgrades that take it share."""
    return line.owner == "shop" and pieces_there(line.part, stock) > 0


def pieces_there(part: str, stock: Mapping[str, Decimal]) -> int:
    """Whole pieces of a part that are in stock."""
    return int(stock.get(part, Decimal(0)))


def _parts_in_stock(lines: Mapping[str, PartLine], stock: Mapping[str, Decimal]) -> list[Packs]:
    shared: dict[str, list[PartLine]] = {}
    for line in lines.values():
        if is_shared(line, stock):
            shared.setdefault(line.part, []).append(line)
    return [
        Packs(
            f"{IN_STOCK}{part}",
            taken[0].unit_cost,
            1,
            pieces_there(part, stock),
            tuple(((line.upgrade,), int(line.quantity)) for line in taken),
            part=part,
        )
        for part, taken in sorted(shared.items())
    ]


def pieces_from_stock(lines: Sequence[PartLine], stock: Mapping[str, Decimal]) -> dict[str, int]:
    """How many pieces each upgrade of a set takes from the stock: in the order of the set, until it is used up."""
    left: dict[str, int] = {}
    taken = {}
    for line in lines:
        taken[line.upgrade] = 0
        if line.owner == "shop":
            there = left.get(line.part, pieces_there(line.part, stock))
            taken[line.upgrade] = min(there, int(line.quantity))
            left[line.part] = there - taken[line.upgrade]
    return taken


def _packs(name: str, uses: list[tuple[tuple[str, ...] | None, int]], costing: Costing) -> Packs:
    consumable = costing.shop.consumables[name]
    piece = consumable.by_the_piece
    size = Thousandths(1000) if piece else thousandths(consumable.units_per_pack)
    price = consumable.price / consumable.units_per_pack if piece else consumable.price
    stock = thousandths(costing.job.stock.get(name, Decimal(0)))
    shared = gcd(size, stock, *(quantity for _, quantity in uses))
    scaled = tuple((who, quantity // shared) for who, quantity in uses)
    whole = costing.setting.whole_packs and not piece  # the lines charge pieces, whoever has bought them
    return Packs(name, cents(price), size // shared, stock // shared, scaled, whole)

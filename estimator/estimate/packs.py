"""Whole packs that must be paid for in cash: consumables that a shop does not keep on its shelf.

Wear is charged by use; cash is what leaves the till. Where one pack covers every use a job could
make of it, it is bought once; where not, each use is bought in whole packs of its own (never less
than what is needed in all).
"""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal
from typing import TYPE_CHECKING

from estimator.estimate.money import cents
from estimator.model import Atom, Money

if TYPE_CHECKING:
    from estimator.estimate.costing import Costing


def packs_needed(quantity: Decimal, units_per_pack: Decimal) -> int:
    """Whole packs for a quantity."""
    return int((quantity / units_per_pack).to_integral_value(ROUND_CEILING))


def pack_atoms(costing: Costing) -> list[Atom]:
    """Cash atoms for consumables bought in whole packs, after the job's own stock."""
    uses: dict[str, list[tuple[frozenset[str] | None, Decimal, str]]] = {}
    for (task, place), ranks in costing.ranks.items():
        below: dict[str, Decimal] = {}
        for number, rank in enumerate(ranks):
            now = {use.id: use.quantity for use in rank.line.consumables}
            for name, quantity in now.items():
                consumable = costing.shop.consumables[name]
                more = quantity - below.get(name, Decimal(0))
                if consumable.on_shelf or consumable.billed_as == "part" or more <= 0:
                    continue
                uses.setdefault(name, []).append((rank.triggers, more, f"{task}@{place}:{number}"))
            below = now
    atoms = []
    for name in sorted(uses):
        atoms.extend(_packs_of(name, uses[name], costing))
    return atoms


def _packs_of(
    name: str, uses: list[tuple[frozenset[str] | None, Decimal, str]], costing: Costing
) -> list[Atom]:
    consumable = costing.shop.consumables[name]
    stock = costing.job.stock.get(name, Decimal(0))
    most = sum((quantity for _, quantity, _ in uses), Decimal(0))
    pack = cents(consumable.price)
    if packs_needed(max(most - stock, Decimal(0)), consumable.units_per_pack) <= 1:
        if most <= stock:
            return []
        triggers: frozenset[str] | None = frozenset()
        for who, _, _ in uses:
            triggers = None if triggers is None or who is None else triggers | who
        return [Atom(f"pack:{name}", triggers, Money(cash=pack))]
    atoms = []
    for who, quantity, line in uses:
        packs = packs_needed(quantity, consumable.units_per_pack)
        atoms.append(Atom(f"pack:{name}:{line}", who, Money(cash=packs * pack)))
    return atoms

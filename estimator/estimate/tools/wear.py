"""What a work line uses up: consumables by quantity, tools by share of their life."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from estimator.estimate.factors import Instrument, abrasive_factor, tool_wear_factor
from estimator.model import Demand, Shop, Task, Tool, Use
from estimator.tables.counts import kinds_of

ONE = Decimal(1)


def consumables_used(
    task: Task, demand: Demand, shop: Shop, instrument: Instrument, levels: Mapping[str, str], kind: str
) -> tuple[Use, ...]:
    """Consumables of a line: n x quantity x abrasive factor; cost by share of a pack, unrounded."""
    uses = []
    rows = shop.task_consumables.get(task.id, ())
    kinds = kinds_of(kind, instrument, {row[2] for row in rows})
    for consumable_id, quantity, instruments in rows:
        if instruments not in kinds:
            continue
        consumable = shop.consumables[consumable_id]
        factor = abrasive_factor(task, shop, instrument, levels) if consumable.abrasive else ONE
        # a share of a coat is a share of the body: it takes so much less material, not only less time
        share = demand.share if task.driver == "coat" else ONE
        used = demand.quantity * share * quantity * factor
        cost = used * consumable.price / consumable.units_per_pack
        uses.append(Use(consumable.id, consumable.what, used, consumable.unit, cost, factor))
    return tuple(uses)


def tools_worn(
    task: Task, demand: Demand, shop: Shop, instrument: Instrument, levels: Mapping[str, str]
) -> tuple[Use, ...]:
    """Tool wear of a line by units of production: n x uses x wear factor x price / life, unrounded."""
    uses = []
    for tool_id, per_unit in shop.task_tools.get(task.id, ()):
        tool = shop.tools[tool_id]
        factor = tool_wear_factor(tool.wear_by, task, shop, instrument, levels)
        used = demand.quantity * per_unit * factor
        price, life = price_and_life(tool)
        uses.append(Use(tool.id, tool.what, used, tool.unit, used * price / life, factor))
    return tuple(uses)


def price_and_life(tool: Tool) -> tuple[Decimal, Decimal]:
    """The price of a tool in the grade that is charged, and its life in uses."""
    if tool.default_grade == "premium":
        return tool.premium_price, tool.premium_life
    return tool.inexpensive_price, tool.inexpensive_life

"""What an upgrade does to the weight of the instrument: the one place where grams are counted, and the lever.

    change = parts fitted - what comes off - wood cut away x density of the body wood

Parts weigh what was measured, else what is typical of them (``parts.csv``); what comes off what was measured
of the old one, else what is typical of its kind (``removes_g`` of ``upgrades.csv`` over ``intake.csv``). Wood
is work in cm3. Glue, dowels and lacquer are within the error of a bench scale of 5 g and not counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from estimator.model import Demand, Reading, Shop, Task, Upgrade

ZERO = Decimal(0)
BY_VOLUME = "cm3"


def density_of(shop: Shop, word: str) -> Decimal:
    """Shop-dry density of a wood, g/cm3; 0 where the tables know no such wood."""
    wood = shop.woods.get(word)
    return wood.density if wood else ZERO


def wood_density(shop: Shop, instrument: Mapping[str, Reading]) -> Decimal:
    """Shop-dry density of the body wood, g/cm3; 0 where the tables know no such wood."""
    reading = instrument.get("body_wood")
    return density_of(shop, str(reading.value)) if reading is not None else ZERO


def parts_change(upgrade: Upgrade) -> Decimal:
    """Grams of the parts that an upgrade fits, less what it takes off."""
    fitted = (upgrade.part.weight_g or ZERO) * upgrade.part_quantity if upgrade.part else ZERO
    return fitted - upgrade.mass_removed_g


def wood_cut(task: Task, quantity: Decimal, shop: Shop, instrument: Mapping[str, Reading]) -> Decimal:
    """Grams of wood that a task takes off."""
    return quantity * wood_density(shop, instrument) if task.driver == BY_VOLUME else ZERO


def change_of(
    upgrade: Upgrade, demands: Iterable[Demand], shop: Shop, instrument: Mapping[str, Reading]
) -> Decimal:
    """Grams that an upgrade by itself adds with all its work, the work that fitting it forces with it.

    At one place the largest demand on a task is done, as everywhere.
    """
    largest: dict[tuple[str, str], Decimal] = {}
    for demand in demands:
        key = (demand.task, demand.place)
        largest[key] = max(largest.get(key, ZERO), demand.quantity)
    cut = sum(
        (wood_cut(shop.tasks[task], number, shop, instrument) for (task, _), number in largest.items()), ZERO
    )
    return parts_change(upgrade) - cut


def shift_mm(added_g: Decimal, weight_g: Decimal, scale_mm: Decimal) -> Decimal:
    """How far the centre of gravity goes towards the peghead by grams added there, mm.

    shift = added x arm / (weight + added): the lever law (common-practice). The arm from the centre of gravity
    to the middle of the tuners is 0.75 x scale + 80 mm: the centre lies about a quarter of the scale before
    the bridge, the tuners about 80 mm beyond the nut (memory).
    """
    arm = Decimal("0.75") * scale_mm + 80
    return added_g * arm / (weight_g + added_g)

"""How much wider a work line's spread is for the intake values it rests on that nobody measured.

Each intake field states the share it adds to the spread of the tasks it touches (``spread`` of
``intake.csv``, basis memory). A field touches a task when it sets the level of one of the task's
difficulty factors, when the quantity was worked out from it, or when it is listed in ``ALSO``.
"""

from __future__ import annotations

from decimal import Decimal

from estimator.estimate.factors import Instrument
from estimator.model import Demand, Shop, Task
from estimator.model.factor_code import factor_code

ONE = Decimal(1)

#: factor code (or its root) -> the intake fields that set its level
FIELDS_OF: dict[str, tuple[str, ...]] = {
    "FW": ("fret_mat",),
    "BW": ("body_wood",),
    "GP": ("body_wood",),
    "FT": ("fin_type",),
    "FT.touch": ("fin_type", "fin_col"),
    "FB": ("board_mat",),
    "FB.bind": ("board_bound",),
    "BR": ("board_rad",),
    "NJ": ("joint",),
    "NM": ("nut_mat",),
    "NS": ("nut_seat",),
    "BT": ("br_type",),
    "AC": ("access",),
    "CD": ("corrosion",),
    "CR": ("crack_at",),
    "SZ": ("kind",),
}

#: task -> fields that change how long it takes without being a factor or a quantity (memory)
ALSO: dict[str, tuple[str, ...]] = {
    "level-frets": ("fret_uneven", "fret_wear", "hump"),
    "adjust-truss-rod": ("rod_ok", "relief"),
    "free-truss-rod": ("rod_ok",),
    "remove-nut": ("nut_stuck",),
    "strip-finish": ("fin_thk",),
    "adjust-nut-slots": ("nut_clear_b", "nut_clear_t"),
    "set-nut-height": ("nut_clear_b", "nut_clear_t"),
}


def fields_touching(task: Task, demand: Demand) -> tuple[str, ...]:
    """Names of the intake fields that the time of this work rests on, each once, in a fixed order."""
    found: dict[str, None] = {}
    for code in task.factors:
        root = factor_code(code).root
        if code in demand.levels or root in demand.levels:
            continue  # the work itself says the level: a new nut is known whatever the old one was
        for field in FIELDS_OF.get(code, FIELDS_OF.get(root, ())):
            found.setdefault(field)
    for field in (*demand.rests_on, *ALSO.get(task.id, ())):
        found.setdefault(field)
    return tuple(found)


def assumed_spreads(
    task: Task, demand: Demand, shop: Shop, instrument: Instrument
) -> tuple[tuple[str, Decimal], ...]:
    """Fields that this work rests on and that were assumed, with the share each adds to the spread."""
    spreads = []
    for field in fields_touching(task, demand):
        reading, spec = instrument.get(field), shop.intake.get(field)
        if reading is not None and reading.assumed and spec is not None and spec.spread:
            spreads.append((field, spec.spread))
    return tuple(spreads)


def widening_of(spreads: tuple[tuple[str, Decimal], ...]) -> Decimal:
    """The multiple of the spread: 1 plus the shares of all assumed fields; 1 where all is measured."""
    return sum((share for _, share in spreads), ONE)

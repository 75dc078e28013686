"""What work that goes wrong may be expected to cost: odds x consequence, in minutes and material."""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct

from estimator.model import Demand, Task, Terms

#: drivers counted one by one: rework odds are per unit, not per occurrence
PER_UNIT = frozenset({"hole", "chip", "screw", "fastener"})
ZERO, HUNDRED = Decimal(0), Decimal(100)


class Rework(Struct, frozen=True):
    """Expected rework of a work line: minutes, and money for what is spoiled."""

    minutes: Decimal
    material: Decimal


def rework_odds(
    task: Task, demand: Demand, chip_odds: Decimal, skill: int, terms: Terms, more_pct: Decimal = ZERO
) -> Decimal:
    """Odds of rework per occurrence (or per unit), as a fraction, capped (memory).

    ``more_pct``: points on top for what is wrong with the instrument (``fault_odds.csv``).
    """
    beyond = max(0, task.level - skill)
    pct = task.rework_pct * (1 + terms.rework_skill_step * beyond) * chip_odds
    pct = pct * demand.rework_times + demand.extra_rework_pct + more_pct
    return min(max(pct, Decimal(0)), terms.rework_cap_pct) / HUNDRED


def expected_rework(
    task: Task,
    demand: Demand,
    odds: Decimal,
    run_minutes: Decimal,
    consumables_cost: Decimal,
    part_price: Decimal,
    terms: Terms,
) -> Rework:
    """Expected minutes and money of rework on one line (memory).

    Codes: ``q`` share of the run; ``r`` share of the run and of its consumables; ``s`` share of the
    run, a spoiled part and the minutes to make it good; ``d`` a chip to fill; ``x`` share of a serious repair, once per task;
    ``n`` talk and delay, once.
    """
    count = demand.quantity if task.driver in PER_UNIT else Decimal(1)
    share = task.rework_share
    if task.rework_kind in ("q", "r", "s"):
        # odds x share x (run of what goes wrong): the same per line and per unit
        again = odds * share * run_minutes
        if task.rework_kind == "s":
            return Rework(again + odds * count * terms.rework_spoil_min, odds * count * part_price)
        return Rework(again, odds * share * consumables_cost if task.rework_kind == "r" else Decimal(0))
    if task.rework_kind == "d":
        return Rework(odds * count * share * terms.rework_damage_min, Decimal(0))
    if task.rework_kind == "x":
        return Rework(odds * share * terms.rework_serious_min, odds * share * terms.rework_serious_cost)
    return Rework(odds * terms.rework_client_min, Decimal(0))

"""What there is to draw of an upgrade, in mm and cm3, before it becomes a picture or a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from estimator.fit.case import Case, MissingError, cm3, over
from estimator.fit.holes import TOLERANCE, HoleTest, compare_holes
from estimator.fit.judge import case_of
from estimator.fit.rules.bridges import existing_row, needed_row
from estimator.fit.rules.pickups import is_pool, needed_rout, place_of, rout_there, under_guard
from estimator.fit.rules.tremolo import (
    LEAST_WALL,
    SIN_DIVE,
    has_cavity,
    lengthening,
    needed_length,
    needed_width,
    pull_sine,
    volume_across,
    volume_along,
    widening,
)
from estimator.model import Job, Shop, Upgrade

ROW_PARTS = ("trem6", "hardtail", "barrel", "bassbridge")
BLOCK_PARTS = ("trem6", "trem2", "tremlock", "block")
PICKUP_PARTS = ("single", "stack", "hum", "soap", "basspu")


@dataclass(frozen=True, slots=True)
class HolePlan:
    """Rows of holes before and after."""

    title: str
    test: HoleTest


@dataclass(frozen=True, slots=True)
class CavityPlan:
    """The tremolo cavity before and after; ``forward`` of the ``longer`` is cut towards the neck.

    ``wall_now`` and ``wall`` are the wood to the pickup rout before and after. ``room_long`` and
    ``room_wide`` are what the block wants.
    """

    title: str
    long: Decimal
    wide: Decimal
    deep: Decimal
    longer: Decimal
    wider: Decimal
    forward: Decimal
    wall_now: Decimal
    block_w: Decimal
    block_t: Decimal
    room_long: Decimal
    room_wide: Decimal
    volume: Decimal

    @property
    def wall(self) -> Decimal:
        """Wood left to the pickup rout."""
        return self.wall_now - self.forward


@dataclass(frozen=True, slots=True)
class RoutPlan:
    """A pickup rout before and after: (across the strings, along them, depth)."""

    title: str
    there: tuple[Decimal, Decimal, Decimal]
    need: tuple[Decimal, Decimal, Decimal]
    volume: Decimal


Plan = HolePlan | CavityPlan | RoutPlan


def cavity_plan(case: Case) -> CavityPlan:
    """The cavity of a tremolo for the block at hand.

    The share of the pull-up goes forward, unless that would leave less wall than is wanted: then all
    of the cut goes to the rear.
    """
    longer = lengthening(case)
    forward = longer * pull_sine(case) / (SIN_DIVE + pull_sine(case))
    wall = case.number("tcav_wall")
    if wall - forward < LEAST_WALL:
        forward = Decimal(0)
    volume = volume_along(case) + volume_across(case)
    return CavityPlan(
        f"Tremolo cavity: {volume} cm3 to take out",
        case.number("tcav_len"), case.number("tcav_wid"), case.number("tcav_dep"), longer, widening(case),
        forward, wall, case.p("block_w"), case.p("block_t"), needed_length(case), needed_width(case), volume,
    )  # fmt: skip


def rout_plan(case: Case) -> RoutPlan:
    """The rout of a pickup at its place."""
    need, there = needed_rout(case), rout_there(case)
    overlap = min(need[0], there[0]) * min(need[1], there[1]) * min(need[2], there[2])
    volume = cm3(over(need[0] * need[1] * need[2] - overlap) / 1000)
    title = f"{place_of(case).capitalize()} pickup rout: {volume} cm3 to take out"
    return RoutPlan(title, there, need, volume)


def plans_of(shop: Shop, job: Job, upgrade: Upgrade) -> dict[str, Plan]:
    """All that there is to draw of an upgrade, by name (``holes``, ``cavity``, ``rout``).

    Empty where nothing is bored or cut, or where a measurement that the drawing needs is missing.
    """
    case = case_of(shop, job, upgrade)
    found: dict[str, Plan] = {}
    for name, plan in (("holes", _holes), ("cavity", _cavity), ("rout", _rout)):
        try:
            made = plan(case)
        except MissingError:
            continue
        if made:
            found[name] = made
    return found


def _holes(case: Case) -> Plan | None:
    if not (case.is_a(*ROW_PARTS) and case.p_has("screw_n")):
        return None
    test = compare_holes(existing_row(case), needed_row(case), TOLERANCE["bridge"])
    return HolePlan(f"Bridge screws: {case.part.what}" if case.part else "Bridge screws", test)


def _cavity(case: Case) -> Plan | None:
    cuts = case.is_a(*BLOCK_PARTS) and has_cavity(case) and (lengthening(case) or widening(case))
    return cavity_plan(case) if cuts else None


def _rout(case: Case) -> Plan | None:
    if not case.is_a(*PICKUP_PARTS) or (is_pool(case) and under_guard(case)):
        return None
    plan = rout_plan(case)
    return plan if any(want > has for want, has in zip(plan.need, plan.there, strict=True)) else None

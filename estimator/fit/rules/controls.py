"""Coil split, pots, switches: R58-R65. Lengths mm, volumes cm3, pots kohm.

Geometry is common-practice; limits are remembered from the bench (memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import count
from estimator.fit.case import Case, cm3, demand, mm, rule
from estimator.fit.rules.pickups import is_active
from estimator.model import Finding
from estimator.model.pickups import PICKUPS, pickup_slot

SWITCH = "switch"
VOICING = "voicing"
POT_FOR = {"humbucker": Decimal(500), "single": Decimal(250)}
ACTIVE_POTS = (Decimal(25), Decimal(50))
"""Pots behind a battery, kohm, from and to."""
HUM_KINDS = frozenset({"humbucker", "bass-humbucker", "slim"})
BUSHINGS = ((Decimal("6.4"), Decimal(3)), (Decimal("9.5"), Decimal(6)), (Decimal(19), Decimal("15.5")))
NUT_AND_WASHER = Decimal("3.5")
BACK_LEFT = Decimal(4)
MINI_TOGGLE = Decimal("6.4")


@rule("R58")
def r58(case: Case) -> Iterator[Finding]:
    """Coil split: four leads, and a pull pot with ctl_d >= depth + 2 (34 + 2) or a mini toggle in a 6.4 mm
    hole (memory).
    """
    if case.is_a("pull"):
        depth = case.p_maybe("depth")
        need = (Decimal(34) if depth is None else depth) + 2
        room = case.number("ctl_d")
        working = f"{mm(need - 2)} + 2 = {mm(need)} in {mm(room)}"
        if room >= need:
            yield case.fits(f"the pull pot has room ({mm(need)} mm wanted, {mm(room)} mm there)", working)
        else:
            yield case.no(
                f"the pull pot wants {mm(need)} mm of depth, the cavity has {mm(room)} mm: use a mini toggle "
                f"in a {MINI_TOGGLE} mm hole",
                working,
            )
        return
    if not case.p_has("leads"):
        return
    leads, wanted = case.p("leads"), case.wanted.get(VOICING, Decimal(0))
    if leads >= 4:
        yield case.fits("four leads: the coils can be split")
    elif wanted >= 3 and case.is_a("hum", "stack"):
        yield case.warn(
            f"{leads} leads: this pickup cannot be split; take a four-lead one for more sounds",
            tells="pickup-not-split",
        )
    else:
        yield case.fits(f"{leads} leads")


def _kinds(case: Case) -> list[str]:
    """Humbucker or single at each place that has a pickup, counting the new one as fitted."""
    kinds = []
    for place in PICKUPS:
        field = f"pu_{place}"
        if case.is_a("hum", "single", "stack", "soap", "basspu") and place == case.pickup:
            kinds.append("humbucker" if case.is_a("hum") else "single")
        elif case.is_a("pull") and case.place == pickup_slot(place):
            kinds.append("humbucker")
        elif case.has(field) and case.word(field) != "none":
            kinds.append("humbucker" if case.word(field) in HUM_KINDS else "single")
    return kinds


def _active_pots(case: Case) -> Finding:
    low, high = ACTIVE_POTS
    value = case.p_maybe("value_k")
    working = f"{low} to {high} k wanted behind a battery"
    if value is None or (case.to_order("value_k") and not low <= value <= high):
        return case.warn(
            f"an active circuit wants pots of {low} to {high} k: read the value and taper on the old ones and order "
            "the pots so",
            working,
        )
    working += f", {value} k offered"
    if low <= value <= high:
        return case.fits(f"{value} k suits an active circuit", working)
    return case.no(
        f"{value} k pots on an active circuit work like switches: take ones of {low} to {high} k", working
    )


@rule("R59")
def r59(case: Case) -> Iterator[Finding]:
    """Pot value, kohm: humbuckers 500, singles 250, mixed 500 with a resistor or 250 and a darker humbucker.

    Values within 20 % agree (memory). Behind a battery they belong to the active circuit: 25 to 50 (memory).
    """
    if is_active(case):
        if case.is_a("pot", "pull"):
            yield _active_pots(case)
        return
    kinds = sorted(set(_kinds(case)))
    if not kinds:
        return
    mixed = len(kinds) > 1
    wanted = POT_FOR["humbucker"] if "humbucker" in kinds else POT_FOR["single"]
    offered = case.is_a("pot", "pull", "harness")
    value = case.p_maybe("value_k") if offered else case.maybe("pot_value")
    working = f"{' and '.join(kinds)}: {wanted} k wanted"
    if value is None:
        if not offered:
            yield case.warn(f"read the value on the pots: {wanted} k suits these pickups", working)
        return
    working += f", {value} k {'offered' if offered else 'there'}"
    if abs(value - wanted) <= wanted / 5:
        yield case.fits(f"{value} k suits the pickups", working)
    elif mixed:
        yield case.warn(
            f"mixed pickups on {value} k: either 500 k with a resistor for the singles, or a darker "
            "humbucker",
            working,
            tells="mixed-pickups",
        )
    elif offered and case.to_order("value_k"):
        yield case.warn(f"{wanted} k suits these pickups: order the pots in that value", working)
    elif offered:
        yield case.warn(
            f"{value} k pots with these pickups sound off: {wanted} k is usual",
            working,
            tells="pots-off-value",
        )
    else:
        n = case.number("pot_n")
        yield case.work(
            f"change {count(n, 'pot')} from {value} to {wanted} k (the pots come extra)",
            working,
            demands=(demand("fit-pot", "pots", n, "pots of another value"),),
        )


@rule("R60")
def r60(case: Case) -> Iterator[Finding]:
    """Pot hole, mm: p.bush_od > pot_hole_d - 0.1 -> enlarge each; smaller by more than 1: shouldered washer
    (memory).
    """
    bush, hole = case.p("bush_od"), case.number("pot_hole_d")
    working = f"{mm(bush)} > {mm(hole)} - 0.1"
    if bush > hole - Decimal("0.1"):
        n = Decimal(1) if case.is_a("pull") else case.number("pot_n")
        yield case.work(
            f"enlarge {count(n, 'pot hole')} from {mm(hole)} mm for a {mm(bush)} mm bushing",
            working,
            demands=(demand("enlarge-control-hole", "pot-holes", n, "pot bushing larger than its hole"),),
        )
    elif hole - bush > 1:
        yield case.warn(
            f"use shouldered washers: the holes are {mm(hole - bush)} mm larger than the bushings", working
        )
    else:
        yield case.fits(
            f"a {mm(bush)} mm bushing passes the {mm(hole)} mm hole", f"{mm(bush)} <= {mm(hole)} - 0.1"
        )


@rule("R61")
def r61(case: Case) -> Iterator[Finding]:
    """Pot bushing length, mm: p.bush_len >= ctl_panel_thk + 3.5, else the next length, else rout the panel
    from below.

    6.4 for panels to 3, 9.5 to 6, 19 to 15.5; rout V = 7 x excess / 10 cm3 (memory).
    """
    length, panel = case.p("bush_len"), case.number("ctl_panel_thk")
    need = panel + NUT_AND_WASHER
    working = f"{mm(panel)} + 3.5 = {mm(need)}; bushing {mm(length)}"
    if length >= need:
        yield case.fits("the bushing reaches through the panel", working)
        return
    longer = next((size for size, _ in BUSHINGS if size >= need), None)
    if longer is not None:
        yield case.no_or_order(
            "bush_len",
            f"the bushing ({mm(length)} mm) is too short for the {mm(panel)} mm panel: take one of "
            f"{mm(longer)} mm",
            working,
        )
        return
    excess = need - length
    volume = cm3(7 * excess / 10)
    yield case.work(
        f"rout the panel {mm(excess)} mm thinner from below at the pots ({volume} cm3)",
        f"{working}; V = 7 x {mm(excess)}/10 = {volume}",
        demands=(demand("route-cavity", "control-panel", volume, "panel too thick for any pot bushing"),),
    )


@rule("R62")
def r62(case: Case) -> Iterator[Finding]:
    """Shaft and knob must be of a kind; a fine-spline knob pried on a coarse shaft cracks it (common-
    practice).
    """
    if not case.p_has("shaft"):
        return
    shaft, there = case.p_word("shaft"), case.word("pot_shaft")
    if shaft == there:
        yield case.fits(f"{shaft} shafts and knobs agree")
    elif case.is_a("knobs"):
        yield case.no_or_order(
            "shaft", f"these knobs are for {shaft} shafts, the pots have {there}: they crack when pried on"
        )
    else:
        yield case.warn(
            f"{shaft} shafts want other knobs than the {there} ones there: add knobs or take a matching pot"
        )


def _deeper(case: Case, difference: Decimal, working: str) -> Finding:
    left = case.number("body_thk") - case.number("ctl_d") - difference
    if left < BACK_LEFT:
        return case.no(
            f"deepening for the switch leaves {mm(left)} mm at the back (wants 4): take a shallow switch",
            working,
        )
    volume = cm3(60 * 22 * difference / 1000)
    return case.work(
        f"deepen the control cavity by {mm(difference)} mm at the switch ({volume} cm3), {mm(left)} mm of "
        "back stay; or take a shallow one",
        f"{working}; V = 60 x 22 x {mm(difference)}/1000 = {volume}",
        demands=(demand("route-cavity", "switch", volume, "the switch is deeper than the cavity"),),
    )


@rule("R63")
def r63(case: Case) -> Iterator[Finding]:
    """Switch or pot depth, mm: p.depth + 3 <= ctl_d, else deepen V = 60 x 22 x difference / 1000, keep 4 mm
    of back (memory).
    """
    if not case.p_has("depth"):
        return
    need, room = case.p("depth") + 3, case.number("ctl_d")
    working = f"{mm(case.p('depth'))} + 3 = {mm(need)} in {mm(room)}"
    if need > room:
        yield _deeper(case, need - room, working)
    else:
        yield case.fits(f"deep enough ({mm(need)} mm wanted, {mm(room)} mm there)", working)


@rule("R64")
def r64(case: Case) -> Iterator[Finding]:
    """Blade switch screws, mm: |p.screw_c - sw_slot_c| > 0.4 -> two new holes and the slot filed longer
    (memory).
    """
    if not case.p_has("screw_c") or not case.p("screw_c") or not case.word("sw_type").startswith("blade"):
        return
    off = abs(case.p("screw_c") - case.number("sw_slot_c"))
    working = f"|{mm(case.p('screw_c'))} - {mm(case.number('sw_slot_c'))}| = {mm(off)}; up to 0.4"
    if off > Decimal("0.4"):
        yield case.work(
            f"drill 2 switch screw holes and file the slot: centres are {mm(off)} mm off",
            working,
            demands=(
                demand("drill-hole", SWITCH, 2, "switch screws at other centres"),
                demand("open-guard-slot", SWITCH, 1, "slot longer for the switch"),
            ),
        )
    else:
        yield case.fits("the switch screws meet their holes", working)


@rule("R65")
def r65(case: Case) -> Iterator[Finding]:
    """Toggle switch: bushing of 12 mm larger than the hole there -> enlarge-control-hole x 1 (common-
    practice).
    """
    if not case.is_a("toggle"):
        return
    bush = case.p("bush") if case.p_has("bush") else Decimal(12)
    if case.word("sw_type").startswith("toggle"):
        hole = case.number("sw_hole_d")
        working = f"bushing {mm(bush)}, hole {mm(hole)}"
        if bush <= hole:
            yield case.fits("the toggle goes into its hole", working)
        else:
            yield case.work(
                f"enlarge the switch hole from {mm(hole)} to {mm(bush)} mm",
                working,
                demands=(demand("enlarge-control-hole", SWITCH, 1, "toggle larger than its hole"),),
            )
        return
    yield case.work(
        f"open a hole to {mm(bush)} mm for the toggle: a {case.word('sw_type')} was there",
        f"bushing {mm(bush)}",
        demands=(demand("enlarge-control-hole", SWITCH, 1, "no toggle hole"),),
    )

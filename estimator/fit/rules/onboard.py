"""Jacks, preamp room, batteries: R66-R68. mm, cm3. Geometry common-practice, limits memory."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import count
from estimator.fit.case import USUAL, Case, cm3, demand, mm, rule
from estimator.fit.rules.pickups import WORTH_ROUTING, is_active, volume_out
from estimator.model import Demand, Finding

BOX_ROOM = Decimal(8)
BACK_LEFT = Decimal(4)
BATTERY_CM3, BATTERY_FREE = Decimal(64), Decimal(110)


def control_size(case: Case) -> tuple[Decimal, Decimal, Decimal]:
    """Length, width, depth of the control cavity."""
    return case.number("ctl_l"), case.number("ctl_w"), case.number("ctl_d")


def preamp_size(case: Case) -> tuple[Decimal, Decimal, Decimal]:
    """The box of the preamp board with 8 mm to spare each way."""
    return case.p("board_l") + BOX_ROOM, case.p("board_w") + BOX_ROOM, case.p("depth") + BOX_ROOM


@rule("R66")
def r66(case: Case) -> Iterator[Finding]:
    """Jack, mm: barrel jack wants a hole of its barrel (12-14) and 40 deep; plate a body hole of 20-24
    (memory).

    Plate or cup of another pattern: its old screws are plugged. Behind a battery the jack is its switch.
    """
    hole = case.number("jack_hole_d")
    if case.is_a("jackplate"):
        demands = []
        words = []
        least = min(case.p("hole_d"), Decimal(20)) if case.p_has("hole_d") else Decimal(20)
        if hole < least:
            demands.append(demand("enlarge-control-hole", "jack", 1, "body hole too small for the jack"))
            words.append(f"enlarge the jack hole from {mm(hole)} to {least} mm")
        screws = case.number("jack_screw_n")
        if screws and not (case.p_has("matching") and case.p_yes("matching")):
            demands.append(demand("plug-small-hole", "jack", screws, "screws of the old jack plate"))
            words.append(f"plug {count(screws, 'old screw hole')}")
        working = f"hole {mm(hole)}; wants {mm(least)} to 24"
        if demands:
            yield case.work(f"{', '.join(words)} for the jack plate", working, demands=tuple(demands))
        else:
            yield case.fits("the jack plate sits where the old one sat", working)
        return
    if is_active(case):
        yield case.warn(
            "take a jack with a third contact: it switches the battery on with the plug, and a plain one leaves it "
            "on for good or off"
        )
    barrel = case.p("hole_d") if case.p_has("barrel") and case.p_yes("barrel") else Decimal(0)
    if not barrel:
        yield case.fits("a plain jack goes where the old one was")
        return
    working = f"barrel {mm(barrel)} in {mm(hole)}"
    if hole < barrel:
        yield case.work(
            f"drill the jack hole out to {mm(barrel)} mm, 40 mm deep",
            working,
            demands=(demand("drill-hole", "jack", 1, "hole for a barrel jack"),),
        )
    elif hole > barrel + 2:
        yield case.no(
            f"a barrel jack of {mm(barrel)} mm has nothing to hold in a {mm(hole)} mm hole: keep a plate "
            "or cup",
            working,
        )
    else:
        yield case.fits("the barrel jack goes into the hole; look that it is 40 mm deep", working)


@rule("R67")
def r67(case: Case) -> Iterator[Finding]:
    """Preamp room: board box + 8 mm each way in the control cavity, else route the difference (memory)."""
    if not case.is_a("preamp"):
        return
    need, there = preamp_size(case), control_size(case)
    volume = volume_out(need, there)
    shown = " x ".join(mm(side) for side in need)
    working = f"needs {shown}, cavity {' x '.join(mm(side) for side in there)}; V = {volume} cm3"
    if volume <= WORTH_ROUTING:
        yield case.fits("the preamp goes into the control cavity", working)
    elif case.number("body_thk") - max(need[2], there[2]) < BACK_LEFT:
        yield case.no(
            f"the preamp wants {mm(need[2])} mm of depth in a {mm(case.number('body_thk'))} mm body: take "
            f"one that wants at most {mm(case.number('body_thk') - BACK_LEFT)} mm",
            working,
        )
    else:
        yield case.work(
            f"route {volume} cm3 in the control cavity for the preamp ({shown} mm wanted), or take a "
            "smaller one",
            working,
            demands=(demand("route-cavity", "control-cavity", volume, "room for the preamp"),),
        )


@rule("R68")
def r68(case: Case) -> Iterator[Finding]:
    """Battery: switching jack, and a clip where over 110 cm3 are free, else a box in 76 x 30 x 28 / 1000 = 64
    cm3 (memory).
    """
    if not (case.is_a("preamp", "battbox") or (case.p_has("active") and case.p_yes("active"))):
        return
    if is_active(case) and not case.is_a("battbox"):
        yield case.fits("there is a battery already; see that the jack switches it")
        return
    sides = control_size(case)
    free = sides[0] * sides[1] * sides[2]
    if case.is_a("preamp"):
        free -= case.p("board_l") * case.p("board_w") * case.p("depth")
    free = cm3(free / 1000)
    jack = demand("fit-jack", USUAL, 1, "switching jack for the battery")
    working = f"free {free} cm3, clip above {BATTERY_FREE}"
    if case.is_a("battbox"):
        yield case.work(
            f"route {BATTERY_CM3} cm3 for the battery box", "76 x 30 x 28/1000 = 64", demands=(_box(),)
        )
    elif free > BATTERY_FREE:
        yield case.work(
            "a battery clip goes into the control cavity; fit a switching jack", working, demands=(jack,)
        )
    else:
        yield case.work(
            f"route {BATTERY_CM3} cm3 for a battery box (the box comes extra), fit a switching jack",
            working,
            demands=(_box(), jack),
        )


def _box() -> Demand:
    return demand("route-cavity", "battery", BATTERY_CM3, "battery box")

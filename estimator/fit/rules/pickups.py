"""Pickups and their routs, shielding: R53-R57, R69. Lengths mm, volumes cm3, areas cm2.

Geometry is common-practice; gaps and limits are remembered from the bench (memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.fit.case import Case, cm3, demand, mm, over, rule
from estimator.model import Finding
from estimator.model.pickups import PICKUPS, pickup_at, pickup_slot

GAP_EXPOSED, GAP_COVERED = Decimal("0.75"), Decimal("1.5")
MOST_OPEN = Decimal(5)
UNDER = Decimal(2)
UNDER_LEG = Decimal(1)
#: plan of the two mounting legs of a humbucker, cm3 per full depth (memory)
LEGS_CM3 = Decimal("3.0")
LEG_FOOTPRINT = Decimal("1.2")
BACK_LEFT = Decimal(6)
WORTH_ROUTING = Decimal("0.5")
SINGLE_KINDS = frozenset({"single", "soapbar", "bass-single"})
QUIET_PARTS = ("hum", "stack")


def is_active(case: Case) -> bool:
    """Whether the wiring has a battery."""
    return case.has("battery") and case.word("battery") not in ("none", "no")


def rout_place(case: Case) -> str:
    """The place id of the rout."""
    return pickup_slot(case.pickup)


def under_guard(case: Case) -> bool:
    """Whether the pickup hangs in a guard (or ring), so that its rout is hidden."""
    if case.has("access"):
        return case.word("access") == "guard-mounted"
    return case.has("guard_hole_n") and case.number("guard_hole_n") > 0


def is_pool(case: Case) -> bool:
    """Whether the body has one big cavity under the guard."""
    return case.has("rout_kind") and case.word("rout_kind") == "pool"


def needed_rout(case: Case) -> tuple[Decimal, Decimal, Decimal]:
    """Length, width, depth of the rout: size + 2 x gap, depth + 2."""
    gap = GAP_COVERED if under_guard(case) or case.is_a("hum") else GAP_EXPOSED
    return case.p("size_l") + 2 * gap, case.p("size_w") + 2 * gap, case.p("depth") + UNDER


def rout_there(case: Case) -> tuple[Decimal, Decimal, Decimal]:
    """Length, width, depth of the rout at the place; nothing where there is no pickup."""
    layout = case.at_place("pu")
    if case.has(layout) and case.word(layout) == "none" and not is_pool(case):
        return Decimal(0), Decimal(0), Decimal(0)
    return tuple(case.number(case.at_place(f"rout_{side}")) for side in "lwd")  # type: ignore[return-value]


def volume_out(need: tuple[Decimal, Decimal, Decimal], there: tuple[Decimal, Decimal, Decimal]) -> Decimal:
    """V = (L x W x D - overlap with the rout that is there) / 1000, both centred on the same place."""
    wanted = need[0] * need[1] * need[2]
    overlap = min(need[0], there[0]) * min(need[1], there[1]) * min(need[2], there[2])
    return cm3(over(wanted - overlap) / 1000)


def _box(size: tuple[Decimal, Decimal, Decimal]) -> str:
    return " x ".join(mm(side) for side in size)


@rule("R53")
def r53(case: Case) -> Iterator[Finding]:
    """Pickup rout: need (L, W, D) = size + 2 x gap, depth + 2; V = (L W D - overlap) / 1000; over 0.5 cm3
    route.

    Gap 0.75 mm exposed, 1.5 under a guard or ring (memory). Deepening is part of this volume. A pickup that hangs
    in no guard and on no ring closes its rout: 5 mm that stay open show (memory).
    """
    if is_pool(case) and under_guard(case):
        yield case.fits("one big cavity under the guard: nothing to route")
        return
    need, there = needed_rout(case), rout_there(case)
    volume = volume_out(need, there)
    working = f"needs {_box(need)}, rout {_box(there)}; V = {volume} cm3"
    side, open_mm = max(
        (("size_l", there[0] - need[0]), ("size_w", there[1] - need[1])), key=lambda one: one[1]
    )
    if open_mm > MOST_OPEN and not under_guard(case) and not case.is_a("hum"):
        yield case.no_or_order(
            side,
            f"the {case.pickup} rout would stay open beside it by {mm(open_mm)} mm, with nothing to hide it: take "
            "a pickup that fills it",
            working,
        )
    elif volume > WORTH_ROUTING:
        yield case.work(
            f"route {volume} cm3 at the {case.pickup} pickup (needs {_box(need)} mm, has {_box(there)})",
            working,
            demands=(demand("route-cavity", rout_place(case), volume, "the pickup wants a larger rout"),),
        )
    else:
        yield case.fits(f"the {case.pickup} rout is large enough", working)


@rule("R54")
def r54(case: Case) -> Iterator[Finding]:
    """Humbucker in a single-coil place: legs 2 x 1.5 cm3, and the guard opened (or a new guard) (memory).

    Under a pool no routing; the wood outside the slot, about 72 x 19 x 19 = 26 cm3, comes with the rout.
    """
    layout = case.at_place("pu")
    if not case.is_a("hum", "soap") or not case.has(layout) or case.word(layout) not in ("single", "slim"):
        return
    demands = []
    words = []
    if case.is_a("hum") and not (is_pool(case) and under_guard(case)):
        demands.append(demand("route-cavity", f"{rout_place(case)}-legs", LEGS_CM3, "legs of a humbucker"))
        words.append(f"route {LEGS_CM3} cm3 for its two legs")
    if under_guard(case):
        demands.append(demand("open-guard-slot", f"guard-{case.pickup}", 1, "wider opening in the guard"))
        words.append("open the guard for it (or buy a guard cut for it)")
    if demands:
        working = "legs 2 x 1.5 = 3.0 cm3" if case.is_a("hum") else ""
        yield case.work(", ".join(words), working, demands=tuple(demands))


@rule("R55")
def r55(case: Case) -> Iterator[Finding]:
    """Pool rout: no routing for any guard-mounted pickup; shielding area about 750 cm2 (memory)."""
    if not is_pool(case):
        return
    if under_guard(case):
        yield case.fits(
            "one big cavity: no routing for any pickup that hangs in the guard (shielding about 750 cm2)"
        )
    else:
        yield case.warn("one big cavity but no guard: the pickup needs something to hang from")


@rule("R56")
def r56(case: Case) -> Iterator[Finding]:
    """Depth, mm: p.depth + 2 <= rout_d, p.leg + 1 <= leg_d; deepen by footprint x difference, keep 6 mm of
    back (memory).
    """
    there = rout_there(case)
    if not there[2] or (is_pool(case) and under_guard(case)):
        return  # in a pool under a guard the pickup hangs free, see R55
    need = needed_rout(case)
    deeper = over(need[2] - there[2])
    legs = Decimal(0)
    if case.p_has("leg") and case.p("leg") > 0 and case.has(case.at_place("leg_d")):
        legs = over(case.p("leg") + UNDER_LEG - case.number(case.at_place("leg_d")))
    working = f"{mm(case.p('depth'))} + 2 = {mm(need[2])} in {mm(there[2])}"
    if legs or case.p_has("leg"):
        working += f"; legs {mm(legs)} mm short"
    if not deeper and not legs:
        yield case.fits("the rout is deep enough", working)
        return
    deepest = max(need[2] if deeper else there[2], case.p("leg") + UNDER_LEG if legs else Decimal(0))
    left = case.number("body_thk") - deepest
    if left < BACK_LEFT:
        yield case.no(
            f"deepening would leave {mm(left)} mm of wood at the back (wants 6): take a pickup "
            f"{mm(BACK_LEFT - left)} mm shallower or more",
            working,
        )
        return
    demands = []
    words = []
    floor = cm3(min(need[0], there[0]) * min(need[1], there[1]) * deeper / 1000)
    if floor:
        demands.append(demand("route-cavity", rout_place(case), floor, "the pickup is deeper than the rout"))
        words.append(f"deepen the {case.pickup} rout by {mm(deeper)} mm ({floor} cm3)")
    if legs:
        volume = cm3(max(LEG_FOOTPRINT * legs / 10, Decimal("0.1")))
        demands.append(
            demand("route-cavity", f"{rout_place(case)}-legs", volume, "legs longer than their slots")
        )
        words.append(f"deepen its leg slots by {mm(legs)} mm ({volume} cm3)")
    if demands:
        yield case.work(
            f"{', '.join(words)}; {mm(left)} mm of wood stay at the back", working, demands=tuple(demands)
        )
    else:
        yield case.fits("the rout is deep enough within a tenth of a cm3", working)


@rule("R57")
def r57(case: Case) -> Iterator[Finding]:
    """Dead or odd coil, kohm: open or below 0.5 -> replace; one of a matched pair loses 30 % of the match
    (memory).
    """
    places = (case.pickup,) if pickup_at(case.place) else PICKUPS
    for place in places:
        if case.has(f"pu_{place}") and case.word(f"pu_{place}") == "none":
            continue
        reading = case.number(f"dc_ohm_{place}")
        if reading < Decimal("0.5"):
            yield case.warn(
                f"the {place} pickup reads {mm(reading)} kohm: dead, replace it and check the polarity "
                "against its neighbours",
                f"{mm(reading)} < 0.5",
            )
        elif case.used[f"dc_ohm_{place}"].assumed:
            yield case.warn(f"nobody has metered the {place} pickup: tap it or measure it")
        else:
            yield case.fits(
                f"the {place} pickup works ({mm(reading)} kohm); keep it with the instrument",
                f"{mm(reading)} >= 0.5",
            )


@rule("R69")
def r69(case: Case) -> Iterator[Finding]:
    """Shield or not: hum grade <= 2 with single coils, or a noise level of 3 wanted (memory).

    Paint is the cheap way; foil for level 3, where no single coil is left; the guard takes ``foil_cm2`` at the flat-guard factor.
    """
    if case.part is None and case.word_or("access", "") == "hollow":
        yield case.no("a hollow body has no cavities to shield: there the leads themselves are screened")
        return
    singles = [
        place
        for place in PICKUPS
        if case.has(f"pu_{place}")
        and case.word(f"pu_{place}") in SINGLE_KINDS
        and not (case.is_a(*QUIET_PARTS) and place == case.pickup)
    ]
    wanted = case.wanted.get("hum", Decimal(0))
    grade = case.number("hum_grade")
    working = (
        f"hum grade {grade} (up to 2), single coils at {', '.join(singles) or 'no place'}, wanted {wanted}"
    )
    if (grade <= 2 and singles) or wanted >= 3:
        area = case.number("shield_cm2")
        guard = case.number("foil_cm2") if under_guard(case) and case.has("foil_cm2") else Decimal(0)
        more = f" and {mm(guard, '1')} cm2 of foil on the guard" if guard else ""
        tell = case.fits if case.part is None else case.warn
        still = "; single coils go on taking up the hum of mains transformers, which no lining keeps out"
        yield tell(
            f"shielding pays here: {mm(area, '1')} cm2 of cavity in paint or foil{more}{still if singles else ''}",
            working,
        )
        if area < case.number("cav_skin_cm2"):
            yield case.warn(
                f"{mm(area, '1')} of {mm(case.number('cav_skin_cm2'), '1')} cm2 of cavity are to be shielded: what a "
                "part does against hum is heard only when it is done; join it to the ground of the rest"
            )
    elif case.part is None:
        yield case.warn("shielding gains little here", working)
    else:
        yield case.fits("no shielding called for", working)

"""Neck joint: R74-R79, R89. Lengths mm. Geometry common-practice, limits memory unless said."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import count
from estimator.fit.case import USUAL, Case, demand, mm, neck_wood, rule
from estimator.model import Finding

BOARD, FLANGE = Decimal(5), Decimal("1.0")
USUAL_SEAT = Decimal("3.0")
CORNER_CUT = Decimal(3)
LEAST_WOOD = Decimal(14)
LEAST_REACH = Decimal(13)
PLATE_WIDTH = Decimal(38)
INSERT_EDGE = Decimal(5)
DEEP_HEEL = Decimal(24)


def seat_depth(case: Case) -> Decimal:
    """How deep a ferrule sits, mm: the part's, else 3.0 (middle of 2.5-3.5)."""
    seat = case.p_maybe("seat") if case.is_a("ferrule4") else None
    return USUAL_SEAT if seat is None else seat


def is_bolted(case: Case) -> bool:
    """Whether the neck is held by screws."""
    return case.word("joint") == "bolt"


@rule("R74")
def r74(case: Case) -> Iterator[Finding]:
    """Plate to ferrules: bolt joint, one bore per screw (about 16 mm), seat 2.5-3.5 mm deep (memory).

    The clamped height falls by plate_thk + seat; the heel corner may then come down 2-3 mm.
    """
    if not is_bolted(case):
        yield case.no(f"a {case.word('joint')} neck has no joint screws")
        return
    if not case.is_a("ferrule4"):
        yield case.fits("a plate on a bolted neck")
        return
    n, seat = case.number("joint_screw_n"), seat_depth(case)
    plate = case.number("plate_thk")
    od = case.p("od") if case.p_has("od") else Decimal(16)
    yield case.work(
        f"bore {n} ferrule seats of {mm(od)} mm, {mm(seat)} mm deep; the joint gets {mm(plate + seat)} mm "
        "thinner under the screws, "
        "so the heel corner can come down 2-3 mm if wanted",
        f"{mm(plate)} + {mm(seat)} = {mm(plate + seat)}",
        demands=(demand("drill-neck-ferrules", USUAL, n, "ferrules in place of the plate"),),
    )


@rule("R75")
def r75(case: Case) -> Iterator[Finding]:
    """Wood left in the heel, mm: heel_wood - seat - cut at the corner >= 14 (memory).

    Ferrules alone cut nothing at the corner; shaping the heel takes 3. The best heel comfort is reached
    only on bolted necks with 24 mm of heel wood (memory).
    """
    contour = case.part is None
    wood = case.number("heel_wood")
    seat = Decimal(0) if case.is_a("neckplate") else seat_depth(case)
    cut = CORNER_CUT if contour else Decimal(0)
    left = wood - seat - cut
    working = f"{mm(wood)} - {mm(seat)} - {mm(cut)} = {mm(left)}; wants 14"
    if left >= LEAST_WOOD:
        deep = is_bolted(case) and wood >= DEEP_HEEL
        cap = (("heel-comfort", "cap", Decimal(3)),) if contour and not deep else ()
        yield case.fits(f"{mm(left)} mm of wood stay in the heel", working, effects=cap)
    elif contour:
        yield case.no(
            f"shaping the heel would leave {mm(left)} mm of wood there (wants 14 mm, so a heel of at "
            f"least {mm(LEAST_WOOD + seat + cut)} mm): leave the corner",
            working,
        )
    else:
        yield case.no(
            f"the seats would leave {mm(left)} mm of wood in the heel (wants 14 mm, so a heel of at least "
            f"{mm(LEAST_WOOD + seat + cut)} mm): keep the plate",
            working,
        )


@rule("R76")
def r76(case: Case) -> Iterator[Finding]:
    """Screw reach into the neck, mm. Plate: len - plate_thk - heel_wood; ferrule: len - (heel_wood - seat) -
    flange 1.0.

    Wanted: 13 <= reach <= heel_thk - board 5 - fret - 2; never through the board (memory).
    """
    if not is_bolted(case):
        return
    length = case.p_maybe("screw_len")
    if length is None:
        length = case.number("joint_screw_len")
    wood = case.number("heel_wood")
    if case.is_a("ferrule4"):
        seat = seat_depth(case)
        flange = case.p("flange") if case.p_has("flange") else FLANGE
        reach = length - (wood - seat) - flange
        formula = f"{mm(length)} - ({mm(wood)} - {mm(seat)}) - {mm(flange)}"
    else:
        plate = case.p("flange") if case.p_has("flange") else case.number("plate_thk")
        reach = length - plate - wood
        formula = f"{mm(length)} - {mm(plate)} - {mm(wood)}"
    most = case.number("heel_thk") - BOARD - case.number("fret_h") - 2
    working = f"{formula} = {mm(reach)}; wants 13 to {mm(most)}"
    if reach > most:
        yield case.warn(
            f"take screws at least {mm(reach - most)} mm shorter: they reach {mm(reach)} mm into a neck "
            f"that takes {mm(most)} mm, "
            "never drive them through the board",
            working,
        )
    elif reach < LEAST_REACH:
        yield case.warn(
            f"take screws at least {mm(LEAST_REACH - reach)} mm longer: they reach only {mm(reach)} mm "
            "(wants 13 mm)",
            working,
        )
    else:
        yield case.fits(f"the screws reach {mm(reach)} mm into the neck", working)


@rule("R89")
def r89(case: Case) -> Iterator[Finding]:
    """Joint screws: a plate, or a set of ferrules or inserts, is made for as many screws as there are
    (common-practice).
    """
    if not is_bolted(case):
        return
    made, there = case.p("screw_n"), case.number("joint_screw_n")
    if made < there or made > there:
        yield case.no_or_order("screw_n", f"it is made for {made} joint screws: take one for {there}")
    else:
        yield case.fits(f"it is made for {there} joint screws")


@rule("R77")
def r77(case: Case) -> Iterator[Finding]:
    """Threaded inserts, mm: bolt joint; rim >= 5 from the heel side; length <= heel_thk - 8; body holes screw
    + 0.3 (memory).

    Screws stand 38 apart across the heel (common-practice).
    """
    if not is_bolted(case):
        yield case.no(f"a {case.word('joint')} neck has no joint screws")
        return
    od, length = case.p("od"), case.p("len")
    room = case.number("heel_thk") - 8
    if case.part is not None and case.p_has("edge") and "edge" not in case.part.typical:
        edge = case.p("edge")
        working = f"edge {mm(edge)}, wants 5; length {mm(length)}, room {mm(room)}"
    else:
        edge = (case.number("heel_wid") - PLATE_WIDTH) / 2 - od / 2
        working = (
            f"edge ({mm(case.number('heel_wid'))} - 38)/2 - {mm(od)}/2 = {mm(edge)}, wants 5; length "
            f"{mm(length)}, room {mm(room)}"
        )
    if edge < INSERT_EDGE:
        yield case.no(
            f"inserts of {mm(od)} mm come {mm(edge)} mm from the side of the heel (wants 5): take ones "
            f"of at most {mm(od - 2 * (INSERT_EDGE - edge))} mm",
            working,
        )
        return
    if length > room:
        yield case.no(
            f"inserts of {mm(length)} mm are too long for the heel: take ones of at most {mm(room)} mm",
            working,
        )
        return
    n = case.number("joint_screw_n")
    demands = [demand("fit-neck-inserts", USUAL, n, "inserts in place of wood screws")]
    words = f"fit {n} inserts"
    screw = case.p_maybe("screw_d")
    if screw is not None and screw > case.number("joint_screw_d"):
        demands.append(demand("drill-hole", "heel", n, "body holes opened for the machine screws"))
        words += f", open {n} body holes to {mm(screw + Decimal('0.3'))} mm"
    yield case.work(words, working, demands=tuple(demands))


@rule("R78")
def r78(case: Case) -> Iterator[Finding]:
    """Stripped neck holes: a hardwood plug (24 h) and a new hole for each; inserts make both needless
    (memory).
    """
    if not is_bolted(case):
        return
    if case.is_a("insert4"):
        yield case.fits("inserts replace worn screw holes")
        return
    stripped = case.maybe("joint_strip_n")
    if stripped is None:
        yield case.warn(
            "turn each joint screw: where one spins, its neck hole is plugged and drilled anew (or take "
            "inserts)"
        )
    elif stripped > 0:
        yield case.work(
            f"plug {count(stripped, 'neck hole')} with hardwood (a day) and drill again: the screws spin",
            f"{stripped} stripped",
            demands=(
                demand("plug-hole", "heel-screws", stripped, "stripped neck holes", levels=neck_wood(case)),
                demand("drill-hole", "heel-screws", stripped, "stripped neck holes", levels=neck_wood(case)),
            ),
        )
    else:
        yield case.fits("the joint screws hold")


@rule("R79")
def r79(case: Case) -> Iterator[Finding]:
    """Replacement neck, mm: heel within 0.4 of the pocket good; to 1.5 wider trimmed (part of the fitting);
    more refused.

    Narrower by more than 0.8: side shims (memory). Only for bolted necks.
    """
    if not is_bolted(case):
        yield case.no(f"a {case.word('joint')} neck cannot be swapped")
        return
    wider = case.p("heel_w") - case.number("pocket_wid")
    working = (
        f"{mm(case.p('heel_w'))} - {mm(case.number('pocket_wid'))} = {mm(wider)}; good to 0.4, trimmed to 1.5"
    )
    if wider > Decimal("1.5"):
        yield case.no_or_order(
            "heel_w",
            f"the heel is {mm(wider)} mm wider than the pocket, too much to trim (1.5 mm): take one of at most "
            f"{mm(case.number('pocket_wid') + Decimal('1.5'))} mm",
            working,
        )
    elif wider > Decimal("0.4"):
        yield case.warn(f"trim {mm(wider)} mm off heel or pocket while fitting", working)
    elif wider < Decimal("-0.8"):
        yield case.warn(
            f"the heel is {mm(-wider)} mm narrower than the pocket: shim its sides, the joint will show",
            working,
            tells="joint-shows",
        )
    else:
        yield case.fits("the heel suits the pocket; look that the last fret clears guard and pickup", working)

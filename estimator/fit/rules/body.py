"""Weight, strap buttons, finish, edges, looks, cautions: R80-R83, R85-R87. Lengths mm, masses g."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.fit.case import Case, cm3, demand, mm, rule
from estimator.fit.mass import density_of
from estimator.model import Finding
from estimator.model.pickups import PICKUPS

SCREW_SAME = Decimal("0.3")
#: woods in which a usual strap screw does not last, and the thread that does, mm (common-practice)
SOFT, STRAP_SCREW = frozenset({"basswood", "poplar", "paulownia", "pine"}), Decimal("3.5")
THICK_FINISH = Decimal("0.4")
#: of a chamber: the back it leaves, mm; the share of the free area it may take; its least and most, cm3
CHAMBER_BACK, CHAMBER_SHARE = Decimal(8), Decimal("0.4")
CHAMBER_LEAST, CHAMBER_MOST = Decimal(40), Decimal(150)
#: upgrades that finish a whole body anew
WHOLE_FINISH = ("refinish-spray", "oil-finish")
TO_CAVITY, TO_EDGE = Decimal(4), Decimal(6)


def density(case: Case) -> Decimal:
    """Shop-dry density of the body wood, g/cm3."""
    return density_of(case.shop, case.word_or("body_wood", "unknown"))


@rule("R80")
def r80(case: Case) -> Iterator[Finding]:
    """Weight, g: W_new = weight_g + new parts - old parts - cm3 removed x density (common-practice).

    ``change_g`` is counted where the spec has it from (``fit/mass.py``), with the work that fitting forces.
    """
    weight, change = case.number("weight_g"), case.change_g
    if abs(change) < Decimal("0.5"):
        return
    after = weight + change
    than = f"{mm(abs(change), '1')} g {'more' if change > 0 else 'less'} than now"
    known = "" if case.measured("weight_g") else " (what it weighs now is assumed)"
    yield case.fits(
        f"the instrument will weigh {mm(after, '1')} g, {than}{known}",
        f"{mm(weight)} {'+' if change > 0 else '-'} {mm(abs(change), '0.1')} = {mm(after, '0.1')} g",
    )


@rule("R90")
def r90(case: Case) -> Iterator[Finding]:
    """Room for a chamber under the guard, cm3: 0.4 of the guard that no rout takes, to 8 mm of the back.

    12 mm stay round screws and routs, hence the 0.4; at most 150 are taken, under 40 are not worth a rout
    (memory).
    """
    guard, taken = case.number("guard_cm2"), Decimal(0)
    for place in PICKUPS:
        if case.word_or(f"pu_{place}", "none") != "none" and case.has(f"rout_l_{place}"):
            taken += case.number(f"rout_l_{place}") * case.number(f"rout_w_{place}") / 100
    if case.word("access") == "guard-mounted":
        taken += case.number("ctl_l") * case.number("ctl_w") / 100
    depth = case.number("body_thk") - CHAMBER_BACK
    room = cm3(max(CHAMBER_SHARE * (guard - taken) * depth / 10, Decimal(0)))
    volume = min(room, CHAMBER_MOST)
    working = f"0.4 x ({mm(guard)} - {mm(taken)}) x {mm(depth)}/10 = {room} cm3; at least 40, at most 150"
    if room < CHAMBER_LEAST:
        yield case.no(
            f"there is room for a chamber of {room} cm3 under the guard (wants {CHAMBER_LEAST}): leave the wood in",
            working,
        )
        return
    saved = volume * density(case)
    yield case.work(
        f"rout a chamber of {volume} cm3 under the guard: {mm(saved, '1')} g less, 8 mm of back and 12 mm round "
        "screws stay",
        working,
        demands=(demand("route-cavity", "under-guard", volume, "chamber under the guard"),),
    )


@rule("R81")
def r81(case: Case) -> Iterator[Finding]:
    """Strap button, mm: hole not firm, or screws differ by more than 0.3 -> plug-small-hole x 1; the pilot is
    in the fitting (memory).
    """
    firm = case.yes("strap_hole_ok")
    off = Decimal(0)
    if case.p_has("screw_d"):
        off = abs(case.p("screw_d") - case.number("strap_screw_d"))
    working = f"hole {'firm' if firm else 'loose'}; screws differ by {mm(off)}, up to 0.3"
    if (
        case.has("body_wood")
        and case.word("body_wood") in SOFT
        and case.number("strap_screw_d") < STRAP_SCREW
    ):
        yield case.warn(
            f"strap screws of {mm(case.number('strap_screw_d'))} mm are thin for {case.word('body_wood')}, and often "
            f"too short: take {mm(STRAP_SCREW)} x 30 mm"
        )
    if firm and off <= SCREW_SAME:
        yield case.fits("the strap screws go into the old holes", working)
        return
    why = "the hole is loose" if not firm else f"the screws differ by {mm(off)} mm"
    yield case.work(
        f"plug 1 strap button hole and drill a pilot: {why}",
        working,
        demands=(demand("plug-small-hole", "strap-buttons", 1, f"strap button: {why}"),),
    )


@rule("R82")
def r82(case: Case) -> Iterator[Finding]:
    """Thick finish, mm: fin_thk >= 0.4 near a visible bore: score it, cut backwards first (memory).

    The odds of a chip follow the finish in the estimate.
    """
    thick = case.number("fin_thk")
    working = f"{mm(thick)} >= 0.4"
    if thick >= THICK_FINISH:
        yield case.warn(
            f"a thick finish ({mm(thick)} mm): tape and score it, run the bit backwards first, or it chips "
            "at every bore",
            working,
        )
    else:
        yield case.fits("a thin finish: tape the place before drilling", f"{mm(thick)} < 0.4")


@rule("R83")
def r83(case: Case) -> Iterator[Finding]:
    """No-wood zone, mm: new holes stay 4 from a cavity wall and 6 from the body edge (memory).

    ``part.edge`` is the least distance of either kind: under 4 the place is refused, from 4 to 6 the odds
    of rework grow by 15 points where it is the body edge.
    """
    if not case.p_has("edge"):
        yield case.warn(
            "before drilling see that every new hole keeps 4 mm from cavities and 6 mm from the body edge"
        )
        return
    left = case.p("edge")
    working = f"{mm(left)} mm; wants 4 to a cavity, 6 to the body edge"
    if left < TO_CAVITY:
        yield case.no(
            f"a new hole would stand {mm(left)} mm from a cavity wall or the body edge: choose another place",
            working,
        )
    elif left < TO_EDGE:
        yield case.warn(
            f"a new hole stands {mm(left)} mm from an edge: fine beside a cavity, risky at the body edge "
            "(15 % more odds of rework)",
            working,
        )
    else:
        yield case.fits(f"the new holes keep {mm(left)} mm from cavities and edges", working)


@rule("R85")
def r85(case: Case) -> Iterator[Finding]:
    """Mixed plating: more than one metal colour after the change -> cosmetics one down, resale 2-4 % less
    (memory).
    """
    if not (case.has("metal_colour") and case.p_has("colour")):
        yield case.warn(
            "match the colour of the other metal parts: mixed plating costs looks and 2-4 % at resale"
        )
        return
    there, new = case.word("metal_colour"), case.p_word("colour")
    if there == new:
        yield case.fits(f"{new} like the rest")
    elif case.part is not None and "colour" in case.part.typical:
        yield case.warn(
            f"order it in the colour of the other metal parts ({there}); mixed plating costs looks"
        )
    elif there == "mixed":
        yield case.warn("the metal parts are of several colours already")
    else:
        yield case.warn(
            f"{new} beside {there}: looks go down one level; knobs, jack plate and neck plate in {new} "
            "would match",
            effects=(("cosmetics", "add", Decimal(-1)),),
            tells="metal-of-two-colours",
        )


@rule("R86")
def r86(case: Case) -> Iterator[Finding]:
    """Refinishing for resale: it costs a good instrument or a sound finish value, factor 0.6-0.8 (memory).

    Where an area is said, a part of the body, whoever takes the whole of it is told so.
    """
    part = case.maybe("refinish_cm2") or Decimal(0)
    if part and case.upgrade.startswith(WHOLE_FINISH):
        yield case.warn(
            f"the whole body is stripped and finished here, {mm(case.number('skin_cm2'), '1')} cm2; the "
            f"{mm(part, '1')} cm2 that were said are refinish-part"
        )
    if part and not case.upgrade.startswith(WHOLE_FINISH):
        yield case.fits(
            f"{mm(part, '1')} of {mm(case.number('skin_cm2'), '1')} cm2 are stripped and sprayed; the seam shows"
        )
    tier = case.word("tier") if case.has("tier") else ""
    if tier in ("D", "E"):
        yield case.warn(
            f"do not refinish a tier {tier} instrument for resale: it keeps 0.6-0.8 of its value; touch up "
            "only",
            tells="new-finish-lowers-value",
        )
    else:
        yield case.warn(
            "do not refinish for resale while the old finish is sound: it keeps 0.6-0.8 of its value; "
            "touch up only",
            tells="new-finish-lowers-value",
        )


@rule("R87")
def r87(case: Case) -> Iterator[Finding]:
    """Outline or name of another maker: not made, not listed (law and decency; common-practice)."""
    yield case.warn(
        "no copied peghead outline and no decal of another maker: do not do it, do not list it",
        tells="no-names-of-others",
    )

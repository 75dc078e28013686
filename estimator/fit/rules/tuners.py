"""Tuners: R28-R36. Lengths mm, masses g. Geometry common-practice, limits memory unless said."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_CEILING, Decimal

from estimator.core.text import count, family_of
from estimator.fit.case import USUAL, Case, demand, mm, neck_wood, rule
from estimator.fit.mass import shift_mm
from estimator.model import Finding

HOLES = "tuner-holes"
SCREWS = "tuner-screws"
PLAY = Decimal("0.15")
LOOSE, MUCH_SMALLER = Decimal("0.3"), Decimal("2.0")
WOOD_BETWEEN_HOLES = Decimal(8)
#: screws or pins per tuner of each pattern
SCREWS_EACH = {"one-slant": 1, "one-straight": 1, "two-inline": 2, "four-corner": 4, "pin": 1, "none": 0}
#: mass of one tuner that is there, where nobody weighed it (memory)
USUAL_MASS = {"guitar": Decimal(38), "bass": Decimal(100)}
HEAVY = Decimal(60)


def hole_sizes(case: Case) -> tuple[Decimal, Decimal]:
    """Diameter that the tuners want, and that of the holes there.

    On a new neck the tuners move over: they want what they have now, the neck brings its holes. Adapter
    bushings want holes of their outer diameter.
    """
    if case.is_a("neck"):
        return case.number("tuner_hole_d"), case.p("hole_d")
    if case.is_a("bushing"):
        return case.p("od"), case.number("tuner_hole_d")
    return case.p("hole_d"), case.number("tuner_hole_d")


def is_tuner(case: Case) -> bool:
    """Whether the part is a tuner set (and not bushings or a neck)."""
    return case.is_a("tuner6", "tunerb4")


@rule("R28")
def r28(case: Case) -> Iterator[Finding]:
    """Tuner or bushing larger than the hole, mm: p.hole_d > tuner_hole_d + 0.15 -> ream every hole.

    Wood between holes tuner_pitch - p.hole_d >= 8; 3 mm to the peghead edge is looked at (memory).
    """
    new, old = hole_sizes(case)
    pitch = case.number("tuner_pitch")
    if new <= old + PLAY:
        yield case.fits("the tuners pass the peghead holes", f"{mm(new)} <= {mm(old)} + 0.15")
        return
    left = pitch - new
    working = f"{mm(new)} > {mm(old)} + 0.15; wood between {mm(pitch)} - {mm(new)} = {mm(left)} (wants 8)"
    if left < WOOD_BETWEEN_HOLES:
        yield case.no(
            f"holes of {mm(new)} mm would leave {mm(left)} mm of wood between tuners (wants 8): take "
            f"ones for holes of at most {mm(new - (WOOD_BETWEEN_HOLES - left))} mm",
            working,
        )
        return
    n = case.number("tuner_n")
    yield case.work(
        f"ream {n} tuner holes from {mm(old)} to {mm(new)} mm; see that 3 mm of wood stay to the peghead "
        "edge",
        working,
        demands=(demand("ream-tuner-hole", HOLES, n, f"tuners want {mm(new)} mm holes"),),
    )


@rule("R29")
def r29(case: Case) -> Iterator[Finding]:
    """Tuner smaller than the hole, mm: 0.3 <= tuner_hole_d - p.hole_d <= 2.0 -> adapter bushing in every
    hole.

    A bushing itself must press into its hole: 0.3 too small holds nothing (memory).
    """
    want, there = hole_sizes(case)
    gap = there - want
    working = f"{mm(there)} - {mm(want)} = {mm(gap)}"
    if case.is_a("bushing"):
        if gap >= LOOSE:
            yield case.no(
                f"the bushings are {mm(gap)} mm too small for the holes: take {mm(there)} mm ones", working
            )
        else:
            yield case.fits("the bushings press into the holes", working)
        return
    if LOOSE <= gap <= MUCH_SMALLER:
        n = case.number("tuner_n")
        yield case.work(
            f"press {n} adapter bushings (extra): the holes are {mm(gap)} mm larger than the tuners",
            working,
            demands=(demand("bush-tuner-hole", HOLES, n, "holes larger than the tuners"),),
        )
    elif gap < LOOSE:
        yield case.fits("no adapter bushings wanted", working)


@rule("R30")
def r30(case: Case) -> Iterator[Finding]:
    """Tuner much smaller, mm: tuner_hole_d - p.hole_d > 2.0 -> plug and rebore every hole, two touch-ups
    (memory).
    """
    want, there = hole_sizes(case)
    gap = there - want
    if gap <= MUCH_SMALLER or case.is_a("bushing"):
        return
    n = case.number("tuner_n")
    yield case.work(
        f"plug and rebore {n} tuner holes: they are {mm(gap)} mm too large for bushings; other tuners are "
        "usually the better choice",
        f"{mm(there)} - {mm(want)} = {mm(gap)} > 2.0",
        demands=(
            demand("plug-hole", HOLES, n, "holes much larger than the tuners", levels=neck_wood(case)),
            demand("drill-hole", HOLES, n, "holes much larger than the tuners", levels=neck_wood(case)),
            demand("fill-touch-up-chip", "peghead", 2, "plugs that show on the peghead"),
        ),
    )


@rule("R31")
def r31(case: Case) -> Iterator[Finding]:
    """Stepped hole, mm: tuner_hole_back_d < p.body_neck_d -> ream from the back only, run x 0.6 (memory)."""
    if not case.p_has("body_neck_d"):
        return
    back, neck = case.number("tuner_hole_back_d"), case.p("body_neck_d")
    working = f"{mm(back)} < {mm(neck)}"
    if back < neck:
        n = case.number("tuner_n")
        yield case.work(
            f"ream {n} tuner holes from the back to {mm(neck)} mm",
            working,
            demands=(
                demand(
                    "ream-tuner-hole", "tuner-holes-back", n, "neck of the tuner body", share=Decimal("0.6")
                ),
            ),
        )
    else:
        yield case.fits("the tuner bodies go into the back of the holes", f"{mm(back)} >= {mm(neck)}")


@rule("R32")
def r32(case: Case) -> Iterator[Finding]:
    """Peghead thickness, mm: over p.thk_max counterbore the front 1-2 mm; under p.thk_min washers, no task
    (memory).
    """
    if not is_tuner(case):
        return
    thick, most, least = case.number("peg_thk"), case.p_maybe("thk_max"), case.p_maybe("thk_min")
    if most is not None and thick > most:
        depth = thick - most
        working = f"{mm(thick)} - {mm(most)} = {mm(depth)}"
        if depth > 2:
            yield case.no(
                f"the peghead is {mm(depth)} mm too thick for these tuners (2 mm can be counterbored): take "
                f"ones whose thread takes at least {mm(thick - 2)} mm",
                working,
            )
            return
        n = case.number("tuner_n")
        yield case.work(
            f"counterbore {n} tuner holes {mm(depth)} mm at the front: the peghead is {mm(thick)} mm, the "
            f"thread takes {mm(most)} mm",
            working,
            demands=(
                demand(
                    "drill-hole",
                    "tuner-counterbores",
                    n,
                    "peghead thicker than the thread takes",
                    levels=neck_wood(case),
                ),
            ),
        )
    elif least is not None and thick < least:
        yield case.warn(
            f"put washers under the tuner nuts: the peghead is {mm(least - thick)} mm thin",
            f"{mm(thick)} < {mm(least)}",
        )
    else:
        yield case.fits("the peghead thickness suits")


@rule("R33")
def r33(case: Case) -> Iterator[Finding]:
    """Tuner screw holes: another pattern -> old holes plugged, pin holes drilled; screw pilots are part of
    fitting.

    plug-small-hole per old hole; where they show also ceil(n / 3) touch-ups (memory). Old holes are taken
    to be hidden under the new bodies unless the part says it does not cover them.
    """
    if not is_tuner(case):
        return
    old, new, n = case.word("tuner_screw"), case.p_word("screw_pattern"), case.number("tuner_n")
    if old == new:
        yield case.fits("the tuner screws go into the old holes")
        return
    plugs = n * SCREWS_EACH.get(old, 1)
    shows = case.p_has("covers") and not case.p_yes("covers")
    demands = []
    words = []
    if plugs:
        demands.append(demand("plug-small-hole", SCREWS, plugs, "old tuner screws"))
        words.append(
            f"plug {count(plugs, 'old tuner screw hole')}{'' if shows else ' (hidden by the new tuners)'}"
        )
        if shows:
            chips = (plugs / 3).to_integral_value(ROUND_CEILING)
            demands.append(demand("fill-touch-up-chip", "peghead", chips, "tuner screw holes that show"))
            words.append(f"touch up {count(chips, 'place')}")
    if new == "pin":
        demands.append(demand("drill-hole", SCREWS, n, "locating pins", levels=neck_wood(case)))
        words.append(f"drill {n} pin holes")
    working = f"{n} tuners, {old} to {new}"
    if demands:
        yield case.work(", ".join(words), working, demands=tuple(demands))
    else:
        yield case.fits("no old screw holes to plug", working)


@rule("R34")
def r34(case: Case) -> Iterator[Finding]:
    """Tuner body too wide, mm: p.body_w > tuner_pitch - 0.5 is refused (memory)."""
    if not is_tuner(case):
        return
    wide, pitch = case.p("body_w"), case.number("tuner_pitch")
    working = f"{mm(wide)} > {mm(pitch)} - 0.5 = {mm(pitch - Decimal('0.5'))}"
    if wide > pitch - Decimal("0.5"):
        yield case.no(
            f"the tuner bodies ({mm(wide)} mm) touch each other at {mm(pitch)} mm centres: take ones "
            f"of at most {mm(pitch - Decimal('0.5'))} mm",
            working,
        )
    else:
        yield case.fits("the tuner bodies stand clear of each other", working)


@rule("R35")
def r35(case: Case) -> Iterator[Finding]:
    """Break angle over the nut: under about 5 degrees on the thin strings wants a string tree (memory).

    A tilted peghead or staggered posts: none. A straight one: one tree for the first pair, two on a long
    peghead (six in line); trees that are there count.
    """
    if case.is_a("bushing"):
        return
    if case.word("peg_style") != "straight-offset":
        yield case.fits("the tilted peghead gives the strings their angle")
        return
    if case.p_has("staggered") and case.p_yes("staggered"):
        yield case.fits("staggered posts give the strings their angle, no trees wanted")
        return
    wanted = Decimal(2 if case.number("string_n") >= 6 else 1)
    there = case.number("tree_n")
    if there >= wanted:
        yield case.fits(f"{count(there, 'string tree')} there, {wanted} wanted", f"{there} >= {wanted}")
        return
    missing = wanted - there
    yield case.work(
        f"fit {count(missing, 'string tree')}: under about 5 degrees the thin strings rattle in the nut",
        f"{wanted} wanted, {there} there",
        demands=(demand("fit-string-tree", USUAL, missing, "too little break angle over the nut"),),
    )


@rule("R36")
def r36(case: Case) -> Iterator[Finding]:
    """Peghead weight, g: added mass x tuner_n > 60 and balance already not "none" -> balance one level down;
    60 or more taken off such a peghead -> one level up (memory). 60 g there shift the centre of gravity by about
    10 mm on a guitar, 11 mm on a bass: shift = added x (0.75 x scale + 80) / weight (lever law, common-practice;
    the arm from memory), and 10 mm are one level of balance by judgement (memory): the strap test decides.
    """
    if not is_tuner(case):
        return
    if case.part is None or case.part.weight_g is None:
        yield case.warn("weigh a tuner: heavy ones pull the peghead down")
        return
    family = family_of(case.word("kind"))
    n = case.number("tuner_n")
    row = case.shop.part_classes.get(case.part.part_class)
    new = case.part.weight_g / n if row is not None and row.counted == "set" else case.part.weight_g
    old = case.number_or("tuner_mass", USUAL_MASS[family])
    known = "" if case.measured("tuner_mass") else f" (old ones taken as {mm(old)} g each)"
    added = (new - old) * n
    working = f"({mm(new)} - {mm(old)}) x {n} = {mm(added)} g"
    if case.has("weight_g") and case.has("scale"):
        shift = shift_mm(added, case.number("weight_g"), case.number("scale"))
        working += f"; the centre of gravity goes {mm(abs(shift), '1')} mm towards the {'peghead' if added > 0 else 'body'}"
    if added > HEAVY and case.word("balance") != "none":
        yield case.warn(
            f"the tuners add {mm(added)} g to a peghead that drops already{known}: take light ones",
            working,
            effects=(("balance", "add", Decimal(-1)),),
            tells="peghead-heavier",
        )
    elif added <= -HEAVY and case.word("balance") != "none":
        yield case.fits(
            f"the tuners take {mm(-added)} g off a peghead that drops{known}: balance goes up one level",
            working,
            effects=(("balance", "add", Decimal(1)),),
        )
    elif added < 0:
        yield case.fits(f"the tuners take {mm(-added)} g off the peghead{known}", working)
    else:
        yield case.fits(f"the tuners add {mm(added)} g to the peghead{known}", working)

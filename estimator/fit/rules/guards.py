"""Guards and covers: R70-R73. Lengths mm. Geometry common-practice, limits memory."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import count
from estimator.fit.case import Case, demand, mm, over, rule
from estimator.model import Finding

HOLES = "guard-holes"
FILED = Decimal(2)


@rule("R70")
def r70(case: Case) -> Iterator[Finding]:
    """Guard screws: plug guard_hole_n - guard_match_n, drill p.holes - guard_match_n.

    Holes match within 1.0 mm. Old holes are taken to lie under the new guard; ``guard_seen_n`` (those that
    do not) are touched up. A blank is cut to the old holes.
    """
    if case.is_a("guardblank"):
        yield case.fits("a guard cut to measure takes the old holes")
        return
    if case.is_a("cover"):
        yield case.warn(
            "lay the cover on and compare its holes before buying: other places mean plugs and holes"
        )
        return
    there, match, new = case.number("guard_hole_n"), case.number("guard_match_n"), case.p("holes")
    match = min(match, there, new)
    plugs, drills = there - match, new - match
    working = f"{there} - {match} = {plugs} to plug; {new} - {match} = {drills} to drill"
    demands = []
    words = []
    if plugs:
        demands.append(demand("plug-small-hole", HOLES, plugs, "guard holes that do not match"))
        words.append(f"plug {count(plugs, 'guard hole')}")
    if drills:
        demands.append(demand("drill-hole", HOLES, drills, "guard screws at new places"))
        words.append(f"drill {count(drills, 'hole')}")
    seen = min(case.number_or("guard_seen_n", Decimal(0)), plugs)
    if seen:
        demands.append(demand("fill-touch-up-chip", HOLES, seen, "guard holes beside the new guard"))
        words.append(f"touch up {seen} that show")
    if demands:
        yield case.work(
            f"{', '.join(words)}: {match} of {new} match within 1 mm", working, demands=tuple(demands)
        )
    else:
        yield case.fits(f"all {new} guard screws meet their holes", working)


@rule("R71")
def r71(case: Case) -> Iterator[Finding]:
    """A guard that leaves a rout, a hole or an unfaded patch showing is refused; cut one to measure instead
    (memory).
    """
    if case.is_a("guardblank"):
        yield case.fits("cut it to cover what the old guard covered")
    elif not case.p_has("covers"):
        yield case.warn("lay it on and see that no rout, screw hole or unfaded patch shows beside it")
    elif case.p_yes("covers"):
        yield case.fits("it covers routs, holes and the unfaded patch")
    else:
        yield case.no("it leaves a rout, a hole or an unfaded patch showing: cut one from a blank instead")


@rule("R72")
def r72(case: Case) -> Iterator[Finding]:
    """Guard thickness, mm: |p.ply - guard_ply_mm| > 0.5 -> pickup height, pot bushings, neck and bridge
    clearance (memory).
    """
    if case.is_a("cover") or not (case.p_has("ply") or case.is_a("guard", "guardblank")):
        return
    off = case.p("ply") - case.number("guard_ply_mm")
    working = f"|{mm(case.p('ply'))} - {mm(case.number('guard_ply_mm'))}| = {mm(abs(off))}; up to 0.5"
    if abs(off) > Decimal("0.5"):
        way = "thicker" if off > 0 else "thinner"
        yield case.warn(
            f"the guard is {mm(abs(off))} mm {way}: check pickup height, pot bushings "
            f"({mm(case.p('ply') + Decimal('3.5'))} mm wanted), "
            "neck and bridge clearance",
            working,
        )
    else:
        yield case.fits("about as thick as the old one", working)


@rule("R73")
def r73(case: Case) -> Iterator[Finding]:
    """Notch at neck and bridge, mm: an overlap of 0.3-2 is filed while fitting; more is refused (memory)."""
    if case.is_a("guardblank"):
        yield case.fits("notches are cut to measure")
        return
    if not case.p_has("notch"):
        yield case.warn(
            "lay it on and measure how far it overlaps neck and bridge: 2 mm can be filed, more cannot"
        )
        return
    overlap = over(case.p("notch"))
    working = f"overlap {mm(overlap)}; filed up to 2"
    if overlap > FILED:
        yield case.no(
            f"it overlaps neck or bridge by {mm(overlap)} mm: cut one from a blank instead", working
        )
    elif overlap > Decimal("0.3"):
        yield case.warn(f"file {mm(overlap)} mm off the notch while fitting", working)
    else:
        yield case.fits("the notches clear neck and bridge", working)

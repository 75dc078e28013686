"""Tremolo block against body and cavity: R04-R09. Lengths mm, volumes cm3.

Geometry is common-practice; dive and pull angles and margins are remembered from the bench (memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.fit.case import USUAL, Case, cm3, demand, mm, over, rule
from estimator.model import Demand, Finding

CAVITY = "tremolo-cavity"
WITH_CAVITY = frozenset({"six-screw-trem", "two-post-trem", "locking-trem"})
#: sines of 12 degrees of dive and 4 degrees of pull-up
SIN_DIVE = Decimal("0.2079117")
SIN_PULL = Decimal("0.0697565")
WEDGE = Decimal("0.6")
CLEAR_ALONG, CLEAR_ACROSS = Decimal(2), Decimal(3)
CHISEL_CM3 = Decimal("0.5")
CHISEL_MIN = Decimal(10)
LEAST_WALL = Decimal(6)
LINER_WALL = Decimal(3)


def has_cavity(case: Case) -> bool:
    """Whether the body has a tremolo cavity to compare with."""
    return case.word("br_type") in WITH_CAVITY


def is_decked(case: Case) -> bool:
    """Whether the tremolo rests on the body and is never pulled up."""
    return case.has("trem_decked") and case.yes("trem_decked")


def pull_sine(case: Case) -> Decimal:
    """Sine of the pull-up angle: 4 degrees, none where the tremolo is decked."""
    return Decimal(0) if is_decked(case) else SIN_PULL


def needed_length(case: Case) -> Decimal:
    """Room along the strings for the swing of the block: t + h x (sin dive + sin pull) + 2."""
    return case.p("block_t") + case.p("block_h") * (SIN_DIVE + pull_sine(case)) + CLEAR_ALONG


def needed_width(case: Case) -> Decimal:
    """Room across the strings: w + 3."""
    return case.p("block_w") + CLEAR_ACROSS


def lengthening(case: Case) -> Decimal:
    """How much the cavity must grow along the strings."""
    return over(needed_length(case) - case.number("tcav_len"))


def widening(case: Case) -> Decimal:
    """How much the cavity must grow across the strings."""
    return over(needed_width(case) - case.number("tcav_wid"))


def volume_along(case: Case) -> Decimal:
    """V1 = 0.6 x dL x max(tcav_wid, need_wid) x tcav_dep / 1000; 0.6 because the swing is a wedge."""
    across = max(case.number("tcav_wid"), needed_width(case))
    return cm3(WEDGE * lengthening(case) * across * case.number("tcav_dep") / 1000)


def volume_across(case: Case) -> Decimal:
    """V2 = dW x tcav_len x tcav_dep / 1000."""
    return cm3(widening(case) * case.number("tcav_len") * case.number("tcav_dep") / 1000)


def _no_cavity(case: Case) -> Iterator[Finding]:
    if not case.is_a("trem6", "trem2", "tremlock"):
        yield case.no(f"a {case.word('br_type')} body has no tremolo cavity")


@rule("R04")
def r04(case: Case) -> Iterator[Finding]:
    """Block too tall: p.block_h > body_thk - 1.5, mm (memory). It never stands proud of the back."""
    block, body = case.p("block_h"), case.number("body_thk")
    working = f"{mm(block)} > {mm(body)} - 1.5 = {mm(body - Decimal('1.5'))}"
    if block > body - Decimal("1.5"):
        yield case.no(
            f"the block is {mm(block)} mm tall, the body {mm(body)} mm thick: it would come within 1.5 mm "
            "of the back "
            f"or stand proud; take a block of {mm(body - Decimal('1.5'))} mm or less",
            working,
        )
    else:
        yield case.fits(f"the block ({mm(block)} mm) stays inside the body ({mm(body)} mm)", working)


@rule("R05")
def r05(case: Case) -> Iterator[Finding]:
    """Short block: p.block_h < body_thk - 10, mm (memory). It fits; spring angle and bridge mass suffer."""
    block, body = case.p("block_h"), case.number("body_thk")
    working = f"{mm(block)} < {mm(body)} - 10 = {mm(body - 10)}"
    if block < body - 10:
        yield case.warn(
            f"a short block ({mm(block)} mm): watch the spring angle, add one spring; the bridge loses mass",
            working,
        )
    else:
        yield case.fits("the block is long enough for the springs", working)


@rule("R06")
def r06(case: Case) -> Iterator[Finding]:
    """Cavity along the strings, mm: need_len = t + h x (sin 12 + sin 4) + 2, sin 4 left out when decked.

    The wood itself is counted with the volume. Geometry common-practice, angles and margin memory.
    """
    if not has_cavity(case):
        yield from _no_cavity(case)
        return
    need, has = needed_length(case), case.number("tcav_len")
    pull = "" if is_decked(case) else " + sin 4"
    working = (
        f"{mm(case.p('block_t'))} + {mm(case.p('block_h'))} x (sin 12{pull}) + 2 = {mm(need)}; cavity "
        f"{mm(has)}"
    )
    if need > has:
        yield case.warn(
            f"the cavity is {mm(need - has, '0.1')} mm short (needs {mm(need, '0.1')} mm along the "
            f"strings, has {mm(has)} mm)",
            working,
        )
    else:
        yield case.fits(
            f"the block swings free along the strings (needs {mm(need, '0.1')} mm, has {mm(has)} mm)", working
        )


@rule("R07")
def r07(case: Case) -> Iterator[Finding]:
    """Cavity across the strings, mm: need_wid = w + 3 (memory). The wood is counted with the volume."""
    if not has_cavity(case):
        yield from _no_cavity(case)
        return
    need, has = needed_width(case), case.number("tcav_wid")
    working = f"{mm(case.p('block_w'))} + 3 = {mm(need)}; cavity {mm(has)}"
    if need > has:
        yield case.warn(
            f"the cavity is {mm(need - has)} mm narrow (needs {mm(need)} mm across, has {mm(has)} mm)",
            working,
        )
    else:
        yield case.fits(f"wide enough across (needs {mm(need)} mm, has {mm(has)} mm)", working)


@rule("R08")
def r08(case: Case) -> Iterator[Finding]:
    """Cavity volume, cm3: V = V1 + V2, each to 0.1. Over 0.5: enlarge the cavity by V; up to that 10 min with
    a chisel.

    Geometry common-practice, limit and minutes memory.
    """
    if not has_cavity(case):
        yield from _no_cavity(case)
        return
    along, across = volume_along(case), volume_across(case)
    volume = along + across
    working = (
        f"V1 = 0.6 x {mm(lengthening(case))} x {mm(max(case.number('tcav_wid'), needed_width(case)))} x "
        f"{mm(case.number('tcav_dep'))}/1000 = {along}; V2 = {mm(widening(case))} x "
        f"{mm(case.number('tcav_len'))} x "
        f"{mm(case.number('tcav_dep'))}/1000 = {across}; V = {volume}"
    )
    if volume > CHISEL_CM3:
        need = f"needs {mm(needed_length(case), '0.1')} mm along the strings, has {mm(case.number('tcav_len'))} mm"
        if widening(case):
            need += f"; needs {mm(needed_width(case))} mm across, has {mm(case.number('tcav_wid'))} mm"
        yield case.work(
            f"take out {volume} cm3 at the back of the tremolo cavity ({need})",
            working,
            demands=(
                demand(
                    "enlarge-tremolo-cavity", CAVITY, volume, "the block needs room to swing", **_liner(case)
                ),
            ),
        )
    elif lengthening(case) or widening(case):
        yield case.work(
            f"ease the tremolo cavity with a chisel, {volume} cm3, about {CHISEL_MIN} minutes",
            working,
            demands=(demand("mount-bridge", USUAL, 1, "cavity eased with a chisel", extra_min=CHISEL_MIN),),
        )
    else:
        yield case.fits("no wood to take out of the tremolo cavity", working)


def _wall(case: Case) -> tuple[Decimal, Decimal]:
    """Wall to the pickup rout after the cut: with the pull-up share taken forward, and with all of it
    rearward.
    """
    forward = lengthening(case) * pull_sine(case) / (SIN_DIVE + pull_sine(case))
    return case.number("tcav_wall") - forward, case.number("tcav_wall")


def _liner(case: Case) -> dict[str, Decimal]:
    """A cut beside a thin wall goes wrong oftener: + 12 %."""
    if not case.has("tcav_wall") or not lengthening(case):
        return {}
    return {"extra_rework_pct": Decimal(12)} if LINER_WALL <= case.number("tcav_wall") < LEAST_WALL else {}


@rule("R09")
def r09(case: Case) -> Iterator[Finding]:
    """Wall between tremolo cavity and bridge pickup rout, mm: at least 6 after the cut (memory).

    A dive swings the block rearward, a pull-up forward, so dL x sin 4 / (sin 12 + sin 4) goes forward
    (geometry). Below 6: take all of dL rearward; a wall of 3 to 6 to begin with gets a glued-in hardwood
    liner (two plugs, + 12 % odds of rework); below 3 it is refused.
    """
    if not has_cavity(case):
        yield from _no_cavity(case)
        return
    length = lengthening(case)
    if not length:
        yield case.fits(f"the wall to the pickup rout stays as it is ({mm(case.number('tcav_wall'))} mm)")
        return
    shared, rearward = _wall(case)
    working = (
        f"dL {mm(length)}; wall {mm(rearward)} - forward share {mm(rearward - shared)} = {mm(shared)}; "
        "wants 6"
    )
    if shared >= LEAST_WALL:
        yield case.fits(f"leaves {mm(shared, '0.1')} mm of wall to the pickup rout", working)
    elif rearward >= LEAST_WALL:
        yield case.warn(
            f"take all of the cut to the rear: that leaves a {mm(rearward, '0.1')} mm wall to the pickup "
            "rout",
            working,
        )
    elif rearward >= LINER_WALL:
        yield case.work(
            f"glue a hardwood liner into the {mm(rearward, '0.1')} mm wall to the pickup rout, then cut to "
            "the rear only",
            working,
            demands=(_liner_demand(),),
        )
    else:
        yield case.no(
            f"only {mm(rearward, '0.1')} mm of wood to the pickup rout: the wall would break; take a "
            "smaller block",
            working,
        )


def _liner_demand() -> Demand:
    return demand(
        "plug-hole", "tremolo-cavity-wall", 2, "hardwood liner in a thin wall", extra_rework_pct=Decimal(12)
    )

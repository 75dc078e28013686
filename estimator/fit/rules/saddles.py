"""Reach of the saddles, saddle swap, block swap: R22, R25, R26. Lengths mm.

Geometry is common-practice; limits are remembered from the bench (memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import count
from estimator.fit.case import Case, demand, mm, rule
from estimator.fit.holes import SMALL_HOLE
from estimator.fit.rules.bridges import PLACE, is_bass, lay_out, plug_task
from estimator.model import Finding

SADDLE_ROOM = Decimal("0.6")
#: narrower in all by this much, saddles wander sideways (memory)
WANDER = Decimal(3)
#: how far behind the scale the bass-side saddle stands at most
COMPENSATION = {"guitar": Decimal(5), "bass": Decimal(8)}


@rule("R22")
def r22(case: Case) -> Iterator[Finding]:
    """Intonation reach, mm: scale + 0 (treble) to + 5 (bass side; + 8 on a bass) must lie in the saddle
    travel.

    ``part.row``: how far behind the present row its own must stand for mid-travel at scale. Kept in the
    present row its saddles reach scale - row - travel/2 to scale - row + travel/2. Geometry common-practice,
    the compensation memory. Out of reach: all mounting holes move.
    """
    if case.is_a("neck"):
        yield from _neck_scale(case)
        return
    middle = -case.p("row")
    travel = case.p_maybe("travel")
    if travel is None:
        travel = case.number("saddle_travel_l") + case.number("saddle_travel_s")
    nearest, farthest = middle - travel / 2, middle + travel / 2
    most = COMPENSATION["bass" if is_bass(case) else "guitar"]
    working = (
        f"-{mm(case.p('row'))} -/+ {mm(travel)}/2 = {mm(nearest)} to {mm(farthest)} past the scale; wants 0 "
        f"to {mm(most)}"
    )
    if nearest <= 0 and farthest >= most:
        yield case.fits(
            f"intonation is in reach ({mm(nearest)} to {mm(farthest)} mm past the scale)", working
        )
        return
    shift = nearest if nearest > 0 else farthest - most
    way = "forward" if shift > 0 else "back"
    if case.is_a("postbridge", "trem2", "tremlock"):
        yield case.warn(
            f"the posts must be bored {mm(abs(shift))} mm farther {way}, or the saddles will not intonate",
            working,
        )
        return
    old, new = case.number("br_screw_n"), case.p("screw_n")
    plug = plug_task(case) or ("plug-small-hole" if case.number("br_screw_d") <= SMALL_HOLE else "plug-hole")
    yield case.work(
        f"plug {count(old, 'hole')}, drill {count(new, 'hole')}: the bridge must go {mm(abs(shift))} mm "
        f"{way} to intonate",
        working,
        demands=lay_out(
            (
                demand(plug, PLACE, old, "the bridge moves to intonate"),
                demand("drill-hole", PLACE, new, "the bridge moves to intonate"),
            ),
        ),
    )


def _neck_scale(case: Case) -> Iterator[Finding]:
    """The scale of a new neck must be the one the bridge stands at, within the saddle travel."""
    change = case.p("scale") - case.number("scale") + (case.p_maybe("row") or Decimal(0))
    back, forward = case.number("saddle_travel_l"), case.number("saddle_travel_s")
    row_words = f" + {mm(case.p('row'))}" if case.p_has("row") else ""
    working = (
        f"{mm(case.p('scale'))} - {mm(case.number('scale'))}{row_words} = {mm(change)}; travel {mm(back)} "
        f"long, {mm(forward)} short"
    )
    if change == 0:
        yield case.fits(f"same scale, {mm(case.number('scale'))} mm", working)
    elif -forward <= change <= back:
        yield case.warn(
            f"the scale differs by {mm(change)} mm: the saddles just reach, check before buying", working
        )
    else:
        yield case.no_or_order(
            "scale",
            f"the neck's scale differs by {mm(change)} mm, more than the saddles can make up: take one of "
            f"{mm(case.p('scale') - change - forward)} to {mm(case.p('scale') - change + back)} mm",
            working,
        )


@rule("R25")
def r25(case: Case) -> Iterator[Finding]:
    """Saddle swap, mm: p.saddle_w x n <= old total + 0.6, and the thread of the screws agrees (memory).

    Much narrower ones (3 mm and more in all) wander sideways.
    """
    n = case.number("string_n")
    room, wide = case.number("saddle_w") * n, case.p("saddle_w") * n
    working = (
        f"{mm(case.p('saddle_w'))} x {n} = {mm(wide)}; old {mm(case.number('saddle_w'))} x {n} = {mm(room)} "
        "+ 0.6"
    )
    if wide > room + SADDLE_ROOM:
        yield case.no_or_order(
            "saddle_w",
            f"the saddles are {mm(wide)} mm wide together, the bridge has room for {mm(room)} mm: take ones of "
            f"at most {mm((room + SADDLE_ROOM) / n)} mm",
            working,
        )
        return
    if room - wide >= WANDER:
        yield case.no_or_order(
            "saddle_w",
            f"the saddles are {mm(room - wide)} mm narrower in all and would wander sideways: take ones of "
            f"more than {mm((room - WANDER) / n)} mm",
            working,
        )
        return
    if (
        case.has("saddle_thread")
        and case.p_has("thread")
        and case.word("saddle_thread") != case.p_word("thread")
    ):
        yield case.no(
            f"the saddle screws are {case.p_word('thread')}, the bridge has {case.word('saddle_thread')}",
            working,
        )
        return
    if not (case.has("saddle_thread") and case.p_has("thread")):
        yield case.warn(
            "the saddles go side by side; the thread of their screws is not compared, try one first", working
        )
        return
    yield case.fits("the saddles go side by side and the threads agree", working)


@rule("R26")
def r26(case: Case) -> Iterator[Finding]:
    """Block swapped alone: plate screws, string holes and arm thread must all agree (common-practice)."""
    if case.word("br_type") not in ("six-screw-trem", "two-post-trem", "locking-trem"):
        yield case.no(f"a {case.word('br_type')} has no tremolo block to swap")
    elif not case.p_has("matching"):
        yield case.warn("compare plate screws, string holes and arm thread of the block before buying")
    elif case.p_yes("matching"):
        yield case.fits("plate screws, string holes and arm thread agree")
    else:
        yield case.no("the block does not match the plate (screws, string holes or arm thread): take another")

"""Nuts and nut slots: R37-R43. Lengths mm, minutes min. Geometry common-practice, limits memory."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

from estimator.core.text import count
from estimator.fit.case import USUAL, Case, demand, mm, rule
from estimator.model import Finding
from estimator.tables.conditions import LOW_GAP, SLOTLESS

SHAPING = {"nutblank": "shape-nut", "nutcut": "fit-preslotted-nut", "nutmech": "fit-mechanical-nut"}
LOW = {side: LOW_GAP[f"nut_clear_{side}"] for side in "bt"}
HIGH = {"b": Decimal("0.60"), "t": Decimal("0.50")}
EDGE = Decimal("2.8")
SPACING = Decimal("0.8")
THIN_MIN = Decimal(2)
LOST_SAVING = Decimal("0.3")
#: fret height that is new, above / the cut by levelling, from which the nut follows
GROWN, TAKEN = Decimal("0.15"), Decimal("0.08")
STONE = Decimal("0.03")


def shaping_task(case: Case) -> str:
    """The task that shapes the nut of this class."""
    return "fit-mechanical-nut" if case.is_a("tremlock") else SHAPING.get(case.part_kind, "shape-nut")


def has_slots(case: Case) -> bool:
    """Whether the nut that is there has slots to file: a roller or locking nut is set on shims, or lower."""
    return not case.has("nut_mat") or case.word("nut_mat") not in SLOTLESS


def lost(case: Case) -> str:
    """What somebody saw of a nut that nothing is set on any more: cracked, missing; blank where it is whole."""
    state = case.word("nut_state") if case.measured("nut_state") else "good"
    return "" if state == "good" else state


def is_nut(case: Case) -> bool:
    """Whether the part is a nut."""
    return case.is_a(*SHAPING)


@rule("R37")
def r37(case: Case) -> Iterator[Finding]:
    """Nut length, mm: p.len < nut_wid - 0.3 is refused; longer is trimmed in the shaping (memory)."""
    length, wide = case.p("len"), case.number("nut_wid")
    working = f"{mm(length)} < {mm(wide)} - 0.3 = {mm(wide - Decimal('0.3'))}"
    if length < wide - Decimal("0.3"):
        yield case.no_or_order(
            "len",
            f"the nut is {mm(wide - length)} mm too short for a {mm(wide)} mm neck: take one of at least "
            f"{mm(wide - Decimal('0.3'))} mm",
            working,
        )
    else:
        yield case.fits("the nut is long enough" + ("; trim the ends" if length > wide else ""), working)


@rule("R38")
def r38(case: Case) -> Iterator[Finding]:
    """Nut thickness, mm: over the seat by 0.1: thin it, 2 min per 0.5 mm; under by 0.2: refused or a veneer
    (memory).
    """
    thick, seat = case.p("thk"), case.number("nut_seat_w")
    if thick > seat + Decimal("0.1"):
        excess = thick - seat
        minutes = (THIN_MIN * excess / Decimal("0.5")).quantize(Decimal("0.1"), ROUND_HALF_UP)
        yield case.work(
            f"thin the nut by {mm(excess)} mm to the {mm(seat)} mm seat",
            f"2 x ({mm(thick)} - {mm(seat)})/0.5 = {minutes} min",
            demands=(demand(shaping_task(case), USUAL, 1, "nut thicker than its seat", extra_min=minutes),),
        )
    elif thick < seat - Decimal("0.2"):
        yield case.no(
            f"the nut is {mm(seat - thick)} mm too thin for the {mm(seat)} mm seat: take one of at least "
            f"{mm(seat - Decimal('0.2'))} mm, or glue a veneer behind it",
            f"{mm(thick)} < {mm(seat)} - 0.2",
        )
    else:
        yield case.fits("the nut suits the width of its seat", f"{mm(thick)} on {mm(seat)}")


@rule("R39")
def r39(case: Case) -> Iterator[Finding]:
    """Nut base: flat on a curved seat or the reverse -> shape the base (curved-seat factor).

    A ready-cut nut loses 0.3 of the time it saves over one from a blank (memory).
    """
    base = case.p_word("base")
    seat = "curved" if case.word("nut_seat") == "curved" else "flat"
    if base == seat:
        yield case.fits(f"a {base} base on a {seat} seat")
        return
    extra = _lost_saving(case) if case.is_a("nutcut") else Decimal(0)
    more = f", {extra} min more" if extra else ""
    yield case.work(
        f"shape the {base} base of the nut to a {seat} seat{more}",
        f"0.3 x time saved by a ready-cut nut = {extra} min" if extra else "",
        demands=(
            demand(
                shaping_task(case), USUAL, 1, "nut base reshaped", levels={"NS": "curved"}, extra_min=extra
            ),
        ),
    )


def _lost_saving(case: Case) -> Decimal:
    tasks = case.shop.tasks
    if not {"shape-nut", "slot-nut", "fit-preslotted-nut"} <= tasks.keys():
        return Decimal(0)
    made = tasks["shape-nut"].run_min_likely + case.number("string_n") * tasks["slot-nut"].run_min_likely
    saved = max(made - tasks["fit-preslotted-nut"].run_min_likely, Decimal(0))
    return (LOST_SAVING * saved).quantize(Decimal("0.1"), ROUND_HALF_UP)


@rule("R40")
def r40(case: Case) -> Iterator[Finding]:
    """Nut spacing, mm: |p.nut_spread - wanted| > 0.8, or outer string < 2.8 from the board edge -> use a
    blank (memory).
    """
    wanted = case.number("nut_spread")
    spread = case.p_maybe("nut_spread")
    given = wanted if spread is None else spread
    edge = (case.number("nut_wid") - given) / 2
    working = (
        f"edge ({mm(case.number('nut_wid'))} - {mm(given)})/2 = {mm(edge)}, wants 2.8; |{mm(given)} - "
        f"{mm(wanted)}| up to 0.8"
    )
    if spread is None:
        if edge < EDGE:
            yield case.warn(
                f"slot the blank narrower: at {mm(wanted)} mm the outer strings are {mm(edge)} mm from the "
                "edge",
                working,
            )
        else:
            yield case.fits("slots are cut to the spacing wanted", working)
    elif abs(given - wanted) > SPACING:
        yield case.no_or_order(
            "nut_spread",
            f"the slots are spaced {mm(given)} mm, wanted {mm(wanted)} mm: take one of {mm(wanted - SPACING)} to "
            f"{mm(wanted + SPACING)} mm, or make the nut from a blank",
            working,
        )
    elif edge < EDGE:
        yield case.no_or_order(
            "nut_spread",
            f"the outer strings would lie {mm(edge)} mm from the board edge: take one of at most "
            f"{mm(given - 2 * (EDGE - edge))} mm, or make the nut from a blank",
            working,
        )
    else:
        yield case.fits("slot spacing and edge distance are right", working)


@rule("R41")
def r41(case: Case) -> Iterator[Finding]:
    """Fret height changed, mm: new frets > old + 0.15 -> nut slots too low: a shim under the nut (or a new nut).

    A levelling that takes over 0.08 -> nut slots adjusted. Taken = max(wear, uneven) + 0.03 (memory).
    """
    n = case.number("string_n")
    if is_nut(case):
        yield case.fits("the new nut is cut to the frets as they then are")
    elif gone := lost(case):
        yield case.warn(f"the nut is {gone}: another one is cut to the frets as they then are")
    elif case.p_has("crown_h"):
        grown = case.p("crown_h") - case.number("fret_h")
        working = f"{mm(case.p('crown_h'))} - {mm(case.number('fret_h'))} = {mm(grown)}; more than 0.15"
        if grown > GROWN and not has_slots(case):
            yield case.work(
                f"raise the nut on shims: the new frets stand {mm(grown)} mm higher",
                working,
                demands=(demand("set-nut-height", USUAL, 1, "higher frets leave the old nut too low"),),
            )
        elif grown > GROWN:
            yield case.work(
                f"raise the nut on a shim or fit a new one: the new frets stand {mm(grown)} mm higher",
                working,
                demands=(
                    demand("shim-nut", USUAL, 1, "higher frets leave the old nut too low"),
                    demand("adjust-nut-slots", USUAL, n, "higher frets leave the old nut too low"),
                ),
            )
        else:
            yield case.fits("the old nut still suits the new frets", working)
    else:
        taken = max(case.number("fret_wear"), case.number("fret_uneven")) + STONE
        working = (
            f"max({mm(case.number('fret_wear'))}, {mm(case.number('fret_uneven'))}) + 0.03 = {mm(taken)}; "
            "more than 0.08"
        )
        if taken > TAKEN and not has_slots(case):
            yield case.work(
                f"set the nut lower, to the lower frets: levelling takes {mm(taken)} mm",
                working,
                demands=(demand("set-nut-height", USUAL, 1, "levelled frets are lower"),),
            )
        elif taken > TAKEN:
            yield case.work(
                f"cut {count(n, 'nut slot')} to the lower frets: levelling takes {mm(taken)} mm",
                working,
                demands=(demand("adjust-nut-slots", USUAL, n, "levelled frets are lower"),),
            )
        else:
            yield case.fits("the nut slots can stay", working)


@rule("R42")
def r42(case: Case) -> Iterator[Finding]:
    """First-fret gap, mm, outer strings: bass <= 0.30 or treble <= 0.20: fill that slot; > 0.60 or > 0.50:
    adjust all (memory). Where both are low, so are the strings between them: fill all slots.
    """
    if is_nut(case):
        yield case.fits("the new nut is cut to its own gap")
        return
    if gone := lost(case):
        yield case.warn(f"the nut is {gone}: nothing is set on it, another one has to be fitted")
        return
    gaps = {"b": case.number("nut_clear_b"), "t": case.number("nut_clear_t")}
    side = {"b": "bass", "t": "treble"}
    low = [s for s in gaps if gaps[s] <= LOW[s]]
    working = f"bass {mm(gaps['b'])} (0.30 to 0.60), treble {mm(gaps['t'])} (0.20 to 0.50)"
    high = [s for s in gaps if gaps[s] > HIGH[s]]
    if not has_slots(case):
        yield _slotless(case, [side[s] for s in low], [side[s] for s in high], working)
        return
    demands = []
    words = []
    if low:
        low_n = Decimal(1) if len(low) == 1 else case.number("string_n")
        also = "look at the inner strings too" if len(low) == 1 else "so are the strings between"
        demands.append(demand("fill-nut-slot", USUAL, low_n, "slot too low over the first fret"))
        words.append(
            f"fill {count(low_n, 'nut slot')} ({' and '.join(side[s] for s in low)} side too low; {also})"
        )
    if high:
        n = case.number("string_n")
        demands.append(demand("adjust-nut-slots", USUAL, n, "strings too high over the first fret"))
        words.append(f"cut {n} nut slots down")
    if demands:
        yield case.work(
            ", ".join(words), working, demands=tuple(demands), does=_does(case, len(low), len(high))
        )
    else:
        yield case.fits("the gap over the first fret is right", working)


def _does(case: Case, low: int, high: int) -> str:
    """What work at the nut itself comes to, where its gaps were measured: a nut that is low is not cut."""
    if not _nut_as_measured(case):
        return ""
    if not low:
        return "cut the nut slots down to their right depth"
    raised = "raise the nut slots" if low > 1 else "raise the low side of the nut"
    return f"{raised}: fill and cut anew{', and cut the high side down' if high else ''}"


def _nut_as_measured(case: Case) -> bool:
    """Whether the work is that at the nut itself, and somebody took both gaps."""
    return case.slot == "nut" and case.measured("nut_clear_b") and case.measured("nut_clear_t")


def _slotless(case: Case, low: list[str], high: list[str], working: str) -> Finding:
    """What a nut without slots wants: shims on a side that is low, its seat taken down on one that is high."""
    if not low and not high:
        return case.fits("the gap over the first fret is right", working)
    words = [f"shim the nut on the {' and '.join(low)} side"] if low else []
    words += [f"set the nut lower on the {' and '.join(high)} side"] if high else []
    asked = demand("set-nut-height", USUAL, 1, "the nut stands too low or too high over the first fret")
    does = ", ".join(words) if _nut_as_measured(case) else ""
    return case.work(", ".join(words), working, demands=(asked,), does=does)


@rule("R43")
def r43(case: Case) -> Iterator[Finding]:
    """Heavier strings: any heavier by more than 0.05 mm (0.002 in) -> nut slots, rod, intonation, tremolo
    (memory).

    Asked as ``string_gauge_change``. A new nut is slotted for them, the rest follows all the same.
    """
    if not case.yes("string_gauge_change"):
        yield case.fits("no string grows by more than 0.05 mm")
        return
    n = case.number("string_n")
    filed = has_slots(case) and (is_nut(case) or not lost(case))
    slots = [demand("adjust-nut-slots", USUAL, n, "heavier strings")] if filed else []
    demands = [
        *slots,
        demand("adjust-truss-rod", USUAL, 1, "heavier strings pull harder"),
        demand("set-intonation", USUAL, n, "heavier strings"),
    ]
    if case.word("br_type") in ("six-screw-trem", "two-post-trem", "locking-trem", "roller-vibrato"):
        demands.append(demand("set-tremolo", USUAL, 1, "heavier strings pull harder"))
    yield case.work(
        f"heavier strings (over 0.05 mm): {'widen slots, ' if slots else ''}set rod and intonation again",
        demands=tuple(demands),
    )

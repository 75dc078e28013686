"""New frets: tang and slot, stainless wire, lacquered boards, humps: R49-R52. mm; limits memory."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import count
from estimator.fit.case import USUAL, Case, demand, mm, rule
from estimator.fit.rules.frets import FRET_WIRES, LEVEL_LEAST, height_cap, height_left
from estimator.model import Demand, Finding

TANG_TIGHT = Decimal("0.08")
HUMP = Decimal("0.20")
RUN_SHARE_GLUED, RUN_SHARE_WIDENED = Decimal("1.15"), Decimal("1.5")


@rule("R49")
def r49(case: Case) -> Iterator[Finding]:
    """Tang in its slot, mm: fit = p.tang_w - slot width, wanted 0.00 to 0.08 (memory).

    Below: glued in, seating 15 % longer. Above: the neck may bend back; widen the slots (cleaning x 1.5).
    """
    if not case.has("fret_slot_w"):
        yield case.warn(
            f"pull one fret and measure its slot: the tang is {mm(case.p('tang_w'))} mm and wants "
            "0.00-0.08 mm less"
        )
        return
    tight, n = case.p("tang_w") - case.number("fret_slot_w"), case.number("fret_n")
    working = f"{mm(case.p('tang_w'))} - {mm(case.number('fret_slot_w'))} = {mm(tight)}; wants 0.00 to 0.08"
    if tight < 0:
        yield case.work(
            f"glue the frets in: their tangs are {mm(-tight)} mm loose",
            working,
            demands=(demand("seat-frets", USUAL, n, "tangs loose in their slots", share=RUN_SHARE_GLUED),),
        )
    elif tight > TANG_TIGHT:
        yield case.work(
            f"widen the slots: tangs {mm(tight)} mm over would bend the neck back; or take a smaller tang",
            working,
            demands=(
                demand(
                    "clean-fret-slots", USUAL, n, "tangs too tight for the slots", share=RUN_SHARE_WIDENED
                ),
            ),
        )
    else:
        yield case.fits("the tangs press in as they should", working)


@rule("R50")
def r50(case: Case) -> Iterator[Finding]:
    """Stainless wire: longer work and more tool wear (factors of the metal), one spare piece per six
    (memory).
    """
    if not case.is_a("fretss"):
        return
    n = case.number("fret_n")
    spare = -(-int(n) // 6)
    yield case.warn(
        f"stainless: use nippers rated for it, buy {count(spare, 'spare piece')} ({n} frets, one per six)",
        f"{n}/6",
    )


@rule("R51")
def r51(case: Case) -> Iterator[Finding]:
    """Refret of a lacquered maple board: four coats at 0.4 of the run, seven days to harden, or wiped oil
    (memory).
    """
    if case.word("board_mat") != "maple-lacquered":
        yield case.fits("no lacquer on the board to make good")
        return
    yield case.work(
        "spray four coats on the board after the refret and let them harden seven days (unless a wiped oil "
        "is accepted)",
        "spray-coat x 4 at 0.4 of the run",
        demands=(demand("spray-coat", "board", 4, "lacquered board after a refret", share=Decimal("0.4")),),
    )


@rule("R52")
def r52(case: Case) -> Iterator[Finding]:
    """Hump over the joint, mm: over 0.20 the board is trued with frets out, or levelled away if height allows
    (memory).
    """
    hump = case.number("hump")
    if hump <= HUMP:
        yield case.fits("no hump to speak of", f"{mm(hump)} <= 0.20")
        return
    if case.is_a(*FRET_WIRES):
        yield case.work(
            f"true the board: it humps {mm(hump)} mm", f"{mm(hump)} > 0.20", demands=(_true_board(),)
        )
        return
    left = height_left(case) - hump
    working = f"{mm(height_left(case))} - hump {mm(hump)} = {mm(left)}; wants 0.70"
    if left >= LEVEL_LEAST:
        yield case.warn(
            f"level with fall-away: the hump takes {mm(hump)} mm more, {mm(left)} mm will be left there",
            working,
            effects=height_cap(case, left),
        )
    else:
        yield case.no(
            f"the board humps {mm(hump)} mm, more than the frets can lose: refret and true the board", working
        )


def _true_board() -> Demand:
    return demand("true-board", USUAL, 1, "hump over the neck joint")

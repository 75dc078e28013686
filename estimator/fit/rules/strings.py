"""Strings over board, pickups and saddles: R17-R21, R84, R88. Lengths in mm.

Geometry is common-practice; limits are remembered from the bench (memory) unless said.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

from estimator.fit.case import USUAL, Case, cm3, demand, mm, over, rule
from estimator.fit.rules.bridges import is_bass
from estimator.model import Finding
from estimator.model.pickups import PICKUPS
from estimator.tables.conditions import BUZZ, SIDES, board_share, height_share, level_of_height

GOOD_EDGE, LEAST_EDGE = Decimal("3.0"), Decimal("2.5")
POLE_ERROR = Decimal("2.0")
#: string height wanted when nothing else is asked: outer bass and treble string, mm, at the 12th fret
#: of a guitar and the 17th of a bass (memory)
TOP_LEVEL = 4
WANTED_ACTION = {"guitar": (Decimal("2.0"), Decimal("1.6")), "bass": (Decimal("2.7"), Decimal("2.4"))}
SHIM_SHARE = Decimal("0.30")
#: ready tapers: up to this drop of the strings at the saddle, this angle in degrees
SHIMS = ((Decimal("1.1"), "0.25"), (Decimal("2.2"), "0.5"), (Decimal("4.4"), "1.0"))
STRING_SPARE = Decimal(40)
BALL_BEHIND = Decimal(25)


@rule("R17")
def r17(case: Case) -> Iterator[Finding]:
    """String path at the last fret, mm: w = nut_spread + (str_spread - nut_spread) x (1 - 2^(-fret_n/12)).

    edge = (board_last_wid - w) / 2: 3.0 and more is good, 2.5-3.0 narrow, less is refused (memory).
    """
    neck = case.is_a("neck")
    nut = case.p("nut_spread") if neck else case.number("nut_spread")
    saddles = case.number("str_spread") if neck else case.p("str_spread")
    frets = case.p("fret_n") if neck else case.number("fret_n")
    board = case.p("last_wid") if neck else case.number("board_last_wid")
    width = nut + (saddles - nut) * board_share(frets)
    edge = (board - width) / 2
    working = (
        f"w = {mm(nut)} + ({mm(saddles)} - {mm(nut)}) x {mm(board_share(frets), '0.001')} = {mm(width)}; "
        f"edge ({mm(board)} - {mm(width)})/2 = {mm(edge)}"
    )
    if edge >= GOOD_EDGE:
        yield case.fits(f"the outer strings run {mm(edge)} mm inside the board at the last fret", working)
    elif edge >= LEAST_EDGE:
        yield case.warn(
            f"the outer strings come to {mm(edge)} mm from the board edge at the last fret: narrow",
            working,
            tells="outer-strings-near-edge",
        )
    else:
        where = "the nut" if neck else "the saddles"
        most = _widest(nut, saddles, board_share(frets), board - 2 * LEAST_EDGE, at_nut=neck)
        yield case.no(
            f"the outer strings would run {mm(edge)} mm from the board edge at the last fret and slip off: "
            f"take a spread of at most {mm(most)} mm at {where}",
            working,
        )


def _widest(nut: Decimal, saddles: Decimal, share: Decimal, width: Decimal, *, at_nut: bool) -> Decimal:
    """The widest spread at one end that keeps the strings within a width at the last fret."""
    return (width - saddles * share) / (1 - share) if at_nut else nut + (width - nut) / share


def spread_at(case: Case, place: str, saddles: Decimal) -> Decimal:
    """Outer string spread over a pickup: nut_spread + (saddle spread - nut_spread) x x/scale."""
    nut = case.number("nut_spread")
    return nut + (saddles - nut) * case.number(f"pu_x_{place}") / case.number("scale")


@rule("R18")
def r18(case: Case) -> Iterator[Finding]:
    """Poles under the strings, mm: |pole spread - string spread at the place| <= 2.0 (memory).

    A pickup that is farther off sounds on, less evenly: something to know of one that is there or was
    measured. One that is to be bought is ordered in the spacing that suits, or is none where none is sold.
    """
    bar = case.p_has("bar") and case.p_yes("bar")
    if bar and not case.p_has("pole_spread"):
        yield case.fits("bars lie under every string")
        return
    if case.p_has("pole_spread"):
        place = case.pickup
        found = _poles(case, place, case.p("pole_spread"), case.number("str_spread"), bar)
        if found.outcome == "warn" and case.p_typical("pole_spread"):
            found = case.no_or_order("pole_spread", found.sentence, found.working)
        yield found
        return
    saddles = case.p_maybe("str_spread")
    if saddles is None:
        return
    for place in PICKUPS:
        layout = f"pu_{place}"
        if case.has(f"pole_spread_{place}") and not (case.has(layout) and case.word(layout) == "none"):
            yield _poles(case, place, case.number(f"pole_spread_{place}"), saddles)


def _poles(case: Case, place: str, poles: Decimal, saddles: Decimal, bar: bool = False) -> Finding:
    """Poles, or a bar that is so long: it may reach beyond the outer strings, but not end between them."""
    strings = spread_at(case, place, saddles)
    off = strings - poles if bar else abs(poles - strings)
    if bar:
        working = f"{mm(strings)} - {mm(poles)} = {mm(off)}; up to 2.0"
        if off <= POLE_ERROR:
            return case.fits(f"the bar lies under every string at the {place}", working)
        told = (
            f"at the {place} the bar ({mm(poles)} mm) ends inside the outer strings ({mm(strings)} mm): take "
            f"one of {mm(strings - POLE_ERROR)} mm or more"
        )
        return case.warn(told, working, tells="poles-beside-strings")
    working = f"|{mm(poles)} - {mm(strings)}| = {mm(off)}; up to 2.0"
    if off > POLE_ERROR:
        return case.warn(
            f"at the {place} the poles ({mm(poles)} mm) miss the strings ({mm(strings)} mm): take "
            f"{mm(strings - POLE_ERROR)} to {mm(strings + POLE_ERROR)} mm, or a bar pickup",
            working,
            tells="poles-beside-strings",
        )
    return case.fits(f"the poles lie under the strings at the {place}", working)


def action_excess(case: Case) -> Decimal:
    """How much the worse outer string stands above the height wanted (negative: below)."""
    wanted = WANTED_ACTION["bass" if is_bass(case) else "guitar"]
    return max(case.number("action_b") - wanted[0], case.number("action_t") - wanted[1])


def saddle_drop(case: Case) -> Decimal:
    """What the strings must come down at the saddles: excess / share of the string at the fret measured.

    Twice the excess at the 12th fret (share 1/2), 1.6 times at the 17th (share 0.625).
    """
    return action_excess(case) / height_share(is_bass(case))


def lowest_difference(case: Case) -> Decimal:
    """How much higher the lowest saddle of a new bridge stands than the old one (0: same bridge)."""
    if not (case.p_has("h_min") and case.has("string_h_body")):
        return Decimal(0)
    return case.p("h_min") - (case.number("string_h_body") - case.number("saddle_down"))


def _height_cap(case: Case, travel: Decimal, way: int) -> tuple[tuple[str, str, Decimal], ...]:
    """What the saddles of a new bridge, all the way down (-1) or up (1), allow of the action measured, mm."""
    if case.part is None:
        return ()
    kind, share = "bass" if is_bass(case) else "guitar", height_share(is_bass(case))
    least = TOP_LEVEL
    for side, (field, _) in SIDES.items():
        if not case.measured(field):
            continue
        end = case.number(field) + way * travel * share
        if way < 0:
            levels = level_of_height(side, end, is_bass(case))
        else:
            levels = 1 if end < Decimal(BUZZ[kind, side]) else TOP_LEVEL
        least = min(least, levels)
    return (("action", "cap", Decimal(least)),) if least < TOP_LEVEL else ()


def is_height_measured(case: Case) -> bool:
    """Whether the heights that old and new bridge are compared by are known, not assumed."""
    part_known = case.part is not None and "h_min" not in case.part.typical
    return part_known and case.measured("string_h_body")


def _lowest(case: Case, more: Decimal) -> str:
    return f", to at most {mm(case.p('h_min') - more)} mm" if case.p_has("h_min") else ""


@rule("R19")
def r19(case: Case) -> Iterator[Finding]:
    """Strings too high with the saddles down, mm: drop > travel left down -> tapered shim s = 0.30 x drop.

    0.25 degrees up to a drop of 1.1, 0.5 to 2.2, 1.0 to 4.4 (memory). Bolt-on necks only; others are refused.
    """
    own, higher, down = saddle_drop(case), lowest_difference(case), case.number("saddle_down")
    drop = own + higher
    working = f"drop {mm(own)} + {mm(higher)} = {mm(drop)}; saddles can go down {mm(down)}"
    if own <= down < drop and not is_height_measured(case):
        yield case.warn(
            "measure the strings over the body and the least height of the new bridge: as assumed, "
            f"the strings would stay {mm(drop - down)} mm too high",
            working,
            effects=_height_cap(case, down - higher, -1),
        )
        return
    if drop <= down:
        low = _height_cap(case, down - higher, -1)
        yield case.fits("the saddles go low enough", working, effects=low)
        return
    if case.word("joint") != "bolt":
        yield case.no(
            f"the strings stay {mm(drop - down)} mm too high with the saddles down, and a "
            f"{case.word('joint')} neck takes no shim: "
            f"take a bridge that goes {mm(drop - down)} mm lower{_lowest(case, drop - down)}",
            working,
        )
        return
    thick = SHIM_SHARE * drop
    angle = next((angle for most, angle in SHIMS if drop <= most), "")
    if not angle:
        yield case.no(
            f"the strings would have to come down {mm(drop)} mm, more than any shim gives (4.4 mm)", working
        )
        return
    yield case.work(
        f"shim the neck with a {angle} degree taper, {mm(thick)} mm at the thick end: saddles must drop "
        f"{mm(drop)} mm and can drop {mm(down)} mm",
        f"{working}; s = 0.30 x {mm(drop)} = {mm(thick)}",
        demands=(demand("shim-neck", USUAL, 1, "saddles cannot go low enough"),),
    )


@rule("R20")
def r20(case: Case) -> Iterator[Finding]:
    """Strings too low with the saddles up, mm: travel up left after the change < 0.5 (memory)."""
    drop = saddle_drop(case)
    if case.p_has("h_max") and case.has("string_h_body"):
        left = case.p("h_max") - (case.number("string_h_body") - drop)
        working = (
            f"{mm(case.p('h_max'))} - ({mm(case.number('string_h_body'))} - {mm(drop)}) = {mm(left)}; wants "
            "0.5"
        )
    else:
        left = case.number("saddle_up") + drop
        working = f"{mm(case.number('saddle_up'))} + {mm(drop)} = {mm(left)}; wants 0.5"
    if left < Decimal("0.5"):
        yield case.warn(
            f"only {mm(left)} mm of saddle travel left upward: take out a shim, reverse it, or fit taller "
            "saddles",
            working,
            effects=_height_cap(case, left - drop, 1),
        )
    else:
        yield case.fits(f"{mm(left)} mm of saddle travel left upward", working)


@rule("R21")
def r21(case: Case) -> Iterator[Finding]:
    """Bridge taller by design, mm: p.h_min > string height over the body + 2 x travel left down is refused
    (memory).

    Unless it is recessed: V = footprint x difference / 1000.
    """
    if not case.p_has("h_min"):
        return
    if not case.has("string_h_body"):
        yield case.warn(
            "measure the string height over the body at the bridge: this bridge stands at least "
            f"{mm(case.p('h_min'))} mm high"
        )
        return
    low, now, down = case.p("h_min"), case.number("string_h_body"), case.number("saddle_down")
    working = f"{mm(low)} > {mm(now)} + 2 x {mm(down)} = {mm(now + 2 * down)}"
    if low <= now + 2 * down:
        yield case.fits(f"its lowest string height ({mm(low)} mm) suits the neck", working)
        return
    recess = ""
    if case.p_has("foot_l") and case.p_has("foot_w"):
        volume = cm3(case.p("foot_l") * case.p("foot_w") * (low - now) / 1000)
        recess = f", or recess it ({volume} cm3 of routing)"
    yield case.no_or_order(
        "h_min",
        f"the bridge stands at least {mm(low)} mm over the body, the neck wants {mm(now)} mm: take one of at "
        f"most {mm(now + 2 * down)} mm{recess}",
        working,
    )


@rule("R88")
def r88(case: Case) -> Iterator[Finding]:
    """Strings: what has a saddle, a slot or a hole for each string is made for as many as there are
    (common-practice).
    """
    if case.p_has("for_bass") and case.p_yes("for_bass") != is_bass(case):
        made_for = "bass" if case.p_yes("for_bass") else "guitar"
        yield case.no(f"it is made for a {made_for}")
        return
    name, what = ("tuner_n", "tuners") if case.p_has("tuner_n") else ("string_n", "strings")
    made, there = case.p(name), case.number(name)
    if made < there or made > there:
        wants = f"it has {made} {what}" if name == "tuner_n" else f"it is made for {made} {what}"
        yield case.no_or_order(name, f"{wants}: take one for {there}")
    else:
        yield case.fits(f"it is made for {there} {what}")


@rule("R84")
def r84(case: Case) -> Iterator[Finding]:
    """String length, mm: scale + ball end behind the saddles + 40 to wind (+ body when strung through) <=
    p.len (memory).
    """
    through = (case.p_has("through") and case.p_yes("through")) or (
        not case.is_a("bassbridge") and case.yes("through")
    )
    behind = case.p_maybe("ball_back") if case.is_a("bassbridge") else case.maybe("ball_back")
    if behind is None:
        behind = BALL_BEHIND
    need = case.number("scale") + behind + STRING_SPARE + (case.number("body_thk") if through else 0)
    body = f" + body {mm(case.number('body_thk'))}" if through else ""
    working = f"{mm(case.number('scale'))} + {mm(behind)} + 40{body} = {mm(need)}"
    if not case.p_has("len") or not case.is_a("strings"):
        yield case.fits(
            f"buy strings that reach {need.quantize(Decimal(1), ROUND_HALF_UP)} mm from ball to winding",
            working,
        )
    elif over(need - case.p("len")) > 0:
        yield case.no(
            f"the strings are {mm(need - case.p('len'))} mm too short ({mm(case.p('len'))} mm, needs "
            f"{mm(need)} mm): take a longer set",
            working,
        )
    else:
        yield case.fits("the strings are long enough", working)

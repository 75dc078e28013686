"""Fret work: R44-R48. Heights and widths mm. Limits memory unless said; geometry common-practice."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import count
from estimator.fit.case import USUAL, Case, demand, mm, rule
from estimator.model import Finding

HEIGHT = "fret-height"
STONE = Decimal("0.03")
SPOTS, SPOT_WEAR = 3, Decimal("0.05")
#: grooves that no spot work takes out, mm (memory)
DEEP_WEAR = Decimal("0.15")
LEVEL_SAFE, LEVEL_LEAST = Decimal("0.85"), Decimal("0.70")
FRET_WIRES = ("fretns", "frethard", "fretss")
MANY_LOOSE = 8
SPROUT = Decimal("0.10")


def height_left(case: Case) -> Decimal:
    """Fret height after levelling: fret_h - max(fret_wear, fret_uneven) - 0.03."""
    return case.number("fret_h") - max(case.number("fret_wear"), case.number("fret_uneven")) - STONE


def level_of(case: Case, attribute: str, amount: Decimal) -> Decimal | None:
    """The level an amount stands for: how many of the attribute's limits it reaches."""
    spec = case.shop.attributes.get(attribute)
    if spec is None or not spec.limits:
        return None
    return Decimal(sum(1 for limit in spec.limits if amount >= limit))


def height_cap(case: Case, amount: Decimal) -> tuple[tuple[str, str, Decimal], ...]:
    """Effect on fret height: it can be no better than what is left."""
    level = level_of(case, HEIGHT, amount)
    return () if level is None else ((HEIGHT, "cap", level),)


def is_spot(case: Case) -> bool:
    """Whether only single frets are to be filed."""
    return case.part is None and case.upgrade.startswith("spot")


def _height_working(case: Case) -> str:
    return (
        f"{mm(case.number('fret_h'))} - max({mm(case.number('fret_wear'))}, "
        f"{mm(case.number('fret_uneven'))}) - 0.03 "
        f"= {mm(height_left(case))}"
    )


@rule("R44")
def r44(case: Case) -> Iterator[Finding]:
    """Level or refret, mm: h_left = fret_h - max(wear, uneven) - 0.03.

    h_left >= 0.85 level; 0.70 to 0.85 level with the customer told; below 0.70 refret. Players differ on the
    limit (memory). Fret height afterwards is no better than h_left; with new wire no better than its crown.
    """
    left, working = height_left(case), _height_working(case)
    if case.is_a(*FRET_WIRES):
        crown = case.p("crown_h")
        cap = height_cap(case, crown)
        if left >= LEVEL_SAFE:
            yield case.warn(
                f"a level would do: {mm(left)} mm would be left of the old frets", working, effects=cap
            )
        else:
            yield case.fits(
                f"new frets of {mm(crown)} mm; the old ones would have {mm(left)} mm left",
                working,
                effects=cap,
            )
    elif is_spot(case):
        now = case.number("fret_h") - STONE
        if now < LEVEL_LEAST:
            yield case.no(
                f"too little fret to file: {mm(now)} mm would be left (wants 0.70 mm), refret instead",
                f"{mm(now + STONE)} - 0.03",
            )
        else:
            yield case.fits(
                f"high places can be filed, the frets are {mm(now + STONE)} mm", f"{mm(now + STONE)} - 0.03"
            )
    elif left >= LEVEL_SAFE:
        yield case.fits(
            f"the frets take a level: {mm(left)} mm will be left", working, effects=height_cap(case, left)
        )
    elif left >= LEVEL_LEAST:
        yield case.warn(
            f"the frets take one last level: {mm(left)} mm will be left, tell the customer",
            working,
            effects=height_cap(case, left),
            tells="last-level",
        )
    else:
        yield case.no(
            f"too little fret to level: {mm(left)} mm would be left (wants 0.70 mm), refret instead", working
        )


@rule("R45")
def r45(case: Case) -> Iterator[Finding]:
    """Spot work: at most 3 uneven places and wear <= 0.05 mm elsewhere -> spot-level-fret instead of a level
    (memory).
    """
    wear = case.number("fret_wear")
    places = case.maybe("high_fret_n")
    if places is None:
        if is_spot(case):
            yield case.warn(
                "count the high places with a rocker: up to three are spot work, more want a level"
            )
        elif case.number("fret_uneven") > Decimal("0.08") and wear <= Decimal("0.05"):
            yield case.warn(
                "little wear: if no more than three places are high, spot work does instead of a level"
            )
        return
    working = f"{places} places (up to 3), wear {mm(wear)} (up to 0.05 elsewhere)"
    spot = places <= SPOTS and wear <= SPOT_WEAR
    if is_spot(case):
        if places > SPOTS:
            yield case.no(f"{count(places, 'high place')} are past spot work: level instead", working)
            return
        if wear > DEEP_WEAR:
            yield case.no(f"grooves of {mm(wear)} mm are past spot work: level instead", working)
            return
        if places:
            yield case.work(
                f"file, crown and polish {count(places, 'high place')}",
                working,
                demands=(demand("spot-level-fret", USUAL, places, "high places under the rocker"),),
            )
        else:
            yield case.fits("no high places to spot", working)
        if wear > SPOT_WEAR:
            yield case.warn(
                f"grooves of {mm(wear)} mm: if they lie beside the high places, level instead", working
            )
    elif spot:
        yield case.warn(f"only {count(places, 'high place')}: spot work would do instead of a level", working)


@rule("R46")
def r46(case: Case) -> Iterator[Finding]:
    """Partial refret: at most 6 grooved frets in one run, the others h_left >= 1.0 mm (memory)."""
    grooved = case.maybe("grooved_n")
    if grooved is None:
        yield case.warn(
            "count the grooved frets: up to six in a row with 1.0 mm left elsewhere want only a partial "
            "refret"
        )
        return
    others = case.number("fret_h") - case.number("fret_uneven") - STONE
    working = f"{grooved} grooved (up to 6); others {mm(others)} (wants 1.0)"
    few = 0 < grooved <= 6 and others >= 1
    if case.is_a("fretpiece"):
        if few:
            yield case.fits(f"new wire on {count(grooved, 'fret')}, then level and crown all", working)
        else:
            why = (
                "no fret is grooved"
                if not grooved
                else "too many are grooved, or too little is left elsewhere"
            )
            yield case.no(f"no partial refret: {why}; level, or refret all", working)
    elif few:
        yield case.warn(
            f"a partial refret of {count(grooved, 'fret')} would do, then level and crown all", working
        )
    else:
        yield case.fits("a full refret is called for", working)


@rule("R47")
def r47(case: Case) -> Iterator[Finding]:
    """Loose frets before levelling: reseat each; more than 8 -> refret (memory)."""
    loose = case.number("fret_loose_n")
    if case.is_a(*FRET_WIRES):
        yield case.fits("loose frets come out anyway")
    elif loose > MANY_LOOSE:
        yield case.no(f"{loose} frets are loose: reseating so many is a refret", f"{loose} > {MANY_LOOSE}")
    elif loose > 0:
        yield case.work(
            f"reseat {count(loose, 'loose fret')} before levelling",
            f"{loose} <= {MANY_LOOSE}",
            demands=(demand("reseat-fret", USUAL, loose, "loose frets cannot be levelled"),),
        )
    else:
        yield case.fits("no loose frets")


@rule("R48")
def r48(case: Case) -> Iterator[Finding]:
    """Fret sprout, mm: over 0.10 -> dress the ends of all frets (memory)."""
    sprout, n = case.number("fret_sprout"), case.number("fret_n")
    working = f"{mm(sprout)} > 0.10"
    if sprout > SPROUT:
        yield case.work(
            f"dress the ends of {n} frets: they stand out {mm(sprout)} mm",
            working,
            demands=(demand("dress-fret-ends", USUAL, n, "fret ends stand out of the board"),),
        )
    else:
        yield case.fits("the fret ends do not stand out", f"{mm(sprout)} <= 0.10")

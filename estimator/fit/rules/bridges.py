"""Bridge screws, threads, string-through holes, ground: R01-R03, R23, R24, R27.

Lengths in mm. Geometry is common-practice; limits are remembered from the bench (memory) unless said.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.core.text import BASS, count, family_of
from estimator.fit.case import USUAL, Case, demand, mm, rule
from estimator.fit.holes import SAME_SIZE, TOLERANCE, Hole, compare_holes, hole_demands, row
from estimator.fit.rules.pickups import is_active
from estimator.model import Demand, Finding

POSTED = frozenset({"two-post-trem", "locking-trem", "post-and-tailpiece", "wraparound"})
POST_BORE = Decimal(10)
PLACE = "bridge-holes"
USUAL_PILOT = Decimal("0.72")
BODY_THROUGH = (Decimal(28), Decimal(50))


def is_bass(case: Case) -> bool:
    """Whether the instrument is a bass."""
    return family_of(case.word("kind")) == BASS


def pilot_share(case: Case) -> Decimal:
    """Pilot hole as a share of the screw in this body wood: 0.65 soft, 0.72 usual, 0.80 hard (memory)."""
    wood = case.shop.woods.get(case.word_or("body_wood", "unknown"))
    return wood.pilot_share if wood else USUAL_PILOT


def posts_pulled(case: Case) -> bool:
    """Whether somebody saw that the posts pull forward out of the wood."""
    return case.measured("posts_pulling") and case.yes("posts_pulling")


def existing_row(case: Case) -> tuple[Hole, ...]:
    """The holes of the bridge that is there: a row of screw pilots, or two post bores."""
    if case.word("br_type") in POSTED:
        bore = case.number_or("post_bush_d", POST_BORE)
        # a bore that a post pulled open carries nothing and shows: it is plugged wherever the new holes fall
        return row(2, case.number("br_spread"), bore, seen=posts_pulled(case))
    pilot = pilot_share(case) * case.number("br_screw_d")
    if case.has("br_pattern") and case.word("br_pattern") != IN_A_ROW:
        return pattern_holes(case, case.word("br_pattern"), pilot)
    return row(case.number("br_screw_n"), case.number("br_spread"), pilot)


def needed_row(case: Case) -> tuple[Hole, ...]:
    """The screw pilots of the new bridge: a row across the strings, or the pattern that the part names."""
    pilot = pilot_share(case) * case.p("screw_d")
    if case.p_has("pattern") and case.p_word("pattern") != IN_A_ROW:
        return pattern_holes(case, case.p_word("pattern"), pilot)
    return row(case.p("screw_n"), case.p("spread"), pilot)


IN_A_ROW = "row"


def pattern_holes(case: Case, name: str, d: Decimal) -> tuple[Hole, ...]:
    """The holes of a pattern of the tables, its main row on the line of the screws."""
    return tuple(Hole(one.along, one.across, d) for one in case.shop.drawn.patterns.get(name, ()))


def _rows_words(holes: tuple[Hole, ...]) -> str:
    """``5 over 50 mm`` of a row; of a pattern also how far its rows lie apart."""
    across, along = [hole.y for hole in holes], [hole.x for hole in holes]
    if not holes:
        return "0"
    deep = f" by {mm(max(along) - min(along))}" if max(along) != min(along) else ""
    return f"{len(holes)} over {mm(max(across) - min(across))}{deep} mm"


def plug_task(case: Case) -> str:
    """A tremolo pivots on its screws: those holes get a glued dowel, others as their size asks."""
    pivot = case.word("br_type") == "six-screw-trem" and case.is_a("trem6")
    return "plug-hole" if pivot else ""


@rule("R01")
def r01(case: Case) -> Iterator[Finding]:
    """Screw row of the same count with another spread, mm.

    pitch = spread / (n - 1); error of screw k (1..n) e_k = |k - (n + 1) / 2| x |pitch_new - pitch_old|.
    A screw is reused when e_k <= 0.5 (and its pilot is the same within 0.4), else plugged and drilled.
    Geometry common-practice, tolerance memory.
    """
    if case.word("br_type") != "six-screw-trem" or not case.is_a("trem6"):
        return
    n, new_n = case.number("br_screw_n"), case.p("screw_n")
    if n != new_n or n < 2:
        return
    old_pitch, new_pitch = case.number("br_spread") / (n - 1), case.p("spread") / (n - 1)
    errors = [abs(k - (n + 1) / 2) * abs(new_pitch - old_pitch) for k in range(1, int(n) + 1)]
    test = compare_holes(existing_row(case), needed_row(case), TOLERANCE["bridge"])
    working = (
        f"pitch {mm(case.number('br_spread'))}/{n - 1} = {mm(old_pitch)} to {mm(case.p('spread'))}/{n - 1} = "
        f"{mm(new_pitch)}; errors {', '.join(mm(e) for e in errors)}; reused where e <= 0.5"
    )
    if not test.drilled:
        yield case.fits(f"all {n} pivot screws meet the old holes", working)
        return
    spare = int(n) - len(test.plugged)
    habit = (
        f"; plugging all {n} ({spare} more) halves the odds of doing it again"
        if test.plugged and spare
        else ""
    )
    yield case.work(
        f"plug {count(len(test.plugged), 'pivot hole')}, drill {count(test.drilled, 'hole')}: the spread "
        "goes "
        f"from {mm(case.number('br_spread'))} to {mm(case.p('spread'))} mm, {test.reused} of {n} holes "
        f"meet{habit}",
        working,
        demands=lay_out(tuple(hole_demands(test, PLACE, "another screw spread", "plug-hole"))),
    )


def lay_out(demands: tuple[Demand, ...]) -> tuple[Demand, ...]:
    """Holes come with laying out the bridge, once."""
    return (*demands, demand("layout-bridge", USUAL, 1, "new holes have to fall on the scale line"))


def _pattern(case: Case) -> Iterator[Finding]:
    """Both screw patterns centred on the neck, compared hole by hole."""
    test = compare_holes(existing_row(case), needed_row(case), TOLERANCE["bridge"])
    working = (
        f"old row {_rows_words(test.existing)}, new row {_rows_words(test.needed)}; errors "
        f"{', '.join(mm(f.error) for f in test.new)} (reuse up to 0.5)"
    )
    if not test.drilled:
        yield case.fits(f"all {len(test.needed)} screws meet old holes", working)
        return
    parts = [f"plug {count(len(test.plugged), 'hole')}"] if test.plugged else []
    parts.append(f"drill {count(test.drilled, 'hole')}")
    yield case.work(
        f"{', '.join(parts)} for the bridge: {test.reused} of {len(test.needed)} screws meet old holes "
        "(both rows centred on the neck; compare the real patterns before drilling)",
        working,
        demands=lay_out(tuple(hole_demands(test, PLACE, "another screw pattern", plug_task(case)))),
    )


@rule("R02")
def r02(case: Case) -> Iterator[Finding]:
    """Screw row of another count, or of another kind of bridge: the hole-by-hole test, mm.

    Both rows are centred on the neck centreline; tolerance 0.5. Geometry common-practice, limits memory.
    A bridge that stands on posts has no screw row and is left to the post rules.
    """
    same_kind = case.word("br_type") == "six-screw-trem" and case.is_a("trem6")
    if same_kind and case.number("br_screw_n") == case.p("screw_n"):
        return
    yield from _pattern(case)


@rule("R03")
def r03(case: Case) -> Iterator[Finding]:
    """Thicker or thinner screws in the same place, mm: pilot = share of the wood x thread.

    Share 0.65 in soft woods, 0.72 in usual ones, 0.80 in hard ones (memory; column pilot_share of the
    woods). The holes themselves are counted with the screw row, so nothing is counted twice.
    """
    share = pilot_share(case)
    old, new = share * case.number("br_screw_d"), share * case.p("screw_d")
    working = (
        f"pilot {mm(share)} x {mm(case.p('screw_d'))} = {mm(new)}; old {mm(share)} x "
        f"{mm(case.number('br_screw_d'))} = {mm(old)}"
    )
    if abs(new - old) <= SAME_SIZE:
        yield case.fits(f"the screws suit holes that are reused; new ones get a {mm(new)} mm pilot", working)
    elif new > old:
        yield case.warn(
            f"thicker screws: holes that are reused are opened to {mm(new)} mm (counted with the screw row)",
            working,
        )
    else:
        yield case.warn(
            f"thinner screws: holes that are reused are filled and drilled to {mm(new)} mm (counted with "
            "the screw row)",
            working,
        )


@rule("R23")
def r23(case: Case) -> Iterator[Finding]:
    """String-through bridge on a body without such holes: bore 8.0 mm, body 28-50 mm (memory)."""
    if not case.p_yes("through"):
        return
    if case.yes("through"):
        yield case.fits("string-through holes are there; compare their spacing")
        return
    thick, n = case.number("body_thk"), case.number("string_n")
    working = f"{BODY_THROUGH[0]} <= {mm(thick)} <= {BODY_THROUGH[1]}"
    if not BODY_THROUGH[0] <= thick <= BODY_THROUGH[1]:
        yield case.no(
            f"a body of {mm(thick)} mm cannot be drilled through for strings (wants 28 to 50 mm)", working
        )
        return
    yield case.work(
        f"drill {n} string holes through the body and press {n} ferrules",
        working,
        demands=(
            demand("drill-string-through", "string-holes", n, "string-through bridge"),
            demand("fit-string-ferrules", "string-holes", n, "string-through bridge"),
        ),
    )


@rule("R24")
def r24(case: Case) -> Iterator[Finding]:
    """Ground wire to a metal bridge with passive pickups: one ground-bridge where it is missing (common-
    practice).
    """
    if case.yes("br_gnd"):
        yield case.fits("the bridge is grounded")
        return
    if is_active(case):
        yield case.warn("no bridge ground; with a battery on board check whether the pickups want one")
        return
    yield case.work(
        "run a ground wire to the bridge, there is none",
        demands=(demand("ground-bridge", USUAL, 1, "no ground wire to the bridge"),),
    )


@rule("R27")
def r27(case: Case) -> Iterator[Finding]:
    """Bass bridge: the hole-by-hole test on every screw, mm, tolerance 0.5 (geometry common-practice)."""
    if not is_bass(case):
        yield case.no("a bass bridge does not go on a guitar")
        return
    yield from _pattern(case)

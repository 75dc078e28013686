"""Hole plans: which holes an upgrade takes, where they stand, how wide and how deep they are bored.

Each plan compares the holes there with the holes wanted by the same test and from the same measures as the
fit rules, so what is drawn is what was counted. Lengths mm: ``y`` across the strings from the centre line
(or along a row of tuners from its middle), ``x`` along them, away from the neck.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from msgspec import Struct, structs

from estimator.core.text import family_of
from estimator.fit.case import Case, mm
from estimator.fit.holes import SMALL_HOLE, TOLERANCE, Hole, HoleTest, NewHole, compare_holes, distance, row
from estimator.fit.rules.bridges import (
    IN_A_ROW,
    POSTED,
    existing_row,
    needed_row,
    pilot_share,
    plug_task,
    posts_pulled,
)
from estimator.fit.rules.necks import PLATE_WIDTH, is_bolted, seat_depth
from estimator.fit.rules.posts import POST_PARTS, POSTS, REUSE_BUSHING, REUSE_SPREAD, TREMOLO_PARTS
from estimator.fit.rules.saddles import COMPENSATION
from estimator.fit.rules.tremolo import WITH_CAVITY
from estimator.fit.rules.tuners import LOOSE, MUCH_SMALLER, PLAY, hole_sizes, is_tuner
from estimator.report.to_draw import ToDraw

ROW_PARTS = ("trem6", "hardtail", "barrel", "bassbridge")
FERRULE = Decimal(8)
"""Bore of a string ferrule where nobody measured one (the default of the intake, memory)."""
THROUGH = Decimal("3.2")
"""Bore of a string hole through the body (memory)."""
FROM_CENTRE, STAY = "centre line of the neck", "nothing: the holes stay where they are"
"""From what the places across are measured; of holes that only grow, from nothing."""


@dataclass(frozen=True, slots=True)
class HolePlan(ToDraw):
    """Holes before and after, with all that is needed to bore them.

    ``works``: the task of (small plugs, large plugs, bored holes) at ``place``, blank where it is none.
    ``from_nut``: where the line x = 0 stands behind the nut, None where holes stay where they are.
    ``also``: tasks done once at each hole bored besides; ``once``: the task that they all are together.
    ``outline``: holes that are drawn to find the others by, and not bored.
    """

    title: str
    test: HoleTest
    place: str = ""
    works: tuple[str, str, str] = ("", "", "")
    line: str = ""
    from_nut: Decimal | None = None
    depth: str = ""
    across: str = FROM_CENTRE
    also: tuple[str, ...] = ()
    reuse_task: str = ""
    once: str = ""
    outline: tuple[Hole, ...] = ()

    @property
    def placed(self) -> bool:
        """Whether its holes are measured from somewhere, and do not stay where they are."""
        return self.across != STAY

    def shown(self) -> Mapping[tuple[str, str], Decimal]:
        """What is drawn, as amounts of work by task and place."""
        found: dict[tuple[str, str], Decimal] = {}

        def count(task: str, number: int) -> None:
            if task and number:
                key = (task, self.place)
                found[key] = found.get(key, Decimal(0)) + number

        small, large, bored = self.works
        for hole in self.test.plugged:
            count(small if hole.d <= SMALL_HOLE else large, 1)
        count(bored, self.test.drilled)
        for task in self.also:
            count(task, self.test.drilled)
        count(self.once, 1)
        if self.reuse_task:
            count(self.reuse_task, len(self.test.existing))
        return found


class HoleRow(Struct, frozen=True):
    """A line of the list beside a drawing: what to do at a mark, where, and how wide."""

    mark: str
    what: str
    across: Decimal
    along: Decimal
    from_nut: Decimal | None
    d: Decimal
    bit: str


def bit_words(d: Decimal) -> str:
    """The drill for a hole: mm to a tenth and the nearest 64th of an inch, with what that is in mm.

    ``3 mm or 1/8 in (3.18)``.
    """
    tenth = d.quantize(Decimal("0.1"), ROUND_HALF_UP)
    sixty_fourths = int((d * 64 / Decimal("25.4")).to_integral_value(ROUND_HALF_UP))
    if sixty_fourths < 1:
        return f"{mm(tenth)} mm"
    inch = Fraction(sixty_fourths, 64)
    whole, rest = divmod(inch.numerator, inch.denominator)
    words = f"{rest}/{inch.denominator}" if rest else ""
    shown = " ".join(part for part in (str(whole) if whole else "", words) if part)
    return f"{mm(tenth)} mm or {shown} in ({mm(Decimal(sixty_fourths) * Decimal('25.4') / 64)})"


NEW_WORDS = {
    "reuse": "reuse",
    "open-up": "open up",
    "fill-and-reuse": "fill, drill",
    "clash": "drill",
    "separate": "drill",
}
"""What a new hole is called under its mark; "separate" and "clash" are both drilled beside an old one."""
OLD_WORDS = {"kept": "keep", "plugged": "plug", "left": "leave"}


def letters(number: int) -> str:
    """A, B, ... Z, AA, AB: the marks of new holes, so that they are not taken for old ones."""
    head, tail = divmod(number, 26)
    return (letters(head - 1) if head else "") + chr(ord("A") + tail)


def rows_of(plan: HolePlan) -> list[HoleRow]:
    """All holes of a plan: old ones by number, new ones by letter; what is reused stands once, as old."""
    out = []
    for number, (hole, fate) in enumerate(zip(plan.test.existing, plan.test.old, strict=True), start=1):
        out.append(_row(plan, str(number), OLD_WORDS[fate], hole, ""))
    for number, (hole, new) in enumerate(zip(plan.test.needed, plan.test.new, strict=True)):
        if new.case != "reuse":
            out.append(_row(plan, letters(number), NEW_WORDS[new.case], hole, bit_words(hole.d)))
    return out


def _row(plan: HolePlan, mark: str, what: str, hole: Hole, bit: str) -> HoleRow:
    nut = None if plan.from_nut is None else plan.from_nut + hole.x
    return HoleRow(mark, what, hole.y, hole.x, nut, hole.d, bit)


# ------------------------------------------------------------------ the plans, one maker for each place
Maker = Callable[[Case], Iterator[HolePlan]]


def bridge_line(case: Case) -> Decimal:
    """Where the present screw row or the posts stand behind the nut: scale + br_row_x."""
    return case.number("scale") + case.number_or("br_row_x", Decimal(0))


def moved_by(case: Case) -> Decimal:
    """How far the whole bridge must go back (less than 0: forward) to intonate; 0 where it reaches (rule R22)."""
    if not case.p_has("row"):
        return Decimal(0)
    travel = case.p_maybe("travel")
    if travel is None:
        travel = case.number("saddle_travel_l") + case.number("saddle_travel_s")
    nearest, farthest = -case.p("row") - travel / 2, -case.p("row") + travel / 2
    most = COMPENSATION[family_of(case.word("kind"))]
    if nearest <= 0 and farthest >= most:
        return Decimal(0)
    # nearest > 0: the saddles stand too far back, the bridge goes forward, towards the neck
    return -nearest if nearest > 0 else most - farthest


def all_anew(existing: Sequence[Hole], needed: Sequence[Hole]) -> HoleTest:
    """Every old hole is plugged and every new one bored, however near they are."""

    def fate(hole: Hole) -> NewHole:
        pairs = sorted((distance(old, hole), number) for number, old in enumerate(existing))
        return NewHole("clash", pairs[0][1], pairs[0][0]) if pairs else NewHole("separate", None, Decimal(0))

    return HoleTest(
        tuple(existing), tuple(needed), tuple(fate(hole) for hole in needed), ("plugged",) * len(existing)
    )


def opened(existing: Sequence[Hole], needed: Sequence[Hole]) -> HoleTest:
    """Every old hole is bored wider where it is."""
    fates = tuple(NewHole("open-up", n, Decimal(0)) for n in range(len(needed)))
    return HoleTest(tuple(existing), tuple(needed), fates, ("kept",) * len(existing))


SCREW_DEPTH = "as deep as the screw goes below the plate: measure the screw in hand and set the stop by it"


def screw_depth(case: Case) -> str:
    """The depth stop for the mounting screws: their length less the plate, and whether somebody measured it."""
    if case.part is None:
        return SCREW_DEPTH
    dims, lengths = case.part.dims, ("screw_len", "plate_thk")
    long, thick = (dims.get(name) for name in lengths)
    if not isinstance(long, Decimal) or not isinstance(thick, Decimal) or long <= thick:
        return SCREW_DEPTH
    words = f"{mm(long - thick)} mm: screws of {mm(long)} mm less a plate of {mm(thick)} mm"
    usual = any(case.p_typical(name) for name in lengths)
    return words + (" (usual lengths: hold the screw in hand beside the bit first)" if usual else "")


KNOWN_PLACES = frozenset({"published", "measured", "own"})
"""What a pattern rests on whose holes may be drilled as drawn; others are what such hardware usually has."""


def of_memory(case: Case, name: str) -> tuple[str, ...]:
    """What to measure before holes of a named pattern are drilled; nothing where the shop measured the pattern."""
    holes = case.shop.drawn.patterns.get(name, ())
    if all(hole.basis in KNOWN_PLACES for hole in holes):
        return ()
    return (
        f"the places of the screws (drawn by the pattern {name.replace('-', ' ')}, as such parts usually have them)",
    )


def bridge_screws(case: Case) -> Iterator[HolePlan]:
    """The screw row of a bridge against the row (or posts) that is there: R01, R02, R22, R27, R14 with a row."""
    if not (case.is_a(*ROW_PARTS) and case.p_has("screw_n")):
        return
    from_nut = bridge_line(case)
    plug = plug_task(case)
    old, new = existing_row(case), needed_row(case)
    shift = moved_by(case)
    if shift:
        new = tuple(structs.replace(hole, x=hole.x + shift) for hole in new)
        plug = plug or ("plug-small-hole" if case.number("br_screw_d") <= SMALL_HOLE else "plug-hole")
    no_cavity = case.is_a("trem6") and case.word("br_type") not in WITH_CAVITY
    if no_cavity:
        plug = "plug-hole"
    test = all_anew(old, new) if shift or no_cavity else compare_holes(old, new, TOLERANCE["bridge"])
    what = case.part.what if case.part else "bridge"
    yield HolePlan(
        f"Bridge screws: {what}",
        test,
        "bridge-holes",
        (plug or "plug-small-hole", plug or "plug-hole", "drill-hole"),
        "screw row"
        if not shift
        else f"old screw row; the new one stands {mm(abs(shift))} mm "
        f"{'behind' if shift > 0 else 'before'} it",
        from_nut,
        screw_depth(case),
        measure=_named_pattern(case, case.word("br_pattern") if case.has("br_pattern") else IN_A_ROW),
        of_part=_named_pattern(case, case.p_word("pattern") if case.p_has("pattern") else IN_A_ROW),
    )


def _named_pattern(case: Case, name: str) -> tuple[str, ...]:
    return () if name == IN_A_ROW else of_memory(case, name)


def string_holes(case: Case) -> Iterator[HolePlan]:
    """String holes through the body with their ferrules: R23. How far behind the screws they stand, nobody knows."""
    if not (case.is_a("hardtail", "barrel") and case.p_yes("through")) or case.yes("through"):
        return
    thick = case.number("body_thk")
    holes = row(case.number("string_n"), case.p("str_spread"), THROUGH)
    ferrule = case.number_or("ferrule_d", FERRULE)
    yield HolePlan(
        f"String holes through the body, ferrules of {mm(ferrule)} mm at the back",
        compare_holes((), holes, TOLERANCE["bridge"]),
        "string-holes",
        ("", "", "drill-string-through"),
        "string holes of the bridge: take their distance from the screws off the bridge itself",
        None,
        f"from both faces, through {mm(thick)} mm; ferrule seats as deep as the ferrule is long",
        also=("fit-string-ferrules",),
        of_part=("where the string holes of the bridge stand behind its screws",),
        outline=row(case.number("string_n"), case.p("str_spread"), ferrule),
    )


def bridge_posts(case: Case) -> Iterator[HolePlan]:
    """Two posts for a screw row, for other posts, or for nothing: R10, R12, R13, R14."""
    if not case.is_a(*POST_PARTS, "postbridge"):
        return
    kind = case.word("br_type")
    bore, spread = case.p("bush_od"), case.p("spread")
    deep = f"{mm(case.p('bush_depth'))} mm, the length of the bushing" if case.p_has("bush_depth") else ""
    depth = deep or "the length of the bushing: measure it"
    if kind not in POSTED:
        if not case.is_a("postbridge") and kind != "six-screw-trem" and not case.is_a(*TREMOLO_PARTS):
            return
        yield from _posts_for_screws(case, row(2, spread, bore), depth)
        return
    old, new = existing_row(case), row(2, spread, bore)
    error = abs(spread - case.number("br_spread")) / 2
    pulled = posts_pulled(case)
    if error <= REUSE_SPREAD and not pulled:
        test = _bushings_only(case, old, new)
        if test is None:
            return
    else:
        test = all_anew(old, new)
    yield _posts(case, test, depth)


def _bushings_only(case: Case, old: Sequence[Hole], new: Sequence[Hole]) -> HoleTest | None:
    """Posts stay where they are: bored wider, or plugged and bored; None where the bushings stay (R13)."""
    if case.has("post_thread") and case.p_has("thread") and case.word("post_thread") == case.p_word("thread"):
        return None
    if not case.has("post_bush_d"):
        return None
    difference = case.p("bush_od") - case.number("post_bush_d")
    if abs(difference) <= REUSE_BUSHING:
        return None
    if difference < 0:
        return all_anew(old, new)
    fates = tuple(NewHole("open-up", n, distance(old[n], hole)) for n, hole in enumerate(new))
    return HoleTest(tuple(old), tuple(new), fates, ("kept",) * len(old))


def _posts(case: Case, test: HoleTest, depth: str) -> HolePlan:
    return HolePlan(
        f"Bridge posts: {case.part.what if case.part else 'bridge'}",
        test,
        POSTS,
        ("plug-hole", "plug-hole", "fit-two-post-bushings"),
        "line of the posts",
        bridge_line(case),
        depth,
    )


def _posts_for_screws(case: Case, posts: Sequence[Hole], depth: str) -> Iterator[HolePlan]:
    """The screw row is plugged in its own plan, so that each place of work has its sheet."""
    pilot = pilot_share(case) * case.number("br_screw_d")
    screws = existing_row(case)
    if len(screws) != case.number("br_screw_n"):
        screws = row(case.number("br_screw_n"), case.number("br_spread"), pilot)
    line = bridge_line(case)
    yield HolePlan(
        "Old bridge screws",
        all_anew(screws, ()),
        "bridge-holes",
        ("plug-hole", "plug-hole", ""),
        "old screw row",
        line,
        "plugs as deep as the old holes",
    )
    if case.is_a("postbridge"):
        tail = row(2, case.p("tail_spread"), case.p("bush_od"))
        yield HolePlan(
            "Bridge posts and tailpiece posts: the tailpiece row is drawn 40 mm behind",
            compare_holes(
                (), (*posts, *(structs.replace(hole, x=Decimal(40)) for hole in tail)), TOLERANCE["post"]
            ),
            POSTS,
            ("plug-hole", "plug-hole", "fit-two-post-bushings"),
            "line of the bridge posts",
            line,
            depth,
            of_part=("how far behind the bridge the tailpiece is to stand",),
        )
        return
    yield _posts(case, compare_holes((), posts, TOLERANCE["post"]), depth)


def _tuner_row(case: Case, d: Decimal) -> tuple[Hole, ...]:
    """Tuner holes in rows at their distance: one on a straight peghead, else one a side, as where there are too many."""
    n = int(case.number("tuner_n"))
    side = n if case.word("peg_style") == "straight-offset" and n <= MOST_IN_A_ROW else -(-n // 2)
    one = row(side, case.number("tuner_pitch") * (side - 1), d)
    return one if side == n else (*one, *(structs.replace(hole, x=SIDES_APART) for hole in one[: n - side]))


MOST_IN_A_ROW = 8
"""Tuners that a peghead carries in one row at the most: twelve stand in two rows of six (common-practice)."""
SIDES_APART = Decimal(60)
"""How far apart the two sides of a peghead are drawn; the holes are there, so nothing is set out by it."""
TUNER_LINE = "row of tuners; the holes are there"


def tuner_holes(case: Case) -> Iterator[HolePlan]:
    """Tuner holes reamed, bushed, or plugged and bored anew: R28-R30."""
    if not (is_tuner(case) or case.is_a("neck", "bushing")) or not case.has("tuner_pitch"):
        return
    want, there = hole_sizes(case)
    if case.is_a("neck"):
        case.number("tuner_pitch")
    old, new = _tuner_row(case, there), _tuner_row(case, want)
    gap = there - want
    if want > there + PLAY:
        title = f"Tuner holes: ream from {mm(there)} to {mm(want)} mm"
        yield _tuners(title, opened(old, new), "ream-tuner-hole")
    elif gap > MUCH_SMALLER and not case.is_a("bushing"):
        fates = tuple(NewHole("fill-and-reuse", n, Decimal(0)) for n in range(len(old)))
        test = HoleTest(old, new, fates, ("plugged",) * len(old))
        plan = _tuners(f"Tuner holes: plug {mm(there)} mm, bore {mm(want)} mm anew", test, "drill-hole")
        yield replace(plan, works=("plug-hole", "plug-hole", "drill-hole"))
    elif gap >= LOOSE and not case.is_a("bushing"):
        test = HoleTest(old, (), (), ("kept",) * len(old))
        plan = _tuners(f"Tuner holes: press a bushing into each hole of {mm(there)} mm", test, "")
        yield replace(plan, reuse_task="bush-tuner-hole", depth="flush with the face of the peghead")


def _tuners(title: str, test: HoleTest, task: str) -> HolePlan:
    return HolePlan(
        title,
        test,
        "tuner-holes",
        ("", "", task),
        TUNER_LINE,
        None,
        "through, a backing block clamped behind",
        across="middle of the row of tuners",
        seen_from="the face of the peghead",
    )


def tuner_backs(case: Case) -> Iterator[HolePlan]:
    """Tuner holes reamed from the back only: R31."""
    if not (is_tuner(case) and case.p_has("body_neck_d")):
        return
    back, neck = case.number("tuner_hole_back_d"), case.p("body_neck_d")
    if back >= neck:
        return
    old, new = _tuner_row(case, back), _tuner_row(case, neck)
    title = f"Tuner holes from the back: ream from {mm(back)} to {mm(neck)} mm"
    plan = _tuners(title, opened(old, new), "ream-tuner-hole")
    yield replace(
        plan,
        place="tuner-holes-back",
        seen_from="the back of the peghead",
        depth="as deep as the neck of the tuner body: measure it",
    )


def counterbores(case: Case) -> Iterator[HolePlan]:
    """Counterbores at the face where the peghead is thicker than the thread takes: R32."""
    if not (is_tuner(case) and case.p_has("thk_max")):
        return
    deep = case.number("peg_thk") - case.p("thk_max")
    if not 0 < deep <= 2:
        return
    wide = case.p("hole_d") + 4
    old, new = _tuner_row(case, case.p("hole_d")), _tuner_row(case, wide)
    title = f"Counterbores at the face of the peghead, {mm(deep)} mm deep"
    plan = _tuners(title, opened(old, new), "drill-hole")
    yield replace(
        plan,
        place="tuner-counterbores",
        depth=f"{mm(deep)} mm, no more",
        of_part=("the washer of the tuner nut: the counterbore is as wide as it",),
    )


def tuner_screws(case: Case) -> Iterator[HolePlan]:
    """Old screw holes of the tuners plugged, pins bored: R33, by the hole patterns of the tables."""
    if not is_tuner(case):
        return
    was, becomes = case.word("tuner_screw"), case.p_word("screw_pattern")
    if was == becomes:
        return
    patterns = case.shop.drawn.patterns
    posts = _tuner_row(case, case.p("hole_d"))
    small = Decimal("1.5")
    old = _around(posts, patterns.get(was, ()), small)
    new = _around(posts, patterns.get(becomes, ()), small) if becomes == "pin" else ()
    if old or new:
        plan = _tuners(f"Tuner screws: {was} to {becomes}", all_anew(old, new), "drill-hole")
        yield replace(
            plan,
            place="tuner-screws",
            works=("plug-small-hole", "plug-small-hole", "drill-hole"),
            seen_from="the back of the peghead",
            depth="pins and screws as long as they are below the body: never through the face",
            outline=posts,
            measure=tuple(f"the screw pattern of the tuners there ({was})" for _ in (1,) if old),
            of_part=tuple("the pins of the new tuners" for _ in (1,) if new),
        )


def _around(posts: Iterable[Hole], pattern: Iterable[object], d: Decimal) -> tuple[Hole, ...]:
    return tuple(
        Hole(post.x + hole.along, post.y + hole.across, d)  # type: ignore[attr-defined]
        for post in posts
        for hole in pattern
    )


def _plate(case: Case, d: Decimal) -> tuple[Hole, ...]:
    """The joint screws, by the usual plate where there are four."""
    pattern = case.shop.drawn.patterns.get("neck-plate", ())
    if case.number("joint_screw_n") != len(pattern):
        return ()
    return tuple(Hole(hole.along, hole.across, d) for hole in pattern)


HARD_PILOT = Decimal("0.80")
"""Pilot in neck wood as a share of the thread: that of hard woods (memory)."""
JOINT_LINE = "middle of the four joint screws"
PLATE = (f"the distance of the joint screws (drawn {PLATE_WIDTH} x 51 mm, the usual plate)",)


def joint_ferrules(case: Case) -> Iterator[HolePlan]:
    """Ferrule seats in place of a neck plate: R74."""
    if not (case.is_a("ferrule4") and is_bolted(case)):
        return
    od = case.p("od") if case.p_has("od") else Decimal(16)
    seats = _plate(case, od)
    if not seats:
        return
    screws = _plate(case, case.number("joint_screw_d"))
    yield HolePlan(
        f"Ferrule seats at the neck joint, {mm(od)} mm",
        opened(screws, seats),
        "heel",
        ("", "", "drill-neck-ferrules"),
        JOINT_LINE,
        None,
        f"{mm(seat_depth(case))} mm, no more",
        seen_from="the back",
        measure=PLATE,
    )


def new_neck_screws(case: Case) -> Iterator[HolePlan]:
    """The joint screws of a replacement neck that comes undrilled: R79, the depth by the screws that are there."""
    if not (case.is_a("neck") and is_bolted(case)) or (case.p_has("drilled") and case.p_yes("drilled")):
        return
    pilots = _plate(case, HARD_PILOT * case.number("joint_screw_d"))
    reach = case.number("joint_screw_len") - case.number("plate_thk") - case.number("heel_wood")
    if not pilots or reach <= 0:
        return
    yield HolePlan(
        "Joint screws of the new neck",
        compare_holes((), pilots, TOLERANCE["plate"]),
        "",
        ("", "", ""),
        JOINT_LINE,
        None,
        f"{mm(reach)} mm into the heel, no more: screws of {mm(case.number('joint_screw_len'))} mm less "
        f"{mm(case.number('plate_thk'))} mm of plate and {mm(case.number('heel_wood'))} mm of body; the "
        "fingerboard is above it",
        seen_from="the underside of the heel",
        once="fit-replacement-neck",
        measure=PLATE,
    )


def heel_inserts(case: Case) -> Iterator[HolePlan]:
    """Inserts in the neck heel, with the body holes opened for the machine screws: R77."""
    if not (case.is_a("insert4") and is_bolted(case)):
        return
    inserts = _plate(case, case.p("od"))
    if not inserts:
        return
    old = _plate(case, case.number("joint_screw_d"))
    yield HolePlan(
        f"Inserts in the neck heel, {mm(case.p('od'))} mm across their thread",
        opened(old, inserts),
        "heel",
        ("", "", "fit-neck-inserts"),
        JOINT_LINE,
        None,
        f"{mm(case.p('len'))} mm for the insert and 1 mm to spare; the bore is that of the core of its thread",
        seen_from="the underside of the heel",
        measure=PLATE,
        of_part=("the bore that the maker of the inserts asks for",),
    )
    screw = case.p_maybe("screw_d")
    if screw is not None and screw > case.number("joint_screw_d"):
        wide = _plate(case, screw + Decimal("0.3"))
        yield HolePlan(
            f"Body holes of the joint opened to {mm(screw + Decimal('0.3'))} mm",
            opened(old, wide),
            "heel",
            ("", "", "drill-hole"),
            JOINT_LINE,
            None,
            "through the body",
            seen_from="the back",
            measure=PLATE,
        )


def single_holes(case: Case) -> Iterator[HolePlan]:
    """Holes that are opened where they are: pots (R60), toggle (R65), jack (R66), switch screws (R64)."""
    if case.p_has("bush_od") and case.has("pot_hole_d") and not case.is_a(*POST_PARTS, "postbridge"):
        bush, hole = case.p("bush_od"), case.number("pot_hole_d")
        if bush > hole - Decimal("0.1"):
            n = 1 if case.is_a("pull") else int(case.number("pot_n"))
            yield _opened(f"Pot holes: {n} from {mm(hole)} mm", "pot-holes", n, hole, bush + Decimal("0.2"))
    if case.is_a("toggle") and case.has("sw_hole_d") and case.word("sw_type").startswith("toggle"):
        bush, hole = (case.p("bush") if case.p_has("bush") else Decimal(12)), case.number("sw_hole_d")
        if bush > hole:
            yield _opened(f"Switch hole from {mm(hole)} mm", "switch", 1, hole, bush)
    if case.is_a("jackplate"):
        least = min(case.p("hole_d"), Decimal(20)) if case.p_has("hole_d") else Decimal(20)
        hole = case.number("jack_hole_d")
        if hole < least:
            yield _opened(f"Jack hole from {mm(hole)} mm", "jack", 1, hole, least)
    elif case.p_has("barrel") and case.p_yes("barrel"):
        wide, hole = case.p("hole_d"), case.number("jack_hole_d")
        if hole < wide:
            plan = _opened(f"Jack hole from {mm(hole)} mm for a barrel", "jack", 1, hole, wide)
            yield replace(plan, works=("", "", "drill-hole"), depth="40 mm")


SIDE_BY_SIDE = Decimal(30)


def _opened(title: str, place: str, count: int, old: Decimal, new: Decimal) -> HolePlan:
    before, after = row(count, SIDE_BY_SIDE * (count - 1), old), row(count, SIDE_BY_SIDE * (count - 1), new)
    return HolePlan(
        f"{title} to {mm(new)} mm",
        opened(before, after),
        place,
        ("", "", "enlarge-control-hole"),
        "each hole keeps its middle; they are drawn side by side",
        None,
        "through",
        across=STAY,
    )


def switch_screws(case: Case) -> Iterator[HolePlan]:
    """Screws of a blade switch at other centres: R64."""
    if not case.p_has("screw_c") or not case.p("screw_c") or not case.word("sw_type").startswith("blade"):
        return
    want, there = case.p("screw_c"), case.number("sw_slot_c")
    if abs(want - there) <= Decimal("0.4"):
        return
    d = Decimal("3.2")
    test = compare_holes(row(2, there, d), row(2, want, d), Decimal("0.2"))
    yield HolePlan(
        "Switch screws",
        test,
        "switch",
        ("", "", "drill-hole"),
        "middle of the slot of the switch",
        None,
        "through the guard or plate",
        across="middle of the slot, along it",
    )


MAKERS: Mapping[str, Maker] = {
    "holes": bridge_screws,
    "string-holes": string_holes,
    "posts": bridge_posts,
    "tuners": tuner_holes,
    "tuners-back": tuner_backs,
    "counterbores": counterbores,
    "tuner-screws": tuner_screws,
    "ferrules": joint_ferrules,
    "inserts": heel_inserts,
    "neck-screws": new_neck_screws,
    "controls": single_holes,
    "switch": switch_screws,
}
"""The makers of hole plans by the name that their drawing has."""

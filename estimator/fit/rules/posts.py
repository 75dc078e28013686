"""Two-post and locking tremolos, posts and bushings, conversions to and from a hardtail: R10-R16. mm, cm3."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from estimator.fit.case import USUAL, Case, cm3, demand, mm, over, rule
from estimator.fit.rules.bridges import POSTED, posts_pulled
from estimator.fit.rules.tremolo import WITH_CAVITY
from estimator.model import Demand, Finding

POSTS = "bridge-posts"
HOLES = "bridge-holes"
BAY_CM3 = Decimal(100)
REUSE_SPREAD = Decimal("0.3")
REUSE_BUSHING = Decimal("0.15")
LOCKING_BODY = Decimal(42)
TREMOLO_PARTS = ("trem6", "trem2", "tremlock")
POST_PARTS = ("trem2", "tremlock")


def _bushings(because: str, number: int = 2, extra_rework_pct: Decimal = Decimal(0)) -> Demand:
    return demand("fit-two-post-bushings", POSTS, number, because, extra_rework_pct=extra_rework_pct)


def _edge(case: Case) -> Decimal | None:
    """Distance from a post centre to the nearest cavity edge, where it was measured."""
    return case.maybe("post_edge")


def _edge_rework(case: Case) -> Decimal:
    """A bushing bored near a cavity edge goes wrong oftener: + 15 %."""
    edge = _edge(case)
    near = edge is not None and edge < case.p("bush_od") / 2 + 5
    return Decimal(15) if near and case.is_a(*POST_PARTS) else Decimal(0)


@rule("R10")
def r10(case: Case) -> Iterator[Finding]:
    """Six-screw body to a post tremolo: all screws plugged, layout, two bushings (common-practice).

    plug-hole x br_screw_n, layout-bridge x 1, fit-two-post-bushings x 2; cavity by its own rules.
    """
    if case.word("br_type") != "six-screw-trem" or not case.is_a(*POST_PARTS):
        return
    n = case.number("br_screw_n")
    yield case.work(
        f"plug {n} screw holes, lay out and bore for two posts: the body has a screw row",
        f"plug-hole x {n}, layout-bridge x 1, fit-two-post-bushings x 2",
        demands=(
            demand("plug-hole", HOLES, n, "screw row gives way to two posts"),
            demand("layout-bridge", USUAL, 1, "posts have to fall on the scale line"),
            _bushings("two posts instead of a screw row", extra_rework_pct=_edge_rework(case)),
        ),
    )


@rule("R11")
def r11(case: Case) -> Iterator[Finding]:
    """Wood round a post, mm: centre to the nearest cavity edge >= bush_od / 2 + 5; below + 3 refused
    (memory).
    """
    bushing = case.p("bush_od")
    edge = _edge(case)
    good, least = bushing / 2 + 5, bushing / 2 + 3
    working = f"{mm(bushing)}/2 + 5 = {mm(good)}; least {mm(least)}"
    if edge is None:
        yield case.warn(
            f"measure from each post centre to the nearest cavity edge: it wants {mm(good)} mm, under "
            f"{mm(least)} mm it will tear out",
            working,
        )
    elif edge < least:
        yield case.no(
            f"only {mm(edge)} mm from post centre to the cavity edge: under {mm(least)} mm the post tears out",
            working,
        )
    elif edge < good:
        yield case.warn(
            f"{mm(edge)} mm from post centre to the cavity edge is near: bore with care (15 % more odds of "
            "rework)",
            working,
        )
    else:
        yield case.fits(f"{mm(edge)} mm of room round the posts (wants {mm(good)} mm)", working)


@rule("R12")
def r12(case: Case) -> Iterator[Finding]:
    """Posts at another spread, mm: e = |p.spread - br_spread| / 2.

    e <= 0.3: reuse; e < bush_od + 3: the old bores are in the way, plug two (24 h) and bore two; more: bore
    two new, old ones plugged if they would be seen. Geometry common-practice, limits memory.
    Posts that pull forward are never reused: both bores are plugged and bored anew (common-practice).
    A post bridge on a body without posts: bridge and tailpiece posts are bored, old screws plugged.
    """
    if case.word("br_type") not in POSTED:
        if case.is_a("postbridge"):
            yield _posts_from_nothing(case)
        return
    error = abs(case.p("spread") - case.number("br_spread")) / 2
    working = f"|{mm(case.p('spread'))} - {mm(case.number('br_spread'))}|/2 = {mm(error)}; reuse up to 0.3"
    if error <= REUSE_SPREAD and posts_pulled(case):
        yield case.work(
            "plug the two pulled post bores with hardwood (a day under clamps) and bore them anew: posts that "
            "pull forward would pull any bridge with them",
            working,
            demands=(
                demand("plug-hole", POSTS, 2, "the posts pulled the wood open"),
                demand("layout-bridge", USUAL, 1, "posts have to fall on the scale line"),
                _bushings("posts set anew in sound wood", extra_rework_pct=_edge_rework(case)),
            ),
        )
        return
    if error <= REUSE_SPREAD:
        yield case.fits("the posts stand where the old ones stood", working)
        return
    layout = demand("layout-bridge", USUAL, 1, "posts have to fall on the scale line")
    bore = _bushings("posts at another spread", extra_rework_pct=_edge_rework(case))
    plug = demand("plug-hole", POSTS, 2, "old post bores")
    if error < case.p("bush_od") + 3:
        yield case.work(
            f"plug two post bores (a day under clamps) and bore two: each post is {mm(error)} mm off",
            f"{working}; clash below {mm(case.p('bush_od') + 3)}",
            demands=(plug, layout, bore),
        )
    else:
        yield case.work(
            f"bore two new post holes {mm(error)} mm from the old ones; the old ones are plugged, they "
            "would be seen",
            working,
            demands=(plug, layout, bore, demand("fill-touch-up-chip", POSTS, 2, "old post bores that show")),
        )


def _posts_from_nothing(case: Case) -> Finding:
    n = case.number("br_screw_n")
    return case.work(
        f"plug {n} old bridge screws, lay out, bore two bridge posts and two tailpiece posts; look at the "
        "neck angle first",
        f"plug-hole x {n}, fit-two-post-bushings x 4",
        demands=(
            demand("plug-hole", HOLES, n, "screw holes of the old bridge"),
            demand("layout-bridge", USUAL, 1, "posts have to fall on the scale line"),
            _bushings("bridge and tailpiece posts", 4),
        ),
    )


@rule("R13")
def r13(case: Case) -> Iterator[Finding]:
    """Bushing diameter, mm: |p.bush_od - old| <= 0.15 reuse; larger: rebore two; smaller: plug two and rebore
    (memory).

    When the threads agree the old bushings stay, which is cheaper.
    """
    if case.word("br_type") not in POSTED:
        return
    if posts_pulled(case):
        yield case.fits("the pulled bores are plugged and bored to the new bushings")
        return
    if case.has("post_thread") and case.p_has("thread") and case.word("post_thread") == case.p_word("thread"):
        yield case.fits(f"the new posts ({case.p_word('thread')}) turn into the old bushings: keep them")
        return
    old = case.maybe("post_bush_d")
    if old is None:
        yield case.warn(
            f"measure the old post bushings: the new ones are {mm(case.p('bush_od'))} mm; keep the old if "
            "threads agree"
        )
        return
    difference = case.p("bush_od") - old
    working = f"{mm(case.p('bush_od'))} - {mm(old)} = {mm(difference)}; same within 0.15"
    if abs(difference) <= REUSE_BUSHING:
        yield case.fits("the new bushings press into the old bores", working)
    elif difference > 0:
        yield case.work(
            f"rebore two post holes to {mm(case.p('bush_od'))} mm",
            working,
            demands=(_bushings("larger bushings", extra_rework_pct=_edge_rework(case)),),
        )
    else:
        yield case.work(
            f"plug two post bores and rebore them to {mm(case.p('bush_od'))} mm",
            working,
            demands=(
                demand("plug-hole", POSTS, 2, "bushings smaller than the bores"),
                _bushings("smaller bushings"),
            ),
        )


@rule("R14")
def r14(case: Case) -> Iterator[Finding]:
    """Tremolo on a body without a tremolo cavity: front slot and spring bay of about 100 cm3 (memory:
    90-110).

    Also springs and claw (a part), posts or a screw row, plugs for the old bridge.
    """
    if case.word("br_type") in WITH_CAVITY or not case.is_a(*TREMOLO_PARTS):
        return
    n = case.number("br_screw_n")
    tier = case.word("tier") if case.has("tier") else "?"
    dear = (
        ""
        if tier in ("D", "E")
        else "; more than five hours in all, usually not worth it on a cheap instrument"
    )
    demands = [
        demand("route-cavity", "tremolo-cavity", BAY_CM3, "front slot and spring bay for a tremolo"),
        demand("plug-hole", HOLES, n, "screw holes of the old bridge"),
        demand("layout-bridge", USUAL, 1, "the pivot has to fall on the scale line"),
    ]
    if case.is_a("trem6"):
        demands.append(demand("drill-hole", HOLES, case.p("screw_n"), "pivot screws"))
    else:
        demands.append(_bushings("two posts"))
    yield case.work(
        f"route about {BAY_CM3} cm3 for slot and spring bay, plug {n} old holes, set the pivot; springs "
        f"and claw come extra{dear}",
        "90-110 cm3, taken as 100",
        demands=tuple(demands),
    )


@rule("R15")
def r15(case: Case) -> Iterator[Finding]:
    """Tremolo body to a hardtail, mm: a screw over the cavity or within 5 mm of its edge wants a fitted
    block.

    Then repair-crack n = 20 cm (glue length) and block-tremolo x 1, 24 h; else block-tremolo only (memory).
    ``part.trem_edge``: least distance of a screw centre from the cavity edge, negative over it.
    """
    if case.word("br_type") not in WITH_CAVITY:
        return
    block = demand("block-tremolo", USUAL, 1, "a hardtail on a tremolo body")
    if case.part is None:
        yield case.fits("wedges block the tremolo where it is; nothing to glue")
        return
    edge = case.p_maybe("trem_edge")
    if edge is not None and edge > 5:
        yield case.work(
            "block the tremolo cavity; all screws bite solid wood", f"{mm(edge)} > 5", demands=(block,)
        )
        return
    if edge is None:
        known = "where the screws fall was not measured, taken to be over the cavity"
    elif edge < 0:
        known = f"a screw falls {mm(-edge)} mm inside the cavity edge"
    else:
        known = f"a screw stands {mm(edge)} mm from the cavity edge"
    yield case.work(
        f"glue a fitted hardwood block into the tremolo cavity (24 h): {known}",
        "20 cm of glue line" if edge is None else f"{mm(edge)} <= 5; 20 cm of glue line",
        demands=(
            demand("repair-crack", "tremolo-cavity", 20, "glue line of the block under a hardtail"),
            block,
        ),
    )


@rule("R16")
def r16(case: Case) -> Iterator[Finding]:
    """Locking tremolo: mechanical nut, front recess V = 95 x 45 x depth / 1000 where recessed, rear + 12 cm3.

    In a body under 42 mm a block of body_thk - 10 leaves the springs their room; a longer one, which the
    cavity still takes (R04), is told and not refused. Basis memory.
    """
    if not case.is_a("tremlock"):
        return
    body = case.number("body_thk")
    if body < LOCKING_BODY and over(case.p("block_h") - (body - 10)) > 0:
        yield case.warn(
            f"a shallow body ({mm(body)} mm, a locking tremolo wants 42 mm): a block of {mm(body - 10)} mm or less "
            f"leaves the springs their room, this one is {mm(case.p('block_h'))} mm; shorten it, take a short "
            "block, or set the springs with one more and watch that they clear the cover",
            f"{mm(body)} - 10 = {mm(body - 10)}; {mm(body)} < 42",
        )
    same = case.word("br_type") == "locking-trem"
    demands = [demand("fit-mechanical-nut", USUAL, 1, "locking nut", levels={"NMECH": "locking-top-screws"})]
    words = ["fit the locking nut"]
    working = []
    if not same:
        demands.append(demand("route-cavity", "tremolo-cavity-rear", 12, "rear room for a locking tremolo"))
        words.append("route 12 cm3 at the rear")
        if case.p_has("recessed") and case.p_yes("recessed"):
            volume = cm3(95 * 45 * case.p("recess_d") / Decimal(1000))
            demands.append(
                demand("route-cavity", "tremolo-recess", volume, "front recess of a locking tremolo")
            )
            words.append(f"route {volume} cm3 for the front recess")
            working.append(f"95 x 45 x {mm(case.p('recess_d'))}/1000 = {volume}")
    yield case.work(", ".join(words), "; ".join(working), demands=tuple(demands))

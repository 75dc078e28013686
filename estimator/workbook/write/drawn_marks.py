"""Points and marks of the drawings on a sheet: what becomes of holes and of wood, and the facts beside it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from msgspec import Struct, field

from estimator.fit.case import mm as spoken
from estimator.report.drawings import CavityPlan, DrawnPlan, OutlinePlan, PiecePlan, RoutPlan
from estimator.report.hole_plans import NEW_WORDS, OLD_WORDS, HolePlan
from estimator.workbook.write.style import INK, SOFT

NEW_INK = "#0B4F9C"
#: points of 1 mm on paper
POINTS = 72 / 25.4
BEHIND = Decimal(15)
_BEFORE: dict[str, Any] = {"color": INK, "width": 1.75}
_NEW: dict[str, Any] = {"line": {"color": NEW_INK, "width": 1.75, "dash_type": "dash"}, "ink": NEW_INK}
_BESIDE: dict[str, Any] = {"color": SOFT, "width": 0.75, "dash_type": "round_dot"}
_EDGE: dict[str, Any] = {"color": SOFT, "width": 0.75, "dash_type": "long_dash"}

TALL_AT_TWICE = 35
"""Along, mm: more of it, twice as large with bar and key, would run over the page."""

MarkedPoint = tuple[Decimal, Decimal]


class Series(Struct):
    """Points with the same mark: a name, where they are, their words and their looks."""

    name: str
    points: list[MarkedPoint]
    words: list[str] = field(default_factory=list)
    sizes: list[Decimal] = field(default_factory=list)
    marker: dict[str, Any] = field(default_factory=lambda: {"type": "none"})
    line: dict[str, Any] = field(default_factory=lambda: {"none": True})
    place: str = "above"
    ink: str = INK


def series_of(plan: DrawnPlan) -> list[Series]:
    """The points of a plan, those with the same mark together."""
    if isinstance(plan, HolePlan):
        return hole_series(plan)
    if isinstance(plan, PiecePlan):
        return piece_series(plan)
    if isinstance(plan, OutlinePlan):
        return outline_series(plan)
    return cavity_series(plan) if isinstance(plan, CavityPlan) else rout_series(plan)


def facts_of(plan: DrawnPlan) -> list[tuple[str, str]]:
    """The dimensions and counts of a plan: (what, value with its unit)."""
    return [(what, plan.read(value)) for what, value in _facts_of(plan)]


def _facts_of(plan: DrawnPlan) -> list[tuple[str, str]]:
    if isinstance(plan, HolePlan):
        return _hole_facts(plan)
    if isinstance(plan, PiecePlan):
        return _piece_facts(plan)
    if isinstance(plan, OutlinePlan):
        across, along = plan.size
        return [
            ("Across", f"{spoken(across)} mm"),
            ("Along", f"{spoken(along)} mm"),
            ("Points", str(len(plan.points))),
            ("Screw holes", str(len(plan.holes))),
        ]
    return _cavity_facts(plan) if isinstance(plan, CavityPlan) else _rout_facts(plan)


def hole_scale(plan: HolePlan) -> float:
    """Twice true size where that fits a page both ways, else true size."""
    holes = (*plan.test.existing, *plan.test.needed)
    wide = max((abs(hole.y) for hole in holes), default=Decimal(0))
    tall = max((hole.x for hole in holes), default=Decimal(0)) - min(
        (hole.x for hole in holes), default=Decimal(0)
    )
    return 2.0 if wide < 45 and tall < TALL_AT_TWICE else 1.0


def _mark(shape: str, d: Decimal, scale: float, ink: str, filled: bool) -> dict[str, Any]:
    fill = {"color": ink} if filled else {"none": True}
    size = min(max(round(float(d) * scale * POINTS), 5), 72)
    return {"type": shape, "size": size, "border": {"color": ink, "width": 1.5}, "fill": fill}


def hole_series(plan: HolePlan) -> list[Series]:
    """Old holes by what becomes of them, then the new ones that are drilled; sizes are diameters."""
    test = plan.test
    looks = {
        "kept": ("old hole, reused", "circle", INK, True),
        "plugged": ("old hole, plugged", "x", INK, False),
        "left": ("old hole, left hidden", "square", SOFT, False),
    }
    made = []
    for fate, (name, shape, ink, filled) in looks.items():
        held = [(n, hole) for n, hole in enumerate(test.existing, start=1) if test.old[n - 1] == fate]
        if held:
            made.append(
                Series(
                    name,
                    [(hole.y, hole.x) for _, hole in held],
                    [f"{OLD_WORDS[fate]} {n}" for n, _ in held],
                    [hole.d for _, hole in held],
                    _mark(shape, held[0][1].d, hole_scale(plan), ink, filled),
                    ink=ink,
                )
            )
    drilled = [
        (hole, fate.case) for hole, fate in zip(test.needed, test.new, strict=True) if fate.case != "reuse"
    ]
    if drilled:
        made.append(
            Series(
                "new hole, drilled",
                [(hole.y, hole.x) for hole, _ in drilled],
                [NEW_WORDS[case] for _, case in drilled],
                [hole.d for hole, _ in drilled],
                _mark("diamond", drilled[0][0].d, hole_scale(plan), NEW_INK, False),
                place="below",
                ink=NEW_INK,
            )
        )
    return made


def _hole_facts(plan: HolePlan) -> list[tuple[str, str]]:
    test = plan.test
    spans = [
        (f"{when}, over", f"{spoken(max(h.y for h in row) - min(h.y for h in row))} mm")
        for when, row in (("Old holes", test.existing), ("New holes", test.needed))
        if len(row) > 1
    ]
    return [
        *spans,
        ("Old holes", str(len(test.existing))),
        ("Plugged", str(len(test.plugged))),
        ("Left hidden", str(test.left)),
        ("New holes", str(len(test.needed))),
        ("Reused", str(test.reused)),
        ("Drilled", str(test.drilled)),
    ]


def _box(
    name: str, across: Decimal, low: Decimal, high: Decimal, words: Sequence[str], **looks: Any
) -> Series:
    """A rectangle about the middle; ``words`` stand right of its upper and lower right corners."""
    half = across / 2
    corners: list[MarkedPoint] = [(-half, high), (half, high), (half, low), (-half, low), (-half, high)]
    return Series(name, corners, ["", *words, "", ""], place="right", **looks)


def cavity_series(plan: CavityPlan) -> list[Series]:
    """Outlines from the back: 0 along is the end of the cavity towards the neck, as it is now."""
    rear = -plan.long - plan.longer + plan.forward
    wall, end = plan.wall_now, plan.wall_now + BEHIND / 3
    side = Decimal(36)
    rout: list[MarkedPoint] = [(-side, end), (-side, wall), (side, wall), (side, end)]
    was = f"was {spoken(plan.long)} x {spoken(plan.wide)} mm"
    becomes = f"becomes {spoken(plan.long + plan.longer, '0.1')} x {spoken(plan.wide + plan.wider)} mm"
    leaves = f"wall {spoken(plan.wall, '0.1')} mm"
    return [
        _box("cavity as it is", plan.wide, -plan.long, Decimal(0), (was, ""), line=_BEFORE),
        _box("cavity as it becomes", plan.wide + plan.wider, rear, plan.forward, ("", becomes), **_NEW),
        _box("block at rest", plan.block_w, -1 - plan.block_t, Decimal(-1), ("", ""), line=_BESIDE, ink=SOFT),
        Series(
            "edge of the bridge pickup rout", rout, ["", "", leaves, ""], place="right", line=_EDGE, ink=SOFT
        ),
    ]


def rout_series(plan: RoutPlan) -> list[Series]:
    """The rout as it is, if there is one, and as it is wanted, both about the same middle."""
    made = []
    across, along, _ = plan.there
    if across:
        was = f"was {spoken(along)} x {spoken(across)} mm"
        made.append(_box("rout as it is", across, -along / 2, along / 2, (was, ""), line=_BEFORE))
    across, along, _ = plan.need
    wants = f"wants {spoken(along)} x {spoken(across)} mm"
    made.append(_box("rout as it is wanted", across, -along / 2, along / 2, ("", wants), **_NEW))
    return made


def outline_series(plan: OutlinePlan) -> list[Series]:
    """The edge, closed, with its points numbered, and the middles of its screw holes; along counts upward here."""
    edge = [(across, -along) for across, along in (*plan.points, plan.points[0])]
    words = [f"{number}" for number in range(1, len(plan.points) + 1)]
    made = [Series("edge to saw", edge, [*words, ""], place="right", **_NEW)]
    if plan.holes:
        made.append(
            Series(
                "screw hole",
                [(across, -along) for across, along in plan.holes],
                marker={"type": "circle", "size": 5, "border": {"color": INK}, "fill": {"none": True}},
            )
        )
    return made


def piece_series(plan: PiecePlan) -> list[Series]:
    """A piece to cut, from above."""
    words = f"{spoken(plan.along)} x {spoken(plan.across)} mm"
    half = plan.along / 2
    return [_box("piece to glue in", plan.across, -half, half, ("", words), **_NEW)]


def _piece_facts(plan: PiecePlan) -> list[tuple[str, str]]:
    thick = " to ".join(dict.fromkeys(spoken(one) for one in plan.thick))
    return [
        ("Across", f"{spoken(plan.across)} mm"),
        ("Along", f"{spoken(plan.along)} mm"),
        ("Thickness", f"{thick} mm"),
    ]


def _cavity_facts(plan: CavityPlan) -> list[tuple[str, str]]:
    long = max(plan.long, plan.room_long)
    return [
        ("Along, as it is", f"{spoken(plan.long)} mm"),
        ("Along, as it becomes", f"{spoken(long, '0.1')} mm"),
        ("of that towards the neck", f"{spoken(plan.forward, '0.1')} mm"),
        ("Across, as it is", f"{spoken(plan.wide)} mm"),
        ("Across, as it becomes", f"{spoken(plan.wide + plan.wider)} mm"),
        ("Depth", f"{spoken(plan.deep)} mm"),
        ("Wall to the rout, now", f"{spoken(plan.wall_now)} mm"),
        ("Wall to the rout, after", f"{spoken(plan.wall, '0.1')} mm"),
        ("Wood to take out", f"{plan.volume} cm3"),
    ]


def _rout_facts(plan: RoutPlan) -> list[tuple[str, str]]:
    names = ("Across", "Along", "Depth")
    before = [(f"{name}, as it is", f"{spoken(now)} mm") for name, now in zip(names, plan.there, strict=True)]
    after = [
        (f"{name}, as wanted", f"{spoken(want)} mm") for name, want in zip(names, plan.need, strict=True)
    ]
    return [*(before if plan.there[0] else []), *after, ("Wood to take out", f"{plan.volume} cm3")]

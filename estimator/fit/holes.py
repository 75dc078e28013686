"""The hole-by-hole test: which old holes a new part can use, which are plugged, which are drilled.

Holes are centres (x along the strings, y across them, mm) with a diameter. The test is plain
geometry (common-practice); the tolerances are what the trade works to (memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from msgspec import Struct

from estimator.fit.case import demand
from estimator.model import Demand

#: centre error, mm, that a screw or post forgives, by kind of part (memory)
TOLERANCE = {
    "bridge": Decimal("0.5"),
    "post": Decimal("0.3"),
    "tuner": Decimal("0.3"),
    "guard": Decimal("1.0"),
    "plate": Decimal("0.8"),
}
SAME_SIZE = Decimal("0.4")
WOOD_BETWEEN = Decimal("1.5")
SMALL_HOLE = Decimal(4)
ONE_CHIP = Decimal(15)


class Hole(Struct, frozen=True):
    """A hole: centre (x along, y across the strings), diameter, and whether it shows afterwards; mm."""

    x: Decimal
    y: Decimal
    d: Decimal
    seen: bool = False


class NewHole(Struct, frozen=True):
    """What becomes of one hole the part needs.

    ``case``: ``reuse``, ``open-up``, ``fill-and-reuse``, ``clash``, ``separate``; ``old`` is the
    number of the nearest old hole (None where there is none), ``error`` the distance to it in mm.
    """

    case: str
    old: int | None
    error: Decimal


class HoleTest(Struct, frozen=True):
    """The outcome: a fate per hole needed, and per existing hole ``kept``, ``plugged`` or ``left``."""

    existing: tuple[Hole, ...]
    needed: tuple[Hole, ...]
    new: tuple[NewHole, ...]
    old: tuple[str, ...]

    @property
    def reused(self) -> int:
        """New holes that need nothing."""
        return sum(fate.case == "reuse" for fate in self.new)

    @property
    def opened(self) -> int:
        """Old holes drilled larger in their place; they are kept and count as drilled."""
        return sum(fate.case == "open-up" for fate in self.new)

    @property
    def drilled(self) -> int:
        """Holes to drill; reused + drilled = needed."""
        return len(self.new) - self.reused

    @property
    def plugged(self) -> tuple[Hole, ...]:
        """Old holes to plug."""
        return tuple(h for h, fate in zip(self.existing, self.old, strict=True) if fate == "plugged")

    @property
    def left(self) -> int:
        """Old holes left as they are, out of sight; kept + plugged + left = existing."""
        return self.old.count("left")

    @property
    def chips(self) -> int:
        """Touch-ups: plugged holes that show and that no new hole takes up; near ones count as one."""
        taken = {fate.old for fate in self.new if fate.case in ("fill-and-reuse", "clash")}
        bare = [
            hole
            for number, (hole, fate) in enumerate(zip(self.existing, self.old, strict=True))
            if fate == "plugged" and hole.seen and number not in taken
        ]
        return chip_groups(bare)


def distance(one: Hole, other: Hole) -> Decimal:
    """Distance of two centres, mm."""
    return ((one.x - other.x) ** 2 + (one.y - other.y) ** 2).sqrt()


def row(
    count: int | Decimal, spread: Decimal, d: Decimal, x: Decimal | int = 0, seen: bool = False
) -> tuple[Hole, ...]:
    """A row of holes across the strings, centred on the middle of the neck; ``spread`` outer centres, mm."""
    n = int(count)
    if n < 2:
        return (Hole(Decimal(x), Decimal(0), d, seen),) * n
    twice = 2 * (n - 1)  # one division a hole, so that both sides of the middle are rounded alike
    return tuple(Hole(Decimal(x), spread * (2 * k - n + 1) / twice, d, seen) for k in range(n))


def clash_distance(old: Hole, new: Hole) -> Decimal:
    """Centres nearer than this leave less than 1.5 mm of wood between two holes."""
    return (old.d + new.d) / 2 + WOOD_BETWEEN


def compare_holes(existing: Sequence[Hole], needed: Sequence[Hole], tolerance: Decimal) -> HoleTest:
    """The hole-by-hole test.

    Each hole needed is compared with the nearest old one (error e; old and new diameters, where for a
    wood screw the diameter is that of the pilot): e <= tolerance and the same size within 0.4 mm:
    reuse; larger: open up; smaller: fill and drill in the same place. Beyond it, with less than 1.5 mm
    of wood between the two: clash, plug the old one and drill. Farther off: drill, and plug the old one
    only if it shows. An old hole serves one new hole; the closest pair goes first.
    """
    pairs = sorted(
        (distance(old, new), j, i) for j, new in enumerate(needed) for i, old in enumerate(existing)
    )
    fates: dict[int, NewHole] = {}
    kept: dict[int, str] = {}
    for error, j, i in pairs:
        if error > tolerance:
            break
        if j in fates or i in kept:
            continue
        wider = needed[j].d - existing[i].d
        case = "reuse" if abs(wider) <= SAME_SIZE else "open-up" if wider > 0 else "fill-and-reuse"
        fates[j], kept[i] = NewHole(case, i, error), "plugged" if case == "fill-and-reuse" else "kept"
    in_the_way: set[int] = set()
    for error, j, i in pairs:
        if j in fates and fates[j].error <= tolerance and fates[j].case not in ("clash", "separate"):
            continue
        clash = error < clash_distance(existing[i], needed[j])
        if j not in fates:
            fates[j] = NewHole("clash" if clash else "separate", i, error)
        elif clash and fates[j].case == "separate":
            fates[j] = NewHole("clash", i, error)
        if clash and i not in kept:
            in_the_way.add(i)
    new = tuple(fates.get(j, NewHole("separate", None, Decimal(0))) for j in range(len(needed)))
    old = tuple(
        kept.get(i) or ("plugged" if i in in_the_way or hole.seen else "left")
        for i, hole in enumerate(existing)
    )
    return HoleTest(tuple(existing), tuple(needed), new, old)


def chip_groups(holes: Sequence[Hole]) -> int:
    """How many touch-ups a number of plugged holes takes: those within 15 mm of each other are one."""
    groups: list[list[Hole]] = []
    for hole in holes:
        near = [group for group in groups if any(distance(hole, other) <= ONE_CHIP for other in group)]
        joined = [hole, *(other for group in near for other in group)]
        groups = [group for group in groups if group not in near] + [joined]
    return len(groups)


def hole_demands(test: HoleTest, place: str, because: str, plug_task: str = "") -> Iterator[Demand]:
    """The work of a hole test: small plugs (old hole up to 4 mm) and large ones, holes, touch-ups.

    ``plug_task`` overrides the choice by size (holes that carry load get a glued dowel at any size).
    """
    plugs = {"plug-small-hole": 0, "plug-hole": 0}
    for hole in test.plugged:
        plugs[plug_task or ("plug-small-hole" if hole.d <= SMALL_HOLE else "plug-hole")] += 1
    for task, number in plugs.items():
        if number:
            yield demand(task, place, number, because)
    if test.drilled:
        yield demand("drill-hole", place, test.drilled, because)
    if test.chips:
        yield demand("fill-touch-up-chip", place, test.chips, "plugged holes that would show")

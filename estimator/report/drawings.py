"""What there is to draw of an upgrade, in mm and cm3, before it becomes a picture or a sheet.

All that an upgrade bores, cuts or glues is drawn, or named as not drawn with how it is marked instead.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from msgspec import Struct

from estimator.core.units import lengths_as_read
from estimator.fit.case import Case, MissingError, cm3, mm, over
from estimator.fit.judge import case_of, judge
from estimator.fit.rules.necks import is_bolted
from estimator.fit.rules.nuts import GROWN, is_nut
from estimator.fit.rules.onboard import BATTERY_CM3, control_size, preamp_size
from estimator.fit.rules.pickups import (
    WORTH_ROUTING,
    is_pool,
    needed_rout,
    rout_place,
    rout_there,
    under_guard,
    volume_out,
)
from estimator.fit.rules.strings import SHIM_SHARE, lowest_difference, saddle_drop
from estimator.fit.rules.tremolo import (
    CHISEL_CM3,
    LEAST_WALL,
    SIN_DIVE,
    WITH_CAVITY,
    has_cavity,
    lengthening,
    needed_length,
    needed_width,
    pull_sine,
    volume_across,
    volume_along,
    widening,
)
from estimator.model import Demand, Job, Shop, Upgrade, UsedValue
from estimator.report.hole_plans import MAKERS, HolePlan
from estimator.report.to_draw import ToDraw

BLOCK_PARTS = ("trem6", "trem2", "tremlock", "block")
PICKUP_PARTS = ("single", "stack", "hum", "soap", "basspu")


@dataclass(frozen=True, slots=True)
class CavityPlan(ToDraw):
    """The tremolo cavity before and after; ``forward`` of the ``longer`` is cut towards the neck.

    ``wall_now`` and ``wall`` are the wood to the pickup rout before and after. ``room_long`` and
    ``room_wide`` are what the block wants.
    """

    title: str
    long: Decimal
    wide: Decimal
    deep: Decimal
    longer: Decimal
    wider: Decimal
    forward: Decimal
    wall_now: Decimal
    block_w: Decimal
    block_t: Decimal
    room_long: Decimal
    room_wide: Decimal
    volume: Decimal
    seen_from: str = field(default="the back", kw_only=True)

    @property
    def wall(self) -> Decimal:
        """Wood left to the pickup rout."""
        return self.wall_now - self.forward

    def shown(self) -> Mapping[tuple[str, str], Decimal]:
        """What is drawn, as amounts of work by task and place."""
        return {("enlarge-tremolo-cavity", "tremolo-cavity"): self.volume} if self.volume > CHISEL_CM3 else {}


@dataclass(frozen=True, slots=True)
class RoutPlan(ToDraw):
    """A rout before and after: (across the strings, along them, depth). ``place`` is that of the work."""

    title: str
    there: tuple[Decimal, Decimal, Decimal]
    need: tuple[Decimal, Decimal, Decimal]
    volume: Decimal
    place: str = ""

    def shown(self) -> Mapping[tuple[str, str], Decimal]:
        """What is drawn, as amounts of work by task and place."""
        return {("route-cavity", self.place): self.volume} if self.place and self.volume else {}


@dataclass(frozen=True, slots=True)
class PiecePlan(ToDraw):
    """A piece of wood that is cut and glued in: seen from above, with its thickness at both ends.

    ``work`` is the (task, place) that it shows and ``amount`` how much of it.
    """

    title: str
    across: Decimal
    along: Decimal
    thick: tuple[Decimal, Decimal]
    work: tuple[str, str]
    amount: Decimal
    ends: tuple[str, str] = ("", "")
    seen_from: str = field(default="above", kw_only=True)

    def shown(self) -> Mapping[tuple[str, str], Decimal]:
        """What is drawn, as amounts of work by task and place."""
        return {self.work: self.amount}


@dataclass(frozen=True, slots=True)
class OutlinePlan(ToDraw):
    """An edge to saw by, from the points of the job, with the middles of its screw holes."""

    title: str
    points: tuple[tuple[Decimal, Decimal], ...]
    holes: tuple[tuple[Decimal, Decimal], ...]
    work: tuple[str, str]

    @property
    def size(self) -> tuple[Decimal, Decimal]:
        """How far it reaches across and along."""
        across, along = zip(*self.points, strict=True)
        return max(across) - min(across), max(along) - min(along)

    def shown(self) -> Mapping[tuple[str, str], Decimal]:
        """What is drawn, as amounts of work by task and place."""
        return {self.work: Decimal(1)}


DrawnPlan = HolePlan | CavityPlan | RoutPlan | PiecePlan | OutlinePlan
OUTLINED_WORK = {
    "guard": (("cut-guard-blank", ""), "Guard to saw from the blank"),
    "headstock": (("reshape-headstock", ""), "Outline of the peghead"),
}
"""The work that is cut by an outline of the job, and what its drawing is called."""


def _outlines(job: Job) -> Iterator[tuple[str, OutlinePlan]]:
    for of, outline in job.outlines.items():
        work, title = OUTLINED_WORK[of]
        yield f"outline-{of}", OutlinePlan(title, outline.points, outline.holes, work)


class NotDrawn(Struct, frozen=True):
    """Work that changes wood for good and is not drawn: what, how much, and how it is marked instead."""

    task: str
    place: str
    amount: Decimal
    what: str
    mark_by: str

    @property
    def words(self) -> str:
        """``hole to drill (4; guard holes): lay the new guard on and mark through its holes``."""
        place = f"; {self.place.replace('-', ' ')}" if self.place else ""
        return f"{self.what} ({self.amount.normalize():f}{place}): {self.mark_by}"


class Drawn(Struct, frozen=True):
    """All that there is to draw of an upgrade, by name, and what of its work is not drawn."""

    plans: Mapping[str, DrawnPlan]
    not_drawn: tuple[NotDrawn, ...]


def cavity_plan(case: Case) -> CavityPlan:
    """The cavity of a tremolo for the block at hand.

    The share of the pull-up goes forward, unless that would leave less wall than is wanted: then all
    of the cut goes to the rear.
    """
    longer = lengthening(case)
    forward = longer * pull_sine(case) / (SIN_DIVE + pull_sine(case))
    wall = case.number("tcav_wall")
    if wall - forward < LEAST_WALL:
        forward = Decimal(0)
    volume = volume_along(case) + volume_across(case)
    return CavityPlan(
        f"Tremolo cavity: {volume} cm3 to take out",
        case.number("tcav_len"),
        case.number("tcav_wid"),
        case.number("tcav_dep"),
        longer,
        widening(case),
        forward,
        wall,
        case.p("block_w"),
        case.p("block_t"),
        needed_length(case),
        needed_width(case),
        volume,
    )


def rout_plan(case: Case) -> RoutPlan:
    """The rout of a pickup at its place."""
    need, there = needed_rout(case), rout_there(case)
    volume = volume_out(need, there)
    title = f"{case.pickup.capitalize()} pickup rout: {volume} cm3 to take out"
    return RoutPlan(title, there, need, volume, rout_place(case))


def plans_of(shop: Shop, job: Job, upgrade: Upgrade) -> Mapping[str, DrawnPlan]:
    """All that there is to draw of an upgrade, by name (``holes``, ``cavity``, ``rout`` and so on).

    Empty where nothing is bored or cut, or where a measurement that the drawing needs is missing.
    """
    return drawn_of(shop, job, upgrade).plans


def drawn_of(shop: Shop, job: Job, upgrade: Upgrade) -> Drawn:
    """What is drawn of an upgrade and what is not: together all that it bores, cuts and glues."""
    asked = _asked(shop, judge(shop, job, upgrade).demands)
    plans: dict[str, DrawnPlan] = {}
    shown: dict[tuple[str, str], Decimal] = {}
    for name, plan in _could_be_drawn(shop, job, upgrade):
        says = plan.shown()
        if any(key not in asked for key in says):
            continue  # what the fit rules do not ask for is not bored, whatever could be drawn
        plans[name] = plan.as_read(shop.lengths)
        for key, amount in says.items():
            shown[key] = shown.get(key, Decimal(0)) + amount
    left = []
    for (task, place), amount in asked.items():
        missing = amount - shown.get((task, place), Decimal(0))
        row = shop.drawn.of(task, place)
        if missing and row is not None:
            what, how = (
                lengths_as_read(words, shop.lengths, beside=True) for words in (row.what, row.mark_by)
            )
            left.append(NotDrawn(task, place, missing, what, how))
    return Drawn(plans, tuple(left))


def _could_be_drawn(shop: Shop, job: Job, upgrade: Upgrade) -> Iterator[tuple[str, DrawnPlan]]:
    """The plans of all makers by name (from the second of a maker on with its number), then the job's outlines."""
    for name, maker in (*MAKERS.items(), *SHAPES.items()):
        for number, plan in enumerate(_made(shop, job, upgrade, maker), start=1):
            yield (name if number == 1 else f"{name}-{number}"), plan
    yield from _outlines(job)


def _asked(shop: Shop, demands: Sequence[Demand]) -> dict[tuple[str, str], Decimal]:
    """What is bored, cut or glued, by task and place: at one place the largest demand counts, as it is priced."""
    asked: dict[tuple[str, str], Decimal] = {}
    for demand in demands:
        if shop.drawn.of(demand.task, demand.place) is not None:
            key = (demand.task, demand.place)
            asked[key] = max(asked.get(key, Decimal(0)), demand.quantity)
    return asked


def _made(
    shop: Shop, job: Job, upgrade: Upgrade, maker: Callable[[Case], Iterator[DrawnPlan]]
) -> Iterator[DrawnPlan]:
    """The plans of one maker, with what was assumed for them; none where a measurement is missing."""
    case = case_of(shop, job, upgrade)
    try:
        plans = list(maker(case))
    except MissingError:
        return
    assumed = [value for value in case.used.values() if value.assumed and _is_size(shop, value)]
    part = tuple(_to_measure(case, value) for value in assumed if value.dimension)
    there = tuple(_to_measure(case, value) for value in assumed if not value.dimension)
    for plan in plans:
        yield replace(plan, measure=(*there, *plan.measure), of_part=(*part, *plan.of_part))


def _is_size(shop: Shop, value: UsedValue) -> bool:
    """Whether a value is a length or a count, so that what is drawn stands or falls with it."""
    if value.dimension:
        return True
    spec = shop.intake.get(value.name)
    return spec is None or spec.kind in ("length", "number", "count")


def _to_measure(case: Case, value: UsedValue) -> str:
    of_part = " of the part" if value.dimension else ""
    words = case.what_is(value.name).rsplit(" (", 1)[0].removesuffix(of_part)
    return f"{words}{of_part} ({value.value} {value.unit})".replace(" )", ")")


def _cavity(case: Case) -> Iterator[DrawnPlan]:
    if case.is_a(*BLOCK_PARTS) and has_cavity(case) and (lengthening(case) or widening(case)):
        yield cavity_plan(case)


def _rout(case: Case) -> Iterator[DrawnPlan]:
    if not case.is_a(*PICKUP_PARTS) or (is_pool(case) and under_guard(case)):
        return
    plan = rout_plan(case)
    if any(want > has for want, has in zip(plan.need, plan.there, strict=True)):
        yield _worked_out(plan)


def _worked_out(plan: RoutPlan) -> RoutPlan:
    """What is too little to rout but too deep is counted by the floor alone, as the fit rule counts it."""
    if plan.volume > WORTH_ROUTING:
        return plan
    need, there = plan.need, plan.there
    floor = cm3(min(need[0], there[0]) * min(need[1], there[1]) * over(need[2] - there[2]) / 1000)
    return replace(plan, volume=floor)


NOTHING = (Decimal(0), Decimal(0), Decimal(0))


def _boxes(case: Case) -> Iterator[DrawnPlan]:
    """Routs of a fixed box: battery box (R68), preamp (R67), front recess of a locking tremolo (R16)."""
    if case.is_a("preamp", "battbox") or (case.p_has("active") and case.p_yes("active")):
        size = (Decimal(76), Decimal(30), Decimal(28))
        yield RoutPlan(
            f"Battery box: {BATTERY_CM3} cm3 to take out",
            NOTHING,
            size,
            BATTERY_CM3,
            "battery",
            seen_from="the back",
        )
    if case.is_a("preamp"):
        need, there = preamp_size(case), control_size(case)
        volume = volume_out(need, there)
        title = f"Control cavity for the preamp: {volume} cm3 to take out"
        if volume:
            yield RoutPlan(title, there, need, volume, "control-cavity", seen_from="the back")
    if case.is_a("tremlock") and case.p_has("recessed") and case.p_yes("recessed"):
        size = (Decimal(95), Decimal(45), case.p("recess_d"))
        volume = cm3(size[0] * size[1] * size[2] / 1000)
        title = f"Front recess of the locking tremolo: {volume} cm3 to take out"
        yield RoutPlan(title, NOTHING, size, volume, "tremolo-recess")


def _neck_shim(case: Case) -> Iterator[DrawnPlan]:
    if not case.has("saddle_down"):
        return
    thick = SHIM_SHARE * (saddle_drop(case) + lowest_difference(case))
    if is_bolted(case) and thick > 0:
        yield PiecePlan(
            f"Shim of the neck pocket: {mm(thick)} mm at the thick end",
            case.number("pocket_wid"),
            case.number("pocket_len"),
            (thick, Decimal(0)),
            ("shim-neck", ""),
            Decimal(1),
            ("end towards the body", "end towards the peghead"),
        )


def _nut_shim(case: Case) -> Iterator[DrawnPlan]:
    if is_nut(case) or not case.p_has("crown_h"):
        return
    grown = case.p("crown_h") - case.number("fret_h")
    if grown > GROWN:
        yield PiecePlan(
            f"Shim under the nut: {mm(grown)} mm",
            case.number("nut_wid"),
            case.number("nut_seat_w"),
            (grown, grown),
            ("shim-nut", ""),
            Decimal(1),
        )


def _cavity_block(case: Case) -> Iterator[DrawnPlan]:
    """The hardwood block under a hardtail on a tremolo body: R15."""
    if case.part is None or case.word("br_type") not in WITH_CAVITY:
        return
    edge = case.p_maybe("trem_edge")
    if edge is None or edge <= 5:
        deep = case.number("tcav_dep")
        yield PiecePlan(
            f"Block for the tremolo cavity: {mm(deep)} mm thick",
            case.number("tcav_wid"),
            case.number("tcav_len"),
            (deep, deep),
            ("repair-crack", "tremolo-cavity"),
            Decimal(20),
        )


SHAPES: Mapping[str, Callable[[Case], Iterator[DrawnPlan]]] = {
    "cavity": _cavity,
    "rout": _rout,
    "boxes": _boxes,
    "shim": _neck_shim,
    "nut-shim": _nut_shim,
    "block": _cavity_block,
}
"""The makers of cavities, routs and pieces by the name that their drawing has."""

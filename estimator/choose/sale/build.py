"""From shop, job and priced work to the plain record of the sale."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths, Tenths
from estimator.core.money import centiminutes, cents
from estimator.estimate.baseline import levels_now, tenths
from estimator.estimate.costing import Costing
from estimator.estimate.sale_terms import (
    box_of,
    clean_price,
    conditions_of,
    rule,
    tier_of,
    way_for,
)
from estimator.estimate.three_point import mean_of
from estimator.fit.candidates import rows_for
from estimator.model import Job, Part, ResaleTier, SellingWay, Shop, UpliftRow, Verdict
from estimator.model.sale_problem import Loss, Removed, Sale, Standing, Uplift
from estimator.tables.counts import right_count

ZERO = Decimal(0)
SOURCING = "source-donor"
"""The task of finding, haggling for and fetching a donor; its minutes count in the pay of a resale."""


class UpliftFrame(Struct, frozen=True):
    """An uplift on this job, before the clean price is known; ``part_value`` where it goes by the part."""

    id: str
    row: UpliftRow
    part_value: Cents | None
    clauses: tuple[tuple[str, ...], ...]

    def value(self, base: Decimal) -> Cents:
        """What it is worth at a clean price, in cents, never above its most."""
        if self.part_value is not None:
            return self.part_value
        return _at_most(base * self.row.share, self.row)


class SaleFrame(Struct, frozen=True):
    """A sale on this job with everything but the clean price worked out; ``at`` puts the price in."""

    tier: ResaleTier
    standing: tuple[str, Decimal]
    better: tuple[tuple[str, Decimal, tuple[tuple[str, Tenths], ...]], ...]
    uplifts: tuple[UpliftFrame, ...]
    losses: tuple[tuple[UpliftRow, Decimal, tuple[str, ...]], ...]
    rest: Sale

    def at(self, base: Decimal, paid: Cents = Cents(0)) -> Sale:
        """The sale at a clean price (money); ``paid`` cents for the instrument."""
        return replace(
            self.rest,
            base=cents(base),
            ceiling=cents(base * self.tier.ceiling),
            standing=Standing(self.standing[0], cents(base * self.standing[1])),
            better=tuple(Standing(name, cents(base * factor), needs) for name, factor, needs in self.better),
            uplifts=tuple(
                Uplift(u.id, u.row.group, u.row.what, u.value(base), u.clauses) for u in self.uplifts
            ),
            losses=tuple(
                Loss(row.id, row.group, row.what, cents(base * share), ids) for row, share, ids in self.losses
            ),
            paid=paid,
        )


def sale_of(shop: Shop, job: Job, verdicts: Iterable[Verdict], costing: Costing) -> Sale:
    """The sale of the job's instrument by its way of selling; its own minutes count at the wanted pay."""
    frame = sale_frame(shop, job, tuple(verdicts), costing)
    return frame.at(clean_price(shop, job)[0], cents(job.asking_price))


def sale_frame(shop: Shop, job: Job, verdicts: tuple[Verdict, ...], costing: Costing) -> SaleFrame:
    """Everything about a sale but the clean price."""
    tier = tier_of(shop, job)
    selling = way_for(shop, job)
    standing, better = _conditions(shop, job)
    minutes = centiminutes(selling.minutes) + sourcing_minutes(shop, job) + centiminutes(job.sale.travel_min)
    if selling.freight_by != "none":
        minutes += centiminutes(box_of(shop, job).minutes)
    fixed = selling.fee_fixed + selling.other_cost + _freight(shop, job, selling) + job.sale.inbound_cost
    givers = _givers(shop, verdicts, tier)
    rest = Sale(
        way=selling.id,
        base=Cents(0),
        ceiling=Cents(0),
        standing=Standing(standing[0], Cents(0)),
        better=(),
        uplifts=(),
        losses=(),
        removed=tuple(_removed(shop, job, verdicts, tier)),
        damping=rule(shop, "damping"),
        fee_basis_points=basis_points(selling.fee_share + selling.returns_share),
        fixed=cents(fixed),
        extra_minutes=minutes,
        pay=cents(costing.setting.wage),
    )
    # nobody pays more for what was done to an instrument that no work brings back
    grade = shop.resale.ladder.get(standing[0])
    dead = grade is not None and not grade.by_work and not better and grade.factor < 1
    uplifts = () if dead else tuple(_uplifts(shop, job, givers))
    losses = tuple(_losses(shop, givers, tier))
    return SaleFrame(tier, standing, better, uplifts, losses, rest)


def basis_points(share: Decimal) -> int:
    """A share in ten-thousandths."""
    return int((share * 10_000).quantize(Decimal(1), ROUND_HALF_UP))


def _freight(shop: Shop, job: Job, way: SellingWay) -> Decimal:
    return box_of(shop, job).freight if way.freight_by == "seller" else ZERO


def sourcing_minutes(shop: Shop, job: Job) -> Hundredths:
    """Minutes of finding and fetching the donor, in hundredths; none where the job says it came by itself."""
    return finding_minutes(shop) if job.sale.sourced else Hundredths(0)


def finding_minutes(shop: Shop) -> Hundredths:
    """Minutes that finding and fetching any donor takes, in hundredths."""
    if SOURCING not in shop.tasks:
        return Hundredths(0)
    task = shop.tasks[SOURCING]
    run = mean_of(task.run_min_low, task.run_min_likely, task.run_min_high, task.reading)
    return centiminutes(task.setup_min + run)


def _conditions(
    shop: Shop, job: Job
) -> tuple[tuple[str, Decimal], tuple[tuple[str, Decimal, tuple[tuple[str, Tenths], ...]], ...]]:
    """The condition as it stands and those that work can bring it to, best first, with their factors.

    As it stands is the worse of what the job says and what the levels found allow. Where the job
    says worse than the levels do, something else is wrong with it, and no work is known to cure it.
    """
    conditions = conditions_of(shop, job)
    grades = [grade for grade, _ in conditions]
    if not grades:
        return ("clean-working", Decimal(1)), ()
    levels = levels_now(shop, job)
    reached = len(grades) - 1
    for place, (grade, needs) in enumerate(conditions):
        if grade.by_work and needs and all(levels.get(name, ZERO) >= least for name, least in needs.items()):
            reached = place
            break
    said = next((n for n, grade in enumerate(grades) if grade.id == job.sale.condition), None)
    if said is not None and not grades[said].by_work:
        return (grades[said].id, grades[said].factor), ()
    place = reached if said is None else max(reached, said)
    standing = (grades[place].id, grades[place].factor)
    if said is not None and reached < said:
        return standing, ()
    better = tuple(
        (
            grade.id,
            grade.factor,
            tuple((name, tenths(least)) for name, least in needs.items()),
        )
        for grade, needs in conditions[:place]
        if grade.by_work
    )
    return standing, better


Givers = dict[str, dict[str, list[Verdict]]]


def _givers(shop: Shop, verdicts: tuple[Verdict, ...], tier: ResaleTier) -> Givers:
    """Upgrades offered on the job, by uplift and clause."""
    found: Givers = {}
    by_row: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        by_row.setdefault(verdict.upgrade.row.id, []).append(verdict)
    for row in shop.resale.upgrade_uplifts:
        if row.tiers and tier.id not in row.tiers:
            continue
        clauses = found.setdefault(row.uplift, {})
        for verdict in by_row.get(row.upgrade, ()):
            if row.grade in _kinds(verdict.upgrade.part):
                clauses.setdefault(row.clause, []).append(verdict)
    return found


def _kinds(part: Part | None) -> tuple[str, ...]:
    return ("any", part.grade, part.variant) if part else ("any",)


def _at_most(value: Decimal, uplift: UpliftRow) -> Cents:
    return cents(value if uplift.most is None else min(value, uplift.most))


def _uplifts(shop: Shop, job: Job, givers: Givers) -> Iterable[UpliftFrame]:
    """Uplifts that can be had; a clause counts where the instrument could have it (open to choice or not)."""
    could = {row.id for row in rows_for(shop, job)}
    for name, clauses in givers.items():
        uplift = shop.resale.uplifts[name]
        if uplift.share < 0 or uplift.of == "refinish" or not any(clauses.values()):
            continue
        if uplift.of == "part":
            for verdict in (verdict for found in clauses.values() for verdict in found):
                upgrade = verdict.upgrade
                price = upgrade.part.price * upgrade.part_quantity if upgrade.part else ZERO
                value = _at_most(price * uplift.share, uplift)
                yield UpliftFrame(f"{name}:{upgrade.id}", uplift, value, ((upgrade.id,),))
            continue
        there = {r.clause for r in shop.resale.upgrade_uplifts if r.uplift == name and r.upgrade in could}
        if all(clause in clauses for clause in there):
            every = tuple(tuple(sorted(v.upgrade.id for v in clauses[clause])) for clause in sorted(there))
            yield UpliftFrame(name, uplift, None, every)


def _losses(
    shop: Shop, givers: Givers, tier: ResaleTier
) -> Iterable[tuple[UpliftRow, Decimal, tuple[str, ...]]]:
    for name, clauses in givers.items():
        uplift = shop.resale.uplifts[name]
        ids = tuple(sorted(v.upgrade.id for found in clauses.values() for v in found))
        share = 1 - tier.refinish if uplift.of == "refinish" else -uplift.share
        if ids and share > 0:
            yield uplift, share, ids


def _removed(shop: Shop, job: Job, verdicts: tuple[Verdict, ...], tier: ResaleTier) -> Iterable[Removed]:
    """Parts that come off and are worth a listing: share of the new price of the grade the class was made with."""
    least, desk = rule(shop, "removed-least"), centiminutes(rule(shop, "removed-sale-min"))
    by_slot: dict[str, tuple[str, Decimal, list[str]]] = {}
    prices: dict[str, Decimal] = {}
    for verdict in verdicts:
        upgrade = verdict.upgrade
        part_class = upgrade.row.part_class
        if part_class not in shop.resale.salvage:
            continue
        if part_class not in prices:
            prices[part_class] = grade_price(shop, job, part_class, tier.grade)
        new = prices[part_class] * upgrade.part_quantity
        brings = new * shop.resale.salvage[part_class]
        known = by_slot.get(upgrade.slot)
        if known is None or brings < known[1]:
            # the kind of part that comes off is not told, so the cheapest that fits the slot is counted on
            by_slot[upgrade.slot] = (part_class, brings, [*(known[2] if known else []), upgrade.id])
        else:
            known[2].append(upgrade.id)
    for slot, (part_class, brings, ids) in by_slot.items():
        if brings >= least:
            what = f"{shop.part_classes[part_class].what} taken off"
            yield Removed(slot, what, cents(brings), desk, tuple(sorted(ids)))


def grade_price(shop: Shop, job: Job, part_class: str, grade: str) -> Decimal:
    """The least price of the shop's parts of a class and grade that are made for such an instrument.

    Where none is made for its kind and counts, the least of any; zero if there is none.
    """
    parts = [part for part in shop.parts_by_class.get(part_class, ()) if part.grade == grade]
    right = [p for p in parts if right_count(p.made_for(job.is_bass), job.instrument)]
    return min((p.price for p in right or parts), default=ZERO)

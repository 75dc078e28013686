"""From a costed job to the plain record of what may be chosen (``Problem``)."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal

from msgspec.structs import replace

from estimator.choose.kept import kept_rules
from estimator.core.amounts import Cents, Hundredths, Thousandths
from estimator.core.money import cents
from estimator.core.text import money, time_text
from estimator.estimate.baseline import level_limits, level_now, tenths, thousandths
from estimator.estimate.costing import Costing, OpenWay
from estimator.estimate.three_point import z_of
from estimator.fit.candidates import evaluate, names
from estimator.fit.mass import parts_change
from estimator.model import (
    Attribute,
    Conditional,
    Effect,
    Fault,
    Job,
    Part,
    Requirement,
    Shop,
    Upgrade,
    Verdict,
)
from estimator.model.problem import (
    Amount,
    Amounts,
    CostPiece,
    Giver,
    Hold,
    Problem,
    Rule,
    Scale,
    Source,
    WayChoice,
    Weight,
)
from estimator.tables.conditions import PART_CONDITIONS, holds
from estimator.tables.faults import faults_of

TOP = 4


def effects_of(shop: Shop, job: Job, verdicts: Iterable[Verdict]) -> tuple[Effect, ...]:
    """What every upgrade, its work and its fit findings do to the attributes."""
    verdicts = tuple(verdicts)
    by_row: dict[str, list[str]] = {}
    by_task: dict[str, list[str]] = {}
    for verdict in verdicts:
        by_row.setdefault(verdict.upgrade.row.id, []).append(verdict.upgrade.id)
        for task in dict.fromkeys(d.task for d in verdict.demands):
            by_task.setdefault(task, []).append(verdict.upgrade.id)
    effects: list[Effect] = []
    for verdict in verdicts:
        upgrade = verdict.upgrade
        part = upgrade.part
        kinds = ("any", part.grade, part.variant) if part else ("any",)
        for row in shop.upgrade_effects.get(upgrade.row.id, ()):
            if row.grade not in kinds or not holds(row.when, job.instrument):
                continue
            value = evaluate(row.value, job, part)
            together = tuple(i for name in row.together_with for i in _ids(name, by_row))
            if row.together_with and not together:
                continue
            effects.append(Effect(row.attribute, row.kind, value, (upgrade.id,), together))
        for finding in verdict.findings:
            for attribute, kind, value in finding.effects:
                effects.append(Effect(attribute, kind, value, (upgrade.id,), (), finding.rule))
    for task, rows in shop.task_effects.items():
        given_by = tuple(by_task.get(task, ()))
        for row in rows:
            if not given_by or not holds(row.when, job.instrument):
                continue
            together = tuple(dict.fromkeys(i for name in row.together_with for i in by_task.get(name, ())))
            if row.together_with and not together:
                continue
            value = evaluate(row.value, job)
            effects.append(Effect(row.attribute, row.kind, value, given_by, together, f"task:{task}", task))
    return tuple(effects)


def _ids(name: str, by_row: Mapping[str, list[str]]) -> list[str]:
    for row, ids in by_row.items():
        if name == row:
            return ids
        if name in ids:
            return [name]
    return []


def _meeting(
    asked: Conditional, by_row: Mapping[str, list[str]], parts: Mapping[str, Part | None]
) -> list[str]:
    """The upgrades a prerequisite names: with a condition those whose part meets it."""
    ids, met = _ids(asked.name, by_row), asked.condition
    return [i for i in ids if PART_CONDITIONS[met](parts[i])] if met else ids


def _giver(effect: Effect, whole: Callable[[Decimal], Amounts]) -> Giver[Amounts]:
    given, together = tuple(sorted(effect.given_by)), tuple(sorted(effect.together_with))
    return Giver(whole(effect.value), given, together, effect.source, effect.task)


LEAST_SHARE_THAT_MENDS = Decimal("0.5")
"""Of a task that mends a fault: strings that are only corrected after work on the nut stay too high."""


def lifted_by(fault: Fault, verdicts: Iterable[Verdict]) -> tuple[str, ...]:
    """The upgrades of a job that mend a fault: those named, and those whose work does.

    Work of which less than half is done only corrects what stands (``LEAST_SHARE_THAT_MENDS``).
    """
    return tuple(
        verdict.upgrade.id
        for verdict in verdicts
        if (verdict.upgrade.row.id in fault.mended_by and _lighter_where_it_must(fault, verdict.upgrade))
        or any(
            demand.task in fault.mended_by_work and demand.share >= LEAST_SHARE_THAT_MENDS
            for demand in verdict.demands
        )
    )


def _lighter_where_it_must(fault: Fault, upgrade: Upgrade) -> bool:
    """Whether an upgrade that mends the fault only by its lesser weight weighs less than what it takes off."""
    return upgrade.row.id not in fault.only_lighter or parts_change(upgrade) < 0


def _scales(
    shop: Shop, job: Job, effects: tuple[Effect, ...], verdicts: Sequence[Verdict]
) -> tuple[Scale, ...]:
    scales = []
    faults = faults_of(shop.faults, job.instrument)
    for attribute in shop.attributes.values():
        if attribute.kind != "level":
            continue
        mine = [e for e in effects if e.attribute == attribute.id]
        limits = [
            row
            for row in shop.attribute_limits
            if row.attribute == attribute.id and holds(row.when, job.instrument)
        ]
        scales.append(
            Scale(
                attribute.id,
                tenths(level_now(shop, attribute, job)[0]),
                tuple(_giver(e, tenths) for e in mine if e.kind == "to"),
                tuple(_giver(e, tenths) for e in mine if e.kind == "add"),
                tuple(_giver(e, tenths) for e in mine if e.kind == "cap"),
                tuple((row.other, tenths(row.plus)) for row in limits if row.plus is not None),
                tuple((row.other, tenths(row.needs)) for row in limits if row.needs is not None),
                tuple(
                    Hold(tenths(fault.level), lifted_by(fault, verdicts))
                    for fault in faults
                    if fault.attribute == attribute.id
                ),
            )
        )
    return tuple(scales)


def _amounts(shop: Shop, job: Job, effects: tuple[Effect, ...]) -> tuple[Amount, ...]:
    amounts = []
    for attribute in shop.attributes.values():
        if attribute.kind != "number":
            continue
        reading = job.instrument.get(attribute.intake_field) if attribute.intake_field else None
        base = reading.value if reading is not None and isinstance(reading.value, Decimal) else Decimal(0)
        changes = tuple(
            _giver(e, thousandths) for e in effects if e.attribute == attribute.id and e.kind == "change"
        )
        amounts.append(Amount(attribute.id, thousandths(base), changes, attribute.adds == "mass"))
    return tuple(amounts)


def _name(attribute: Attribute) -> str:
    return attribute.id.replace("-", " ")


def _requirement_rule(requirement: Requirement, shop: Shop) -> Rule:
    attribute = shop.attributes[requirement.attribute]
    if attribute.kind == "level":
        level = requirement.level if requirement.level is not None else requirement.least or Decimal(0)
        words = f"{_name(attribute)} at least level {level.normalize():f}"
        return Rule(Source.WISH, "level", words, attribute.id, tenths(level), of=attribute.id)
    unit = f" {attribute.unit}" if attribute.unit else ""
    asks = []
    if requirement.least is not None:
        asks.append(f"at least {requirement.least.normalize():f}{unit}")
    if requirement.most is not None:
        asks.append(f"at most {requirement.most.normalize():f}{unit}")
    return Rule(
        Source.WISH,
        "amount",
        f"{_name(attribute)} {' and '.join(asks)}",
        attribute.id,
        None if requirement.least is None else thousandths(requirement.least),
        None if requirement.most is None else thousandths(requirement.most),
        unit=attribute.unit,
        of=attribute.id,
    )


def _limit_rules(shop: Shop, job: Job) -> list[Rule]:
    """The limits on money and on hands-on time, in the user's words."""
    rules = []
    budget, currency = job.budget, shop.terms.currency
    if budget.money is not None:
        most = Cents(int((budget.money * 100).quantize(Decimal(1), ROUND_HALF_UP)))
        taxed = budget.on == "price" and (shop.terms.tax_parts or shop.terms.tax_labour)
        sure = f" at {budget.surety:f} % surety" if budget.on == "cost" and budget.surety is not None else ""
        words = f"{budget.on}{' with tax' if taxed else ''} at most {money(most, currency)}{sure}"
        rules.append(Rule(Source.BUDGET, "money", words, most=most, on=budget.on, unit=currency, of="money"))
    if budget.minutes is not None:
        time = Hundredths(int((budget.minutes * 100).quantize(Decimal(1), ROUND_HALF_UP)))
        surety = f" at {budget.surety:f} % surety" if budget.surety is not None else " on average"
        words = f"hands-on time at most {time_text(time, exact=True)}{surety}"
        rules.append(Rule(Source.BUDGET, "minutes", words, most=time, of="hours"))
    return rules


def with_limits_of(problem: Problem, shop: Shop, job: Job) -> Problem:
    """The same choice under the limits on money and hands-on time of ``job``; nothing else of it is looked at."""
    kept = tuple(rule for rule in problem.rules if rule.source != Source.BUDGET)
    wishes = sum(1 for rule in kept if rule.kind in ("level", "amount"))
    return replace(problem, rules=(*kept[:wishes], *_limit_rules(shop, job), *kept[wishes:]))


def rules_of(
    shop: Shop, job: Job, verdicts: tuple[Verdict, ...], effects: tuple[Effect, ...]
) -> tuple[Rule, ...]:
    """The wish, the budget and what is required, refused, does not fit or stays as it is, in the user's words."""
    rules = [_requirement_rule(requirement, shop) for requirement in job.requirements]
    rules.extend(_limit_rules(shop, job))
    for entry in job.required:
        ids = tuple(v.upgrade.id for v in verdicts if names(v.upgrade, entry))
        rules.append(Rule(Source.REQUIRED, "required", f"{entry} is required", upgrades=ids, of=entry))
    refused: set[str] = set()
    for entry in dict.fromkeys(job.refused):
        ids = tuple(v.upgrade.id for v in verdicts if names(v.upgrade, entry))
        refused.update(ids)
        if ids:
            rules.append(Rule(Source.REFUSED, "refused", f"{entry} is refused", upgrades=ids, of=entry))
    unfit: set[str] = set()
    for verdict in verdicts:
        identity = verdict.upgrade.id
        if identity not in refused and verdict.outcome == "does-not-fit":
            why = next(f.sentence for f in verdict.findings if f.outcome == "no")
            unfit.add(identity)
            words = f"{identity} does not fit: {why}"
            rules.append(Rule(Source.UNFIT, "refused", words, upgrades=(identity,), of=identity))
    rules.extend(kept_rules(shop, job, verdicts, effects, refused | unfit))
    return tuple(rules)


def weights_of(shop: Shop, job: Job) -> tuple[Weight, ...]:
    """How much each attribute counts in the score: by the job's weights, else its profile's, else equally.

    What is wanted is the level that the wish or the profile asks for, else the highest.
    """
    profile = shop.profiles.get(job.profile, {})
    wanted = {row.attribute: row.minimum for row in profile.values() if row.minimum is not None}
    wanted |= {r.attribute: r.level for r in job.requirements if r.level is not None}
    given = {row.attribute: row.weight for row in profile.values()}
    given |= job.weights or ({} if profile else dict.fromkeys(wanted, Decimal(1)))
    weights = []
    for name, weight in given.items():
        level = wanted.get(name) or Decimal(TOP)
        attribute = shop.attributes[name]
        if weight <= 0:
            continue
        limits: tuple[Thousandths, ...] = ()
        if attribute.kind == "number":
            limits = tuple(thousandths(limit) for limit in level_limits(attribute, job.is_bass))
        weights.append(Weight(name, thousandths(weight), tenths(level), limits, attribute.better))
    return tuple(weights)


def build_problem(shop: Shop, job: Job, verdicts: tuple[Verdict, ...], costing: Costing) -> Problem:
    """The choice of one job as plain whole numbers."""
    return with_work_of(build_frame(shop, job, verdicts, costing), costing)


def build_frame(shop: Shop, job: Job, verdicts: tuple[Verdict, ...], costing: Costing) -> Problem:
    """The choice of one job without its priced work (``with_work_of``)."""
    effects = effects_of(shop, job, verdicts)
    by_row: dict[str, list[str]] = {}
    slots: dict[str, list[str]] = {}
    for verdict in verdicts:
        by_row.setdefault(verdict.upgrade.row.id, []).append(verdict.upgrade.id)
        slots.setdefault(verdict.upgrade.slot, []).append(verdict.upgrade.id)
    parts = {verdict.upgrade.id: verdict.upgrade.part for verdict in verdicts}
    prerequisites: list[tuple[str, tuple[str, ...]]] = []
    conflicts: set[tuple[str, str]] = set()
    for verdict in verdicts:
        upgrade = verdict.upgrade
        for asked in upgrade.needs_all:
            prerequisites.append((upgrade.id, tuple(_meeting(asked, by_row, parts))))
        if upgrade.needs_any:
            any_of = tuple(sorted({i for asked in upgrade.needs_any for i in _meeting(asked, by_row, parts)}))
            prerequisites.append((upgrade.id, any_of))
        for name in upgrade.excludes:
            for other in _ids(name, by_row):
                if other != upgrade.id:
                    conflicts.add((min(upgrade.id, other), max(upgrade.id, other)))
    return Problem(
        options=tuple(sorted(v.upgrade.id for v in verdicts)),
        slots=tuple((s, tuple(sorted(ids))) for s, ids in sorted(slots.items()) if len(ids) > 1),
        prerequisites=tuple(prerequisites),
        conflicts=tuple(sorted(conflicts)),
        pieces=(),
        scales=_scales(shop, job, effects, tuple(verdicts)),
        amounts=_amounts(shop, job, effects),
        rules=rules_of(shop, job, verdicts, effects),
        z_minutes=z_of(job.budget.surety, shop.terms.skew),
        z_price=z_of(costing.quote_surety, shop.terms.skew),
        shared_cause=float(shop.terms.shared_cause),
        large_from=costing.large_from,
        faults_priced=shop.terms.faults_priced,
        weights=weights_of(shop, job),
        billed=job.kind == "commission",
        hour_cents=_hour_cents(costing),
    )


def with_ways_for(problem: Problem, costing: Costing, aims: Sequence[str]) -> Problem:
    """The problem without the ways that can be best for nothing by its aims and limits."""
    if not problem.ways:
        return problem
    narrowed = best_for(problem, costing, aims)
    return problem if len(narrowed.ways) == len(costing.ways) else with_work_of(problem, narrowed)


def best_for(
    problem: Problem, costing: Costing, aims: Sequence[str], tasks: Collection[str] | None = None
) -> Costing:
    """The costing without the ways (of some tasks, if any are named) that can be best for nothing by aims and limits."""
    by_time = {"hours", "hourly"} & set(aims) or any(
        rule.kind in ("minutes", "due") for rule in problem.rules
    )
    strictly = "cost" if {"cost", "profit"} & set(aims) and not by_time else ""
    return costing.with_ways_for(_counted(problem, costing, aims), strictly, tasks)


def with_work_of(problem: Problem, costing: Costing) -> Problem:
    """The same choice with its work as a costing of the same verdicts has it: its pieces, what is bought, its open ways."""
    return replace(
        problem,
        pieces=_pieces(costing),
        packs=costing.packs,
        baskets=costing.baskets,
        ways=_ways(costing),
        hour_cents=_hour_cents(costing),
    )


def _hour_cents(costing: Costing) -> Cents:
    return cents(costing.setting.wage + costing.setting.overhead)


def _counted(problem: Problem, costing: Costing, aims: Sequence[str]) -> set[str]:
    """The figures that some aims and the limits of a problem turn on; cost and mean minutes break ties."""
    from estimator.choose.milp.objectives import OBJECTIVES, PRICED

    counted = {"cost", "minutes"}
    for aim in aims:
        counted.update(OBJECTIVES[aim].figures)
        if aim in ("profit", "hourly") and problem.billed:
            counted.update(PRICED)
    for rule in problem.rules:
        if rule.kind == "minutes":
            counted.add("sure")
        elif rule.kind == "money":
            counted.update(("cost_sure",) if rule.on == "cost" else OBJECTIVES[rule.on].figures)
    if costing.baskets is not None or any(packs.in_cost for packs in costing.packs):
        counted.add("packs")
    return counted


def _ways(costing: Costing) -> tuple[WayChoice, ...]:
    by_task: dict[str, list[OpenWay]] = {}
    for way in costing.ways:
        by_task.setdefault(way.task, []).append(way)
    return tuple(
        WayChoice(
            task,
            None if ways[0].asked_by is None else tuple(sorted(ways[0].asked_by)),
            tuple(way.id for way in ways),
        )
        for task, ways in by_task.items()
    )


def _pieces(costing: Costing) -> tuple[CostPiece, ...]:
    return tuple(
        CostPiece(
            atom.id,
            None if atom.triggers is None else tuple(sorted(atom.triggers)),
            atom.money.cost,
            atom.money.cash,
            atom.money.price_parts,
            atom.money.consumables,
            atom.minutes + atom.reserve_min,
            atom.sd,
            atom.line,
            atom.mass,
            atom.money.price_work,
            atom.money.line_tax,
            atom.rework_sd,
            atom.faults,
            atom.task,
            atom.is_difference,
        )
        for atom in costing.atoms
    )

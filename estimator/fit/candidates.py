"""Which upgrades a job may choose from: upgrade rows joined with the parts that could be fitted."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from decimal import Decimal
from functools import lru_cache

from estimator.core.errors import InputError, Issue, Origin, near_miss, refusal
from estimator.core.expressions import constant, names_of, parse_expression
from estimator.fit.mass import wood_density
from estimator.fit.shared import Shared
from estimator.model import (
    AS_FOUND,
    WOOD_DENSITY,
    Demand,
    Job,
    Part,
    Shop,
    Upgrade,
    UpgradeRow,
    WorkRow,
    calling,
)
from estimator.model.upgrade import dimension_in
from estimator.tables.conditions import holds
from estimator.tables.counts import right_count

ZERO = Decimal(0)
NO_LEVELS: Mapping[str, str] = {}


def field_value(job: Job, name: str, part: Part | None = None) -> Decimal:
    """A name in a table expression: an intake field, or ``part.x`` of the part at hand."""
    if stem := dimension_in(name):
        measured = None if part is None else part.weight_g if stem == "weight_g" else part.dims.get(stem)
        return measured if isinstance(measured, Decimal) else ZERO
    value = job.instrument[name].value
    return value if isinstance(value, Decimal) else ZERO


def evaluate(text: str, job: Job, part: Part | None = None, shop: Shop | None = None) -> Decimal:
    """A table expression on this job's instrument."""

    if not names_of(text):
        return constant(text)

    def value(name: str) -> Decimal:
        if name == WOOD_DENSITY and shop is not None:
            return wood_density(shop, job.instrument)
        return field_value(job, name, part)

    return parse_expression(text).value(value)


@lru_cache(maxsize=4096)
def names_in(*texts: str) -> tuple[str, ...]:
    """What table expressions rest on, each name once."""
    return tuple(dict.fromkeys(name for text in texts for name in names_of(text)))


def merged_levels(inner: Mapping[str, str], outer: Mapping[str, str]) -> dict[str, str]:
    """Factor levels with those of ``outer`` before those of ``inner``; ``as-found`` leaves the instrument's own."""
    if not inner and not outer:
        return {}
    levels = {**inner, **outer}
    return {code: level for code, level in levels.items() if level != AS_FOUND}


def demands_of(
    rows: tuple[WorkRow, ...], shop: Shop, job: Job, part: Part | None, because: str
) -> Iterator[Demand]:
    """Work rows as demands: bundles opened, conditions asked, quantities worked out."""
    for row in rows:
        if not holds(row.when, job.instrument, part):
            continue
        quantity = evaluate(row.quantity, job, part)
        share = evaluate(row.share, job, part)
        rests_on = names_in(row.quantity, row.share)
        reason = row.because or because
        of_part = part.levels if part else NO_LEVELS
        if of_part and row.levels:
            found = [code for code, level in row.levels.items() if level == AS_FOUND]
            of_part = {code: level for code, level in of_part.items() if code not in found}
        levels = merged_levels(row.levels, of_part)
        if row.task in shop.bundles:
            for inner in demands_of(shop.bundles[row.task], shop, job, part, reason):
                yield Demand(
                    inner.task,
                    inner.place or row.place,
                    inner.quantity * quantity,
                    inner.because,
                    inner.share * share,
                    merged_levels(inner.levels, row.levels),
                    rests_on=tuple(dict.fromkeys((*inner.rests_on, *rests_on))),
                )
        elif quantity > 0:
            yield Demand(row.task, row.place, quantity, reason, share, levels, rests_on=rests_on)


Asked = Shared[tuple[Demand, ...]]
"""What upgrades of one row on one instrument ask for by themselves, by what was looked at of their parts."""


def _build(
    row: UpgradeRow, word: str, part: Part | None, shop: Shop, job: Job, asked: Asked | None
) -> Upgrade:
    def work(of: Part | None) -> tuple[Demand, ...]:
        return tuple(demands_of(shop.upgrade_work.get(row.id, ()), shop, job, of, row.what))

    identity = f"{row.id}-{word}" if part else row.id
    quantity = evaluate(row.parts_needed, job, part) if part else ZERO
    if quantity < 0 or quantity != quantity.to_integral_value():
        raise refusal(
            row.origin.at("parts_needed"),
            f"{row.id} would take {quantity.normalize():f} parts",
            f"“{row.parts_needed}”",
            "a whole number, not below zero",
            "mend the expression",
        )
    what = f"{row.what}: {part.what}" if part else row.what
    demands = work(part) if asked is None or part is None else asked.of("", part, work)
    brought = {demand.task for demand in demands}
    needless = (
        *shop.needless.get(row.id, ()),
        *(one for one in shop.needless.get("", ()) if one.with_task in brought),
    )
    return Upgrade(
        id=identity,
        row=row,
        what=what,
        slot=row.slot,
        part=part,
        part_quantity=quantity,
        demands=demands,
        needs_all=row.needs_all,
        needs_any=row.needs_any,
        excludes=(*row.excludes, *(_elsewhere(row, word, shop) if part and part.owner == "customer" else ())),
        mass_removed_g=evaluate(row.removes_g, job, part, shop),
        needless=tuple(one for one in needless if holds(one.when, job.instrument, part)),
    )


def _elsewhere(row: UpgradeRow, word: str, shop: Shop) -> Iterator[str]:
    """The other upgrades that would take a part too: what a customer brings is there once."""
    for other in shop.upgrades.values():
        if other.part_class == row.part_class and other.id != row.id:
            yield f"{other.id}-{word}"


def rows_for(shop: Shop, job: Job) -> tuple[UpgradeRow, ...]:
    """The rows of upgrades.csv that make sense on this instrument and that there is a part for."""
    return tuple(row for row in shop.upgrades.values() if makes_sense(row, shop, job))


def makes_sense(row: UpgradeRow, shop: Shop, job: Job) -> bool:
    """Whether a row of upgrades.csv is for such an instrument, and there is a part for it."""
    return (
        row.instruments in ("any", job.family)
        and holds(row.when, job.instrument)
        and (not row.part_class or bool(_called(shop, job, row.part_class)))
    )


def _called(shop: Shop, job: Job, part_class: str) -> tuple[tuple[str, Part], ...]:
    return calling(shop.parts_by_class.get(part_class, ()), job.parts, part_class)


def some_right_count(shop: Shop, job: Job, part_class: str) -> bool:
    """Whether the shop's table has a part of the class that is made for the counts of the instrument.

    Then those for others are left out; without one they stay on the list, where fit says of each why it does not suit.
    """
    alike = (part.made_for(job.is_bass) for part in shop.parts_by_class.get(part_class, ()))
    return any(right_count(one, job.instrument) for one in alike)


def all_upgrades(shop: Shop, job: Job) -> tuple[Upgrade, ...]:
    """Every upgrade that makes sense on this instrument, in order of id."""
    return _offers_of_all(shop.upgrades.values(), shop, job)


def upgrades_meant(shop: Shop, job: Job, entries: Collection[str]) -> tuple[Upgrade, ...]:
    """The upgrades that make sense on this instrument, in order of id, of the rows that some words may name (``names``)."""
    rows = [row for row in shop.upgrades.values() if any(map(row.may_mean, entries))]
    return _offers_of_all(rows, shop, job)


def _offers_of_all(rows: Iterable[UpgradeRow], shop: Shop, job: Job) -> tuple[Upgrade, ...]:
    found = told_apart(upgrade for row in rows for upgrade in offers_of(row, shop, job))
    return tuple(found[identity] for identity in sorted(found))


def offers_of(row: UpgradeRow, shop: Shop, job: Job, asked: Asked | None = None) -> Iterator[Upgrade]:
    """The upgrades of one row that make sense on this instrument, one for each part that there is for it.

    ``asked``: what others of it ask for on the same instrument, to be looked up and added to.
    """
    if not makes_sense(row, shop, job):
        return
    parts: tuple[tuple[str, Part | None], ...] = (
        _called(shop, job, row.part_class) if row.part_class else (("", None),)
    )
    leaves_out: bool | None = None
    for word, either in parts:
        part = either.made_for(job.is_bass) if either else None
        if part is not None and part.id not in job.parts and not right_count(part, job.instrument):
            leaves_out = some_right_count(shop, job, row.part_class) if leaves_out is None else leaves_out
            if leaves_out:
                continue
        yield _build(row, word, part, shop, job, asked)


def told_apart(upgrades: Iterable[Upgrade]) -> dict[str, Upgrade]:
    """Upgrades by id; InputError where two go by the same."""
    found: dict[str, Upgrade] = {}
    for upgrade in upgrades:
        if upgrade.id in found:
            raise refusal(
                upgrade.part.origin if upgrade.part else upgrade.row.origin,
                f"two upgrades would both be called {upgrade.id}",
                next_step="give the part another id",
            )
        found[upgrade.id] = upgrade
    return found


def names(upgrade: Upgrade, entry: str) -> bool:
    """Whether a word of the user names this upgrade: by its full id, or by its row for all variants."""
    return entry in (upgrade.id, upgrade.row.id)


def not_offered(shop: Shop, job: Job, where: Origin, name: str, known: Collection[str]) -> Issue:
    """The complaint about an upgrade that the job does not offer: what it lacks, or a name that is like it."""
    problem = "no upgrade of this name can be done on this instrument"
    step = "run fit to see what is offered, or take the name out"
    row = next((row for row in shop.upgrades.values() if row.may_mean(name)), None)
    if row is None:
        accepted = near_miss(name, known) or "an upgrade id of the upgrades table that suits the instrument"
        return Issue(where, problem, f"“{name}”", accepted, step)
    family = job.family
    if row.instruments not in ("any", family):
        return Issue(where, problem, f"“{name}”", f"this one is for a {row.instruments}", step)
    if not holds(row.when, job.instrument):
        needs = row.when.replace("-", " ")
        return Issue(where, problem, f"“{name}”", f"this one is done where it holds: {needs}", step)
    variants = sorted(one for one in known if one.startswith(f"{row.id}-"))
    accepted = (
        near_miss(name, known) or ", ".join(variants[:12]) or "a part of its class in parts.csv or the job"
    )
    return Issue(where, problem, f"“{name}”", accepted, step)


def _of_the_shop(shop: Shop, entry: str) -> bool:
    """Whether a word names an upgrade of the tables, whatever instrument it is for."""
    parts = {(part.part_class, part.variant) for part in shop.parts.values()}
    return entry in shop.upgrades or any(
        entry.startswith(f"{row.id}-") and (row.part_class, entry.removeprefix(f"{row.id}-")) in parts
        for row in shop.upgrades.values()
    )


def offered(shop: Shop, job: Job, upgrades: tuple[Upgrade, ...] | None = None) -> tuple[Upgrade, ...]:
    """The upgrades open to choice: all of them, or those that ``open`` names; required ones always.

    ``upgrades``: all that make sense on the instrument, where they are known already.
    """
    upgrades = all_upgrades(shop, job) if upgrades is None else upgrades
    known = {u.id for u in upgrades} | {u.row.id for u in upgrades}
    asked = (("open", job.open), ("required", job.required), ("refused", job.refused))
    issues = [
        not_offered(shop, job, Origin(job.file, None, f"[upgrades] {key}"), entry, known)
        for key, entries in asked
        for entry in entries
        if entry not in known and (key != "refused" or not _of_the_shop(shop, entry))
    ]
    if issues:
        raise InputError(issues)
    if not job.open:
        return upgrades
    wanted = (*job.open, *job.required)
    return tuple(u for u in upgrades if any(names(u, entry) for entry in wanted))

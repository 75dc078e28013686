"""What is wrong with an instrument, what each fault lowers, and the least work that mends it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.build import lifted_by
from estimator.choose.kept import is_kept
from estimator.choose.study import Study, study_job
from estimator.choose.verify.choice import clashes, levels_reached, totals_of
from estimator.core.amounts import Cents
from estimator.core.money import percent
from estimator.estimate.baseline import level_now, levels_now, tenths
from estimator.estimate.sale_terms import conditions_of, never_mended
from estimator.fit.lasting import changes_of
from estimator.model import Fault, Job, Shop
from estimator.model.problem import Problem, Source
from estimator.tables.conditions import holds
from estimator.tables.faults import faults_of, gravest, word_of


class FoundFault(Struct, frozen=True):
    """A fault of the instrument. ``shown``: the reading; ``lowers``: attribute and highest level.

    ``mends``: upgrades on offer that fit and mend it, the least first: what leaves the instrument what it is before
    what does not, work before a part that is bought for the work that comes with it, then by cost; ``cost``: cents
    of the first, alone (what it needs included); only what is allowed counts. ``shut``: those that fit but that
    the customer's words keep out or refuse. ``mended``: whether the set does. ``changes``: of ``changes.csv``, what
    the first of them changes for good. ``may_fail``: how the set's work on it may fail however it is done.
    """

    id: str
    what: str
    shown: str
    lowers: tuple[tuple[str, Decimal], ...]
    mends: tuple[str, ...]
    cost: Cents | None
    mended: bool
    otherwise: str
    shut: tuple[str, ...] = ()
    changes: tuple[tuple[str, str], ...] = ()
    may_fail: str = ""


def faults_found(study: Study, chosen: Collection[str] = ()) -> tuple[FoundFault, ...]:
    """Every fault found on the instrument, in the order of the table; of two at one field the graver.

    What only keeps an attribute from standing better than good is told where more is wished for.
    """
    found_rows = gravest(faults_of(study.shop.faults, study.job.instrument))
    rows = [row for row in found_rows if not (is_limit(row) and not _wished_above(study.job, row))]
    by_fault: dict[str, list[Fault]] = {}
    for row in rows:
        by_fault.setdefault(row.fault, []).append(row)
    problem = study.problem
    unfit = {rule.of for rule in problem.rules if rule.source == Source.UNFIT}
    refused = unfit.union(*(r.upgrades for r in problem.rules if r.kind == "refused" and not is_kept(r)))
    nothing = totals_of(problem, ()).cost
    one_by_one = _OneByOne(problem, refused)
    found = []
    for name, mine in by_fault.items():
        row = mine[0]
        # one fault may lower several attributes, and what mends it for one need not for another
        each_by = [lifted_by(one, study.verdicts) for one in mine]
        able = tuple(upgrade for upgrade in each_by[0] if all(upgrade in by for by in each_by))
        costs: list[tuple[bool, bool, Cents, str]] = []
        for upgrade in able:
            alone = None if upgrade in refused else one_by_one.cost(upgrade)
            if alone is not None:
                cost = alone - nothing
                costs.append((bool(_changed(study, upgrade)), _along(study, upgrade, mine), cost, upgrade))
        costs.sort()
        unit = study.shop.intake[row.field].unit
        value = word_of(study.job.instrument[row.field])
        found.append(
            FoundFault(
                name,
                row.what,
                f"{row.field} {value} {unit}".rstrip(),
                tuple((each.attribute, each.level) for each in mine),
                tuple(upgrade for *_, upgrade in costs),
                costs[0][2] if costs else None,
                all(not set(by).isdisjoint(chosen) for by in each_by),
                row.mend,
                tuple(upgrade for upgrade in able if upgrade in refused - unfit),
                _changed(study, costs[0][3]) if costs else (),
                _may_fail(study, mine, each_by, chosen),
            )
        )
    return tuple(found)


def _may_fail(
    study: Study, rows: Collection[Fault], each_by: Iterable[Collection[str]], chosen: Collection[str]
) -> str:
    """In words, where all that a set does about a fault comes down to a task that may fail."""
    able = {upgrade for by in each_by for upgrade in by if upgrade in chosen}
    work = [{d.task for d in v.demands} for v in study.verdicts if v.upgrade.id in able]
    for rest in study.shop.promise_rests:
        lowered = any(rest.attribute == row.attribute for row in rows)
        if (
            lowered
            and holds(rest.when, study.job.instrument)
            and work
            and all(rest.task in by for by in work)
        ):
            return rest.because
    return ""


GOOD = Decimal(2)
"""The level of an attribute on a clean instrument that works (as the ladder of conditions asks of the action)."""


def is_limit(row: Fault) -> bool:
    """Whether a row is a limit to what work can reach and no fault: it costs no buyer anything and leaves good.

    Saddles that cannot go lower than fairly low strings are such a limit.
    """
    return not row.off_high and row.level >= GOOD


def _wished_above(job: Job, row: Fault) -> bool:
    return any(
        wish.attribute == row.attribute and wish.level is not None and wish.level > row.level
        for wish in job.requirements
    )


def _along(study: Study, upgrade: str, rows: Collection[Fault]) -> bool:
    """Whether a part is bought that mends nothing, for the work that comes with it: saddles, for a set-up."""
    bought = study.verdict(upgrade).upgrade
    return bought.part is not None and not any(bought.row.id in row.mended_by for row in rows)


def _changed(study: Study, upgrade: str) -> tuple[tuple[str, str], ...]:
    """What an upgrade changes for good, each with its words."""
    mine = changes_of(study.shop, study.job, study.verdict(upgrade))
    return tuple((name, change.what) for name, change in study.shop.lasting.changes.items() if name in mine)


def faults_of_job(shop: Shop, job: Job) -> tuple[FoundFault, ...]:
    """The faults of an instrument on which nothing is priced yet; no work is priced where there is none."""
    return faults_found(study_job(shop, job)) if faults_of(shop.faults, job.instrument) else ()


class _OneByOne:
    """What upgrades of a problem cost alone, each with what it needs: the pieces of work are gone through once.

    A shop may offer thousands of parts, and each of them mends.
    """

    def __init__(self, problem: Problem, refused: Collection[str]) -> None:
        self._problem, self._refused = problem, refused
        self._open = {*problem.options, *problem.ways_open}
        self._owners = {owner for owner, _ in problem.prerequisites}
        self._always = [n for n, piece in enumerate(problem.pieces) if piece.triggers is None]
        self._asked: dict[str, list[int]] = {}
        for number, piece in enumerate(problem.pieces):
            for name in piece.triggers or ():
                self._asked.setdefault(name, []).append(number)

    def cost(self, upgrade: str) -> Cents | None:
        """The cost of an upgrade with the cheapest of what it needs; None where that cannot be had."""
        with_it = self._with_needs(upgrade)
        return None if with_it is None else self._cost_of(with_it)

    def _cost_of(self, chosen: Collection[str]) -> Cents:
        numbers = sorted({*self._always, *(n for name in chosen for n in self._asked.get(name, ()))})
        own = replace(self._problem, pieces=tuple(self._problem.pieces[n] for n in numbers))
        return totals_of(own, chosen).cost

    def _with_needs(self, upgrade: str) -> tuple[str, ...] | None:
        if upgrade in self._open and upgrade not in self._owners:
            # by itself in its slot, and nothing is needed: nothing that it could clash with
            return (upgrade,)
        chosen = [upgrade]
        for owner, any_of in self._problem.prerequisites:
            if owner in chosen and not set(any_of) & set(chosen):
                able = [one for one in any_of if one not in self._refused]
                if not able:
                    return None
                chosen.append(min(able, key=lambda one: (self._cost_of((one,)), one)))
        return None if clashes(self._problem, chosen) else tuple(chosen)


def held_by(study: Study, chosen: Collection[str]) -> Mapping[str, tuple[str, ...]]:
    """For each level attribute that faults or other attributes hold down: by what, in words."""
    problem, shop = study.problem, study.shop
    levels = levels_reached(problem, chosen)
    bare = replace(problem, scales=tuple(replace(s, limits=(), needs=(), holds=()) for s in problem.scales))
    free = levels_reached(bare, chosen)
    faults = gravest(faults_of(shop.faults, study.job.instrument))
    told: dict[str, tuple[str, ...]] = {}
    for name, level in levels.items():
        if level >= free[name]:
            continue
        why = [
            f"{fault.what} ({fault.field} {word_of(study.job.instrument[fault.field])})"
            for fault in faults
            if fault.attribute == name
            and tenths(fault.level) < free[name]
            and set(lifted_by(fault, study.verdicts)).isdisjoint(chosen)
        ]
        for limit in shop.attribute_limits:
            if limit.attribute != name or not holds(limit.when, study.job.instrument):
                continue
            other = levels[limit.other]
            binds = (limit.plus is not None and other + tenths(limit.plus) < free[name]) or (
                limit.needs is not None and other < tenths(limit.needs)
            )
            if binds:
                stands = Decimal(other) / 10
                why.append(f"{limit.reason} ({limit.other.replace('-', ' ')} {stands.normalize():f})")
        told[name] = tuple(why)
    return told


def condition_words(study: Study) -> tuple[str, ...]:
    """What holds the condition of an instrument to be sold down, what lifts it, and what a buyer pays less for."""
    if study.problem.sale is None:
        return ()
    less = max(never_mended(study.shop, study.job), key=lambda pair: pair[1], default=None)
    taken_off = (
        ()
        if less is None
        else (
            f"In the price: {less[0].what}, which no work here is sure to cure; a buyer pays {percent(less[1], 0)} less.",
        )
    )
    return (*_held_down(study), *taken_off)


def _held_down(study: Study) -> tuple[str, ...]:
    shop, job, sale = study.shop, study.job, study.problem.sale
    if sale is None:
        return ()
    grades, stands = list(shop.resale.ladder.values()), sale.standing.condition
    said = job.sale.condition
    levels = levels_now(shop, job)
    if stands not in shop.resale.ladder:
        return ()
    place = next(n for n, grade in enumerate(grades) if grade.id == stands)
    better = [grade for grade in grades[:place] if grade.by_work]
    if not better:
        return ()
    if said == stands and not shop.resale.ladder[said].by_work:
        return (
            f"Condition: stated as {said}, which no work lifts here. State {better[-1].id} or name the "
            "faults (estimator check lists none by itself) if neck and body can be used.",
        )
    needs = next(needs for grade, needs in conditions_of(shop, job) if grade.id == better[-1].id)
    short = [name for name, least in needs.items() if levels.get(name, Decimal(0)) < least]
    if not short:
        guessed = [n for n in needs if level_now(shop, shop.attributes[n], job)[1] or n in _assumed(study)]
        what = f" Measure what nobody looked at: {', '.join(guessed)}." if guessed else ""
        return (
            f"Condition: stated as {stands}, but all that is written down would make it {better[-1].id}: what "
            f"holds it down is not named, so no work is known to lift it.{what} Write down the fault, or state "
            f"{better[-1].id}.",
        )
    words = ", ".join(
        f"{name.replace('-', ' ')} {levels[name].normalize():f} of {needs[name].normalize():f}"
        for name in short
    )
    return (f"Condition: {stands}, held down from {better[-1].id} by {words}.",)


def _assumed(study: Study) -> set[str]:
    return {name for name, reading in study.job.found_levels.items() if reading.assumed}

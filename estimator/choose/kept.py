"""What stays as it is unless it is asked for: rules that keep upgrades out which change an instrument for good."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from decimal import Decimal

from msgspec.structs import replace

from estimator.estimate.baseline import level_now
from estimator.fit.candidates import names
from estimator.fit.lasting import asked_by_wishes, changes_of, opened_by_name
from estimator.model import Effect, Job, Requirement, Shop, Verdict
from estimator.model.problem import Problem, Rule, Source

STAYS = " stays as it is"
"""How the words of such a rule end, after what it keeps."""


def kept_rules(
    shop: Shop,
    job: Job,
    verdicts: tuple[Verdict, ...],
    effects: tuple[Effect, ...],
    shut: Collection[str],
) -> Iterator[Rule]:
    """What the customer's words forbid, then one rule for each change that nobody asked for.

    ``shut``: upgrades that cannot be chosen anyhow, for another reason.
    """
    changes = {v.upgrade.id: changes_of(shop, job, v) for v in verdicts if v.upgrade.id not in shut}
    forbidden: set[str] = set()
    for word in job.keeps:
        kept = shop.lasting.keeps[word]
        ids = tuple(
            v.upgrade.id
            for v in verdicts
            if v.upgrade.id in changes
            and (
                set(changes[v.upgrade.id]) & set(kept.changes)
                or any(demand.task in kept.work for demand in v.demands)
                or any(names(v.upgrade, entry) for entry in kept.upgrades)
            )
        )
        forbidden.update(ids)
        if ids:
            words = f"{kept.what} (keeps “{word}”)"
            yield Rule(Source.KEEPS, "refused", words, upgrades=ids, of=word)
    by_name = {v.upgrade.id for v in verdicts if opened_by_name(job, v)}
    asked = asked_by_wishes(shop, effects, _unmet(shop, job))
    for change in shop.lasting.changes.values():
        if change.id in job.may_change:
            continue
        ids = tuple(
            upgrade
            for upgrade, mine in changes.items()
            if change.id in mine
            and upgrade not in forbidden
            and upgrade not in by_name
            and (upgrade, change.id) not in asked
        )
        if ids:
            words = f"{change.what}{STAYS}"
            yield Rule(Source.KEPT, "refused", words, upgrades=ids, of=change.id)


def _unmet(shop: Shop, job: Job) -> Iterator[str]:
    """The attributes of which more is wished than there is today; an amount that is wished for counts as one."""
    for wish in job.requirements:
        attribute = shop.attributes[wish.attribute]
        if attribute.kind != "level" or level_now(shop, attribute, job)[0] < _wanted(wish):
            yield wish.attribute


def _wanted(wish: Requirement) -> Decimal:
    return wish.level if wish.level is not None else wish.least or Decimal(0)


def is_kept(rule: Rule) -> bool:
    """Whether a rule keeps something as it is that nobody spoke of."""
    return rule.source == Source.KEPT


def change_of(rule: Rule) -> str:
    """The id in ``changes.csv`` of what such a rule keeps."""
    return rule.of


def without(problem: Problem, given_up: Collection[Rule]) -> Problem:
    """The problem with some of its rules given up."""
    gone = {rule.id for rule in given_up}
    return replace(problem, rules=tuple(rule for rule in problem.rules if rule.id not in gone))


def only_by(shop: Shop, given_up: Collection[Rule], chosen: Collection[str]) -> str:
    """What is said first of an answer that changes what nobody asked to be changed; blank where there is none."""
    told = []
    for rule in given_up:
        by = [upgrade for upgrade in rule.upgrades if upgrade in chosen]
        if by:
            told.append(f"{shop.lasting.changes[change_of(rule)].what} ({', '.join(by)})")
    return f"Only by changing {' and '.join(told)}." if told else ""


def only_by_changing(given_up: Collection[Rule]) -> str:
    """What is said of a way out or a compromise that changes what nobody asked to be changed; blank if none."""
    told = " and ".join(rule.words.removesuffix(STAYS) for rule in given_up)
    return f"only by changing {told}" if told else ""


def opened_with(rule: Rule) -> str:
    """What to write into a job so that a change is allowed."""
    return f'may_change = ["{change_of(rule)}"] under [upgrades]'

"""Verdicts: the rules of an upgrade run in order, findings ranked, outcome told."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal

from msgspec.structs import replace

from estimator.core.errors import InputError, Issue, Origin, near_miss
from estimator.fit.candidates import names, not_offered, offered
from estimator.fit.case import RULES, USUAL, Case
from estimator.fit.mass import change_of
from estimator.fit.remembered import Watched
from estimator.fit.rules import known_rules
from estimator.fit.shared import Shared
from estimator.model import Demand, Finding, Job, Part, Shop, Upgrade, Verdict

WEIGHT = "R80"
"""Said last of every upgrade that changes the weight: it counts the work that the other rules force."""
COUNTED = frozenset({"R88", "R89"})
"""Rules of counts: a part that one of them refuses is refused for its count alone."""
SEVERITY = {"no": 0, "work": 1, "warn": 2, "fits": 3}


def rules_of(shop: Shop, upgrade: Upgrade) -> tuple[str, ...]:
    """The rules to run: those of the part's class, then those of the upgrade row, each once."""
    of_class = shop.part_classes[upgrade.part.part_class].rules if upgrade.part else ()
    return tuple(dict.fromkeys((*of_class, *upgrade.row.rules)))


def wanted_levels(job: Job) -> dict[str, Decimal]:
    """Attribute levels that the wish asks for."""
    wanted: dict[str, Decimal] = {}
    for requirement in job.requirements:
        if requirement.level is not None:
            before = wanted.get(requirement.attribute, Decimal(0))
            wanted[requirement.attribute] = max(before, requirement.level)
    return wanted


def case_of(
    shop: Shop,
    job: Job,
    upgrade: Upgrade,
    wanted: Mapping[str, Decimal] | None = None,
    change_g: Decimal = Decimal(0),
    part: Part | None = None,
) -> Case:
    """What a rule sees of one upgrade on this instrument, with a fresh record of the values used.

    ``part``: as it is looked at, where that is noted.
    """
    wanted = wanted_levels(job) if wanted is None else wanted
    return Case(
        shop,
        job.instrument,
        upgrade.part if part is None else part,
        upgrade.row.id,
        upgrade.slot,
        upgrade.row.place,
        wanted,
        change_g=change_g,
    )


Found = Shared[tuple[tuple[Finding, ...], frozenset[str]]]
"""What rules found of the parts of a row, and the readings that they looked at, where that is noted."""


def judge(shop: Shop, job: Job, upgrade: Upgrade, shared: Found | None = None) -> Verdict:
    """All findings about one upgrade on this instrument, the gravest first.

    ``shared``: what was found of its row on the same instrument.

    Outcome: any ``no`` -> does-not-fit; work forced beyond the upgrade's own -> fits-after; else fits.
    InputError when a table names a rule that is not coded.
    """
    wanted = wanted_levels(job)
    found = [ruled(shop, job, upgrade, number, wanted, shared)[0] for number in judging_rules(shop, upgrade)]
    return concluded(shop, job, upgrade, wanted, found)


def judging_rules(shop: Shop, upgrade: Upgrade) -> tuple[str, ...]:
    """The rules that judge an upgrade, each by itself; InputError when a table names one that is not coded."""
    numbers = tuple(number for number in rules_of(shop, upgrade) if number != WEIGHT)
    for number in numbers:
        if number not in RULES:
            raise InputError(_unknown(number, upgrade))
    return numbers


def ruled(
    shop: Shop,
    job: Job,
    upgrade: Upgrade,
    number: str,
    wanted: Mapping[str, Decimal],
    shared: Found | None = None,
) -> tuple[tuple[Finding, ...], frozenset[str]]:
    """What one rule finds of an upgrade, and the readings looked at, where the instrument notes them.

    ``shared``: what was found of its row on the same instrument.
    """
    found, read = looked(shop, job, upgrade, number, wanted, shared)
    return placed(found, upgrade), read


def looked(
    shop: Shop,
    job: Job,
    upgrade: Upgrade,
    number: str,
    wanted: Mapping[str, Decimal],
    shared: Found | None = None,
) -> tuple[tuple[Finding, ...], frozenset[str]]:
    """The same, whatever work of its own the upgrade asks for: a rule sees its row and its part alone (``placed``)."""

    def look(part: Part | None) -> tuple[tuple[Finding, ...], frozenset[str]]:
        found = tuple(RULES[number](case_of(shop, job, upgrade, wanted, part=part)))
        return found, frozenset(job.instrument.seen if isinstance(job.instrument, Watched) else ())

    if shared is None or upgrade.part is None:
        return look(None)
    return shared.of(number, upgrade.part, look)


def placed(found: Iterable[Finding], upgrade: Upgrade) -> tuple[Finding, ...]:
    """What a rule found, its work at the places where the upgrade asks for the same."""
    return tuple(_placed(finding, upgrade) for finding in found)


def concluded(
    shop: Shop,
    job: Job,
    upgrade: Upgrade,
    wanted: Mapping[str, Decimal],
    found: Iterable[Iterable[Finding]],
) -> Verdict:
    """The verdict that follows from what the rules found, one after another."""
    findings = [finding for of_one in found for finding in of_one]
    if "weight_g" in job.instrument and not any(finding.outcome == "no" for finding in findings):
        demands = Verdict(upgrade, "", tuple(findings)).demands
        change = change_of(upgrade, demands, shop, job.instrument)
        said = RULES[WEIGHT](case_of(shop, job, upgrade, wanted, change))
        # no work and no choice rests on it: where weight is wished for, the spec names what it rests on
        findings.extend(replace(finding, used=()) for finding in said)
    # what is made for another count is another part: that it does not reach an edge either says nothing of this one
    counted = [finding for finding in findings if finding.rule in COUNTED and finding.outcome == "no"]
    findings = counted or findings
    findings.sort(key=lambda finding: SEVERITY[finding.outcome])
    return Verdict(upgrade, outcome_of(upgrade, findings), tuple(findings))


def judge_all(shop: Shop, job: Job, upgrades: Iterable[Upgrade]) -> tuple[Verdict, ...]:
    """A verdict for each upgrade, in the order given."""
    return tuple(judge(shop, job, upgrade) for upgrade in upgrades)


def judge_job(
    shop: Shop, job: Job, only: Collection[str] = (), option: str = "--only"
) -> tuple[Verdict, ...]:
    """The verdicts on the upgrades named (by id, or by row for all variants), on all if none is named.

    InputError names what is not offered on this job, and the ``option`` that asked for it.
    """
    upgrades = offered(shop, job)
    issues = [
        not_offered(shop, job, Origin(option), name, {u.id for u in upgrades})
        for name in only
        if not any(names(u, name) for u in upgrades)
    ]
    if issues:
        raise InputError(issues)
    asked = (u for u in upgrades if not only or any(names(u, name) for name in only))
    return judge_all(shop, job, asked)


def outcome_of(upgrade: Upgrade, findings: Iterable[Finding]) -> str:
    """``does-not-fit``, ``fits-after`` (work beyond what the upgrade does anyway) or ``fits``."""
    found = tuple(findings)
    if any(finding.outcome == "no" for finding in found):
        return "does-not-fit"
    return "fits-after" if forced_beyond(upgrade, found) else "fits"


def forced_beyond(upgrade: Upgrade, findings: Iterable[Finding]) -> tuple[Demand, ...]:
    """Work that findings force beyond the upgrade's own: per task and place the largest demand counts."""
    found = [demand for finding in findings for demand in finding.demands]
    if not found:
        return ()
    own: dict[tuple[str, str], Demand] = {}
    for mine in upgrade.demands:
        key = (mine.task, mine.place)
        own[key] = max(own.get(key, mine), mine, key=_size)
    forced: dict[tuple[str, str], Demand] = {}
    for asked in found:
        key = (asked.task, asked.place)
        before = forced.get(key, own.get(key))
        if before is None or _size(asked) > _size(before):
            forced[key] = asked
    return tuple(forced.values())


def _size(demand: Demand) -> tuple[Decimal, ...]:
    return (demand.quantity * demand.share, demand.extra_min, demand.extra_rework_pct)


def _placed(finding: Finding, upgrade: Upgrade) -> Finding:
    """Work that the upgrade does anyway is asked for at the upgrade's own place, so that it counts once."""
    if not any(demand.place == USUAL for demand in finding.demands):
        return finding
    return replace(finding, demands=tuple(_same_place(demand, upgrade) for demand in finding.demands))


def _same_place(demand: Demand, upgrade: Upgrade) -> Demand:
    if demand.place != USUAL:
        return demand
    own = next((mine for mine in upgrade.demands if mine.task == demand.task), None)
    if own is None:
        return demand
    levels = dict(own.levels) | dict(demand.levels)
    return replace(demand, place=own.place, levels=levels)


def _unknown(number: str, upgrade: Upgrade) -> Issue:
    return Issue(
        where=upgrade.row.origin,
        problem=f"“{upgrade.id}” asks for a fit rule that does not exist",
        found=f"“{number}”",
        accepted=near_miss(number, RULES) or f"rules {known_rules()[0]} to {known_rules()[-1]}",
        next_step="correct the number in part_classes or upgrades, or write the rule first",
    )

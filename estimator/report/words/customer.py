"""What a customer reads of the fit: the work it forces and what it warns of, in the words of a table.

A finding is written for the bench. A customer is told what changes the price or the result, or cannot be
undone: what has a row in ``customer_words.csv``, and nothing else.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from decimal import Decimal

from estimator.choose.study import SpecRow
from estimator.core.units import lengths_as_read
from estimator.estimate.baseline import measured_today
from estimator.fit.judge import forced_beyond
from estimator.fit.lasting import changes_by
from estimator.model import Demand, Finding, Job, Shop, Upgrade, Verdict


def work_told(shop: Shop, verdict: Verdict, beside: Iterable[Verdict] = ()) -> tuple[str, ...]:
    """The work that fit forces beyond what the upgrade does anyway, each once, as a customer reads it.

    What another upgrade of the set (``beside``) does anyway, or makes needless, is told under that one alone.
    """
    others = [other.upgrade for other in beside if other.upgrade.id != verdict.upgrade.id]
    forced = [
        asked
        for asked in forced_beyond(verdict.upgrade, verdict.findings)
        if not any(_is_done_by(other, asked) for other in others)
    ]
    told = (
        _words(shop, asked.task, finding.rule, asked.quantity)
        for finding in verdict.findings
        for asked in finding.demands
        if asked in forced
    )
    return tuple(dict.fromkeys(words for words in told if words))


def _is_done_by(other: Upgrade, asked: Demand) -> bool:
    """Whether an upgrade does as much of a task at its place of itself, or makes it needless."""
    return any(row.covers(asked.task, asked.place) for row in other.needless) or any(
        (mine.task, mine.place) == (asked.task, asked.place) and mine.quantity >= asked.quantity
        for mine in other.demands
    )


def warnings_told(
    shop: Shop, verdicts: Iterable[Verdict], chosen: Collection[str] | None = None
) -> list[str]:
    """What the fit of the chosen upgrades (blank: of all) warns a customer of, each once."""
    told = (
        _words(shop, finding.tells, finding.rule, Decimal(1))
        for verdict in verdicts
        if chosen is None or verdict.upgrade.id in chosen
        for finding in verdict.findings
        if finding.outcome == "warn" and finding.tells
    )
    return list(dict.fromkeys(words for words in told if words))


def warnings_noted(verdicts: Iterable[Verdict], chosen: Collection[str]) -> list[Finding]:
    """Every warning of the chosen upgrades, for the bench, each sentence once."""
    found: dict[str, Finding] = {}
    for verdict in verdicts:
        if verdict.upgrade.id in chosen:
            for finding in verdict.findings:
                if finding.outcome == "warn":
                    found.setdefault(finding.sentence, finding)
    return list(found.values())


def _words(shop: Shop, about: str, rule: str, quantity: Decimal) -> str:
    row = shop.customer_words.get((about, rule)) or shop.customer_words.get((about, ""))
    return row.words.replace("{n}", f"{quantity.normalize():f}") if row else ""


def work_words(shop: Shop, verdict: Verdict) -> str:
    """An upgrade as a customer reads it; with a part of its own what that is."""
    upgrade = verdict.upgrade
    row = shop.customer_names.get(("upgrade", upgrade.row.id))
    if upgrade.part is not None:
        part = upgrade.part.what
        return f"{row.words}: {part}" if row and row.words else part[:1].upper() + part[1:] + ", fitted"
    words = row.words if row and row.words else upgrade.what
    return words[:1].upper() + words[1:]


def name_of_attribute(shop: Shop, attribute: str) -> str:
    """An attribute of the spec as a customer calls it."""
    row = shop.customer_names.get(("attribute", attribute))
    words = row.words if row and row.words else attribute.replace("-", " ")
    return words[:1].upper() + words[1:]


def lasting_told(shop: Shop, job: Job, verdicts: Iterable[Verdict], chosen: Collection[str]) -> list[str]:
    """What is changed for good: of the upgrades themselves, and of the work that fit forces; each once.

    Last what makes the instrument what it is, each with the work by which it changes; of an upgrade with words
    of its own these say it.
    """
    told: dict[str, None] = {}
    kinds: dict[str, list[str]] = {change: [] for change in shop.lasting.changes}
    for verdict in verdicts:
        if verdict.upgrade.id not in chosen:
            continue
        row = shop.customer_names.get(("upgrade", verdict.upgrade.row.id))
        if row and row.lasting:
            told[row.lasting] = None
        else:
            for change in _of_kind(shop, job, verdict):
                kinds[change].append(work_words(shop, verdict))
        forced = forced_beyond(verdict.upgrade, verdict.findings)
        for finding in verdict.findings:
            for asked in finding.demands:
                if asked in forced and _concern(shop, asked.task, finding.rule) == "lasting":
                    told[_words(shop, asked.task, finding.rule, asked.quantity)] = None
            if (
                finding.outcome == "warn"
                and finding.tells
                and _concern(shop, finding.tells, finding.rule) == "lasting"
            ):
                told[_words(shop, finding.tells, finding.rule, Decimal(1))] = None
    for change, works in kinds.items():
        words = shop.lasting.changes[change].told
        if works and words:
            told[f"{words} ({'; '.join(dict.fromkeys(works))})"] = None
    return list(told)


def _of_kind(shop: Shop, job: Job, verdict: Verdict) -> list[str]:
    """What of the kind of the instrument an upgrade changes, but what the words of its forced work say already."""
    forced = {demand.task for demand in forced_beyond(verdict.upgrade, verdict.findings)}
    rules = {demand.task: found.rule for found in verdict.findings for demand in found.demands}
    said = {task for task in forced if _concern(shop, task, rules.get(task, "")) == "lasting"}
    by_words = tuple(demand for demand in verdict.demands if demand.task not in said)
    return list(changes_by(shop, job, verdict, by_words))


def _concern(shop: Shop, about: str, rule: str) -> str:
    row = shop.customer_words.get((about, rule)) or shop.customer_words.get((about, ""))
    return row.concern if row else ""


def level_for_customer(shop: Shop, attribute: str, level: int, bass: bool = False) -> str:
    """A level as a customer reads it: words of its own, else those of the attribute; blank if there are none."""
    names = shop.customer_names
    own = names.get(("level", f"bass-{attribute}-{level}")) if bass else None
    row = own or names.get(("level", f"{attribute}-{level}"))
    words = shop.attributes[attribute].words
    said = row.words if row else words[level] if level < len(words) else ""
    return lengths_as_read(said, shop.lengths)


def expected_words(row: SpecRow, words: str) -> str:
    """What is reached in words, as a promise; or as what is expected, where it rests on what nobody looked at."""
    if row.may_fail:
        return f"expected, not sure: {words} ({'; '.join(row.may_fail)})"
    return f"expected, to be measured: {words}" if row.expected else words


def today_words(shop: Shop, job: Job, row: SpecRow, words: str) -> str:
    """Today's level in words with what was measured; figures of the level give way to the measured ones."""
    attribute = shop.attributes[row.attribute]
    found = measured_today(shop, attribute, job) if row.kind == "level" else ()
    if not found:
        return words
    unit = shop.intake[attribute.intake_field].unit
    read = [lengths_as_read(f"{value:f} {unit}", shop.lengths) for value in found]
    # several figures in a bracket share the unit that they end with
    shared = [each.removesuffix(f" {read[-1].rpartition(' ')[2]}") for each in read[:-1]]
    if not any(letter.isdigit() for letter in words):
        return f"{words} ({' / '.join([*shared, read[-1]])})"
    sides = ("thick string", "thin") if attribute.intake_field.endswith("_b") else ("",)
    return " / ".join(f"{value} {side}".strip() for value, side in zip(read, sides, strict=False))

"""Work that only an assumed value refuses, at what a chosen set works on: with it measured another set may be best."""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct

from estimator.choose.build import effects_of, rules_of
from estimator.choose.study import Study
from estimator.fit.otherwise import Otherwise, Value, with_value
from estimator.model import Finding, Job, Verdict


class RefusedAsAssumed(Struct, frozen=True):
    """An upgrade that does not fit only as some values are assumed, by their names."""

    upgrade: str
    assumed: tuple[str, ...]


def refused_as_assumed(study: Study, chosen: Collection[str]) -> tuple[RefusedAsAssumed, ...]:
    """Other work at what a set works on that does not fit only as something is assumed of the instrument.

    A refret stands there for a levelling, because nobody measured how high the frets are. Named are values with which,
    within what is likely, the work fits and nothing else keeps it out: alone, or together where several are against it.
    """
    slots = {v.upgrade.row.slot for v in study.verdicts if v.upgrade.id in chosen}
    asked = [v for v in study.verdicts if v.upgrade.row.slot in slots and _rests_on_assumed(v)]
    if not asked:
        return ()
    tried = Otherwise(study.shop, study.job, [verdict.upgrade.id for verdict in asked])
    told = ((verdict.upgrade.id, _opening(tried, verdict)) for verdict in asked)
    return tuple(RefusedAsAssumed(upgrade, values) for upgrade, values in told if values)


def _against(verdict: Verdict) -> list[Finding]:
    return [found for found in verdict.findings if found.outcome == "no"]


def _rests_on_assumed(verdict: Verdict) -> bool:
    """Whether all that is found against an upgrade rests on something assumed, and none of it on a part's usual size."""
    against = _against(verdict)
    sizes = any(value.dimension for found in against for value in found.assumed)
    return bool(against) and all(found.assumed for found in against) and not sizes


def _opening(tried: Otherwise, verdict: Verdict) -> tuple[str, ...]:
    """The assumed values with which an upgrade is open to choice; none where they change nothing of it."""
    against = {found.rule for found in _against(verdict)}
    freed: dict[str, tuple[str, Value]] = {}
    alone: list[str] = []
    for name in dict.fromkeys(value.name for found in _against(verdict) for value in found.assumed):
        for value in tried.values(name):
            job = tried.changed(name, value)
            after = _then(tried, job, verdict)
            if after is None:
                continue
            if _is_open(tried, job, after):
                alone.append(name)
                break
            for rule in against.difference(found.rule for found in _against(after)):
                freed.setdefault(rule, (name, value))
    if alone or freed.keys() != against:
        return tuple(alone)
    job = tried.job
    for name, value in freed.values():
        job = with_value(job, name, value)
    after = _then(tried, job, verdict)
    opened = after is not None and _is_open(tried, job, after)
    return tuple(sorted({name for name, _ in freed.values()})) if opened else ()


def _then(tried: Otherwise, job: Job, verdict: Verdict) -> Verdict | None:
    """The verdict on an upgrade for a job with other readings; None where it is not offered then."""
    upgrade = verdict.upgrade
    then = tried.on_row(upgrade.row.id, job, tried.moved_on(job))
    return next((one for one in then if one.upgrade.id == upgrade.id), None)


def _is_open(tried: Otherwise, job: Job, verdict: Verdict) -> bool:
    """Whether an upgrade fits, and nothing that the customer said or left unsaid keeps it out."""
    effects = effects_of(tried.shop, job, (verdict,))
    return all(rule.kind != "refused" for rule in rules_of(tried.shop, job, (verdict,), effects))

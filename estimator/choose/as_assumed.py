"""Work that only an assumed value refuses, at what a chosen set works on: with it measured another set may be best."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import combinations, product

from msgspec import Struct

from estimator.choose.build import effects_of, rules_of
from estimator.choose.study import Study
from estimator.core.text import value_text
from estimator.fit.otherwise import Otherwise, Value, could_be, distance
from estimator.model import Finding, Job, Verdict


class Guess(Struct, frozen=True):
    """A value that nobody took and that refuses work, and one within what is likely with which the work fits.

    ``value`` is none of a usual size of a part: what is likely of it no table tells.
    """

    name: str
    assumed: str
    could_be: str
    value: Value | None


class RefusedAsAssumed(Struct, frozen=True):
    """An upgrade that does not fit only as some values are assumed.

    Each of ``guesses`` otherwise makes it fit, or, where they are so ``together``, all of them at once.
    """

    upgrade: str
    guesses: tuple[Guess, ...]
    together: bool = False

    @property
    def assumed(self) -> tuple[str, ...]:
        """The names of the values."""
        return tuple(guess.name for guess in self.guesses)

    def trials(self) -> tuple[tuple[Guess, ...], ...]:
        """The guesses to be taken otherwise at once, each lot of which makes it fit; none of usual sizes of a part."""
        known = tuple(guess for guess in self.guesses if guess.value is not None)
        return (known,) if self.together else tuple((guess,) for guess in known)


def values_of(guesses: Iterable[Guess]) -> dict[str, Value]:
    """By name the values with which the work fits."""
    return {guess.name: guess.value for guess in guesses if guess.value is not None}


class _Opening(Struct, frozen=True):
    """Values with which an upgrade is open to choice: each by itself, or all ``together``."""

    values: Mapping[str, Value]
    together: bool = False


def refused_as_assumed(study: Study, chosen: Collection[str]) -> tuple[RefusedAsAssumed, ...]:
    """Other work at what a set works on that does not fit only as something is assumed of the instrument.

    A refret stands there for a levelling, because nobody measured how high the frets are. Named are values with which,
    within what is likely, the work fits and nothing else keeps it out: alone, or together where several are against it
    or one rule looks at two of them. Of these two the ends of what is likely are tried.
    """
    slots = {v.upgrade.row.slot for v in study.verdicts if v.upgrade.id in chosen}
    return _refused(study, [v for v in study.verdicts if v.upgrade.row.slot in slots])


def named_as_assumed(study: Study, upgrades: Collection[str]) -> tuple[RefusedAsAssumed, ...]:
    """The same of upgrades that are named, those too that rest on a usual size of a part (``Guess``)."""
    named = [v for v in study.verdicts if v.upgrade.id in upgrades]
    return (*_refused(study, named), *_by_size(named))


def _refused(study: Study, verdicts: Iterable[Verdict]) -> tuple[RefusedAsAssumed, ...]:
    asked = [verdict for verdict in verdicts if _is_assumed(verdict) and not _sizes(verdict)]
    if not asked:
        return ()
    tried = Otherwise(study.shop, study.job, [verdict.upgrade.id for verdict in asked])
    told = []
    for verdict in asked:
        opening = _opening(tried, verdict)
        if opening.values:
            guesses = tuple(_guess(study, name, value) for name, value in opening.values.items())
            told.append(RefusedAsAssumed(verdict.upgrade.id, guesses, opening.together))
    return tuple(told)


def _guess(study: Study, name: str, value: Value) -> Guess:
    unit = study.shop.intake[name].unit
    return Guess(name, value_text(study.job.instrument[name].value, unit), value_text(value, unit), value)


def _by_size(verdicts: Iterable[Verdict]) -> Iterator[RefusedAsAssumed]:
    for verdict in verdicts:
        if _is_assumed(verdict) and (sizes := _sizes(verdict)):
            guesses = tuple(Guess(name, said, "", None) for name, said in sizes.items())
            yield RefusedAsAssumed(verdict.upgrade.id, guesses)


def _against(verdict: Verdict) -> list[Finding]:
    return [found for found in verdict.findings if found.outcome == "no"]


def _is_assumed(verdict: Verdict) -> bool:
    """Whether all that is found against an upgrade rests on something assumed."""
    against = _against(verdict)
    return bool(against) and all(found.assumed for found in against)


def _sizes(verdict: Verdict) -> dict[str, str]:
    """The usual sizes of its part, which nobody measured, that are held against an upgrade."""
    values = (value for found in _against(verdict) for value in found.assumed if value.dimension)
    return {value.name: f"{value.value} {value.unit}".rstrip() for value in values}


def _opening(tried: Otherwise, verdict: Verdict) -> _Opening:
    """The assumed values with which an upgrade is open to choice; none where they change nothing of it."""
    looked_at: dict[str, dict[str, None]] = {}
    for found in _against(verdict):
        looked_at.setdefault(found.rule, {}).update(dict.fromkeys(value.name for value in found.assumed))
    freed: dict[str, dict[str, Value]] = {}
    alone: dict[str, Value] = {}
    for name in dict.fromkeys(name for names in looked_at.values() for name in names):
        for value in _nearest_first(tried, name):
            job = tried.changed(name, value)
            after = _then(tried, job, verdict)
            if after is None:
                continue
            if _is_open(tried, job, after):
                alone[name] = value
                break
            for rule in looked_at.keys() - {found.rule for found in _against(after)}:
                freed.setdefault(rule, {name: value})
    if alone:
        return _Opening(alone)
    return _together(tried, verdict, looked_at, freed)


def _nearest_first(tried: Otherwise, name: str) -> list[Value]:
    """What a value may turn out to be, numbers in the order of how far they are from what is assumed."""
    assumed = tried.job.instrument[name].value
    return sorted(tried.values(name), key=lambda value: distance(value, assumed))


def _together(
    tried: Otherwise,
    verdict: Verdict,
    looked_at: Mapping[str, Collection[str]],
    freed: Mapping[str, Mapping[str, Value]],
) -> _Opening:
    """The values with which, all at once, an upgrade is open: of each rule those that free it, two of one rule at most."""
    values: dict[str, Value] = {}
    for rule, names in looked_at.items():
        more = freed.get(rule) or _pair(tried, verdict, rule, names)
        if not more:
            return _Opening({})
        values |= more
    job = tried.all_changed(values)
    after = _then(tried, job, verdict)
    opened = after is not None and _is_open(tried, job, after)
    return _Opening(dict(sorted(values.items())) if opened else {}, together=True)


def _pair(tried: Otherwise, verdict: Verdict, rule: str, names: Iterable[str]) -> Mapping[str, Value]:
    """Two values of one rule at the ends of what is likely, or words, with which it is no longer against an upgrade."""
    for one, other in combinations(names, 2):
        ends = (could_be(tried.shop.intake[name], tried.job) for name in (one, other))
        for first, second in product(*ends):
            if isinstance(first, tuple) or isinstance(second, tuple):
                continue
            values = {one: first, other: second}
            after = _then(tried, tried.all_changed(values), verdict)
            if after is not None and all(found.rule != rule for found in _against(after)):
                return values
    return {}


def _then(tried: Otherwise, job: Job, verdict: Verdict) -> Verdict | None:
    """The verdict on an upgrade for a job with other readings; None where it is not offered then."""
    upgrade = verdict.upgrade
    then = tried.on_row(upgrade.row.id, job, tried.moved_on(job))
    return next((one for one in then if one.upgrade.id == upgrade.id), None)


def _is_open(tried: Otherwise, job: Job, verdict: Verdict) -> bool:
    """Whether an upgrade fits, and nothing that the customer said or left unsaid keeps it out."""
    effects = effects_of(tried.shop, job, (verdict,))
    return all(rule.kind != "refused" for rule in rules_of(tried.shop, job, (verdict,), effects))

"""Verdicts on one instrument of which a reading is otherwise: only the rules that look at it are run again.

A rule sees the readings through what it is handed and nothing else of the instrument, so that one of which every
reading looked at stands as it did finds the same, and takes the same way to it.
"""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct
from msgspec.structs import replace

from estimator.fit.judge import Found, concluded, judge, judging_rules, looked, placed, ruled, wanted_levels
from estimator.fit.remembered import Watched
from estimator.fit.shared import Apart
from estimator.model import Demand, Finding, Job, Shop, Upgrade, Verdict


class _Ruled(Struct, frozen=True):
    """What one rule found, before and after it was ``placed``, and the readings it looked at."""

    number: str
    looked: tuple[Finding, ...]
    found: tuple[Finding, ...]
    read: frozenset[str]


class _First(Struct, frozen=True):
    """A verdict as it was first made: the rules behind it, what was looked at to conclude, and in all."""

    verdict: Verdict
    rules: tuple[_Ruled, ...]
    concluding: frozenset[str]
    read: frozenset[str]


class JudgedAgain:
    """Upgrades judged once on an instrument, to be judged again with some of its readings moved.

    Every job that it is asked about has the wish of this one.
    """

    def __init__(self, shop: Shop, job: Job) -> None:
        self._shop = shop
        self._wanted = wanted_levels(job)
        self._known: dict[str, _First] = {}
        self.apart = Apart()

    def shared(self) -> Found:
        """Where what is found of one row on one instrument is kept, for the next part of it."""
        return Found(self.apart)

    def first(self, job: Job, upgrade: Upgrade, shared: Found | None = None) -> Verdict:
        """The verdict on the instrument as it stands; ``shared``: what was found of its row on it."""
        shop, rules = self._shop, []
        for number in judging_rules(shop, upgrade):
            watched = Watched(job.instrument)
            seen = replace(job, instrument=watched)
            found, read = looked(shop, seen, upgrade, number, self._wanted, shared)
            rules.append(_Ruled(number, found, placed(found, upgrade), read))
        watched = Watched(job.instrument)
        seen = replace(job, instrument=watched)
        verdict = concluded(shop, seen, upgrade, self._wanted, [one.found for one in rules])
        concluding = frozenset(watched.seen)
        read = concluding.union(*(one.read for one in rules))
        self._known[upgrade.id] = _First(verdict, tuple(rules), concluding, read)
        return verdict

    def known(self, job: Job, upgrade: Upgrade, shared: Found) -> tuple[Verdict, frozenset[str]]:
        """The verdict on the instrument as it stands, judged now where it was not yet, and all that was looked at for it."""
        known = self._known.get(upgrade.id)
        if known is None or known.verdict.upgrade is not upgrade:
            self.first(job, upgrade, shared)
            known = self._known[upgrade.id]
        return known.verdict, known.read

    def again(
        self, job: Job, upgrade: Upgrade, moved: Collection[str], shared: Found | None = None
    ) -> Verdict:
        """The verdict where no reading but those ``moved`` is otherwise; the first one itself where none was looked at.

        ``shared``: what was found of its row on the same instrument.
        """
        known = self._like(upgrade)
        if known is None:
            return judge(self._shop, job, upgrade, shared)
        if known.verdict.upgrade is upgrade and known.read.isdisjoint(moved):
            return known.verdict
        found = self._found(known, job, upgrade, moved, shared)
        found = [_asking_alike(one.found, now) for one, now in zip(known.rules, found, strict=True)]
        return concluded(self._shop, job, _like_before(known, upgrade), self._wanted, found)

    def turned(
        self, job: Job, upgrade: Upgrade, moved: Collection[str], shared: Found | None = None
    ) -> Verdict:
        """The same for whom outcome and work alone are of concern: the first verdict itself where rules find these alike.

        What it will weigh is not among these: it forces no work and refuses nothing.
        """
        known = self._like(upgrade)
        if known is None:
            return judge(self._shop, job, upgrade, shared)
        first = known.verdict
        if first.upgrade is upgrade and known.read.isdisjoint(moved):
            return first
        found = self._found(known, job, upgrade, moved, shared)
        if first.upgrade is upgrade and all(map(_alike, (one.found for one in known.rules), found)):
            return first
        return concluded(self._shop, job, upgrade, self._wanted, found)

    def _like(self, upgrade: Upgrade) -> _First | None:
        """What was first found of an upgrade, even if other work of its own is asked for now: no rule sees that."""
        known = self._known.get(upgrade.id)
        if known is None or known.verdict.upgrade is upgrade:
            return known
        was = known.verdict.upgrade
        same = was.part is upgrade.part and was.row is upgrade.row and was.slot == upgrade.slot
        return known if same else None

    def _found(
        self, known: _First, job: Job, upgrade: Upgrade, moved: Collection[str], shared: Found | None
    ) -> list[tuple[Finding, ...]]:
        first = known.verdict.upgrade is upgrade
        return [
            (one.found if first else placed(one.looked, upgrade))
            if one.read.isdisjoint(moved)
            else ruled(self._shop, job, upgrade, one.number, self._wanted, shared)[0]
            for one in known.rules
        ]


def _like_before(known: _First, upgrade: Upgrade) -> Upgrade:
    """An upgrade with the demands of its own that stay what they were as they were: what was priced goes by them."""
    before = known.verdict.upgrade
    if before is upgrade or len(before.demands) != len(upgrade.demands):
        return upgrade
    return replace(upgrade, demands=tuple(map(_same, before.demands, upgrade.demands)))


def _asking_alike(before: tuple[Finding, ...], after: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """What a rule found, its demands that stay what they were as they were."""
    if before is after or len(before) != len(after):
        return after
    return tuple(
        replace(now, demands=tuple(map(_same, was.demands, now.demands)))
        if now.demands and len(was.demands) == len(now.demands)
        else now
        for was, now in zip(before, after, strict=True)
    )


def _same(before: Demand, after: Demand) -> Demand:
    """A demand as it was, where it is the same to the letter."""
    return before if before == after and str(before.quantity) == str(after.quantity) else after


def _alike(before: tuple[Finding, ...], after: tuple[Finding, ...]) -> bool:
    """Whether a rule found the same outcomes and the same work."""
    if before is after:
        return True
    return [(one.outcome, one.demands) for one in before] == [(one.outcome, one.demands) for one in after]

"""Verdicts on one instrument of which a reading is otherwise: only the rules that look at it are run again.

A rule sees the readings through what it is handed and nothing else of the instrument, so that one of which every
reading looked at stands as it did finds the same, and takes the same way to it.
"""

from __future__ import annotations

from collections.abc import Collection

from msgspec import Struct
from msgspec.structs import replace

from estimator.fit.judge import Found, concluded, judge, judging_rules, ruled, wanted_levels
from estimator.fit.remembered import Watched
from estimator.fit.shared import Apart
from estimator.model import Finding, Job, Shop, Upgrade, Verdict


class _Ruled(Struct, frozen=True):
    """What one rule found, and the readings it looked at."""

    number: str
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
        self._apart = Apart()

    def shared(self) -> Found:
        """Where what is found of one row on one instrument is kept, for the next part of it."""
        return Found(self._apart)

    def first(self, job: Job, upgrade: Upgrade, shared: Found | None = None) -> Verdict:
        """The verdict on the instrument as it stands; ``shared``: what was found of its row on it."""
        shop, rules = self._shop, []
        for number in judging_rules(shop, upgrade):
            watched = Watched(job.instrument)
            seen = replace(job, instrument=watched)
            rules.append(_Ruled(number, *ruled(shop, seen, upgrade, number, self._wanted, shared)))
        watched = Watched(job.instrument)
        seen = replace(job, instrument=watched)
        verdict = concluded(shop, seen, upgrade, self._wanted, [one.found for one in rules])
        concluding = frozenset(watched.seen)
        read = concluding.union(*(one.read for one in rules))
        self._known[upgrade.id] = _First(verdict, tuple(rules), concluding, read)
        return verdict

    def knows(self, upgrade: Upgrade) -> bool:
        """Whether an upgrade was judged on the instrument as it stands."""
        known = self._known.get(upgrade.id)
        return known is not None and known.verdict.upgrade is upgrade

    def again(
        self, job: Job, upgrade: Upgrade, moved: Collection[str], shared: Found | None = None
    ) -> Verdict:
        """The verdict where no reading but those ``moved`` is otherwise; the first one itself where none was looked at.

        ``shared``: what was found of its row on the same instrument.
        """
        known = self._known.get(upgrade.id)
        if known is None or known.verdict.upgrade is not upgrade:
            return judge(self._shop, job, upgrade, shared)
        if known.read.isdisjoint(moved):
            return known.verdict
        found = [
            one.found
            if one.read.isdisjoint(moved)
            else ruled(self._shop, job, upgrade, one.number, self._wanted, shared)[0]
            for one in known.rules
        ]
        return concluded(self._shop, job, upgrade, self._wanted, found)

"""Verdicts remembered from one instrument to the next: many listings, one instrument with a value changed.

A verdict hangs on the tables, the readings, the parts of the job and its wish; a rule is shown nothing else of
a job, so that nothing else can bear on what is remembered.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from types import MappingProxyType

from estimator.fit.candidates import offers_of, told_apart
from estimator.fit.judge import judge
from estimator.fit.otherwise import Otherwise
from estimator.fit.remembered import Remembered
from estimator.model import Budget, Job, Part, Reading, Requirement, Shop, UpgradeRow, Verdict

NOTHING: Mapping[str, Reading] = MappingProxyType({})


class Verdicts:
    """What was judged, by shop and wish: asked with others it begins anew beside them."""

    def __init__(self) -> None:
        self._kept: list[
            tuple[Shop, Mapping[str, Part], tuple[Requirement, ...], Remembered[tuple[Verdict, ...]]]
        ] = []

    def of(self, shop: Shop, job: Job, only: Collection[str] | None = None) -> tuple[Verdict, ...]:
        """The verdict on every upgrade that makes sense on the instrument of a job, in order of id.

        ``only``: ids of the upgrades that are told, if not all.
        """
        remembered = self._store(shop, job)
        found: list[Verdict] = []
        for row in _rows(shop, only):

            def judged(instrument: Mapping[str, Reading], row: UpgradeRow = row) -> tuple[Verdict, ...]:
                seen = _as_rules_see(job, instrument)
                return tuple(judge(shop, seen, upgrade) for upgrade in offers_of(row, shop, seen))

            found += remembered.of(row.id, job.instrument, judged)
        return _in_order(found, only)

    def _store(self, shop: Shop, job: Job) -> Remembered[tuple[Verdict, ...]]:
        for its_shop, parts, wish, remembered in self._kept:
            if its_shop is shop and parts == job.parts and wish == job.requirements:
                return remembered
        self._kept.append((shop, job.parts, job.requirements, Remembered()))
        return self._kept[-1][-1]


class Nearby:
    """What was judged of one job, asked of jobs that differ from it in a reading or two: what looked at none of them stands."""

    def __init__(self, otherwise: Otherwise) -> None:
        self._job = otherwise.job
        self._bases = [otherwise]

    def of(self, shop: Shop, job: Job, only: Collection[str] | None = None) -> tuple[Verdict, ...]:
        """The verdict on every upgrade that makes sense on the instrument of a job, in order of id.

        ``only``: ids of the upgrades that are told, if not all.
        """
        if job.parts != self._job.parts or job.requirements != self._job.requirements:
            raise ValueError("another job than the one of which a reading is otherwise")
        base = next((one for one in self._bases if one.shop is shop), None)
        if base is None:  # the same work done other ways: a rule may read what it takes
            base = Otherwise(shop, self._job)
            self._bases.append(base)
        return _in_order(base.every_verdict(job, [row.id for row in _rows(shop, only)]), only)


def _rows(shop: Shop, only: Collection[str] | None) -> list[UpgradeRow]:
    """The rows of upgrades.csv that some ids may name, of all where none are named."""
    return [row for row in shop.upgrades.values() if only is None or any(map(row.may_mean, only))]


def _in_order(found: Sequence[Verdict], only: Collection[str] | None) -> tuple[Verdict, ...]:
    told_apart(verdict.upgrade for verdict in found)
    named = (verdict for verdict in found if only is None or verdict.upgrade.id in only)
    return tuple(sorted(named, key=lambda verdict: verdict.upgrade.id))


def _as_rules_see(job: Job, instrument: Mapping[str, Reading]) -> Job:
    """A job with an instrument, its parts and its wish, and nothing else."""
    return Job(
        id="",
        kind="",
        what="",
        customer="",
        received="",
        wanted_by="",
        instrument=instrument,
        found_levels=NOTHING,
        requirements=job.requirements,
        profile="",
        weights=MappingProxyType({}),
        budget=Budget(),
        parts=job.parts,
        open=(),
        required=(),
        refused=(),
        stock=MappingProxyType({}),
    )

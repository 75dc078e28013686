"""One set of upgrades on one instrument, judged and priced anew with other readings.

Of a set that is asked about again and again, with a value changed here and there, only what looked at that
value is judged again, and only where its work comes out otherwise, or was priced by that value, is it priced.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from estimator.core.amounts import Cents
from estimator.estimate.build import make_costing, make_setting
from estimator.estimate.labour import Lines, Setting
from estimator.fit.otherwise import Otherwise
from estimator.fit.remembered import Remembered
from estimator.model import Demand, Job, Reading, Shop, Upgrade, Verdict

#: what of a verdict bears on minutes and money
Work = tuple[Upgrade, tuple[Demand, ...]]


class Anew:
    """A set on the instrument of a job; every job that it is asked about differs from this one in readings alone.

    ``lines``: what was priced of the job before, ``otherwise``: what was judged of it.
    """

    def __init__(
        self,
        shop: Shop,
        job: Job,
        chosen: frozenset[str],
        lines: Lines | None = None,
        otherwise: Otherwise | None = None,
    ) -> None:
        self._shop, self._job, self._chosen = shop, job, chosen
        self._rows = [row for row in shop.upgrades.values() if any(map(row.may_mean, chosen))]
        self._otherwise = otherwise or Otherwise(shop, job, chosen)
        self._priced = Remembered[tuple[float, Cents]]()
        self._settings = Remembered[Setting]()
        self._works: dict[str, list[Work]] = {}
        self._lines = lines or Lines()

    def priced(self, job: Job) -> tuple[float, Cents] | None:
        """Minutes and cost of the set on a changed job; None where one of it does not fit or is not offered."""
        if replace(job, instrument=self._job.instrument) != self._job:
            raise ValueError("another job than the one whose set is priced anew")
        verdicts = self._judged(job)
        if sorted(self._chosen) != [v.upgrade.id for v in verdicts if v.outcome != "does-not-fit"]:
            return None
        read = self._settings.of(
            "", job.instrument, lambda seen: make_setting(self._shop, replace(job, instrument=seen))
        )
        setting = replace(read, instrument=job.instrument, lines=self._lines)
        # what is read of the instrument for the setting is in the key by what it came to
        odds = tuple(sorted((task, row.fault, row.more_pct) for task, row in setting.fault_odds.items()))
        key = (setting.family, setting.hidden_faults, odds, *(self._number(v) for v in verdicts))

        def price(instrument: Mapping[str, Reading]) -> tuple[float, Cents]:
            seen = replace(job, instrument=instrument)
            costing = make_costing(
                self._shop, seen, verdicts, setting=replace(setting, instrument=instrument)
            )
            totals = costing.totals_of(self._chosen)
            return totals.expected / 100.0, totals.cost

        return self._priced.of(key, job.instrument, price)

    def _judged(self, job: Job) -> tuple[Verdict, ...]:
        """The verdicts on what of the set is offered, in order of id."""
        moved = self._otherwise.moved_on(job)
        found = (
            verdict
            for row in self._rows
            for verdict in self._otherwise.on_row(row.id, job, moved)
            if verdict.upgrade.id in self._chosen
        )
        return tuple(sorted(found, key=lambda verdict: verdict.upgrade.id))

    def _number(self, verdict: Verdict) -> int:
        """The place of a verdict among those on its upgrade that ask for other work."""
        known, work = self._works.setdefault(verdict.upgrade.id, []), (verdict.upgrade, verdict.demands)
        if work not in known:
            known.append(work)
        return known.index(work)

"""What ``check`` and ``fit`` answer."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.faults import FoundFault
from estimator.core.errors import Issue
from estimator.fit.ways import OfferedWay
from estimator.model import Demand, Finding, Job, Shop, UsedValue, Verdict
from estimator.report.record import STAYS, WHOLE, Kind, Record, Teller, plain_data
from estimator.report.records.wish import Fault
from estimator.report.words.fit import one_line

COUNTED = ("tasks", "consumables", "tools", "parts", "upgrades", "attributes", "intake")
ISSUES = Kind("list", lambda issues: [issue.as_dict() for issue in issues])


class Checked(Struct, frozen=True):
    """Tables, and a job if one is named; ``doubts``: warnings beyond those of reading."""

    shop: Shop
    job: Job | None
    doubts: Sequence[Issue]

    def warnings(self) -> Sequence[Issue]:
        """All that is doubted."""
        return (*self.shop.issues, *(self.job.issues if self.job else ()), *self.doubts)


_checked = Teller[Checked]()


class CheckAnswer(Record[Checked]):
    """What ``check`` answers where all is in order."""

    status = _checked.text("ok", lambda of: "ok")
    warnings = _checked.of(ISSUES, "what is doubted: where, what is wrong, what next", Checked.warnings)
    shop = _checked.of(
        Kind("number by table", plain_data),
        "how many rows the tables have",
        lambda of: {name: len(getattr(of.shop, name)) for name in COUNTED},
    )
    job = _checked.where_there(_checked.text("id of the job", lambda of: of.job.id if of.job else None))
    assumed_fields = _checked.where_there(
        _checked.of(
            Kind("list of text", plain_data),
            "values that nobody measured",
            lambda of: sorted(k for k, r in of.job.instrument.items() if r.assumed) if of.job else None,
        )
    )


_looked = Teller[UsedValue]()
_demand = Teller[Demand]()
_finding = Teller[Finding]()
_verdict = Teller[Verdict]()


class LookedAt(Record[UsedValue]):
    """A value that a finding looked at."""

    field = _looked.text("value, a field of intake.csv or part_dimensions.csv", lambda of: of.name)
    value = _looked.text("what it is", lambda of: of.value)
    unit = _looked.text("its unit", lambda of: of.unit)
    assumed = _looked.yes("nobody measured it", lambda of: of.assumed)


class WorkForced(Record[Demand]):
    """Work that a finding forces."""

    task = _demand.text("task, an id of tasks.csv", lambda of: of.task)
    place = _demand.text("where on the instrument", lambda of: of.place)
    quantity = _demand.number("how often", lambda of: of.quantity)
    because = _demand.text("why", lambda of: of.because)


class FindingTold(Record[Finding]):
    """One finding of a fit rule."""

    rule = _finding.text("the rule", lambda of: of.rule)
    outcome = _finding.text("fits, work (fits after it), no or warn", lambda of: of.outcome)
    sentence = _finding.text("in words", lambda of: of.sentence)
    working = _finding.text("formula and numbers", lambda of: of.working)
    values = _finding.rows(LookedAt, "what it looked at", lambda of: of.used)
    assumed = _finding.words("of that, what nobody measured", lambda of: (one.name for one in of.assumed))
    work = _finding.rows(WorkForced, "work that it forces", lambda of: of.demands)


class VerdictTold(Record[Verdict]):
    """Whether an upgrade fits."""

    upgrade = _verdict.text("upgrade", lambda of: of.upgrade.id)
    what = _verdict.text("in words", lambda of: of.what)
    slot = _verdict.text("its slot: one of each", lambda of: of.upgrade.slot)
    verdict = _verdict.text("fits, fits-after or does-not-fit", lambda of: of.outcome)
    words = _verdict.text("the verdict in one line", one_line)
    findings = _verdict.rows(FindingTold, "what the rules found", lambda of: of.findings)


class Alike(Struct, frozen=True):
    """Variants of an upgrade with the same verdict, and which values looked at nobody measured."""

    row: str
    words: str
    variants: list[str]
    assumed: set[str]


_alike = Teller[Alike]()


class AlikeTold(Record[Alike]):
    """Variants with the same verdict on one line."""

    upgrade = _alike.column("upgrade", lambda of: f"{of.row} ({', '.join(of.variants)})")
    verdict = _alike.column("verdict", lambda of: of.words)
    assumed = _alike.column("assumed", lambda of: len(of.assumed) or None, replace(WHOLE, none=STAYS))


class Judged(Struct, frozen=True):
    """What fits a job; ``ways``: those to do a task that are not offered."""

    job: Job
    verdicts: Sequence[Verdict]
    faults: Sequence[FoundFault]
    ways: Sequence[OfferedWay]


_way = Teller[OfferedWay]()
_judged = Teller[Judged]()


class WayNotOffered(Record[OfferedWay]):
    """A way to do a task that is not offered."""

    task = _way.text("task, an id of tasks.csv", lambda of: of.task)
    method = _way.text("the way", lambda of: of.method)
    why = _way.text("why it is not offered", lambda of: of.why_not)


class FitAnswer(Record[Judged]):
    """What ``fit`` answers."""

    job = _judged.text("id of the job", lambda of: of.job.id)
    faults = _judged.rows(Fault, "what is wrong with the instrument", lambda of: of.faults)
    verdicts = _judged.rows(VerdictTold, "each upgrade", lambda of: of.verdicts)
    ways_not_offered = _judged.rows(WayNotOffered, "ways that are not offered", lambda of: of.ways)

"""Ways to do a task in words: what another would cost, and from which quantity on it would be the cheaper one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import TYPE_CHECKING

from estimator.core.text import count, money, of_unit
from estimator.estimate.break_even import OtherWay
from estimator.fit.ways import OfferedWay
from estimator.model import Estimate

if TYPE_CHECKING:
    from estimator.batch.build import BatchStudy
    from estimator.batch.records import BatchWay

TENTH = Decimal("0.1")


def way_lines(ways: Sequence[OtherWay], currency: str) -> list[str]:
    """One line for each way beside the one taken."""
    return [way_line(way, currency) for way in ways]


def way_line(of: OtherWay, currency: str) -> str:
    """``polish frets, 22 fret, with polishing wheels; through nine grades of cloth costs ... more, less up to ...``"""
    done = f"{of.task.replace('-', ' ')}, {of_unit(of.quantity, of.driver)}, {of.taken.way.what}"
    worth = f"{money(abs(of.more), currency)} {'more' if of.more >= 0 else 'less'} on this job"
    told = f"{done}; {of.other.way.what}: {worth}, {_cheaper(of)}"
    if of.other.way.offered:
        return f"{told}."
    return f"{told}; not offered: {of.other.way.why_not}.{_in_a_year(of, currency)}"


def _in_a_year(of: OtherWay, currency: str) -> str:
    """What it would save over the jobs of the ledger's last year; blank where that is not known."""
    if of.saves_a_year is None:
        return ""
    if not of.jobs_a_year:
        return " No such job in your ledger's last year."
    jobs = count(of.jobs_a_year, "job")
    return (
        f" In the last year your ledger holds {jobs} with this task: at this job's amount it would save about "
        f"{money(of.saves_a_year, currency)} a year."
    )


def shut_lines(ways: Sequence[OfferedWay]) -> list[str]:
    """One line for each way that is not offered, with the reason."""
    return [f"Not offered: {way.task.replace('-', ' ')} {way.what} ({way.why_not})." for way in ways]


def batch_way_lines(ways: Sequence[BatchWay], currency: str) -> list[str]:
    """What each other way would save over the jobs of a batch, and how to have it."""
    return [
        f"{way.task.replace('-', ' ')}, {of_unit(way.quantity, way.driver)} on {_jobs(way)}, is done "
        f"{way.now.what}; {way.other.what}, set up once, it would cost {money(way.saves, currency)} less"
        f"{'' if way.alone else ', though for none of them alone'}: "
        f'{way.task} = "{way.other.method}" under [methods] of the job files'
        for way in ways
    ]


def taken_way_lines(study: BatchStudy, estimates: Mapping[str, Estimate]) -> list[str]:
    """Which work of which jobs is done otherwise than usual."""
    done: dict[tuple[str, str], list[str]] = {}
    for job, estimate in estimates.items():
        tasks = study.studies[job].shop.tasks
        for task in dict.fromkeys(line.task for line in estimate.lines):
            if tasks[task].usual is not None:
                done.setdefault((task, tasks[task].way), []).append(job)
    return [f"{task.replace('-', ' ')} of {', '.join(jobs)}: {way}" for (task, way), jobs in done.items()]


def shared_way_lines(ways: Sequence[BatchWay], currency: str) -> list[str]:
    """What was taken as its set-up is shared, and what that saves."""
    return [
        f"{way.task.replace('-', ' ')}, {of_unit(way.quantity, way.driver)} on {_jobs(way)}, is done "
        f"{way.other.what}, set up once for them, not {way.now.what}"
        + (f": {money(way.saves, currency)} less in all" if way.saves else "")
        + ("" if way.alone else ", though it would pay for none of them alone")
        for way in ways
    ]


def _jobs(way: BatchWay) -> str:
    return way.jobs[0] if len(way.jobs) == 1 else f"{len(way.jobs)} instruments"


def _cheaper(of: OtherWay) -> str:
    """From or up to which quantity it is the cheaper one, in tenths on the safe side."""
    if of.at is None:
        return "at every quantity" if of.more >= 0 else "cheaper at every quantity"
    if of.above:
        return f"cheaper from {of_unit(of.at.quantize(TENTH, ROUND_CEILING), of.driver)} on"
    return f"cheaper up to {of_unit(of.at.quantize(TENTH, ROUND_FLOOR), of.driver)}"

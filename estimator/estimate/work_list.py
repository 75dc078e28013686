"""A plain list of work priced on its own: the sums a bench worker would write on the back of a ticket."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from msgspec import Struct

from estimator.core.amounts import Hundredths
from estimator.core.errors import Issue, warning
from estimator.core.expressions import parse_expression
from estimator.estimate.build import sittings
from estimator.estimate.costing import surety_minutes
from estimator.estimate.labour import Setting, run_line, setup_line
from estimator.estimate.three_point import spread_of_lines, z_of
from estimator.model import Demand, KnownJob, Shop, WorkLine

ZERO = Decimal(0)


class WorkSums(Struct, frozen=True):
    """Sums over a list of work, in minutes; wear in money, unrounded, strings and other parts left out.

    ``low`` and ``high`` are plain sums of the readings, wider than the job's own 10 and 90 % points.
    """

    lines: tuple[WorkLine, ...]
    low: Decimal
    likely: Decimal
    high: Decimal
    mean: Decimal
    rework: Decimal
    allowance: Decimal
    sd: float
    at_surety: Decimal
    consumables: Decimal
    tools: Decimal


def price_work(setting: Setting, demands: Iterable[Demand]) -> WorkSums:
    """Price ``demands`` as one sitting: every task is set up once, every line runs as demanded."""
    shop = setting.shop
    lines: list[WorkLine] = []
    for demand in demands:
        task = shop.tasks[demand.task]
        if task.id not in {line.task for line in lines}:
            lines.append(setup_line(task, setting))
        lines.extend(run_line(task, sitting, setting) for sitting in sittings(demand, task))
    mean = Decimal(sum((line.minutes + line.setup for line in lines), Hundredths(0))) / 100
    rework = Decimal(sum((line.rework for line in lines), Hundredths(0))) / 100
    allowance = Decimal(sum((line.allowance for line in lines), Hundredths(0))) / 100
    sd = spread_of_lines(lines, float(shop.terms.shared_cause))
    expected = Hundredths(int((mean + rework + allowance) * 100))
    wear = [use for line in lines for use in line.consumables if shop.consumables[use.id].billed_as == "wear"]
    return WorkSums(
        lines=tuple(lines),
        low=sum((line.low for line in lines), ZERO),
        likely=sum((line.likely for line in lines), ZERO),
        high=sum((line.high for line in lines), ZERO),
        mean=mean,
        rework=rework,
        allowance=allowance,
        sd=sd,
        at_surety=Decimal(surety_minutes(expected, sd, z_of(Decimal(80), shop.terms.skew))) / 100,
        consumables=sum((use.cost for use in wear), ZERO),
        tools=sum((use.cost for line in lines for use in line.tools), ZERO),
    )


def neutral_setting(shop: Shop) -> Setting:
    """An instrument on which every factor is 1, and an experienced hand: how known jobs are judged."""
    terms = shop.terms
    return Setting(
        shop=shop,
        instrument={},
        family="guitar",
        skill=4,
        wage=terms.wage_per_hour,
        overhead=terms.overhead_per_hour,
        hidden_faults=terms.hidden_fault_share,
    )


def known_job_sums(shop: Shop, job: KnownJob) -> WorkSums:
    """The sums of one well-known job."""
    demands = [
        Demand(
            row.task,
            row.place,
            parse_expression(row.quantity).value(lambda _: ZERO),
            job.what,
            parse_expression(row.share).value(lambda _: ZERO),
            row.levels,
        )
        for row in shop.known_job_work[job.id]
    ]
    return price_work(neutral_setting(shop), demands)


def customer_adds(shop: Shop) -> tuple[Decimal, Decimal]:
    """Mean minutes that come with every job of a customer besides its work: at the bench, at the desk."""
    bench: list[Demand] = []
    desk: list[Demand] = []
    for row in shop.base_work.get("commission", ()):
        demand = Demand(row.task, "", row.quantity, "comes with every job")
        (bench if shop.tasks[row.task].billed else desk).append(demand)
    setting = neutral_setting(shop)
    return price_work(setting, bench).mean, price_work(setting, desk).mean


def sense_issues(shop: Shop) -> Iterator[Issue]:
    """Well-known jobs whose mean minutes fall outside what the trade expects: the rates lost their sense.

    The mean, as it is what estimates add up.
    """
    for job in shop.known_jobs.values():
        sums = known_job_sums(shop, job)
        if sums.mean < job.low_min or sums.mean > job.high_min:
            yield warning(
                job.origin,
                f"the tables make “{job.what}” take {sums.mean:.0f} min on the mean, outside what the trade expects",
                f"mean {sums.mean:.2f} min, likely {sums.likely:.1f} min",
                f"{job.low_min:.0f} to {job.high_min:.0f} min",
                "look at the run times of its tasks that were changed last",
            )

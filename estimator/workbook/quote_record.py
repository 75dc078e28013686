"""A quote as the ledger keeps it: its price lines, planned seconds by task, and what it needs of the stock."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import TypeVar

from msgspec.structs import replace

from estimator.choose.study import Choice, Study
from estimator.core.amounts import Cents
from estimator.core.money import money_text
from estimator.estimate.factors import factor_cells
from estimator.estimate.ways import JOINED
from estimator.ledger.jobs import Offered, QuotedFactor
from estimator.model import Estimate, Shop
from estimator.price.client.quote import bench_fee
from estimator.schedule.build import parts_of_tasks
from estimator.tables.methods import other_ways
from estimator.workbook.write.customer_page import make_offer

Key = TypeVar("Key", str, tuple[str, str])


def quote_record(choice: Choice) -> Offered:
    """What is kept of the quote for a chosen set; later rates alter nothing of it."""
    study, estimate = choice.study, choice.estimate
    money = estimate.totals.money
    offered = _at_price(study, estimate) if study.job.for_customer else _at_cost(study, estimate)
    return replace(
        offered,
        materials=money.parts + money.consumables + money.tools + money.freight,
        seconds=planned_seconds(estimate),
        needs=needs_of(estimate, study.shop),
        uses=uses_of(choice),
        chances=chances_of(estimate, study.shop),
        factors=factors_of(choice),
        ways=ways_of(estimate, study.shop),
    )


def _at_price(study: Study, estimate: Estimate) -> Offered:
    """What a customer is offered, by the lines of the customer's page."""
    totals = estimate.totals
    lines = [
        {
            "what": line.what,
            "kind": line.kind,
            "quantity": None if line.quantity is None else f"{line.quantity:f}",
            "each": None if line.each is None else money_text(line.each),
            "amount": money_text(line.amount),
        }
        for line in make_offer(study, estimate).lines
    ]
    fee = bench_fee(study.job, study.shop.terms)
    return Offered(totals.price, totals.tax, totals.to_pay, study.shop.terms.currency, lines, fee_paid=fee)


def _at_cost(study: Study, estimate: Estimate) -> Offered:
    """What is kept of the work on the shop's own instrument: nobody pays a price for it, so what it costs."""
    money, cost = estimate.totals.money, estimate.totals.cost
    lines = [
        {"what": what, "kind": kind, "quantity": None, "each": None, "amount": money_text(amount)}
        for kind, what, amount in (
            ("parts", "Parts", money.parts),
            ("consumables", "Consumables", money.consumables),
            ("tools", "Wear of tools", money.tools),
            ("labour", "Labour", money.labour),
            ("overhead", "Overhead", money.overhead),
            ("reserve", "Reserve for rework and hidden faults", money.reserve),
            ("freight", "Freight", money.freight),
        )
        if amount
    ]
    return Offered(cost, Cents(0), cost, study.shop.terms.currency, lines)


def planned_seconds(estimate: Estimate) -> dict[str, int]:
    """Mean hands-on seconds by task, as a job card shows them; half up once per task."""
    hundredths: dict[str, int] = {}
    for line in estimate.lines:
        hundredths[line.task] = hundredths.get(line.task, 0) + line.minutes + line.setup
    return {task: (sum_ * 6 + 5) // 10 for task, sum_ in hundredths.items()}


def ways_of(estimate: Estimate, shop: Shop) -> dict[str, str]:
    """By task of an estimate the method that the shop does it by, where that is not the usual one."""
    other = other_ways(shop)
    return {line.task: other[line.task] for line in estimate.lines if line.task in other}


def factors_of(choice: Choice) -> tuple[QuotedFactor, ...]:
    """Every cell of a table that multiplies time of a task, with the seconds it multiplies, those with it in them.

    What is done once beside the run (minutes that a rule adds, the set-up done again) is not among them.
    """
    shop, instrument = choice.study.shop, choice.study.job.instrument
    seconds: dict[tuple[str, str, str, str], Decimal] = {}
    values: dict[tuple[str, str, str, str], Decimal] = {}
    for line in choice.estimate.lines:
        run = Decimal(line.minutes) * Decimal("0.6") - (line.extra + line.again) * 60
        for code in shop.tasks[line.task].factors:
            for cell in factor_cells(code, shop, instrument, dict(line.levels)):
                key = (line.task, f"{cell.table}.csv", JOINED.join(cell.key), cell.column)
                seconds[key] = seconds.get(key, Decimal(0)) + run
                values[key] = cell.value
    whole = {key: int(many.to_integral_value(ROUND_HALF_UP)) for key, many in seconds.items()}
    return tuple(
        QuotedFactor(*key, many, int((values[key] * 1_000_000).to_integral_value(ROUND_HALF_UP)))
        for key, many in whole.items()
        if many > 0 and values[key] > 0
    )


def chances_of(estimate: Estimate, shop: Shop) -> dict[str, int]:
    """By task, the chances that it goes wrong, in hundredths; one at twice the odds of the table counts as two."""
    found: dict[str, Decimal] = {}
    # the odds of the table are those of the usual way; another way has its own in its quote
    usual = (shop.as_usual or shop).tasks
    for line in estimate.lines:
        odds = usual[line.task].rework_pct / 100
        times = line.rework_odds / odds if odds else Decimal(1)
        found[line.task] = found.get(line.task, Decimal(0)) + line.rework_trials * times
    return {task: int((many * 100).to_integral_value(ROUND_HALF_UP)) for task, many in found.items()}


def needs_of(estimate: Estimate, shop: Shop) -> dict[str, int]:
    """Millionths of each part and of what is bought for the job that the work takes; nothing kept on the shelf."""
    found: dict[str, Decimal] = {}
    for part in estimate.parts:
        if part.owner == "shop":
            found[part.part] = found.get(part.part, Decimal(0)) + part.quantity
    for line in estimate.lines:
        for use in line.consumables:
            item = shop.consumables[use.id]
            if item.by_the_pack or item.by_the_piece:
                found[use.id] = found.get(use.id, Decimal(0)) + use.quantity
    return _millionths(found)


def uses_of(choice: Choice) -> dict[tuple[str, str], int]:
    """Millionths by task and item: everything the task uses up, and each part at the task that fits it."""
    estimate = choice.estimate
    found: dict[tuple[str, str], Decimal] = {}
    for line in estimate.lines:
        for use in line.consumables:
            found[line.task, use.id] = found.get((line.task, use.id), Decimal(0)) + use.quantity
    classes = {v.upgrade.id: v.upgrade.part.part_class for v in choice.study.verdicts if v.upgrade.part}
    takes = parts_of_tasks(choice.study.costing, estimate.chosen, classes)
    for part in estimate.parts:
        # the first task that takes the part in hand
        task = next((line.task for line in estimate.lines if part.upgrade in takes.get(line.task, ())), "")
        if part.owner == "shop" and task:
            found[task, part.part] = found.get((task, part.part), Decimal(0)) + part.quantity
    return _millionths(found)


def _millionths(found: Mapping[Key, Decimal]) -> dict[Key, int]:
    whole = {key: int((many * 1_000_000).to_integral_value(ROUND_HALF_UP)) for key, many in found.items()}
    return {key: many for key, many in whole.items() if many > 0}

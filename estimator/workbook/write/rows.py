"""The work of an estimate, line by line, taken apart into what the costing sheet calculates with.

A row's minutes are quantity x minutes per unit + extra; its money is worked out from these exactly as
the estimate does it. Every row is worked out again here and held against the estimate: a sheet that
would recalculate to something else is never written.
"""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from estimator.choose.study import Study
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import EngineError
from estimator.core.money import centiminutes, cents, times_rate
from estimator.estimate.costing import Costing, Rank, is_active
from estimator.estimate.factors import chip_odds
from estimator.estimate.labour import batch_share, marked_up, run_line, warranty_more, with_allowance
from estimator.estimate.rework import PER_UNIT, rework_odds
from estimator.estimate.tax import TaxLine, tax_of
from estimator.model import Demand, Money, Task, Use, WorkLine
from estimator.workbook.row_key import RUN, SETUP, RowKey

ZERO = Decimal(0)
ONE = Decimal(1)


class CostRow(Struct, frozen=True):
    """One row of work: a set-up, or the run of a task at a place.

    Minutes are per unit of ``quantity`` unless said otherwise; ``extra`` and ``again`` are minutes
    once; ``chance`` and ``share`` are the odds of rework and the share repeated; ``counted`` says
    that the odds count per unit; ``spoiled`` is the price of the part that rework spoils.
    ``uses`` are consumables and tools per one unit; ``let_off`` is the share of a set-up that a batch is
    not charged for.
    """

    number: int
    key: str
    task: Task
    place: str
    setup: bool
    desk: bool
    because: tuple[str, ...]
    quantity: Decimal
    each_min: Decimal
    extra: Decimal
    again: Decimal
    each_sd: Decimal
    chance: Decimal
    share: Decimal
    counted: bool
    spoiled: Decimal
    spoiled_by: tuple[str, ...]
    consumables: tuple[Use, ...]
    tools: tuple[Use, ...]
    hidden_faults: Decimal
    line: WorkLine
    let_off: Decimal = ZERO

    @property
    def minutes(self) -> Decimal:
        """Hands-on minutes, unrounded."""
        return self.quantity * self.each_min + self.extra + self.again

    @property
    def sd(self) -> Decimal:
        """Spread of the run in minutes, unrounded."""
        return self.quantity * self.each_sd

    @property
    def chances_each(self) -> bool:
        """Whether every unit is a chance of its own to go wrong; see ``labour.rework_trials``."""
        return self.counted and self.task.rework_kind not in ("x", "n")

    @property
    def fault_min(self) -> Decimal:
        """Minutes held for hidden faults, unrounded."""
        return self.minutes * self.hidden_faults


def rework_minutes(row: CostRow, costing: Costing) -> Decimal:
    """Minutes held for rework on a row, unrounded; the codes are those of ``estimate.rework``."""
    terms, kind = costing.shop.terms, row.task.rework_kind
    if row.setup:
        return ZERO
    if kind in ("q", "r", "s"):
        again = row.chance * row.share * (row.minutes - row.again)
        return again + row.chance * _count(row) * terms.rework_spoil_min if kind == "s" else again
    if kind == "d":
        return row.chance * _count(row) * row.share * terms.rework_damage_min
    if kind == "x":
        return row.chance * row.share * terms.rework_serious_min
    return row.chance * terms.rework_client_min


def rework_material(row: CostRow, costing: Costing) -> Decimal:
    """Money held for what rework spoils or uses up again on a row, unrounded."""
    kind = row.task.rework_kind
    if row.setup:
        return ZERO
    if kind == "r":
        return row.chance * row.share * wear_cost(row, costing)
    if kind == "s":
        return row.chance * _count(row) * row.spoiled
    if kind == "x":
        return row.chance * row.share * costing.shop.terms.rework_serious_cost
    return ZERO


def wear_cost(row: CostRow, costing: Costing, billed_as: str = "wear") -> Decimal:
    """Unrounded money for consumables billed in this way on a row."""
    return row.quantity * sum(
        (use.cost for use in row.consumables if costing.shop.consumables[use.id].billed_as == billed_as), ZERO
    )


def tool_cost(row: CostRow) -> Decimal:
    """Unrounded wear of tools on a row."""
    return row.quantity * sum((use.cost for use in row.tools), ZERO)


def _count(row: CostRow) -> Decimal:
    return row.quantity if row.counted else ONE


def row_money(row: CostRow, costing: Costing) -> Money:
    """The money of a row as the sheet will work it out, each heading rounded to the cent."""
    setting = costing.setting
    both = setting.wage + setting.overhead
    reserve_min = rework_minutes(row, costing) + row.fault_min
    warranted = reserve_min if setting.terms.faults_priced else rework_minutes(row, costing)
    parts = cents(wear_cost(row, costing, "part"))
    price = marked_up(parts, setting.terms)
    return Money(
        parts=parts,
        consumables=cents(wear_cost(row, costing)),
        tools=cents(tool_cost(row)),
        labour=times_rate(row.minutes, setting.wage),
        overhead=times_rate(row.minutes, setting.overhead),
        reserve=times_rate(reserve_min, both) + cents(rework_material(row, costing)),
        price_parts=price,
        cash=parts
        - sum((cents(row.quantity * u.cost) for u in row.consumables if u.id in setting.stocked), Cents(0)),
        price_work=warranty_more(row.task, row.minutes + warranted, setting)
        - times_rate(row.minutes * row.let_off, setting.charge),
        line_tax=tax_of([TaxLine(price, setting.terms.tax_parts)]),
    )


def cost_rows(costing: Costing, chosen: frozenset[str]) -> tuple[CostRow, ...]:
    """All rows of a set of upgrades in the order of work, each set-up before its runs.

    EngineError if a row does not come to what the estimate says.
    """
    rows: list[CostRow] = []
    set_up: set[str] = set()
    for (task_id, _), ranks in costing.ranks.items():
        active = [rank for rank in ranks if is_active(rank.triggers, chosen)]
        if not active or active[-1].needless:
            continue
        setup = costing.setups[task_id][0]
        if task_id not in set_up and setup.setup:
            rows.append(_setup_row(len(rows) + 1, costing, task_id, setup))
        set_up.add(task_id)
        why = dict.fromkeys(
            why for rank in active for who, why in rank.wanted_by if (not who or who in chosen) and why
        )
        wanting = tuple(who for who, _ in active[-1].wanted_by if who in chosen)
        rows.append(_run_row(len(rows) + 1, costing, active[-1], tuple(why), wanting))
    for row in rows:
        _agree(row, costing)
    return tuple(rows)


def _setup_row(number: int, costing: Costing, task_id: str, line: WorkLine) -> CostRow:
    task, setting = costing.shop.tasks[task_id], costing.setting
    return CostRow(
        number=number,
        key=str(RowKey(SETUP, task_id)),
        task=task,
        place="",
        setup=True,
        desk=task_id in costing.desk_tasks,
        because=(),
        quantity=ONE,
        each_min=with_allowance(task.setup_min, setting.terms),
        extra=ZERO,
        again=ZERO,
        each_sd=ZERO,
        chance=ZERO,
        share=ZERO,
        counted=False,
        spoiled=ZERO,
        spoiled_by=(),
        consumables=(),
        tools=(),
        hidden_faults=setting.hidden_faults,
        line=line,
        let_off=batch_share(task, setting),
    )


def _run_row(
    number: int, costing: Costing, rank: Rank, because: tuple[str, ...], wanting: tuple[str, ...]
) -> CostRow:
    setting, demand, line = costing.setting, rank.demand, rank.line
    terms, task = setting.terms, costing.shop.tasks[rank.demand.task]
    one = run_line(task, bare(demand, ONE), setting, rank.part_price)
    odds = rework_odds(
        task,
        demand,
        chip_odds(task, setting.shop, setting.instrument, demand.levels),
        setting.skill,
        terms,
        setting.more_odds(task),
    )
    mean, spread = mean_and_spread(one, task)
    return CostRow(
        number=number,
        key=str(RowKey(RUN, task.id, line.place)),
        task=task,
        place=line.place,
        setup=False,
        desk=task.id in costing.desk_tasks,
        because=because,
        quantity=demand.quantity,
        each_min=mean,
        extra=with_allowance(demand.extra_min, terms),
        again=with_allowance(task.setup_min * demand.setup_share, terms),
        each_sd=spread,
        chance=odds,
        share=task.rework_share,
        counted=task.driver in PER_UNIT,
        spoiled=rank.part_price,
        spoiled_by=wanting,
        consumables=one.consumables,
        tools=one.tools,
        hidden_faults=setting.hidden_faults,
        line=line,
    )


def bare(demand: Demand, quantity: Decimal) -> Demand:
    """A demand for so much, without minutes that come once."""
    return replace(demand, quantity=quantity, extra_min=ZERO, setup_share=ZERO)


def mean_and_spread(line: WorkLine, task: Task) -> tuple[Decimal, Decimal]:
    """Exact mean and spread in minutes of a run line without set-up."""
    from estimator.estimate.three_point import mean_of, sd_of

    mean = mean_of(line.low, line.likely, line.high, task.reading)
    return mean, sd_of(line.low, line.high, task.reading) * line.widening


def _agree(row: CostRow, costing: Costing) -> None:
    """Hold a row against the estimate: money to the cent, minutes to the hundredth."""
    minutes = row.line.setup if row.setup else row.line.minutes
    again = row_money(row, costing)
    fine = (
        centiminutes(row.minutes) == minutes
        and centiminutes(rework_minutes(row, costing)) == row.line.rework
        and centiminutes(row.fault_min) == row.line.allowance
        and again == row.line.money
        and abs(float(row.sd) - row.line.sd) < 1e-9
    )
    if not fine:
        raise EngineError(
            f"the costing sheet would not recalculate to the estimate on {row.key}: {again} against {row.line.money}"
        )


def own_part_minutes(upgrade: str, study: Study) -> Decimal:
    """The run minutes of an upgrade's own work, on which a customer's own part costs a share more."""
    verdict = study.verdict(upgrade)
    setting = study.costing.setting
    minutes = (
        run_line(setting.shop.tasks[d.task].by_usual, d, setting).minutes for d in verdict.upgrade.demands
    )
    return Decimal(sum(minutes, Hundredths(0))) / 100

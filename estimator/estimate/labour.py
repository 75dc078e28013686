"""One work line priced: set-up and run minutes, three-point sums, wear, rework, money.

Minutes of a task: set-up + n x run x F x K (F the difficulty factors, K the operator's skill); both
act on the run only. Standard time = normal time with the allowance of the shop on top: a share of
the work time (normal x (1 + A)) or of the shift (normal / (1 - A)).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import ceil, prod
from types import MappingProxyType
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths
from estimator.core.money import amount, centiminutes, cents, times_rate
from estimator.estimate.assumed import assumed_spreads, widening_of
from estimator.estimate.factors import Instrument, chip_odds, run_factors
from estimator.estimate.rework import PER_UNIT, Rework, expected_rework, rework_odds
from estimator.estimate.tax import TaxLine, tax_of
from estimator.estimate.three_point import mean_of, sd_of
from estimator.estimate.tools.wear import consumables_used, tools_worn
from estimator.fit.mass import wood_cut
from estimator.fit.remembered import Remembered
from estimator.model import Demand, FaultOdds, Money, RunFactor, Shop, Task, Terms, Use, WorkLine

ZERO = Decimal(0)


class Setting(Struct, frozen=True):
    """What prices the work of one job: the shop, the instrument, the hourly rates, the operator.

    ``widen_assumed``: whether intake values that nobody measured widen the spread of the work.
    ``whole_packs``: whether what is bought by the pack counts as whole packs, so by use not at all.
    ``charge`` is what a customer is charged for an hour, ``batch`` how many such instruments come in
    one run: both bear on the price alone. ``crew``: the skills of those who work; none: ``skill`` does all.
    ``fault_odds``: by task, the fault of the instrument that raises its odds of rework most.
    ``stocked``: what is sold like a part and bought beyond a stock, so that no line holds its cash. ``to_get``:
    tools that are not there and have to be bought or rented. ``lines``: runs that were priced before by the
    tables of this shop, where a job is priced again with a reading or a way changed; reasons as the first time.
    """

    shop: Shop
    instrument: Instrument
    family: str
    skill: int
    wage: Decimal
    overhead: Decimal
    hidden_faults: Decimal
    widen_assumed: bool = False
    whole_packs: bool = False
    charge: Decimal = ZERO
    batch: int = 1
    crew: tuple[int, ...] = ()
    stocked: frozenset[str] = frozenset()
    fault_odds: Mapping[str, FaultOdds] = field(default_factory=lambda: MappingProxyType({}))
    to_get: frozenset[str] = frozenset()
    lines: Lines | None = None

    def skill_for(self, task: Task) -> int:
        """The skill a task is priced at: of a crew the least that may do it, for any of them may get it."""
        able = [skill for skill in self.crew if skill >= task.level]
        return min(able) if able else max(self.crew, default=self.skill)

    def more_odds(self, task: Task) -> Decimal:
        """Points on top of the odds of rework of a task, for what is wrong with the instrument."""
        row = self.fault_odds.get(task.id)
        return ZERO if row is None else row.more_pct

    @property
    def worked_by(self) -> tuple[object, ...]:
        """All that a run hangs on besides the tables of the shop, the instrument, its faults and what an hour costs."""
        return (
            self.family,
            self.skill,
            self.hidden_faults,
            self.widen_assumed,
            self.whole_packs,
            self.charge,
            self.crew,
            self.stocked,
        )

    @property
    def terms(self) -> Terms:
        """The shop's settings."""
        return self.shop.terms


def with_allowance(normal: Decimal, terms: Terms) -> Decimal:
    """Standard time from normal time, in the convention of the shop.

    Allowance as a share of the work: normal x (1 + A); as a share of the shift: normal / (1 - A).
    Both are in textbooks of work study (ILO, Introduction to Work Study; Heizer and Render; memory)
    and differ: 15 % on 0.55 min is 0.6325 min or 0.6471 min.
    """
    if terms.allowance_on == "shift":
        return normal / (1 - terms.allowance)
    return normal * (1 + terms.allowance)


def labour_money(minutes: Decimal, reserve: Decimal, setting: Setting) -> Money:
    """Hands-on and reserve minutes in money, each heading rounded to the cent."""
    return Money(
        labour=times_rate(minutes, setting.wage),
        overhead=times_rate(minutes, setting.overhead),
        reserve=times_rate(reserve, setting.wage + setting.overhead),
    )


def batch_share(task: Task, setting: Setting) -> Decimal:
    """The share of a set-up that a customer with a batch of n is let off.

    Each instrument saves (n - 1) / n of the set-up, but for its repeat share; the shop gives its
    ``batch_share`` of that.
    """
    saved = (1 - task.repeat_share) * (setting.batch - 1) / setting.batch
    return saved * setting.terms.batch_share


def _warranted(task_minutes: Decimal, faults: Decimal, setting: Setting) -> Decimal:
    """The mean minutes that a price holds: those of hidden faults only where it holds them."""
    return task_minutes + (faults if setting.terms.faults_priced else ZERO)


def warranty_more(task: Task, minutes: Decimal, setting: Setting) -> Cents:
    """What is held for warranty on the work of a task besides the shop's share of all labour, in cents.

    ``minutes`` are its mean minutes with what is held for rework, and for hidden faults where a price holds them.
    """
    share = setting.shop.resale.warranty.get(task.id)
    if share is None:
        return Cents(0)
    more = max(ZERO, share - setting.terms.labour_reserve)
    return times_rate(minutes * more, setting.charge)


def setup_line(task: Task, setting: Setting, share: Decimal = Decimal(1)) -> WorkLine:
    """The set-up of a task, once per sitting; ``share`` 1 for the first instrument of a run."""
    minutes = with_allowance(task.setup_min * share, setting.terms)
    allowance = minutes * setting.hidden_faults
    let_off = -times_rate(minutes * batch_share(task, setting), setting.charge)
    warranty = warranty_more(task, _warranted(minutes, allowance, setting), setting)
    return WorkLine(
        task=task.id,
        place="",
        quantity=ZERO,
        because=(),
        factors=(),
        setup=centiminutes(minutes),
        minutes=Hundredths(0),
        low=minutes,
        likely=minutes,
        high=minutes,
        sd=0.0,
        rework=Hundredths(0),
        allowance=centiminutes(allowance),
        wait=Hundredths(0),
        money=labour_money(minutes, allowance, setting) + Money(price_work=let_off + warranty),
        mass_g=ZERO,
        consumables=(),
        tools=(),
        warranty=warranty,
    )


class Lines:
    """What was priced before: runs before their hours are paid, whole tasks as they were asked for, their ranks, atoms.

    ``tasks`` are those of ``estimate.ways``, ``least`` those of ``choose.least_ways``. Ranks and atoms are kept by the
    identity of what they were made of, which stands beside them.
    """

    MOST = 20_000
    """Ranks and atoms that are kept: for very many listings they are made anew from time to time."""

    def __init__(self) -> None:
        self.runs = Remembered[Worked]()
        self.tasks = Remembered[Any]()
        self.least = Remembered[Any]()
        self.ranks: dict[int, tuple[object, Any]] = {}
        self._atoms: dict[str, dict[Any, Any]] = {}

    def atoms_of(self, kind: str) -> dict[Any, Any]:
        """The atoms of jobs of a kind: what is billed of them is not the same for all."""
        if len(self.ranks) > self.MOST:
            self.ranks, self.least = {}, Remembered()
        if kind not in self._atoms or len(self._atoms[kind]) > self.MOST:
            self._atoms[kind] = {}
        return self._atoms[kind]


class Worked(Struct, frozen=True):
    """A run before its hours are paid: its line without them, its minutes, and those held in reserve."""

    line: WorkLine
    minutes: Decimal
    reserve: Decimal
    _paid: dict[tuple[Decimal, Decimal], WorkLine] = field(default_factory=dict)

    def paid(self, setting: Setting) -> WorkLine:
        """The line with its hours paid at the rates of a setting."""
        rates = (setting.wage, setting.overhead)
        if rates not in self._paid:
            money = self.line.money + labour_money(self.minutes, self.reserve, setting)
            self._paid[rates] = replace(self.line, money=money)
        return self._paid[rates]


def run_line(task: Task, demand: Demand, setting: Setting, part_price: Decimal = ZERO) -> WorkLine:
    """The run of a task at a place for a quantity, without its set-up."""
    return run_worked(setting.instrument, task, demand, setting, part_price).paid(setting)


def run_worked(on: Instrument, task: Task, demand: Demand, setting: Setting, price: Decimal) -> Worked:
    """The same on an instrument of the setting's readings, before its hours are paid: nothing of it hangs on their rate."""
    shop, terms, instrument = setting.shop, setting.terms, on
    levels = demand.levels
    skill = setting.skill_for(task)
    factors = run_factors(task, shop, instrument, levels, skill)
    times = demand.quantity * demand.share * prod((each.times for each in factors), start=Decimal(1))

    def standard(reading: Decimal) -> Decimal:
        return with_allowance(reading * times + demand.extra_min, terms)

    again = with_allowance(task.setup_min * demand.setup_share, terms)
    readings = (task.run_min_low, task.run_min_likely, task.run_min_high)
    low, likely, high = (standard(r) for r in readings)
    run = mean_of(low, likely, high, task.reading)
    minutes = run + again
    consumables = consumables_used(task, demand, shop, instrument, levels, setting.family)
    tools = tools_worn(task, demand, shop, instrument, levels)
    chips = chip_odds(task, shop, instrument, levels)
    odds = rework_odds(task, demand, chips, skill, terms, setting.more_odds(task))
    rework = expected_rework(task, demand, odds, run, _worn(consumables, shop), price, terms)
    allowance = minutes * setting.hidden_faults
    rests_on = assumed_spreads(task, demand, shop, instrument) if setting.widen_assumed else ()
    widening = widening_of(rests_on)
    warranty = warranty_more(task, _warranted(minutes + rework.minutes, allowance, setting), setting)
    line = WorkLine(
        task=task.id,
        place=demand.place,
        quantity=demand.quantity,
        because=(demand.because,),
        factors=(*factors, RunFactor("share", "", demand.share)),
        setup=Hundredths(0),
        minutes=centiminutes(minutes),
        low=low + again,
        likely=likely + again,
        high=high + again,
        sd=float(sd_of(low, high, task.reading) * widening),
        rework=centiminutes(rework.minutes),
        allowance=centiminutes(allowance),
        wait=centiminutes(task.wait_usual_min),
        money=_materials(consumables, tools, rework, setting) + Money(price_work=warranty),
        mass_g=-wood_cut(task, demand.quantity, shop, instrument),
        consumables=consumables,
        tools=tools,
        reading=task.reading,
        rework_odds=odds,
        rework_trials=rework_trials(task, demand),
        rework_material=rework.material,
        widening=widening,
        rests_on=rests_on,
        warranty=warranty,
        each=with_allowance(mean_of(*readings, task.reading), terms),
        extra=with_allowance(demand.extra_min, terms),
        again=again,
        method=task.method,
        way=task.way,
        levels=tuple(levels.items()),
    )
    return Worked(line, minutes, rework.minutes + allowance)


def _worn(consumables: Sequence[Use], shop: Shop) -> Decimal:
    return sum((u.cost for u in consumables if shop.consumables[u.id].billed_as == "wear"), ZERO)


def _materials(consumables: Sequence[Use], tools: Sequence[Use], rework: Rework, setting: Setting) -> Money:
    """What a line takes besides labour: by use, save packs bought whole; what stays in is a part at its price."""
    shop, terms = setting.shop, setting.terms
    loose = [u for u in consumables if not (setting.whole_packs and shop.consumables[u.id].by_the_pack)]
    as_parts = [u for u in consumables if shop.consumables[u.id].billed_as == "part"]
    cost = cents(sum((u.cost for u in as_parts), ZERO))
    price = marked_up(cost, terms)
    return Money(
        parts=cost,
        consumables=cents(_worn(loose, shop)),
        tools=cents(sum((u.cost for u in tools), ZERO)),
        reserve=cents(rework.material),
        price_parts=price,
        cash=cost - sum((cents(u.cost) for u in as_parts if u.id in setting.stocked), Cents(0)),
        line_tax=tax_of([TaxLine(price, terms.tax_parts)]),
    )


def rework_trials(task: Task, demand: Demand) -> int:
    """How many chances of going wrong a line has: one, or one per unit where units are counted one by one."""
    if task.driver in PER_UNIT and task.rework_kind not in ("x", "n"):
        return ceil(demand.quantity)
    return 1


def marked_up(unit_cost: Cents, terms: Terms) -> Cents:
    """The price of a part (cents) that costs ``unit_cost`` cents: its cost times the factor of its band."""
    for band in terms.markup:
        if band.up_to is None or amount(unit_cost) <= band.up_to:
            return cents(amount(unit_cost) * band.factor)
    return unit_cost

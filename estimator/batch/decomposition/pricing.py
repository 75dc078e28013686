"""What one job is worth at prices for what all share: the piece of the Lagrangian bound that falls to it.

All sums are whole numbers in ``SCALE``-ths of a cent. Every rounding and every simplification makes
the bound lower, never higher: freight is left out, parts and packs count at the cheapest seller and
the best quantity break, a part off another job or in stock counts as had for nothing, uses are rounded down.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from msgspec import Struct, field

from estimator.batch.decomposition.columns import SetColumn
from estimator.batch.own_order import lay_own_order
from estimator.batch.purchasing import cheapest_packs, prices_at, stock_worth
from estimator.batch.records import THOUSAND, Batch, BoughtPart, JobChoice, Pack, PackUse, Triggers
from estimator.batch.verify import own_profit
from estimator.choose.milp.linear import STRUCTURE, Linear, total_of
from estimator.choose.milp.model import Programme
from estimator.choose.milp.objectives import OBJECTIVES
from estimator.choose.milp.variables import ALWAYS
from estimator.choose.solvers.backends import INFEASIBLE
from estimator.core.amounts import Cents, Hundredths
from estimator.core.errors import EngineError

SCALE = 1024
"""Prices are whole 1024ths of a cent."""


class Duals(Struct, frozen=True):
    """Prices of what all jobs share, in ``SCALE``-ths of a cent, none below zero.

    For a cent of ``cash``, a hundredth of ``minutes``, a millionth of a unit of each consumable, and by
    (tool, kind of job) for the work that needs the tool.
    """

    cash: int = 0
    minutes: int = 0
    packs: Mapping[str, Fraction] = field(default_factory=dict)
    tools: Mapping[tuple[str, int], int] = field(default_factory=dict)

    def times(self, share: Fraction) -> Duals:
        """The same prices for cash and minutes in proportion."""
        return Duals(int(self.cash * share), int(self.minutes * share), self.packs, self.tools)


class JobClass(Struct):
    """Jobs that are the same choice: one programme, and the candidates found for all of them."""

    number: int
    job: JobChoice
    parts: tuple[tuple[str, Cents, Cents, Cents], ...]
    uses: tuple[PackUse, ...]
    tools: tuple[tuple[str, Triggers], ...]
    programme: Programme | None = None
    set_columns: dict[tuple[str, ...], SetColumn] = field(default_factory=dict)
    jobs: list[str] = field(default_factory=list)


class PricingProblems:
    """A batch without what ties its jobs but by prices: kinds of jobs, cheapest packs, and the bound."""

    def __init__(self, batch: Batch, aim: str) -> None:
        self.batch, self.aim = batch, aim
        self.classes = kinds_of(batch)
        self.cheapest = cheapest_packs(batch)

    @property
    def unseen(self) -> int:
        """Cents of every parcel's freight and one pack of each kind."""
        return sum((seller.freight for seller in self.batch.sellers), Cents(0)) + sum(
            self.cheapest.values(), Cents(0)
        )

    def counts(self, pack: Pack) -> bool:
        """Whether a bought pack counts in the aim itself (in cash it always does)."""
        return self.aim == "cash" or self.batch.wastes(pack) or pack.in_cost

    def within(self, duals: Duals) -> Duals:
        """The prices held to what keeps the shared part of the bound at zero: no pack or tool pays by itself."""
        packs = {}
        for pack in self.batch.packs:
            most = Fraction(
                (SCALE * self.counts(pack) + duals.cash) * self.cheapest[pack.consumable], pack.holds
            )
            packs[pack.consumable] = min(duals.packs.get(pack.consumable, Fraction(0)), most)
        tools: dict[tuple[str, int], int] = {}
        for tool in self.batch.tools:
            asked = {k.number: duals.tools.get((tool.tool, k.number), 0) for k in self.classes}
            total = sum(asked[k.number] * len(k.jobs) for k in self.classes)
            room = (SCALE + duals.cash) * tool.least
            for number, price in asked.items():
                tools[tool.tool, number] = price if total <= room else price * room // total
        return Duals(duals.cash, duals.minutes, packs, tools)

    def shared(self, duals: Duals) -> int:
        """What the limits and the stock take off the bound at these prices."""
        batch = self.batch
        off = duals.cash * (batch.cash or 0) + duals.minutes * (batch.minutes or 0)
        for pack in batch.packs:
            worth = duals.packs[pack.consumable] * pack.stock
            off += -(-worth.numerator // worth.denominator)
        return off

    def ask(self, kind: JobClass, duals: Duals) -> int | None:
        """The least priced sum of one job of a kind (scaled), its set kept; None if no set keeps its rules.

        Where the job may be left out, at most zero.
        """
        programme = kind.programme
        if programme is None:
            programme = kind.programme = Programme(kind.job.problem, kind.job.measure, kind.job.bound)
            programme.expects_many = True
            if kind.job.cash is not None:
                own = lay_own_order(self.batch, kind.job, programme.columns)
                programme.model.add(own.cash, None, kind.job.cash, STRUCTURE)
        optional = kind.job.buy_for
        answer = programme.ask(self.priced(kind, programme, duals))
        if answer.status == INFEASIBLE:
            return None if optional is None else 0
        if answer.chosen is None or answer.measure is None or answer.bound is None:
            raise EngineError(f"no set was found for {kind.job.id} alone")
        if answer.chosen not in kind.set_columns:
            profit = own_profit(kind.job, answer.chosen, answer.measure.cost)
            kind.set_columns[answer.chosen] = SetColumn(answer.chosen, answer.measure, profit)
        return answer.bound if optional is None else min(0, answer.bound)

    def priced(self, kind: JobClass, programme: Programme, duals: Duals) -> Linear:
        """What a set of a job adds to the aim and takes of what is shared, at these prices."""
        columns, aim = programme.columns, self.aim
        saved = total_of(
            (columns.option(upgrade), least - listed) for upgrade, listed, least, _ in kind.parts
        )
        spared = total_of(
            (columns.option(upgrade), least - listed) for upgrade, listed, _, least in kind.parts
        )
        saved.constant += kind.job.buy_for or 0
        spared.constant += kind.job.buy_for or 0
        built = columns.total("cash").add(spared)
        own = built.copy() if aim == "cash" else self._own(programme).add(saved)
        total = own.times(SCALE).add(built, duals.cash)
        total.add(columns.total("minutes"), duals.minutes)
        packs = {pack.consumable: pack for pack in self.batch.packs}
        for use in kind.uses:
            pack = packs[use.consumable]
            value = duals.packs[use.consumable] * use.millionths
            each = value.numerator // value.denominator
            if self.batch.wastes(pack) and aim != "cash" and not pack.in_cost:
                each -= SCALE * pack.worth(use.millionths)
            total.add(ALWAYS if use.triggers is None else columns.any_of(use.triggers), each)
        for tool, triggers in kind.tools:
            literal = ALWAYS if triggers is None else columns.any_of(triggers)
            total.add(literal, duals.tools[tool, kind.number])
        return total

    def _own(self, programme: Programme) -> Linear:
        problem = programme.problem
        if self.aim == "profit" and problem.sale is None and not problem.incomes:
            return programme.columns.total("cost")
        make = OBJECTIVES[self.aim].total
        assert make is not None
        return make(programme)

    def figures(self, kind: JobClass, candidate: SetColumn) -> ColumnFigures:
        """A candidate's own sum, cash, minutes, uses and tools, as the relaxed batch counts them."""
        job, held = kind.job, set(candidate.chosen)

        def does(triggers: Triggers) -> bool:
            return triggers is None or not held.isdisjoint(triggers)

        saved = sum((least - listed for upgrade, listed, least, _ in kind.parts if upgrade in held), Cents(0))
        saved += job.buy_for or Cents(0)
        cash = candidate.measure.cash + (job.buy_for or Cents(0))
        cash += sum((least - listed for upgrade, listed, _, least in kind.parts if upgrade in held), Cents(0))
        uses: dict[str, int] = {}
        worth = Cents(0)
        packs = {pack.consumable: pack for pack in self.batch.packs}
        for use in kind.uses:
            if does(use.triggers):
                uses[use.consumable] = uses.get(use.consumable, 0) + use.millionths
                pack = packs[use.consumable]
                if self.batch.wastes(pack) and self.aim != "cash" and not pack.in_cost:
                    worth += pack.worth(use.millionths)
        aim = cash if self.aim == "cash" else candidate.figure(self.aim) + saved - worth
        tools = frozenset(tool for tool, triggers in kind.tools if does(triggers))
        return ColumnFigures(aim, cash, candidate.measure.expected, uses, tools)


class ColumnFigures(Struct, frozen=True):
    """What a candidate brings to the relaxed batch."""

    aim: int
    cash: Cents
    minutes: Hundredths
    uses: Mapping[str, int]
    tools: frozenset[str]


def _least(batch: Batch, part: BoughtPart) -> tuple[Cents, Cents]:
    """What a part comes to at least in cost and in cash, as if all that is in stock were for it alone."""
    costs, paid = [], []
    for pieces in range(batch.in_stock(part) + 1):
        left = part.beyond(pieces)
        nothing = THOUSAND * pieces == part.thousandths
        offers = prices_at(batch.sellers, part.part_class, left, part.part_class)
        paid.append(Cents(0) if nothing else min(cents for *_, cents in offers))
        costs.append(paid[-1] + (stock_worth(batch, part, pieces) if pieces else Cents(0)))
    return min(costs), min(paid)


def _own(batch: Batch, job: JobChoice) -> Any:
    """What else makes the order of a job by itself, where its own limit on cash turns on that."""
    if job.cash is None:
        return None
    parts = (
        (p.upgrade, p.part_class, p.quantity, p.on_sale, p.shelf) for p in batch.parts if p.job == job.id
    )
    return job.cash, tuple(sorted(job.shelf.items())), tuple(parts)


def kinds_of(batch: Batch) -> list[JobClass]:
    """Jobs that are the same choice share a kind, so that each choice is solved once."""
    parts: dict[str, list[tuple[str, Cents, Cents, Cents]]] = {}
    moved = {(move.to_job, move.upgrade) for move in batch.moved}
    for part in batch.parts:
        in_cost, in_cash = (Cents(0), Cents(0)) if (part.job, part.upgrade) in moved else _least(batch, part)
        parts.setdefault(part.job, []).append((part.upgrade, part.list_cents, in_cost, in_cash))
    uses: dict[str, list[PackUse]] = {}
    for use in batch.uses:
        uses.setdefault(use.job, []).append(use)
    tools: dict[str, dict[str, Triggers]] = {}
    for tool in batch.tools:
        for name, triggers in tool.needed_by:
            mine_now = tools.setdefault(name, {})
            known = mine_now.get(tool.tool, ())
            mine_now[tool.tool] = None if known is None or triggers is None else (*known, *triggers)
    found: dict[Any, JobClass] = {}
    for job in batch.jobs:
        mine, used = tuple(parts.get(job.id, ())), tuple(uses.get(job.id, ()))
        needs = tuple(tools.get(job.id, {}).items())
        priced = any(rule.on == "price" for rule in job.problem.rules)  # then the price function counts too
        alike = job.id if priced else job.problem
        alone = tuple((use.consumable, use.triggers, use.millionths) for use in used)
        key = (alike, mine, alone, needs, job.buy_for, _own(batch, job))
        kind = found.setdefault(key, JobClass(len(found), job, mine, used, needs))
        kind.jobs.append(job.id)
    return list(found.values())

"""The choice over several jobs at once: every job's programme side by side, tied by what they share.

Each job keeps its own programme (columns, rules, cuts, exact measure); here they are laid into one
model, with columns for what is bought, and solved together. Figures that a job holds by cuts are
checked set by set, as in the choice of one job, until all stand.

A job that may be left out is laid as its programme times a column that is 1 when it is done: every
bound of its columns and rows is multiplied by that column, so that at 0 nothing of it is left.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from typing import Any

from estimator.batch.own_order import lay_own_order
from estimator.batch.purchasing import (
    Deal,
    JointModel,
    buy_packs,
    buy_parts,
    buy_tools,
    cheapest_packs,
    move_parts,
    price_breaks,
    send_parcel,
    stock_worth,
)
from estimator.batch.records import Batch, JobChoice
from estimator.choose.measure import Measure
from estimator.choose.milp.linear import LAZY, STRUCTURE, Linear, Row, make_row
from estimator.choose.milp.model import Programme
from estimator.choose.milp.objectives import OBJECTIVES, time_spent
from estimator.choose.milp.variables import ALWAYS
from estimator.choose.solvers.backends import INFEASIBLE
from estimator.choose.solvers.solve import EXACT, SolveResult, solve_model
from estimator.core.amounts import Cents
from estimator.core.errors import EngineError

COUNT = "count"
TIME = "time"
Target = Callable[[JointModel], Linear]
"""A sum over the joint model, to be made small."""
Judged = tuple[dict[str, tuple[str, ...]], dict[str, Measure], bool]


class JointProgramme:
    """All programmes of a batch and the shared columns; ``ask`` solves them together.

    ``customers``: the jobs whose price counts. ``unlimited``: jobs whose own limit on cash is not held, so that it
    can be asked for the least that they would lay out by themselves.
    """

    customers: Collection[str] = frozenset()
    unlimited: Collection[str] = frozenset()

    def __init__(self, batch: Batch, engine: str | None = None, deadline: float | None = None) -> None:
        # the order of engines for one job (a little patience, then another) does not suit many
        self.batch, self.engine, self.deadline = batch, engine or EXACT, deadline
        self.programmes: dict[str, Any] = {
            job.id: Programme(job.problem, job.measure, job.bound, engine, deadline) for job in batch.jobs
        }
        # where there are customers, nobody pays a price for the shop's own
        self.customers = {j.id for j in batch.jobs if j.problem.billed} or set(self.programmes)
        self.rounds = 0
        self.build_uses()

    def build_uses(self) -> None:
        """Literals of pack uses, tools and moved parts, and what jobs would buy by themselves, before any row is built:
        they may make columns."""
        self.uses = [(use, self._literal(use.job, use.triggers)) for use in self.batch.uses]
        self.tools = [
            (tool, [(job, self._literal(job, triggers)) for job, triggers in tool.needed_by])
            for tool in self.batch.tools
        ]
        self.off = [self._literal(move.from_job, move.off) for move in self.batch.moved]
        self.own = {
            job.id: lay_own_order(self.batch, job, self.programmes[job.id].columns)
            for job in self.batch.jobs
            if job.cash is not None
        }

    def _literal(self, job: str, triggers: tuple[str, ...] | None) -> Linear:
        if triggers is None:
            return ALWAYS
        literal: Linear = self.programmes[job].columns.any_of(triggers)
        return literal

    def own_sum(self, job: str, aim: str) -> Linear:
        """What one job brings to an aim, in its own columns; ``COUNT`` upgrades, ``TIME`` that is paid by."""
        programme = self.programmes[job]
        if aim == COUNT:
            number: Linear = programme.count()
            return number
        if aim == TIME:
            return time_spent(programme)
        if aim == "price" and job not in self.customers:
            return Linear()
        make = OBJECTIVES[aim].total
        if make is None:
            raise EngineError(f"the aim “{aim}” is a ratio, not a sum")
        if aim == "profit" and programme.problem.sale is None and not programme.problem.incomes:
            total: Linear = programme.columns.total("cost")  # not for sale: it counts by its cost
            return total
        return make(programme)

    def prepare(self, aims: Sequence[str]) -> None:
        """Let every aim make its columns in the jobs' programmes."""
        for job in self.programmes:
            for aim in ("cash", *aims):
                self.own_sum(job, aim)

    def build_model(self) -> JointModel:
        """A fresh joint model: all jobs' columns and rows in force, then the shared ones."""
        built = JointModel()
        for job in self.batch.jobs:
            if job.buy_for is None:
                self._build_job(built, job.id)
            else:
                self._build_gated(built, job.id, job.buy_for)
        batch = self.batch
        buy_parts(
            built,
            batch,
            [built.of(p.job, self.programmes[p.job].columns.option(p.upgrade)) for p in batch.parts],
        )
        move_parts(
            built, batch, [built.of(m.from_job, off) for m, off in zip(batch.moved, self.off, strict=True)]
        )
        buy_packs(built, batch, [(use, built.of(use.job, literal)) for use, literal in self.uses])
        buy_tools(
            built,
            [(t, [(job, built.of(job, lit)) for job, lit in needed]) for t, needed in self.tools],
            self.customers,
        )
        for seller in batch.sellers:
            price_breaks(built, seller)
            send_parcel(built, seller)
        return built

    def _build_job(self, built: JointModel, job: str) -> None:
        model, own = built.model, self.programmes[job].model
        offset = built.offsets[job] = len(model.names)
        for low, high, kind in zip(own.lower, own.upper, own.kinds, strict=True):
            model.column("j", low, high, kind)
        for row in self.programmes[job].rows():
            columns = tuple(c + offset for c in row.columns)
            model.rows.append(Row(columns, row.coefficients, row.lower, row.upper, row.tag))
        model.impossible.extend(own.impossible)

    def _build_gated(self, built: JointModel, job: str, price: Cents) -> None:
        model, own = built.model, self.programmes[job].model
        gate = built.gates[job] = model.column("y", 0, 0 if own.impossible else 1)
        built.deals.append(Deal(gate, "donor", job, "", price, job))
        offset = built.offsets[job] = len(model.names)
        for low, high, kind in zip(own.lower, own.upper, own.kinds, strict=True):
            column = model.column("j", min(low, 0), max(high, 0), kind)
            model.add(Linear({column: 1, gate: -low}), 0, None, STRUCTURE)
            if kind != LAZY:  # what is held from below is never wanted large
                model.add(Linear({column: 1, gate: -high}), None, 0, STRUCTURE)
        for row in self.programmes[job].rows():
            columns = [c + offset for c in row.columns]
            for end, low, high in ((row.lower, 0, None), (row.upper, None, 0)):
                if end is not None:
                    total = Linear(dict(zip(columns, row.coefficients, strict=True)))
                    model.add(total.add(Linear({gate: -end})), low, high, row.tag)

    def sums(self, built: JointModel, aim: str) -> Linear:
        """The sum of an aim over all jobs with the shared money, to be made small."""
        batch = self.batch
        total = Linear()
        for job in self.programmes:
            total.add(built.of(job, self.own_sum(job, aim)))
        if aim == "price":  # one that falls by less than what is laid out for it would be paid by the shop
            return total.add(built.for_customers)
        if aim not in ("cash", "cost", "profit"):
            return total
        parts = {(p.job, p.upgrade): p for p in batch.parts}
        as_bought = {pack.consumable for pack in batch.packs if pack.in_cost or batch.wastes(pack)}
        least = cheapest_packs(batch)
        forgone = {move.id: move.forgone for move in batch.moved}
        for deal in built.deals:
            one = Linear({deal.column: 1})
            part = parts.get((deal.job, deal.upgrade))
            if deal.kind in ("part", "stock"):
                assert part is not None
                total.add(one, deal.cents - part.list_cents)
                if deal.pieces and aim != "cash":  # not paid again, but used up
                    total.add(one, stock_worth(batch, part, deal.pieces))
            elif deal.kind == "moved":
                less = forgone[deal.what] if aim == "profit" else 0
                total.add(one, less - (part.list_cents if part else 0))
            elif deal.kind in ("tool", "rent", "donor") or aim == "cash" or deal.what in as_bought:
                total.add(one, deal.cents)
            else:  # charged by use; what a dearer seller takes leaves the till all the same
                total.add(one, deal.cents - least[deal.what])
        if batch.lost and aim != "cash":
            self._take_off_used(total, built)
        for freight in built.freight.values():
            total.add(freight)
        return total

    def _take_off_used(self, total: Linear, built: JointModel) -> None:
        """Packs at their whole price already hold what the work lines charged by use: half up per use."""
        packs = {pack.consumable: pack for pack in self.batch.packs}
        for use, literal in self.uses:
            pack = packs[use.consumable]
            if pack.in_cost or pack.singly:
                continue
            total.add(built.of(use.job, literal), -pack.worth(use.millionths))

    def limits(self, built: JointModel) -> list[Row]:
        """Rows for cash and hours over all jobs, and for each job's own cash."""
        rows = []
        for holder in self.batch.jobs:
            if holder.cash is not None:
                rows += self._own_cash(built, holder)
        if self.batch.cash is not None:
            rows.append(make_row(self.sums(built, "cash"), None, self.batch.cash, "batch:cash"))
        if self.batch.minutes is not None:
            spent = Linear()
            for job, programme in self.programmes.items():
                spent.add(built.of(job, programme.columns.total("minutes")))
            rows.append(make_row(spent, None, self.batch.minutes, "batch:hours"))
        return rows

    def _own_cash(self, built: JointModel, holder: JobChoice) -> list[Row]:
        """A job's own limit on cash, on an order in which it has as much from the stock as in that of the batch."""
        own = self.own[holder.id]
        rows = []
        if holder.id not in self.unlimited:
            rows.append(make_row(built.of(holder.id, own.cash), None, holder.cash, "batch:own cash"))
        shelves = {(p.job, p.upgrade): p.shelf for p in self.batch.parts}
        for shelf, taken in own.taken.items():
            both = built.of(holder.id, taken)
            for deal in built.deals:
                if deal.job == holder.id and deal.pieces and shelves[deal.job, deal.upgrade] == shelf:
                    both.add(Linear({deal.column: 1}), -deal.pieces)
            rows.append(make_row(both, 0, 0, "batch:own cash"))
        return rows

    def ask(
        self, target: Target, kept: Sequence[tuple[Target, int]]
    ) -> tuple[SolveResult, JointModel, dict[str, tuple[str, ...]], dict[str, Measure]]:
        """Make a sum small while others keep their values, until every set stands its exact measure."""
        while True:
            built = self.build_model()
            model = built.model
            objective = target(built)
            rows = [*model.rows, *self.limits(built)]
            rows += [make_row(total(built), None, most, "stage") for total, most in kept]
            if model.impossible or any(not row.columns and not row.holds({}) for row in rows):
                return SolveResult(INFEASIBLE, None, None, None, 0.0, "none"), built, {}, {}
            rows = [row for row in rows if row.columns]
            left = None if self.deadline is None else self.deadline - time.perf_counter()
            outcome = solve_model(model, rows, objective, self.engine, left)
            self.rounds += 1
            if outcome.values is None:
                return outcome, built, {}, {}
            weighed = {
                column for total in (target, *(total for total, _ in kept)) for column in total(built).terms
            }
            chosen, measures, lifted = self.judge(outcome.values, built, weighed)
            if not lifted:
                return outcome, built, chosen, measures

    def judge(self, values: Sequence[int], built: JointModel, weighed: Collection[int]) -> Judged:
        """The sets in an engine's answer with their exact measures, and whether a cut had to be added.

        ``weighed``: columns that an aim speaks of; others may lie too low as long as their limit holds.
        """
        chosen: dict[str, tuple[str, ...]] = {}
        measures: dict[str, Measure] = {}
        lifted = False
        for job, programme in self.programmes.items():
            if job in built.gates and not values[built.gates[job]]:
                continue
            offset = built.offsets[job]
            on = tuple(sorted(o for o, c in programme.columns.members.items() if values[c + offset]))
            chosen[job], measures[job] = on, programme.measure(on)
            told = measures[job]
            for what, column in list(programme.lazy.held().items()):
                exact = programme.lazy.told(what, told)
                most = None if column + offset in weighed else programme.limit_on(column)
                if exact is None or exact <= (values[column + offset] if most is None else most):
                    continue
                lifted = True
                programme.lazy.lift(what, on, told)
        return chosen, measures, lifted

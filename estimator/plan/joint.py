"""The choice over several jobs at once: every job's programme side by side, tied by what they share.

Each job keeps its own programme (columns, rules, cuts, exact measure); here they are laid into one
model, with columns for packs, suppliers, freight and tools, and solved together. Figures that a job
holds by cuts are checked set by set, as in the choice of one job, until all stand.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from estimator.choose.engines import INFEASIBLE
from estimator.choose.matrix import STRUCTURE, Linear, Model, Row, make_row, total_of
from estimator.choose.measure import Measure
from estimator.choose.objectives import AIMS
from estimator.choose.programme import Programme
from estimator.choose.solve import Outcome, solve_model
from estimator.choose.variables import ALWAYS
from estimator.errors import EngineError
from estimator.plan.joint_records import Batch, Seller

COUNT = "count"
SPARE_PACKS = 3
"""Packs beyond those needed that may be bought, to reach free freight, where leftovers count as lost."""


@dataclass(slots=True)
class Deal:
    """A column that buys something: what, from whom, at what price each."""

    column: int
    kind: str
    what: str
    seller: str
    cents: int
    job: str = ""
    upgrade: str = ""


@dataclass(slots=True)
class Shared:
    """The columns and rows that tie the jobs: in the numbering of the joint model."""

    model: Model = field(default_factory=Model)
    deals: list[Deal] = field(default_factory=list)
    freight: dict[str, Linear] = field(default_factory=dict)


class Joint:
    """All programmes of a batch and the shared columns; ``ask`` solves them together."""

    def __init__(self, batch: Batch, engine: str | None = None, deadline: float | None = None) -> None:
        self.batch, self.engine, self.deadline = batch, engine, deadline
        self.programmes: dict[str, Any] = {
            job.id: Programme(job.problem, job.measure, job.bound, engine, deadline) for job in batch.jobs
        }
        self.lay_uses()
        self.rounds = 0

    def lay_uses(self) -> None:
        """Literals of pack uses and missing tools, before anything is laid together: they may make columns."""
        self.uses = [(use, self._literal(use.job, use.triggers)) for use in self.batch.uses]
        self.tools = [
            (tool, [(job, self._literal(job, triggers)) for job, triggers in tool.needed_by])
            for tool in self.batch.tools
        ]

    def _literal(self, job: str, triggers: tuple[str, ...] | None) -> Linear:
        if triggers is None:
            return ALWAYS
        literal: Linear = self.programmes[job].columns.any_of(triggers)
        return literal

    def job_cash(self, job: str) -> Linear:
        """Cash of one job in its own columns, without packs of its own."""
        programme = self.programmes[job]
        own = set(next(j.own_packs for j in self.batch.jobs if j.id == job))
        total: Linear = programme.columns.total("cash")
        for piece in programme.problem.pieces:
            if piece.id in own and piece.cash:
                total.add(programme.columns.piece(piece), -piece.cash)
        return total

    def own_sum(self, job: str, aim: str) -> Linear:
        """What one job brings to an aim, in its own columns; ``COUNT`` is the number of upgrades."""
        if aim == COUNT:
            number: Linear = self.programmes[job].count()
            return number
        if aim == "cash":
            return self.job_cash(job)
        make = AIMS[aim].total
        if make is None:
            raise EngineError(f"the aim “{aim}” is not known for several jobs at once")
        return make(self.programmes[job])

    def lay_together(self) -> tuple[Shared, dict[str, int]]:
        """A fresh joint model: all jobs' columns and rows in force, then the shared ones; offsets by job."""
        shared = Shared()
        model = shared.model
        offsets: dict[str, int] = {}
        for job, programme in self.programmes.items():
            offset = offsets[job] = len(model.names)
            own = programme.model
            for low, high, kind in zip(own.lower, own.upper, own.kinds, strict=True):
                model.column("j", low, high, kind)
            for row in programme.rows():
                columns = tuple(c + offset for c in row.columns)
                model.rows.append(Row(columns, row.coefficients, row.lower, row.upper, row.tag))
            model.impossible.extend(own.impossible)
        self._buying(shared, offsets)
        return shared, offsets

    def _buying(self, shared: Shared, offsets: Mapping[str, int]) -> None:
        model, batch = shared.model, self.batch
        for part in batch.parts:
            wanted = moved(self.programmes[part.job].columns.option(part.upgrade), offsets[part.job])
            offers = [
                (seller.id, price)
                for seller in batch.sellers
                if (price := seller.price(part.part_class, part.list_cents)) is not None
            ] or [("", part.list_cents)]
            deals = Linear()
            for seller, price in offers:
                column = model.column("a")
                deals.add(Linear({column: 1}))
                shared.deals.append(Deal(column, "part", part.part, seller, price, part.job, part.upgrade))
            model.add(deals.add(wanted, -1), 0, 0, STRUCTURE)
        for pack in batch.packs:
            needed = Linear(constant=-pack.stock)
            for use, literal in self.uses:
                if use.consumable == pack.consumable:
                    needed.add(moved(literal, offsets[use.job]), use.millionths)
            most = model.bounds(needed)[1]
            limit = max(0, -(-most // pack.holds)) + (SPARE_PACKS if batch.lost else 0)
            offers = [
                (seller.id, price)
                for seller in batch.sellers
                if (price := seller.price("consumables", pack.list_cents)) is not None
            ] or [("", pack.list_cents)]
            bought = Linear()
            for seller, price in offers:
                column = model.column("n", 0, limit)
                bought.add(Linear({column: pack.holds}))
                shared.deals.append(Deal(column, "pack", pack.consumable, seller, price))
            # what is left over goes on the shelf at its worth, so no more packs than the work needs
            over = None if batch.lost else max(pack.holds - 1, pack.stock)
            model.add(bought.add(needed, -1), 0, over, STRUCTURE)
        for tool, literals in self.tools:
            column = model.column("t")
            shared.deals.append(Deal(column, "tool", tool.tool, "", tool.cents))
            for job, literal in literals:
                model.add(Linear({column: 1}).add(moved(literal, offsets[job]), -1), 0, None, STRUCTURE)
        for house in batch.sellers:
            _parcel(shared, house)

    def sums(self, shared: Shared, offsets: Mapping[str, int], aim: str) -> Linear:
        """The sum of an aim over all jobs with the shared money, to be made small."""
        batch = self.batch
        total = Linear()
        for job in self.programmes:
            total.add(moved(self.own_sum(job, aim), offsets[job]))
        if aim not in ("cash", "cost", "profit"):
            return total
        listed = {(p.job, p.upgrade): p.list_cents for p in batch.parts}
        as_bought = {pack.consumable for pack in batch.packs if pack.in_cost}
        for deal in shared.deals:
            one = Linear({deal.column: 1})
            if deal.kind == "part":
                total.add(one, deal.cents - listed[deal.job, deal.upgrade])
            elif deal.kind == "tool" or aim == "cash" or batch.lost or deal.what in as_bought:
                total.add(one, deal.cents)
        if batch.lost and aim != "cash":
            self._take_off_used(total, offsets)
        for freight in shared.freight.values():
            total.add(freight)
        return total

    def _take_off_used(self, total: Linear, offsets: Mapping[str, int]) -> None:
        """Packs at their whole price already hold what the work lines charged by use: half up per use."""
        packs = {pack.consumable: pack for pack in self.batch.packs}
        for use, literal in self.uses:
            pack = packs[use.consumable]
            if pack.in_cost:
                continue
            worth = (2 * use.millionths * pack.list_cents + pack.holds) // (2 * pack.holds)
            total.add(moved(literal, offsets[use.job]), -worth)

    def limits(self, shared: Shared, offsets: Mapping[str, int]) -> list[Row]:
        """Rows for cash and hours over all jobs."""
        rows = []
        if self.batch.cash is not None:
            rows.append(make_row(self.sums(shared, offsets, "cash"), None, self.batch.cash, "batch:cash"))
        if self.batch.minutes is not None:
            spent = Linear()
            for job, programme in self.programmes.items():
                spent.add(moved(programme.columns.total("minutes"), offsets[job]))
            rows.append(make_row(spent, None, self.batch.minutes, "batch:hours"))
        return rows

    def ask(
        self, aim: str, kept: Sequence[tuple[str, int]]
    ) -> tuple[Outcome, Shared, dict[str, tuple[str, ...]], dict[str, Measure]]:
        """Solve for an aim while earlier aims keep their values, until every set stands its exact measure."""
        while True:
            for job in self.programmes:
                self.own_sum(job, aim)  # an aim may add columns to a job's programme
                self.job_cash(job)
            shared, offsets = self.lay_together()
            model = shared.model
            objective = self.sums(shared, offsets, aim)
            rows = [*model.rows, *self.limits(shared, offsets)]
            rows += [make_row(self.sums(shared, offsets, name), None, most, "stage") for name, most in kept]
            if model.impossible or any(not row.columns and not row.holds({}) for row in rows):
                return Outcome(INFEASIBLE, None, None, None, 0.0, "none"), shared, {}, {}
            rows = [row for row in rows if row.columns]
            left = None if self.deadline is None else self.deadline - time.perf_counter()
            outcome = solve_model(model, rows, objective, self.engine, left)
            self.rounds += 1
            if outcome.values is None:
                return outcome, shared, {}, {}
            chosen, measures, lifted = self.judge(outcome.values, offsets)
            if not lifted:
                return outcome, shared, chosen, measures

    def judge(
        self, values: Sequence[int], offsets: Mapping[str, int]
    ) -> tuple[dict[str, tuple[str, ...]], dict[str, Measure], bool]:
        """The sets in an engine's answer with their exact measures, and whether a cut had to be added."""
        chosen: dict[str, tuple[str, ...]] = {}
        measures: dict[str, Measure] = {}
        lifted = False
        for job, programme in self.programmes.items():
            offset = offsets[job]
            on = tuple(sorted(o for o, c in programme.columns.x.items() if values[c + offset]))
            chosen[job], measures[job] = on, programme.measure(on)
            told = measures[job]
            z = programme.problem.z_minutes
            for what, column in list(programme.lazy.held().items()):
                exact = told.price if what == "price" else told.minutes if what == z else None
                if exact is None or exact <= values[column + offset]:
                    continue
                lifted = True
                if what == "price":
                    programme.lazy.check_bound(told)
                    programme.lazy.cut_price(on, told)
                else:
                    programme.lazy.cut_minutes(z, on, exact)
        return chosen, measures, lifted


def moved(total: Linear, offset: int) -> Linear:
    """A sum in a job's columns as one in the joint model's."""
    return Linear({column + offset: value for column, value in total.terms.items()}, total.constant)


def _parcel(shared: Shared, seller: Seller) -> None:
    """Freight of a seller's parcel: due when anything is bought there, free from a sum on."""
    model = shared.model
    deals = [deal for deal in shared.deals if deal.seller == seller.id]
    if not deals or not seller.freight:
        return
    sent = Linear({model.column("o"): 1})
    for deal in deals:
        most = model.upper[deal.column]
        model.add(sent.times(most).add(Linear({deal.column: 1}), -1), 0, None, STRUCTURE)
    cost = sent.times(seller.freight)
    basket = total_of((Linear({deal.column: 1}), deal.cents) for deal in deals)
    if seller.free_from is not None and model.bounds(basket)[1] >= seller.free_from:
        free = Linear({model.column("g"): 1})
        model.add(sent.copy().add(free, -1), 0, None, STRUCTURE)
        model.add(basket.add(free, -seller.free_from), 0, None, STRUCTURE)
        cost.add(free, -seller.freight)
    shared.freight[seller.id] = cost

"""The linear programme over all sets found so far: what it comes to, and what a bit more of each limit is worth."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from estimator.batch.decomposition.pricing import SCALE, ColumnFigures, Duals, JobClass, PricingProblems
from estimator.choose.milp.linear import LOOSE, STRUCTURE, Linear, Model, Row, make_row
from estimator.choose.solvers.lp_duals import row_duals

SHORT = 200
"""Cents that a cent of cash (a hundredth of a minute) beyond the limit counts, so that there is an answer."""


class RestrictedMaster:
    """Columns for candidates (as many as there are jobs of their kind), packs and tools; rows for what is shared."""

    def __init__(self, pricing: PricingProblems) -> None:
        self.pricing = pricing
        self._figures: dict[tuple[int, tuple[str, ...]], ColumnFigures] = {}

    def _of(self, kind: JobClass, chosen: tuple[str, ...]) -> ColumnFigures:
        key = (kind.number, chosen)
        if key not in self._figures:
            self._figures[key] = self.pricing.figures(kind, kind.set_columns[chosen])
        return self._figures[key]

    def solve(
        self, classes: Sequence[JobClass], cash: int | None, minutes: int | None
    ) -> tuple[float, Duals]:
        """The value in cents with these limits, and the prices at which it stands."""
        pricing, batch = self.pricing, self.pricing.batch
        model = Model()
        rows: list[Row] = []
        aim, spent, worked = Linear(), Linear(), Linear()
        used = {pack.consumable: Linear() for pack in batch.packs}
        needing: dict[tuple[str, int], Linear] = {}

        def column(most: int) -> int:
            return model.column("c", 0, most, LOOSE)

        for kind in classes:
            number = len(kind.jobs)
            taken = Linear()
            for chosen in kind.set_columns:
                it, one = self._of(kind, chosen), column(number)
                taken.add(Linear({one: 1}))
                aim.terms[one], spent.terms[one], worked.terms[one] = it.aim, it.cash, it.minutes
                for consumable, millionths in it.uses.items():
                    used[consumable].terms[one] = millionths
                for tool in it.tools:
                    needing.setdefault((tool, kind.number), Linear()).terms[one] = 1
            least = number if kind.job.buy_for is None else 0
            rows.append(make_row(taken, least, number, STRUCTURE))
        packs, tools = {}, {}
        for pack in batch.packs:
            total = used[pack.consumable]
            bought = column(max(1, -(-sum(map(abs, total.terms.values())) // pack.holds)) * len(batch.jobs))
            cents = pricing.cheapest[pack.consumable]
            aim.terms[bought], spent.terms[bought] = cents * pricing.counts(pack), cents
            total.terms[bought] = -pack.holds
            if len(total.terms) > 1:
                packs[pack.consumable] = len(rows)
                rows.append(Row(tuple(total.terms), tuple(total.terms.values()), None, pack.stock, STRUCTURE))
        for tool_record in batch.tools:
            bought = column(1)
            aim.terms[bought] = spent.terms[bought] = tool_record.least
            for kind in classes:
                needed = needing.get((tool_record.tool, kind.number))
                if needed is not None:
                    needed.terms[bought] = -len(kind.jobs)
                    tools[tool_record.tool, kind.number] = len(rows)
                    rows.append(Row(tuple(needed.terms), tuple(needed.terms.values()), None, 0, STRUCTURE))
        held = {}
        for name, total, limit in (("cash", spent, cash), ("minutes", worked, minutes)):
            if limit is not None:
                # wide enough even where what is held back leaves less than nothing
                short = column(1 + abs(limit) + sum(map(abs, total.terms.values())) * len(batch.jobs))
                aim.terms[short] = SHORT
                total.terms[short] = -1
                held[name] = len(rows)
                rows.append(Row(tuple(total.terms), tuple(total.terms.values()), None, limit, STRUCTURE))
        value, duals = row_duals(model, rows, aim)

        def price(row: int | None) -> Fraction:
            return Fraction(0) if row is None else max(Fraction(0), Fraction(-duals[row])) * SCALE

        return value, Duals(
            int(price(held.get("cash"))),
            int(price(held.get("minutes"))),
            {name: price(row) for name, row in packs.items()},
            {key: int(price(row)) for key, row in tools.items()},
        )

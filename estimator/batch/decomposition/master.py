"""The linear programme over all sets found so far: what it comes to, and what a bit more of each limit is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from estimator.batch.decomposition.pricing import SCALE, ColumnFigures, Duals, JobClass, PricingProblems
from estimator.batch.records import MissingTool, Pack
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
        programme = _Programme(self.pricing)
        for kind in classes:
            programme.add_class(kind, {chosen: self._of(kind, chosen) for chosen in kind.set_columns})
        for pack in self.pricing.batch.packs:
            programme.add_pack(pack)
        for tool in self.pricing.batch.tools:
            programme.add_tool(tool, classes)
        programme.hold("cash", programme.spent, cash)
        programme.hold("minutes", programme.worked, minutes)
        return programme.solved()


class _Programme:
    """One restricted master programme, laid row by row; it remembers which row holds what all share."""

    def __init__(self, pricing: PricingProblems) -> None:
        self.pricing, self.batch = pricing, pricing.batch
        self.model = Model()
        self.rows: list[Row] = []
        self.aim, self.spent, self.worked = Linear(), Linear(), Linear()
        self.used = {pack.consumable: Linear() for pack in self.batch.packs}
        self.needing: dict[tuple[str, int], Linear] = {}
        self.packs: dict[str, int] = {}
        self.tools: dict[tuple[str, int], int] = {}
        self.held: dict[str, int] = {}

    def _column(self, most: int) -> int:
        return self.model.column("c", 0, most, LOOSE)

    def _row(self, total: Linear, most: int) -> int:
        """Hold a sum to ``most``; the number of its row."""
        self.rows.append(Row(tuple(total.terms), tuple(total.terms.values()), None, most, STRUCTURE))
        return len(self.rows) - 1

    def add_class(self, kind: JobClass, sets: Mapping[tuple[str, ...], ColumnFigures]) -> None:
        """A column for each set found for a class of jobs, and the row that each job takes one (or none)."""
        number = len(kind.jobs)
        taken = Linear()
        for figures in sets.values():
            one = self._column(number)
            taken.add(Linear({one: 1}))
            self.aim.terms[one] = figures.aim
            self.spent.terms[one] = figures.cash
            self.worked.terms[one] = figures.minutes
            for consumable, millionths in figures.uses.items():
                self.used[consumable].terms[one] = millionths
            for tool in figures.tools:
                self.needing.setdefault((tool, kind.number), Linear()).terms[one] = 1
        least = number if kind.job.buy_for is None else 0
        self.rows.append(make_row(taken, least, number, STRUCTURE))

    def add_pack(self, pack: Pack) -> None:
        """A column for the packs bought of a consumable; what is used beyond them comes off the stock."""
        total = self.used[pack.consumable]
        fills = -(-sum(map(abs, total.terms.values())) // pack.holds)
        bought = self._column(max(1, fills) * len(self.batch.jobs))
        cents = self.pricing.cheapest[pack.consumable]
        self.aim.terms[bought] = cents * self.pricing.counts(pack)
        self.spent.terms[bought] = cents
        total.terms[bought] = -pack.holds
        if len(total.terms) > 1:
            self.packs[pack.consumable] = self._row(total, pack.stock)

    def add_tool(self, tool: MissingTool, classes: Sequence[JobClass]) -> None:
        """A column for a tool to be bought, and for each class a row: no set that needs it without it."""
        bought = self._column(1)
        self.aim.terms[bought] = self.spent.terms[bought] = tool.least
        for kind in classes:
            needed = self.needing.get((tool.tool, kind.number))
            if needed is not None:
                needed.terms[bought] = -len(kind.jobs)
                self.tools[tool.tool, kind.number] = self._row(needed, 0)

    def hold(self, name: str, total: Linear, limit: int | None) -> None:
        """Hold cash or minutes to a limit, at a penalty for what is beyond it."""
        if limit is None:
            return
        # wide enough for every column at its most, even where what is held back leaves less than nothing
        most = sum(abs(value) * self.model.upper[column] for column, value in total.terms.items())
        short = self._column(1 + abs(limit) + most)
        self.aim.terms[short] = SHORT
        total.terms[short] = -1
        self.held[name] = self._row(total, limit)

    def solved(self) -> tuple[float, Duals]:
        """The least value, and what a unit more of each thing shared is worth."""
        value, duals = row_duals(self.model, self.rows, self.aim)

        def price(row: int | None) -> Fraction:
            return Fraction(0) if row is None else max(Fraction(0), Fraction(-duals[row])) * SCALE

        return value, Duals(
            int(price(self.held.get("cash"))),
            int(price(self.held.get("minutes"))),
            {name: price(row) for name, row in self.packs.items()},
            {key: int(price(row)) for key, row in self.tools.items()},
        )

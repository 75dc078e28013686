"""Sets found for jobs taken one by one, and the joint model over them instead of over programmes."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from estimator.batch.model import COUNT, JointProgramme, Judged
from estimator.batch.purchasing import JointModel
from estimator.batch.records import Batch, JobChoice
from estimator.choose.measure import Measure
from estimator.choose.milp.linear import STRUCTURE, Linear, Model, Row
from estimator.choose.milp.variables import NEVER
from estimator.choose.solvers.solve import DEFAULT
from estimator.core.amounts import Cents
from estimator.core.errors import EngineError


class SetColumn(Struct, frozen=True):
    """A set that keeps all rules of its job, measured exactly; ``profit`` is what its sale leaves, in cents."""

    chosen: tuple[str, ...]
    measure: Measure
    profit: Cents

    def figure(self, aim: str) -> int:
        """What it brings to an aim, to be made small: cents, or hundredths of ``minutes``."""
        match aim:
            case "cost":
                return self.measure.cost
            case "cash":
                return self.measure.cash
            case "minutes":
                return self.measure.expected
            case "profit":
                return -self.profit
        raise EngineError(f"many jobs at once are not chosen for “{aim}”")


class ColumnsChosen:
    """Stands in for a job's programme: one column per candidate set, exactly one of them taken."""

    def __init__(self, job: JobChoice, set_columns: Sequence[SetColumn]) -> None:
        self.problem = job.problem
        self.set_columns = set_columns
        self.model = Model()
        self.ids = [self.model.column("c") for _ in set_columns]
        self.holders: dict[str, list[int]] = {}
        for column, candidate in zip(self.ids, set_columns, strict=True):
            for upgrade in candidate.chosen:
                self.holders.setdefault(upgrade, []).append(column)
        if set_columns:
            self.model.add(Linear(dict.fromkeys(self.ids, 1)), 1, 1, STRUCTURE)
        else:
            self.model.impossible.append(STRUCTURE)

    @property
    def columns(self) -> ColumnsChosen:
        """As those of a programme, which are apart from it."""
        return self

    def rows(self) -> list[Row]:
        """One candidate is taken."""
        return list(self.model.rows)

    def any_of(self, upgrades: Sequence[str]) -> Linear:
        """1 when the candidate taken holds any of the upgrades."""
        held = {column for upgrade in upgrades for column in self.holders.get(upgrade, ())}
        return Linear(dict.fromkeys(sorted(held), 1)) if held else NEVER

    def option(self, upgrade: str) -> Linear:
        """1 when the candidate taken holds the upgrade."""
        return self.any_of((upgrade,))

    def total(self, aim: str) -> Linear:
        """A figure of the candidate taken."""
        return Linear({c: it.figure(aim) for c, it in zip(self.ids, self.set_columns, strict=True)})

    def count(self) -> Linear:
        """The number of upgrades of the candidate taken."""
        return Linear({c: len(it.chosen) for c, it in zip(self.ids, self.set_columns, strict=True)})


class IntegerMaster(JointProgramme):
    """The joint model over candidates instead of programmes."""

    def __init__(
        self, batch: Batch, set_columns: Mapping[str, Sequence[SetColumn]], deadline: float | None
    ) -> None:
        self.programmes = {job.id: ColumnsChosen(job, set_columns[job.id]) for job in batch.jobs}
        # what no candidate asks for needs no columns
        held = {job: chosen.holders for job, chosen in self.programmes.items()}
        self.batch = replace(
            batch,
            parts=tuple(p for p in batch.parts if p.upgrade in held[p.job]),
            uses=tuple(
                u for u in batch.uses if u.triggers is None or not held[u.job].keys().isdisjoint(u.triggers)
            ),
            moved=tuple(m for m in batch.moved if m.upgrade in held[m.to_job]),
        )
        self.engine, self.deadline = DEFAULT, deadline
        self.rounds = 0
        self.build_uses()

    def own_sum(self, job: str, aim: str) -> Linear:
        """What one job brings to an aim."""
        chosen: ColumnsChosen = self.programmes[job]
        return chosen.count() if aim == COUNT else chosen.total(aim)

    def judge(self, values: Sequence[int], built: JointModel, weighed: Collection[int]) -> Judged:
        """The candidates taken; they were measured before, so nothing is left to lift."""
        taken: dict[str, SetColumn] = {}
        for job, chosen in self.programmes.items():
            if job in built.gates and not values[built.gates[job]]:
                continue
            taken[job] = next(
                it
                for c, it in zip(chosen.ids, chosen.set_columns, strict=True)
                if values[c + built.offsets[job]]
            )
        return {j: it.chosen for j, it in taken.items()}, {j: it.measure for j, it in taken.items()}, False

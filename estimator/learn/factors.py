"""Difficulty factors from the shop's own ledger: a hard wire, a board, a finish, against what the tables say of them.

The ratios of a task in jobs with a level (stainless wire) are held against those of the same task in jobs with
another: within a task, so that a shop quick or slow at it says nothing of the wire. The level that most jobs have
stays as it is; each other one gets what is left, by ridge regression on the logarithms: its effect is normal about
the table's factor (0) with ``SPREAD``, times of one job share a cause, times far off their middle are drawn in. A
factor acts on the run alone, so a job counts by the share that the run has in its time. What the factors explain is
taken off the ratios before the times of tasks are learned, so that nothing is learned twice.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from math import exp, fsum, log, sqrt
from statistics import median
from types import MappingProxyType

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.text import count
from estimator.estimate.ways import JOINED
from estimator.learn.evidence import WHOLE, InForce, evidence, log_spread, works_of
from estimator.learn.shrinkage import Task, spread_factor
from estimator.learn.values import Priors, Value
from estimator.ledger.store import Ledger, Row
from estimator.model import Shop

PART = "factors"
#: how far a factor of the shop may lie from the table's (of its logarithm; memory)
SPREAD = 0.2
#: jobs with a level, and with another, below which it is too early to tell (memory)
ENOUGH = 5
#: a time counts no further off the middle of its task than so many spreads of one job (memory)
DAMPED = 2.5
ROUNDS = 30
#: a level is taken over where so many standard deviations leave the table's factor out (19 of 20 times, normal)
SURE = 1.96
HUNDREDTH = Decimal("0.01")
#: least and most that a factor of the tables may be
LEAST, MOST = Decimal("0.05"), Decimal(20)
Cell = tuple[str, str, str]
"""File, row and column of a factor; the parts of a row's key are joined as in the name of a way."""


class FactorLesson(Struct, frozen=True):
    """What the ledger says of factors: the cells, and what they explain.

    ``explained``, by job and task: what of the logarithm of its ratio the factors are the cause of.
    ``of_quotes``, by quote and task: by what its seconds would be multiplied with the factors as they are learned.
    ``standing`` and ``standing_of_quotes`` are the same with the factors as they stand in the tables.
    ``without``: jobs whose quotes keep no factors, though their work has some: they speak of times alone.
    """

    values: tuple[Value, ...] = ()
    explained: Mapping[tuple[str, str], float] = field(default_factory=lambda: MappingProxyType({}))
    of_quotes: Mapping[tuple[str, str], float] = field(default_factory=lambda: MappingProxyType({}))
    standing: Mapping[tuple[str, str], float] = field(default_factory=lambda: MappingProxyType({}))
    standing_of_quotes: Mapping[tuple[str, str], float] = field(default_factory=lambda: MappingProxyType({}))
    without: int = 0

    @property
    def left_out(self) -> FactorLesson:
        """The same where none of them is taken over: what they explain stays in the times."""
        return replace(self, explained=self.standing, of_quotes=self.standing_of_quotes)


class _Time(Struct):
    """One task of one job: the logarithm of its ratio, its spread, and the share of each cell's run in its time."""

    job: str
    task: str
    way: str
    log: float
    spread: float
    shares: dict[Cell, float]
    moved: float


class _Effect(Struct, frozen=True):
    mean: float
    spread: float


def family(cell: Cell) -> tuple[str, ...]:
    """What a level is one of: the factor's code, or the column of a material's table."""
    file, row, column = cell
    return (file, row.partition(JOINED)[0]) if JOINED in row else (file, column)


def factors(ledger: Ledger, shop: Shop) -> FactorLesson:
    """What the finished jobs of a ledger say of every factor that more than one level was met of."""
    kept = _kept(ledger)
    rows = evidence(ledger)
    without = _without(rows, shop, {quote for quote, _ in kept})
    if not kept:
        return FactorLesson(without=without)
    now, priors = _Now(shop), Priors(ledger)
    stands = {cell: value for cell in _cells(kept) if (value := now.of(cell)) is not None}
    before = {cell: priors.of(*cell, value) for cell, value in stands.items()}
    times = _times(rows, ledger, shop, kept, before)
    bases = _bases(times, {cell for cell, value in stands.items() if before[cell] != value})
    if any(before[cell] != stands[cell] for cell in bases):  # the others are held against what stands there
        before |= {cell: stands[cell] for cell in bases}
        times = _times(rows, ledger, shop, kept, before)
    effects = _fit(times, bases, float(shop.terms.shared_cause))
    values = tuple(
        _value(cell, effect, times, before[cell], stands[cell]) for cell, effect in sorted(effects.items())
    )
    sure = {(one.file, one.row, one.column) for one in values if not one.early}
    # what is not to be changed multiplies the next quotes as it stands
    told = {
        cell: effect.mean if cell in sure else log(stands[cell] / before[cell])
        for cell, effect in effects.items()
    }
    stay = {cell: log(stands[cell] / before[cell]) for cell in effects}
    as_is = {cell: float(stands[cell]) for cell in (*bases, *effects)}
    learned = as_is | {(one.file, one.row, one.column): float(one.after) for one in values if not one.early}
    return FactorLesson(
        values,
        _explained(times, told),
        _of_quotes(kept, learned),
        _explained(times, stay),
        _of_quotes(kept, as_is),
        without,
    )


def _explained(times: Sequence[_Time], told: Mapping[Cell, float]) -> dict[tuple[str, str], float]:
    """By job and task what factors are the cause of, where each stands at ``told`` of its logarithm."""
    return {
        (time.job, time.task): time.moved
        + fsum(told.get(cell, 0.0) * share for cell, share in time.shares.items())
        for time in times
    }


def _without(rows: Sequence[Row], shop: Shop, keeping: Collection[str]) -> int:
    """The finished jobs with work that has factors whose quotes keep none of them."""
    works = works_of(shop)
    return len(
        {
            row["job"]
            for row in rows
            if row["quote"] not in keeping and row["way"] in works and works[row["way"]].factors
        }
    )


class _Now:
    """What stands in the cells of a shop's tables."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop

    def of(self, cell: Cell) -> Decimal | None:
        """The factor in a cell; None where the shop has no such row any more."""
        file, row, column = cell
        table = file.removesuffix(".csv")
        if table == "factors":
            code, _, level = row.partition(JOINED)
            found = self._shop.factors.get((code, level))
            return found.factor if found else None
        material = getattr(self._shop, table, {}).get(row)
        value = getattr(material, column, None)
        return value if isinstance(value, Decimal) else None


def _kept(ledger: Ledger) -> dict[tuple[str, str], list[Row]]:
    """By quote and task, the cells that multiplied its times, with the whole seconds of the task."""
    found: dict[tuple[str, str], list[Row]] = {}
    for row in ledger.rows(
        "SELECT quote_factor.*, quote_task.seconds AS whole FROM quote_factor JOIN quote_task"
        " ON quote_task.quote = quote_factor.quote AND quote_task.task = quote_factor.task"
        " WHERE quote_task.seconds > 0 ORDER BY quote_factor.quote, quote_factor.task, file, row, column_"
    ):
        found.setdefault((row["quote"], row["task"]), []).append(row)
    return found


def _cell(row: Row) -> Cell:
    return row["file"], row["row"], row["column_"]


def _cells(kept: Mapping[tuple[str, str], Sequence[Row]]) -> list[Cell]:
    return sorted({_cell(row) for rows in kept.values() for row in rows})


def _times(
    rows: Sequence[Row],
    ledger: Ledger,
    shop: Shop,
    kept: Mapping[tuple[str, str], Sequence[Row]],
    before: Mapping[Cell, Decimal],
) -> list[_Time]:
    """Every time against the factors as they were before anything was learned."""
    works, in_force = works_of(shop), InForce(ledger)
    found = []
    for row in rows:
        cells = [one for one in kept.get((row["quote"], row["task"]), ()) if _cell(one) in before]
        if row["way"] not in works:
            continue
        runs = {
            _cell(one): one["seconds"] * float(before[_cell(one)]) * WHOLE / one["millionths"]
            for one in cells
        }
        whole = row["planned_s"] + fsum(runs[_cell(one)] - one["seconds"] for one in cells)
        if whole <= 0:
            continue
        moved = log(whole / row["planned_s"])
        ratio = log(row["taken_s"] / row["planned_s"] * in_force.at(row["way"], row["at"]))
        found.append(
            _Time(
                row["job"],
                row["task"],
                row["way"],
                ratio - moved,
                log_spread(works[row["way"]]),
                {cell: min(1.0, run / whole) for cell, run in runs.items()},
                moved,
            )
        )
    wider = _spread_seen(found)
    for time in found:
        time.spread *= wider
    return found


def _spread_seen(times: Sequence[_Time]) -> float:
    """The spread of one job's time over the handbook's, among times of a task with the same factors."""
    alike: dict[tuple[str, tuple[Cell, ...]], list[_Time]] = {}
    for time in times:
        alike.setdefault((time.way, tuple(time.shares)), []).append(time)
    groups = {
        str(key): Task("", rows[0].spread, tuple(time.log for time in rows)) for key, rows in alike.items()
    }
    return spread_factor(groups)


def _bases(times: Sequence[_Time], learned: Collection[Cell]) -> set[Cell]:
    """Of each family the level that stays: the one that most jobs have, of those that were not learned before.

    A level that was learned against another stays out of it though it has most jobs by now: the other would be
    learned against it once more, and what lies between them stand in the tables twice.
    """
    members: dict[tuple[str, ...], dict[Cell, set[str]]] = {}
    for time in times:
        for cell in time.shares:
            members.setdefault(family(cell), {}).setdefault(cell, set()).add(time.job)
    return {min(cells, key=lambda one: (one in learned, -len(cells[one]), one)) for cells in members.values()}


def _fit(times: Sequence[_Time], bases: Collection[Cell], shared: float) -> dict[Cell, _Effect]:
    """The effect of every level but those that stay, one after the other until none moves."""
    left = {cell for time in times for cell in time.shares} - set(bases)
    logs = _drawn_in(times)
    effects = dict.fromkeys(sorted(left), _Effect(0.0, SPREAD))
    for _ in range(ROUNDS):
        last = effects
        for cell in effects:
            effects = {**effects, cell: _effect(cell, times, logs, effects, shared)}
        if all(abs(effects[cell].mean - last[cell].mean) < 1e-9 for cell in effects):
            break
    return effects


def _drawn_in(times: Sequence[_Time]) -> list[float]:
    """The logarithms, each no further from the middle of its task than some spreads."""
    by_way: dict[str, list[float]] = {}
    for time in times:
        by_way.setdefault(time.way, []).append(time.log)
    middle = {way: median(logs) for way, logs in by_way.items()}
    return [
        middle[time.way] + max(-DAMPED * time.spread, min(DAMPED * time.spread, time.log - middle[time.way]))
        for time in times
    ]


def _effect(
    cell: Cell, times: Sequence[_Time], logs: Sequence[float], effects: Mapping[Cell, _Effect], shared: float
) -> _Effect:
    """The effect of one level with those of the others held: ridge regression within each task."""
    mine = family(cell)
    by_way: dict[str, list[tuple[float, float, float, str]]] = {}
    for time, value in zip(times, logs, strict=True):
        if any(family(one) == mine for one in time.shares):
            others = fsum(
                effects[one].mean * share
                for one, share in time.shares.items()
                if one in effects and one != cell
            )
            by_way.setdefault(time.way, []).append(
                (time.shares.get(cell, 0.0), value - others, time.spread, time.job)
            )
    above = below = 0.0
    jobs: dict[str, int] = {}
    for rows in by_way.values():
        if len({share > 0 for share, *_ in rows}) < 2:
            continue  # a task that was never done at another level says nothing of this one
        share = fsum(row[0] for row in rows) / len(rows)
        value = fsum(row[1] for row in rows) / len(rows)
        for x, y, spread, job in rows:
            above += (x - share) * (y - value) / spread**2
            below += (x - share) ** 2 / spread**2
            jobs[job] = jobs.get(job, 0) + 1
    # times of one job share a cause: so many tasks of a job say less than so many jobs
    alike = 1 + (fsum(jobs.values()) / len(jobs) - 1) * shared if jobs else 1.0
    precision = below / alike + 1 / SPREAD**2
    return _Effect(above / alike / precision, 1 / sqrt(precision))


def _value(cell: Cell, effect: _Effect, times: Sequence[_Time], prior: Decimal, now: Decimal) -> Value:
    having = {time.job for time in times if cell in time.shares}
    mine = family(cell)
    tasks = {time.task for time in times if cell in time.shares}
    others = {
        time.job
        for time in times
        if time.task in tasks and cell not in time.shares and any(family(one) == mine for one in time.shares)
    }
    low, high = (exp(effect.mean + side * SURE * effect.spread) for side in (-1, 1))
    after = (prior * Decimal(repr(exp(effect.mean)))).quantize(HUNDREDTH, ROUND_HALF_UP)
    words = (
        f"{count(len(having), 'job', 'jobs')} with it, {len(others)} with another;"
        f" {exp(effect.mean):.2f} times the table's, 95 % range {low:.2f} to {high:.2f}"
    )
    # a value taken over earlier is put back to the table's where the ledger bears it out no more
    stays = low <= 1 <= high and low <= now / prior <= high
    early = min(len(having), len(others)) < ENOUGH or stays
    return Value(PART, *cell, prior, now, min(MOST, max(LEAST, after)), len(having), words, early)


def _of_quotes(
    kept: Mapping[tuple[str, str], Sequence[Row]], learned: Mapping[Cell, float]
) -> dict[tuple[str, str], float]:
    return {
        key: 1
        + fsum(
            row["seconds"] / row["whole"] * (learned[_cell(row)] * WHOLE / row["millionths"] - 1)
            for row in rows
            if _cell(row) in learned
        )
        for key, rows in kept.items()
    }

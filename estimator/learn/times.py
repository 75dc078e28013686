"""Task times from the shop's own ledger: the evidence, the levels, what they do to rows and quotes.

Each way to do a task has a level of its own; the usual one bears the name of the task, another that of the way.

A ratio is what a task took by hand in a job, before the job came back if it did, over what its accepted quote
reckoned, without what did again what had gone wrong; where what was learned before stood in that quote, it is taken out again, so that every ratio is
against the handbook's minutes (or the shop's own, typed ones).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from math import log

from msgspec import Struct

from estimator.core.text import count
from estimator.estimate.ways import JOINED
from estimator.learn.evidence import FINISHED, OTHER_WAYS, InForce, evidence, log_spread, works_of
from estimator.learn.factors import FactorLesson, factors
from estimator.learn.shrinkage import Level, Task, levels
from estimator.ledger.store import Ledger, Row
from estimator.model import MEASURED, Shop
from estimator.model import Task as ShopTask

#: with fewer own jobs than this, and fewer than that of its group, a task's level is shown and not taken over
OWN_JOBS, GROUP_JOBS = 3, 12
#: levels nearer to what stands than this are no change
LEAST_CHANGE = 0.02
QUOTES = 10
MINUTES = Decimal("0.01")
FINE = Decimal("0.001")
COLUMNS = ("setup_min", "run_min_low", "run_min_likely", "run_min_high")


class Learned(Struct, frozen=True):
    """A task, or a way to do it: the level that the ledger gives it, the one that stands now, and its times with each.

    ``now`` is by what its times were multiplied before, 1 where nothing was learned of it.
    """

    task: str
    level: Level
    now: float
    before: tuple[Decimal, ...]
    after: tuple[Decimal, ...]

    @property
    def early(self) -> bool:
        """Whether too few jobs speak of it."""
        return self.level.jobs < OWN_JOBS and self.level.of_group < GROUP_JOBS

    @property
    def changes(self) -> bool:
        """Whether its times would move by more than a little."""
        return abs(self.level.factor / self.now - 1) >= LEAST_CHANGE and self.before != self.after

    @property
    def source(self) -> str:
        """What its new times rest on, for the table."""
        return (
            f"own ledger: {count(self.level.jobs, 'job')}, {count(self.level.of_group, 'time')} of its group"
        )


class QuoteEffect(Struct, frozen=True):
    """A quote: the minutes it reckoned, what they would be with the learned levels, what it took (None: not done)."""

    number: str
    job: str
    before: float
    after: float
    taken: float | None


class Lesson(Struct, frozen=True):
    """All that the ledger says of task times; ``unknown``: tasks of it that the shop's table does not have.

    ``factors``: what it says of the factors that multiply them.
    """

    tasks: tuple[Learned, ...]
    quotes: tuple[QuoteEffect, ...]
    jobs: int
    times: int
    unknown: tuple[str, ...]
    factors: FactorLesson

    @property
    def to_accept(self) -> tuple[Learned, ...]:
        """The tasks whose times would be replaced."""
        return tuple(one for one in self.tasks if one.changes and not one.early)


def lesson(ledger: Ledger, shop: Shop, bases: Mapping[str, str], *, with_factors: bool = True) -> Lesson:
    """What the ledger says of the shop's task times; ``bases`` of the rows of tasks and ways.

    Without ``with_factors`` the factors are to stay as they are: the times then hold what these would explain.
    """
    rows, of_factors = evidence(ledger), factors(ledger, shop)
    if not with_factors:
        of_factors = of_factors.left_out
    in_force = InForce(ledger)
    works = works_of(shop)
    logs: dict[str, list[float]] = {name: [] for name in works}
    unknown: dict[str, None] = {}
    for row in rows:
        if row["way"] in logs:
            standing = in_force.at(row["way"], row["at"])
            explained = of_factors.explained.get((row["job"], row["task"]), 0.0)
            logs[row["way"]].append(log(row["taken_s"] / row["planned_s"] * standing) - explained)
        else:
            unknown[row["way"]] = None
    known = {name: Task(task.group, log_spread(task), tuple(logs[name])) for name, task in works.items()}
    found = levels(known, float(shop.terms.shared_cause)) if any(logs.values()) else {}
    learned = tuple(
        _learned(name, works[name], level, in_force.at(name, None) if bases.get(name) == MEASURED else 1.0)
        for name, level in found.items()
        if level.jobs or level.of_group
    )
    return Lesson(
        learned,
        _effects(ledger, {one.task: one.level.factor for one in learned}, in_force, of_factors),
        len({row["job"] for row in rows}),
        sum(map(len, logs.values())),
        tuple(unknown),
        of_factors,
    )


def _learned(name: str, task: ShopTask, level: Level, now: float) -> Learned:
    before = tuple(getattr(task, name) for name in COLUMNS)
    by = Decimal(repr(level.factor / now))
    return Learned(name, level, now, before, tuple(_times(value, by) for value in before))


def _times(value: Decimal, by: Decimal) -> Decimal:
    exact = value * by
    return exact.quantize(MINUTES if exact >= 1 else FINE, ROUND_HALF_UP)


def _effects(
    ledger: Ledger, levels_of: Mapping[str, float], in_force: InForce, of_factors: FactorLesson
) -> tuple[QuoteEffect, ...]:
    """The last quotes with what the levels would make of their minutes."""
    quotes = ledger.rows(
        "SELECT quote.number, quote.job, quote.at, job.state, job.accepted_quote FROM quote"
        " JOIN job ON job.id = quote.job WHERE EXISTS (SELECT 1 FROM quote_task WHERE quote = quote.number)"
        " ORDER BY quote.at DESC, quote.number DESC LIMIT ?",
        (QUOTES,),
    )
    found = []
    for quote in quotes:
        tasks = ledger.rows(
            "SELECT quote_task.task, COALESCE(quote_task.task || ? || quote_way.method, quote_task.task) AS way, seconds"
            f" FROM quote_task {OTHER_WAYS} WHERE quote_task.quote = ?",
            (JOINED, quote["number"]),
        )
        before = sum(row["seconds"] for row in tasks) / 60
        after = sum(
            row["seconds"]
            * (levels_of[row["way"]] / in_force.at(row["way"], quote["at"]) if row["way"] in levels_of else 1)
            * of_factors.of_quotes.get((quote["number"], row["task"]), 1.0)
            for row in tasks
        )
        taken = None
        if quote["state"] in FINISHED and quote["accepted_quote"] == quote["number"]:
            sums: Sequence[Row] = ledger.rows(
                "SELECT COALESCE(SUM(seconds), 0) AS seconds FROM time_taken WHERE job = ? AND kind = 'hands'",
                (quote["job"],),
            )
            taken = sums[0]["seconds"] / 60
        found.append(QuoteEffect(quote["number"], quote["job"], before, after / 60, taken))
    return tuple(found)

"""Task times from the shop's own log: the evidence in the ledger, the levels, what they do to rows and quotes.

Each way to do a task has a level of its own; the usual one bears the name of the task, another that of the way.

A ratio is what a task took by hand in a job, before the job came back if it did, over what its accepted quote
reckoned, without what did again what had gone wrong; where what was learned before stood in that quote, it is taken out again, so that every ratio is
against the handbook's minutes (or the shop's own, typed ones).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from math import log, sqrt

from estimator.estimate.three_point import mean_of, sd_of
from estimator.estimate.ways import JOINED, way_id
from estimator.learn.shrinkage import Level, Task, levels
from estimator.ledger.states import DONE
from estimator.ledger.store import Ledger, Row
from estimator.model import MEASURED, Shop
from estimator.model import Task as ShopTask
from estimator.tables.methods import done_by

#: with fewer own jobs than this, and fewer than that of its group, a task's level is shown and not taken over
OWN_JOBS, GROUP_JOBS = 3, 12
#: levels nearer to what stands than this are no change
LEAST_CHANGE = 0.02
#: the least spread of the logarithm of one job's time
LEAST_SPREAD = 0.1
QUOTES = 10
MINUTES = Decimal("0.01")
FINE = Decimal("0.001")
WHOLE = 1_000_000
COLUMNS = ("setup_min", "run_min_low", "run_min_likely", "run_min_high")
OTHER_WAYS = "LEFT JOIN quote_way ON quote_way.quote = quote_task.quote AND quote_way.task = quote_task.task"
FINISHED = (*DONE, "ready", "told", "listed", "returned")


@dataclass(frozen=True, slots=True)
class Learned:
    """A task, or a way to do it: the level that the log gives it, the one that stands now, and its times with each.

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
        return f"own log: {self.level.jobs} jobs, {self.level.of_group} times of its group"


@dataclass(frozen=True, slots=True)
class QuoteEffect:
    """A quote: the minutes it reckoned, what they would be with the learned levels, what it took (None: not done)."""

    number: str
    job: str
    before: float
    after: float
    taken: float | None


@dataclass(frozen=True, slots=True)
class Lesson:
    """All that the log says of task times; ``unknown``: tasks of the log that the shop's table does not have."""

    tasks: tuple[Learned, ...]
    quotes: tuple[QuoteEffect, ...]
    jobs: int
    times: int
    unknown: tuple[str, ...]

    @property
    def to_accept(self) -> tuple[Learned, ...]:
        """The tasks whose times would be replaced."""
        return tuple(one for one in self.tasks if one.changes and not one.early)


def evidence(ledger: Ledger) -> list[Row]:
    """Per finished job and task: the ``way`` it was reckoned with (the task itself for the usual one), seconds
    reckoned and taken, the quote's moment; first jobs first.
    """
    marks = ", ".join(f":state{number}" for number in range(len(FINISHED)))
    return ledger.rows(
        "WITH back AS (SELECT job, MIN(at) AS at FROM step WHERE state = 'returned' GROUP BY job),"
        " taken AS (SELECT spell.job, spell.task, SUM(spell.seconds) AS seconds FROM time_taken AS spell"
        "  LEFT JOIN back ON back.job = spell.job WHERE spell.kind = 'hands' AND NOT spell.redone"
        "  AND (back.at IS NULL OR spell.at < back.at) GROUP BY spell.job, spell.task)"
        " SELECT job.id AS job, quote_task.task, COALESCE(quote_task.task || :joined || quote_way.method, quote_task.task)"
        " AS way, quote_task.seconds AS planned_s, taken.seconds AS taken_s,"
        " quote.at FROM job JOIN quote ON quote.number = job.accepted_quote"
        " JOIN quote_task ON quote_task.quote = quote.number"
        f" {OTHER_WAYS}"
        " JOIN taken ON taken.job = job.id AND taken.task = quote_task.task"
        f" WHERE job.state IN ({marks}) AND quote_task.seconds > 0 AND taken.seconds > 0"
        " ORDER BY quote.at, job.id, quote_task.task",
        {"joined": JOINED, **{f"state{number}": state for number, state in enumerate(FINISHED)}},
    )


def works_of(shop: Shop) -> dict[str, ShopTask]:
    """Every task as the shop usually does it, by its id, and every other way to do it, by the way's name."""
    found = dict((shop.as_usual or shop).tasks)
    for task, methods in shop.ways.methods.items():
        found |= {
            way_id(task, name): done_by(found[task], it) for name, it in methods.items() if not it.usual
        }
    return found


class InForce:
    """By what the times of each task or way were multiplied at a moment: what was taken over by then and not taken back."""

    def __init__(self, ledger: Ledger) -> None:
        self._by_task: dict[str, list[Row]] = {}
        for row in ledger.rows("SELECT task, millionths, at, taken_back_at FROM learned ORDER BY at, id"):
            self._by_task.setdefault(row["task"], []).append(row)

    def at(self, task: str, moment: str | None) -> float:
        """The factor of a task at a moment as the ledger keeps it; None: now."""
        for row in reversed(self._by_task.get(task, ())):
            begun = moment is None or row["at"] <= moment
            over = row["taken_back_at"] is not None and (moment is None or row["taken_back_at"] <= moment)
            if begun and not over:
                return float(row["millionths"]) / WHOLE
        return 1.0


def log_spread(task: ShopTask) -> float:
    """The handbook's spread of one job's time of a task, of its logarithm."""
    readings = task.run_min_low, task.run_min_likely, task.run_min_high
    mean = mean_of(*readings, task.reading)
    if not mean:
        return LEAST_SPREAD
    share = float(sd_of(readings[0], readings[2], task.reading) / mean)
    return max(LEAST_SPREAD, sqrt(log(1 + share * share)))


def lesson(ledger: Ledger, shop: Shop, bases: Mapping[str, str]) -> Lesson:
    """What the log says of the shop's task times; ``bases`` of the rows of tasks and ways."""
    rows = evidence(ledger)
    in_force = InForce(ledger)
    works = works_of(shop)
    logs: dict[str, list[float]] = {name: [] for name in works}
    unknown: dict[str, None] = {}
    for row in rows:
        if row["way"] in logs:
            standing = in_force.at(row["way"], row["at"])
            logs[row["way"]].append(log(row["taken_s"] / row["planned_s"] * standing))
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
        _effects(ledger, {one.task: one.level.factor for one in learned}, in_force),
        len({row["job"] for row in rows}),
        sum(map(len, logs.values())),
        tuple(unknown),
    )


def _learned(name: str, task: ShopTask, level: Level, now: float) -> Learned:
    before = tuple(getattr(task, name) for name in COLUMNS)
    by = Decimal(repr(level.factor / now))
    return Learned(name, level, now, before, tuple(_times(value, by) for value in before))


def _times(value: Decimal, by: Decimal) -> Decimal:
    exact = value * by
    return exact.quantize(MINUTES if exact >= 1 else FINE, ROUND_HALF_UP)


def _effects(ledger: Ledger, factors: Mapping[str, float], in_force: InForce) -> tuple[QuoteEffect, ...]:
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
            "SELECT COALESCE(quote_task.task || ? || quote_way.method, quote_task.task) AS way, seconds"
            f" FROM quote_task {OTHER_WAYS} WHERE quote_task.quote = ?",
            (JOINED, quote["number"]),
        )
        before = sum(row["seconds"] for row in tasks) / 60
        after = sum(
            row["seconds"]
            * (factors[row["way"]] / in_force.at(row["way"], quote["at"]) if row["way"] in factors else 1)
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

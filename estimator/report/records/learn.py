"""What ``own-shop``, ``learn`` and ``calibrate`` answer."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from estimator.learn.calibrate import Calibration, Held
from estimator.learn.honesty import Bias, Coverage, Honesty
from estimator.learn.on_quotes import QuoteValues
from estimator.learn.own_shop import MenuChange, OwnShop
from estimator.learn.proposal import Taught
from estimator.learn.times import COLUMNS, Learned, Lesson, QuoteEffect
from estimator.learn.values import Value
from estimator.model import Shop
from estimator.report.record import (
    AS_IN_DATA,
    FIGURE,
    MINUTES,
    STAYS,
    UNNAMED,
    Kind,
    Record,
    Teller,
    plain_data,
)
from estimator.tables.cells import plain
from estimator.tables.own import Difference

WRITTEN = Kind("text", plain_data, right=True)
CELL = Kind("as in the table", plain, plain, right=True)
CELLS = Kind("text by column", lambda values: dict(zip(COLUMNS, map(plain, values), strict=True)))


def places(unit: str, number: int, read: str = "") -> Kind:
    """A number with so many places at the most, one or several; ``read``: its format in a table."""

    def data(of: Any) -> object:
        return [round(one, number) for one in of] if isinstance(of, tuple) else round(of, number)

    return Kind(unit, data, lambda of: format(of, read), right=True)


FACTOR, SHARE = places("times", 4), places("share of one", 3, ".0%")
MIN = places("min", 1, ".0f")
ON_MENU = replace(MINUTES, none="not on it")
_difference = Teller[Difference]()
_menu = Teller[MenuChange]()
_own = Teller[OwnShop]()


class Differs(Record[Difference]):
    """What is not as in the default shop."""

    file = _difference.text("table", lambda of: of.file, head="file")
    key = _difference.text("row", lambda of: of.key, head="row")
    column = _difference.text("column", lambda of: of.column, head="column")
    per = _difference.text("what a time or price is counted for; blank: for the whole", lambda of: of.per)
    before = _difference.of(WRITTEN, "in the default shop", lambda of: of.before, head="default")
    after = _difference.of(WRITTEN, "here", lambda of: of.after, head="here")
    basis = _difference.text("on what it rests", lambda of: of.basis)
    source = _difference.text("its source", lambda of: of.source)


class MenuMoved(Record[MenuChange]):
    """A job of the menu before and after."""

    job = _menu.text("job, an id of menu_jobs.csv", lambda of: of.job)
    what = _menu.column("job", lambda of: of.what)
    minutes_before = _menu.of(
        ON_MENU, "hands-on before; none: not on it", lambda of: of.minutes_before, head="min before"
    )
    minutes_after = _menu.of(ON_MENU, "hands-on after", lambda of: of.minutes_after, head="min after")
    price_before = _menu.of(AS_IN_DATA, "price before", lambda of: of.price_before, head="price before")
    price_after = _menu.of(AS_IN_DATA, "price after", lambda of: of.price_after, head="price after")


class OwnShopAnswer(Record[OwnShop]):
    """What ``own-shop`` answers."""

    currency = _own.text("currency", lambda of: of.currency)
    differences = _own.rows(Differs, "what differs", lambda of: of.differences)
    menu = _own.rows(MenuMoved, "jobs of the menu that move", lambda of: of.changes)
    menu_unchanged = _own.whole("how many stay", lambda of: of.same)


class OfLesson(Struct, frozen=True):
    """What is learned of a task, and whether it is proposed."""

    task: Learned
    proposed: bool


def _each(times: Sequence[Decimal]) -> str:
    return f"{plain(times[0])} + {plain(times[2])}"


_task = Teller[OfLesson]()
_effect = Teller[QuoteEffect]()
_lesson = Teller[Lesson]()


class TaskLearned(Record[OfLesson]):
    """What the ledger says of a task's time."""

    task = _task.text("task, an id of tasks.csv", lambda of: of.task.task, head="task")
    was = _task.column("min now: to begin + each", lambda of: _each(of.task.before), FIGURE)
    learned = _task.column("learned", lambda of: _each(of.task.after), FIGURE)
    times = _task.column("x", lambda of: f"{of.task.level.factor / of.task.now:.2f}", FIGURE)
    times_80 = _task.column(
        "80 % range",
        lambda of: f"{of.task.level.low / of.task.now:.2f} to {of.task.level.high / of.task.now:.2f}",
        FIGURE,
    )
    factor = _task.of(FACTOR, "the handbook's time", lambda of: of.task.level.factor)
    range_80 = _task.of(
        FACTOR, "80 of 100 such factors lie between", lambda of: (of.task.level.low, of.task.level.high)
    )
    in_use = _task.of(FACTOR, "the handbook's time, as it is now", lambda of: of.task.now)
    jobs = _task.whole("finished jobs that speak of it", lambda of: of.task.level.jobs, head="jobs")
    times_of_group = _task.whole("times of its group", lambda of: of.task.level.of_group, head="of group")
    own_weight = _task.of(SHARE, "weight of its own times", lambda of: of.task.level.weight, head="weight")
    left_out = _task.whole("times far off, left out", lambda of: of.task.level.left_out)
    too_early = _task.yes("too early to tell", lambda of: of.task.early)
    proposed = _task.yes("--accept takes it over", lambda of: of.proposed)
    before = _task.of(CELLS, "its row now", lambda of: of.task.before)
    after = _task.of(CELLS, "its row with it", lambda of: of.task.after)


class QuoteMoved(Record[QuoteEffect]):
    """What learned times do to a quote."""

    quote = _effect.text("number of the quote", lambda of: of.number, head="quote")
    job = _effect.text("id of the job", lambda of: of.job, head="job")
    minutes_before = _effect.of(MIN, "hands-on as quoted", lambda of: of.before, head="as quoted")
    minutes_after = _effect.of(MIN, "with it", lambda of: of.after, head="with it")
    minutes_taken = _effect.of(MIN, "taken", lambda of: of.taken, head="taken")


class LessonTold(Record[Lesson]):
    """What the ledger says of task times."""

    jobs = _lesson.whole("finished jobs", lambda of: of.jobs)
    times = _lesson.whole("times of them", lambda of: of.times)
    jobs_without_factors = _lesson.whole("jobs whose quotes keep no factors", lambda of: of.factors.without)
    unknown_tasks = _lesson.words("tasks that are in no table", lambda of: of.unknown)
    tasks = _lesson.rows(
        TaskLearned, "what is learned", lambda of: (OfLesson(one, one in of.to_accept) for one in of.tasks)
    )
    quotes = _lesson.rows(QuoteMoved, "what that does to the last quotes", lambda of: of.quotes)


SPREAD = replace(SHARE, none=STAYS)
_bias = Teller[Bias]()
_coverage = Teller[Coverage]()
_honest = Teller[Honesty]()


class BiasTold(Record[Bias]):
    """Estimate against actual."""

    what = _bias.text("jobs, or a task", lambda of: of.what, head="what")
    jobs = _bias.whole("finished jobs", lambda of: of.jobs, head="jobs")
    taken_over_reckoned = _bias.of(
        places("times", 3, ".2f"), "taken over reckoned", lambda of: of.bias, head="taken / reckoned"
    )
    spread = _bias.of(SHARE, "spread of that", lambda of: of.spread)
    known_spread = _bias.column("spread", lambda of: of.spread if of.jobs > 1 else None, SPREAD)
    spread_reckoned = _bias.of(
        SPREAD, "spread that was reckoned", lambda of: of.reckoned_spread, head="spread reckoned"
    )
    too_early = _bias.yes("too early to tell", lambda of: of.early)


class CoverageTold(Record[Coverage]):
    """How many jobs stayed within a point."""

    percent = _coverage.whole("the point", lambda of: of.percent)
    with_learned_times = _coverage.yes("with the learned times; else as quoted", lambda of: of.with_learned)
    jobs = _coverage.whole("finished jobs", lambda of: of.jobs)
    within = _coverage.whole("of them within it", lambda of: of.within)
    too_early = _coverage.yes("too early to tell", lambda of: of.early)


class CauseTold(Record[Honesty]):
    """What jobs have in common."""

    in_use = _honest.of(CELL, "as it is", lambda of: of.cause_now)
    measured = _honest.of(CELL, "as the coverage says", lambda of: of.cause)
    proposed = _honest.yes("--accept takes it over", lambda of: bool(of.settings))


class HonestyTold(Record[Honesty]):
    """Bias, spread and coverage."""

    jobs = _honest.rows(BiasTold, "all jobs together", lambda of: (of.whole,) if of.whole else ())
    jobs_with_times_missing = _honest.whole("jobs that do not count", lambda of: of.incomplete)
    tasks = _honest.rows(BiasTold, "each task", lambda of: of.tasks)
    coverage = _honest.rows(CoverageTold, "how many stayed within their points", lambda of: of.coverage)
    shared_cause = _honest.one(CauseTold, "the setting that follows", lambda of: of)


_value = Teller[Value]()
ODDS = Kind("number", float, plain, right=True)
_on_quote = Teller[QuoteValues]()
_taught = Teller[Taught]()


class ValueLearned(Record[Value]):
    """A single value learned."""

    part = _value.text("factors, rework, prices, sales or waits", lambda of: of.part)
    file = _value.text("table", lambda of: of.file)
    row = _value.text("row", lambda of: of.row, head="row")
    column = _value.text("column", lambda of: of.column, head="column")
    prior = _value.of(CELL, "in the default shop", lambda of: of.prior)
    before = _value.of(CELL, "as it is", lambda of: of.before, head="now")
    after = _value.of(CELL, "with it", lambda of: of.after, head="learned")
    number = _value.of(Kind("number", plain_data), "how much speaks of it", lambda of: of.number)
    evidence = _value.text("that in words", lambda of: of.words, head="evidence")
    too_early = _value.yes("too early to tell", lambda of: of.early)
    proposed = _value.yes("--accept takes it over", lambda of: of.proposed)


class ValuesOnQuote(Record[QuoteValues]):
    """What learned values do to a quote."""

    quote = _on_quote.text("number of the quote", lambda of: of.number, head="quote")
    job = _on_quote.text("id of the job", lambda of: of.job, head="job")
    materials = _on_quote.of(AS_IN_DATA, "materials at cost", lambda of: of.materials, head="materials")
    materials_learned = _on_quote.of(AS_IN_DATA, "with it", lambda of: of.materials_learned, head="with it")
    gone_wrong = _on_quote.of(ODDS, "things that go wrong on average", lambda of: of.wrong, head="go wrong")
    gone_wrong_learned = _on_quote.of(ODDS, "with it", lambda of: of.wrong_learned, head="with it")


class TaughtTold(Record[Taught]):
    """All that the ledger teaches."""

    lesson = _taught.joined(LessonTold, lambda of: of.lesson)
    honesty = _taught.one(HonestyTold, "estimate against actual", lambda of: of.honest)
    values = _taught.rows(ValueLearned, "single values", lambda of: of.values)
    values_on_quotes = _taught.rows(ValuesOnQuote, "what they do to the last quotes", lambda of: of.on_quotes)


_learn = Teller[tuple[Taught, Sequence[Path]]]()


class LearnAnswer(Record[tuple[Taught, Sequence[Path]]]):
    """What ``learn`` answers."""

    taught = _learn.joined(TaughtTold, lambda of: of[0])
    written = _learn.words("tables that were written", lambda of: map(str, of[1]))


class Fitted(Struct, frozen=True):
    """A fit to a menu, and the tables that were written."""

    found: Calibration
    shop: Shop
    written: Sequence[Path]


_held = Teller[tuple[Held, str]]()
_fitted = Teller[Fitted]()
HUNDREDTHS = Kind(
    "money or min", lambda of: of / 100, lambda of: f"{Decimal(of) / 100:.2f}", right=True, none=STAYS
)


class EntryTold(Record[tuple[Held, str]]):
    """An entry of the own menu beside the tables."""

    job = _held.text("job, an id of menu_jobs.csv", lambda of: of[0].entry.job)
    what = _held.column("job", lambda of: of[0].what)
    unit = _held.text("min or the currency", lambda of: of[1], head=UNNAMED)
    own = _held.of(HUNDREDTHS, "on the own menu", lambda of: of[0].wanted, head="yours")
    before = _held.of(HUNDREDTHS, "by the tables", lambda of: of[0].before, head="tables")
    after = _held.of(HUNDREDTHS, "by the fit", lambda of: of[0].after, head="fitted")
    earns_an_hour_before = _held.of(
        HUNDREDTHS, "what its price earns", lambda of: of[0].earns_before, head="earns an hour, tables"
    )
    earns_an_hour_after = _held.of(HUNDREDTHS, "by the fit", lambda of: of[0].earns_after, head="fitted")
    cannot_hold = _held.yes("price and work cannot both hold", lambda of: of[0].clashes)


class ChargeTold(Record[Calibration]):
    """What is charged for an hour."""

    before = Teller[Calibration]().of(CELL, "as it is", lambda of: of.charge_before)
    after = Teller[Calibration]().of(CELL, "by the fit", lambda of: of.charge)


class CalibrateAnswer(Record[Fitted]):
    """What ``calibrate`` answers."""

    currency = _fitted.text("currency", lambda of: of.shop.terms.currency)
    charge_per_hour = _fitted.one(ChargeTold, "charge of an hour", lambda of: of.found)
    groups = _fitted.of(
        Kind("times by group", lambda of: {name: round(factor, 4) for name, factor in of.items()}),
        "minutes of groups of tasks",
        lambda of: of.found.groups,
    )
    at_the_end_of_their_range = _fitted.words("what may move no further", lambda of: of.found.at_end)
    menu = _fitted.rows(
        EntryTold, "each entry", lambda of: ((one, unit_of(one, of.shop)) for one in of.found.held)
    )
    written = _fitted.words("tables that were written", lambda of: map(str, of.written))


def unit_of(one: Held, shop: Shop) -> str:
    """Whether an entry is a price or minutes."""
    return "min" if one.entry.price is None else shop.terms.currency

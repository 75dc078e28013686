"""A shop's own numbers for the command line: text."""

from __future__ import annotations

from estimator.core.text import count
from estimator.learn.calibrate import CHARGE_ENDS, CLASH, GROUP_ENDS, Calibration
from estimator.learn.honesty import Honesty, jobs_needed
from estimator.learn.own_shop import OwnShop
from estimator.learn.times import Lesson
from estimator.model import OWN, Shop
from estimator.report.record import table_of
from estimator.report.records.learn import (
    BiasTold,
    Differs,
    EntryTold,
    MenuMoved,
    OfLesson,
    QuoteMoved,
    TaskLearned,
    unit_of,
)
from estimator.report.text.terminal import put, show_table
from estimator.report.text.told import TERMINAL, Out
from estimator.tables.cells import plain
from estimator.tables.own import Difference


def show_own_shop(own: OwnShop) -> None:
    """Every difference, then the menu."""
    sources = list(dict.fromkeys(one.source for one in own.differences if one.source))

    def rests_on(one: Difference) -> str:
        counted = f", per {one.per}" if one.per and one.basis == OWN else ""  # what was fitted knows it
        return one.basis + (f" ({sources.index(one.source) + 1})" if one.source else "") + counted

    if own.differences:
        show_table(
            "What is not as in the default shop",
            *table_of(Differs, own.differences, last=("basis", rests_on)),
        )
        put(*(f"({number}) {source}" for number, source in enumerate(sources, start=1)))
    else:
        put("Nothing differs from the default shop.")
    if own.changes:
        show_table(
            f"What that does to the menu (minutes hands-on, {own.currency} without parts)",
            *table_of(MenuMoved, own.changes),
        )
    put(
        f"{count(own.same, 'job')} of the menu {'stays as it was' if own.same == 1 else 'stay as they were'}."
    )


# ------------------------------------------------------------------------------------ from the ledger


def show_lesson(found: Lesson, out: Out = TERMINAL) -> None:
    """Before, after and evidence of every task that the ledger speaks of; what it does to the last quotes."""
    rows = [one for one in found.tasks if one.level.jobs or one in found.to_accept]
    if rows:
        out.table(
            f"Task times from {count(found.jobs, 'finished job')} ({count(found.times, 'time')})",
            *table_of(
                TaskLearned, [OfLesson(one, one in found.to_accept) for one in rows], last=("", _remark)
            ),
        )
    else:
        out.say(["The ledger says nothing of task times yet: no finished job has both a quote and times."])
    if found.quotes and rows:
        out.table(
            "What that does to the last quotes (minutes hands-on)",
            *table_of(QuoteMoved, found.quotes),
        )
    if found.factors.without:
        many = count(found.factors.without, "job", "jobs")
        out.say([f"The quotes of {many} keep no difficulty factors: they speak of times alone."])
    if found.unknown:
        out.say([f"Not in the table of tasks, so left out: {', '.join(found.unknown)}."])


def _remark(of: OfLesson) -> str:
    one, words = of.task, []
    if one.early:
        words.append("too early to tell")
    elif not one.changes:
        words.append("stays")
    if one.level.left_out:
        words.append(f"{one.level.left_out} far off, left out")
    return "; ".join(words)


def show_honesty(found: Honesty, out: Out = TERMINAL) -> None:
    """Estimate against actual: bias and spread, coverage of the points, the correction that follows."""
    rows = [*([found.whole] if found.whole else []), *found.tasks]
    if not rows:
        return
    out.table(
        "Estimate against actual",
        *table_of(BiasTold, rows, last=("", lambda of: "too early to tell" if of.early else "")),
    )
    out.say([*_coverage_words(found), *_cause_words(found)])


def _coverage_words(found: Honesty) -> list[str]:
    words = []
    for one in found.coverage:
        how = "with the learned times" if one.with_learned else "as quoted"
        early = (
            f" (too early to tell: it takes {count(jobs_needed(one.percent), 'job')})" if one.early else ""
        )
        words.append(
            f"Within the {one.percent} % point, {how}: {one.within} of {count(one.jobs, 'job')}{early}."
        )
    if found.incomplete:
        words.append(
            "Not counted here, with no times for more than a tenth of the quote: "
            f"{count(found.incomplete, 'job')}."
        )
    return words


def _cause_words(found: Honesty) -> list[str]:
    if found.cause is None:
        return []
    kept = "" if found.settings else "; that is no change"
    return [
        f"For 80 of 100 jobs to stay within their 80 % point, shared_cause is {plain(found.cause)} "
        f"(in use: {plain(found.cause_now)}){kept}."
    ]


# ------------------------------------------------------------------------------------ to the own menu


def show_calibration(found: Calibration, shop: Shop, out: Out = TERMINAL) -> None:
    """Every entry with what the tables give and what its price earns, then what moves and what cannot hold."""
    out.table(
        "Your menu beside the tables (prices without parts)",
        *table_of(
            EntryTold,
            [(one, unit_of(one, shop)) for one in found.held],
            last=("", lambda of: "cannot hold" if of[0].clashes else ""),
        ),
    )
    moved = ", ".join(f"{name} x {factor:.2f}" for name, factor in found.moved.items()) or "none"
    words = [
        f"Charged for an hour: {plain(found.charge_before)} before, {plain(found.charge)} fitted "
        f"(may move from x {CHARGE_ENDS[0]} to x {CHARGE_ENDS[1]}).",
        f"Minutes of groups of tasks: {moved} (from x {GROUP_ENDS[0]} to x {GROUP_ENDS[1]}); the least change is taken.",
    ]
    if found.at_end:
        words.append(f"At the end of what may move: {', '.join(found.at_end)}.")
    if found.clashes:
        names = ", ".join(one.what for one in found.clashes)
        words.append(
            f"Menu and work cannot both hold, more than {CLASH:.0%} apart: {names}. Such a price pays another hour "
            "than the rest: ask more for it, do less of it, or find what makes it quicker."
        )
    if all(one.entry.price is not None for one in found.held):
        words.append(
            "From prices alone a dear hour and slow work look alike: add the minutes of a job or two."
        )
    out.say(words)

"""A shop's own numbers for the command line: text and data."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from estimator.core.money import money_text
from estimator.learn.own_shop import MenuChange, OwnShop
from estimator.learn.times import COLUMNS, Learned, Lesson
from estimator.report.text.money import Data, say
from estimator.report.text.terminal import show_table
from estimator.tables.cells import plain


def own_shop_data(own: OwnShop) -> Data:
    """The object that ``own-shop --json`` prints."""
    return {
        "currency": own.currency,
        "differences": [
            {
                "file": one.file,
                "key": one.key,
                "column": one.column,
                "before": one.before,
                "after": one.after,
                "basis": one.basis,
                "source": one.source,
            }
            for one in own.differences
        ],
        **menu_data(own.changes, own.same),
    }


def menu_data(changes: Sequence[MenuChange], same: int) -> Data:
    """Jobs of the menu before and after."""
    return {
        "menu": [
            {
                "job": row.job,
                "minutes_before": _hundredths(row.minutes_before),
                "minutes_after": _hundredths(row.minutes_after),
                "price_before": None if row.price_before is None else money_text(row.price_before),
                "price_after": None if row.price_after is None else money_text(row.price_after),
            }
            for row in changes
        ],
        "menu_unchanged": same,
    }


def _hundredths(minutes: int | None) -> float | None:
    return None if minutes is None else minutes / 100


def show_own_shop(own: OwnShop) -> None:
    """Every difference, then the menu."""
    if own.differences:
        show_table(
            "What is not as in the default shop",
            ("file", "row", "column", "default", "here", "basis"),
            [
                (
                    one.file,
                    one.key,
                    one.column,
                    one.before,
                    one.after,
                    one.basis + (f": {one.source}" if one.source else ""),
                )
                for one in own.differences
            ],
            right=(3, 4),
        )
    else:
        say(["Nothing differs from the default shop."])
    show_menu_changes(own.changes, own.same, own.currency)


def show_menu_changes(changes: Sequence[MenuChange], same: int, currency: str) -> None:
    """The menu before and after, for the jobs that move."""
    if changes:
        show_table(
            f"What that does to the menu (minutes hands-on, {currency} without parts)",
            ("job", "min before", "min after", "price before", "price after"),
            [
                (
                    row.what,
                    _minutes(row.minutes_before),
                    _minutes(row.minutes_after),
                    _money(row.price_before),
                    _money(row.price_after),
                )
                for row in changes
            ],
            right=(1, 2, 3, 4),
        )
    say([f"{same} jobs of the menu stay as they were."])


def _minutes(hundredths: int | None) -> str:
    return "not on it" if hundredths is None else f"{hundredths / 100:.0f}"


def _money(cents: int | None) -> str:
    return "" if cents is None else money_text(cents)


# ------------------------------------------------------------------------------------ from the log


def lesson_data(found: Lesson) -> Data:
    """The object that ``learn --json`` prints."""
    return {
        "jobs": found.jobs,
        "times": found.times,
        "unknown_tasks": list(found.unknown),
        "tasks": [
            {
                "task": one.task,
                "factor": round(one.level.factor, 4),
                "range_80": [round(one.level.low, 4), round(one.level.high, 4)],
                "in_use": round(one.now, 4),
                "jobs": one.level.jobs,
                "times_of_group": one.level.of_group,
                "own_weight": round(one.level.weight, 3),
                "left_out": one.level.left_out,
                "too_early": one.early,
                "proposed": one in found.to_accept,
                "before": dict(zip(COLUMNS, map(plain, one.before), strict=True)),
                "after": dict(zip(COLUMNS, map(plain, one.after), strict=True)),
            }
            for one in found.tasks
        ],
        "quotes": [
            {
                "quote": one.number,
                "job": one.job,
                "minutes_before": round(one.before, 1),
                "minutes_after": round(one.after, 1),
                "minutes_taken": None if one.taken is None else round(one.taken, 1),
            }
            for one in found.quotes
        ],
    }


def show_lesson(found: Lesson) -> None:
    """Before, after and evidence of every task that the log speaks of; what it does to the last quotes."""
    rows = [one for one in found.tasks if one.level.jobs or one in found.to_accept]
    if rows:
        show_table(
            f"Task times from {found.jobs} finished jobs ({found.times} times)",
            ("task", "min each, now", "learned", "x", "80 % range", "jobs", "of group", "weight", ""),
            [
                (
                    one.task,
                    _each(one.before),
                    _each(one.after),
                    f"{one.level.factor / one.now:.2f}",
                    f"{one.level.low / one.now:.2f} to {one.level.high / one.now:.2f}",
                    str(one.level.jobs),
                    str(one.level.of_group),
                    f"{one.level.weight:.0%}",
                    _remark(one),
                )
                for one in rows
            ],
            right=(1, 2, 3, 4, 5, 6, 7),
        )
    else:
        say(["The log says nothing of task times yet: no finished job has both a quote and times."])
    if found.quotes and rows:
        show_table(
            "What that does to the last quotes (minutes hands-on)",
            ("quote", "job", "as quoted", "with it", "taken"),
            [
                (
                    one.number,
                    one.job,
                    f"{one.before:.0f}",
                    f"{one.after:.0f}",
                    "" if one.taken is None else f"{one.taken:.0f}",
                )
                for one in found.quotes
            ],
            right=(2, 3, 4),
        )
    if found.unknown:
        say([f"Not in the table of tasks, so left out: {', '.join(found.unknown)}."])


def _each(times: Sequence[Decimal]) -> str:
    return f"{plain(times[0])} + {plain(times[2])}"


def _remark(one: Learned) -> str:
    words = []
    if one.early:
        words.append("too early to tell")
    elif not one.changes:
        words.append("stays")
    if one.level.left_out:
        words.append(f"{one.level.left_out} far off, left out")
    return "; ".join(words)

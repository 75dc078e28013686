"""Single values learned from the ledger, for the command line: text."""

from __future__ import annotations

from estimator.core.money import money_text
from estimator.learn.proposal import Taught
from estimator.learn.values import Value
from estimator.report.text.told import TERMINAL, Out
from estimator.tables.cells import plain

TITLES = {
    "factors": "Difficulty factors (from tasks at one level against the same tasks at another)",
    "rework": "Odds that work goes wrong, in % (from what was recorded as done again)",
    "prices": "Prices from what was bought",
    "sales": "Days to sell, against a fair local price (from what was listed and sold)",
    "waits": "Waits in minutes (from cures that were begun and ended)",
}


def show_values(taught: Taught, out: Out = TERMINAL) -> None:
    """A table of each part of which the ledger says something, and what prices and odds do to the last quotes."""
    for part, title in TITLES.items():
        rows = [one for one in taught.values if one.part == part]
        if rows:
            out.table(
                title,
                ("row", "column", "now", "learned", "evidence", ""),
                [
                    (one.row, one.column, plain(one.before), plain(one.after), one.words, _remark(one))
                    for one in rows
                ],
                right=(2, 3),
            )
    if changed := [one for one in taught.on_quotes if one.changes]:
        out.table(
            "What prices and odds do to the last quotes (materials at cost; things that go wrong on average)",
            ("quote", "job", "materials", "with it", "go wrong", "with it"),
            [
                (
                    one.number,
                    one.job,
                    money_text(one.materials),
                    money_text(one.materials_learned),
                    plain(one.wrong),
                    plain(one.wrong_learned),
                )
                for one in changed
            ],
            right=(2, 3, 4, 5),
        )


def _remark(one: Value) -> str:
    if one.early:
        return "too early to tell"
    return "" if one.changes else "stays"

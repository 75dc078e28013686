"""Single values learned from the ledger, for the command line: text."""

from __future__ import annotations

from estimator.learn.proposal import Taught
from estimator.learn.values import Value
from estimator.report.record import table_of
from estimator.report.records.learn import ValueLearned, ValuesOnQuote
from estimator.report.text.told import TERMINAL, Out

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
            out.table(title, *table_of(ValueLearned, rows, last=("", _remark)))
    if changed := [one for one in taught.on_quotes if one.changes]:
        out.table(
            "What prices and odds do to the last quotes (materials at cost; things that go wrong on average)",
            *table_of(ValuesOnQuote, changed),
        )


def _remark(one: Value) -> str:
    if one.early:
        return "too early to tell"
    return "" if one.changes else "stays"

"""Single values learned from the ledger, for the command line: text and data."""

from __future__ import annotations

from collections.abc import Sequence

from estimator.learn.values import Value
from estimator.report.text.money import Data
from estimator.report.text.told import TERMINAL, Out
from estimator.tables.cells import plain

TITLES = {
    "rework": "Odds that work goes wrong, in % (from what was recorded as done again)",
    "prices": "Prices from what was bought",
    "sales": "Days to sell, against a fair local price (from what was listed and sold)",
    "waits": "Waits in minutes (from cures that were begun and ended)",
}


def values_data(values: Sequence[Value]) -> Data:
    """The values as data."""
    return {
        "values": [
            {
                "part": one.part,
                "file": one.file,
                "row": one.row,
                "column": one.column,
                "prior": plain(one.prior),
                "before": plain(one.before),
                "after": plain(one.after),
                "number": one.number,
                "evidence": one.words,
                "too_early": one.early,
                "proposed": one.proposed,
            }
            for one in values
        ]
    }


def show_values(values: Sequence[Value], out: Out = TERMINAL) -> None:
    """A table of each part of which the ledger says something."""
    for part, title in TITLES.items():
        rows = [one for one in values if one.part == part]
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


def _remark(one: Value) -> str:
    if one.early:
        return "too early to tell"
    return "" if one.changes else "stays"

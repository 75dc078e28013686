"""Every figure of a row of the ledger is told, by what the type of its field says that it counts."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterator
from inspect import get_annotations
from typing import Any, get_args

import pytest
from msgspec import Struct

from estimator.core.amounts import Cents, Millionths
from estimator.ledger import records
from estimator.ledger.records import BoardRow, StockMoved
from estimator.report.record import MONEY, Figure, Record, as_data, keys_of
from estimator.report.records import books

UNITS = {"Cents": MONEY.unit, "Millionths": books.QUANTITY.unit, "Seconds": books.SECONDS.unit}
ROWS = [
    one
    for one in vars(records).values()
    if isinstance(one, type) and issubclass(one, Struct) and one.__module__ == records.__name__
]
INSIDE = {records.StockRow, records.Dated, records.Running, records.JobKept, records.JobRow}
"""Rows that are told as part of a longer one alone."""


def told_of(row: type[Struct]) -> Iterator[type[Record[Any]]]:
    """The records that tell a row."""
    for one in vars(books).values():
        if isinstance(one, type) and issubclass(one, Record):
            # one that adds to another record tells the same rows
            bases = (base for kind in one.__mro__ for base in vars(kind).get("__orig_bases__", ()))
            sources = [get_args(base) for base in bases]
            if (row,) in sources:
                yield one


def field_of(figure: Figure[Any, Any], row: Struct) -> str | None:
    """The field that a figure tells; None where it is none as it stands."""
    if figure.holds is not None:  # rows within it, which a number is not
        return figure.name
    value = figure.value(row)
    return next((name for name in row.__struct_fields__ if getattr(row, name) == value), None)


@pytest.mark.parametrize("row", [one for one in ROWS if one not in INSIDE])
def test_every_field_is_told_and_by_its_unit(row: type[Struct]) -> None:
    kinds = ChainMap(*map(get_annotations, row.__mro__[:-1]))
    filled = row(**{name: 1000 + number for number, name in enumerate(row.__struct_fields__)})
    figures = [one for record in told_of(row) for one in keys_of(record)]
    # what a row works out of its fields is told beside them
    worked_out = [one for one in figures if isinstance(getattr(row, one.name, None), property)]
    assert [one.value(filled) for one in worked_out] == [getattr(filled, one.name) for one in worked_out]
    told = [(field_of(one, filled), one) for one in figures if one not in worked_out]
    assert {field for field, _ in told} == set(row.__struct_fields__)
    for field, figure in told:
        amount = str(kinds[str(field)]).removesuffix(" | None")
        assert amount not in UNITS or figure.kind.unit == UNITS[amount], (field, figure.name)
        assert amount in UNITS or figure.kind.unit not in UNITS.values(), (field, figure.name)


def test_what_work_used_is_told_by_the_units_of_its_rows() -> None:
    moves = [StockMoved("glue", "used", Millionths(-500_000), Millionths(2_500_000))]
    stock = books.FromStock(moves, {"oil": Millionths(1)})
    assert as_data(books.UsedTold(books.UsedNow("blue", "plug-holes", stock))) == {
        "job": "blue",
        "task": "plug-holes",
        "used": [{"item": "glue", "kind": "used", "change": "-0.5", "left": "2.5"}],
        "proposed": [{"item": "oil", "quantity": "0.000001"}],
    }


def test_what_does_not_hold_of_a_job_is_left_out() -> None:
    open_ = BoardRow("blue", "set-up", "commission", "in", None, "USD", "A. Customer", "2026-10-05")
    assert as_data(books.OpenJob(open_)).keys().isdisjoint({"stored_days", "storage", "owed"})
    told = BoardRow(*(getattr(open_, name) for name in open_.__struct_fields__[:8]), 0, Cents(0))
    found = as_data(books.OpenJob(told))
    assert (found["stored_days"], found["storage"]) == (0, "0.00")
    owed = as_data(books.OwedJob(open_))
    assert owed["owed"] is None

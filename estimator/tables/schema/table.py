"""What a table is, and how its columns come from the fields of a record."""

from __future__ import annotations

from msgspec import Struct

from estimator.model import BASES
from estimator.model import column as col
from estimator.model.column import Column, keys_of

BASIS = col.several(
    basis=col.choice("where the numbers of the row come from", *BASES),
    source=col.text("the publication; required where the basis is published", ""),
)

THREE_POINTS = (
    ("run_min_low", "run_min_likely", "run_min_high"),
    ("wait_fast_min", "wait_usual_min", "wait_safe_min"),
    ("price_low", "price", "price_high"),
)
"""Columns of one row in which the middle number lies between the two others."""


class TableSpec(Struct, frozen=True):
    """One table: its file, what a row is, the columns that make a row unique, and its columns."""

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def file(self) -> str:
        """The name of its file in a shop folder."""
        return f"{self.name}.csv"


def table(
    name: str,
    meaning: str,
    key: str,
    record: type | None = None,
    /,
    *,
    without: tuple[str, ...] = (),
    **columns: Column,
) -> TableSpec:
    """A table of the columns that a record's fields declare, but for those ``without``.

    Columns named here stand in the place of those of the same name, else before them; ``key`` are names parted
    by blanks.
    """
    all_columns = keys_of(record) if record is not None else ()
    declared = {column.name: column for column in all_columns if column.name not in without}
    named = {column.name: column for column in col.several(**columns)}
    first = {name: column for name, column in named.items() if name not in declared}
    return TableSpec(name, meaning, tuple(key.split()), (*{**first, **declared, **named}.values(), *BASIS))

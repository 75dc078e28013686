"""The columns of a sheet, each declared once: head, width, how its cells look, what is reckoned in them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from enum import IntEnum
from typing import Any, Self, TypeVar

from msgspec import Struct

from estimator.core.cell_text import Value, a1
from estimator.workbook.write.cells import Book, Sheet

LEFT = frozenset({"text", "wrap", "top", "soft", "soft-wrap", "count"})
"""Styles whose heads stand at the left."""


class Column(Struct, frozen=True):
    """A column: its head, width in characters, style of its cells.

    ``formula``: what its cells reckon, the cells of their row by the names of the columns, ``{QUANTITY}``;
    ``most``: they may be changed, from zero to so much; ``named``: what the column is called in formulas;
    ``look``: laid over the style.
    """

    head: str
    width: float
    style: str = "soft"
    formula: str = ""
    most: int | None = None
    named: str = ""
    look: Mapping[str, Any] | None = None

    @property
    def side(self) -> str:
        """Where the head stands: as the cells do."""
        indented = self.look is not None and "indent" in self.look
        return "indent" if indented else "left" if self.style in LEFT else "right"


class Columns(IntEnum):
    """Columns from the left; a sheet lists its own as ``NAME = Column(...)``."""

    of: Column

    def __new__(cls, of: Column) -> Self:  # noqa: D102
        column = int.__new__(cls, len(cls.__members__))
        column._value_ = len(cls.__members__)
        column.of = of
        return column

    @classmethod
    def widths(cls) -> tuple[float, ...]:
        """The widths of all columns, in characters."""
        return tuple(column.of.width for column in cls)


Mine = TypeVar("Mine", bound=Columns)


def write_heads(sheet: Sheet, row: int, heads: Iterable[Mine] | Mapping[Mine, str]) -> None:
    """The heads of columns in one row; a mapping gives other words than the columns have."""
    told = heads if isinstance(heads, Mapping) else {column: column.of.head for column in heads}
    for column, words in told.items():
        sheet.head(row, column, words, column.of.side)


def write_row(sheet: Sheet, at: int, values: Mapping[Mine, Value | tuple[str, Value]]) -> None:
    """The cells of a row, each as its column is declared; a pair brings a formula of this row alone.

    Text is text also in a column of figures.
    """
    cells = {column.name: a1(at, column) for column in type(next(iter(values)))}
    for column, value in values.items():
        of, more = column.of, column.of.look or {}
        formula, value = value if isinstance(value, tuple) else (of.formula, value)
        if formula:
            sheet.formula(at, column, formula.format_map(cells), value, of.style, **more)
        elif isinstance(value, str):
            sheet.text(at, column, value, of.style, **more)
        elif of.most is not None:
            sheet.input(at, column, value, of.style, Decimal(0), Decimal(of.most), **more)
        else:
            sheet.number(at, column, value, of.style, **more)


def name_columns(
    book: Book, sheet: Sheet, prefix: str, first: int, last: int, columns: Iterable[Columns]
) -> None:
    """Name the rows from ``first`` to ``last`` of every column that has a name in formulas."""
    for column in columns:
        if column.of.named:
            book.name(f"{prefix}_{column.of.named}", sheet, first, column, last)

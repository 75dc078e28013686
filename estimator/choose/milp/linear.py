"""The programme as plain whole numbers: columns and rows that every engine reads alike.

Nothing here knows an engine. All coefficients and bounds are integers, so that "optimal" means
optimal to the cent and engines can be compared for equality.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import gcd
from operator import mul

from msgspec import Struct

STRUCTURE = "structure"
INTEGER, IMPLIED, LOOSE, LAZY = "integer", "implied", "loose", "held"
"""Kinds of columns. Only ``integer`` ones must be declared whole to an engine that branches:
``implied`` ones (any of, both of) are whole as soon as those are, ``loose`` ones (the step from
which a level is counted) lose nothing by being fractional, ``held`` ones are figures held from below.
"""
CUT = "cut"


@dataclass(slots=True)
class Linear:
    """A sum of columns times whole numbers plus a constant."""

    terms: dict[int, int] = field(default_factory=dict)
    constant: int = 0

    def add(self, other: Linear, times: int = 1) -> Linear:
        """Add ``other`` x ``times`` in place; returns itself so that sums can be chained."""
        terms = self.terms
        for column, value in other.terms.items():
            terms[column] = terms.get(column, 0) + times * value
        self.constant += times * other.constant
        return self

    def copy(self) -> Linear:
        """A sum of its own that can be added to."""
        return Linear(dict(self.terms), self.constant)

    def times(self, factor: int) -> Linear:
        """The sum multiplied through."""
        return Linear({c: factor * v for c, v in self.terms.items()}, factor * self.constant)

    def value(self, values: Mapping[int, int]) -> int:
        """The sum at given column values."""
        return self.constant + sum(v * values[c] for c, v in self.terms.items())


class Row(Struct, frozen=True):
    """``lower`` <= sum of ``coefficients`` x ``columns`` <= ``upper``; None: no bound on that side.

    ``tag`` is the id of the user's rule the row belongs to, or ``structure`` or ``cut``.
    """

    columns: tuple[int, ...]
    coefficients: tuple[int, ...]
    lower: int | None
    upper: int | None
    tag: str

    def holds(self, values: Mapping[int, int]) -> bool:
        """Whether whole column values satisfy the row exactly."""
        total = sum(map(mul, self.coefficients, map(values.__getitem__, self.columns)))
        return (self.lower is None or total >= self.lower) and (self.upper is None or total <= self.upper)


def make_row(total: Linear, lower: int | None, upper: int | None, tag: str) -> Row:
    """A row in its smallest whole numbers; bounds are tightened to what integers can reach."""
    values = total.terms
    columns = tuple(sorted([column for column, value in values.items() if value]))
    coefficients = tuple([values[column] for column in columns])
    low = None if lower is None else lower - total.constant
    high = None if upper is None else upper - total.constant
    divisor = gcd(*coefficients)
    if divisor > 1:
        low = None if low is None else -(-low // divisor)
        high = None if high is None else high // divisor
        coefficients = tuple([value // divisor for value in coefficients])
    return Row(columns, coefficients, low, high, tag)


@dataclass(slots=True)
class Model:
    """Columns with whole bounds and a kind, and rows.

    ``impossible`` holds the tags of rows that no values can satisfy (a sum over nothing that should
    be at least one); such a row is kept here and never handed to an engine.
    """

    names: list[str] = field(default_factory=list)
    lower: list[int] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    impossible: list[str] = field(default_factory=list)
    laid: dict[str, object] = field(default_factory=dict, compare=False, repr=False)

    def column(self, prefix: str, lower: int = 0, upper: int = 1, kind: str = INTEGER) -> int:
        """A new column; its solver name is generated, so that user ids never reach an engine."""
        number = len(self.names)
        self.names.append(f"{prefix}_{number:06d}")
        self.lower.append(lower)
        self.upper.append(upper)
        self.kinds.append(kind)
        return number

    def add(self, total: Linear, lower: int | None, upper: int | None, tag: str) -> None:
        """Add ``lower`` <= total <= ``upper``; rows that always hold are left out."""
        row = make_row(total, lower, upper, tag)
        least, most = self._ends(zip(row.columns, row.coefficients, strict=True))
        if row.lower is not None and row.upper is not None and row.lower > row.upper:
            self.impossible.append(tag)
            return
        low = row.lower if row.lower is not None and row.lower > least else None
        high = row.upper if row.upper is not None and row.upper < most else None
        if (low is not None and low > most) or (high is not None and high < least):
            self.impossible.append(tag)
        elif low is not None or high is not None:
            same = low == row.lower and high == row.upper
            self.rows.append(row if same else Row(row.columns, row.coefficients, low, high, tag))

    def bounds(self, total: Linear) -> tuple[int, int]:
        """The least and the most a sum can come to, each column taken alone."""
        least, most = self._ends(total.terms.items())
        return total.constant + least, total.constant + most

    def _ends(self, terms: Iterable[tuple[int, int]]) -> tuple[int, int]:
        lower, upper, least, most = self.lower, self.upper, 0, 0
        for column, value in terms:
            if value >= 0:
                least += value * lower[column]
                most += value * upper[column]
            else:
                least += value * upper[column]
                most += value * lower[column]
        return least, most


def total_of(parts: Iterable[tuple[Linear, int]], constant: int = 0) -> Linear:
    """The sum of (sum, times) pairs."""
    result = Linear(constant=constant)
    for part, times in parts:
        if times:
            result.add(part, times)
    return result

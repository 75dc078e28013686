"""Where tables and sentences of a report go: the terminal, or whoever gathers them to show them otherwise."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from msgspec import Struct, field

from estimator.report.text.terminal import put, show_table


class Out(Protocol):
    """What takes a table or sentences."""

    def table(
        self, title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()
    ) -> None:
        """Take a table; columns numbered in ``right`` are numbers."""

    def say(self, sentences: Sequence[str]) -> None:
        """Take sentences."""


class Terminal:
    """Prints what it is given."""

    def table(
        self, title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()
    ) -> None:
        """Print a table."""
        show_table(title, heads, rows, right=right)

    def say(self, sentences: Sequence[str]) -> None:
        """Print sentences, one a line."""
        put(*sentences)


TERMINAL = Terminal()


class Table(Struct, frozen=True):
    """A table as it was told; ``right``: the columns of numbers."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...]


class Gathered(Struct):
    """Keeps tables and sentences in their order."""

    tables: list[Table] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)

    def table(
        self, title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()
    ) -> None:
        """Keep a table."""
        self.tables.append(Table(title, tuple(heads), tuple(tuple(row) for row in rows), tuple(right)))

    def say(self, sentences: Sequence[str]) -> None:
        """Keep sentences."""
        self.sentences.extend(sentences)

"""What an answer tells, each figure once: its key, its unit, what it means and where it comes from.

A record looks at what a stage found and tells it figure by figure, in the reader's order. Data (``as_data``),
the reference of keys (``keys_of``) and the columns of tables (``columns``) are made of the same figures.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any, Generic, TypeVar, overload

from msgspec import Struct
from msgspec.structs import replace

from estimator.core.amounts import Cents, Hundredths, Minutes
from estimator.core.cell_text import plain_number as number
from estimator.core.money import money_text
from estimator.core.text import amount_text, plain, time_text, whole, written_day
from estimator.core.units import lengths_as_read

Source = TypeVar("Source")
Value = TypeVar("Value")
Inner = TypeVar("Inner")
Text = TypeVar("Text", bound="str | None")
Whole = TypeVar("Whole", bound="int | None")
Money = TypeVar("Money", bound="Cents | None")
Time = TypeVar("Time", bound="Hundredths | None")
WholeTime = TypeVar("WholeTime", bound="Minutes | None")
Number = TypeVar("Number", bound="Decimal | float | None")
Data = dict[str, object]


def minutes(hundredths: Hundredths) -> int | float:
    """Hundredths of a minute as minutes."""
    return number(Decimal(hundredths) / 100)


class Kind(Struct, frozen=True):
    """A sort of figure: what the reference calls its unit, how it is written as data and read in a table.

    ``none``: what a table says where there is none.
    """

    unit: str
    data: Callable[[Any], object]
    read: Callable[[Any], str] = str
    right: bool = False
    none: str = ""


def plain_data(value: object) -> object:
    """Any value as data, by its type."""
    if isinstance(value, Record):
        return as_data(value)
    if isinstance(value, Mapping):
        return {name: plain_data(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain_data(each) for each in value]
    if isinstance(value, Decimal):
        return number(value)
    return written_day(value) if isinstance(value, date) else value


TEXT = Kind("text", plain_data)
STAYS = " "
"""What a kind says where there is none, for a column that is to stay where all of it is blank."""
HYPHENED = Kind("text", plain_data, lambda words: words.replace("-", " "))
"""An id that reads as words."""
NUMBER = Kind("number", number, plain, right=True)
WHOLE = Kind("number", plain_data, right=True)
CURRENCY = "{currency}"
"""Where the currency stands in a head, and in money with words after it."""
MONEY = Kind("money", money_text, amount_text, right=True)
TIME = Kind("min", minutes, time_text, right=True)
MINUTES = Kind("min", minutes, lambda hundredths: whole(Decimal(hundredths) / 100), right=True)
WHOLE_MINUTES = Kind("min", plain_data, right=True)
YES = Kind("true or false", plain_data)
DAY = Kind("day", plain_data)
FIGURE = Kind("text", plain_data, right=True)
"""A figure with words about it."""
WORDS = Kind("list of text", plain_data, ", ".join)
IN_WORDS = replace(MONEY, data=plain_data, read=str)
"""Money with words about it (``in_words``)."""
AS_IN_DATA = Kind("money", money_text, money_text, right=True)
"""Money in a table that says its currency above itself."""


def in_words(cents: Cents) -> str:
    """Money as a part of words, which a table tells with its currency."""
    return f"{MONEY.read(cents)} {CURRENCY}"


class Figure(Generic[Source, Value]):
    """One figure of a record: read from a record it is its value, read from the class it is the figure itself."""

    def __init__(
        self,
        kind: Kind,
        meaning: str,
        value: Callable[[Source], Value],
        head: str = "",
        holds: type[Record[Any]] | None = None,
    ) -> None:
        self.kind, self.meaning, self.value, self.head, self.holds = kind, meaning, value, head, holds
        self.name = ""

    def __set_name__(self, owner: type[object], name: str) -> None:
        self.name = name.rstrip("_")  # a key may be a word that the language keeps for itself

    @overload
    def __get__(self, record: None, owner: type[object]) -> Figure[Source, Value]: ...
    @overload
    def __get__(self, record: Record[Source], owner: type[object]) -> Value: ...
    def __get__(self, record: Record[Source] | None, owner: type[object]) -> Figure[Source, Value] | Value:
        return self if record is None else self.value(record.of)

    def read(self, of: Source, currency: str = "") -> str:
        """As a table shows it, as its kind says where there is none; money with its currency where the head does not say it."""
        value = self.value(of)
        if value is None:
            return self.kind.none
        told = self.kind.read(value)
        if self.kind.unit != MONEY.unit:
            return told.rstrip()
        if CURRENCY not in told:
            told = f"{told} {CURRENCY}"
        return told.replace(CURRENCY, "" if CURRENCY in self.head else currency).rstrip()

    def told(self, of: Source) -> Iterator[tuple[str, object]]:
        """The key with what stands behind it."""
        value = self.value(of)
        yield self.name, None if value is None else self.kind.data(value)


class WhereThere(Figure[Source, Value]):
    """A figure that is left out where there is none."""

    def told(self, of: Source) -> Iterator[tuple[str, object]]:
        """The key with what stands behind it, if anything does."""
        return ((key, value) for key, value in super().told(of) if value is not None)


class Column(Figure[Source, Value]):
    """A column of tables that is no key of the data: what it shows stands there under other keys."""

    def told(self, of: Source) -> Iterator[tuple[str, object]]:
        """Nothing."""
        yield from ()


class Joined(Figure[Source, Value]):
    """Another record whose figures are told as if they were this one's."""

    def told(self, of: Source) -> Iterator[tuple[str, object]]:
        """All keys of the other record, none where there is none."""
        other = self.value(of)
        yield from () if other is None else as_data(other).items()  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Record(Generic[Source]):
    """What is told ``of`` something that a stage found."""

    of: Source


def figures_of(record: type[Record[Any]]) -> list[Figure[Any, Any]]:
    """The figures of a record, in the reader's order."""
    named = {name: each for kind in reversed(record.__mro__) for name, each in vars(kind).items()}
    return [each for each in named.values() if isinstance(each, Figure)]


def as_data(record: Record[Any]) -> Data:
    """A record as plain data: money as text with two places, minutes as numbers, days as year-month-day."""
    return dict(entry for figure in figures_of(type(record)) for entry in figure.told(record.of))


def columns(record: type[Record[Any]]) -> list[Figure[Any, Any]]:
    """The figures that tables show."""
    return [figure for figure in figures_of(record) if figure.head]


UNNAMED = " "
"""The head of a column that says by itself what it is."""
Beside = tuple[str, Callable[[Inner], str]]
"""A column of words beside the figures of a table: its head, and how a row is told."""


def table_of(
    record: type[Record[Inner]],
    rows: Sequence[Inner],
    currency: str | Callable[[Inner], str] = "",
    first: Beside[Inner] | None = None,
    last: Beside[Inner] | None = None,
    without: Collection[str] = (),
    lengths: str = "",
) -> tuple[list[str], list[list[str]], list[int]]:
    """A table of the figures of a record that have a head: heads, rows, and which columns are set flush right.

    A column that is blank in every row is left out, and those named in ``without``. ``currency`` may differ from
    row to row. ``lengths``: ``in`` where people read inches.
    """
    told_in = currency if callable(currency) else lambda row: currency
    asked = [one for one in columns(record) if one.name not in without]
    figures = [one for one in asked if not rows or any(one.read(row) for row in rows)]
    told: list[Beside[Inner]] = [
        *([first] if first else []),
        *((one.head.format(currency=currency).strip(), partial(_read, one, told_in)) for one in figures),
        *([last] if last else []),
    ]
    return (
        [head for head, _ in told],
        [[lengths_as_read(read(row).strip(), lengths) for _, read in told] for row in rows]
        or [["nothing", *[""] * (len(told) - 1)]],
        [number for number, one in enumerate(figures, 1 if first else 0) if one.kind.right],
    )


def _read(figure: Figure[Inner, Any], currency: Callable[[Inner], str], row: Inner) -> str:
    return figure.read(row, currency(row))


def keys_of(record: type[Record[Any]]) -> Iterator[Figure[Any, Any]]:
    """The figure behind each key of a record, those of the records told as if they were its own among them."""
    for figure in figures_of(record):
        if isinstance(figure, Joined) and figure.holds is not None:
            yield from keys_of(figure.holds)
        elif not isinstance(figure, Column):
            yield figure


ONE = Kind("object", plain_data)
ROWS = Kind("list", plain_data)


class Teller(Generic[Source]):
    """Makes the figures of records of one source, each with its meaning and where it is found."""

    def text(self, meaning: str, value: Callable[[Source], Text], head: str = "") -> Figure[Source, Text]:
        """Words, an id."""
        return Figure(TEXT, meaning, value, head)

    def money(self, meaning: str, value: Callable[[Source], Money], head: str = "") -> Figure[Source, Money]:
        """Cents."""
        return Figure(MONEY, meaning, value, head)

    def minutes(self, meaning: str, value: Callable[[Source], Time], head: str = "") -> Figure[Source, Time]:
        """Hundredths of a minute."""
        return Figure(MINUTES, meaning, value, head)

    def time(self, meaning: str, value: Callable[[Source], Time], head: str = "") -> Figure[Source, Time]:
        """Hundredths of a minute, in a table as hours and minutes."""
        return Figure(TIME, meaning, value, head)

    def whole_minutes(
        self, meaning: str, value: Callable[[Source], WholeTime], head: str = ""
    ) -> Figure[Source, WholeTime]:
        """Whole minutes."""
        return Figure(WHOLE_MINUTES, meaning, value, head)

    def number(
        self, meaning: str, value: Callable[[Source], Number], head: str = ""
    ) -> Figure[Source, Number]:
        """A number that may have places."""
        return Figure(NUMBER, meaning, value, head)

    def whole(self, meaning: str, value: Callable[[Source], Whole], head: str = "") -> Figure[Source, Whole]:
        """How many."""
        return Figure(WHOLE, meaning, value, head)

    def yes(self, meaning: str, value: Callable[[Source], bool]) -> Figure[Source, bool]:
        """Whether something is so."""
        return Figure(YES, meaning, value)

    def day(self, meaning: str, value: Callable[[Source], date | None]) -> Figure[Source, date | None]:
        """A day, or a day with its time."""
        return Figure(DAY, meaning, value)

    def words(
        self, meaning: str, value: Callable[[Source], Iterable[str]], head: str = ""
    ) -> Figure[Source, Sequence[str]]:
        """Words or ids, one after the other."""
        return Figure(WORDS, meaning, lambda of: tuple(value(of)), head)

    def of(
        self, kind: Kind, meaning: str, value: Callable[[Source], Value], head: str = ""
    ) -> Figure[Source, Value]:
        """A figure of a kind of its own."""
        return Figure(kind, meaning, value, head)

    def column(self, head: str, value: Callable[[Source], Value], kind: Kind = TEXT) -> Column[Source, Value]:
        """A column of tables only."""
        return Column(kind, "", value, head)

    def one(
        self, record: type[Record[Inner]], meaning: str, value: Callable[[Source], Inner | None]
    ) -> Figure[Source, Record[Inner] | None]:
        """Another record, or none."""
        return Figure(ONE, meaning, _inner(record, value), holds=record)

    def rows(
        self, record: type[Record[Inner]], meaning: str, value: Callable[[Source], Iterable[Inner]]
    ) -> Figure[Source, Sequence[Record[Inner]]]:
        """Records, one after the other."""
        return Figure(ROWS, meaning, lambda of: tuple(map(record, value(of))), holds=record)

    def rows_if(
        self,
        asked: Callable[[Source], object],
        record: type[Record[Inner]],
        meaning: str,
        value: Callable[[Source], Iterable[Inner]],
    ) -> WhereThere[Source, Sequence[Record[Inner]] | None]:
        """Records, left out where they were not ``asked`` for."""
        return WhereThere(
            ROWS, meaning, lambda of: tuple(map(record, value(of))) if asked(of) else None, holds=record
        )

    def joined(
        self, record: type[Record[Inner]], value: Callable[[Source], Inner | None]
    ) -> Joined[Source, Record[Inner] | None]:
        """The figures of another record as if they were this one's."""
        return Joined(ONE, "", _inner(record, value), holds=record)

    def where_there(self, figure: Figure[Source, Value]) -> WhereThere[Source, Value]:
        """The same figure, left out where there is none."""
        return WhereThere(figure.kind, figure.meaning, figure.value, figure.head, figure.holds)


def _inner(
    record: type[Record[Inner]], value: Callable[[Source], Inner | None]
) -> Callable[[Source], Record[Inner] | None]:
    def found(of: Source) -> Record[Inner] | None:
        inner = value(of)
        return None if inner is None else record(inner)

    return found

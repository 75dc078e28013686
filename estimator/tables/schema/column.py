"""What a column and a table are, and short makers of columns; see ``columns`` for the tables."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from estimator.model import BASES

REQUIRED = object()


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, kind, meaning, and what it accepts.

    ``kind``: ``id`` (lower-case words joined by dashes), ``text``, ``number``, ``whole``,
    ``money`` (not negative), ``yes-no``, ``choice``, ``list`` (words parted by blanks),
    ``levels`` (``CODE=level`` pairs parted by blanks), ``expression`` (numbers and intake fields
    joined by + - *). ``refers`` names the table whose ids are accepted; ``underscores`` says that
    an id may join its words by underscores too. ``above``: ``low`` itself is not accepted; the reference
    and the complaints say so, and whoever reads the value refuses it in words of its own.
    """

    name: str
    kind: str
    meaning: str
    unit: str = ""
    default: object = REQUIRED
    low: Decimal | None = None
    high: Decimal | None = None
    choices: tuple[str, ...] = ()
    refers: str = ""
    underscores: bool = False
    above: bool = False

    @property
    def required(self) -> bool:
        """Whether a blank is refused."""
        return self.default is REQUIRED


@dataclass(frozen=True, slots=True)
class TableSpec:
    """One table: its file, what a row is, the columns that make a row unique, and its columns."""

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]

    @property
    def file(self) -> str:
        """The name of its file in a shop folder."""
        return f"{self.name}.csv"


ZERO = Decimal(0)
ONE = Decimal(1)
HUNDRED = Decimal(100)
MILLION = Decimal(1_000_000)

BASIS = (
    Column("basis", "choice", "where the numbers of the row come from", choices=BASES),
    Column("source", "text", "the publication; required where the basis is published", default=""),
)


def _id(meaning: str) -> Column:
    return Column("id", "id", meaning)


def _ref(name: str, table: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "id", meaning, refers=table, default=default)


def _text(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "text", meaning, default=default)


def _minutes(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "number", meaning, "min", default, ZERO, Decimal(100_000))


def _factor(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "number", meaning, "x", default, Decimal("0.05"), Decimal(20))


def _money(name: str, meaning: str, default: object = REQUIRED) -> Column:
    return Column(name, "money", meaning, "money", default, ZERO, MILLION)


def _choice(name: str, meaning: str, *choices: str, default: object = REQUIRED) -> Column:
    return Column(name, "choice", meaning, choices=choices, default=default)


def _number(
    name: str,
    meaning: str,
    unit: str = "",
    default: object = REQUIRED,
    low: Decimal | None = None,
    high: Decimal | None = None,
) -> Column:
    return Column(name, "number", meaning, unit, default, low, high)


def _list(name: str, meaning: str, refers: str = "") -> Column:
    return Column(name, "list", meaning, default=(), refers=refers)


def _levels(meaning: str) -> Column:
    return Column("levels", "levels", meaning, default={})


def _when() -> Column:
    return Column("when", "id", "named condition of the instrument, or blank for always", default="")


def _table(name: str, meaning: str, key: str, *columns: Column) -> TableSpec:
    return TableSpec(name, meaning, tuple(key.split()), (*columns, *BASIS))

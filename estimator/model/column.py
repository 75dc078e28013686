"""What a column of a table, or a key of a file, is, and short makers of columns for the fields of records.

A record's field that is a column says so beside its type::

    setup_min: Annotated[Decimal, col.minutes("minutes once per sitting")]

Its name is that of the column. Reading, checks, workbook lists and the generated reference all come from there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import Any, get_type_hints

from msgspec import NODEFAULT, Struct
from msgspec.structs import fields, replace

REQUIRED = object()
OF_FIELD = object()
"""A key that is left out has the default of its field; where that has none, it is blank."""

ZERO = Decimal(0)
ONE = Decimal(1)
HUNDRED = Decimal(100)
MILLION = Decimal(1_000_000)


class Column(Struct, frozen=True):
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


class Key(Struct, frozen=True):
    """A key of a section of a job file, declared beside the field of a record that it is read to::

        minutes: Annotated[Decimal | None, key("budget", "hours", "most hands-on time", "h", name="hours")]

    Its name is that of the field unless it has one of its own.
    """

    section: str
    column: Column


def key(
    section: str,
    kind: str,
    meaning: str,
    unit: str = "",
    default: object = OF_FIELD,
    name: str = "",
    **more: Any,
) -> Key:
    """A key of a section of a job file, of any kind (see ``Column``); it may be left out unless it says so."""
    return Key(section, Column(name, kind, meaning, unit, default, **more))


def columns_of(record: type) -> dict[str, tuple[Column, ...]]:
    """The columns that each field of a record is read from, in its order; a field without any is not there."""
    return {name: tuple(_columns(name, hint)) for name, hint in _hints(record) if not isinstance(hint, Key)}


def keys_of(record: type) -> tuple[Column, ...]:
    """All columns of a record, in the order of its fields."""
    return tuple(column for columns in columns_of(record).values() for column in columns)


@cache
def section_of(record: type[Struct], section: str) -> tuple[tuple[str, Column], ...]:
    """The keys of a section of a job file that the fields of a record are read from, in their order, each with its field."""
    keys = ((name, hint) for name, hint in _hints(record) if isinstance(hint, Key))
    usual = {field.name: field.default for field in fields(record)}
    return tuple(
        (name, _left_out(replace(it.column, name=it.column.name or name), usual[name]))
        for name, it in keys
        if it.section == section
    )


def _left_out(column: Column, usual: object) -> Column:
    """The key with the default of its field in the place of ``OF_FIELD``."""
    if column.default is not OF_FIELD:
        return column
    if usual is NODEFAULT:
        usual = (
            () if column.kind == "list" else "" if column.kind in ("id", "text", "date", "choice") else None
        )
    return replace(column, default=usual)


def said_in(record: type[Struct], section: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of a record that are read from a section; of what could not be read, what holds without it."""
    return {
        name: values.get(column.name, "" if column.required else column.default)
        for name, column in section_of(record, section)
    }


@cache
def _hints(record: type) -> tuple[tuple[str, object], ...]:
    hints = get_type_hints(record, include_extras=True).items()
    return tuple((name, declared) for name, hint in hints for declared in getattr(hint, "__metadata__", ()))


def _columns(name: str, declared: object) -> Iterator[Column]:
    if isinstance(declared, Column):
        yield replace(declared, name=name)
    else:
        assert isinstance(declared, tuple)
        yield from declared


def several(**columns: Column) -> tuple[Column, ...]:
    """The columns of a field that is read from more than one, by their names."""
    return tuple(replace(column, name=name) for name, column in columns.items())


def of(
    kind: str,
    meaning: str,
    unit: str = "",
    default: object = REQUIRED,
    low: Decimal | None = None,
    high: Decimal | None = None,
) -> Column:
    """A column of any kind; see ``Column``."""
    return Column("", kind, meaning, unit, default, low, high)


def ident(meaning: str) -> Column:
    """The name of the row."""
    return of("id", meaning)


def ref(table: str, meaning: str, default: object = REQUIRED) -> Column:
    """An id of another table."""
    return Column("", "id", meaning, default=default, refers=table)


def name_of_field(meaning: str) -> Column:
    """The name of a field or a dimension: its words may be joined by underscores."""
    return Column("", "id", meaning, underscores=True)


def field_ref(meaning: str, default: object = REQUIRED) -> Column:
    """An intake field."""
    return Column("", "id", meaning, default=default, refers="intake", underscores=True)


def text(meaning: str, default: object = REQUIRED) -> Column:
    """Words."""
    return of("text", meaning, default=default)


def minutes(meaning: str, default: object = REQUIRED) -> Column:
    """Minutes."""
    return of("number", meaning, "min", default, ZERO, Decimal(100_000))


def days(meaning: str, default: object = None) -> Column:
    """Days, parts of one too."""
    return of("number", meaning, "days", default, ZERO, Decimal(1000))


def factor(meaning: str, default: object = REQUIRED) -> Column:
    """A multiple."""
    return of("number", meaning, "x", default, Decimal("0.05"), Decimal(20))


def money(meaning: str, default: object = REQUIRED) -> Column:
    """Money, in the shop's currency."""
    return of("money", meaning, "money", default, ZERO, MILLION)


def share(meaning: str, default: object = ZERO, low: Decimal = ZERO) -> Column:
    """A share of one."""
    return of("number", meaning, "share", default, low, Decimal(2))


def percent(meaning: str) -> Column:
    """Per cent; blank is none."""
    return of("number", meaning, "%", ZERO, ZERO, HUNDRED)


def choice(meaning: str, *choices: str, default: object = REQUIRED) -> Column:
    """One of some words."""
    return Column("", "choice", meaning, default=default, choices=choices)


def number(
    meaning: str,
    unit: str = "",
    default: object = REQUIRED,
    low: Decimal | None = None,
    high: Decimal | None = None,
) -> Column:
    """A number."""
    return of("number", meaning, unit, default, low, high)


def words(meaning: str, refers: str = "") -> Column:
    """Words parted by blanks; of a table, its ids."""
    return Column("", "list", meaning, default=(), refers=refers)


def levels(meaning: str) -> Column:
    """Factor levels, as ``CODE=level`` pairs."""
    return of("levels", meaning, default={})


def when() -> Column:
    """A named condition."""
    return of("id", "named condition of the instrument, or blank for always", default="")

"""CSV text to typed rows, driven by the declared columns.

Row numbers are those a spreadsheet program shows: the header is row 1 unless comments stand above
it, blank rows count, and a cell with line breaks in it is still one row. All complaints of a file
are collected.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterable, Iterator, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from estimator.core.errors import Issue, Origin, as_accepted, near_miss, note, shown
from estimator.core.money import half_up
from estimator.model import BASES, OWN
from estimator.model.column import Column
from estimator.tables.cells import NO_LEVELS, CellError, Reader, reader_of
from estimator.tables.schema.table import THREE_POINTS, TableSpec
from estimator.tables.sums import money_reader

#: how often the same complaint is spelled out before it is only counted
MOST_ALIKE = 20
LOOKED_UP = 400
"""Complaints of a file up to which a key that is like the one written is looked for: of more, few are shown."""
NEW_KEY = "a row with a new key needs all of it: fill it in"
SAVE_AS = "open it in the spreadsheet program and save it as “CSV UTF-8 (comma delimited)”"
_DELIMITERS = (",", ";", "\t")
#: how a shop's own row says that an optional cell of the default row is blank here
CLEARED = "-"
_SPOKEN_FOR = ("basis", "source")
"""Columns that a shop's own row never takes from the row it replaces: its numbers rest on something else."""
Key = tuple[Any, ...]


class TableRow(Struct, frozen=True):
    """The typed values of one row by column name, and where it stands."""

    values: dict[str, Any]
    origin: Origin


class TableRead(Struct):
    """What came out of one file: the rows that could be read, and all complaints."""

    spec: TableSpec
    rows: list[TableRow] = field(default_factory=list)
    issues: list[Issue] = field(default_factory=list)


def decode(data: bytes, file: str) -> str | Issue:
    """The text of a file, or the complaint why it is none (UTF-8 with or without BOM is accepted)."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return Issue(Origin(file), "the file is saved as UTF-16 (“Unicode text”)", "", "UTF-8 text", SAVE_AS)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{data[error.start]:02X} at position {error.start + 1}"
        return Issue(Origin(file, row), "the file is not UTF-8 text", found, "UTF-8 text", SAVE_AS)
    if "\0" in text:
        row = text.count("\n", 0, text.index("\0")) + 1
        return Issue(Origin(file, row), "the file holds NUL bytes", "", "plain text", SAVE_AS)
    return text


def key_of(spec: TableSpec, values: Mapping[str, Any]) -> Key:
    """What makes a row of a table unique."""
    return tuple(values[name] for name in spec.key)


def read_table(
    data: bytes,
    spec: TableSpec,
    file: str,
    base: Mapping[Key, TableRow] | None = None,
    currency: str = "",
) -> TableRead:
    """Read one CSV file against its declaration; ``file`` is the name that complaints show.

    With ``base`` the file holds a shop's own rows, laid over those of ``base`` by key: a column that is left
    out and a blank cell stay as they are there, ``-`` clears an optional cell, and the basis is the shop's own
    where none is named. ``currency``: that of the shop, which money may be written with (blank: any).
    """
    result = TableRead(spec)
    text = decode(data, file)
    if isinstance(text, Issue):
        result.issues.append(text)
        return result
    records = records_of(text, delimiter_of(text, {column.name for column in spec.columns}))
    try:
        header_row, header = _first(records, spec)
        order = _columns(header, header_row, spec, file, result.issues, None if base is None else currency)
        if not result.issues:
            _read_rows(records, order, spec, file, result, base)
    except BrokenError as error:
        result.issues.append(error.in_words(file))
    except CellError as error:
        note(result.issues, Origin(file), error.problem, "", error.accepted, error.next_step)
    result.issues = shorten(result.issues)
    return result


class BrokenError(Exception):
    """The CSV itself is broken: at which row, and how."""

    def __init__(self, row: int, problem: str) -> None:
        super().__init__(problem)
        self.row, self.problem = row, problem

    def in_words(self, file: str) -> Issue:
        """The complaint about the file."""
        return Issue(
            Origin(file, self.row),
            self.problem,
            "",
            "every quote closed, and doubled inside a text",
            "look at the quotes in this row and the one before it",
        )


def records_of(text: str, delimiter: str, comments: bool = True) -> Iterator[tuple[int, list[str]]]:
    """(row, cells) of every row that is neither blank nor, where there may be any, a comment.

    ``BrokenError`` where a quote is left open, or stands where none may.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    row = 0
    while True:
        row += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            problems = {
                "unexpected end": "a quote is opened and never closed",
                "expected after": "a stray quote in a cell",
                "field larger": "a cell of more than 100,000 characters",
            }
            plain_words = next((say for sign, say in problems.items() if sign in str(error)), str(error))
            raise BrokenError(row, plain_words) from None
        if row == 1 and len(cells) <= 2 and cells and cells[0].lower().startswith("sep="):
            continue
        if comments and cells and cells[0].lstrip().startswith("#"):
            continue
        if any(cell and not cell.isspace() for cell in cells):
            yield row, cells


def delimiter_of(text: str, names: Collection[str]) -> str:
    """The character that parts the cells, told by which one makes sense of the header."""

    def known(delimiter: str) -> int:
        try:
            _, header = next(records_of(text, delimiter), (0, []))
        except BrokenError:
            return 0
        return len({cell.strip().lower() for cell in header} & set(names))

    return max(_DELIMITERS, key=known)


def _first(records: Iterator[tuple[int, list[str]]], spec: TableSpec) -> tuple[int, list[str]]:
    first = next(records, None)
    if first is None:
        raise CellError("the file is empty", "a header line: " + ",".join(c.name for c in spec.columns))
    return first


def _columns(
    header: list[str], row: int, spec: TableSpec, file: str, issues: list[Issue], currency: str | None
) -> list[tuple[int, Column, Reader]]:
    """Position, declaration and reader of every column; complaints about the header go to ``issues``.

    ``currency``: of the shop whose own rows these are (blank: any), None for a whole table.
    """
    where, own = Origin(file, row), currency is not None
    declared = {column.name: column for column in spec.columns}
    names = [as_accepted(name.strip(), declared) for name in header]
    missing = [name for name in declared if name not in names]
    if own:  # of a column that may be left out only a slip of the pen in its name is of interest
        missing = [name for name in missing if name in spec.key and declared[name].required]
    for position, name in enumerate(names):
        if name and name not in declared:
            hint = near_miss(name.lower(), declared if own else missing or declared)
            note(issues, where, "unknown column", shown(name), ", ".join(declared), hint)
        elif name and name in names[:position]:
            note(issues, where, "the same column twice", shown(name), "each column once", "delete one")
    for name in missing:
        step = f"copy the header line of the {spec.file} that comes with the program"
        note(issues, where.at(name), "column missing", "", declared[name].meaning, step)
    read = [(i, declared[name]) for i, name in enumerate(names) if name in declared]
    return [
        (i, column, reader_of(column) if currency is None else money_reader(column, currency))
        for i, column in read
    ]


def _read_rows(
    records: Iterable[tuple[int, list[str]]],
    order: list[tuple[int, Column, Reader]],
    spec: TableSpec,
    file: str,
    result: TableRead,
    base: Mapping[Key, TableRow] | None = None,
) -> None:
    last = max(position for position, _, _ in order)
    named = {position for position, _, _ in order}
    memo: dict[str, dict[str, Any]] = {column.name: {} for _, column, _ in order}
    seen: dict[tuple[Any, ...], int] = {}
    for row, cells in records:
        origin = Origin(file, row)
        if issue := _wrong_length(cells, last, named, origin):
            result.issues.append(issue)
            continue
        values: dict[str, Any] = {}
        wrong = False
        for position, column, read in order:
            cell = cells[position].strip()
            if base is not None and (not cell or (cell == CLEARED and not column.required)):
                if cell:
                    values[column.name] = NO_LEVELS if column.default == {} else column.default
                continue
            if not cell:
                if column.default == {}:
                    values[column.name] = NO_LEVELS
                elif column.required:
                    result.issues.append(_blank(origin, column))
                else:
                    values[column.name] = column.default
                continue
            known = memo[column.name]
            if cell not in known:
                try:
                    known[cell] = read(cell)
                except CellError as error:
                    note(
                        result.issues,
                        origin.at(column.name),
                        error.problem,
                        shown(cell),
                        error.accepted,
                        error.next_step,
                    )
                    wrong = True
                    continue
            values[column.name] = known[cell]
        if base is not None and not wrong:
            wrong = not _filled(values, spec, origin, base, result.issues)
        if wrong or (base is None and len(values) < len(order)):
            continue
        result.issues.extend(_row_rules(values, spec, origin, seen, row))
        result.rows.append(TableRow(values, origin))


def _filled(
    values: dict[str, Any], spec: TableSpec, origin: Origin, base: Mapping[Key, TableRow], issues: list[Issue]
) -> bool:
    """Whether a shop's own row could be filled up from the row it replaces, or from defaults where it is new."""
    columns = {column.name: column for column in spec.columns}

    def fill(names: Iterable[str], old: Mapping[str, Any]) -> bool:
        whole = True
        for name in names:
            column = columns[name]
            if name in old and name not in _SPOKEN_FOR:
                values[name] = old[name]
            elif name == "basis":
                values[name] = OWN
            elif column.required:
                step = _new_row(spec, values, base) if len(issues) < LOOKED_UP else NEW_KEY
                issues.append(replace(_blank(origin, column), next_step=step))
                whole = False
            else:
                values[name] = NO_LEVELS if column.default == {} else column.default
        return whole

    meant = _rows_meant(spec, values, base)
    if not fill([name for name in spec.key if name not in values], meant[0] if len(meant) == 1 else {}):
        return False
    if len(meant) > 1 and key_of(spec, values) not in base:
        unsaid = [name for name in spec.key if len({row[name] for row in meant}) > 1]
        told = " or ".join(" ".join(f"{name}={row[name]}" for name in unsaid) for row in meant)
        note(issues, origin.at(" ".join(unsaid)), "more than one row could be meant", "", told, "say which")
        return False
    old = base.get(key_of(spec, values))
    given = set(values)
    whole = fill([name for name in columns if name not in values], old.values if old is not None else {})
    if whole and old is not None:
        for low, middle, high in THREE_POINTS:
            if middle in given and not given & {low, high}:
                _take_along(values, old.values, low, middle, high)
    return whole


def _rows_meant(
    spec: TableSpec, values: Mapping[str, Any], base: Mapping[Key, TableRow]
) -> list[Mapping[str, Any]]:
    """The rows that a shop's own row may stand for where it leaves out a part of the key that may be blank."""
    named = [name for name in spec.key if name in values]
    if len(named) == len(spec.key):
        return []
    said = tuple(values[name] for name in named)
    return [row.values for row in base.values() if tuple(row.values[name] for name in named) == said]


def _take_along(values: dict[str, Any], old: Mapping[str, Any], low: str, middle: str, high: str) -> None:
    """A number of a shop's own that lies beyond the ends it is written without takes them along in proportion.

    Who writes that a part costs 12.50 says nothing of the least and the most of it; as the default row has them
    beside its own price, so they stand beside this one, to the hundredth.
    """
    ends: list[Any] = [values.get(name) for name in (low, middle, high)]
    if not all(isinstance(end, Decimal) for end in ends) or ends[0] <= ends[1] <= ends[2] or not old[middle]:
        return
    share = Fraction(values[middle]) / Fraction(old[middle])
    moved = [Decimal(half_up(Fraction(old[end]) * share * 100)) / 100 for end in (low, high)]
    values[low], values[high] = min(moved[0], values[middle]), max(moved[1], values[middle])


def _new_row(spec: TableSpec, values: Mapping[str, Any], base: Mapping[Key, TableRow]) -> str:
    """What to do about a shop's own row that lacks something: most likely its key was misspelt."""
    if any(name not in values for name in spec.key):
        return "fill it in"
    known = {" ".join(str(part) for part in key): None for key in base}
    hint = near_miss(" ".join(str(part) for part in key_of(spec, values)), known)
    return hint or NEW_KEY


def _wrong_length(cells: list[str], last: int, named: set[int], origin: Origin) -> Issue | None:
    if len(cells) <= last:
        return Issue(
            origin,
            "the row is too short",
            f"{len(cells)} cells",
            f"{last + 1} cells",
            "fill the row up; cells with nothing to say stay blank but are there",
        )
    extra = next((cell for i, cell in enumerate(cells) if i not in named and cell.strip()), None)
    if extra is None:
        return None
    return Issue(
        origin,
        "a cell outside the named columns",
        shown(extra),
        f"{len(named)} cells",
        "put a text that holds commas into double quotes, or clear the cell",
    )


def _blank(origin: Origin, column: Column) -> Issue:
    return Issue(origin.at(column.name), "blank where a value is required", "", column.meaning, "fill it in")


def _row_rules(
    values: dict[str, Any], spec: TableSpec, origin: Origin, seen: dict[tuple[Any, ...], int], row: int
) -> Iterator[Issue]:
    key = tuple(values[name] for name in spec.key)
    if key in seen:
        label = " / ".join(str(part) for part in key if part != "")
        yield Issue(
            origin.at(" ".join(spec.key)),
            "the same row twice",
            f"“{label}” in rows {seen[key]} and {row}",
            f"each {' + '.join(spec.key)} once",
            "delete one of the two or rename it",
        )
    seen.setdefault(key, row)
    if values.get("basis") == "published" and not values.get("source"):
        yield Issue(
            origin.at("source"),
            "published without a source",
            "",
            "the publication by name",
            "name it, or use another basis: " + ", ".join(name for name in BASES if name != "published"),
        )


def shorten(issues: list[Issue]) -> list[Issue]:
    """The same complaints with long runs of a kind (file, column, problem) cut to twenty and a count."""
    kept: list[Issue] = []
    counts: dict[tuple[str, str, str], list[Issue]] = {}
    for issue in issues:
        alike = counts.setdefault((issue.where.file, issue.where.column, issue.problem), [])
        alike.append(issue)
        if len(alike) <= MOST_ALIKE:
            kept.append(issue)
    for (file, column, problem), alike in counts.items():
        if (more := len(alike) - MOST_ALIKE) > 0:
            rows = [issue.where.row for issue in alike[MOST_ALIKE:] if issue.where.row is not None]
            span = f", rows {min(rows)} to {max(rows)}" if rows else ""
            note(
                kept,
                Origin(file, None, column),
                problem,
                f"{more} more of the same{span}",
                alike[0].accepted,
                alike[0].next_step,
                alike[0].severity,
            )
    return kept

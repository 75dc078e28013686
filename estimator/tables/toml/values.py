"""TOML values to typed values, driven by declared columns; complaints name the key and its line."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from estimator.core.days import DayError, day_as_written, day_in_reach
from estimator.core.errors import Issue, Origin, note, shown, unknown_word
from estimator.core.units import TOO_LARGE, UnitError, parse_quantity, plain_decimal
from estimator.model.column import Column
from estimator.tables.cells import (
    CellError,
    check_choice,
    check_id,
    check_range,
    range_text,
    read_number,
    read_with_unit,
    read_yes_no,
)
from estimator.tables.sums import read_sum
from estimator.tables.toml.text import TomlFile


def number_of(raw: object) -> Decimal:
    """A TOML number, or a text that holds one, as an exact Decimal; CellError otherwise."""
    if isinstance(raw, str):
        return read_number(raw.strip())
    accepted = "a number such as 3 or 0.5"
    if isinstance(raw, bool) or not isinstance(raw, (int, float, Decimal)):
        raise CellError(f"{kind_of(raw)} where a number belongs", accepted)
    try:
        return plain_decimal(raw)
    except UnitError as error:
        found = {"a finite number": "not a number", TOO_LARGE: "a huge number"}
        raise CellError(found.get(str(error), "a number that is too small to be read"), str(error)) from None


def kind_of(raw: object) -> str:
    """What a TOML value is, in plain words."""
    kinds: tuple[tuple[type | tuple[type, ...], str], ...] = (
        (bool, "true or false"),
        (str, "text"),
        ((int, float, Decimal), "a number"),
        ((datetime.date, datetime.time), "a date or time"),
        (list, "a list"),
        (dict, "a group"),
    )
    return next((words for types, words in kinds if isinstance(raw, types)), "a value")


def _text(column: Column, raw: object) -> str:
    if not isinstance(raw, str):
        raise CellError(f"{kind_of(raw)} where a text belongs", 'a text in double quotes: "like this"')
    if not raw.strip():
        raise CellError("an empty text", column.meaning, "fill it in or leave the line out")
    if any(not letter.isprintable() for letter in raw):
        raise CellError("a text with control characters", "letters, digits and signs on one line")
    return raw.strip()


def _number(column: Column, raw: object, currency: str = "") -> Decimal:
    if not isinstance(raw, str):
        value = number_of(raw)
    elif column.kind == "money" and currency:
        value = read_sum(raw, currency)
    else:
        value = read_with_unit(raw.strip(), column.unit)
    low = Decimal(0) if column.kind == "money" and column.low is None else column.low
    check_range(value, low, column.high, column.kind, column.above)
    return value


def _whole(column: Column, raw: object) -> int:
    value = _number(column, raw)
    if value != value.to_integral_value():
        raise CellError("not a whole number", "a whole number, " + range_text(column.low, column.high))
    return int(value)


def read_yes_no_value(raw: object) -> bool:
    """true, false, or the words yes and no."""
    if isinstance(raw, bool):
        return raw
    if not isinstance(raw, str):
        raise CellError(f"{kind_of(raw)} where yes or no belongs", "true, false")
    return read_yes_no(raw.strip())


def _date(column: Column, raw: object) -> str:
    given = raw.date() if isinstance(raw, datetime.datetime) else raw
    try:
        if isinstance(given, datetime.date):
            return day_in_reach(given).isoformat()
        return day_as_written(_text(column, raw)).isoformat()
    except DayError as error:
        raise CellError("not a date", str(error)) from None


def _days(column: Column, raw: object) -> tuple[str, ...]:
    """Days, each with or without quotes; a single one needs no list, and a text may hold several."""
    if not isinstance(raw, str):
        return tuple(_date(column, day) for day in (raw if isinstance(raw, list) else [raw]))
    try:
        return (day_as_written(raw).isoformat(),)
    except DayError:
        return tuple(_date(column, day) for day in raw.replace(",", " ").split())


def _list(column: Column, raw: object) -> tuple[str, ...]:
    words = raw.split() if isinstance(raw, str) else raw
    if not isinstance(words, list):
        raise CellError(f"{kind_of(raw)} where a list of words belongs", 'a list such as ["one", "two"]')
    others = [word for word in words if not isinstance(word, str)]
    if others:
        raise CellError(f"{kind_of(others[0])} in a list of words", 'a list such as ["one", "two"]')
    if len(set(words)) < len(words):
        raise CellError("the same word twice in a list", "each word once")
    return tuple(words)


def _group(column: Column, raw: object) -> dict[str, Any]:
    if not isinstance(raw, dict):
        raise CellError(f"{kind_of(raw)} where a group belongs", "a group such as { name = value }")
    return raw


def _hours(column: Column, raw: object) -> Decimal:
    """Minutes from hours: a plain number is hours, a text may carry units (``6 h 30 min``)."""
    if not isinstance(raw, str) or not any(character.isalpha() for character in raw):
        minutes = number_of(raw) * 60
    else:
        try:
            minutes = parse_quantity(raw, "time")
        except UnitError:
            raise CellError("not a time", 'hours as a number, or a text such as "6 h 30 min"') from None
    check_range(minutes, Decimal(0), None, above=column.above)
    return minutes


NO_MEANINGS: Mapping[str, str] = MappingProxyType({})
_READERS: dict[str, Callable[[Column, object], object]] = {
    "id": lambda column, raw: check_id(_text(column, raw), column.underscores),
    "text": _text,
    "choice": lambda column, raw: check_choice(_text(column, raw), column.choices),
    "number": _number,
    "whole": _whole,
    "yes-no": lambda column, raw: read_yes_no_value(raw),
    "date": _date,
    "hours": _hours,
    "list": _list,
    "days": _days,
    "group": _group,
}


def entries_of(toml: TomlFile, name: str, issues: list[Issue]) -> list[object]:
    """The sections in double brackets of this name; a single one is complained of."""
    raw = toml.values.get(name, [])
    if isinstance(raw, list):
        return raw
    step = "write it with double brackets"
    note(issues, toml.where(name), f"a single [{name}] section", kind_of(raw), f"[[{name}]]", step)
    return []


def read_section(
    toml: TomlFile,
    path: str,
    raw: object,
    columns: Iterable[Column],
    issues: list[Issue],
    currency: str = "",
) -> dict[str, Any]:
    """The typed values of one section: defaults filled in, unknown keys and bad values complained of.

    Keys that were given but cannot be read, and required keys that are missing, are left out of the
    answer; the complaint is in ``issues``. ``currency``: money may be a text with it (``"$1,250"``).
    """
    declared = {column.name: column for column in columns}
    if not isinstance(raw, dict):
        note(
            issues,
            toml.where(path),
            f"{kind_of(raw)} where a section belongs",
            shown(raw),
            f"[{path}] and its keys",
        )
        return {}
    issues.extend(unknown_keys(toml, path, raw, declared, {n: c.meaning for n, c in declared.items()}))
    values: dict[str, Any] = {}
    for name, column in declared.items():
        if name not in raw:
            if column.required:
                note(
                    issues,
                    toml.where(path, name),
                    "a required key is missing",
                    "",
                    column.meaning,
                    f"add a line: {name} = ...",
                )
            else:
                values[name] = column.default
            continue
        try:
            values[name] = (
                _number(column, raw[name], currency)
                if column.kind == "money"
                else _READERS[column.kind](column, raw[name])
            )
        except CellError as error:
            issues.append(cell_issue(error, toml.where(path, name), raw[name]))
    return values


def cell_issue(error: CellError, where: Origin, raw: object) -> Issue:
    """A complaint about one value."""
    found = {True: "true", False: "false"}[raw] if isinstance(raw, bool) else shown(raw)
    return Issue(where, error.problem, found, error.accepted, error.next_step)


def unknown_keys(
    toml: TomlFile,
    path: str,
    raw: Mapping[str, Any],
    accepted: Iterable[str],
    meanings: Mapping[str, str] = NO_MEANINGS,
) -> list[Issue]:
    """One complaint per key that nothing declares, with a near miss or the keys whose meaning begins with it."""
    known = tuple(accepted)
    what = "key" if path else "section or key"
    return [
        unknown_word(
            toml.where(path, key), f"unknown {what}", key, known, short_list(known), _meant(key, meanings)
        )
        for key in raw
        if key not in known
    ]


def _meant(key: str, meanings: Mapping[str, str]) -> str:
    """The keys whose meaning begins with the word, as a question; country: menu_place."""
    meant = [name for name, words in meanings.items() if words.lower().startswith(f"{key.lower()} ")]
    return f"did you mean {' or '.join(f'“{name}”' for name in meant)}?" if meant else ""


LISTED = 14
"""Words of a list that a message names at the most."""


def short_list(words: Iterable[str]) -> str:
    """The first words of a list, and how many there are."""
    words = tuple(words)
    listed = ", ".join(words[:LISTED])
    return f"{listed}, ... ({len(words)} in all)" if len(words) > LISTED else listed

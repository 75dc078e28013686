"""TOML text to plain values, with the line each key stands on and complaints in plain words."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal, InvalidOperation
from typing import Any

from msgspec import Struct, field

from estimator.core.errors import InputError, Issue, Origin, refusal, shown
from estimator.tables.csv_rows import decode

_AT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)\s*$")
_HEADER = re.compile(r"\s*(\[\[|\[)\s*([^\[\]#]+?)\s*\]")
_KEY = re.compile(
    r"""\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*="""
)
_DECIMAL_COMMA = re.compile(r"=\s*[-+]?\d+,\d+\s*(?:#.*)?$")
_DAY = re.compile(r"=\s*\d{1,4}([-./])\d{1,2}\1\d{1,4}\s*(?:#.*)?$")
_WITH_UNIT = re.compile(r"=\s*([-+]?[$€£]?\d[^\"'#\[{]*?)\s*(\"|'')?\s*(?:#.*)?$")
_THOUSANDS = re.compile(r"=\s*([-+]?\d{1,3}(?:,\d{3})+)\s*(?:#.*)?$")
_UNQUOTED = re.compile(r"=\s*[A-Za-z][\w -]*\s*(?:#.*)?$")

#: start of the parser's message -> the same in a bench worker's words, and what to do
_PLAIN_WORDS = (
    ("Cannot overwrite a value", "the same key stands twice", "delete one of the two"),
    ("Cannot declare", "the same section stands twice", "join the two into one"),
    ("Cannot mutate", "the same section stands twice", "join the two into one"),
    ("Expected '=' after", "an = is missing after the name", "write: name = value"),
    ("Invalid statement", "the line cannot be read", "write: name = value, or a [section], or a # remark"),
    ("Invalid value", "the value cannot be read", 'put texts into double quotes: "like this"'),
    (
        "Expected newline or end",
        "something is left over after the value",
        "one name = value a line; texts in quotes",
    ),
    ("Unterminated string", "a quote is opened and never closed", "close the double quote"),
    (
        "Illegal character",
        "a text is not closed on its line, or holds a forbidden character",
        "close the double quote",
    ),
    ("Unclosed array", "a list is opened with [ and never closed", "close it with ], words parted by commas"),
    ("Unclosed inline table", "a group is opened with { and never closed", "close it with }"),
    ("Expected ']", "a section name is not closed", "write [section] or [[part]]"),
    ("Unescaped '\\'", "a backslash in a text", "double it: \\\\"),
    ("Invalid initial character", "the name before the = cannot be read", "use letters, digits, - and _"),
)


class TomlFile(Struct, frozen=True):
    """The plain values of one TOML file and the line of every key (``section.key``)."""

    file: str
    values: dict[str, Any]
    lines: dict[str, int] = field(default_factory=dict)

    def where(self, path: str, key: str = "") -> Origin:
        """Origin of ``key`` in the section ``path`` (dotted; ``part.1`` is the second ``[[part]]``)."""
        row = self.lines.get(f"{path}.{key}" if path and key else path or key) or self.lines.get(path)
        if row is None and not path:
            row = self.lines.get(f"{key}.0")  # sections in double brackets are numbered
        section = (
            f"[[{path.partition('.')[0]}]]" if re.search(r"\.\d+\Z", path) else f"[{path}]" if path else ""
        )
        return Origin(self.file, row, " ".join(filter(None, (section, key))))


def parse_toml(data: bytes, file: str) -> TomlFile:
    """Read the bytes of a TOML file; InputError says line and column of what is broken."""
    text = decode(data, file)
    if isinstance(text, Issue):
        raise refusal(
            text.where,
            text.problem,
            text.found,
            text.accepted,
            "save it as plain UTF-8 text in a text editor",
        )
    text = text.replace("\r\n", "\n")
    try:
        values = tomllib.loads(text, parse_float=_decimal)
    except RecursionError:
        raise refusal(file, "groups or lists are nested too deep", "", "a short job file") from None
    except ValueError as error:
        raise InputError(_broken(str(error), text, file)) from None
    return TomlFile(file, values, _lines(text))


def _decimal(text: str) -> Decimal:
    """A number with a point or an exponent; one beyond all bounds is refused where it is read, as not finite."""
    try:
        return Decimal(text)
    except InvalidOperation:
        return Decimal("Infinity")


def _broken(message: str, text: str, file: str) -> Issue:
    at = _AT.search(message)
    row = int(at[1]) if at and at[1] else text.count("\n") + 1
    lines = text.split("\n")
    line = lines[row - 1].strip() if row <= len(lines) else ""
    column = f"column {at[2]}" if at and at[2] else "end of the file"
    where = Origin(file, row, column)
    if parted := _THOUSANDS.search(line):
        either = f"{parted[1].replace(',', '')} where thousands are meant"
        if parted[1].count(",") == 1:
            either += f", {parted[1].replace(',', '.')} where decimals are"
        problem = "a comma in a number, which may part its thousands or its decimals"
        return Issue(where, problem, shown(line), either, "write the one that is meant, without a comma")
    if _DECIMAL_COMMA.search(line):
        return Issue(
            where, "a comma in a number", shown(line), "a decimal point: 12.50", "write a point for the comma"
        )
    if _DAY.search(line):
        return Issue(
            where,
            "a day that no calendar has, or written another way",
            shown(line),
            "year-month-day, two figures each: 2026-03-01",
            "write the day so, without quotes",
        )
    if (given := _WITH_UNIT.search(line)) and message.startswith(("Expected newline", "Invalid value")):
        return Issue(
            where,
            "a value with a unit, a sign or a fraction, without quotes",
            shown(line),
            'a bare number, or all of it in double quotes: name = "28 in"',
            f'write it as "{given[1].strip()}{" in" if given[2] else ""}"',
        )
    if _UNQUOTED.search(line) and "Invalid value" in message:
        return Issue(where, "a text without quotes", shown(line), 'texts in double quotes: name = "value"')
    for start, problem, step in _PLAIN_WORDS:
        if message.startswith(start):
            return Issue(where, problem, shown(line) if line else "", "a TOML file", step)
    plain = _AT.sub("", message)
    return Issue(
        where,
        "the file cannot be read",
        shown(line) if line else "",
        "a TOML file",
        f"the reader says: {plain}",
    )


def _lines(text: str) -> dict[str, int]:
    """The line of every key and section, by a light scan (long texts in triple quotes are skipped)."""
    lines: dict[str, int] = {}
    counts: dict[str, int] = {}
    section, fence = "", ""
    for number, line in enumerate(text.split("\n"), 1):
        if fence:
            fence = "" if fence in line else fence
            continue
        if header := _HEADER.match(line):
            section = _bare(header[2])
            if header[1] == "[[":
                counts[section] = counts.get(section, -1) + 1
                section = f"{section}.{counts[section]}"
            elif (parent := section.partition(".")[0]) in counts:
                section = section.replace(parent, f"{parent}.{counts[parent]}", 1)
            lines.setdefault(section, number)
        elif key := _KEY.match(line):
            lines.setdefault(f"{section}.{_bare(key[1])}" if section else _bare(key[1]), number)
        for quotes in ('"""', "'''"):
            if line.count(quotes) % 2:
                fence = quotes
    return lines


def _bare(name: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in name.split("."))

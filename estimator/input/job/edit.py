"""Changing values of a job file and nothing else of it: remarks, order and all other lines stay as they are.

What comes out is read again and held against what was asked for; a file that cannot be changed so is refused.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from estimator.core.errors import InputError, refusal
from estimator.tables.toml.text import parse_toml
from estimator.tables.toml.write import key_text, quoted, toml_text

Path = tuple[str, ...]
Changes = Mapping[Path, object]
"""Where a value stands (``("wish", "require", "hum")``) and what it is to be; None takes it out."""


def with_changes(values: Mapping[str, Any], changes: Changes) -> dict[str, Any]:
    """The values of a file with some of them changed; a group left empty goes."""
    changed: dict[str, Any] = copy.deepcopy(dict(values))
    for path, value in changes.items():
        groups = [changed]
        for name in path[:-1]:
            inside = groups[-1].setdefault(name, {})
            if not isinstance(inside, dict):
                break
            groups.append(inside)
        if len(groups) < len(path):
            continue  # something else than a group stands there: reading complains of it
        if value is None:
            groups[-1].pop(path[-1], None)
        else:
            groups[-1][path[-1]] = value
    return changed


def edited(text: str, changes: Changes, file: str) -> str:
    """The text of a job file with some values changed; InputError where it cannot be done line by line."""
    wanted = with_changes(parse_toml(text.encode(), file).values, changes)
    lines = text.replace("\r\n", "\n").split("\n")
    try:
        for path, value in changes.items():
            if _at(parse_toml("\n".join(lines).encode(), file).values, path) != value:
                _change(lines, path, value, wanted)
        told = "\n".join(lines)
        same = _tidy(parse_toml(told.encode(), file).values) == _tidy(wanted)
    except InputError:
        same = False
    if not same:
        raise refusal(
            file,
            "the file is written in a way that cannot be changed line by line",
            next_step="change it in a text editor: one name = value a line below its [section]",
        )
    return told


def _at(values: Mapping[str, Any], path: Path) -> object:
    found: object = values
    for name in path:
        if not isinstance(found, Mapping) or name not in found:
            return None
        found = found[name]
    return found


def _tidy(values: object) -> object:
    """Values for a comparison: groups that hold nothing count as not there."""
    if isinstance(values, Mapping):
        inside = {name: _tidy(value) for name, value in values.items()}
        return {name: value for name, value in inside.items() if value != {}}
    if isinstance(values, list):
        return [_tidy(value) for value in values]
    return values


def _change(lines: list[str], path: Path, value: object, wanted: Mapping[str, Any]) -> None:
    """Change, add or take out one value: where it stands by itself, else the group that holds it."""
    for cut in range(len(path) - 1, 0, -1):
        section, key = ".".join(path[:cut]), path[cut]
        head = _section(lines, section)
        if head is None:
            continue
        there = _value_lines(lines, head, key)
        if there is None and cut < len(path) - 1 and _section(lines, ".".join(path[: cut + 1])) is None:
            if value is None:
                return
            _insert(lines, head, f"{key_text(key)} = {toml_text(_at(wanted, path[: cut + 1]))}")
            return
        new = _at(wanted, path[: cut + 1])
        new = None if new == {} else new
        if there is not None:
            _replace(lines, there, key, new)
        elif new is not None:
            _insert(lines, head, f"{key_text(key)} = {toml_text(new)}")
        return
    if value is not None:
        section = ".".join(key_text(name) for name in path[:-1])
        while lines and not lines[-1].strip():
            lines.pop()
        lines += ["", f"[{section}]", f"{key_text(path[-1])} = {toml_text(value)}", ""]


def _section(lines: list[str], name: str) -> int | None:
    """The number of the line [name]."""
    head = re.compile(r"\s*\[\s*" + r"\s*\.\s*".join(map(re.escape, name.split("."))) + r"\s*\]\s*(#.*)?\Z")
    return next((number for number, line in enumerate(lines) if head.match(line)), None)


def _end(lines: list[str], head: int) -> int:
    """The line behind the last of a section, by its next heading."""
    return next((n for n in range(head + 1, len(lines)) if re.match(r"\s*\[", lines[n])), len(lines))


def _value_lines(lines: list[str], head: int, key: str) -> tuple[int, int] | None:
    """First line of a value and the line behind its last; a list may take several."""
    number, end = head + 1, len(lines)
    wanted = re.compile(rf"\s*(?:{re.escape(key)}|{re.escape(quoted(key))}|'{re.escape(key)}')\s*=")
    while number < end:
        line = lines[number]
        if re.match(r"\s*\[", line):
            return None
        if not line.strip() or line.lstrip().startswith("#"):
            number += 1
            continue
        last = next((n for n in range(number + 1, end + 1) if _whole("\n".join(lines[number:n]))), end)
        if wanted.match(line):
            return number, last
        number = last
    return None


def _whole(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


def _remark(line: str) -> str:
    """The remark at the end of a line with a value, with the blanks before it."""
    for at in (match.start() for match in re.finditer("#", line)):
        if _whole(line[:at]):
            rest = line[:at].rstrip()
            return line[len(rest) :]
    return ""


def _replace(lines: list[str], there: tuple[int, int], key: str, value: object) -> None:
    first, last = there
    if value is None:
        del lines[first:last]
        return
    remark = _remark(lines[first]) if last == first + 1 else ""
    lines[first:last] = [f"{key_text(key)} = {toml_text(value)}{remark}"]


def _insert(lines: list[str], head: int, line: str) -> None:
    """Below the last line of a section that holds something."""
    number = _end(lines, head)
    while number > head + 1 and not lines[number - 1].strip():
        number -= 1
    # remarks right above the next heading belong to that heading
    while number > head + 1 and number < len(lines) and lines[number - 1].lstrip().startswith("#"):
        if not any(lines[n].strip() for n in range(number, _end(lines, head))):
            break
        number -= 1
    lines.insert(number, line)

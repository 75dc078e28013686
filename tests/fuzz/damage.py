"""A file damaged in the ways in which files come damaged: by editors, spreadsheets, mail, hands and luck.

Each kind of damage takes the bytes and a source of chance, and gives bytes; the same seed damages alike.
"""

from __future__ import annotations

import csv
import io
import json
import random
import re
import zipfile
from collections.abc import Callable
from typing import Any

Damage = Callable[[bytes, random.Random], bytes]

#: what may stand in a cell, beside what belongs there
CELLS = (
    "",
    " ",
    "-",
    "?",
    "none",
    "yes",
    "some",
    "a few words, with commas",
    "0",
    "-1",
    "-0.5",
    "1e400",
    "1e30",
    "9" * 40,
    "9" * 5000,
    "nan",
    "inf",
    "1/0",
    "1/2",
    "3,5",
    "1.234,50",
    "2026-10-05",
    "31/31/2026",
    "09:15",
    "12 stone",
    "3 h 90 min",
    "5 mm",
    "250k",
    "100 %",
    "=1+1",
    "=cmd|' /c calc'!A1",
    '"',
    "'",
    "a\nb",
    "ü€漢",
    "\u202eabc",
    "../../up",
    "/dev/null",
    "x" * 20_000,
    "set-up",
    "plain",
    "true",
    "#",
    "[x]",
    "{x}",
)
#: what may stand to the right of a key of a TOML file
VALUES = (
    '""',
    '"words"',
    '"a few words, with commas"',
    "0",
    "-1",
    "1.5",
    "-0.5",
    "1e400",
    "1e30",
    "9" * 40,
    "9" * 5000,
    "nan",
    "-inf",
    "true",
    "2026-10-05",
    "2026-10-05T09:15:00Z",
    "2026-10-05T09:15:00",
    "09:15:00",
    "0001-01-01",
    "9999-12-31",
    '"2026-13-45"',
    '"9999-12-31 23:59"',
    '"1/0"',
    '"3,5"',
    '"5 mm"',
    '"12 stone"',
    '"1e999"',
    "[]",
    "[1]",
    '["a", "b"]',
    '["set-up"]',
    "[[1], [2]]",
    "[{}]",
    "{}",
    "{ a = 1 }",
    "{ set-up = 3 }",
    '{ most = "x" }',
    '"' + "x" * 20_000 + '"',
    '"ü€漢"',
    '"\\u0000"',
    '"\\u202e"',
    '"a\\nb"',
    '"../../up"',
    '"/dev/null"',
    '"."',
    '"plain.toml"',
    "0x10",
    "",
)
#: what may stand in the place of a value of JSON
DATA: tuple[Any, ...] = (
    None,
    True,
    0,
    -1,
    1.5,
    10**40,
    float("inf"),
    "",
    "words",
    "2026-10-05",
    "9999-12-31T23:59",
    "0001-01-01T00:00",
    "2026-10-05T09:00+02:00",
    "a:b",
    "x" * 20_000,
    "\ud800",
    [],
    {},
    [[]],
    [None],
    {"a": 1},
    ["a"],
)
PIECES = (
    b"\0",
    b"\r",
    b"\n",
    b"\xff\xfe",
    b"\xef\xbb\xbf",
    b"\xe4",
    b"\xed\xa0\x80",
    b'"',
    b'"""',
    b"'",
    b",",
    b";",
    b"\t",
    b"=",
    b"[",
    b"]",
    b"[[",
    b"{",
    b"}",
    b"#",
    b"9" * 5000,
    b"\x1a",
    b"\x1b[2J",
    b"\xe2\x80\xa8",
    b"x" * 200_000,
)


# ------------------------------------------------------------------- any file


def cut_short(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def nothing(data: bytes, chance: random.Random) -> bytes:
    return chance.choice((b"", b"\n", b" \n\t\r\n", b"\xef\xbb\xbf", b"\0" * 64))


def flipped(data: bytes, chance: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 3, 20))):
        if out:
            out[chance.randrange(len(out))] = chance.randrange(256)
    return bytes(out)


def put_in(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + chance.choice(PIECES) + data[at + chance.choice((0, 0, 1, 9)) :]


def piece_lost(data: bytes, chance: random.Random) -> bytes:
    start = chance.randrange(len(data) + 1)
    return data[:start] + data[start + chance.choice((1, 7, 80, 2000)) :]


def twice(data: bytes, chance: random.Random) -> bytes:
    return data + data


def other_bytes(data: bytes, chance: random.Random) -> bytes:
    """A file of another kind under this name."""
    return chance.choice(
        (
            b"\x89PNG\r\n\x1a\n" + chance.randbytes(200),
            b"PK\x03\x04" + chance.randbytes(200),
            b"%PDF-1.7\n" + chance.randbytes(50),
            b"<html><body>404</body></html>",
            b"SQLite format 3\0" + chance.randbytes(84),
            chance.randbytes(300),
        )
    )


# ------------------------------------------------------------------- any text


def line_ends(data: bytes, chance: random.Random) -> bytes:
    return data.replace(b"\r\n", b"\n").replace(b"\n", chance.choice((b"\r", b"\r\n", b"\n\n", b"\r\r\n")))


def other_coding(data: bytes, chance: random.Random) -> bytes:
    text = data.decode("utf-8", "replace")
    if chance.random() < 0.5:
        text = text.replace("e", "é")
    return text.encode(
        chance.choice(("utf-16", "utf-16-le", "utf-32", "latin-1", "cp1252", "utf-8-sig", "cp437")),
        "replace",
    )


def lines_moved(data: bytes, chance: random.Random) -> bytes:
    """A line lost, doubled, or in another place."""
    lines = data.splitlines(keepends=True)
    if not lines:
        return data
    line = lines.pop(chance.randrange(len(lines)))
    for _ in range(chance.choice((0, 1, 2))):
        lines.insert(chance.randrange(len(lines) + 1), line)
    return b"".join(lines)


def nested(data: bytes, chance: random.Random) -> bytes:
    """Brackets in brackets, deeper than any reader would go."""
    depth = chance.choice((50, 2000, 100_000))
    opened = chance.choice((b"[", b"{a=", b'{"a":', b"("))
    place = chance.choice((b"x = ", b"\n", b""))
    at = chance.choice((0, len(data)))
    return data[:at] + place + opened * depth + data[at:]


# ------------------------------------------------------------------- tables


def _rows(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8", "replace"), newline="")))


def _joined(rows: list[list[str]], delimiter: str = ",") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return out.getvalue().encode("utf-8", "replace")


def other_cell(data: bytes, chance: random.Random) -> bytes:
    rows = _rows(data)
    full = [row for row in rows if row]
    for _ in range(chance.choice((1, 1, 1, 4))):
        if full:
            row = chance.choice(full[1:] or full) if chance.random() < 0.9 else full[0]
            row[chance.randrange(len(row))] = chance.choice(CELLS)
    return _joined(rows)


def other_delimiter(data: bytes, chance: random.Random) -> bytes:
    if chance.random() < 0.3:
        return data.replace(b",", b";")
    return _joined(_rows(data), chance.choice(";\t|: "))


def columns_moved(data: bytes, chance: random.Random) -> bytes:
    """A column lost, doubled, or under another name."""
    rows = _rows(data)
    if not rows or not rows[0]:
        return data
    at = chance.randrange(len(rows[0]))
    kind = chance.randrange(4)
    for row in rows:
        if at < len(row):
            if kind == 0:
                row.pop(at)
            elif kind == 1:
                row.append(row[at])
            elif kind == 2:
                row.insert(0, row.pop(at))
    if kind == 3:
        rows[0][at] = chance.choice((*CELLS, rows[0][0].upper(), rows[0][-1] + "s"))
    return _joined(rows)


def rows_of_other_length(data: bytes, chance: random.Random) -> bytes:
    rows = _rows(data)
    for row in rows[chance.choice((0, 1)) :]:
        if chance.random() < 0.6:
            kept = chance.randrange(len(row) + 1)
            row[kept:] = [] if chance.random() < 0.6 else [*row[kept:], *chance.choices(CELLS, k=3)]
    return _joined(rows)


# ------------------------------------------------------------------- TOML and JSON

_PAIR = re.compile(rb"^(\s*[\w.\"-]+\s*=\s*)(.*)$", re.M)
_INLINE = re.compile(rb"([\w-]+\s*=\s*)(\"[^\"\n]*\"|[\w.+-]+)")
_HEAD = re.compile(rb"^\[+([\w.-]+)\]+", re.M)


def other_value(data: bytes, chance: random.Random) -> bytes:
    for _ in range(chance.choice((1, 1, 1, 3))):
        found = list(chance.choice((_PAIR, _INLINE)).finditer(data))
        if found:
            one = chance.choice(found)
            data = data[: one.start(2)] + chance.choice(VALUES).encode() + data[one.end(2) :]
    return data


def other_key(data: bytes, chance: random.Random) -> bytes:
    found = list(_PAIR.finditer(data))
    if not found:
        return data
    one, two = chance.choice(found), chance.choice(found)
    new = chance.choice((b"x = ", b"a.b.c = ", b'"" = ', b'"a b" = ', b"= ", two[1], one[1] * 2))
    return data[: one.start(1)] + new + data[one.end(1) :]


def other_head(data: bytes, chance: random.Random) -> bytes:
    """A section as a list, a list as a section, a section twice, or of another name."""
    found = list(_HEAD.finditer(data))
    if not found:
        return data
    one, two = chance.choice(found), chance.choice(found)
    new = chance.choice(
        (b"[%s]" % one[1], b"[[%s]]" % one[1], two[0], b"[x]", b"[%s.x]" % one[1], b"%s = 3" % one[1], b"")
    )
    return data[: one.start()] + new + data[one.end() :]


def _places(value: Any) -> list[tuple[Any, Any]]:
    found = []
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, below in pairs:
        found.append((value, key))
        found += _places(below)
    return found


def other_data(data: bytes, chance: random.Random) -> bytes:
    value = json.loads(data)
    for _ in range(chance.choice((1, 1, 1, 3))):
        places = _places(value)
        if not places:
            break
        holder, key = chance.choice(places)
        kind = chance.randrange(4)
        if kind == 0:
            del holder[key]
        elif kind == 1 and isinstance(holder, dict):
            holder[chance.choice(("", "x", "a:b", "2026-10-05"))] = holder.pop(key)
        elif kind == 1:
            holder.append(holder[key])
        else:
            holder[key] = chance.choice(DATA)
    return json.dumps(value, indent=1).encode()


# ------------------------------------------------------------------- workbooks and sheets of text

_BRACKET = re.compile(rb"\[[^\]\n]*\]")


def other_bracket(data: bytes, chance: random.Random) -> bytes:
    """Something written into a place of a measuring sheet."""
    for _ in range(chance.choice((1, 2, 8))):
        found = list(_BRACKET.finditer(data))
        if found:
            one = chance.choice(found)
            new = b"[" + chance.choice(CELLS).encode() + chance.choice((b"]", b"]", b"]", b""))
            data = data[: one.start()] + new + data[one.end() :]
    return data


def other_sheet_cell(data: bytes, chance: random.Random) -> bytes:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    for _ in range(chance.choice((1, 3, 10, 40))):
        cell = chance.choice(cells)
        if not hasattr(cell, "column_letter"):
            continue  # beneath a merged cell
        value = chance.choice((*CELLS, None, 0, -1, 1.5, 1e300, True, 10**15, "#DIV/0!", "=A1", "=1/0"))
        text = re.sub(r"[\0-\x08\x0b-\x1f]", "", value) if isinstance(value, str) else value
        cell.value = text
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def sheets_moved(data: bytes, chance: random.Random) -> bytes:
    """A sheet lost or renamed, rows or columns taken out or put in."""
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data))
    sheet = chance.choice(book.worksheets)
    act = chance.randrange(6)
    at = chance.randrange(1, 12)
    if act == 0 and len(book.worksheets) > 1:
        book.remove(sheet)
    elif act == 1:
        sheet.title = chance.choice(("x", "Sheet1", "ü€"))
    elif act == 2:
        sheet.delete_rows(at, chance.choice((1, 5)))
    elif act == 3:
        sheet.insert_rows(at, 2)
    elif act == 4:
        sheet.delete_cols(chance.randrange(1, 5))
    else:
        sheet.insert_cols(chance.randrange(1, 5))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def part_damaged(data: bytes, chance: random.Random) -> bytes:
    """One part within the package damaged, lost, doubled, or empty; the package itself is whole."""
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        parts = [(name, old.read(name)) for name in old.namelist()]
    at = chance.randrange(len(parts))
    name, content = parts[at]
    act = chance.randrange(5)
    if act == 0:
        del parts[at]
    elif act == 1:
        parts[at] = (name, chance.choice((cut_short, flipped, put_in, piece_lost))(content, chance))
    elif act == 2:
        parts[at] = (name, b"")
    elif act == 3:
        parts[at] = (chance.choice(("../x", "/abs", "x" * 300, name.upper())), content)
    else:
        values = list(re.finditer(rb"<v>([^<]*)</v>|\bt=\"(\w+)\"|\br=\"(\w+)\"|\bs=\"(\d+)\"", content))
        if values:
            one = chance.choice(values)
            group = next(n for n in range(1, 5) if one[n] is not None)
            new = chance.choice(
                (b"", b"-1", b"999999999", b"words", b"1e400", b"nan", b"b", b"s", b"e", b"d")
            )
            content = content[: one.start(group)] + new + content[one.end(group) :]
        parts[at] = (name, content)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new_book:
        for part, inside in parts:
            new_book.writestr(part, inside)
    return out.getvalue()


ANY: tuple[Damage, ...] = (cut_short, nothing, flipped, put_in, piece_lost, twice, other_bytes)
TEXT: tuple[Damage, ...] = (line_ends, other_coding, lines_moved, nested)
CSV = (other_cell,) * 6 + (other_delimiter, columns_moved, columns_moved, rows_of_other_length)
TOML = (other_value,) * 9 + (other_key, other_key, other_head, other_head)
JSON = (other_data,) * 9
SHEET_TEXT = (other_bracket,) * 6
XLSX = (other_sheet_cell,) * 4 + (sheets_moved,) * 2 + (part_damaged,) * 3
KINDS: dict[str, tuple[Damage, ...]] = {
    "csv": (*ANY, *TEXT, *CSV),
    "toml": (*ANY, *TEXT, *TOML),
    "json": (*ANY, *TEXT, *JSON),
    "txt": (*ANY, *TEXT, *SHEET_TEXT),
    "xlsx": (*ANY, *XLSX),
    "bytes": ANY,
}


def damaged(data: bytes, kind: str, chance: random.Random) -> tuple[bytes, str]:
    """The bytes after one kind of damage, or two, and what was done, in words."""
    done = []
    for _ in range(chance.choice((1, 1, 1, 2))):
        damage = chance.choice(KINDS[kind])
        try:
            data = damage(data, chance)
        except Exception:
            if not done:
                raise
            continue  # the first damage left nothing that the second could read
        done.append(damage.__name__.replace("_", " "))
    return data, ", ".join(done)

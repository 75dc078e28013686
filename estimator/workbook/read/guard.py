"""A look at a workbook before it is parsed: too large, not a workbook, or made to do harm.

Limits are far above what an honest workbook of this tool needs. Nothing is unpacked beyond them,
and no part is parsed here; what passes is read with openpyxl, macros and links left alone.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from io import BytesIO
from pathlib import Path

from estimator.core.errors import InputError, Origin, refusal
from estimator.core.given import whole

MEGABYTE = 1024 * 1024
LARGEST_FILE = 10 * MEGABYTE
LARGEST_PART = 48 * MEGABYTE
LARGEST_WHOLE = 96 * MEGABYTE
MOST_PARTS = 300
MOST_MERGES = 2_000
MOST_MERGED_CELLS = 50_000
LAST_ROW = 20_000
LAST_COLUMN = 100
MOST_CELLS = 300_000
CHUNK = 65_536
NEXT = "open it in a spreadsheet program and save it again as .xlsx, or start from a fresh export"
_MERGE = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*ref="([A-Za-z]+)(\d+):([A-Za-z]+)(\d+)"')
_CELL = re.compile(rb'<(?:\w+:)?c\s[^>]*?\br="([A-Za-z]+)(\d+)"')
_ANY_CELL = re.compile(rb"<(?:\w+:)?c[\s>/]")
_ROW = re.compile(rb'<(?:\w+:)?row\s[^>]*?\br="(\d+)"')


def check_workbook(path: str | Path) -> bytes:
    """The bytes of a workbook that is safe to parse; InputError in plain words for any other."""
    file = Path(path)
    where = Origin(str(path))
    try:
        if file.is_dir():
            raise _no(
                where, "this is a folder, not a file", "a folder", "a workbook (.xlsx)", "give the file in it"
            )
        size = file.stat().st_size
        if size > LARGEST_FILE:
            raise _no(
                where,
                "the file is too large",
                f"{size / MEGABYTE:.1f} MB",
                f"up to {LARGEST_FILE // MEGABYTE} MB",
            )
        data = whole(file)
    except FileNotFoundError as error:
        raise _no(
            where, "there is no such file", "", "a workbook (.xlsx)", "check the spelling and the folder"
        ) from error
    except OSError as error:
        raise _no(
            where, "the file cannot be read", (error.strerror or "").lower(), "a readable file"
        ) from error
    check_bytes(data, str(path))
    return data


def check_bytes(data: bytes, name: str) -> None:
    """Refuse bytes that are no honest workbook; InputError."""
    where = Origin(name)
    if not data.startswith(b"PK\x03\x04"):
        raise _no(where, "this is not an .xlsx workbook", _what_it_is(data), "a workbook saved as .xlsx")
    try:
        with zipfile.ZipFile(BytesIO(data)) as package:
            _package(package, where)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise _no(where, "the file is damaged or cut off", "", "a whole workbook") from error


def _what_it_is(data: bytes) -> str:
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        return "an old .xls workbook, or one with a password"
    if not data:
        return "an empty file"
    if data[:64].lstrip()[:1] in (b"<", b"{"):
        return "a text file of another kind"
    return "something else (CSV, perhaps)"


def _package(package: zipfile.ZipFile, where: Origin) -> None:
    entries = package.infolist()
    names = [entry.filename for entry in entries]
    if "mimetype" in names:
        raise _no(where, "this is an OpenDocument file", ".ods", "a workbook saved as .xlsx")
    if "[Content_Types].xml" not in names or "xl/workbook.xml" not in names:
        raise _no(
            where, "this is not an .xlsx workbook", "another kind of package", "a workbook saved as .xlsx"
        )
    if len(entries) > MOST_PARTS:
        raise _no(where, "the workbook has too many parts", str(len(entries)), f"up to {MOST_PARTS}")
    if len({name.lower() for name in names}) != len(names):
        raise _no(where, "the workbook holds a part twice", "", "each part once")
    for entry in entries:
        if (
            entry.filename.startswith(("/", "\\"))
            or ".." in re.split(r"[/\\]", entry.filename)
            or ":" in entry.filename
        ):
            raise _no(
                where,
                "the workbook holds a part with a path that leads outside",
                "",
                "parts inside the workbook",
            )
        if entry.flag_bits & 1:
            raise _no(where, "the workbook is encrypted", "", "a workbook without a password")
    if sum(entry.file_size for entry in entries) > LARGEST_WHOLE:
        raise _no(where, "the workbook unpacks to too much", "", f"up to {LARGEST_WHOLE // MEGABYTE} MB")
    unpacked = cells = 0
    for entry in entries:
        if not entry.filename.lower().endswith((".xml", ".rels", ".vml")):
            continue
        content = _unpacked(package, entry, where)
        unpacked += len(content)
        if unpacked > LARGEST_WHOLE:
            raise _no(where, "the workbook unpacks to too much", "", f"up to {LARGEST_WHOLE // MEGABYTE} MB")
        _xml(content, entry.filename, where)
        if b"<sheetData" in content or b":sheetData" in content:
            cells += _sheet(content, entry.filename, where)
            if cells > MOST_CELLS:
                raise _no(
                    where,
                    "the workbook holds too many cells",
                    f"more than {MOST_CELLS}",
                    f"up to {MOST_CELLS}",
                )


def _unpacked(package: zipfile.ZipFile, entry: zipfile.ZipInfo, where: Origin) -> bytes:
    """A part, unpacked piece by piece so that a lie about its size does no harm."""
    pieces, size = [], 0
    with package.open(entry) as stream:
        while piece := stream.read(CHUNK):
            size += len(piece)
            if size > LARGEST_PART:
                raise _no(
                    where,
                    f"the part {entry.filename} is too large",
                    "",
                    f"up to {LARGEST_PART // MEGABYTE} MB",
                )
            pieces.append(piece)
    return b"".join(pieces)


def _xml(content: bytes, part: str, where: Origin) -> None:
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _no(where, f"the part {part} is not UTF-8", "another coding", "UTF-8") from error
    if b"\x00" in content:
        raise _no(where, f"the part {part} is not UTF-8", "another coding", "UTF-8")
    declared = re.match(rb"\s*(?:\xef\xbb\xbf)?<\?xml[^>]*encoding=[\"']([^\"']+)", content)
    if declared and declared[1].lower() not in (b"utf-8", b"us-ascii", b"ascii"):
        raise _no(where, f"the part {part} is not UTF-8", declared[1].decode("ascii", "replace"), "UTF-8")
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        raise _no(
            where, f"the part {part} declares a document type or entities", "", "plain XML without them"
        )


def _sheet(content: bytes, part: str, where: Origin) -> int:
    merges = _MERGE.findall(content)
    merged = sum(
        (abs(_column(c2) - _column(c1)) + 1) * (abs(int(r2) - int(r1)) + 1) for c1, r1, c2, r2 in merges
    )
    if len(merges) > MOST_MERGES or merged > MOST_MERGED_CELLS:
        raise _no(
            where,
            f"the sheet {part} has too many merged cells",
            f"{merged} cells",
            f"up to {MOST_MERGED_CELLS}",
        )
    rows = (int(row) for row in _ROW.findall(content))
    far = max(rows, default=0) > LAST_ROW
    for column, row in _CELL.findall(content):
        far = far or int(row) > LAST_ROW or _column(column) > LAST_COLUMN
        if far:
            break
    if far:
        raise _no(
            where, f"the sheet {part} reaches too far", "", f"up to row {LAST_ROW} and column {LAST_COLUMN}"
        )
    return len(_ANY_CELL.findall(content))


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters.upper()[:8]:
        number = number * 26 + letter - 64
    return number


def _no(where: Origin, problem: str, found: str, accepted: str, step: str = NEXT) -> InputError:
    return refusal(where, problem, found, accepted, step)

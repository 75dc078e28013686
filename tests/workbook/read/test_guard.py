"""Files that are no workbook, damaged, or made to do harm: each refused at once, in plain words; honest ones pass."""

from __future__ import annotations

import io
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from estimator.choose.study import Study
from estimator.core.errors import InputError
from estimator.report.csv.cells import csv_text, guarded
from estimator.workbook.read.cells import EditedBook
from estimator.workbook.read.guard import check_bytes, check_workbook
from estimator.workbook.write.quote import quote_bytes
from tests.workbook.recalculate import recalculated

TYPES = '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'
BOOK = '<?xml version="1.0" encoding="UTF-8"?><workbook/>'
SHEET = "xl/worksheets/sheet1.xml"


def package(*more: tuple[str, bytes | str], leave_out: str = "") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in (("[Content_Types].xml", TYPES), ("xl/workbook.xml", BOOK), *more):
            if name != leave_out:
                book.writestr(name, content)
    return out.getvalue()


def sheet(body: str, tail: str = "") -> bytes:
    return package((SHEET, f"<worksheet><sheetData>{body}</sheetData>{tail}</worksheet>"))


def twice() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        for name in ("[Content_Types].xml", "xl/workbook.xml", "xl/a.xml", "xl/A.xml"):
            book.writestr(name, BOOK)
    return out.getvalue()


def encrypted() -> bytes:
    data = bytearray(package())
    for mark in (b"PK\x03\x04", b"PK\x01\x02"):
        at = data.find(mark)
        data[at + (6 if mark.endswith(b"\x04") else 8)] |= 1
    return bytes(data)


def lying() -> bytes:
    """A part that says that it is small and unpacks to 60 MB."""
    data = bytearray(package((SHEET, b"<worksheet>" + b" " * (60 * 1024 * 1024))))
    at = data.rfind(b"PK\x01\x02")
    data[at + 24 : at + 28] = (1000).to_bytes(4, "little")
    return bytes(data)


ENTITIES = (
    '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><worksheet>&b;</worksheet>'
)
BAD: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "an empty file"),
    "csv": (lambda: b"id,what\na,b\n", "not an .xlsx workbook"),
    "web page": (lambda: b"<html></html>", "not an .xlsx workbook"),
    "old or locked": (lambda: b"\xd0\xcf\x11\xe0" + b"\x00" * 600, "password"),
    "cut off": (lambda: package()[:-30], "damaged"),
    "flipped bytes": (
        lambda: package((SHEET, "<worksheet>" + "abc" * 900))[:150] + b"\xff" * 99 + package()[249:],
        "damaged",
    ),
    "another package": (lambda: package(leave_out="xl/workbook.xml"), "not an .xlsx workbook"),
    "no types": (lambda: package(leave_out="[Content_Types].xml"), "not an .xlsx workbook"),
    "opendocument": (
        lambda: package(("mimetype", "application/vnd.oasis.opendocument.spreadsheet")),
        "OpenDocument",
    ),
    "many parts": (lambda: package(*((f"xl/p{n}.bin", b"x") for n in range(400))), "too many parts"),
    "a part twice": (twice, "twice"),
    "path outside": (lambda: package(("../../etc/x.xml", "<x/>")), "outside"),
    "absolute path": (lambda: package(("/etc/x.xml", "<x/>")), "outside"),
    "drive letter": (lambda: package(("c:x.xml", "<x/>")), "outside"),
    "encrypted": (encrypted, "encrypted|damaged"),
    "blanks": (lambda: package((SHEET, b"<worksheet>" + b" " * (100 * 1024 * 1024))), "too much|too large"),
    "one letter": (
        lambda: package(("xl/sharedStrings.xml", b"<sst>" + b"a" * (60 * 1024 * 1024))),
        "too large",
    ),
    "lying about size": (lying, "too large|damaged"),
    "entities": (lambda: package((SHEET, ENTITIES)), "entities"),
    "entities in the book": (lambda: package(("xl/styles.xml", ENTITIES)), "entities"),
    "entities in UTF-16": (lambda: package((SHEET, ENTITIES.encode("utf-16"))), "UTF-8"),
    "external entity": (
        lambda: package(
            (SHEET, '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><worksheet>&e;</worksheet>')
        ),
        "entities",
    ),
    "claims another coding": (
        lambda: package((SHEET, "<?xml version='1.0' encoding='utf-7'?><worksheet/>")),
        "UTF-8",
    ),
    "huge merge": (lambda: sheet("", '<mergeCells><mergeCell ref="A1:XFD200"/></mergeCells>'), "merged"),
    "many merges": (
        lambda: sheet("", "".join(f'<mergeCell ref="A{n}:B{n}"/>' for n in range(1, 3000))),
        "merged",
    ),
    "far corner": (lambda: sheet('<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'), "reaches too far"),
    "far column": (lambda: sheet('<row r="1"><c r="XFD1"><v>1</v></c></row>'), "reaches too far"),
    "cells without end": (lambda: sheet("<row>" + "<c><v>1</v></c>" * 400_000 + "</row>"), "too many cells"),
}


@pytest.mark.slow
@pytest.mark.parametrize("kind", BAD)
def test_bad_files_are_refused_at_once_and_said_why(kind: str, tmp_path: Path) -> None:
    make, words = BAD[kind]
    data = make()
    path = tmp_path / "bad.xlsx"
    path.write_bytes(data)
    start = time.perf_counter()
    with pytest.raises(InputError, match=words) as caught:
        check_workbook(path)
    assert time.perf_counter() - start < 3
    (issue,) = caught.value.issues
    assert issue.next_step
    assert issue.where.file.endswith("bad.xlsx")


def test_wrong_places_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        check_workbook(tmp_path / "none.xlsx")
    with pytest.raises(InputError, match="a folder"):
        check_workbook(tmp_path)
    big = tmp_path / "big.xlsx"
    with big.open("wb") as stream:
        stream.truncate(11 * 1024 * 1024)
    with pytest.raises(InputError, match="too large"):
        check_workbook(big)


def test_a_package_that_the_reader_cannot_make_sense_of(tmp_path: Path) -> None:
    path = tmp_path / "odd.xlsx"
    path.write_bytes(package())
    with pytest.raises(InputError, match="cannot be read"):
        EditedBook(path)


@pytest.mark.slow
def test_honest_workbooks_of_three_writers_pass(
    studies: dict[str, Study], chosen: dict[str, tuple[str, ...]], tmp_path: Path
) -> None:
    from openpyxl import load_workbook

    own = tmp_path / "own.xlsx"
    own.write_bytes(quote_bytes(studies["tight-commission"], chosen=chosen["tight-commission"]))
    other = tmp_path / "other.xlsx"
    load_workbook(own).save(other)
    (third,) = recalculated([own], tmp_path / "again")
    start = time.perf_counter()
    for path in (own, other, third):
        check_bytes(path.read_bytes(), path.name)
    assert time.perf_counter() - start < 1.5


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"),
        ("+1+1", "'+1+1"),
        ("-1+1", "'-1+1"),
        ("@x", "'@x"),
        ("\t=1", "' =1"),
        ("\r=1", "'\n=1"),
        (" =1+1", "' =1+1"),
        ("\uff1d1", "'\uff1d1"),
        ("-5", "-5"),
        ("-0.25", "-0.25"),
        ("plain", "plain"),
        (None, ""),
        (True, "yes"),
        (12, "12"),
    ],
)
def test_csv_cells_cannot_become_formulas(cell: object, written: str) -> None:
    assert guarded(cell) == written


def test_csv_tables_quote_what_needs_quoting() -> None:
    assert csv_text(["a", "b"], [['x,"y"', "=1"], [1, None]]) == 'a,b\n"x,""y""",\'=1\n1,\n'

"""Recalculating a workbook with another program, forced to do so, and reading both sets of values."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from defusedxml import ElementTree

if TYPE_CHECKING:
    from openpyxl import Workbook

#: without this setting the program repeats the stored values instead of working them out
FORCED = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""


def spreadsheet_program() -> str:
    """The program's path; skips the test where there is none, but fails on the build server."""
    found = shutil.which("soffice")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("soffice is missing on the build server: install libreoffice-calc")
        pytest.skip("soffice is not installed here: install libreoffice-calc to run the recalculation checks")
    return found


def recalculated(files: Sequence[Path], folder: Path, kind: str = "xlsx", forced: bool = True) -> list[Path]:
    """The files worked out anew and saved under ``folder``; one call for all of them."""
    program = spreadsheet_program()
    assert files, "nothing to work out"  # the program would wait for ever
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True, exist_ok=True)
    if forced:
        (profile / "user" / "registrymodifications.xcu").write_text(FORCED)
    out = folder / "out"
    subprocess.run(
        [
            program,
            f"-env:UserInstallation=file://{profile}",
            "--headless",
            "--convert-to",
            kind,
            "--outdir",
            str(out),
            *map(str, files),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    made = [out / f"{file.stem}.{kind}" for file in files]
    for file in made:
        assert file.exists(), f"{file.name} was not made"
    return made


def cells_of(path: Path, sheets: set[str] | None = None) -> dict[tuple[str, str], object]:
    """Values of all cells, or of those of some sheets, by sheet and address."""
    from openpyxl import load_workbook

    book = load_workbook(path, data_only=True, keep_links=False, read_only=sheets is not None)
    if sheets is not None:
        for sheet in book:
            sheet.reset_dimensions()
    return {
        (sheet.title, cell.coordinate): cell.value
        for sheet in book
        if sheets is None or sheet.title in sheets
        for row in sheet.iter_rows(max_row=sheet.max_row, max_col=sheet.max_column)
        for cell in row
        if cell.value is not None
    }


def formulas_of(path: Path) -> dict[tuple[str, str], str]:
    """Formulas by sheet and address."""
    from openpyxl import load_workbook

    return formulas_in(load_workbook(path, keep_links=False))


def formulas_in(book: Workbook) -> dict[tuple[str, str], str]:
    """The same of a workbook that is read already."""
    return {
        (sheet.title, cell.coordinate): str(cell.value)
        for sheet in book
        for row in sheet.iter_rows(max_row=sheet.max_row, max_col=sheet.max_column)
        for cell in row
        if cell.data_type == "f"
    }


def named_cells(path: Path) -> dict[str, tuple[str, str]]:
    """Names of single cells with their sheet and address."""
    from openpyxl import load_workbook

    names = {}
    for name, defined in load_workbook(path, keep_links=False).defined_names.items():
        match = re.fullmatch(r"'?([^'!]+)'?!\$([A-Z]+)\$(\d+)", defined.attr_text or "")
        if match:
            names[name] = (match[1], match[2] + match[3])
    return names


def differences(stored: Path, again: Path) -> list[str]:
    """Formula cells whose value worked out anew is not the stored one (to one part in 10^9)."""
    return differing(formulas_of(stored), stored, again)


def differing(formulas: Mapping[tuple[str, str], str], stored: Path, again: Path) -> list[str]:
    """The same where the formulas are read already."""
    before, after = cells_of(stored), cells_of(again)
    wrong = []
    for place, formula in formulas.items():
        one, other = before.get(place), after.get(place)
        if isinstance(one, int | float) and isinstance(other, int | float):
            same = abs(one - other) <= 1e-9 * max(1.0, abs(one))
        else:
            same = one == other
        if not same:
            wrong.append(f"{place[0]}!{place[1]} {formula}: stored {one!r}, worked out anew {other!r}")
    return wrong


def sheets_of(path: Path) -> list[str]:
    """The names of the sheets in their order, without reading what stands in them."""
    with zipfile.ZipFile(path) as book:
        root = ElementTree.fromstring(book.read("xl/workbook.xml"))
    return [one.attrib["name"] for one in root.iter() if one.tag.rpartition("}")[2] == "sheet"]


def with_values(path: Path, target: Path, changes: dict[tuple[str, str], float | str]) -> Path:
    """A copy of a workbook with some plain cells changed as a person would type them (formulas keep stale values)."""
    sheets = {title: f"xl/worksheets/sheet{n}.xml" for n, title in enumerate(sheets_of(path), start=1)}
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name).decode("utf-8") if name.endswith(".xml") else old.read(name)
            for (sheet, address), value in changes.items():
                if sheets[sheet] == name:
                    assert isinstance(data, str)
                    data = _typed(data, address, value)
            new.writestr(name, data)
    return target


def _typed(xml: str, address: str, value: float | str) -> str:
    pattern = re.compile(rf'<c r="{address}"( s="\d+")?[^>]*>(?!<f>).*?</c>')
    assert len(pattern.findall(xml)) == 1, f"{address} is no plain cell"
    if isinstance(value, str):
        return pattern.sub(rf'<c r="{address}"\1 t="inlineStr"><is><t>{value}</t></is></c>', xml)
    return pattern.sub(rf'<c r="{address}"\1><v>{value}</v></c>', xml)

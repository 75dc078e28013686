"""The whole shop as one workbook: a sheet a table, with lists to choose from; and back without loss.

Row 1 of every sheet is the heading, so that complaints name the row a worker sees. Numbers are numbers,
everything else is text; ``shop.toml`` stands line by line on a sheet of its own.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from estimator.core.cell_text import a1
from estimator.core.errors import InputError, Issue
from estimator.core.save import save_bytes
from estimator.model.column import Column
from estimator.tables.csv_rows import decode, read_table
from estimator.tables.folders import SHOP_FILE
from estimator.tables.schema.shop import (
    BY_NAME,
    LASTING_TABLES,
    MENU_TABLES,
    PLAN_TABLES,
    PLAUSIBLE_TABLES,
    RESALE_TABLES,
    TABLES,
)
from estimator.tables.schema.table import TableSpec
from estimator.tables.settings import read_terms
from estimator.workbook.read.cells import EditedBook
from estimator.workbook.write.cells import Book, Sheet

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell, MergedCell

SETTINGS_SHEET = "shop.toml"
START_SHEET = "Start"
EXTENSIONS = (".xlsx",)
_PLAIN = re.compile(r"-?(?:0|[1-9]\d{0,11})(?:\.\d{1,9})?\Z")
LONGEST_LIST = 255
GROUPS: Mapping[str, str] = {
    "tasks": "Work at the bench",
    "woods": "Woods, metals, finishes",
    "intake": "The instrument: measured and wished",
    "part_classes": "Parts",
    "upgrades": "Upgrades",
    "customer_words": "Words for customers",
    "tool_times": "Tools, hazards, jobs known to the trade",
    RESALE_TABLES[0].name: "Selling",
    PLAN_TABLES[0].name: "Planning and buying",
    MENU_TABLES[0].name: "Menu and posted prices",
    PLAUSIBLE_TABLES[0].name: "What measured values are held against",
    LASTING_TABLES[0].name: "What is changed for good",
}
"""The groups on the start sheet, by the table with which each begins; the rest follows in the order of tables."""
SPARE_ROWS = 200


def rates_book_bytes(files: Mapping[str, bytes]) -> bytes:
    """One workbook of the files of a shop folder (``tables.folders``); InputError if one cannot be read."""
    book = Book("Rates", date(2000, 1, 1))
    issues: list[Issue] = []
    lengths = {spec.name: files[spec.file].count(b"\n") for spec in TABLES if spec.file in files}
    _write_start(book, files)
    for spec in TABLES:
        if spec.file in files:
            text = decode(files[spec.file], f"rates/{spec.file}")
            if isinstance(text, Issue):
                issues.append(text)
            else:
                _write_table(book, spec, list(csv.reader(StringIO(text))), lengths)
    if SHOP_FILE in files:
        text = decode(files[SHOP_FILE], f"rates/{SHOP_FILE}")
        if isinstance(text, Issue):
            issues.append(text)
        else:
            sheet = book.sheet(Sheet(SETTINGS_SHEET, (110,)))
            for row, line in enumerate(text.splitlines()):
                sheet.text(row, 0, line)
    if issues:
        raise InputError(issues)
    book.property("schema", "1")
    return book.done()


def write_rates_book(files: Mapping[str, bytes], path: str | Path, *, force: bool = False) -> Path:
    """Write the workbook of a shop folder's files."""
    return save_bytes(path, rates_book_bytes(files), force=force, extensions=EXTENSIONS)


def _write_start(book: Book, files: Mapping[str, bytes]) -> None:
    """The first sheet: every table in its group, leading there, with its rows counted and what a row is."""
    sheet = book.sheet(Sheet(START_SHEET, (26, 9, 70), repeat=(2, 2), footer="Tables of the shop"))
    sheet.text(0, 0, "The shop's tables", "title")
    sheet.text(
        1, 0, "Click a name to go there; change, add or take out rows, then read the workbook back.", "soft"
    )
    for column, (head, style) in enumerate(
        (("Table", "head"), ("Rows", "head-right"), ("  What it holds", "head"))
    ):
        sheet.text(2, column, head, style)
    sheet.rule(2, 0, 2, "ink")
    at = 3
    for spec in TABLES:
        if spec.name in GROUPS:
            sheet.text(at, 0, GROUPS[spec.name], "section")
            at += 1
        if spec.file not in files:
            continue
        rows = list(csv.reader(StringIO(files[spec.file].decode("utf-8", "replace"))))
        # the first column may be blank, every row has a basis
        counted = rows[0].index("basis") if rows and "basis" in rows[0] else 0
        first, last = (a1(row, counted, absolute=True) for row in (1, len(rows) + SPARE_ROWS))
        there = sum(1 for row in rows[1:] if row[counted : counted + 1] > [""])
        sheet.link(at, 0, spec.name)
        sheet.formula(at, 1, f"=COUNTA('{spec.name}'!{first}:{last})", there, "whole")
        sheet.text(at, 2, spec.meaning, "soft-wrap", indent=1)
        sheet.rule(at, 0, 2)
        at += 1
    if SHOP_FILE in files:
        sheet.text(at, 0, "Settings", "section")
        sheet.link(at + 1, 0, SETTINGS_SHEET)
        sheet.text(at + 1, 2, "rates, mark-ups and terms, line by line", "soft-wrap", indent=1)


def _write_table(book: Book, spec: TableSpec, lines: list[list[str]], lengths: Mapping[str, int]) -> None:
    head = lines[0] if lines else [column.name for column in spec.columns]
    columns = {column.name: column for column in spec.columns}
    widths = []
    for number in range(len(head)):
        longest = max((len(line[number]) for line in lines if number < len(line)), default=8)
        widths.append(min(max(longest + 2, 8), 48))
    sheet = book.sheet(
        Sheet(spec.name, widths, landscape=True, freeze=(1, 1), repeat=(0, 0), footer=spec.meaning)
    )
    for number, name in enumerate(head):
        sheet.text(0, number, name, "bold")
    sheet.rule(0, 0, len(head) - 1, "ink")
    for row, line in enumerate(lines[1:], start=1):
        for number, cell in enumerate(line):
            column = columns.get(head[number]) if number < len(head) else None
            _write_cell(sheet, row, number, cell, column)
    last = max(len(lines) - 1, 1) + SPARE_ROWS
    for number, name in enumerate(head):
        if name in columns and (source := _choices(columns[name], lengths)):
            sheet.check_range(
                1, number, last, {"validate": "list", "source": source, "error_type": "warning"}
            )


def _write_cell(sheet: Sheet, row: int, number: int, cell: str, column: Column | None) -> None:
    if not cell:
        return
    if column is not None and column.kind in ("number", "money", "whole") and _PLAIN.match(cell):
        decimals = len(cell.partition(".")[2])
        sheet.number(
            row, number, Decimal(cell), "number", num_format="0" + ("." + "0" * decimals if decimals else "")
        )
    else:
        sheet.text(row, number, cell)


def _choices(column: Column, lengths: Mapping[str, int]) -> list[str] | str:
    """What a cell may be chosen from: a short list, or the ids of another table."""
    if column.kind == "yes-no":
        return ["yes", "no"]
    if column.kind == "choice" and len(",".join(column.choices)) <= LONGEST_LIST:
        return list(column.choices)
    if column.kind == "id" and column.refers in lengths and BY_NAME[column.refers].key == ("id",):
        end = a1(lengths[column.refers] + SPARE_ROWS, 0, absolute=True)
        return f"={column.refers}!$A$2:{end}"
    return []


def read_rates_book(path: str | Path) -> dict[str, bytes]:
    """The files of a shop folder from a workbook; InputError carries every complaint, by sheet and cell."""
    book = EditedBook(path)
    files: dict[str, bytes] = {}
    for spec in TABLES:
        if spec.name in book.formulas.sheetnames:
            files[spec.file] = _table_text(book, spec.name).encode("utf-8")
    if SETTINGS_SHEET in book.formulas.sheetnames:
        rows = book.plain(SETTINGS_SHEET).iter_rows(max_col=1, values_only=True)
        files[SHOP_FILE] = ("\n".join("" if row[0] is None else str(row[0]) for row in rows) + "\n").encode(
            "utf-8"
        )
    if not files:
        names = ", ".join(spec.name for spec in TABLES[:6])
        book.complain(
            "(workbook)",
            "",
            "no sheet of this workbook is a table of rates",
            ", ".join(book.formulas.sheetnames)[:200],
            f"sheets named {names}, ...",
            "export the rates first",
        )
    for spec in TABLES:
        if spec.file in files:
            book.issues.extend(read_table(files[spec.file], spec, f"{path}!{spec.name}").issues)
    if SHOP_FILE in files:
        try:
            read_terms([(f"{path}!{SETTINGS_SHEET}", files[SHOP_FILE])])
        except InputError as error:
            book.issues.extend(error.issues)
    book.stop_if_wrong()
    return files


def _table_text(book: EditedBook, name: str) -> str:
    """A sheet as CSV, row for row; cells that hold no plain text or number are complained of."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    page = book.formulas[name]
    width = 0
    for row in page.iter_rows(max_row=page.max_row, max_col=page.max_column):
        cells = [_cell_text(book, name, cell) for cell in row]
        if not width:
            width = max((n for n, cell in enumerate(cells, start=1) if cell), default=0)
        over = [cell for cell in cells[width:] if cell]
        writer.writerow(cells[:width] + over)
    return out.getvalue()


def _cell_text(book: EditedBook, sheet: str, cell: Cell | MergedCell) -> str:
    value, kind = cell.value, cell.data_type
    if kind == "f":
        book.complain(
            sheet,
            cell.coordinate,
            "a formula in a table of rates",
            "a formula",
            "a plain value",
            "copy the cell and paste its value",
        )
        return ""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{Decimal(f'{value:.15g}'):f}"
    if isinstance(value, str) and kind != "e":
        return value.strip()
    found = f"the error {value}" if kind == "e" else f"a date or time ({value})"
    book.complain(
        sheet,
        cell.coordinate,
        "a cell that is neither text nor a number",
        found,
        "text or a number",
        "a fraction such as 1/2 becomes a date: type 0.5, or put an apostrophe before it",
    )
    return ""

"""Reading a workbook that somebody has edited: nothing is guessed, every complaint names sheet and cell.

Numbers come only from number cells. A text that can be read as a number in one way only is shown with
that reading, but not taken.
"""

from __future__ import annotations

import re
import warnings
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import Any

from estimator.core.errors import InputError, Issue, Origin, near_miss, note, refusal, shown
from estimator.tables.cells import plain as number_words
from estimator.workbook.read.guard import LAST_COLUMN, LAST_ROW, NEXT, check_workbook

_TARGET = re.compile(r"'?((?:[^'!]|'')+)'?!\$?([A-Z]+)\$?(\d+)\Z")
_READABLE = re.compile(r"[^\d.,+-]*([+-]?\d+(?:[.,]\d{1,2})?)[^\d.,]*\Z")
_DAYS = range(36_526, 73_051)  # 2000 to 2099 as a sheet counts days


def fifteen(value: int | float | Decimal) -> Decimal:
    """A number as a sheet keeps it: fifteen figures, no more."""
    return Decimal(f"{float(value):.15g}")


class EditedBook:
    """A workbook opened for values and for formulas, collecting complaints."""

    def __init__(self, path: str | Path) -> None:
        self._data = check_workbook(path)
        self.file = str(path)
        self.issues: list[Issue] = []
        self.formulas = self._open(self._data, values=False)

    @cached_property
    def values(self) -> Any:
        """The workbook with the values that its formulas had when it was saved."""
        return self._open(self._data, values=True)

    def plain(self, sheet: str) -> Any:
        """A sheet of values; opening a workbook takes long, and one that holds no formula there is not opened again."""
        page = self.formulas[sheet]
        # asked of the cells that are there: asking by place makes those that are not
        formulas = any(cell.data_type == "f" for cell in page._cells.values())
        return self.values[sheet] if formulas else page

    def _open(self, data: bytes, values: bool) -> Any:
        from openpyxl import load_workbook

        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # about parts of other programs that are left out
                return load_workbook(BytesIO(data), data_only=values, keep_links=False)
        except Exception as error:  # the reader raises a dozen kinds, all for the same reason
            raise refusal(
                self.file, "the workbook cannot be read", accepted="a whole .xlsx workbook", next_step=NEXT
            ) from error

    def marks(self) -> dict[str, str]:
        """The custom properties of the file: what made it, for which job, of which upgrades."""
        return {p.name: str(p.value) for p in self.values.custom_doc_props.props}

    def complain(
        self, sheet: str, cell: str, problem: str, found: str, accepted: str, step: str = ""
    ) -> None:
        """Add a complaint about a cell."""
        where = f"{sheet}!{cell}" if cell else sheet
        note(self.issues, Origin(self.file, None, where), problem, found, accepted, step)

    def stop_if_wrong(self) -> None:
        """InputError with all complaints so far, if any is an error."""
        if any(issue.severity == "error" for issue in self.issues):
            raise InputError(self.issues)

    def has(self, sheet: str) -> bool:
        """Whether there is such a sheet; if not, it is complained of."""
        names = list(self.values.sheetnames)
        if sheet in names:
            return True
        hint = near_miss(sheet, names)
        self.complain(
            sheet,
            "",
            "the sheet is missing",
            ", ".join(names)[:200],
            f"a sheet named {sheet}",
            hint or "export again and take the sheet from there",
        )
        return False

    def named(self, name: str, what: str) -> tuple[str, str] | None:
        """Sheet and cell of a named input, wherever it was moved to; complains when it is gone."""
        defined = self.formulas.defined_names.get(name)
        match = _TARGET.match(defined.attr_text or "") if defined is not None else None
        if match is None or match[1].replace("''", "'") not in self.values.sheetnames:
            self.complain(
                "(workbook)",
                "",
                f"nothing is found for “{what}”",
                f"the name {name} is gone",
                "the named cell",
                "its row was deleted; put it back or export again",
            )
            return None
        return match[1].replace("''", "'"), match[2] + match[3]

    def number(
        self,
        sheet: str,
        cell: str,
        what: str,
        low: Decimal,
        high: Decimal,
        share: bool = False,
        formula_ok: bool = False,
    ) -> Decimal | None:
        """The number in a cell, or None with a complaint."""
        accepted = f"a number from {number_words(low)} to {number_words(high)}"
        merged = self._merged_over(sheet, cell)
        if merged:
            self.complain(
                sheet,
                cell,
                f"{what}: a cell swallowed by a merged block",
                merged,
                accepted,
                "unmerge it and type the value again",
            )
            return None
        value, kind = self.values[sheet][cell].value, self.formulas[sheet][cell].data_type
        if kind == "f" and value is None:
            self.complain(
                sheet,
                cell,
                f"{what}: a formula without a value",
                "saved by a program that does not calculate",
                accepted,
                "open it in a spreadsheet program, save, and try again",
            )
            return None
        if value is None:
            self.complain(sheet, cell, what, "an empty cell", accepted)
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.complain(sheet, cell, what, *_strange(value, accepted))
            return None
        if kind == "f" and not formula_ok:
            self.complain(
                sheet,
                cell,
                what,
                f"the formula {shown(self.formulas[sheet][cell].value)}",
                accepted,
                "type the number itself",
            )
            return None
        number = fifteen(value)
        if not low <= number <= high:
            self.complain(
                sheet, cell, what, f"the number {number_words(number)}", accepted, _hint(number, share, high)
            )
            return None
        return number

    def text(self, sheet: str, cell: str) -> str:
        """The text in a cell, trimmed; numbers as they are typed."""
        value = self.values[sheet][cell].value
        if value is None:
            return ""
        if isinstance(value, float):
            return f"{value:.15g}"
        return " ".join(str(value).split()) if isinstance(value, str) else str(value)

    def choice(self, sheet: str, cell: str, what: str, choices: tuple[str, ...]) -> str | None:
        """One of a few words, whatever the case and the blanks around it."""
        text = self.text(sheet, cell)
        for choice in choices:
            if text.casefold() == choice.casefold():
                return choice
        self.complain(sheet, cell, what, shown(text), " or ".join(choices), near_miss(text.lower(), choices))
        return None

    def header(self, sheet: str, wanted: tuple[str, ...]) -> tuple[int, dict[str, int]] | None:
        """Row and columns (from 1) of a heading row that holds all these words; complains when it is gone."""
        page = self.values[sheet]
        for row in page.iter_rows(min_row=1, max_row=min(page.max_row, LAST_ROW), max_col=LAST_COLUMN):
            found = {" ".join(str(c.value).split()): c.column for c in row if isinstance(c.value, str)}
            if all(word in found for word in wanted):
                return row[0].row, found
        self.complain(
            sheet, "", "the heading row is missing", "", ", ".join(wanted), "put it back or export again"
        )
        return None

    def keyed_rows(self, sheet: str, first: int, column: int, starts: tuple[str, ...]) -> dict[str, int]:
        """Rows below ``first`` by the key in a column; a key that stands twice is complained of."""
        page = self.values[sheet]
        rows: dict[str, int] = {}
        for row in range(first, min(page.max_row, LAST_ROW) + 1):
            key = page.cell(row, column).value
            if not isinstance(key, str) or not key.startswith(starts):
                continue
            if key in rows:
                self.complain(
                    sheet,
                    page.cell(row, column).coordinate,
                    "a copied row",
                    f"the key {shown(key)} also in row {rows[key]}",
                    "every key once",
                    "delete the copy; new work belongs in the job file",
                )
                continue
            rows[key] = row
        return rows

    def _merged_over(self, sheet: str, cell: str) -> str:
        for block in self.values[sheet].merged_cells.ranges:
            if cell in block:
                return str(block.coord)
        return ""


def _strange(value: object, accepted: str) -> tuple[str, str, str]:
    """What stands in a cell where a number belongs: found, accepted, hint."""
    if isinstance(value, bool):
        return "a switch (TRUE or FALSE)", accepted, "type the number"
    if isinstance(value, datetime | date):
        return f"the date {value:%d %b %Y}", accepted, "a fraction such as 1/2 becomes a date: type 0.5"
    if isinstance(value, time | timedelta):
        return f"the time {value}", accepted, "type hours or minutes as a plain number: 1.5, not 1:30"
    text = str(value)
    if text.startswith("#"):
        return f"the error {text}", accepted, "mend the cell"
    match = _READABLE.match(text.strip())
    if match and text.strip().endswith("%"):
        share = Decimal(match[1].replace(",", ".")) / 100
        hint = f"type {share.normalize():f} as a number"
    else:
        hint = f"type {match[1].replace(',', '.')} as a number" if match else "type a plain number"
    return f"the text {shown(text)}", accepted, hint


def _hint(number: Decimal, share: bool, high: Decimal) -> str:
    if share and 1 < number <= 100:
        return f"was {number_words(number)} % meant? type {number_words(number)}%"
    if number == int(number) and int(number) in _DAYS and number > high:
        day = date(1899, 12, 30) + timedelta(days=int(number))
        return f"this is how a sheet stores the date {day.day} {day:%b %Y}"
    return ""

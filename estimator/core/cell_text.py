"""What may stand in a cell: clean text, finite numbers, formulas of known functions; addresses of cells."""

from __future__ import annotations

import re
from decimal import Decimal

from estimator.core.errors import EstimatorError

#: functions that every spreadsheet program of the last fifteen years works out alike
FUNCTIONS = frozenset(
    [
        "SUM",
        "SUMIF",
        "SUMIFS",
        "SUMPRODUCT",
        "ROUND",
        "ROUNDUP",
        "ROUNDDOWN",
        "INT",
        "ABS",
        "MOD",
        "MIN",
        "MAX",
        "AVERAGE",
        "COUNT",
        "COUNTA",
        "COUNTIF",
        "COUNTIFS",
        "IF",
        "AND",
        "OR",
        "NOT",
        "IFERROR",
        "ISNUMBER",
        "ISBLANK",
        "INDEX",
        "MATCH",
        "VLOOKUP",
        "CHOOSE",
        "DATE",
        "YEAR",
        "MONTH",
        "DAY",
        "WEEKDAY",
        "WORKDAY",
        "NETWORKDAYS",
        "EDATE",
        "EOMONTH",
        "LARGE",
        "SMALL",
        "RANK",
        "MEDIAN",
        "SQRT",
    ]
)
_CALL = re.compile(r"([A-Za-z_][A-Za-z0-9_.]*)\(")
_QUOTED = re.compile(r'"[^"]*"')
LONGEST_TEXT = 32_767
LONGEST_MARK = 120
CUT_MARK = " […]"
#: control characters but line ends; halves of characters; bidirectional overrides and isolates, which make a
#: text read other than it is stored
_UNWANTED = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)
Value = int | float | Decimal | str


class UnsafeTextError(EstimatorError):
    """The program tried to write something that must not stand in a workbook (a fault of its own)."""


def clean_text(text: str) -> str:
    """A text fit for a cell: no control characters but line ends, no bidirectional overrides."""
    kept = text
    if _UNWANTED.search(text):
        kept = _UNWANTED.sub("", text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " "))
    if len(kept) > LONGEST_TEXT:
        kept = kept[: LONGEST_TEXT - len(CUT_MARK)] + CUT_MARK
    return kept


def mark(text: str) -> str:
    """A text fit for a property of the file, which is kept short."""
    return clean_text(text)[:LONGEST_MARK]


def plain_number(value: int | float | Decimal) -> int | float:
    """A number as it is stored: a whole number or the nearest float; never minus zero or not-a-number."""
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise UnsafeTextError("a number in a cell must be finite")
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, float):
        if value != value or value in (float("inf"), float("-inf")):
            raise UnsafeTextError("a number in a cell must be finite")
        return int(value) if value == int(value) and abs(value) < 1e15 else value
    return int(value)


def a1(row: int, column: int, absolute: bool = False) -> str:
    """The address of a cell, both counted from zero."""
    letters = ""
    number = column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return f"${letters}${row + 1}" if absolute else f"{letters}{row + 1}"


def span(first_row: int, column: int, last_row: int) -> str:
    """The address of a piece of a column."""
    return f"{a1(first_row, column)}:{a1(last_row, column)}"


def check_formula(formula: str) -> None:
    """Refuse a formula that leaves the list of functions, or reaches outside its workbook."""
    bare = _QUOTED.sub('""', formula)
    strange = sorted({name for name in _CALL.findall(bare) if name not in FUNCTIONS})
    if not formula.startswith("=") or strange or "[" in bare or "|" in bare:
        raise UnsafeTextError(f"formula not allowed: {formula} {' '.join(strange)}")

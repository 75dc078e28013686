"""A small formula engine for the checks: works out every formula of a workbook from its plain cells alone.

It shares nothing with the program under test. Rounding is the spreadsheet's: half away from zero on the
decimal reading of the number with fifteen figures.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from decimal import ROUND_HALF_UP, ROUND_UP, Decimal
from pathlib import Path
from typing import Any

TOKEN = re.compile(
    r"\s*(?:(?P<text>\"(?:[^\"]|\"\")*\")|(?P<number>\d+(?:\.\d+)?)"
    r"|(?P<place>(?:'[^']+'!|[A-Za-z_ ]+!)?\$?[A-Z]{1,3}\$?\d+(?::\$?[A-Z]{1,3}\$?\d+)?(?![A-Za-z0-9_(]))"
    r"|(?P<word>[A-Za-z_][A-Za-z0-9_.]*)|(?P<sign><=|>=|<>|[-+*/(),<>=&^]))"
)
Range = list[Any]


def decimal_of(x: float) -> Decimal:
    return Decimal(f"{x:.15g}")


def rounded(x: float, places: float, how: str) -> float:
    return float(decimal_of(x).quantize(Decimal(1).scaleb(-int(places)), how))


def numbers(*values: Any) -> list[float]:
    flat: list[Any] = []
    for value in values:
        flat.extend(value if isinstance(value, list) else [value])
    return [float(v) for v in flat if isinstance(v, int | float) and not isinstance(v, bool)]


def sumifs(total: Range, *pairs: Any) -> float:
    kept = 0.0
    for n, value in enumerate(total):
        if all(pairs[k][n] is not None and pairs[k][n] == pairs[k + 1] for k in range(0, len(pairs), 2)):
            kept += float(value or 0)
    return kept


def sumproduct(values: Any) -> float:
    return math.fsum(float(v or 0) for v in values)


def each(f: Callable[..., Any], *args: Any) -> Any:
    """A function of single values, spread over ranges where one is given."""
    length = next((len(a) for a in args if isinstance(a, list)), None)
    if length is None:
        return f(*(0.0 if a is None else a for a in args))
    spread = [a if isinstance(a, list) else [a] * length for a in args]
    return [f(*(0.0 if v is None else v for v in row)) for row in zip(*spread, strict=True)]


FUNCTIONS: dict[str, Callable[..., Any]] = {
    "AND": lambda *values: all(values),
    "SUM": lambda *a: math.fsum(numbers(*a)),
    "MAX": lambda *a: max(numbers(*a)),
    "MIN": lambda *a: min(numbers(*a)),
    "INT": lambda a: math.floor(a or 0),
    "SQRT": lambda a: math.sqrt(a),
    "ROUND": lambda a, n: each(lambda x: rounded(float(x), n, ROUND_HALF_UP), a),
    "ROUNDUP": lambda a, n: rounded(float(a), n, ROUND_UP),
    "SUMPRODUCT": sumproduct,
    "SUMIF": lambda where, what, total: sumifs(total, where, what),
    "SUMIFS": sumifs,
}


class Engine:
    """All cells of a workbook, worked out on demand."""

    def __init__(self, path: Path) -> None:
        from openpyxl import load_workbook

        book = load_workbook(path, keep_links=False)
        self.cells: dict[tuple[str, str], Any] = {}
        self.formulas: dict[tuple[str, str], str] = {}
        for sheet in book:
            for row in sheet.iter_rows(max_row=sheet.max_row, max_col=sheet.max_column):
                for cell in row:
                    if cell.data_type == "f":
                        self.formulas[sheet.title, cell.coordinate] = str(cell.value)[1:]
                    elif cell.value is not None:
                        self.cells[sheet.title, cell.coordinate] = cell.value
        self.names = {name: str(defined.attr_text) for name, defined in book.defined_names.items()}

    def value(self, sheet: str, address: str) -> Any:
        place = (sheet, address)
        if place in self.formulas and place not in self.cells:
            self.cells[place] = Parser(self, sheet, self.formulas[place]).whole()
        return self.cells.get(place)

    def at(self, sheet: str, text: str) -> Any:
        """The value of an address, or the values of a piece of a column or row."""
        if "!" in text:
            sheet, _, text = text.rpartition("!")
            sheet = sheet.strip("'")
        text = text.replace("$", "")
        if ":" not in text:
            return self.value(sheet, text)
        (c1, r1), (c2, r2) = (re.fullmatch(r"([A-Z]+)(\d+)", part).groups() for part in text.split(":"))  # type: ignore[union-attr]
        if r1 == r2:
            assert len(c1) == len(c2) == 1, f"{text} reaches too far"
            return [self.value(sheet, f"{chr(code)}{r1}") for code in range(ord(c1), ord(c2) + 1)]
        assert c1 == c2, f"{text} is neither a piece of a column nor of a row"
        return [self.value(sheet, f"{c1}{row}") for row in range(int(r1), int(r2) + 1)]


class Parser:
    """One formula, by descent: comparison, sum, product, sign, single."""

    def __init__(self, engine: Engine, sheet: str, formula: str) -> None:
        self.engine, self.sheet, self.formula = engine, sheet, formula
        self.tokens = [(m.lastgroup or "", m[m.lastgroup or 0]) for m in TOKEN.finditer(formula)]
        assert "".join(t for _, t in self.tokens).replace(" ", "") == formula.replace(" ", ""), formula
        self.next = 0

    def whole(self) -> Any:
        value = self.comparison()
        assert self.next == len(self.tokens), f"left over in {self.formula}"
        return value

    def peek(self) -> str:
        return self.tokens[self.next][1] if self.next < len(self.tokens) else ""

    def take(self) -> tuple[str, str]:
        self.next += 1
        return self.tokens[self.next - 1]

    def comparison(self) -> Any:
        left = self.sum()
        while self.peek() in ("=", "<", ">", "<=", ">=", "<>"):
            sign = self.take()[1]
            right = self.sum()
            test: dict[str, Callable[[Any, Any], bool]] = {
                "=": lambda a, b: a == b,
                "<>": lambda a, b: a != b,
                "<": lambda a, b: a < b,
                ">": lambda a, b: a > b,
                "<=": lambda a, b: a <= b,
                ">=": lambda a, b: a >= b,
            }
            left = each(test[sign], left, right)
        return left

    def sum(self) -> Any:
        left = self.product()
        while self.peek() in ("+", "-"):
            sign, right = self.take()[1], self.product()
            left = each((lambda a, b: a + b) if sign == "+" else (lambda a, b: a - b), left, right)
        return left

    def product(self) -> Any:
        left = self.signed()
        while self.peek() in ("*", "/"):
            sign, right = self.take()[1], self.signed()
            left = each((lambda a, b: a * b) if sign == "*" else (lambda a, b: a / b), left, right)
        return left

    def signed(self) -> Any:
        if self.peek() == "-":
            self.take()
            return each(lambda a: -a, self.signed())
        return self.single()

    def single(self) -> Any:
        kind, text = self.take()
        if kind == "number":
            return float(text)
        if kind == "text":
            return text[1:-1].replace('""', '"')
        if kind == "place":
            return self.engine.at(self.sheet, text)
        if text == "(":
            value = self.comparison()
            assert self.take()[1] == ")"
            return value
        if self.peek() != "(":
            return self.engine.at(self.sheet, self.engine.names[text])
        self.take()
        arguments = []
        while self.peek() != ")":
            arguments.append(self.comparison())
            if self.peek() == ",":
                self.take()
        self.take()
        if text == "IF":
            return arguments[1] if arguments[0] else arguments[2]
        return FUNCTIONS[text](*arguments)

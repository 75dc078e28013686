"""One cell of a table: text in, typed value out, or a complaint in plain words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from estimator.core.errors import as_accepted, near_miss
from estimator.core.expressions import ExpressionError, parse_expression
from estimator.core.units import ALIASES, LARGEST, UNITS, UnitError, parse_number, parse_quantity, to_decimal
from estimator.model.column import Column

#: an expression as read, each text once
parsed = lru_cache(maxsize=None)(parse_expression)

#: what a blank optional cell of kind ``levels`` holds
NO_LEVELS: MappingProxyType[str, str] = MappingProxyType({})

ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*\Z")
ID_UNDERSCORES = re.compile(r"[a-z0-9]+(?:[-_][a-z0-9]+)*\Z")
PLAIN_NUMBER = re.compile(r"[-+]?(?:\d{1,10}(?:\.\d{1,20})?|\.\d{1,20})\Z")
_COMMA_NUMBER = re.compile(r"[-+]?[\d.\s]*,[\d.,\s]*\d?\Z")
_SCIENTIFIC = re.compile(r"[-+]?\d+(?:\.\d+)?[eE][-+]?\d+\Z")
_NOT_FINITE = {"nan", "inf", "infinity", "#n/a", "#value!", "#ref!", "#div/0!", "#name?", "#num!"}
_CURRENCY = re.compile(r"[$€£¥]|[A-Z]{3}\b")
_LONGEST_NUMBER = 40
_PERCENT = re.compile(r"([-+]?[\d.]{1,20})\s*%")
_CLOCK = re.compile(r"\d{1,3}(?::\d{1,2}){1,2}")
_WITH_UNIT = re.compile(r"(?=.{1,40}\Z)[-+\d./\s]*\d[-+\d./\s]*[A-Za-z\"'°]+[A-Za-z\d./\s\"'°]*")

Reader = Callable[[str], object]


class CellError(ValueError):
    """A cell that cannot be read: what is wrong, what is accepted, what to do."""

    def __init__(self, problem: str, accepted: str = "", next_step: str = "") -> None:
        super().__init__(problem)
        self.problem, self.accepted, self.next_step = problem, accepted, next_step


def reader_of(column: Column) -> Reader:
    """The function that reads a filled cell of ``column`` (stripped text); it raises CellError."""
    makers: dict[str, Callable[[Column], Reader]] = {
        "id": _id_reader,
        "text": lambda column: str,
        "number": _number_reader,
        "money": _number_reader,
        "whole": _whole_reader,
        "yes-no": lambda column: read_yes_no,
        "choice": _choice_reader,
        "list": lambda column: _read_list,
        "levels": lambda column: read_levels,
        "fields": lambda column: read_levels,
        "expression": lambda column: _read_expression,
    }
    return makers[column.kind](column)


def read_number(text: str) -> Decimal:
    """A plain number or fraction (``3``, ``0.5``, ``5/8``) as an exact Decimal."""
    if PLAIN_NUMBER.match(text):
        return Decimal(text)
    accepted = "a plain number such as 3, 0.5 or 5/8"
    if text.lower().strip("+-") in _NOT_FINITE:
        raise CellError("not a number", accepted, "type the number itself in place of the failed formula")
    if _COMMA_NUMBER.match(text):
        raise CellError(
            "a comma in a number",
            "a decimal point and no commas: 0.5, 1050",
            "write a decimal point; a table of a spreadsheet program: set its language to English and save again",
        )
    if _SCIENTIFIC.match(text):
        raise CellError("a number in scientific notation", accepted, "set the cell to a plain number format")
    if _CURRENCY.search(text):
        raise CellError(
            "a currency sign in a number", accepted, "leave the currency out: shop.toml states it"
        )
    if text.startswith(("−", "–", "—")):
        raise CellError("a dash that is not a minus sign", accepted, "type the ordinary minus sign -")
    if len(text) > _LONGEST_NUMBER:
        raise CellError("text where a number belongs", accepted)
    try:
        return parse_number(text)
    except UnitError as error:
        raise CellError("text where a number belongs", str(error)) from None


def read_with_unit(text: str, unit: str) -> Decimal:
    """A number as people write it (``1 h 20 min``, ``2 h``, ``3 days``, ``15 %``) in the unit of its column."""
    if unit == "share" and (percent := _PERCENT.fullmatch(text)):
        return read_number(percent[1]) / 100
    known = ALIASES.get(unit, unit)
    family = next((name for name, units in UNITS.items() if known in units), "")
    if family == "time" and _CLOCK.fullmatch(text):
        raise CellError(
            "a time that could be hours and minutes or minutes and seconds",
            f"a number of {known}, or with its units: 40 s, 12 min, 1 h 20 min",
            "write the units beside the numbers",
        )
    if not family or not _WITH_UNIT.fullmatch(text):
        return read_number(text)
    try:
        value = parse_quantity(text, family)
    except UnitError as error:
        raise CellError("a unit that is not known here", str(error)) from None
    return to_decimal(Fraction(value) / UNITS[family][known])


def check_range(
    value: Decimal, low: Decimal | None, high: Decimal | None, what: str = "number", above: bool = False
) -> None:
    """CellError where ``value`` lies outside ``low`` to ``high`` (None: open)."""
    if abs(value) > LARGEST:
        raise CellError("a huge number", "a number below one thousand million")
    if low is not None and value < low:
        if low == 0:
            problem = "negative money" if what == "money" else "a negative number"
            raise CellError(problem, range_text(low, high, above))
        raise CellError("a number that is too small", range_text(low, high, above))
    if high is not None and value > high:
        raise CellError("a number that is too large", range_text(low, high, above))


def range_text(low: Decimal | None, high: Decimal | None, above: bool = False) -> str:
    """``from 0 to 5``, ``at least 0`` or ``at most 5``; ``more than 0`` where ``low`` is not accepted itself."""
    if above and low is not None:
        return f"more than {plain(low)}" + (f", at most {plain(high)}" if high is not None else "")
    if low is not None and high is not None:
        return f"from {plain(low)} to {plain(high)}"
    if low is not None:
        return f"at least {plain(low)}"
    return f"at most {plain(high)}" if high is not None else "any number"


def plain(value: Decimal) -> str:
    """A number as it is written by hand: no exponent, no trailing noughts."""
    return f"{value.normalize():f}"


def _number_reader(column: Column) -> Reader:
    low = Decimal(0) if column.kind == "money" and column.low is None else column.low

    def read(text: str) -> Decimal:
        value = read_with_unit(text, column.unit)
        check_range(value, low, column.high, column.kind)
        return value

    return read


def _whole_reader(column: Column) -> Reader:
    def read(text: str) -> int:
        value = read_number(text)
        if value != value.to_integral_value():
            raise CellError("not a whole number", "a whole number, " + range_text(column.low, column.high))
        check_range(value, column.low, column.high)
        return int(value)

    return read


def check_id(text: str, underscores: bool = False) -> str:
    """``text`` if it is a lawful id: lower-case words and digits joined by dashes."""
    if (ID_UNDERSCORES if underscores else ID).match(text):
        return text
    joined = "dashes or underscores" if underscores else "dashes"
    accepted = f"lower-case letters and digits, words joined by {joined}"
    near = id_from(text)
    raise CellError("not an id", accepted, f"write “{near}”" if near else "")


def id_from(text: str) -> str:
    """The lawful id that is nearest to a text, such as the name of a file; blank where it has no letter or digit."""
    # a letter without its dots and hooks is nearer than a dash: müller is muller, straße strasse
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    return "-".join(re.findall(r"[a-z0-9]+", plain))


def _id_reader(column: Column) -> Reader:
    return lambda text: check_id(text, column.underscores)


def read_yes_no(text: str) -> bool:
    """``yes`` or ``no``, ``y`` or ``n`` (and the TRUE or FALSE that a spreadsheet program makes of a tick)."""
    words = {"yes": True, "no": False, "true": True, "false": False, "y": True, "n": False}
    if text.lower() not in words:
        raise CellError("neither yes nor no", "yes, no")
    return words[text.lower()]


def check_choice(text: str, choices: tuple[str, ...]) -> str:
    """The one of ``choices`` that is meant, whatever its capitals, blanks and hyphens."""
    meant = as_accepted(text, choices)
    if meant in choices:
        return meant
    raise CellError("a word that is not accepted here", ", ".join(choices), near_miss(text, choices))


def _choice_reader(column: Column) -> Reader:
    return lambda text: check_choice(text, column.choices)


def _read_list(text: str) -> tuple[str, ...]:
    if "," in text or ";" in text:
        raise CellError(
            "commas in a list", "words parted by blanks", f"write “{' '.join(re.split('[,; ]+', text))}”"
        )
    words = tuple(text.split())
    if len(set(words)) < len(words):
        raise CellError("the same word twice in a list", "each word once")
    return words


def read_levels(text: str) -> MappingProxyType[str, str]:
    """``FW=stainless NM=bone`` as a mapping; CellError where a pair is not one."""
    pairs: dict[str, str] = {}
    for word in text.split():
        code, equals, level = word.partition("=")
        if not (code and equals and level):
            raise CellError(
                "not a pair", "pairs such as FW=stainless parted by blanks, no blank beside the ="
            )
        if code in pairs:
            raise CellError("the same name twice", "each name once")
        pairs[code] = level
    return MappingProxyType(pairs)


def _read_expression(text: str) -> str:
    if _COMMA_NUMBER.match(text):
        read_number(text)
    try:
        return parsed(text).text
    except ExpressionError as error:
        raise CellError(
            f"cannot be worked out: {error}",
            "numbers and intake fields joined by +, -, * and /: 2 * string_n",
        ) from None

"""Values with units: intake fields and dimensions of parts, from a text or a TOML value."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from estimator.core.units import BY_SIDES, UNITS, UnitError, parse_quantity, to_decimal
from estimator.model import IntakeField, PartDimension
from estimator.tables.cells import CellError, check_choice, check_range, range_text, read_number
from estimator.tables.fretless import FRETS, SHOWN_BY, fretless_error, says_fretless
from estimator.tables.sums import read_sum
from estimator.tables.toml.values import kind_of, number_of, read_yes_no_value

#: kinds of value that are numbers
NUMBER_KINDS = frozenset({"length", "number", "count", "mass", "money", "angle"})
UNKNOWN = "unknown"
_HAS_UNIT = re.compile(r"[A-Za-z\"'°²³]")
_NUMBER_AND_WORD = re.compile(r"[-+]?[\d./\s]+[A-Za-z\"'°²³]+[23]?\s*\Z")

_BARE = re.compile(r"[-+]?\s*(?:(?:\d+[\s-]+)?\d+\s*/\s*\d+|\.\d+)\Z")

Value = Decimal | str | bool | tuple[str, ...]


def family_of(unit: str) -> str:
    """The kind of unit that ``unit`` belongs to (``mm`` -> ``length``), or "" for none."""
    return next((family for family, units in UNITS.items() if unit in units), "")


def bare_inches(raw: object, unit: str) -> str:
    """``1/64`` and ``.022`` with the unit they were surely meant in (``1/64 in``, ``0.022 in``); else "".

    Nobody writes a fraction, or a number that begins with its point, of a millimetre. Only a length may be
    meant so, and only who tells the reader may take it: ``read_quantity`` itself refuses it.
    """
    if not isinstance(raw, str) or family_of(unit) != "length" or not _BARE.match(text := raw.strip()):
        return ""
    sign = text[0] if text[0] in "+-" else ""
    number = text.removeprefix(sign).strip()
    return f"{sign}0{number} in" if number.startswith(".") else f"{sign}{number} in"


def read_quantity(raw: object, unit: str) -> Decimal:
    """A number in ``unit``: plain numbers are taken as they are, texts may carry any unit of its kind.

    ``raw`` is a TOML value or the text of a cell. CellError says what is accepted.
    """
    if not isinstance(raw, str):
        return number_of(raw)
    text = raw.strip()
    family = family_of(unit)
    if plainly := bare_inches(text, unit):
        raise CellError("a fraction without a unit", f"“{plainly}” or a number in {unit}")
    if not family and unit and text.endswith(unit):
        text = text.removesuffix(unit).strip()
    if not _HAS_UNIT.search(text) or len(text) > 40:
        return read_number(text)
    try:
        value = parse_quantity(text, family)
    except UnitError as error:
        if "," in text:
            read_number(re.sub(r"[^\d.,+-]", "", text))
        problem = (
            "a unit that does not fit" if _NUMBER_AND_WORD.match(text) else "text where a number belongs"
        )
        raise CellError(problem, _accepted(str(error), unit, family)) from None
    return to_decimal(Fraction(value) / UNITS[family][unit]) if family else value


def _accepted(parser_says: str, unit: str, family: str) -> str:
    if parser_says == BY_SIDES:
        return parser_says
    if not family:
        return f"a plain number (in {unit})" if unit else parser_says
    example = "3 or 0.5" if family == "length" else "3, 0.5 or 5/8"
    return f"a number such as {example}, in {unit} or with one of the units {', '.join(UNITS[family])}"


def read_count(raw: object) -> Decimal:
    """A whole number, not negative."""
    value = number_of(raw)
    if value != value.to_integral_value() or value < 0:
        raise CellError("not a count", "a whole number, at least 0")
    return value


def read_intake(raw: object, spec: IntakeField, currency: str = "") -> Value:
    """The value of an intake field by its kind; CellError also beyond its impossible limits.

    ``currency``: that of the shop, where money may be a text with it (``"$120"``).
    """
    if spec.id in SHOWN_BY and says_fretless(raw):
        raise fretless_error()
    if spec.kind in NUMBER_KINDS:
        if spec.kind == "money" and isinstance(raw, str) and currency:
            value = read_sum(raw, currency)
        else:
            value = read_count(raw) if spec.kind == "count" else read_quantity(raw, _unit(spec.unit))
        if spec.id == FRETS and value == 0:
            raise fretless_error()
        try:
            check_range(value, spec.hard_low, spec.hard_high)
        except CellError as error:
            unit = f" {spec.unit}" if spec.unit else ""
            raise CellError(
                "an impossible value", f"{error.accepted}{unit}", f"measure again: {spec.how or spec.what}"
            ) from None
        return value
    if spec.kind == "yes-no":
        return read_yes_no_value(raw)
    if spec.kind == "list":
        words = raw.split() if isinstance(raw, str) else raw
        if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
            raise CellError(f"{kind_of(raw)} where a list of words belongs", 'a list such as ["one", "two"]')
        return tuple(_word(word, spec.choices) for word in words if word != "none")
    return _word(raw, spec.choices if spec.kind == "choice" else ())


def _unit(unit: str) -> str:
    return "" if unit in ("money", "count", "level") else unit


def _word(raw: object, choices: tuple[str, ...]) -> str:
    if not isinstance(raw, str):
        accepted = ", ".join(choices) if choices else 'a text in double quotes: "like this"'
        raise CellError(f"{kind_of(raw)} where a word belongs", accepted)
    return check_choice(raw.strip(), choices) if choices else raw.strip()


def outside_accepted(value: Decimal, spec: IntakeField) -> str:
    """The accepted range in words where ``value`` lies outside it, else ""."""
    low, high = spec.accepted_low, spec.accepted_high
    if (low is not None and value < low) or (high is not None and value > high):
        return f"{range_text(low, high)} {spec.unit}".strip()
    return ""


def read_dimension(raw: object, spec: PartDimension) -> Decimal | str:
    """A dimension of a part by its kind; yes-no values are kept as the words yes and no."""
    if spec.kind == "choice":
        return _word(raw, spec.choices)
    if spec.kind == "yes-no":
        return "yes" if read_yes_no_value(raw) else "no"
    value = read_count(raw) if spec.kind == "count" else read_quantity(raw, _unit(spec.unit))
    check_range(value, spec.low, spec.high)
    return value

"""The closed list of units and the only conversions between them; inch fractions.

Inside, lengths are mm, masses g, times minutes, volumes cm3, areas cm2, angles degrees,
resistances kilohm.
Conversion factors are exact by definition (international inch and pound, 1959 agreement).
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from fractions import Fraction

#: unit -> factor to the inside unit, by kind of value
UNITS: dict[str, dict[str, Fraction]] = {
    "length": {
        "mm": Fraction(1),
        "cm": Fraction(10),
        "m": Fraction(1000),
        "in": Fraction(254, 10),
        "ft": Fraction(3048, 10),
    },
    "mass": {
        "g": Fraction(1),
        "kg": Fraction(1000),
        "oz": Fraction(45359237, 1600000),
        "lb": Fraction(45359237, 100000),
    },
    "time": {
        "min": Fraction(1),
        "s": Fraction(1, 60),
        "h": Fraction(60),
        "d": Fraction(1440),
    },
    "angle": {"deg": Fraction(1)},
    "area": {"cm2": Fraction(1), "mm2": Fraction(1, 100), "in2": Fraction(64516, 10000)},
    "resistance": {"kohm": Fraction(1), "ohm": Fraction(1, 1000), "megohm": Fraction(1000)},
    "volume": {"cm3": Fraction(1), "ml": Fraction(1), "in3": Fraction(16387064, 1000000)},
}
MEASURES = frozenset(name for family in UNITS.values() for name in family)
"""Every unit of measure by its sign: a number of them has no plural."""

ALIASES = {
    '"': "in",
    "''": "in",
    "inch": "in",
    "inches": "in",
    "'": "ft",
    "foot": "ft",
    "feet": "ft",
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "ounce": "oz",
    "ounces": "oz",
    "gram": "g",
    "grams": "g",
    "minute": "min",
    "minutes": "min",
    "mins": "min",
    "hour": "h",
    "hours": "h",
    "hr": "h",
    "hrs": "h",
    "day": "d",
    "days": "d",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "degree": "deg",
    "degrees": "deg",
    "°": "deg",
    "cm²": "cm2",
    "cm³": "cm3",
    "mm²": "mm2",
    "cc": "cm3",
    "k": "kohm",
    "ohms": "ohm",
}

#: numbers beyond this are slips of the finger, whatever they measure
LARGEST = 10**9
LONGEST = 200
"""Characters of the longest number that is read; what is longer is no number anybody wrote."""
MOST_DECIMALS = 60
"""Decimals of the smallest number that is read: many more than the rest that a spreadsheet's sum leaves has."""
TOO_LARGE = "a number below one thousand million"

_NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_TERM = re.compile(
    rf"\s*(?P<sign>[-+]?)\s*"
    rf"(?:(?P<whole>\d+)[\s-]+(?P<n1>\d+)/(?P<d1>\d+)|(?P<n2>\d+)/(?P<d2>\d+)|(?P<dec>{_NUMBER}))"
    rf"\s*(?P<unit>[a-zA-Z°²³\"']+[23]?)?\s*"
)

_SIDES = re.compile(r"\s*[x×*]\s*", re.IGNORECASE)
_ENDS_IN_UNIT = re.compile(r"[a-zA-Z\"']+\Z")
BY_SIDES = "an area such as 600 cm2, or length x width with the unit of both: 30 x 20 cm"


class UnitError(ValueError):
    """A value that cannot be read; the text says what is accepted."""


def to_decimal(value: Fraction) -> Decimal:
    """A fraction as a Decimal of at most twelve places, half up."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return exact.quantize(Decimal("1e-12"), ROUND_HALF_UP).normalize() + 0


def parse_number(text: str) -> Decimal:
    """A plain number or fraction (``3``, ``0.5``, ``5/8``, ``1 5/8``); UnitError says what is wrong."""
    return parse_quantity(text, "")


def parse_quantity(text: str, kind: str) -> Decimal:
    """``text`` (``5/8 in``, ``2.25 lb``, ``1 h 20 min``, ``12``) in the inside unit of ``kind``.

    A number without a unit is taken to be in the inside unit. ``kind`` "" accepts no unit.
    """
    stripped = text.strip()
    units = UNITS.get(kind, {})
    if kind == "area" and (sides := _SIDES.split(stripped)) and len(sides) == 2:
        return _length_by_width(*sides)
    if "," in stripped:
        raise UnitError("a number with a decimal point, not a comma")
    if len(stripped) > LONGEST:
        raise UnitError(TOO_LARGE)
    total, position, seen_unit, terms = Fraction(0), 0, "", 0
    while position < len(stripped):
        match = _TERM.match(stripped, position)
        if not match or match.end() == position:
            raise UnitError(_accepted(kind))
        if terms and (not match["unit"] or not seen_unit or match["sign"]):
            raise UnitError(_accepted(kind))
        # 50m of work are minutes: no other m is a time
        unit = "min" if kind == "time" and match["unit"] == "m" else match["unit"] or ""
        total += _number_of(match) * _unit_factor(unit, units, kind)
        seen_unit, position, terms = unit, match.end(), terms + 1
    if not terms:
        raise UnitError(_accepted(kind))
    if abs(total) > LARGEST:
        raise UnitError(TOO_LARGE)
    return to_decimal(total)


def _length_by_width(length: str, width: str) -> Decimal:
    """``30 x 20 cm`` as an area in cm2; a side without a unit has that of the other."""
    sides = []
    for side, other in ((length, width), (width, length)):
        if not _ENDS_IN_UNIT.search(side.strip()):
            unit = _ENDS_IN_UNIT.search(other.strip())
            if unit is None:
                raise UnitError(BY_SIDES)
            side = f"{side} {unit.group()}"
        try:
            sides.append(Fraction(parse_quantity(side, "length")))
        except UnitError as error:
            raise UnitError(TOO_LARGE if str(error) == TOO_LARGE else BY_SIDES) from None
    if min(sides) < 0:
        raise UnitError(BY_SIDES)
    square_mm = sides[0] * sides[1]
    if square_mm / 100 > LARGEST:
        raise UnitError(TOO_LARGE)
    return to_decimal(square_mm / 100)


def plain_decimal(value: object) -> Decimal:
    """A TOML or spreadsheet number as an exact Decimal (floats by their shortest spelling)."""
    if isinstance(value, bool):
        raise UnitError("a number, not yes or no")
    try:
        number = Decimal(repr(value)) if isinstance(value, float) else Decimal(str(value))
    except InvalidOperation:
        raise UnitError("a number") from None
    if not number.is_finite():
        raise UnitError("a finite number")
    if number and number.adjusted() < -MOST_DECIMALS:  # as a fraction it would have that many figures
        raise UnitError(f"nought, or a number with at most {MOST_DECIMALS} decimals")
    if number.copy_abs() > LARGEST:  # abs() rounds, and what has a huge exponent cannot be rounded
        raise UnitError(TOO_LARGE)
    return number


def _number_of(match: re.Match[str]) -> Fraction:
    if match["whole"]:
        size = int(match["whole"]) + _ratio(match["n1"], match["d1"])
    elif match["n2"]:
        size = _ratio(match["n2"], match["d2"])
    else:
        size = Fraction(match["dec"])
    return -size if match["sign"] == "-" else size


def _ratio(above: str, below: str) -> Fraction:
    if int(below) == 0:
        raise UnitError("a fraction that is not divided by zero")
    return Fraction(int(above), int(below))


def _unit_factor(unit: str, units: dict[str, Fraction], kind: str) -> Fraction:
    if not unit:
        return Fraction(1)
    known = ALIASES.get(unit.lower(), ALIASES.get(unit, unit.lower()))
    if known not in units:
        raise UnitError(_accepted(kind))
    return units[known]


def _accepted(kind: str) -> str:
    names = ", ".join(UNITS.get(kind, {}))
    if not names:
        return "a plain number such as 3, 0.5 or 5/8, without a unit"
    first = next(iter(UNITS[kind]))
    return f"a number such as 3, 0.5 or 5/8, in {first} or with one of the units {names}"


def scaled(value: int, scale: int) -> str:
    """A whole number of ``scale``-ths as a number, exactly and without trailing zeros."""
    return f"{(Decimal(value) / scale).normalize():f}"


INCH = Decimal("25.4")
#: lengths from here on are sizes that are named in eighths of an inch (a scale, a radius), mm
LONG = Decimal(100)
_NUMBER_MM = r"\d+(?:\.\d+)?"
_FIGURES_MM = rf"{_NUMBER_MM}(?:(?: to | x | by |-){_NUMBER_MM})* mm\b"
_SPOKEN_MM = re.compile(
    # one length, or several that share the unit (0.5 to 0.8 mm, 40 x 30 mm, 12-19 mm); left as they are: what has
    # its inches before it, and a bit, which says its inches itself (3 mm or 1/8 in)
    rf"(?<= in [(\[]){_FIGURES_MM}|(?<![\d.])(?P<figures>{_FIGURES_MM})(?! or \d)"
)


def in_inches(length: Decimal) -> Decimal:
    """A length in mm as the inches that people say: thousandths below an inch, hundredths above.

    A scale or a radius is named in eighths: what stands in mm is such a size where it is that size, rounded alike.
    """
    eighths = (length * 8 / INCH).quantize(Decimal(1), ROUND_HALF_UP) / 8
    places = Decimal(1).scaleb(min(int(length.normalize().as_tuple().exponent), 0))
    if abs(length) >= LONG and (eighths * INCH).quantize(places, ROUND_HALF_UP) == length:
        return eighths
    return (length / INCH).quantize(Decimal("0.01" if abs(length) >= INCH else "0.001"), ROUND_HALF_UP)


_FINER_MM = re.compile(r"(?<![\d.])\d+\.\d{3,}(?=(?: (?:to|/) [\d.]+)* mm\b)")


def _in_mm(length: Decimal) -> Decimal:
    """A length in mm to the hundredth, below a millimetre to the thousandth; without trailing noughts."""
    return length.quantize(Decimal("0.01" if length >= 1 else "0.001"), ROUND_HALF_UP).normalize()


def lengths_as_read(text: str, shown: str, *, beside: bool = False) -> str:
    """A text with every length in mm (``0.5 to 0.8 mm``) as people read it: in mm, or ``in`` in inches.

    In mm as it stands, but for what was written in inches (5/64 in is 1.984375 mm): no rule and no caliper tells more
    than hundredths, below a millimetre thousandths.

    ``beside``: with the mm in brackets after it, as drawings and cards want it (``0.063 in (1.6 mm)``).
    """
    if shown != "in":
        return _FINER_MM.sub(lambda found: f"{_in_mm(Decimal(found[0])):f}", text)

    def spoken(found: re.Match[str]) -> str:
        if not found["figures"]:
            return found[0]
        # at the bench every figure has its thousandths, as a feeler has; a customer reads no trailing noughts
        lengths = (in_inches(Decimal(one)) for one in re.findall(_NUMBER_MM, found[0]))
        said = iter([f"{one if beside else one.normalize():f}" for one in lengths])
        inches = re.sub(_NUMBER_MM, lambda _: next(said), found[0].removesuffix(" mm"))
        if not beside:
            return f"{inches} in"
        before = text[: found.start()]
        left, right = "[]" if before.count("(") > before.count(")") else "()"
        return f"{inches} in {left}{found[0]}{right}"

    return _SPOKEN_MM.sub(spoken, text)


def unit_as_read(unit: str, shown: str) -> str:
    """The unit of a column or a row whose figures are lengths in mm, as people read it."""
    return "in" if unit == "mm" and shown == "in" else unit


def written_length(length: Decimal, shown: str, *, exactly: bool) -> str:
    """A length in mm with the unit that people read, as a file that takes units holds it.

    To the thousandth of an inch, which no caliper tells apart; a scale or a radius in eighths. ``exactly``: what
    was measured keeps its mm where inches would round it.
    """
    if shown == "in":
        fine = (length / INCH).quantize(Decimal("0.001"), ROUND_HALF_UP)
        inches = in_inches(length) if abs(length) >= LONG else fine
        if not exactly or inches * INCH == length:
            return f"{inches.normalize():f} in"
    return f"{length.normalize():f} mm"


def inch_format(length: Decimal) -> str:
    """The number format of a sheet's cell that holds a length in inches: as many places as are said of it."""
    return "0.00" if abs(length) >= INCH else "0.000"


def unit_example(shown: str) -> str:
    """A length with the unit that a form does not ask for, as somebody may write it there."""
    return "42 mm" if shown == "in" else "5/8 in"

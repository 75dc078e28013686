"""Small arithmetic in table cells: numbers and names joined by ``+``, ``-``, ``*`` and ``/``.

Just enough for ``0.6 * guard_cm2``, ``2 * face_cm2 + 0.01 * perim_mm * body_thk`` or a part of a whole,
``refinish_cm2 / skin_cm2``; no brackets, no functions, so that a bench worker can read every quantity in
a table.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from msgspec import Struct

from estimator.core.units import to_decimal

_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d+/\d+|\d+(?:\.\d+)?)|(?P<name>[a-z][a-z0-9_.-]*[a-z0-9])|(?P<op>[-+*/]))"
)


class ExpressionError(ValueError):
    """The cell cannot be read; the text says why."""


class Expression(Struct, frozen=True):
    """A sum of products: (sign, number, names, names it is divided by) per term."""

    text: str
    terms: tuple[tuple[int, Fraction, tuple[str, ...], tuple[str, ...]], ...]

    @property
    def names(self) -> tuple[str, ...]:
        """All names used, in order."""
        return tuple(name for _, _, names, divisors in self.terms for name in (*names, *divisors))

    @property
    def divisors(self) -> tuple[str, ...]:
        """The names that something is divided by."""
        return tuple(name for _, _, _, divisors in self.terms for name in divisors)

    def value(self, of: Callable[[str], Decimal]) -> Decimal:
        """The value with every name looked up through ``of``."""
        values = [of(name) for name in names_of(self.text)]
        # a number that notes what it is compared with must not be looked up by
        return _value(self.text, tuple(v if type(v) is Decimal else Decimal(v) for v in values))


@lru_cache(maxsize=8192)
def _value(text: str, values: tuple[Decimal, ...]) -> Decimal:
    """The value of an expression with these for its names: most cells are a number, and the same come again."""
    total, given = Fraction(0), iter(values)
    for sign, number, names, divisors in parse_expression(text).terms:
        product = sign * number
        for _ in names:
            product *= Fraction(next(given))
        for _ in divisors:
            product /= Fraction(next(given))
        total += product
    return to_decimal(total)


@lru_cache(maxsize=4096)
def names_of(text: str) -> tuple[str, ...]:
    """All names that an expression uses, in order."""
    return parse_expression(text).names


def constant(text: str) -> Decimal:
    """The value of an expression without names."""
    return _value(text, ())


LONGEST_NUMBER = 30
"""Digits of a number: more than any measure has."""


@lru_cache(maxsize=4096)
def parse_expression(text: str) -> Expression:
    """Read ``text``; ExpressionError names the place that cannot be read."""
    terms: list[tuple[int, Fraction, tuple[str, ...], tuple[str, ...]]] = []
    names: list[str] = []
    divisors: list[str] = []
    dividing = False
    sign, number, wants_factor = 1, Fraction(1), True
    position, started = 0, False
    stripped = text.strip()
    while position < len(stripped):
        match = _TOKEN.match(stripped, position)
        if not match:
            raise ExpressionError(f"cannot read “{stripped[position:].strip()}”")
        position = match.end()
        if match["op"]:
            if wants_factor and not (match["op"] in "+-" and not started):
                raise ExpressionError(f"“{match['op']}” stands where a number or a name belongs")
            if match["op"] in "*/":
                wants_factor, dividing = True, match["op"] == "/"
                continue
            if started:
                terms.append((sign, number, tuple(names), tuple(divisors)))
            sign, number, names, divisors = (-1 if match["op"] == "-" else 1), Fraction(1), [], []
            wants_factor = True
            started = True
            continue
        if not wants_factor:
            raise ExpressionError(f"+, -, * or / is missing before “{match.group().strip()}”")
        started = True
        if match["number"]:
            if dividing:
                raise ExpressionError("only a field can be divided by: write a number as a fraction, 1/2")
            number *= _number(match["number"])
        else:
            (divisors if dividing else names).append(match["name"])
        wants_factor = dividing = False
    if wants_factor:
        raise ExpressionError("a number or a name is missing at the end" if started else "the cell is empty")
    terms.append((sign, number, tuple(names), tuple(divisors)))
    return Expression(stripped, tuple(terms))


def _number(text: str) -> Fraction:
    if len(text) > LONGEST_NUMBER:
        raise ExpressionError(f"a number of more than {LONGEST_NUMBER} digits")
    try:
        return Fraction(text)
    except ZeroDivisionError:
        raise ExpressionError("division by zero") from None

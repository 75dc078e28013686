"""What a value that nobody took may turn out to be: the ``likely`` cells of the intake fields.

``4 to 20`` names the ends of a range (either may be a sum over other fields, like a default), ``250 or 500``
the values there are. A blank cell: the whole accepted range of a number, every word of a choice.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

from msgspec import Struct

from estimator.core.expressions import Expression
from estimator.model import IntakeField
from estimator.tables.cells import CellError, parsed
from estimator.tables.quantities import NUMBER_KINDS, UNKNOWN, Value, read_intake

ACCEPTED = "two ends (“4 to 20”) or the values there are (“250 or 500”)"
_TO, _OR = re.compile(r"\s+to\s+"), re.compile(r"\s+or\s+")


class Likely(Struct, frozen=True):
    """Either the ends of a range, as small sums, or the values there are; neither where nothing is stated."""

    ends: tuple[Expression, Expression] | None = None
    values: tuple[Value, ...] = ()


def likely_text(spec: IntakeField, is_bass: bool) -> str:
    """The likely values as they stand in the table; a blank bass cell means as on a guitar."""
    return spec.likely_bass if is_bass and spec.likely_bass else spec.likely_guitar


def read_likely(text: str, spec: IntakeField) -> Likely:
    """A ``likely`` cell; CellError where it cannot be read."""
    if not text.strip():
        return Likely()
    ends = _TO.split(text.strip())
    if len(ends) == 2 and spec.kind in NUMBER_KINDS:
        return Likely(ends=(parsed(ends[0]), parsed(ends[1])))
    if len(ends) > 1 or spec.kind in ("list", "text"):
        raise CellError("likely values that cannot be read", ACCEPTED)
    return Likely(values=tuple(read_intake(word, spec) for word in _OR.split(text.strip())))


def is_open(spec: IntakeField) -> bool:
    """Whether the table holds it possible that the assumed value is wrong.

    What the eye tells at once (kind, number of strings, kind of bridge) has neither spread nor odds.
    """
    return bool(spec.spread or spec.fit_chance_pct)


def chance_wrong(spec: IntakeField) -> Decimal:
    """How likely the assumed value is to be wrong, as a fraction: its odds where they are known, else its spread.

    A spread says how far minutes go astray with the value, not how often it is another.
    """
    return spec.fit_chance_pct / 100 if spec.fit_chance_pct else spec.spread


def likely_range(
    spec: IntakeField, of: Callable[[str], Decimal], is_bass: bool
) -> tuple[Decimal, Decimal] | None:
    """The ends of a number's likely range on this instrument, within what is possible; None if it has none.

    ``of`` gives the other fields as numbers. What is stated as separate values has no ends.
    """
    if spec.kind not in NUMBER_KINDS:
        return None
    stated = read_likely(likely_text(spec, is_bass), spec)
    if stated.values:
        return None
    if stated.ends:
        low, high = (end.value(of) for end in stated.ends)
    elif spec.accepted_low is not None and spec.accepted_high is not None:
        low, high = spec.accepted_low, spec.accepted_high
    else:
        return None
    if spec.hard_low is not None:
        low, high = max(low, spec.hard_low), max(high, spec.hard_low)
    if spec.hard_high is not None:
        low, high = min(low, spec.hard_high), min(high, spec.hard_high)
    return min(low, high), max(low, high)


def likely_words(spec: IntakeField, is_bass: bool) -> tuple[Value, ...]:
    """The separate values that a field may turn out to have: as stated, else both answers or every word."""
    stated = read_likely(likely_text(spec, is_bass), spec)
    if stated.values:
        return stated.values
    if spec.kind == "yes-no":
        return (False, True)
    # nobody finds “unknown” when he looks
    return tuple(word for word in spec.choices if word != UNKNOWN) if spec.kind == "choice" else ()

"""What a measured value is held against before anything is worked out from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from estimator.core.errors import Origin

INSTRUMENT = "instrument"
"""In the place of a class of part: the value is an intake field."""

PER_PIECE_OF_PARTS = ("weight_g", "price")
"""What is given of a part for one, or for all of them."""


@dataclass(frozen=True, slots=True)
class GoesTogether:
    """What is assumed of other fields where a word was said of one, in place of their usual defaults.

    ``beside``: further words that must hold, as ``field=word``; one of all of them must have been said.
    """

    field: str
    word: str
    beside: tuple[str, ...]
    instruments: str
    assumes: tuple[str, ...]
    origin: Origin = Origin()

    @property
    def pairs(self) -> Mapping[str, str]:
        """What is assumed, by field."""
        return _by_field(self.assumes)

    @property
    def conditions(self) -> Mapping[str, str]:
        """Every word that must hold, by field, the first one with them."""
        return {self.field: self.word, **_by_field(self.beside)}


def _by_field(pairs: tuple[str, ...]) -> Mapping[str, str]:
    return {name: value for name, _, value in (pair.partition("=") for pair in pairs)}


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Where a measured value usually lies beside others; ``low`` and ``high`` are sums over these."""

    field: str
    instruments: str
    when: str
    low: str
    high: str
    because: str
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PerPiece:
    """A value that one piece has and the set has too; ``counts`` says which of the two is asked for.

    Without ``low`` and ``high`` what is usual is the range of the field, or that of the shop's parts.
    """

    part_class: str
    value: str
    instruments: str
    when: str
    counts: str
    pieces: str
    one: str
    all: str
    low: Decimal | None
    high: Decimal | None
    origin: Origin = Origin()


@dataclass(frozen=True, slots=True)
class PlausibleTables:
    """All of these, in the order of their tables."""

    neighbours: tuple[Neighbour, ...] = ()
    per_piece: tuple[PerPiece, ...] = ()
    together: tuple[GoesTogether, ...] = ()

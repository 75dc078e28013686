"""What a measured value is held against before anything is worked out from it."""

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated

from msgspec import Struct

from estimator.core.errors import Origin
from estimator.model import column as col

INSTRUMENT = "instrument"
"""In the place of a class of part: the value is an intake field."""

PER_PIECE_OF_PARTS = ("weight_g", "price")
"""What is given of a part for one, or for all of them."""


class GoesTogether(Struct, frozen=True):
    """What is assumed of other fields where a word was said of one, in place of their usual defaults.

    ``beside``: further words that must hold, by field; one of all of them must have been said.
    ``assumes``: what is assumed, by field.
    """

    field: Annotated[str, col.field_ref("the field")]
    word: Annotated[str, col.of("text", "the word that was said")]
    beside: Annotated[
        Mapping[str, str],
        col.of(
            "list",
            "what must hold as well, whether said or usual: field=word pairs parted by blanks (blank: nothing; "
            "the row with the most of them goes first)",
            default=(),
        ),
    ]
    instruments: Annotated[str, col.choice("for which instruments", "any", "guitar", "bass", default="any")]
    assumes: Annotated[
        Mapping[str, str], col.of("list", "what goes with it: field=value pairs parted by blanks")
    ]
    origin: Origin = Origin()

    @property
    def conditions(self) -> Mapping[str, str]:
        """Every word that must hold, by field, the first one with them."""
        return {self.field: self.word, **self.beside}


def pairs_in(words: Iterable[str]) -> Iterator[tuple[str, str]]:
    """What ``field=value`` words of a table say."""
    return ((name, value) for name, _, value in (word.partition("=") for word in words))


def by_field(words: Iterable[str]) -> Mapping[str, str]:
    """The same by field."""
    return MappingProxyType(dict(pairs_in(words)))


class Neighbour(Struct, frozen=True):
    """Where a measured value usually lies beside others; ``low`` and ``high`` are sums over these."""

    field: Annotated[str, col.field_ref("the value that is looked at")]
    instruments: Annotated[str, col.choice("for which instruments", "any", "guitar", "bass", default="any")]
    when: Annotated[str, col.when()]
    low: Annotated[
        str, col.of("expression", "least of what is usual: a number, or a sum over its neighbours")
    ]
    high: Annotated[str, col.of("expression", "most of what is usual")]
    because: Annotated[str, col.text("why the two go together, for the one who measured")]
    origin: Origin = Origin()


class PerPiece(Struct, frozen=True):
    """A value that one piece has and the set has too; ``counts`` says which of the two is asked for.

    Without ``low`` and ``high`` what is usual is the range of the field, or that of the shop's parts.
    """

    part_class: Annotated[str, col.of("id", "class of part_classes.csv (instrument: an intake field)")]
    value: Annotated[str, col.name_of_field("the intake field, or weight_g or price of the part")]
    instruments: Annotated[str, col.choice("for which instruments", "any", "guitar", "bass", default="any")]
    when: Annotated[str, col.when()]
    counts: Annotated[str, col.choice("what the value stands for", "one", "all")]
    pieces: Annotated[str, col.of("expression", "how many pieces there are")]
    one: Annotated[str, col.text("what it is of a single piece, such as: one tuner")]
    all: Annotated[str, col.text("what it is of all, such as: the set")]
    low: Annotated[
        Decimal | None,
        col.of(
            "number",
            "least of what is usual, as it is to be given (blank: of the field, or of the shop's parts)",
            default=None,
        ),
    ]
    high: Annotated[Decimal | None, col.of("number", "most of what is usual", default=None)]
    origin: Origin = Origin()


class PlausibleTables(Struct, frozen=True):
    """All of these, in the order of their tables."""

    neighbours: tuple[Neighbour, ...] = ()
    per_piece: tuple[PerPiece, ...] = ()
    together: tuple[GoesTogether, ...] = ()

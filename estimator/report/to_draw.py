"""What every plan of a drawing says beside its shape: from where it is seen, and what it rests on unmeasured."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, Self

from estimator.core.units import lengths_as_read


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDraw:
    """``measure`` names what was assumed of the instrument, ``of_part`` what was assumed of the part.

    ``lengths``: in what the shop reads a length; ordinates and dimensions are mm, what is said in words is read so.
    Nothing is drilled or cut from a drawing that rests on either. ``seen_from``: the side that faces the reader.
    """

    seen_from: str = "the front"
    measure: tuple[str, ...] = ()
    of_part: tuple[str, ...] = ()
    lengths: str = "mm"

    @property
    def assumed(self) -> tuple[str, ...]:
        """All that has to be measured before this is drilled or cut."""
        return (*self.measure, *self.of_part)

    def read(self, words: str) -> str:
        """Words of the drawing as the shop reads lengths: with the mm beside, in which all else of it stands."""
        return lengths_as_read(words, self.lengths, beside=True)

    def as_read(self, lengths: str) -> Self:
        """The same plan for a shop that reads lengths so, with all its words."""
        plan = replace(self, lengths=lengths)
        read: dict[str, Any] = {}
        for one in fields(self):
            value = getattr(self, one.name)
            if isinstance(value, str) and " mm" in value:
                read[one.name] = plan.read(value)
            elif isinstance(value, tuple) and all(isinstance(words, str) for words in value):
                read[one.name] = tuple(map(plan.read, value))
        return replace(plan, **read)

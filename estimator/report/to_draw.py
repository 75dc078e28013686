"""What every plan of a drawing says beside its shape: from where it is seen, and what it rests on unmeasured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ToDraw:
    """``measure`` names what was assumed of the instrument, ``of_part`` what was assumed of the part.

    Nothing is drilled or cut from a drawing that rests on either. ``seen_from``: the side that faces the reader.
    """

    seen_from: str = "the front"
    measure: tuple[str, ...] = ()
    of_part: tuple[str, ...] = ()

    @property
    def assumed(self) -> tuple[str, ...]:
        """All that has to be measured before this is drilled or cut."""
        return (*self.measure, *self.of_part)

"""Faults and what holds a level down, in sentences."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from estimator.choose.faults import FoundFault
from estimator.choose.study import SpecRow
from estimator.core.text import money
from estimator.core.units import lengths_as_read


def fault_sentences(
    found: Iterable[FoundFault], currency: str, set_named: bool = False, *, lengths: str = "mm"
) -> list[str]:
    """A line a fault: the reading, what it holds down, the least work that mends it.

    ``set_named``: whether it is said too if the set at hand mends it or leaves it; ``lengths``: how the shop reads one.
    """
    return [lengths_as_read(_sentence(fault, currency, set_named), lengths) for fault in found]


def _sentence(fault: FoundFault, currency: str, set_named: bool) -> str:
    held = ", ".join(f"{name.replace('-', ' ')} {level.normalize():f}" for name, level in fault.lowers)
    if fault.mended and set_named:
        end = (
            f"Expected to be mended by this set; {fault.may_fail}."
            if fault.may_fail
            else "Mended by this set."
        )
    elif fault.cost is None and fault.shut:
        end = f"Nothing that is allowed mends it; it wants: {fault.otherwise}."
    elif fault.cost is None:
        end = f"No upgrade that fits mends it here; it wants: {fault.otherwise}."
    else:
        left = "Left as it is by this set; the" if set_named else "The"
        changed = " and ".join(words for _, words in fault.changes)
        end = f"{left} least that mends it: {fault.mends[0]}, {money(fault.cost, currency)}"
        end += f"; it changes {changed} for good." if changed else "."
    return f"Fault: {fault.what} ({fault.shown}); no higher than {held}. {end}"


def held_sentences(rows: Iterable[SpecRow], held: Mapping[str, tuple[str, ...]]) -> list[str]:
    """What keeps each attribute short of what was asked for; of a wish that is met nothing needs saying."""
    return [
        f"{row.attribute.replace('-', ' ')} is held at {row.reached / 10:g}: {'; '.join(held[row.attribute])}."
        for row in rows
        if row.asked and not row.met and row.attribute in held
    ]

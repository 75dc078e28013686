"""What a part is made for in number, beside what the instrument has."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from decimal import Decimal

from estimator.core.text import BASS, family_of
from estimator.model import Part, Reading

COUNTED = {"string_n": "string_n", "tuner_n": "tuner_n", "joint_n": "joint_screw_n"}
"""Dimensions of a part that count something, and the field of the instrument that counts the same."""
OF_THE_JOINT = ("p-neckplate", "p-ferrule4", "p-insert4")


def counts_of(part: Part) -> Iterator[tuple[str, Decimal]]:
    """What a part is made for in number: the instrument's field and the part's count."""
    for name, field in COUNTED.items():
        value = part.dims.get("screw_n" if name == "joint_n" and part.part_class in OF_THE_JOINT else name)
        if isinstance(value, Decimal):
            yield field, value


def right_count(part: Part, instrument: Mapping[str, Reading]) -> bool:
    """Whether a part is of the instrument's family, and all that it counts is there in that number."""
    bass = "kind" in instrument and family_of(instrument["kind"].value) == BASS
    if part.dims.get("for_bass", "yes" if bass else "no") != ("yes" if bass else "no"):
        return False
    return all(field not in instrument or instrument[field].value == made for field, made in counts_of(part))


def kinds_of(kind: str, instrument: Mapping[str, Reading], named: Collection[str]) -> tuple[str, ...]:
    """The words of a row that mean this instrument; sets are made by count, never a multiple of another."""
    strings = instrument["string_n"].value if "string_n" in instrument else None
    by_count = f"{kind}-{strings:f}" if isinstance(strings, Decimal) else ""
    return ("any", kind, by_count if by_count in named else f"{kind}-other")

"""What a rule finds of one part of a row holds for every other part of which all that it looked at is the same.

Variants of a part differ in price and grade more than in what is measured of them. A rule sees an upgrade as its row and
its part; which of the part it looked at is noted, and what it found stands for parts alike in that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Generic, TypeVar, cast

from estimator.model import Part

Answer = TypeVar("Answer")
Seen = tuple[str, str]
"""A field of the part, and of its dimensions which; a blank of all of them."""


class _Dims(Mapping[str, object]):
    """The dimensions of a part, noting which were asked for."""

    def __init__(self, part: Part, seen: set[Seen]) -> None:
        self._dims, self._seen = part.dims, seen

    def __getitem__(self, name: str) -> object:
        self._seen.add(("dims", name))
        return self._dims[name]

    def __contains__(self, name: object) -> bool:
        self._seen.add(("dims", str(name)))
        return name in self._dims

    def __iter__(self) -> Iterator[str]:
        self._seen.add(("dims", ""))
        return iter(self._dims)

    def __len__(self) -> int:
        self._seen.add(("dims", ""))
        return len(self._dims)


class _Typical:
    """The names of the dimensions that are typical of the class, noting which were asked for."""

    def __init__(self, part: Part, seen: set[Seen]) -> None:
        self._names, self._seen = part.typical, seen

    def __contains__(self, name: object) -> bool:
        self._seen.add(("typical", str(name)))
        return name in self._names


class SeenPart:
    """A part that notes what was looked at of it."""

    def __init__(self, part: Part) -> None:
        self._part = part
        self.seen = set[Seen]()
        self.dims = _Dims(part, self.seen)
        self.typical = _Typical(part, self.seen)

    def __getattr__(self, name: str) -> object:
        # what is worked out of a part may rest on any of its fields
        fields = self._part.__struct_fields__
        self.seen.update((field, "") for field in ((name,) if name in fields else fields))
        return getattr(self._part, name)


class Apart:
    """In what parts differ, told once of every two."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, int], tuple[Part, Part, frozenset[Seen]]] = {}

    def of(self, one: Part, other: Part) -> frozenset[Seen]:
        """What is not to the letter the same of two parts."""
        key = id(one), id(other)  # both are kept, so that no other part comes to go by these
        if key not in self._known:
            self._known[key] = one, other, frozenset(_differences(one, other))
        return self._known[key][2]


def _differences(one: Part, other: Part) -> Iterator[Seen]:
    names = [
        name for name in {**one.dims, **other.dims} if not _alike(one.dims.get(name), other.dims.get(name))
    ]
    typical = one.typical ^ other.typical
    yield from (("dims", name) for name in (*names, *([""] if names else [])))
    yield from (("typical", name) for name in (*typical, *([""] if typical else [])))
    for field in one.__struct_fields__:
        if field not in ("dims", "typical") and not _alike(getattr(one, field), getattr(other, field)):
            yield field, ""


def _alike(one: object, other: object) -> bool:
    """Whether two values are the same to the letter: 8 and 8.0 are one number, but not one text."""
    return one == other and str(one) == str(other)


class Shared(Generic[Answer]):
    """What rules found of the parts of one row on one instrument, by rule and by what was looked at."""

    def __init__(self, apart: Apart) -> None:
        self._apart = apart
        self._kept: dict[str, list[tuple[Part, frozenset[Seen], Answer]]] = {}

    def of(self, rule: str, part: Part, work: Callable[[Part], Answer]) -> Answer:
        """What was found of a part like this one, else what ``work`` finds of the part that it is handed."""
        kept = self._kept.setdefault(rule, [])
        for known, seen, answer in kept:
            if seen.isdisjoint(self._apart.of(known, part)):
                return answer
        watched = SeenPart(part)
        answer = work(cast(Part, watched))
        kept.append((part, frozenset(watched.seen), answer))
        return answer

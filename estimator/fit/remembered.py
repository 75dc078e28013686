"""Answers about an instrument, each kept with the readings that it looked at.

Asked again of an instrument in which those readings stand as they did, the answer is the same and is not
worked out again; where one of them is another, it is. What else an answer hangs on (the shop, the wish)
must be one and the same for all that one store is asked, or be in the key.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping
from typing import Generic, TypeVar

from estimator.model import Reading

Answer = TypeVar("Answer")
MOST = 32
"""Answers kept to one key; the oldest makes room, so that very many listings are not looked through one by one."""


class Watched(Mapping[str, Reading]):
    """An instrument that notes which of its fields were looked at."""

    def __init__(self, instrument: Mapping[str, Reading]) -> None:
        self._instrument = instrument
        self.seen: set[str] = set()

    def __getitem__(self, name: str) -> Reading:
        self.seen.add(name)
        return self._instrument[name]

    def __contains__(self, name: object) -> bool:
        self.seen.add(str(name))
        return name in self._instrument

    def __iter__(self) -> Iterator[str]:
        self.seen.update(self._instrument)
        return iter(self._instrument)

    def __len__(self) -> int:
        self.seen.update(self._instrument)
        return len(self._instrument)


class Remembered(Generic[Answer]):
    """Answers by key, and of each key by what was looked at."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, list[tuple[dict[str, Reading | None], Answer]]] = {}

    def of(
        self,
        key: Hashable,
        instrument: Mapping[str, Reading],
        work: Callable[[Mapping[str, Reading]], Answer],
    ) -> Answer:
        """The answer kept for this instrument, else what ``work`` makes of it; ``work`` must read it from what it is handed."""
        kept = self._kept.setdefault(key, [])
        for readings, answer in kept:
            for name, reading in readings.items():
                other = instrument.get(name)
                if other is not reading and not _alike(reading, other):
                    break
            else:
                return answer
        watched = Watched(instrument)
        answer = work(watched)
        if len(kept) == MOST:
            del kept[0]
        kept.append(({name: instrument.get(name) for name in watched.seen}, answer))
        return answer


def _alike(one: Reading | None, other: Reading | None) -> bool:
    """Whether two readings are the same to the letter: 8 and 8.0 are one number, but not one text."""
    return one is not None and other is not None and one == other and str(one.value) == str(other.value)

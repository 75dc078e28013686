"""What would be taken over of all that the ledger teaches, whoever asks: the command or the page."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from msgspec import Struct

from estimator.core.text import count
from estimator.learn.accept import Measured, accept, task_bases
from estimator.learn.every_value import PARTS, TIMES, every_value
from estimator.learn.factors import PART as FACTORS
from estimator.learn.honesty import Honesty, honesty
from estimator.learn.on_quotes import QuoteValues, on_quotes
from estimator.learn.times import Learned, Lesson, lesson
from estimator.learn.values import Value, to_accept
from estimator.ledger.clock import Moment
from estimator.ledger.store import Ledger
from estimator.model import Shop


class Taught(Struct, frozen=True):
    """All that the ledger says of the tables' numbers."""

    lesson: Lesson
    honest: Honesty
    values: tuple[Value, ...]
    on_quotes: tuple[QuoteValues, ...]


def taught_by(books: Ledger, shop: Shop, folder: Path, now: Moment, parts: Collection[str] = PARTS) -> Taught:
    """What the ledger says of the numbers of the shop in a folder; ``parts``: those that are to be taken over.

    Times taken over without factors hold what the factors would explain: it has to stand in one of the two.
    """
    alone = TIMES in parts and FACTORS not in parts
    found = lesson(books, shop, task_bases(folder), with_factors=not alone)
    levels = {one.task: one.level.factor for one in found.tasks}
    honest = honesty(books, shop, levels, found.factors.explained)
    values = every_value(books, shop, folder, now, found.factors)
    return Taught(found, honest, values, on_quotes(books, shop, values))


class Proposal(Struct, frozen=True):
    """What is taken over, or would be."""

    tasks: tuple[Learned, ...]
    settings: Mapping[str, Measured]
    values: tuple[Value, ...]

    @classmethod
    def of(cls, parts: Collection[str], taught: Taught) -> Proposal:
        """What is proposed of these parts of learning."""
        chosen = to_accept(one for one in taught.values if one.part in parts)
        if TIMES not in parts:
            return cls((), {}, chosen)
        return cls(taught.lesson.to_accept, taught.honest.settings, chosen)

    def over(self, books: Ledger, folder: Path, now: Moment) -> list[Path]:
        """Take it over; the files that were written."""
        return accept(books, folder, self.tasks, now, self.settings, self.values)

    @property
    def words(self) -> str:
        """What it is, in words."""
        parts = [f"the times of {count(len(self.tasks), 'task')}"] if self.tasks else []
        parts += self.settings
        for part in dict.fromkeys(one.part for one in self.values):
            parts.append(f"{len([one for one in self.values if one.part == part])} of {part}")
        return ", ".join(parts)

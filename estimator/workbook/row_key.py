"""The key of a row of work on the costing sheet and the job cards: what ties a row to what was priced."""

from __future__ import annotations

from typing import NamedTuple

SETUP, RUN, PART = "setup:", "run:", "part:"


class RowKey(NamedTuple):
    """A set-up of a task (``kind`` ``SETUP``), or its run at a place (``RUN``)."""

    kind: str
    task: str
    place: str = ""

    def __str__(self) -> str:
        return f"{SETUP}{self.task}" if self.kind == SETUP else f"{RUN}{self.task}@{self.place}"


def part_key(upgrade: str) -> str:
    """The key of a row of parts: that of the upgrade which fits it."""
    return f"{PART}{upgrade}"


def row_key(text: str) -> RowKey:
    """The key that a cell holds; the text begins with ``SETUP`` or ``RUN``."""
    kind = SETUP if text.startswith(SETUP) else RUN
    task, _, place = text.removeprefix(kind).partition("@")
    return RowKey(kind, task, place)

"""Single values of the shop's tables that its ledger speaks of: what they are, what they would become, on what evidence.

What a value is learned from is always the number before anything was learned (the handbook's, or the shop's own
typed one): the ledger keeps it beside each value that was taken over, so that nothing is learned twice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from msgspec import Struct, field

from estimator.ledger.store import Ledger

#: a value nearer to the one that stands than this share is no change
LEAST_SHARE = Decimal("0.02")


class Value(Struct, frozen=True):
    """A cell of a table: ``prior`` before anything was learned, ``before`` as it stands, ``after`` as learned.

    ``number``: how many events it rests on; ``early``: they are too few; ``words``: the evidence in words.
    ``beside``: what other cells of its row become with it.
    """

    part: str
    file: str
    row: str
    column: str
    prior: Decimal
    before: Decimal
    after: Decimal
    number: int
    words: str
    early: bool = False
    beside: Mapping[str, Decimal] = field(default_factory=dict)

    @property
    def changes(self) -> bool:
        """Whether it would move by more than a little."""
        return abs(self.after - self.before) > LEAST_SHARE * self.before

    @property
    def proposed(self) -> bool:
        """Whether it would be taken over."""
        return self.changes and not self.early

    @property
    def source(self) -> str:
        """What it rests on, for the table."""
        return f"own ledger: {self.words}"


class Priors:
    """By cell, what stood there before anything was learned, where what was taken over stands there still."""

    def __init__(self, ledger: Ledger) -> None:
        rows = ledger.rows(
            "SELECT file, row, column_, prior, value FROM learned_value WHERE taken_back_at IS NULL ORDER BY id"
        )
        self._kept = {(r["file"], r["row"], r["column_"]): (r["prior"], r["value"]) for r in rows}

    def of(self, file: str, row: str, column: str, now: Decimal) -> Decimal:
        """The number to learn from; ``now`` itself where nothing learned stands in the cell."""
        prior, value = self._kept.get((file, row, column), ("", ""))
        return Decimal(prior) if value and Decimal(value) == now else now


def to_accept(values: Iterable[Value]) -> tuple[Value, ...]:
    """The cells that would be replaced."""
    return tuple(one for one in values if one.proposed)

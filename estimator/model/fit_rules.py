"""The numbers of the fit rules and what they may tell a customer: what tables may name. The rules are in ``fit``."""

from __future__ import annotations

LAST_RULE = 90
FIT_RULES = tuple(f"R{number:02d}" for number in range(1, LAST_RULE + 1))
"""Every number has its rule; a new one takes the next."""

#: what a warning may tell a customer besides the bench; ``customer_words.csv`` has the words
TOLD = frozenset(
    {
        "joint-shows",
        "last-level",
        "metal-of-two-colours",
        "mixed-pickups",
        "new-finish-lowers-value",
        "no-names-of-others",
        "outer-strings-near-edge",
        "peghead-heavier",
        "pickup-not-split",
        "poles-beside-strings",
        "pots-off-value",
    }
)

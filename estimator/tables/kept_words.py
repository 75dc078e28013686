"""What a customer's own words want kept: “keep the arm”, “the finish stays”, “do not touch the frets”."""

from __future__ import annotations

import re
from collections.abc import Mapping

from estimator.model import CustomerKeeps

PHRASES = re.compile(r"[,;.]|\band\b|\bbut\b", re.IGNORECASE)
"""What parts the phrases of what somebody said."""
_KEEPING = re.compile(
    r"\b(?:keep(?:s|ing)?|stays?|remains?)\b(?!\s+(?:\w+ing|in|(?:its?\s+)?tun(?:e|ing))\b)|\b(?:kept|leave|untouched|unchanged)\b"
    r"|(?:\bnot|n.t|\bnever|\bwithout)\s+(?:touch|chang|replac|swap|cut|drill|rout)\w*",
    re.IGNORECASE,
)
_BESIDE = frozenset(["the", "its", "it", "his", "her", "their", "my", "all", "as", "is", "too", "also"])


def keeps_meant(keeps: Mapping[str, CustomerKeeps], text: str) -> tuple[str, ...]:
    """The ids of ``customer_keeps.csv`` that somebody's words ask for, in the order in which they were said."""
    return tuple(dict.fromkeys(word for _, word in _keeping(keeps, text)))


def without_keeping(keeps: Mapping[str, CustomerKeeps], text: str) -> str:
    """What was said but for the phrases that only ask for something to be kept."""
    gone = {number for number, _ in _keeping(keeps, text)}
    return ", ".join(phrase for number, phrase in enumerate(PHRASES.split(text)) if number not in gone)


def _keeping(keeps: Mapping[str, CustomerKeeps], text: str) -> list[tuple[int, str]]:
    """The phrases that ask for something to be kept, by number, with the id; “and the neck” goes on with it."""
    found: list[tuple[int, str]] = []
    goes_on = False
    for number, phrase in enumerate(PHRASES.split(text)):
        said = re.findall(r"[a-z]+", phrase.lower())
        named = [(word, row.id) for word in said for row in keeps.values() if _names(row, word)]
        only = {word for word, _ in named} | _BESIDE >= set(said)
        goes_on = bool(named) and bool(_KEEPING.search(phrase) or (goes_on and only))
        if goes_on:
            # the last word is what the others tell more of: a neck pickup is a pickup
            found.append((number, named[-1][1]))
    return found


def _names(row: CustomerKeeps, word: str) -> bool:
    return any(word in (name, f"{name}s") or name == f"{word}s" for name in (row.id, *row.words))

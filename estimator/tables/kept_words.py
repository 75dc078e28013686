"""What a customer's own words want kept: “keep the arm”, “the finish stays”, “do not touch the frets”."""

from __future__ import annotations

import re
from collections.abc import Mapping

from estimator.model import CustomerKeeps

PHRASES = re.compile(r"[,;.]|\band\b|\bbut\b", re.IGNORECASE)
"""What parts the phrases of what somebody said."""
_NOT = r"\b(?:(?:can)?not|never|no\s+longer|\w+n['’]t|(?:do|does|wo|ca|must)nt)"
_KEEPING = re.compile(
    r"\b(?:keep(?:s|ing)?|stays?|remains?)\b(?!\s+(?:\w+ing|in|too|high|low|sharp|flat|(?:its?\s+)?tun(?:e|ing))\b)|\b(?:kept|leave|untouched|unchanged)\b"
    rf"|(?:{_NOT}|\bwithout)\s+(?:be(?:ing)?\s+)?(?:touch|chang|replac|swap|cut|drill|rout)\w*",
    re.IGNORECASE,
)
_NOT_KEEPING = re.compile(rf"{_NOT}\s+(?:be\s+)?(?:keep|kept|stay|remain|leav|left)\w*", re.IGNORECASE)
"""“The tuners do not stay put” is a complaint of them, and no wish to keep them."""
_KEPT_THING = re.compile(
    r"\b(?:keep|leave|not\s+touch|not\s+change|not\s+replace)\s+(?:the|its|his|her|their|my)\s+([a-z]+(?:\s+(?!alone|untouched|unchanged|as\b)[a-z]+)?)"
    r"(?:\s+(?:alone|as\s+(?:it\s+is|they\s+are)|untouched|unchanged))?\s*$",
    re.IGNORECASE,
)
"""“Keep the binding”, with nothing behind it: “keep the cost down” is another wish."""
_NO_THING = frozenset(
    [
        "tune",
        "tuning",
        "pitch",
        "price",
        "cost",
        "costs",
        "budget",
        "time",
        "day",
        "weight",
        "instrument",
        "down",
        "low",
        "high",
        "up",
        "cheap",
        "light",
        "quiet",
    ]
)
_BESIDE = frozenset(["the", "its", "it", "his", "her", "their", "my", "all", "as", "is", "too", "also"])


def keeps_meant(keeps: Mapping[str, CustomerKeeps], text: str) -> tuple[str, ...]:
    """The ids of ``customer_keeps.csv`` that somebody's words ask for, in the order in which they were said."""
    return tuple(dict.fromkeys(word for _, word in _keeping(keeps, text)))


def without_keeping(keeps: Mapping[str, CustomerKeeps], text: str) -> str:
    """What was said but for the phrases that only ask for something to be kept."""
    gone = {number for number, _ in _keeping(keeps, text)}
    if not gone:
        return text
    return ", ".join(phrase for number, phrase in enumerate(PHRASES.split(text)) if number not in gone)


def kept_unknown(keeps: Mapping[str, CustomerKeeps], text: str) -> tuple[str, ...]:
    """What somebody's words want kept that no row of ``customer_keeps.csv`` names: “keep the binding”."""
    known = {number for number, _ in _keeping(keeps, text)}
    found = {
        number: match[1].lower()
        for number, phrase in enumerate(PHRASES.split(text))
        if (match := _KEPT_THING.search(phrase)) and not _NO_THING & {*match[1].lower().split()}
    }
    return tuple(dict.fromkeys(thing for number, thing in found.items() if number not in known))


def _keeping(keeps: Mapping[str, CustomerKeeps], text: str) -> list[tuple[int, str]]:
    """The phrases that ask for something to be kept, by number, with the id; “and the neck” goes on with it."""
    found: list[tuple[int, str]] = []
    goes_on = False
    for number, phrase in enumerate(PHRASES.split(text)):
        said = re.findall(r"[a-z]+", phrase.lower())
        named = [(word, row.id) for word in said for row in keeps.values() if _names(row, word)]
        only = {word for word, _ in named} | _BESIDE >= set(said)
        keeping = _KEEPING.search(_NOT_KEEPING.sub(" ", phrase))
        goes_on = bool(named) and bool(keeping or (goes_on and only))
        if goes_on:
            # the last word is what the others tell more of: a neck pickup is a pickup
            found.append((number, named[-1][1]))
    return found


def _names(row: CustomerKeeps, word: str) -> bool:
    return any(word in (name, f"{name}s") or name == f"{word}s" for name in (row.id, *row.words))

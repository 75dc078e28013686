"""Prices as people write them in listings: ``$1,250.50``, ``1.250,- EUR``, ``250k`` and the like, read exactly."""

from __future__ import annotations

import re
from decimal import Decimal

from estimator.tables.cells import CellError

ACCEPTED = "a price such as 250, 1,250.50 or 1 250,50 EUR"
_SIGN = r"(?:[A-Z]{3}|[A-Z]{0,2}[$]|[€£¥₹])"
_PRICE = re.compile(
    rf"(?:{_SIGN}\s*)?(?P<number>\d[\d.,' ]*?)\s*(?:,-|,–|\.-|\.–)?\s*(?P<k>k)?\s*{_SIGN}?", re.I
)
_WORDS = {"free": Decimal(0), "for free": Decimal(0), "nothing": Decimal(0)}


def read_asked(text: str) -> Decimal:
    """The sum that a listing asks. CellError where it could be read in two ways or not at all.

    Prices have two decimals or none, so three figures after a single mark are thousands, one or two are decimals.
    """
    if text.strip().lower() in _WORDS:
        return _WORDS[text.strip().lower()]
    match = _PRICE.fullmatch(" ".join(text.split()))
    if match is None:
        raise CellError("no price that can be read", ACCEPTED, "write the one sum that is asked")
    number = match["number"].strip()
    whole, mark, decimals = _parted(number)
    groups = re.split(r"[.,' ]", whole)
    marks = set(re.sub(r"\d", "", whole))
    grouped = len(groups) == 1 or (len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:]))
    if len(marks) > 1 or mark in marks or not grouped:
        raise CellError("no price that can be read", ACCEPTED, "write it as a plain number")
    value = Decimal("".join(groups) + (f".{decimals}" if decimals else ""))
    return value * 1000 if match["k"] else value


def _parted(number: str) -> tuple[str, str, str]:
    """The whole part, the mark before the decimals, and the decimals: one or two figures after the last mark."""
    match = re.fullmatch(r"(.*\d)([.,])(\d{1,2})", number)
    return (match[1], match[2], match[3]) if match else (number, "", "")

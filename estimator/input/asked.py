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


#: signs of one currency alone, and codes of ISO 4217 that listings are written in; other letters are no currency
_OF_SIGN = {"€": "EUR", "£": "GBP", "₹": "INR"}
_CODES = frozenset(
    [
        "USD",
        "CAD",
        "AUD",
        "NZD",
        "EUR",
        "GBP",
        "CHF",
        "SEK",
        "NOK",
        "DKK",
        "PLN",
        "CZK",
        "HUF",
        "JPY",
        "CNY",
        "INR",
        "MXN",
        "BRL",
        "ZAR",
    ]
)


def read_asked(text: str, currency: str = "") -> Decimal:
    """The sum that a listing asks. CellError where it could be read in two ways or not at all.

    ``currency``: that of the shop; a sum that names another is refused, as nobody changes money here.
    Prices have two decimals or none, so three figures after a single mark are thousands, one or two are decimals.
    """
    if text.strip().lower() in _WORDS:
        return _WORDS[text.strip().lower()]
    match = _PRICE.fullmatch(" ".join(text.split()))
    if match is None:
        raise CellError("no price that can be read", ACCEPTED, "write the one sum that is asked")
    named = {_OF_SIGN[sign] for sign in text if sign in _OF_SIGN}
    named |= _CODES & set(re.findall(r"[A-Z]{3}", text.upper()))
    if currency and named and currency not in named:
        raise CellError(
            "another currency than the shop's", f"a sum in {currency}", f"change it into {currency}"
        )
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
